#!/bin/bash
# Every test of the project; called by `make check`. Prints one line a part and a count at the end.
set -u
cd "$(dirname "$0")/.."
BUILD=${BUILD:-build} MAKE=${MAKE:-make}
export BUILD
log=$BUILD/check-log
mkdir -p "$log"
n_passed=0 n_failed=0

part() { # part NAME COMMAND...: runs it, keeps its output, shows it when it fails
    local name=$1 begun=$SECONDS
    shift
    if "$@" >"$log/$name.txt" 2>&1; then
        n_passed=$((n_passed + 1))
        printf 'ok    %-34s %3d s  %s\n' "$name" $((SECONDS - begun)) "$(tail -n 1 "$log/$name.txt" | cut -c 1-90)"
    else
        n_failed=$((n_failed + 1))
        printf 'FAIL  %s\n' "$name"
        tail -n 60 "$log/$name.txt" | sed 's/^/      /'
    fi
}

part rules tests/rules/run.sh
part clang "$MAKE" --no-print-directory -j2 all BUILD="$BUILD/clang" CC=clang OPT=-O1 CFLAGS=-Werror
part gcc "$MAKE" --no-print-directory -j2 all BUILD="$BUILD/werror" CC=gcc OPT=-O2 CFLAGS=-Werror
part build-tests "$MAKE" --no-print-directory -j2 unit-build
for source in tests/test_*.c; do
    name=$(basename "$source" .c)
    part "$name" "$MAKE" --no-print-directory unit T="${name#test_}"
done
part command-line tests/cli/run.sh
part command-line-sanitized tests/asan.sh
part interrupt env RUNS=20 tests/interrupt.sh
part install tests/install.sh
for fuzz in tests/fuzz/fuzz_*.c; do
    [ -e "$fuzz" ] || continue
    name=$(basename "$fuzz" .c)
    part "replay-${name#fuzz_}" tests/fuzz/replay.sh "$name"
done
needs_of() { sed -n 's/^# needs: *//p' "$1" | head -n 1; }
for script in tests/reference/*.py tests/test_*.sh; do
    [ -e "$script" ] && ! grep -q '^# not a test' "$script" || continue
    targets=
    for need in $(needs_of "$script"); do
        case $need in
        bin/* | stencilwright) targets="$targets $BUILD/$need" ;;
        *) targets="$targets $BUILD/bin/$need" ;;
        esac
    done
    if [ -n "$targets" ]; then
        # shellcheck disable=SC2086 # a list of targets
        "$MAKE" --no-print-directory $targets >"$log/needs.txt" 2>&1 || cat "$log/needs.txt"
    fi
    case $script in
    *.py) part "reference-$(basename "$script" .py)" /usr/bin/python3 "$script" ;;
    *) part "$(basename "$script" .sh)" "$script" ;;
    esac
done
printf '%d passed, %d failed\n' "$n_passed" "$n_failed"
[ "$n_failed" -eq 0 ]
