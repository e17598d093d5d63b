"""Small test pictures for the command line cases: picture.py KIND FILE [arguments]. Standard library only."""
import struct
import sys
import zlib


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, row_of, colour_type=2, extra=b""):
    rows = b"".join(b"\0" + row_of(y) for y in range(height))
    header = struct.pack(">IIBBBBB", width, height, 8, colour_type, 0, 0, 0)
    data = chunk(b"IHDR", header) + extra + chunk(b"IDAT", zlib.compress(rows, 6)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + data


def rings(y, width=300, height=200):
    """A row of dark rings within rings on white: islands within islands."""
    out = bytearray()
    for x in range(width):
        d = ((x - width / 2) ** 2 + (y - height / 2) ** 2) ** 0.5 / height
        level = 20 if 0.1 < d < 0.18 or 0.26 < d < 0.34 else 130 if d < 0.05 or 0.4 < d < 0.46 else 255
        out += bytes((level, level, level))
    return bytes(out)


def specks(y, width=300, height=200):
    """A dark disc with specks in it that are exactly white."""
    out = bytearray()
    for x in range(width):
        d = ((x - 150) ** 2 + (y - 100) ** 2) ** 0.5
        is_dark = d < 80 and not (d < 78 and x % 15 < 3 and y % 14 < 3)
        out += bytes((20 if is_dark else 255,)) * 3
    return bytes(out)


def hooks(y, width=400, height=300):
    """Five hooks of one shape, each with a dot, turned by quarters, the last one mirrored; and one disc."""
    places = ((60, 60, 0, 0), (200, 70, 1, 0), (340, 70, 2, 0), (90, 220, 3, 0), (230, 220, 0, 1))
    out = bytearray()
    for x in range(width):
        is_dark = (x - 350) ** 2 + (y - 230) ** 2 < 400
        for cx, cy, quarters, is_mirrored in places:
            u, v = x - cx, y - cy
            for _ in range(quarters):
                u, v = v, -u
            u = -u if is_mirrored else u
            is_dark |= -40 <= u < -10 and -40 <= v < 40 or -10 <= u < 35 and 12 <= v < 40 or (u - 15) ** 2 + (v + 15) ** 2 < 81
        out += bytes((20 if is_dark else 255,)) * 3
    return bytes(out)


def main():
    kind, path = sys.argv[1], sys.argv[2]
    numbers = [int(a) for a in sys.argv[3:]]
    if kind == "rings":
        data = png(300, 200, rings)
    elif kind == "specks":
        data = png(300, 200, specks)
    elif kind == "red":  # one zone
        data = png(300, 200, lambda y: b"\xff\0\0" * 300)
    elif kind == "hooks":
        data = png(400, 300, hooks)
    elif kind == "dense":  # 300 pixels a metre: states 1000 mm x 667 mm
        data = png(300, 200, rings, extra=chunk(b"pHYs", struct.pack(">IIB", 300, 300, 1)))
    elif kind == "flat":
        width, height, level = numbers
        data = png(width, height, lambda y: bytes((level,)) * (3 * width))
    elif kind == "halves":  # red and blue: two zones
        data = png(300, 200, lambda y: b"\xff\0\0" * 150 + b"\0\0\xff" * 150)
    elif kind == "clear":
        data = png(40, 30, lambda y: bytes((9, 9, 9, 0)) * 40, colour_type=6)
    elif kind == "lying":
        width, height = numbers
        data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
        data += chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    elif kind == "line":  # dark and light by turns along the height
        width, height = numbers
        data = png(width, height, lambda y: (b"\0\0\0" if y // 100 % 2 else b"\xff\xff\xff") * width)
    else:
        sys.exit(f"unknown kind {kind}")
    with open(path, "wb") as out:
        out.write(data)


main()
