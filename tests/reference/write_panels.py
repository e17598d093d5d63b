#!/usr/bin/python3
# needs: bin/tests/reference/write_panels
"""Panels put back together equal the sheet at 4 px/mm, for beds from A4 to larger than the sheet, without
kerf and with one of 1 mm; no panel is larger than the bed; marks stand at the same place of the wall on every pass and clear of openings.
Prints one line; exit status 1 on the first failure."""
import os
import subprocess
import tempfile

import cv2
import numpy as np

from panelkit import BUILD, SVG, check, cut_paths, group, off_by_more_than_a_pixel, parse_path, read, scan, version

SCALE = 4
FRAME, WEB = 40.0, 5.0
# width, height, bed, kerf, more
CASES = [
    (900, 700, 297, 210, 0),
    (900, 700, 420, 594, 1),
    (900, 700, 500, 400, 0),
    (900, 700, 500, 400, 0, "stagger"),
    (1500, 640, 1200, 800, 0),
    (700, 500, 1200, 800, 1),
    (333, 1280, 1200, 800, 0),
    (333, 1280, 1200, 800, 0, "stagger"),
]


def one_case(tmp, width, height, bed_width, bed_height, kerf, *stagger):
    bed = (bed_width, bed_height)
    job = os.path.join(tmp, "-".join(map(str, (width, height, *bed, kerf, *stagger))))
    run = subprocess.run([os.path.join(BUILD, "bin/tests/reference/write_panels"), job, *map(str, (width, height, *bed, kerf)), *stagger],
                         capture_output=True, text=True)
    check(run.returncode == 0, run.stderr)
    layers, w, h = read(os.path.join(job, "layers.svg"))
    check((w, h) == (width, height), "size of the layers")
    art = {n: scan(parse_path(group(layers, f"pass-{n}").find(SVG + "path").get("d"), True), width, height, SCALE) for n in (1, 2)}
    reachable = {n: np.zeros_like(art[n]) for n in (1, 2)}
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (kerf * SCALE + 1, kerf * SCALE + 1))
    put = {n: np.zeros((height * SCALE, width * SCALE), np.uint8) for n in (1, 2)}
    marks = {}
    for line in run.stdout.splitlines():
        name, *numbers = line.split()
        n, ox, oy, ax, ay, aw, ah, turned = (int(v) for v in numbers[:8])
        ox, oy, ax, ay, aw, ah = (v / 1000 for v in (ox, oy, ax, ay, aw, ah))
        cut, pw, ph = read(os.path.join(job, name))
        size = (ph, pw) if turned else (pw, ph)
        check(size[0] + kerf <= bed[0] and size[1] + kerf <= bed[1], f"{name} {pw} x {ph} is larger than the bed {bed}")
        check(abs(pw - aw - 2 * FRAME) < 0.0011 and abs(ph - ah - 2 * FRAME) < 0.0011, f"{name}: frame")
        openings = cut_paths(cut, "opening")
        for s in openings:
            at = s + (ox, oy)
            check(at[:, 0].min() >= ax - 1e-6 and at[:, 0].max() <= ax + aw + 1e-3, f"{name}: an opening past its seam")
            check(at[:, 1].min() >= ay - 1e-6 and at[:, 1].max() <= ay + ah + 1e-3, f"{name}: an opening past its seam")
        x, y = int(ax * SCALE), int(ay * SCALE)  # the part of the wall that the panel covers
        part = put[n][y:int((ay + ah) * SCALE) + 1, x:int((ax + aw) * SCALE) + 1]
        part |= scan(openings, part.shape[1] / SCALE, part.shape[0] / SCALE, SCALE, ox - x / SCALE, oy - y / SCALE)
        # no beam gets farther into a sharp corner than its own width lets it: the window's art opened by the beam
        window = np.pad(art[n][round(ay * SCALE):round((ay + ah) * SCALE), round(ax * SCALE):round((ax + aw) * SCALE)], 8)
        burnt = cv2.morphologyEx(window, cv2.MORPH_OPEN, disc)[8:-8, 8:-8]
        reachable[n][round(ay * SCALE):round((ay + ah) * SCALE), round(ax * SCALE):round((ax + aw) * SCALE)] |= burnt
        pennants = cut_paths(cut, "mark")
        check(len(pennants) >= 3, f"{name}: fewer than three marks")
        opened = scan(openings, pw, ph, 1)
        for p in pennants:
            (x0, y0), (x1, y1) = np.floor(p.min(axis=0) - WEB + 1).astype(int), np.ceil(p.max(axis=0) + WEB - 1).astype(int)
            check(not opened[y0:y1, x0:x1].any(), f"{name}: less than min-web between a mark and an opening")
        for p in pennants:
            check(p.min() >= WEB - 1e-6 and p[:, 0].max() <= pw - WEB + 1e-6 and p[:, 1].max() <= ph - WEB + 1e-6, f"{name}: a mark at the edge")
        places = {tuple(np.round(p.min(axis=0) + (ox, oy), 3)) for p in pennants}
        panel = name.split("panel-")[-1] if "panel" in name else name[10:]
        if not stagger:
            check(marks.setdefault(panel, places) == places, f"{name}: marks of two passes differ")
        for p in group(cut, "marks").iter(SVG + "path"):
            for s in parse_path(p.get("d"), False):
                inside = (s[:, 0] > FRAME) & (s[:, 0] < pw - FRAME) & (s[:, 1] > FRAME) & (s[:, 1] < ph - FRAME)
                check(not inside.any(), f"{name}: a label leaves the frame")
    for n in (1, 2):
        burnt = cv2.dilate(put[n], disc)  # what the beam takes away on both sides of the line
        off = off_by_more_than_a_pixel(reachable[n], burnt)
        check(off == 0, f"{width} x {height} on {bed}: {off} pixels of pass {n} differ")
    return len(run.stdout.splitlines())


def main():
    with tempfile.TemporaryDirectory() as tmp:
        n = [one_case(tmp, *case) for case in CASES]
    print(f"write_panels: {len(n)} jobs, {sum(n)} panels, put together they equal their sheets to a pixel at {SCALE} px/mm")


main()
