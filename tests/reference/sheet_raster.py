#!/usr/bin/python3
"""Distance transform and components against scipy.ndimage and OpenCV; discs' openings against scikit-image."""
# needs: bin/tests/reference/sheet_raster bin/tests/reference/sheet_open
import os
import subprocess
import sys

import cv2
import numpy as np
import scipy
import skimage
from scipy import ndimage
from skimage import data, morphology

BUILD = os.environ.get("BUILD", "build")
NONE = 2**32 - 1
RNG = np.random.default_rng(2024)


def run(name, mask, *args):
    h, w = mask.shape
    p = subprocess.run([f"{BUILD}/bin/tests/reference/{name}", *map(str, args)], stdout=subprocess.PIPE, check=True,
                       input=f"{w} {h}\n".encode() + mask.tobytes())
    return p.stdout


def squared(mask, target, outside):
    """scipy.ndimage.distance_transform_edt, squared and rounded: exact for whole squares of this size."""
    m = np.pad(mask, 1, constant_values=target if outside else 1 - target)
    if not (m == target).any():
        return np.full(mask.shape, NONE, np.uint32)
    d = ndimage.distance_transform_edt(m != target)[1:-1, 1:-1]
    return np.rint(d * d).astype(np.uint32)


def relabel(label):
    """Numbers in raster order of first pixels."""
    _, first, inverse = np.unique(label, return_index=True, return_inverse=True)
    has_ground = (label == 0).any()
    order = np.argsort(np.where(np.unique(label) == 0, -1, first), kind="stable")
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order)) + (0 if has_ground else 1)
    return rank[inverse].reshape(label.shape).astype(np.uint32)


def masks():
    for share in (0.0, 0.02, 0.3, 0.5, 0.7, 0.98, 1.0):
        yield f"noise {share}", (RNG.random((151, 213)) < share).astype(np.uint8)
    for sigma in (2, 6):
        yield f"blobs {sigma}", (ndimage.gaussian_filter(RNG.standard_normal((400, 611)), sigma) > 0).astype(np.uint8)
    for name in ("astronaut", "coffee", "chelsea"):
        grey = cv2.cvtColor(getattr(data, name)(), cv2.COLOR_RGB2GRAY)
        for cut in (80, 140):
            yield f"{name} {cut}", (grey < cut).astype(np.uint8)
    yield "row", (RNG.random((1, 300)) < 0.2).astype(np.uint8)
    yield "column", (RNG.random((300, 1)) < 0.2).astype(np.uint8)


def main():
    bad = n = 0
    for name, mask in masks():
        words = np.frombuffer(run("sheet_raster", mask), np.uint32).reshape(6, *mask.shape)
        for k in range(4):
            want = squared(mask, k & 1, k >= 2)
            n += 1
            if not np.array_equal(words[k], want):
                bad += 1
                print(f"{name}: distance to {k & 1}, outside {k >= 2}: {np.sum(words[k] != want)} pixels differ")
        cross = ndimage.generate_binary_structure(2, 1)
        wants = {
            "material, scipy": (4, ndimage.label(mask == 0, cross)[0]),
            "material, OpenCV": (4, cv2.connectedComponents(1 - mask, connectivity=4)[1]),
            "openings, scipy": (5, ndimage.label(mask, np.ones((3, 3)))[0]),
            "openings, OpenCV": (5, cv2.connectedComponents(mask, connectivity=8)[1]),
        }
        for what, (k, label) in wants.items():
            n += 1
            if not np.array_equal(words[k], relabel(label)):
                bad += 1
                print(f"{name}: {what} differ")
        for diameter in (3, 7, 11):
            got = np.frombuffer(run("sheet_open", mask, diameter), np.uint8).reshape(mask.shape)
            room = np.pad(mask, diameter + 1)
            y, x = np.mgrid[-(diameter // 2):diameter // 2 + 1, -(diameter // 2):diameter // 2 + 1]
            disc = (4 * (x * x + y * y) <= diameter * diameter).astype(np.uint8)
            want = morphology.binary_opening(room, disc)[diameter + 1:-diameter - 1, diameter + 1:-diameter - 1]
            n += 1
            if not np.array_equal(got, want):
                bad += 1
                print(f"{name}: opening by a disc of {diameter} differs in {np.sum(got != want)} pixels")
    print(f"sheet rasters: {n} compared, {bad} differ (scipy {scipy.__version__}, OpenCV {cv2.__version__}, "
          f"scikit-image {skimage.__version__})")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
