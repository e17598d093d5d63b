#!/bin/sh
# All rules over the tree, and the test that shows each of them failing. One line a fault; exit status 1 if any.
cd "$(dirname "$0")" || exit 3
status=0
for rule in includes headers cleanup comments text; do
    /usr/bin/python3 "$rule.py" "$@" || status=1
done
/usr/bin/python3 test_rules.py || status=1
[ "$status" = 0 ] && echo "rules: all hold"
exit "$status"
