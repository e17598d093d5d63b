#!/bin/bash
# The ledger of what jobs measure: tests/golden/measures.csv, a line a picture and its settings. Without an argument
# the lines are made again and compared: any difference is printed and fails. With `accept` the file is written anew;
# whoever does that says why in the commit. Pictures of scikit-image are used in place; where they are not installed
# their lines are left alone.
set -eu
cd "$(dirname "$0")/.."
build=${BUILD:-build} file=tests/golden/measures.csv
photographs=/usr/lib/python3/dist-packages/skimage/data
jobs="
heron.png --width 2.1m
heron.png --width 2.1m --passes 2 --bed 1200x800mm
regatta.png --width 1.5m --separate colour --passes 4
regatta.png --width 1.5m --passes 5 --detail 100
sketch.jpg --width 1m --separate line
harbour.jpg --width 2.1m
harbour.jpg --width 1m --min-opening 5mm --min-web 8mm --detail 0
figurehead.png --width 1m
figurehead.png --width 1m --ground #303030
astronaut.png --width 1.5m
astronaut.png --width 1m --separate colour --passes 5
coffee.png --width 1.5m
chelsea.png --width 1.5m
rocket.jpg --width 1.5m
"
made=$(mktemp) known=$(mktemp)
trap 'rm -f "$made" "$known" "$made.json"' EXIT
echo 'picture,settings,exit,passes,nodes,cut_m,bridges,visible_bridge_mm2,ciede2000' >"$made"
missing=
while read -r name settings; do
    [ -n "$name" ] || continue
    picture=$build/samples/$name
    [ -e "$picture" ] || picture=$photographs/$name
    [ -e "$picture" ] || { missing+=" $name"; continue; }
    out=$build/measures-job status=0
    rm -rf "$out"
    # shellcheck disable=SC2086 # a list of options
    "$build/stencilwright" cut "$picture" $settings --json --quiet --out "$out" >"$made.json" 2>/dev/null || status=$?
    /usr/bin/python3 - "$name" "$settings" "$status" "$made.json" >>"$made" <<'EOF'
import json, sys
name, settings, status, path = sys.argv[1:]
text = open(path, encoding="utf-8").read()
if not text:
    print(f"{name},{settings},{status},,,,,,")
    sys.exit()
job = json.loads(text)
passes = job["passes"]
print(name, settings, status, len(passes), sum(p["nodes"] for p in passes),
      f'{sum(p["cut_length_mm"] for p in passes) / 1000:.3f}', sum(len(p["bridges"]) for p in passes),
      f'{sum(p["visible_bridge_mm2"] for p in passes):.1f}', f'{job["mean_ciede2000"]:.3f}', sep=",")
EOF
    rm -rf "$out"
done <<<"$jobs"
if [ "${1:-}" = accept ]; then
    [ -z "$missing" ] || { echo "measures: not accepted, missing:$missing"; exit 1; }
    mkdir -p tests/golden
    cp "$made" "$file"
    echo "measures: $(($(wc -l <"$file") - 1)) lines accepted into $file"
    exit
fi
cp "$file" "$known"
for name in $missing; do sed -i "/^$name,/d" "$known"; done
if diff -u --label "$file" --label 'made now' "$known" "$made"; then
    echo "measures: $(($(wc -l <"$made") - 1)) lines as in $file${missing:+, not installed:$missing}"
else
    echo "measures: different; if that is meant: tests/measures.sh accept, and the reason in the commit"
    exit 1
fi
