#!/bin/bash
# Fuzz every target with libFuzzer, AddressSanitizer and UBSan: tests/fuzz/run.sh SECONDS [TARGET...]
# New inputs stay in $BUILD/fuzz/corpus-NAME; a crash is left as $BUILD/fuzz/NAME-crash-... and fails the run.
set -eu
cd "$(dirname "$0")/../.."
duration=$1
shift
build=${BUILD:-build}/fuzz san=address,undefined status=0
targets=$*
[ -n "$targets" ] || targets=$(basename -s .c tests/fuzz/fuzz_*.c | sed 's/^fuzz_//')
make_in() { "${MAKE:-make}" --no-print-directory -s BUILD="$build" CC=clang OPT='-O1 -g' SAN="$1" "$2"; }
make_in "-fsanitize=fuzzer-no-link,$san -fno-sanitize-recover=all" "$build/libstencilwright.a" >/dev/null
for name in $targets; do
    make_in "-fsanitize=fuzzer,$san -fno-sanitize-recover=all" "$build/bin/tests/fuzz/fuzz_$name" >/dev/null
    mkdir -p "$build/corpus-$name" "tests/fuzz/corpus/$name"
    log=$build/$name.txt
    find "$build" -maxdepth 1 -type f -name "$name-*" -delete # of an earlier run
    "$build/bin/tests/fuzz/fuzz_$name" -max_total_time="$duration" -timeout=30 -rss_limit_mb=2048 -print_final_stats=1 \
        -artifact_prefix="$build/$name-" "$build/corpus-$name" "tests/fuzz/corpus/$name" >"$log" 2>&1 || status=1
    crashes=$(find "$build" -maxdepth 1 -name "$name-crash-*" -o -maxdepth 1 -name "$name-timeout-*" \
        -o -maxdepth 1 -name "$name-oom-*" -o -maxdepth 1 -name "$name-leak-*" | wc -l)
    printf '%-10s %10s executions, %s crashes\n' "$name" \
        "$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")" "$crashes"
done
exit $status
