#!/bin/bash
# Memcheck over the unit tests, in a build without sanitizers, and over a small job, check and wall: reads of what was
# never written, which sanitizers do not see. Arguments: names of tests (default: all). What takes tens of seconds without
# memcheck is left to the sanitizer build, see SLOW; the jobs below come through the same code.
set -u
cd "$(dirname "$0")/.."
build=${BUILD:-build}/memcheck n_failed=0
case $build in /*) ;; *) build=$PWD/$build ;; esac
SLOW=' bridges check check_svg faults feature job separate sheets '
memcheck=(valgrind --quiet --error-exitcode=9 --leak-check=full --errors-for-leak-kinds=definite --track-origins=yes --fair-sched=yes)
make_in() { "${MAKE:-make}" --no-print-directory -s BUILD="$build" OPT='-O1 -g' CFLAGS=-DSW_FAULTS "$@"; }
make_in -j2 "$build/stencilwright" tests-built >/dev/null || exit 2

run() { # run NAME COMMAND...
    local name=$1 begun=$SECONDS
    shift
    if "$@" >"$work/log" 2>&1; then
        printf 'ok    %-24s %4d s\n' "$name" $((SECONDS - begun))
    else
        n_failed=$((n_failed + 1))
        printf 'FAIL  %s\n' "$name"
        grep -m 40 -A 12 '^==' "$work/log" || tail -n 20 "$work/log"
    fi
}

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
names=$*
[ -n "$names" ] || names=$(basename -s .c tests/test_*.c | sed 's/^test_//')
for name in $names; do
    case $SLOW in *" $name "*) [ $# -gt 0 ] || continue ;; esac
    run "$name" "${memcheck[@]}" "$build/tests/test_$name"
done
[ $# -eq 0 ] || { [ $n_failed -eq 0 ]; exit; }

sw=$build/stencilwright here=$PWD
cd "$work" || exit 2
/usr/bin/python3 "$here/tests/cli/picture.py" rings rings.png
printf 'wall 4m 3m\nkeep tap 0.2m 0.3m 25cm 50cm\n' >shed.wall
small='--width 30cm --min-opening 6mm --min-web 6mm'
# shellcheck disable=SC2086 # options
run cut "${memcheck[@]}" "$sw" cut rings.png $small --passes 2 --bed 250x200mm --key-windows --reuse --guides 1 --touch-up \
    --kerf 0.2mm --droop 1mm --format svg,pdf,eps --threads 2 --quiet --out job
# shellcheck disable=SC2086 # options
run cut-colour "${memcheck[@]}" "$sw" cut rings.png $small --passes 2 --separate colour --paint '#102030' --paint '#a0a0a0' --quiet --out colour
# shellcheck disable=SC2086 # options
run cut-line "${memcheck[@]}" "$sw" cut rings.png $small --separate line --passes 1 --json --out line
# shellcheck disable=SC2086 # options
run check "${memcheck[@]}" "$sw" check rings.png $small --passes 1 --out pale.png
run check-drawing "${memcheck[@]}" "$sw" check job/layers.svg --json
run check-fix "${memcheck[@]}" "$sw" check colour/layers.svg --fix --out fixed.svg
run wall-job "${memcheck[@]}" "$sw" wall shed.wall job --out wall.png --grid 10cm --into-job
run wall-picture "${memcheck[@]}" "$sw" wall shed.wall rings.png --width 1m --out sprayed.png
run help "${memcheck[@]}" "$sw" help --man
[ $n_failed -eq 0 ] && echo 'valgrind: nothing found'
[ $n_failed -eq 0 ]
