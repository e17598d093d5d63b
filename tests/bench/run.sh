#!/bin/bash
# Benchmarks of the whole job on generated pictures. JOBS="a b" picks among: ordinary large wall growth panels.
set -eu
cd "$(dirname "$0")/../.."
build=${BUILD:-build}
"${MAKE:-make}" --no-print-directory "$build/bin/tests/bench/bench_job"
draw=$build/bin/samples/draw bench=$build/bin/tests/bench/bench_job pictures=$build/bench
mkdir -p "$pictures"
picture() { [ -s "$pictures/$1" ] || "$draw" harbour "$2" "$3" "$pictures/$1"; }
for job in ${JOBS:-ordinary panels large wall growth}; do
    case $job in
    ordinary) picture 24mp.jpg 6000 4000 && "$bench" "$pictures/24mp.jpg" 2.1m 3mm ;;
    panels) picture panels.jpg 6000 4400 && BED=1200x800 "$bench" "$pictures/panels.jpg" 3m 3mm ;;
    large) picture 48mp.jpg 8484 5656 && "$bench" "$pictures/48mp.jpg" 6m 3mm ;;
    wall) picture wall.jpg 6000 3600 && "$bench" "$pictures/wall.jpg" 20m 10mm ;;
    growth)
        picture 24mp.jpg 6000 4000
        "$bench" "$pictures/24mp.jpg" 0.75m 3mm "$pictures/24mp.jpg" 1.05m 3mm "$pictures/24mp.jpg" 1.5m 3mm \
            "$pictures/24mp.jpg" 2.1m 3mm "$pictures/24mp.jpg" 3m 3mm ;;
    esac
done
