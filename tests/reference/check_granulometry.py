#!/usr/bin/python3
"""Area left by opening with discs of each radius, ours in one pass, against OpenCV one radius at a time.

The reference opens by the closed disc of whole radius r (pixels whose offset is at most r): cv2.erode and cv2.dilate
with that kernel, the raster's outside not set. The two curves must agree within 1 % of the set's area at every radius.
"""
# needs: tests/reference/granulometry
import os
import subprocess
import sys

import cv2
import numpy as np
from skimage import data

BUILD = os.environ.get("BUILD", "build")


def ours(mask):
    h, w = mask.shape
    p = subprocess.run([f"{BUILD}/bin/tests/reference/granulometry"], stdout=subprocess.PIPE, check=True,
                       input=f"{w} {h}\n".encode() + mask.tobytes())
    n = w * h
    return (np.frombuffer(p.stdout[:4 * n], np.uint32).reshape(h, w), np.frombuffer(p.stdout[4 * n:], np.uint16).reshape(h, w))


def opened(mask, r):
    y, x = np.mgrid[-r:r + 1, -r:r + 1]
    disc = (x * x + y * y <= r * r).astype(np.uint8)
    padded = cv2.copyMakeBorder(mask, r + 1, r + 1, r + 1, r + 1, cv2.BORDER_CONSTANT, value=0)
    out = cv2.dilate(cv2.erode(padded, disc, borderValue=0), disc, borderValue=0)
    return out[r + 1:-r - 1, r + 1:-r - 1]


def pictures():
    grey = {name: cv2.cvtColor(getattr(data, name)(), cv2.COLOR_RGB2GRAY) for name in ("astronaut", "coffee", "chelsea")}
    for name, picture in grey.items():
        soft = cv2.GaussianBlur(picture, (0, 0), 2.0)
        yield name, (soft < np.median(soft)).astype(np.uint8)
    rng = np.random.default_rng(7)
    canvas = np.zeros((500, 700), np.uint8)
    for _ in range(60):
        p, q = rng.integers(0, 500, 2), rng.integers(0, 500, 2)
        cv2.line(canvas, tuple(int(v) for v in p * [1, 1]), tuple(int(v) for v in q + [150, 0]), 1, int(rng.integers(1, 14)))
    yield "lines", canvas
    blobs = cv2.GaussianBlur(rng.standard_normal((600, 600)), (0, 0), 9)
    yield "blobs", (blobs > 0).astype(np.uint8)


def main():
    worst, n = 0.0, 0
    for name, mask in pictures():
        squared, _ = ours(mask)
        area = float(mask.sum())
        for r in range(1, 41):
            left = float((squared > r * r).sum())
            off = abs(left - float(opened(mask, r).sum())) / area
            if off > worst:
                worst, where = off, f"{name}, radius {r}"
            n += 1
    print(f"check_granulometry: {n} openings by OpenCV {cv2.__version__}, farthest {100 * worst:.2f} % of the area ({where})")
    return worst > 0.01


if __name__ == "__main__":
    sys.exit(main())
