#!/usr/bin/python3
# needs: bin/tests/reference/picture
"""Resampling against the definition, in double precision with whole matrices (numpy; version printed).

Down: each target pixel is the mean of linear light (IEC 61966-2-1) over the source area it covers, by exact fractions.
Up: D. Mitchell and A. Netravali, "Reconstruction filters in computer graphics", SIGGRAPH 1988, eq. 8 with B = C = 1/3,
in encoded values, edge pixels repeated, each pass held between the least and largest of its four taps. An enlarged disc
must keep its place and size.
"""
import os
import struct
import subprocess
import sys
import tempfile
import zlib
from fractions import Fraction

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import pngmake

TOOL = os.path.join(os.environ.get("BUILD", "build"), "bin/tests/reference/picture")


def resampled(pixels, width, height, folder, threads=2):
    path = os.path.join(folder, "x.png")
    raw = b"".join(b"\0" + row.tobytes() for row in pixels.astype(np.uint8))
    head = struct.pack(">IIBBBBB", pixels.shape[1], pixels.shape[0], 8, 2, 0, 0, 0)
    with open(path, "wb") as f:
        f.write(pngmake.SIGNATURE + pngmake.chunk(b"IHDR", head) + pngmake.chunk(b"IDAT", zlib.compress(raw, 1)) +
                pngmake.chunk(b"IEND", b""))
    out = subprocess.run([TOOL, "resample", path, str(width), str(height), str(threads)], stdout=subprocess.PIPE,
                         check=True).stdout
    line, data = out.split(b"\n", 1)
    assert line == b"%d %d" % (width, height)
    return np.frombuffer(data, np.uint8).reshape(height, width, 3).astype(int)


def coverage(n_in, n_out):
    m = np.zeros((n_out, n_in))
    for i in range(n_out):
        begin, end = Fraction(i * n_in, n_out), Fraction((i + 1) * n_in, n_out)
        for s in range(int(begin), min(n_in, int(end) + 1)):
            share = min(end, s + 1) - max(begin, s)
            if share > 0:
                m[i, s] = float(share / (end - begin))
    return m


def mitchell(t, b=1 / 3, c=1 / 3):
    t = abs(t)
    if t < 1:
        return ((12 - 9 * b - 6 * c) * t ** 3 + (-18 + 12 * b + 6 * c) * t ** 2 + 6 - 2 * b) / 6
    if t < 2:
        return ((-b - 6 * c) * t ** 3 + (6 * b + 30 * c) * t ** 2 + (-12 * b - 48 * c) * t + 8 * b + 24 * c) / 6
    return 0


def cubic(values, n_out):
    """Along axis 0."""
    n_in = values.shape[0]
    out = []
    for i in range(n_out):
        centre = (i + 0.5) * n_in / n_out - 0.5
        base = int(np.floor(centre))
        taps = np.array([values[min(max(base + k, 0), n_in - 1)] for k in range(-1, 3)])
        total = sum(mitchell(centre - base - k) * taps[k + 1] for k in range(-1, 3))
        out.append(np.clip(total, taps.min(0), taps.max(0)))
    return np.array(out)


def to_light(v):
    v = v / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def to_code(v):
    v = np.clip(v, 0, 1)
    return 255 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def definition(pixels, width, height):
    h, w = pixels.shape[:2]
    is_light = width < w or height < h
    v = to_light(pixels) if is_light else pixels.astype(float)
    v = v.transpose(1, 0, 2)
    v = cubic(v, width) if width > w else np.tensordot(coverage(w, width), v, 1)
    v = v.transpose(1, 0, 2)
    v = cubic(v, height) if height > h else np.tensordot(coverage(h, height), v, 1)
    return to_code(v) if is_light else v


def check_disc(folder):
    """A smooth-edged disc enlarged 8 times: area and centre of what is darker than the middle, in source pixels."""
    n, by, cx, cy, r = 48, 8, 24.3, 23.6, 15.2
    y, x = (np.mgrid[0:n * 16, 0:n * 16] + 0.5) / 16
    dark = ((x - cx) ** 2 + (y - cy) ** 2 < r * r).reshape(n, 16, n, 16).mean((1, 3))
    big = resampled(np.repeat(np.round(255 * (1 - dark))[..., None], 3, 2), n * by, n * by, folder)[..., 0] < 128
    yy, xx = np.nonzero(big)
    off = max(abs((xx + 0.5).mean() / by - cx), abs((yy + 0.5).mean() / by - cy))
    wide = abs(np.sqrt(big.sum() / np.pi) / by - r)
    assert off < 0.01 and wide < 0.02, f"disc moved {off:.3f}, radius off {wide:.3f} source pixels"
    return off, wide


def main():
    rng = np.random.default_rng(88)
    pixels = rng.integers(0, 256, (57, 83, 3))
    worst, n = 0.0, 0
    with tempfile.TemporaryDirectory() as folder:
        for width, height in ((83, 57), (82, 56), (41, 19), (1, 1), (7, 57), (84, 58), (200, 160), (166, 114), (83, 90),
                              (84, 56), (30, 100), (500, 3)):
            got = resampled(pixels, width, height, folder)
            off = np.abs(got - definition(pixels, width, height)).max()
            assert off < 0.51, f"{width} x {height}: off by {off:.3f}"
            assert (got == resampled(pixels, width, height, folder, 7)).all()
            worst, n = max(worst, off), n + 1
        moved, wide = check_disc(folder)
    print(f"picture_resample: {n} sizes within {worst:.3f} of a step of the definition (numpy {np.__version__}); an "
          f"enlarged disc moved {moved:.4f} and grew {wide:.4f} source pixels")


main()
