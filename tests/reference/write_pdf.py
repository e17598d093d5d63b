#!/usr/bin/python3
# needs: bin/tests/reference/write_svg
"""Cut files as PDF and EPS against the same as SVG: qpdf finds nothing wrong, pages and boxes are true to size within
0.1 mm, and poppler's and ghostscript's renderings differ from librsvg's by anti-aliasing only. Two runs give the same
bytes. Prints one line; exit status 1 on the first failure."""
import os
import re
import subprocess
import tempfile

import cv2
import numpy as np

from panelkit import BUILD, check, read, version

DPI = 127  # 5 px/mm
STROKE = 0.4  # two pixels: what is compared is where a line runs, not how each program draws a hair
RIM = 4  # the edge is stroked half outside the page; what is left of it there is each program's own affair


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True)
    check(done.returncode == 0, f"{' '.join(command)}: {done.stdout}{done.stderr}")
    return done.stdout + done.stderr


def ink(path):
    """Darkness 0..1 of a picture on white."""
    return 1 - cv2.imread(path, cv2.IMREAD_GRAYSCALE).astype(float) / 255


def fit(picture, shape):
    """The same cut or filled to shape, from the upper left."""
    full = np.zeros(shape)
    h, w = min(shape[0], picture.shape[0]), min(shape[1], picture.shape[1])
    full[:h, :w] = picture[:h, :w]
    return full


def farthest(one, two):
    """How far, in px, ink of one lies at most from ink of the other."""
    away = cv2.distanceTransform((two < 0.02).astype(np.uint8), cv2.DIST_L2, 5)
    inner = (one > 0.15)[RIM:-RIM, RIM:-RIM]
    return float(away[RIM:-RIM, RIM:-RIM][inner].max())


def compare(name, svg, other):
    check(max(abs(svg.shape[0] - other.shape[0]), abs(svg.shape[1] - other.shape[1])) <= 2, f"{name}: {other.shape} px, not {svg.shape}")
    other = fit(other, svg.shape)
    off = max(farthest(svg, other), farthest(other, svg))
    check(off <= 1.5, f"{name}: a line lies {off:.2f} px off")
    return off


def main():
    worst, size_off = 0.0, 0.0
    with tempfile.TemporaryDirectory() as tmp:
        job, again = os.path.join(tmp, "job"), os.path.join(tmp, "again")
        for folder in (job, again):
            run(os.path.join(BUILD, "bin/tests/reference/write_svg"), folder, "613.4", "402.7", str(STROKE))
        hair = os.path.join(tmp, "hair")  # the stroke as written for a cutter, where ink and box must agree
        run(os.path.join(BUILD, "bin/tests/reference/write_svg"), hair, "613.4", "402.7")
        for name in ("all.pdf", "cut/pass-1.pdf", "cut/pass-2.eps"):
            with open(os.path.join(job, name), "rb") as a, open(os.path.join(again, name), "rb") as b:
                check(a.read() == b.read(), f"{name}: two runs differ")
        check("2" == re.search(r"Pages:\s+(\d+)", run("pdfinfo", os.path.join(job, "all.pdf"))).group(1), "all.pdf: pages")
        run("qpdf", "--check", os.path.join(job, "all.pdf"))
        for n in (1, 2):
            base = os.path.join(job, f"cut/pass-{n}")
            _, w, h = read(base + ".svg")
            px = round(w * DPI / 25.4), round(h * DPI / 25.4)
            run("rsvg-convert", "-w", str(px[0]), "-h", str(px[1]), "-b", "white", base + ".svg", "-o", base + ".png")
            svg = ink(base + ".png")
            run("qpdf", "--check", base + ".pdf")
            page = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", run("pdfinfo", base + ".pdf"))
            run("pdftoppm", "-r", str(DPI), "-png", "-singlefile", base + ".pdf", base + "-pdf")
            worst = max(worst, compare(f"pass {n} PDF", svg, ink(base + "-pdf.png")))
            with open(base + ".eps", encoding="ascii") as f:
                eps = f.read()
            check("CreationDate" not in eps, "EPS: a date")
            whole = [int(v) for v in re.search(r"%%BoundingBox: (\d+) (\d+) (\d+) (\d+)", eps).groups()]
            exact = [float(v) for v in re.search(r"%%HiResBoundingBox: (\S+) (\S+) (\S+) (\S+)", eps).groups()]
            check(whole == [0, 0, int(np.ceil(exact[2])), int(np.ceil(exact[3]))] and exact[:2] == [0, 0], f"EPS: boxes {whole} {exact}")
            # where ghostscript finds ink: the edge is stroked on the box, so ink and box agree within half a stroke
            found = [float(v) for v in re.search(r"%%HiResBoundingBox: (\S+) (\S+) (\S+) (\S+)", run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=bbox", os.path.join(hair, f"cut/pass-{n}.eps"))).groups()]
            for have in (page.groups(), exact[2:], found[2:]):
                size_off = max(size_off, abs(float(have[0]) * 25.4 / 72 - w), abs(float(have[1]) * 25.4 / 72 - h))
            size_off = max(size_off, *(abs(v) * 25.4 / 72 for v in found[:2]))
            run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-dEPSCrop", "-sDEVICE=png16m", f"-r{DPI}", "-dGraphicsAlphaBits=4", f"-sOutputFile={base}-eps.png", base + ".eps")
            # ghostscript's picture counts from the lower left: align it there
            picture = ink(base + "-eps.png")[::-1]
            worst = max(worst, compare(f"pass {n} EPS", svg, fit(picture, svg.shape)[::-1]))
    check(size_off <= 0.1, f"sizes are off by {size_off:.3f} mm")
    print(f"write_pdf: PDF and EPS of 2 panels lie within {worst:.2f} px of the SVG at 5 px/mm, sizes within {size_off:.3f} mm ({version('qpdf', '--version')}, {version('pdftoppm', '-v')}, ghostscript {version('gs', '--version')})")


main()
