#!/usr/bin/python3
"""First inputs for fuzz_png and fuzz_jpeg: small files of every form, each under 4 KB. Run once; the files are kept."""
import io
import os
import random
import struct
import sys
import zlib

from PIL import Image, ImageCms

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "reference"))
import pngmake


def exif(orientation):
    entries = struct.pack("<HHII", 0x0112, 3, 1, orientation) + struct.pack("<HHII", 0x011A, 5, 1, 62)
    entries += struct.pack("<HHII", 0x011B, 5, 1, 62) + struct.pack("<HHII", 0x0128, 3, 1, 2)
    tiff = b"II*\0" + struct.pack("<IH", 8, 4) + entries + struct.pack("<I", 0) + struct.pack("<II", 300, 1)
    return tiff


def put(kind, name, data):
    folder = os.path.join(HERE, "corpus", kind)
    os.makedirs(folder, exist_ok=True)
    with open(os.path.join(folder, name), "wb") as f:
        f.write(data)


def icc(kind="sRGB"):
    return ImageCms.ImageCmsProfile(ImageCms.createProfile(kind)).tobytes()


def main():
    rng = random.Random(3)
    for colour_type, depths in pngmake.DEPTHS.items():
        for depth in depths:
            for interlaced in (False, True):
                top = (1 << depth) - 1
                n = pngmake.CHANNELS[colour_type]
                rows = [[tuple(rng.randrange(top + 1) for _ in range(n)) for _ in range(9)] for _ in range(6)]
                palette = [(i, 255 - i, i * 7 % 256) for i in range(top + 1)][:16] if colour_type == 3 else None
                if palette:
                    rows = [[(v[0] % len(palette),) for v in row] for row in rows]
                trns = {0: struct.pack(">H", rows[2][2][0]), 3: b"\0\x80"}.get(colour_type)
                if colour_type == 2:
                    trns = struct.pack(">3H", *rows[1][1])
                name = f"type{colour_type}-{depth}{'-adam7' if interlaced else ''}.png"
                put("png", name, pngmake.png(rows, colour_type, depth, interlaced, palette, trns))
    rows = [[(i * 20, j * 30, 90) for i in range(9)] for j in range(6)]
    chunk = pngmake.chunk
    chrm = chunk(b"cHRM", struct.pack(">8I", 31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000))
    gama = chunk(b"gAMA", struct.pack(">I", 100000))
    put("png", "gamma.png", pngmake.png(rows, 2, 8, before=gama + chrm))
    put("png", "icc.png", pngmake.png(rows, 2, 8, before=chunk(b"iCCP", b"x\0\0" + zlib.compress(icc()))))
    put("png", "place.png", pngmake.png(rows, 2, 8, before=chunk(b"pHYs", struct.pack(">IIB", 5906, 5906, 1)),
                                        after=chunk(b"eXIf", exif(6))))
    put("png", "text.png", pngmake.png(rows, 2, 8, before=chunk(b"tEXt", b"Title\0x") + chunk(b"sRGB", b"\0")))

    image = Image.new("RGB", (27, 19))
    image.putdata([(x * 9, y * 13, x * y % 256) for y in range(19) for x in range(27)])
    def jpeg(name, picture, **options):
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=60, **options)
        put("jpeg", name, out.getvalue())
    jpeg("grey.jpg", image.convert("L"))
    jpeg("cmyk.jpg", image.convert("CMYK"))
    for sampling in (0, 1, 2):
        jpeg(f"rgb-{sampling}.jpg", image, subsampling=sampling, dpi=(300, 150))
    jpeg("progressive.jpg", image, progressive=True)
    jpeg("progressive-grey.jpg", image.convert("L"), progressive=True)
    jpeg("icc.jpg", image, icc_profile=icc())
    jpeg("exif.jpg", image, exif=b"Exif\0\0" + exif(6))
    jpeg("exif-big.jpg", image.convert("L"), exif=b"Exif\0\0MM\0*" + struct.pack(">IHHHIHH", 8, 1, 0x112, 3, 1, 8, 0))

    xyz = lambda x, y, z: b"XYZ \0\0\0\0" + struct.pack(">III", *(round(v * 65536) for v in (x, y, z)))
    gamma = b"curv\0\0\0\0" + struct.pack(">IH", 1, 0x0200) + b"\0\0"
    table = b"curv\0\0\0\0" + struct.pack(">I4H", 4, 0, 5000, 30000, 65535)
    white = (b"wtpt", xyz(0.9642, 1.0, 0.8249))
    # Adobe RGB (1998) under D50
    rgb = [white, (b"rXYZ", xyz(0.6097, 0.3111, 0.0195)), (b"gXYZ", xyz(0.2053, 0.6257, 0.0609)),
           (b"bXYZ", xyz(0.1492, 0.0632, 0.7446)), (b"rTRC", gamma), (b"gTRC", gamma), (b"bTRC", table)]
    for first in (0x01, 0x13, 0x31):  # 8 bits, 16 bits, 16 bits with alpha
        put("profile", f"rgb-{first:02x}", bytes([first]) + profile(b"RGB ", rgb))
    for first in (0x00, 0x12, 0x30):
        put("profile", f"grey-{first:02x}", bytes([first]) + profile(b"GRAY", [white, (b"kTRC", gamma)]))
    cmyk = b"mft1\0\0\0\0" + bytes([4, 3, 2, 0]) + struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    cmyk += bytes(range(256)) * 4 + bytes((i * 37) % 256 for i in range(16 * 3)) + bytes(range(256)) * 3
    for first in (0x02, 0x44):  # the second inverted
        put("profile", f"cmyk-{first:02x}", bytes([first]) + profile(b"CMYK", [white, (b"A2B0", cmyk), (b"A2B1", cmyk)]))
    put("profile", "lab", b"\x01" + icc("LAB"))


def profile(space, tags):
    """The smallest ICC profile with these tags (ICC.1:2010, 7.2 and 7.3)."""
    at, entries, body = 128 + 4 + 12 * len(tags), b"", b""
    for name, data in tags:
        entries += struct.pack(">4sII", name, at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    pcs = b"Lab " if space == b"CMYK" else b"XYZ "
    kind = b"prtr" if space == b"CMYK" else b"mntr"
    header = struct.pack(">I4sI4s4s4s12x4s4s24xIII48x", at + len(body), b"", 0x02400000, kind, space, pcs, b"acsp", b"",
                         0xF6D6, 0x10000, 0xD32D)
    return header + struct.pack(">I", len(tags)) + entries + body


main()
