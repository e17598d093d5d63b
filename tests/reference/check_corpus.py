#!/usr/bin/python3
"""Pictures whose answers are known before anything is run: verdict right on all, smallest width within 5 %.

Drawn by tests/gen/testcard and, where contrast, noise and blur come in, by numpy on top of it. Smallest openings are 3 mm,
webs 5 mm, one pass. Analytic widths, W the picture's width in pixels:
  gratings, rings, lettering   max(3 W / stroke, 5 W / gap): all of it is lost at once below that
  discs                        3 W / d of the smallest disc that a loss of 2 % (10 %) of all their area leaves
  wedge of half angle a        the disc that does not fit into its last 2 %: r^2 (cot a - pi / 2 + a) is lost
  squares, upright and turned  3 W / side: corners are no loss
Verdicts are asked at sizes that files state of themselves (pHYs): no where 10 % is lost for certain, yes well above the
smallest width, yes-if for what a cure is known.
"""
# needs: tests/gen/testcard
import json
import math
import os
import struct
import subprocess
import sys
import tempfile
import zlib

import cv2
import numpy as np

BUILD = os.environ.get("BUILD", "build")
OPENING, WEB = 3.0, 5.0
SHARE = {"smallest_width_mm": 0.02, "smallest_width_10_percent_mm": 0.10}
RNG = np.random.default_rng(11)


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def save(path, grey, width_mm=None):
    """Grey PNG; with its size on the wall if there is one."""
    h, w = grey.shape
    rows = b"".join(b"\0" + grey[y].tobytes() for y in range(h))
    density = b"" if width_mm is None else chunk(b"pHYs", struct.pack(">IIB", *(2 * [round(1000 * w / width_mm)]), 1))
    with open(path, "wb") as out:
        out.write(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", w, h, 8, 0, 0, 0, 0)) + density
                  + chunk(b"IDAT", zlib.compress(rows, 1)) + chunk(b"IEND", b""))


def card(folder, mode, w, h, *numbers):
    path = os.path.join(folder, "card.png")
    subprocess.run([f"{BUILD}/bin/tests/gen/testcard", mode, str(w), str(h), *map(str, numbers), path], check=True)
    return cv2.imread(path, cv2.IMREAD_GRAYSCALE)


def both(width):
    return {key: width for key in SHARE}


def discs_answer(w, least, most):
    d = [least + (most - least) * k / 7 for k in range(8)]
    total = sum(x * x for x in d)
    out = {}
    for key, share in SHARE.items():
        lost = 0.0
        for x in d:
            lost += x * x
            if lost > share * total:
                out[key] = OPENING * w / x
                break
    return out


def wedge_answer(w, h, widest):
    a = math.atan(widest / 2 / h)
    per = 1 / math.tan(a) - math.pi / 2 + a
    return {key: OPENING * w / (2 * math.sqrt(share * widest * h / 2 / per)) for key, share in SHARE.items()}


def square(w, h, side, turn):
    big = np.full((8 * h, 8 * w), 255, np.uint8)
    box = cv2.boxPoints(((4.0 * w - 0.5, 4.0 * h - 0.5), (8.0 * side, 8.0 * side), turn))
    cv2.fillPoly(big, [np.rint(box).astype(np.int32)], 0)
    return cv2.resize(big, (w, h), interpolation=cv2.INTER_AREA)


def sized(folder):
    """name, picture, smallest widths."""
    for w, h, period, duty in [(1000, 700, 20, 0.5), (1000, 700, 12, 0.5), (1000, 700, 7.3, 0.5), (900, 900, 31.7, 0.3),
                               (900, 900, 31.7, 0.7), (640, 480, 16, 0.4), (640, 480, 10.5, 0.375), (1200, 500, 40, 0.6),
                               (1200, 500, 63, 0.2), (400, 300, 9, 0.5), (400, 300, 6, 0.5), (2000, 1500, 25, 0.5),
                               (2000, 1500, 17.2, 0.4), (3000, 2000, 30, 0.5), (3000, 2000, 24, 0.35), (800, 1100, 100, 0.5)]:
        yield (f"gratings {period} {duty} on {w}", card(folder, "gratings", w, h, period, duty),
               both(max(OPENING * w / (period * duty), WEB * w / (period * (1 - duty)))))
    for w, h, least, most in [(1200, 400, 20, 60), (1200, 400, 8, 50), (1600, 600, 40, 80), (1000, 300, 10, 45),
                              (2400, 900, 30, 110), (800, 240, 12, 36), (1200, 500, 50, 50.001), (3000, 1000, 40, 140)]:
        yield f"discs {least}-{most} on {w}", card(folder, "discs", w, h, least, most), discs_answer(w, least, most)
    for side, line, gap in [(900, 18, 30), (900, 12, 20), (900, 30, 30), (700, 10, 25), (700, 25, 15), (1400, 20, 50),
                            (1400, 16, 16), (2200, 30, 60)]:
        yield (f"rings {line} {gap} on {side}", card(folder, "rings", side, side, line, gap),
               both(max(OPENING * side / line, WEB * side / gap)))
    for w, h, line in [(1000, 600, 24), (1000, 600, 12), (1000, 400, 16), (1500, 700, 40), (700, 300, 9), (2400, 1000, 30),
                       (1200, 500, 20), (600, 300, 14)]:
        yield f"lettering {line} on {w}", card(folder, "bars", w, h, line), both(OPENING * w / line)
    for w, h, widest in [(800, 1200, 200), (600, 1000, 120), (1000, 1000, 300), (500, 1400, 100)]:
        yield f"wedge {widest} on {w}", card(folder, "wedge", w, h, widest), wedge_answer(w, h, widest)
    for w, h, side, turn in [(600, 600, 200, 0), (600, 600, 90, 0), (600, 600, 200, 30), (900, 600, 60, 45), (900, 600, 300, 10),
                             (500, 400, 40, 20)]:
        yield f"square {side} turned {turn} on {w}", square(w, h, side, turn), both(OPENING * w / side)


def judged(folder):
    """name, picture, width on the wall, verdict."""
    lettering = card(folder, "bars", 1000, 600, 40).astype(float)
    for dark, verdict in [(251, "no"), (245, "no"), (230, "no"), (200, "yes-if"), (190, "yes-if"), (120, "yes"), (60, "yes")]:
        yield f"dark parts {dark}", 255 - (255 - lettering) * (255 - dark) / 255, 1000, verdict
    for sigma, verdict in [(3, "yes"), (16, "yes-if"), (22, "yes-if")]:
        yield f"noise {sigma}", np.clip(40 + lettering * 0.7 + RNG.normal(0, sigma, lettering.shape), 0, 255), 1000, verdict
    for sigma, width, verdict in [(1, 1000, "yes"), (5, 1000, "yes-if"), (5, 300, "yes"), (9, 1500, "yes-if")]:
        yield f"blur {sigma} at {width}", cv2.GaussianBlur(lettering, (0, 0), sigma), width, verdict
    yield "few pixels", cv2.resize(lettering, (250, 150), interpolation=cv2.INTER_AREA), 1500, "yes-if"
    yield "flat grey", np.full((300, 400), 128.0), 1000, "no"
    yield "white", np.full((300, 400), 255.0), 1000, "no"


def ask(paths):
    run = subprocess.run([f"{BUILD}/stencilwright", "check", "--json", "--passes", "1", *paths], capture_output=True, check=False)
    if run.returncode not in (0, 1):
        sys.exit(f"check_corpus: exit {run.returncode}: {run.stderr.decode()}")
    return {a["picture"]: a for a in json.loads(run.stdout)}


def main():
    wrong, worst, n_pictures, wanted = 0, (0.0, ""), 0, []
    with tempfile.TemporaryDirectory() as folder:
        paths = []

        def add(name, grey, width_mm, check):
            path = os.path.join(folder, f"{len(paths):03d}.png")
            save(path, np.clip(np.rint(grey), 0, 255).astype(np.uint8), width_mm)
            paths.append(path)
            wanted.append((os.path.basename(path), name, check))

        for name, grey, widths in sized(folder):
            n_pictures += 1
            add(name, grey, None, widths)
            large = max(4 * widths["smallest_width_mm"], 600)
            if n_pictures % 2 == 0 and large < 2.5 * grey.shape[1]:  # else a pixel would be larger than an opening
                add(f"{name}, large", grey, large, "yes")
            else:
                add(f"{name}, small", grey, 0.85 * widths["smallest_width_10_percent_mm"], "no")
        for name, grey, width_mm, verdict in judged(folder):
            n_pictures += 1
            add(name, grey, width_mm, verdict)
        answers = ask(paths)
    n_verdicts = 0
    for picture, name, check in wanted:
        answer = answers[picture]
        if isinstance(check, str):
            n_verdicts += 1
            if answer["verdict"] != check:
                print(f"{name}: {answer['verdict']}, not {check}: {[r['what'] for r in answer['reasons']][:2]}")
                wrong += 1
            continue
        for key, width in check.items():
            off = abs((answer[key] or 0) / width - 1)
            worst = max(worst, (off, name))
            if off > 0.05:
                print(f"{name}: {key} {answer[key]}, not {width:.1f} ({100 * ((answer[key] or 0) / width - 1):+.1f} %)")
                wrong += 1
    print(f"check_corpus: {n_pictures} pictures, {n_verdicts} verdicts, {wrong} wrong; widths at worst {100 * worst[0]:.1f} % off "
          f"({worst[1]})")
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main())
