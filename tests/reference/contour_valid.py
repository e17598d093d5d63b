#!/usr/bin/python3
# needs: bin/tests/reference/contour_dump
# Every flattened contour is simple and valid, and contours nest as the mask's regions do, over 2000 random shapes; and
# over 2000 again with the edges moved for a kerf, inward and outward.
# Reference: GEOS through shapely (versions printed), connected components of OpenCV.
import os
import subprocess
import sys
import warnings

import cv2
import numpy as np
import shapely
warnings.simplefilter("ignore")  # shapely 1.8 announces its own changes
from shapely.geometry import LinearRing, Polygon
from shapely.geos import geos_version
from shapely.strtree import STRtree

BUILD = os.environ.get("BUILD", "build")
EXE = os.path.join(BUILD, "bin/tests/reference/contour_dump")


def shape(rng, kind):
    """A random mask: blobs, polygons, strokes, noise, checkerboards."""
    h, w = int(rng.integers(12, 90)), int(rng.integers(12, 90))
    m = np.zeros((h, w), np.uint8)
    if kind == 0:  # blurred noise: smooth blobs with holes
        f = cv2.GaussianBlur(rng.random((h, w)).astype(np.float32), (0, 0), float(rng.uniform(0.8, 5)))
        m = (f > np.quantile(f, rng.uniform(0.3, 0.7))).astype(np.uint8)
    elif kind == 1:  # polygons over each other
        for k in range(int(rng.integers(1, 5))):
            p = rng.integers(-8, max(h, w) + 8, (int(rng.integers(3, 9)), 2)).astype(np.int32)
            cv2.fillPoly(m, [p], int(k % 3 != 2))
    elif kind == 2:  # strokes
        for _ in range(int(rng.integers(1, 8))):
            p = rng.integers(0, max(h, w), (2, 2))
            cv2.line(m, tuple(map(int, p[0])), tuple(map(int, p[1])), 1, int(rng.integers(1, 6)))
    elif kind == 3:  # ellipses and holes
        for k in range(int(rng.integers(1, 7))):
            c = (int(rng.integers(0, w)), int(rng.integers(0, h)))
            a = (int(rng.integers(1, 30)), int(rng.integers(1, 30)))
            cv2.ellipse(m, c, a, float(rng.uniform(0, 180)), 0, 360, int(k % 2 == 0), -1)
    else:  # noise: corner touches everywhere
        q = rng.uniform(0.1, 0.9)
        m = (rng.random((h // 2, w // 2)) < q).astype(np.uint8)
        if rng.random() < 0.5:
            m = np.kron(m, np.ones((2, 2), np.uint8))
    return m


def pgm(m):
    return b"P5 %d %d 255\n" % (m.shape[1], m.shape[0]) + m.tobytes()


def read(text):
    masks = []
    for line in text.splitlines():
        t = line.split()
        if t[0] == "mask":
            masks.append([])
        elif t[0] == "c":
            masks[-1].append([np.array([float(t[2]), float(t[3])])])
        else:
            v = np.array([float(x) for x in t[2:]]).reshape(-1, 2)
            p = masks[-1][-1]
            if t[0] == "L":
                p.append(v[-1])
            else:
                u = np.linspace(0, 1, 25)[1:, None]
                p.extend((1 - u) ** 3 * p[-1] + 3 * (1 - u) ** 2 * u * v[0] + 3 * (1 - u) * u**2 * v[1] + u**3 * v[2])
    return masks


def problems(m, contours):
    """What is wrong with one mask's contours."""
    found = []
    rings = [np.array(c[:-1]) for c in contours]
    for r in rings:
        if len(r) < 3 or not LinearRing(r).is_simple:
            found.append("not simple")
    if found:
        return found
    polygons = [Polygon(r) for r in rings]
    if any(not p.is_valid for p in polygons):
        found.append("not valid")
    # contours neither cross nor touch each other
    lines = [LinearRing(r) for r in rings]
    tree = STRtree(lines)
    for k, line in enumerate(lines):
        if any(other is not line and other != k and line.intersects(lines[other] if isinstance(other, (int, np.integer)) else other)
               for other in tree.query(line)):
            found.append("meets another")
            break
    # as many outer edges as openings, as many inner ones as islands; even-odd area near the mask's
    n_open = cv2.connectedComponents(m, connectivity=8)[0] - 1
    n_island = cv2.connectedComponents(np.pad(1 - m, 1, constant_values=1), connectivity=4)[0] - 2
    sign = [np.sum(r[:, 0] * np.roll(r[:, 1], -1) - np.roll(r[:, 0], -1) * r[:, 1]) > 0 for r in rings]
    if sum(sign) != n_open or len(sign) - sum(sign) != n_island:
        found.append("topology %d+%d instead of %d+%d" % (sum(sign), len(sign) - sum(sign), n_open, n_island))
    return found


def main():
    n_each, n_bad, n_contours, n_shapes = 200, 0, 0, 0
    for tolerance, offset, kinds in (("0.3", "0", 5), ("1", "0", 5), ("0.5", "-0.3", 5), ("0.5", "0.3", 5)):
        for kind in range(kinds):
            rng = np.random.default_rng(1000 + kind)
            masks = [shape(rng, kind) for _ in range(n_each)]
            out = subprocess.run([EXE, "1", tolerance, "0", offset], input=b"".join(map(pgm, masks)), stdout=subprocess.PIPE, check=True)
            for k, (m, c) in enumerate(zip(masks, read(out.stdout.decode()), strict=True)):
                n_contours += len(c)
                n_shapes += 1
                for p in problems(m, c):
                    n_bad += 1
                    if n_bad < 20:
                        print("tolerance %s offset %s kind %d shape %d: %s" % (tolerance, offset, kind, k, p))
    print("contour_valid: %d shapes, %d contours, %d problems (GEOS %s, shapely %s, OpenCV %s)"
          % (n_shapes, n_contours, n_bad, ".".join(map(str, geos_version)), shapely.__version__, cv2.__version__))
    return n_bad > 0


if __name__ == "__main__":
    sys.exit(main())
