#!/usr/bin/python3
# needs: bin/tests/reference/panels_job
"""Photographs through every stage onto beds from A4 up: each panel proves good (one piece, nothing crossing, nothing too
narrow), none is larger than the bed, and put back together they equal their sheets at 4 px/mm.
Pictures: those that scikit-image ships. Prints one line; exit status 1 on the first failure."""
import os
import subprocess
import tempfile

import numpy as np
import skimage

from panelkit import BUILD, SVG, check, cut_paths, group, off_by_more_than_a_pixel, parse_path, read, scan

SCALE, KERF = 4, 0.2
DATA = os.path.join(os.path.dirname(skimage.__file__), "data")
# picture, width, bed
CASES = [("chelsea.png", 800, 297, 210), ("coffee.png", 900, 420, 594), ("astronaut.png", 900, 500, 400), ("rocket.jpg", 900, 1200, 800)]


def one_case(tmp, picture, width, bed_width, bed_height):
    job = os.path.join(tmp, picture)
    run = subprocess.run([os.path.join(BUILD, "bin/tests/reference/panels_job"), os.path.join(DATA, picture), job, str(width), str(bed_width), str(bed_height)],
                         capture_output=True, text=True)
    check(run.returncode == 0, run.stderr)
    layers, w, h = read(os.path.join(job, "layers.svg"))
    passes = [g for g in layers.findall(SVG + "g")]
    art = {n: scan(parse_path(g.find(SVG + "path").get("d"), True), w, h, SCALE) for n, g in enumerate(passes, 1)}
    put = {n: np.zeros_like(a) for n, a in art.items()}
    for line in run.stdout.splitlines():
        name, *numbers = line.split()
        n, ox, oy, ax, ay, aw, ah, turned, pieces, crossings, outside, webs, openings, good = map(int, numbers)
        check(good == 1 and pieces == 1, f"{picture} {name}: {pieces} pieces, {crossings} crossings, {outside} outside, {webs} webs and {openings} openings too narrow")
        cut, pw, ph = read(os.path.join(job, name))
        size = (ph, pw) if turned else (pw, ph)
        check(size[0] + KERF <= bed_width and size[1] + KERF <= bed_height, f"{picture} {name}: {pw} x {ph} is larger than the bed")
        ox, oy, ax, ay, aw, ah = (v / 1000 for v in (ox, oy, ax, ay, aw, ah))
        x, y = int(ax * SCALE), int(ay * SCALE)
        part = put[n][y:int((ay + ah) * SCALE) + 1, x:int((ax + aw) * SCALE) + 1]
        part |= scan(cut_paths(cut, "opening"), part.shape[1] / SCALE, part.shape[0] / SCALE, SCALE, ox - x / SCALE, oy - y / SCALE)
    for n in art:
        off = off_by_more_than_a_pixel(art[n], put[n])
        check(off == 0, f"{picture}: {off} pixels of pass {n} differ")
    return len(run.stdout.splitlines())


def main():
    with tempfile.TemporaryDirectory() as tmp:
        n = [one_case(tmp, *case) for case in CASES]
    print(f"panels_job: {len(n)} photographs in {sum(n)} panels: every one proves good and fits its bed, put together they equal their sheets to a pixel at {SCALE} px/mm")


main()
