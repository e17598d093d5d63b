#!/bin/bash
# Makes the pictures in this folder from the samples: left the picture, right the wall as sprayed.
set -eu
cd "$(dirname "$0")/../.."
build=${BUILD:-build}
show() { # show NAME PICTURE OPTIONS...
    local name=$1 picture=$2
    shift 2
    "$build/stencilwright" cut "$picture" --out "$build/shown/$name" --replace --quiet "$@"
    /usr/bin/python3 - "$picture" "$build/shown/$name/preview.png" "samples/shown/$name.jpg" <<'PYTHON'
import sys
import cv2
import numpy
one, two = (cv2.imread(path) for path in sys.argv[1:3])
height = 560
both = [cv2.resize(p, (round(p.shape[1] * height / p.shape[0]), height), interpolation=cv2.INTER_AREA) for p in (one, two)]
gap = numpy.full((height, 12, 3), 255, numpy.uint8)
cv2.imwrite(sys.argv[3], numpy.hstack([both[0], gap, both[1]]), [cv2.IMWRITE_JPEG_QUALITY, 86])
PYTHON
}
mkdir -p "$build/shown"
show heron "$build/samples/heron.png" --width 2.1m --passes 3
show figurehead "$build/samples/figurehead.png" --width 1.6m --separate colour --passes 5 --ground '#98bcb9'
show regatta "$build/samples/regatta.png" --width 1.8m --separate colour --passes 5 --ground '#f7ecd3'
