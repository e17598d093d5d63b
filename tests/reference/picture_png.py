#!/usr/bin/python3
# needs: bin/tests/reference/picture
"""PNG decoding over every colour type, depth, filter and both interlacings.

Each file is written by tests/reference/pngmake.py from random samples, so the right answer is known from the standard
(ISO/IEC 15948:2004) alone; where Pillow (its own decoder; version printed) reads the form in full, it must agree too.
Pillow cuts 16-bit colour to 8 bits by dropping the low byte and is not asked there; OpenCV is asked for those.
"""
import collections
import io
import itertools
import os
import random
import resource
import struct
import subprocess
import sys
import tempfile
import zlib

import cv2
import numpy as np
import PIL
from PIL import Image

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import pngmake

TOOL = os.path.join(os.environ.get("BUILD", "build"), "bin/tests/reference/picture")
GROUND = (37, 150, 211)


def ours(data, path):
    with open(path, "wb") as f:
        f.write(data)
    out = subprocess.run([TOOL, "read", path, *map(str, GROUND)], stdout=subprocess.PIPE, check=True).stdout
    line, pixels = out.split(b"\n", 1)
    width, height, alpha, clear, _, _ = map(int, line.split())
    return np.frombuffer(pixels, np.uint8).reshape(height, width, 3).astype(int), bool(alpha), bool(clear)


def truth(rows, colour_type, depth, palette, trns):
    """8-bit RGB over the ground in exact integers, rounded once a step: sample to 8 bits, then the blend."""
    top = (1 << depth) - 1
    to8 = lambda v: (v * 255 * 2 + top) // (2 * top)
    out = []
    for row in rows:
        line = []
        for p in row:
            alpha = 255
            if colour_type == 3:
                colour = palette[p[0]]
                if trns is not None and p[0] < len(trns):
                    alpha = trns[p[0]]
            else:
                n = 3 if colour_type in (2, 6) else 1
                colour = [to8(v) for v in p[:n]] * (4 - n if n == 1 else 1)
                if colour_type in (4, 6):
                    alpha = to8(p[-1])
                elif trns is not None and struct.pack(">%dH" % n, *p[:n]) == trns:
                    alpha = 0
            over = [(c * alpha * 2 + g * (255 - alpha) * 2 + 255) // 510 for c, g in zip(colour, GROUND)]
            line.append(over + [alpha])
        out.append(line)
    return np.array(out)


def by_pillow(data):
    image = Image.open(io.BytesIO(data))
    if image.mode in ("I", "I;16"):
        return None
    rgba = np.array(image.convert("RGBA")).astype(int)
    a = rgba[..., 3:]
    return (rgba[..., :3] * a * 2 + np.array(GROUND) * (255 - a) * 2 + 255) // 510


def by_opencv(data):
    """16-bit files without a key; BGR(A) or grey."""
    raw = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if raw.dtype != np.uint16:
        return None
    raw = raw.reshape(raw.shape[0], raw.shape[1], -1).astype(np.int64)
    if raw.shape[2] == 1:
        raw = np.repeat(raw, 3, axis=2)
    rgb = (raw[..., 2::-1] * 255 * 2 + 65535) // (2 * 65535)
    a = (raw[..., 3:] * 255 * 2 + 65535) // (2 * 65535) if raw.shape[2] == 4 else 255
    return (rgb * a * 2 + np.array(GROUND) * (255 - a) * 2 + 255) // 510


def make(rng, colour_type, depth, width, height, keyed):
    top = (1 << depth) - 1
    n = pngmake.CHANNELS[colour_type]
    palette = trns = None
    if colour_type == 3:
        palette = [tuple(rng.randrange(256) for _ in range(3)) for _ in range(1 << depth)]
        if keyed:
            trns = bytes(rng.randrange(256) for _ in range(rng.randrange(1, len(palette) + 1)))
    rows = [[tuple(rng.randrange(top + 1) for _ in range(n)) for _ in range(width)] for _ in range(height)]
    if keyed and colour_type in (0, 2):
        trns = struct.pack(">%dH" % n, *rows[height // 2][width // 2])
    return rows, palette, trns


def check_bombs(path):
    """A few hundred kB that inflate to 256 MB, in text, profile and picture data: read within 200 MB of memory, pixels
    right, because none of it is needed."""
    zeros = zlib.compress(bytes(256 << 20), 9)
    header = struct.pack(">I4sI4s4s4s12x4s92x", 256 << 20, b"test", 0x04000000, b"mntr", b"RGB ", b"XYZ ", b"acsp")
    pack = zlib.compressobj(9)
    profile = pack.compress(header + bytes((256 << 20) - len(header))) + pack.flush()
    rows = [[(1, 2, 3), (4, 5, 6)], [(7, 8, 9), (10, 11, 12)]]
    chunk = pngmake.chunk
    plain = pngmake.png(rows, 2, 8)
    files = [pngmake.png(rows, 2, 8, before=chunk(b"zTXt", b"x\0\0" + zeros)),
             pngmake.png(rows, 2, 8, before=chunk(b"iTXt", b"x\0\1\0\0\0" + zeros)),
             pngmake.png(rows, 2, 8, before=chunk(b"iCCP", b"x\0\0" + profile)),
             plain[:33] + chunk(b"IDAT", zlib.compress(b"\0\1\2\3\4\5\6\0\7\10\11\12\13\14" + bytes(256 << 20), 9)) +
             chunk(b"IEND", b"")]
    for data in files:
        with open(path, "wb") as f:
            f.write(data)
        out = subprocess.run([TOOL, "read", path, *map(str, GROUND)], stdout=subprocess.PIPE, check=True,
                             preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (200 << 20, 200 << 20))).stdout
        assert out.split(b"\n", 1)[1] == bytes(range(1, 13)), f"bomb {files.index(data)}"
    return len(files)


def cases():
    for colour_type, depths in pngmake.DEPTHS.items():
        for depth, interlaced in itertools.product(depths, (False, True)):
            for keyed in (False, True) if colour_type in (0, 2, 3) else (False,):
                for width, height in ((1, 1), (3, 2), (19, 13), (33, 40)):
                    yield colour_type, depth, interlaced, keyed, width, height


def second_decoder(data, colour_type, depth, keyed):
    """(pixels, name) of a decoder that reads this form in full, or (None, None)."""
    # Pillow compares a grey key below 8 bits with the widened sample and misses it
    if depth <= 8 and not (keyed and colour_type == 0 and depth < 8):
        return by_pillow(data), "Pillow"
    if depth == 16 and not keyed and colour_type != 4:
        return by_opencv(data), "OpenCV"
    return None, None


def main():
    rng = random.Random(20051)
    n_files, agreed = 0, collections.Counter()
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "x.png")
        for case in cases():
            colour_type, depth, interlaced, keyed, width, height = case
            rows, palette, trns = make(rng, colour_type, depth, width, height, keyed)
            data = pngmake.png(rows, colour_type, depth, interlaced, palette, trns)
            got, has_alpha, is_clear = ours(data, path)
            want = truth(rows, colour_type, depth, palette, trns)
            assert (got == want[..., :3]).all(), f"{case}: {np.abs(got - want[..., :3]).max()} off"
            assert has_alpha == (want[..., 3] < 255).any(), f"{case}: alpha"
            assert is_clear == (want[..., 3] == 0).all(), f"{case}: all clear"
            n_files += 1
            other, name = second_decoder(data, colour_type, depth, keyed)
            if other is not None:
                assert (got == other).all(), f"{case}: {name} differs"
                agreed[name] += 1
        n_bombs = check_bombs(path)
    print(f"picture_png: {n_files} files right by the standard; {agreed['Pillow']} by Pillow {PIL.__version__}, "
          f"{agreed['OpenCV']} by OpenCV {cv2.__version__}; {n_bombs} bombs stay closed")


main()
