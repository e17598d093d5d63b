# not a test, but what several of them import
"""PNG files from samples, every colour type, depth and filter, plain or Adam7 (ISO/IEC 15948:2004). A writer of its own,
so that what it writes owes nothing to the library that is tested. Also used to make the fuzzers' first inputs."""
import struct
import zlib

CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
SIGNATURE = b"\x89PNG\r\n\x1a\n"


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def pack_row(row, depth):
    """row: flat samples."""
    if depth == 16:
        return b"".join(struct.pack(">H", v) for v in row)
    if depth == 8:
        return bytes(row)
    packed, bits, n_bits = bytearray(), 0, 0
    for v in row:
        bits, n_bits = bits << depth | v, n_bits + depth
        if n_bits == 8:
            packed.append(bits)
            bits, n_bits = 0, 0
    if n_bits:
        packed.append(bits << (8 - n_bits))
    return bytes(packed)


def paeth(a, b, c):
    p = a + b - c
    pa, pb, pc = abs(p - a), abs(p - b), abs(p - c)
    return a if pa <= pb and pa <= pc else b if pb <= pc else c


def filtered(row, above, bpp, kind):
    out = bytearray([kind])
    for i, v in enumerate(row):
        a = row[i - bpp] if i >= bpp else 0
        b = above[i]
        c = above[i - bpp] if i >= bpp else 0
        out.append((v - (0, a, b, (a + b) // 2, paeth(a, b, c))[kind]) & 255)
    return bytes(out)


def scan(rows, n_channels, depth, first_filter):
    """rows: lists of flat samples; every filter type in turn."""
    out, above = b"", None
    bpp = max(1, n_channels * depth // 8)
    for i, row in enumerate(rows):
        packed = pack_row(row, depth)
        out += filtered(packed, above or bytes(len(packed)), bpp, (first_filter + i) % 5)
        above = packed
    return out


def png(rows, colour_type, depth, interlaced=False, palette=None, trns=None, before=b"", after=b""):
    """rows: list of lists of pixels, a pixel a tuple of samples. before, after: ready chunks around the palette."""
    height, width, n = len(rows), len(rows[0]), CHANNELS[colour_type]
    flat = lambda pixels: [v for pixel in pixels for v in pixel]
    if interlaced:
        data = b""
        for x0, y0, dx, dy in ADAM7:
            part = [flat(row[x0::dx]) for row in rows[y0::dy] if row[x0::dx]]
            data += scan(part, n, depth, 1)
    else:
        data = scan([flat(row) for row in rows], n, depth, 0)
    out = SIGNATURE + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour_type, 0, 0, interlaced))
    out += before
    if palette is not None:
        out += chunk(b"PLTE", bytes(v for entry in palette for v in entry))
    if trns is not None:
        out += chunk(b"tRNS", trns)
    return out + after + chunk(b"IDAT", zlib.compress(data)) + chunk(b"IEND", b"")
