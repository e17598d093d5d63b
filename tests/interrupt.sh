#!/bin/bash
# A job folder that is being replaced holds the old job or the new one, whole, whenever the program is stopped.
# RUNS (200) runs are stopped by INT, TERM and KILL in turn at random moments; SEED repeats a run.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
build=${BUILD:-build} runs=${RUNS:-200} seed=${SEED:-1}
case $build in /*) ;; *) build=$here/../$build ;; esac
program=${SW:-$build/stencilwright}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
/usr/bin/python3 "$here/cli/picture.py" rings rings.png
cut() { "$program" cut rings.png --width 0.6m --passes "$1" --quiet --out "$2" --replace; }
cut 1 one
cut 2 two
cut 1 job
begun=$(date +%s%N)
cut 2 job
took_us=$((($(date +%s%N) - begun) / 1000))

RANDOM=$seed
signals=(INT TERM KILL) n_stopped=0 n_old=0 n_new=0 now=two
for ((run = 0; run < runs; run++)); do
    signal=${signals[run % 3]}
    if [ "$now" = two ]; then next=one passes=1; else next=two passes=2; fi
    wait_us=$(((RANDOM * 32768 + RANDOM) % (took_us * 11 / 10 + 1)))
    # a job of a shell in the background ignores INT unless job control is on
    set -m
    "$program" cut rings.png --width 0.6m --passes $passes --quiet --out job --replace 2>err &
    pid=$!
    set +m
    sleep "$(printf '%d.%06d' $((wait_us / 1000000)) $((wait_us % 1000000)))"
    kill -"$signal" $pid 2>/dev/null || true
    status=0
    wait $pid 2>/dev/null || status=$?
    [ $status -eq 0 ] || n_stopped=$((n_stopped + 1))
    if diff -r "$next" job >differs 2>&1; then now=$next n_new=$((n_new + 1))
    elif diff -r "$now" job >>differs 2>&1; then
        n_old=$((n_old + 1))
        [ $status -ne 0 ] || { echo "run $run: status 0 but the old job is still there"; exit 1; }
    else
        echo "run $run, $signal after $wait_us us (SEED=$seed): neither the old job nor the new one"
        head -n 5 differs
        exit 1
    fi
    left=$(find . -maxdepth 1 -name '.being-written-*')
    if [ "$signal" = KILL ]; then
        [ $((run % 2)) -eq 0 ] || rm -rf .being-written-* # every other time the next run finds what is left
        stale=$(find . -maxdepth 1 -name '.being-written-*')
    elif [ "$left" != "${stale:-}" ]; then
        echo "run $run, $signal after $wait_us us (SEED=$seed): left behind: $left"
        exit 1
    fi
done
echo "interrupt: $runs runs, $n_stopped stopped, $n_old old, $n_new new, 0 broken"
