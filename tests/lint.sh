#!/bin/bash
# Static analysis of the library and the program: clang-tidy, cppcheck, gcc -fanalyzer. Arguments: compiler flags.
set -u
cd "$(dirname "$0")/.."
status=0
sources=$(ls src/*/*.c)
flags="-std=c11 -DSW_VERSION=\"lint\" $*"
if command -v clang-tidy >/dev/null; then
    # shellcheck disable=SC2086 # lists
    clang-tidy --quiet --warnings-as-errors='*' \
        --checks='-*,clang-analyzer-*,-clang-analyzer-security.insecureAPI.DeprecatedOrUnsafeBufferHandling,bugprone-*,-bugprone-easily-swappable-parameters,-bugprone-narrowing-conversions,-bugprone-implicit-widening-of-multiplication-result' \
        $sources -- $flags 2>/dev/null || status=1
fi
if command -v cppcheck >/dev/null; then
    # shellcheck disable=SC2086 # lists
    cppcheck --quiet --error-exitcode=1 --std=c11 --enable=warning,portability --inline-suppr -Iinclude -Isrc \
        --suppress=missingIncludeSystem -DSW_VERSION='"lint"' $sources || status=1
fi
for source in $sources; do
    # shellcheck disable=SC2086 # lists
    gcc $flags -O1 -fanalyzer -Werror -c "$source" -o /dev/null || status=1
done
[ $status -eq 0 ] && echo 'lint: nothing found'
exit $status
