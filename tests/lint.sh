#!/bin/bash
# Static analysis of the library and the program: clang-tidy, cppcheck, gcc -fanalyzer. Arguments: compiler flags.
set -u
cd "$(dirname "$0")/.."
status=0
sources=$(ls src/*/*.c)
flags="-std=c11 $*"
# Not asked for: advice that C11's optional bounds-checked calls replace strcpy and memcpy; floats as loop counters and
# whole divisions in float sums, which are meant where they stand; va_list, which clang-tidy 14 misjudges after the first
# file; conversions, which -Wconversion judges better; _GNU_SOURCE and X-lists.
checks='-*,clang-analyzer-*,bugprone-*'
for off in clang-analyzer-security.insecureAPI.DeprecatedOrUnsafeBufferHandling clang-analyzer-security.insecureAPI.strcpy \
    clang-analyzer-security.FloatLoopCounter clang-analyzer-valist.Uninitialized bugprone-integer-division \
    bugprone-easily-swappable-parameters bugprone-narrowing-conversions bugprone-reserved-identifier \
    bugprone-implicit-widening-of-multiplication-result bugprone-branch-clone; do
    checks+=,-$off
done
for tool in clang-tidy cppcheck gcc; do
    command -v $tool >/dev/null || { echo "lint: $tool is not installed" >&2; exit 2; }
done
# shellcheck disable=SC2086 # lists
printf '%s\n' $sources | xargs -P "$(nproc)" -I{} \
    clang-tidy --quiet --warnings-as-errors='*' --checks="$checks" {} -- $flags 2>/dev/null || status=1
# shellcheck disable=SC2086 # lists
cppcheck --quiet --error-exitcode=1 --std=c11 --enable=warning,portability --inline-suppr -Iinclude -Isrc \
    --suppress=missingIncludeSystem -DSW_VERSION='"lint"' $sources || status=1
# shellcheck disable=SC2086 # lists
printf '%s\n' $sources | xargs -P "$(nproc)" -I{} gcc $flags -D__clang_analyzer__ -O1 -fanalyzer -Werror -c {} -o /dev/null || status=1
[ $status -eq 0 ] && echo 'lint: nothing found'
exit $status
