#!/usr/bin/python3
"""The proof against OpenCV on random panels: narrow webs and openings, pieces.

The proof measures between chords; here the same panels are rasterised at 16 px/mm and opened by discs (check_job.py's
narrow_parts, by the definition in src/sheet/sheet.h). Where the raster gives the same answer for widths 8 % below and
above the limit, and for spikes 25 % shorter and longer, the proof must give it too; the rest is too close to call. The
seed is printed.

Reference: OpenCV 4.6 (distanceTransform, connectedComponents, fillPoly).
"""
# needs: tests/reference/proof_widths
import os
import subprocess
import sys

import cv2
import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import check_job  # noqa: E402

SEED, N, SIDE, SCALE = 20240611, 60, 48.0, 16.0
MIN_OPENING, MIN_WEB = 3.0, 5.0


def box(rng, cx, cy, w, h, turn):
    c, s = np.cos(turn), np.sin(turn)
    corners = [(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)]
    p = [(cx + u * c - v * s, cy + u * s + v * c) for u, v in corners]
    return [("M", p[0])] + [("L", q) for q in p[1:]]


def oval(rng, cx, cy, w, h, turn):
    c, s, k = np.cos(turn), np.sin(turn), 0.5523
    unit = [((1, k), (k, 1), (0, 1)), ((-k, 1), (-1, k), (-1, 0)), ((-1, -k), (-k, -1), (0, -1)), ((k, -1), (1, -k), (1, 0))]

    def place(q):
        u, v = q[0] * w / 2, q[1] * h / 2
        return (cx + u * c - v * s, cy + u * s + v * c)
    return [("M", place((1, 0)))] + [("C", *(place(q) for q in arc)) for arc in unit]


def spear(rng, cx, cy, w, h, turn):
    c, s = np.cos(turn), np.sin(turn)
    corners = [(-w / 2, -h / 2), (w / 2, 0), (-w / 2, h / 2)]
    p = [(cx + u * c - v * s, cy + u * s + v * c) for u, v in corners]
    return [("M", p[0])] + [("L", q) for q in p[1:]]


def random_panel(rng):
    out = []
    for _ in range(rng.integers(1, 5)):
        shape = (box, oval, spear)[rng.integers(3)]
        w, h = rng.uniform(4, 26), np.exp(rng.uniform(np.log(1.5), np.log(16)))
        out.append(shape(rng, rng.uniform(8, SIDE - 8), rng.uniform(8, SIDE - 8), w, h, rng.uniform(0, np.pi)))
    return out


def as_text(panel):
    lines = [f"panel {SIDE} {SIDE} {MIN_OPENING} {MIN_WEB}"]
    for contour in panel:
        for seg in contour:
            lines.append(seg[0] + " " + " ".join(f"{v:.6f}" for p in seg[1:] for v in p))
        lines.append("Z")
    return lines + ["prove"]


def raster(panel):
    out = np.zeros((int(SIDE * SCALE),) * 2, np.uint8)
    rings = [np.round((check_job.flatten(c) * SCALE - 0.5) * 64).astype(np.int32) for c in panel]
    cv2.fillPoly(out, rings, 1, cv2.LINE_8, 6)
    return out.astype(bool)


def has_narrow(mask, min_mm):
    """True, False, or None when too close to call."""
    found = [bool(check_job.narrow_parts(mask, check_job.ENOUGH * min_mm * width * SCALE, 0.5, rim_px=2.5, reach_ratio=reach))
             for width, reach in ((0.92, 1.25), (1.08, 0.75))]
    return found[0] if found[0] == found[1] else None


def main():
    program = os.path.join(os.environ.get("BUILD", "build"), "bin", "tests", "reference", "proof_widths")
    rng = np.random.default_rng(SEED)
    panels = [random_panel(rng) for _ in range(N)]
    text = "\n".join(line for p in panels for line in as_text(p)) + "\n"
    out = subprocess.run([program], input=text, capture_output=True, text=True, check=True).stdout.splitlines()
    verdicts = [line.split() for line in out if line.startswith("panel")]
    assert len(verdicts) == N, len(verdicts)
    wrong = judged = n_narrow = 0
    for i, (panel, v) in enumerate(zip(panels, verdicts)):
        points = np.concatenate([check_job.flatten(c) for c in panel])
        if int(v[4]) or points.min() < 0.5 or points.max() > SIDE - 0.5:  # crossing or outside: means little
            continue
        opening = raster(panel)
        for kind, mask, least, count in (("web", ~opening, MIN_WEB, int(v[6])), ("opening", opening, MIN_OPENING, int(v[10]))):
            truth = has_narrow(mask, least)
            if truth is None:
                continue
            judged += 1
            n_narrow += truth
            if truth != (count > 0):
                wrong += 1
                print(f"panel {i}: {kind}: OpenCV {truth}, proof {count}")
        pieces = cv2.connectedComponents((~opening).astype(np.uint8), connectivity=4)[0] - 1
        # a hair of material under two pixels falls apart in the raster
        if pieces != int(v[2]) and not 0 < float(v[8]) < 2 / SCALE:
            wrong += 1
            print(f"panel {i}: OpenCV {pieces} pieces, proof {v[2]}")
    print(f"proof_widths: seed {SEED}, {judged} verdicts compared ({n_narrow} narrow), {wrong} differ")
    return 1 if wrong or judged < N or n_narrow < 10 else 0


if __name__ == "__main__":
    sys.exit(main())
