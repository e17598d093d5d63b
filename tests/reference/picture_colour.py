#!/usr/bin/python3
# needs: bin/tests/reference/picture
"""CIELAB and CIEDE2000 against scikit-image, OKLab against its published matrices in double precision.

Sources: skimage.color.rgb2lab and deltaE_ciede2000 (version printed); B. Ottosson, "A perceptual color space for image
processing" (2020): OKLab from CIE XYZ by the matrices M1 and M2 of that page, XYZ from sRGB by IEC 61966-2-1.
"""
import os
import subprocess

import numpy as np
import skimage
from skimage.color import deltaE_ciede2000, rgb2lab

TOOL = os.path.join(os.environ.get("BUILD", "build"), "bin/tests/reference/picture")


def tool(what, data):
    return subprocess.run([TOOL, what], input=data, stdout=subprocess.PIPE, check=True).stdout


def main():
    rng = np.random.default_rng(2005)
    rgb = rng.integers(0, 256, (200000, 3), dtype=np.uint8)
    rgb[:256] = np.arange(256)[:, None]  # every grey

    lab = np.frombuffer(tool("lab", rgb.tobytes())).reshape(-1, 3)
    lab_off = np.abs(lab - rgb2lab(rgb[None] / 255.0)[0]).max()
    assert lab_off < 0.02, f"CIELAB off by {lab_off}"  # skimage's matrix has one digit less
    assert np.abs(lab[:256, 1:]).max() < 1e-9, "grey is not neutral"

    pairs = np.concatenate([lab[:100000], lab[100000:]], axis=1)
    near = pairs.copy()
    near[:, 3:] = near[:, :3] + rng.normal(0, 2, (100000, 3))
    pairs = np.concatenate([pairs, near])
    got = np.frombuffer(tool("ciede2000", pairs.tobytes()))
    delta_off = np.abs(got - deltaE_ciede2000(pairs[:, :3], pairs[:, 3:])).max()
    assert delta_off < 1e-9, f"CIEDE2000 off by {delta_off}"

    v = rgb / 255.0
    light = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    xyz = light @ np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                            [0.0193339, 0.1191920, 0.9503041]]).T
    m1 = np.array([[0.8189330101, 0.3618667424, -0.1288597137], [0.0329845436, 0.9293118715, 0.0361456387],
                   [0.0482003018, 0.2643662691, 0.6338517070]])
    m2 = np.array([[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
                   [0.0259040371, 0.7827717662, -0.8086757660]])
    want = np.cbrt(xyz @ m1.T) @ m2.T
    got = np.frombuffer(tool("oklab", rgb.tobytes()), np.float32).reshape(-1, 3)
    ok_off = np.abs(got - want).max()
    assert ok_off < 3e-4, f"OKLab off by {ok_off}"  # the page's two ways from sRGB differ by that much
    print(f"picture_colour: CIELAB within {lab_off:.4f} and CIEDE2000 within {delta_off:.0e} of scikit-image "
          f"{skimage.__version__}, OKLab within {ok_off:.0e} of its paper's XYZ matrices")


main()
