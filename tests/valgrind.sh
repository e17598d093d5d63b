#!/bin/bash
# Memcheck over the unit tests, in a build without sanitizers, and over a small job, check and wall: reads of what was
# never written, which sanitizers do not see. Arguments: names of tests, or jobs (default: all). What takes seconds without
# memcheck is left to the sanitizer build, see SLOW; the jobs below come through the same code.
set -u
cd "$(dirname "$0")/.."
build=${BUILD:-build}/memcheck n_failed=0
case $build in /*) ;; *) build=$PWD/$build ;; esac
SLOW=' bridges bridges_hold bridges_order check check_svg contour_fit faults feature job sheets '
memcheck=(valgrind --quiet --error-exitcode=9 --leak-check=full --errors-for-leak-kinds=definite --track-origins=yes --fair-sched=yes)
make_in() { "${MAKE:-make}" --no-print-directory -s BUILD="$build" OPT='-O1 -g' CFLAGS=-DSW_FAULTS "$@"; }
make_in -j2 "$build/stencilwright" tests-built >/dev/null || exit 2

most=0 # highest exit status that is fine: commands say 1 where the answer is no
run() { # run NAME COMMAND...
    local name=$1 begun=$SECONDS status=0
    shift
    "$@" >"$work/log" 2>&1 || status=$?
    if [ $status -le $most ]; then
        printf 'ok    %-24s %4d s\n' "$name" $((SECONDS - begun))
    else
        n_failed=$((n_failed + 1))
        printf 'FAIL  %s\n' "$name"
        grep -m 40 -A 12 '^==' "$work/log" || tail -n 20 "$work/log"
    fi
}

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

run_tests() {
    local name
    for name; do run "$name" "${memcheck[@]}" "$build/tests/test_$name"; done
}

# Whole commands, small.
run_jobs() {
    local sw=$build/stencilwright here=$PWD small=(--width 24cm --min-opening 8mm --min-web 8mm --quiet)
    most=1
    cd "$work" || exit 2
    /usr/bin/python3 "$here/tests/cli/picture.py" rings rings.png
    printf 'wall 4m 3m\nkeep tap 0.2m 0.3m 25cm 50cm\n' >shed.wall
    run cut "${memcheck[@]}" "$sw" cut rings.png "${small[@]}" --passes 2 --bed 250x200mm --key-windows --reuse --guides 1 \
        --touch-up --kerf 0.2mm --droop 1mm --format svg,pdf,eps --threads 2 --out job
    run cut-colour "${memcheck[@]}" "$sw" cut rings.png "${small[@]}" --passes 2 --separate colour --paint '#102030' \
        --paint '#a0a0a0' --trap 0 --out colour
    run check-drawing "${memcheck[@]}" "$sw" check job/layers.svg --json
    run check-fix "${memcheck[@]}" "$sw" check colour/layers.svg --fix --out fixed.svg
    run wall-job "${memcheck[@]}" "$sw" wall shed.wall job --out wall.png --grid 10cm --into-job
    run wall-picture "${memcheck[@]}" "$sw" wall shed.wall rings.png --width 1m --out sprayed.png
    run help "${memcheck[@]}" "$sw" help --man
    run check-picture "${memcheck[@]}" "$sw" check rings.png --width 24cm --min-opening 8mm --min-web 8mm --passes 1 --out pale.png
    cd "$here" || exit 2
    most=0
}

if [ $# -eq 0 ]; then
    run_jobs
    for name in $(basename -s .c tests/test_*.c | sed 's/^test_//'); do
        case $SLOW in *" $name "*) ;; *) run_tests "$name" ;; esac
    done
elif [ "$*" = jobs ]; then
    run_jobs
else
    run_tests "$@"
fi
[ $n_failed -eq 0 ] && echo 'valgrind: nothing found'
[ $n_failed -eq 0 ]
