#!/bin/bash
# Installs into a folder of its own and builds a small program against it, static and shared.
set -eu
cd "$(dirname "$0")/.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"${MAKE:-make}" --no-print-directory install DESTDIR="$work" PREFIX=/usr >"$work/log" 2>&1 || { tail -n 20 "$work/log"; exit 1; }
for file in bin/stencilwright lib/libstencilwright.a lib/libstencilwright.so lib/pkgconfig/stencilwright.pc \
    include/stencilwright/stencilwright.h share/man/man1/stencilwright.1 \
    share/bash-completion/completions/stencilwright; do
    [ -s "$work/usr/$file" ] || { echo "missing: $file"; exit 1; }
done
ar t "$work/usr/lib/libstencilwright.a" | sort | uniq -d | grep . && { echo 'members of the library share a name'; exit 1; }
cat >"$work/use.c" <<'PROGRAM'
#include <stdio.h>
#include <stencilwright/stencilwright.h>
int main(int argc, char **argv)
{
    sw_note note = { { 0 } };
    sw_cut_opts opts = sw_cut_defaults();
    sw_job *job = NULL;
    opts.width_mm = 400.0;
    sw_status st = sw_job_cut(argv[argc - 1], &opts, &job, &note);
    if (st != SW_OK) fprintf(stderr, "%s\n", note.text);
    sw_job_free(job);
    return sw_status_exit(st);
}
PROGRAM
/usr/bin/python3 tests/cli/picture.py rings "$work/rings.png"
export PKG_CONFIG_PATH=$work/usr/lib/pkgconfig PKG_CONFIG_SYSROOT_DIR=$work
flags=$(pkg-config --cflags --libs stencilwright)
# shellcheck disable=SC2086 # lists
gcc -std=c11 -Wall -Werror -I"$work/usr/include" "$work/use.c" -L"$work/usr/lib" ${flags//$work$work/$work} -o "$work/shared"
# shellcheck disable=SC2046 # lists
gcc -std=c11 -I"$work/usr/include" "$work/use.c" "$work/usr/lib/libstencilwright.a" \
    $(PKG_CONFIG_SYSROOT_DIR='' pkg-config --libs libpng libjpeg lcms2 cairo expat) -lpotrace -lpthread -lm -o "$work/static"
LD_LIBRARY_PATH=$work/usr/lib "$work/shared" "$work/rings.png"
"$work/static" "$work/rings.png"
nm -D --defined-only "$work/usr/lib/libstencilwright.so" | sed -n 's/^.* \(sw_[a-z_0-9]*\)@@STENCILWRIGHT_0$/\1/p' | sort >"$work/exported"
sed -n 's/^SW_API[^(]*\(sw_[a-z_0-9]*\)(.*/\1/p' include/stencilwright/*.h | sort >"$work/declared"
diff "$work/declared" "$work/exported" || { echo 'the headers (<) and the shared library (>) do not agree'; exit 1; }
grep -q '^complete' "$work/usr/share/bash-completion/completions/stencilwright"
bash -n "$work/usr/share/bash-completion/completions/stencilwright"
echo "installed, built against, $(wc -l <"$work/exported") calls exported"
