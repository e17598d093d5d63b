#!/usr/bin/python3
# needs: bin/tests/reference/picture
"""JPEG against Pillow: grey, YCbCr in every subsampling, progressive, CMYK, all Exif orientations, embedded profiles.

Sources: pixels by Pillow's decoder settings of the same libjpeg family (so equal but for the upsampling build), upright
pictures by PIL.ImageOps.exif_transpose, colour by PIL.ImageCms with the same intent; versions are printed. Profiles:
those of Debian's libgs-common (comes with ghostscript).
"""
import glob
import io
import os
import struct
import subprocess
import sys
import tempfile

import numpy as np
import PIL
from PIL import Image, ImageCms, ImageOps

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import pngmake

TOOL = os.path.join(os.environ.get("BUILD", "build"), "bin/tests/reference/picture")
PROFILES = "/usr/share/color/icc/ghostscript/"
INTENT, FLAGS = ImageCms.Intent.RELATIVE_COLORIMETRIC, ImageCms.FLAGS["BLACKPOINTCOMPENSATION"]


def ours(data, folder, *enough):
    path = os.path.join(folder, "x")
    with open(path, "wb") as f:
        f.write(data)
    out = subprocess.run([TOOL, "read", path, "255", "255", "255", *map(str, enough)], stdout=subprocess.PIPE,
                         check=True).stdout
    line, pixels = out.split(b"\n", 1)
    width, height = map(int, line.split()[:2])
    return np.frombuffer(pixels, np.uint8).reshape(height, width, 3).astype(int)


def saved(image, **options):
    out = io.BytesIO()
    image.save(out, "JPEG", **options)
    return out.getvalue()


def photo(width=203, height=131):
    y, x = np.mgrid[0:height, 0:width]
    wave = lambda a, b, c: 127 + 120 * np.sin(x * a + y * b + c)
    return Image.fromarray(np.dstack([wave(.05, .02, 0), wave(.03, -.07, 1), wave(-.02, .11, 2)]).astype(np.uint8))


def exif(orientation):
    return b"Exif\0\0II*\0" + struct.pack("<IHHHIHHI", 8, 1, 0x112, 3, 1, orientation, 0, 0)


def check_plain(folder):
    n = 0
    rgb = photo()
    files = [saved(rgb.convert("L")), saved(rgb.convert("L"), progressive=True), saved(rgb, progressive=True)]
    files += [saved(rgb, quality=q, subsampling=s) for q in (30, 90) for s in (0, 1, 2)]
    for data in files:
        want = np.array(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)
        got = ours(data, folder)
        assert got.shape == want.shape and np.abs(got - want).max() <= 1, f"plain file {n}: {np.abs(got - want).max()}"
        n += 1
    cmyk = saved(rgb.convert("CMYK"))
    raw = 255 - np.array(Image.open(io.BytesIO(cmyk))).astype(int)  # Pillow gives ink; here 255 is no ink
    want = (raw[..., :3] * raw[..., 3:] + 127) // 255
    assert np.abs(ours(cmyk, folder) - want).max() <= 1
    return n + 1


def check_orientation(folder):
    for orientation in range(1, 9):
        data = saved(photo(61, 40), quality=95, subsampling=0, exif=exif(orientation))
        want = np.array(ImageOps.exif_transpose(Image.open(io.BytesIO(data)))).astype(int)
        got = ours(data, folder)
        assert got.shape == want.shape and np.abs(got - want).max() <= 1, f"orientation {orientation}"
    return 8


def check_reduced(folder):
    data = saved(photo(803, 402), quality=95, subsampling=0)
    n = 0
    for by in (2, 4, 8):
        got = ours(data, folder, 803 // by, 402 // by)
        other = Image.open(io.BytesIO(data))
        other.draft("RGB", (803 // by, 402 // by))  # Pillow lets the codec reduce too
        want = np.array(other).astype(int)
        assert got.shape == want.shape and np.abs(got - want).max() <= 1, f"reduced by {by}"
        n += 1
    return n


def to_srgb(image, profile_bytes):
    profile = ImageCms.ImageCmsProfile(io.BytesIO(profile_bytes))
    return np.array(ImageCms.profileToProfile(image, profile, ImageCms.createProfile("sRGB"), INTENT,
                                              outputMode="RGB", flags=FLAGS)).astype(int)


def check_profiles(folder):
    """An embedded profile in JPEG and in PNG, each against ImageCms on the decoded pixels."""
    n, worst = 0, 0
    for path in sorted(glob.glob(PROFILES + "*.icc")):
        with open(path, "rb") as f:
            profile = f.read()
        space, kind = profile[16:20], profile[12:16]
        mode = {b"RGB ": "RGB", b"GRAY": "L", b"CMYK": "CMYK"}.get(space)
        if mode is None or kind == b"link" or kind == b"abst":
            continue
        image = photo().convert(mode)
        files = [saved(image, quality=95, subsampling=0, icc_profile=profile)]
        if mode != "CMYK":
            out = io.BytesIO()
            image.save(out, "PNG", icc_profile=profile)
            files.append(out.getvalue())
        for data in files:
            decoded = Image.open(io.BytesIO(data))
            decoded.load()
            want = to_srgb(decoded, profile)
            off = np.abs(ours(data, folder) - want)
            name = os.path.basename(path)
            assert off.max() <= 2 and off.mean() < 0.51, f"{name} {mode}: off by {off.max()}, mean {off.mean():.3f}"
            worst = max(worst, off.max())
            n += 1
    assert n >= 10, f"only {n} files with profiles: is libgs-common there?"
    return n, worst


def check_sixteen_bits(folder):
    """16-bit RGB under a wide profile (Adobe RGB 1998 as published), against the formula in double."""
    path = PROFILES + "a98.icc"
    if not os.path.exists(path):
        return 0
    import zlib
    with open(path, "rb") as f:
        profile = f.read()
    rng = np.random.default_rng(4)
    samples = rng.integers(0, 65536, (40, 50, 3))
    rows = [[tuple(int(v) for v in p) for p in row] for row in samples]
    chunk = pngmake.chunk(b"iCCP", b"a98\0\0" + zlib.compress(profile))
    got = ours(pngmake.png(rows, 2, 16, before=chunk), folder)

    def matrix(primaries, white=(0.3127, 0.3290)):
        p = np.array([[x / y, 1, (1 - x - y) / y] for x, y in primaries]).T
        w = np.array([white[0] / white[1], 1, (1 - white[0] - white[1]) / white[1]])
        return p * np.linalg.solve(p, w)

    wide = matrix([(.64, .33), (.21, .71), (.15, .06)])
    srgb = matrix([(.64, .33), (.30, .60), (.15, .06)])
    light = np.clip(np.linalg.solve(srgb, wide @ ((samples / 65535.0) ** (563 / 256)).reshape(-1, 3).T), 0, 1).T
    want = 255 * np.where(light <= .0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - .055).reshape(samples.shape)
    off = np.abs(got - want)
    assert off.max() < 1.6, f"16 bits: off by {off.max():.2f}"
    return off.max()


def main():
    with tempfile.TemporaryDirectory() as folder:
        n_plain, n_turned, n_reduced = check_plain(folder), check_orientation(folder), check_reduced(folder)
        n_profiles, worst = check_profiles(folder)
        sixteen = check_sixteen_bits(folder)
    print(f"picture_jpeg: {n_plain} forms, {n_turned} orientations, {n_reduced} reductions equal Pillow "
          f"{PIL.__version__}; {n_profiles} files with profiles within {worst} of ImageCms; 16 bits within "
          f"{sixteen:.2f} of the formula")


main()
