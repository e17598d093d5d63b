#!/bin/bash
# Replay a fuzz target's corpus in the sanitizer build: tests/fuzz/replay.sh fuzz_NAME
set -eu
cd "$(dirname "$0")/../.."
name=$1 build=${BUILD:-build}/check
${MAKE:-make} --no-print-directory BUILD="$build" OPT='-O1 -g' \
    SAN='-fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer' \
    CFLAGS='-DSW_FAULTS -DSW_REPLAY' "$build/bin/tests/fuzz/$name"
"$build/bin/tests/fuzz/$name" "tests/fuzz/corpus/${name#fuzz_}"
