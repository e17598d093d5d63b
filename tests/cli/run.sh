#!/bin/bash
# Command line cases, all or those named: tests/cli/run.sh [NAME...]. Each tests/cli/NAME.case is a shell script run in a
# folder of its own, with $SW the program, $PICTURE the test picture maker and $SAMPLES the sample pictures. Lines at its
# top say what must come:
#   #: exit N        the script's exit status (0 if there is no such line)
#   #: err PATTERN   the next line of standard error; * stands for anything
#   #: out PATTERN   the next line of standard output
# Streams without a line are not looked at, except that standard error must be empty when the exit status is 0.
set -u
here=$(cd "$(dirname "$0")" && pwd)
top=$(cd "$here/../.." && pwd)
build=${BUILD:-build}
case $build in /*) ;; *) build=$top/$build ;; esac
export SW=${SW:-$build/stencilwright} PICTURE="/usr/bin/python3 $here/picture.py" SAMPLES=$build/samples
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
n_passed=0 n_failed=0

expect_stream() { # expect_stream NAME FILE PATTERNS: line by line, none missing and none left over
    local name=$1 file=$2 line pattern
    exec 4<"$file"
    while IFS= read -r pattern; do
        IFS= read -r line <&4 || { echo "  $name ended before: $pattern"; return; }
        # shellcheck disable=SC2053 # a pattern on purpose
        [[ $line == $pattern ]] || { printf '  %s is:  %s\n  wanted: %s\n' "$name" "$line" "$pattern"; return; }
    done <<<"$3"
    IFS= read -r line <&4 && echo "  $name has another line: $line"
    exec 4<&-
}

[ $# -gt 0 ] || set -- $(basename -s .case "$here"/*.case)
for name; do
    case=$here/$name.case
    [ -r "$case" ] || { echo "there is no $case" >&2; exit 2; }
    mkdir "$work/$name"
    (cd "$work/$name" && bash "$case" >../out 2>../err)
    status=$?
    wanted=$(sed -n 's/^#: exit //p' "$case")
    err=$(sed -n 's/^#: err //p' "$case") out=$(sed -n 's/^#: out //p' "$case")
    problem=
    [ "$status" -eq "${wanted:-0}" ] || problem="  exit status $status, wanted ${wanted:-0}: $(head -n 3 "$work/err")"
    [ -z "$err" ] || problem+=$(expect_stream 'standard error' "$work/err" "$err")
    [ -z "$out" ] || problem+=$(expect_stream 'standard output' "$work/out" "$out")
    if [ -z "$err" ] && [ "${wanted:-0}" -eq 0 ] && [ -s "$work/err" ]; then problem+="  $(head -n 3 "$work/err")"; fi
    if [ -z "$problem" ]; then n_passed=$((n_passed + 1)); else
        n_failed=$((n_failed + 1))
        printf 'FAIL %s\n%s\n' "$name" "$problem"
    fi
    rm -rf "${work:?}/$name"
done
echo "command line: $n_passed passed, $n_failed failed"
[ "$n_failed" -eq 0 ]
