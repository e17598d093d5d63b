#!/bin/sh
# The sample generator gives the same bytes every time, with one thread and with several, and refuses bad calls.
# needs: bin/samples/draw bin/tests/gen/testcard
# BUILD=build tests/test_samples.sh
set -eu
BUILD=${BUILD:-build}
draw=$BUILD/bin/samples/draw
card=$BUILD/bin/tests/gen/testcard
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
fail() { echo "test_samples: $*" >&2; exit 1; }

for scene in 'heron png' 'regatta png' 'sketch jpg' 'harbour jpg' 'figurehead png' 'wallphoto jpg'; do
  set -- $scene
  "$draw" -t 1 "$1" 300 260 "$tmp/a.$2"
  "$draw" -t 3 "$1" 300 260 "$tmp/b.$2"
  cmp -s "$tmp/a.$2" "$tmp/b.$2" || fail "$1: other bytes with three threads than with one"
  "$draw" -t 3 "$1" 300 260 "$tmp/a.$2"
  cmp -s "$tmp/a.$2" "$tmp/b.$2" || fail "$1: other bytes the second time"
  [ "$(wc -c < "$tmp/a.$2")" -gt 8000 ] || fail "$1: too small a file to be a picture"
done

# A wrong call ends with 2 and writes nothing.
for args in 'nobody x.png' 'heron 0 10 x.png' 'heron 10 x.png' 'heron 99999 10 x.png' '-t 0 heron x.png' ''; do
  status=0
  (cd "$tmp" && "$OLDPWD/$draw" $args) 2> "$tmp/err" || status=$?
  [ "$status" = 2 ] || fail "draw $args: ended with $status, not 2"
  [ ! -e "$tmp/x.png" ] || fail "draw $args: wrote a file"
done

# The corners that the README states are the ones the camera has.
"$draw" wall-corners | while read -r x y; do
  grep -q "| $x, $y |" samples/README.md || fail "corner $x, $y is not in samples/README.md"
done

for args in 'gratings 400 100 20 0.25' 'discs 800 120 4 60' 'rings 301 301 8 12' 'bars 600 160 9' 'wedge 60 300 30' 'checker 64 64 8' 'steps 90 20 9'; do
  "$card" $args "$tmp/a.png" && "$card" $args "$tmp/b.png"
  cmp -s "$tmp/a.png" "$tmp/b.png" || fail "testcard $args: other bytes the second time"
done
# The first bar of this grating begins at the margin (10 px) and is 5 px wide: rows are margin, then 5 dark in 20.
/usr/bin/python3 - "$card" "$tmp" <<'PY' || fail "testcard gratings: wrong widths"
import subprocess, sys
import numpy as np, cv2
card, tmp = sys.argv[1:]
subprocess.run([card, "gratings", "400", "100", "20", "0.25", tmp + "/g.png"], check=True)
row = cv2.imread(tmp + "/g.png", cv2.IMREAD_GRAYSCALE)[50]
want = np.full(400, 255)
for k in range(19):
    want[10 + 20 * k:15 + 20 * k] = 0
assert (row == want).all()
subprocess.run([card, "discs", "800", "120", "4", "60", tmp + "/d.png"], check=True)
ink = (255.0 - cv2.imread(tmp + "/d.png", cv2.IMREAD_GRAYSCALE)) / 255.0
pitch = (800 - 24) / 8
for k in range(8):
    area = ink[:, int(12 + pitch * k):int(12 + pitch * (k + 1))].sum()
    d = 4 + 56 * k / 7
    assert abs(area - np.pi * d * d / 4) < 0.006 * area + 0.2, (k, area)
PY
echo "test_samples: six pictures and seven cards, same bytes every time"
