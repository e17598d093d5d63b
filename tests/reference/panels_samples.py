#!/usr/bin/python3
# needs: stencilwright
"""Every sample cut by the program itself for beds from A4 to larger than the sheet: each file holds to SVG 1.1 (W3C DTD,
second edition), no panel is larger than its bed, and put back together the panels equal layers.svg to a pixel at 4 px/mm.
Of one panel a job the PDF (qpdf, poppler) and the EPS (ghostscript) show what the SVG (librsvg) shows, true to size.
Prints one line; exit status 1 on the first failure."""
import json
import os
import re
import subprocess
import tempfile

import cv2
import numpy as np

from panelkit import BUILD, SVG, check, cut_paths, off_by_more_than_a_pixel, parse_path, read, scan, version

SCALE, DPI = 4, 127
SAMPLES = [("heron.png", []), ("regatta.png", ["--separate", "colour", "--passes", "4"]), ("sketch.jpg", ["--separate", "line"]),
           ("harbour.jpg", ["--key-windows"]), ("figurehead.png", ["--passes", "2", "--ground", "#d8cfbf"])]
BEDS = [(297, 210), (420, 594), (900, 620), (1500, 1200)]
WIDTH = 700


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True)
    check(done.returncode == 0, f"{' '.join(command)}: {done.stdout}{done.stderr}")
    return done.stdout + done.stderr


def ink(path):
    return 1 - cv2.imread(path, cv2.IMREAD_GRAYSCALE).astype(float) / 255


def farthest(one, two):
    """How far, in px, ink of one lies at most from ink of the other; the rim, half outside the page, is left out."""
    shape = min(one.shape[0], two.shape[0]), min(one.shape[1], two.shape[1])
    one, two = (p[: shape[0], : shape[1]] for p in (one, two))
    away = cv2.distanceTransform((two < 0.02).astype(np.uint8), cv2.DIST_L2, 5)
    return float(away[4:-4, 4:-4][(one > 0.15)[4:-4, 4:-4]].max())


def fit_from_below(picture, shape):
    full = np.zeros(shape)
    h, w = min(shape[0], picture.shape[0]), min(shape[1], picture.shape[1])
    full[shape[0] - h:, :w] = picture[picture.shape[0] - h:, :w]
    return full


def same_in_all_formats(job, name, width, height):
    """Off in px between renderings, and in mm between sizes."""
    base = os.path.join(job, "cut", name)
    run("rsvg-convert", "-d", str(DPI), "-p", str(DPI), "-w", str(round(width * DPI / 25.4)), "-h", str(round(height * DPI / 25.4)), "-b", "white", base + ".svg", "-o", base + ".png")
    svg = ink(base + ".png")
    run("qpdf", "--check", base + ".pdf")
    run("pdftoppm", "-r", str(DPI), "-png", "-singlefile", base + ".pdf", base + "-pdf")
    pdf = ink(base + "-pdf.png")
    size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+) pts", run("pdfinfo", base + ".pdf")).groups()
    with open(base + ".eps", encoding="ascii") as f:
        box = re.search(r"%%HiResBoundingBox: (\S+) (\S+) (\S+) (\S+)", f.read()).groups()
    check(box[:2] == ("0", "0"), f"{name}: box {box}")
    run("gs", "-q", "-dNOPAUSE", "-dBATCH", "-dEPSCrop", "-sDEVICE=png16m", f"-r{DPI}", "-dGraphicsAlphaBits=4", f"-sOutputFile={base}-eps.png", base + ".eps")
    eps = ink(base + "-eps.png")
    eps = fit_from_below(eps, svg.shape)  # ghostscript counts from the lower left
    off = max(max(farthest(svg, p), farthest(p, svg)) for p in (pdf, eps))
    check(off <= 1.5, f"{name}: a line lies {off:.2f} px off")
    off_mm = max(abs(float(v) * 25.4 / 72 - want) for v, want in zip(size + box[2:], (width, height) * 2))
    check(off_mm <= 0.1, f"{name}: size off by {off_mm:.3f} mm")
    return off, off_mm


def one_job(tmp, sample, options, bed):
    job = os.path.join(tmp, f"{sample}-{bed[0]}")
    run(os.path.join(BUILD, "stencilwright"), "cut", os.path.join(BUILD, "samples", sample), "--width", f"{WIDTH}mm", "--bed", f"{bed[0]}x{bed[1]}mm",
        "--format", "svg,pdf,eps", "--stroke", "0.4mm", "--quiet", "--out", job, *options)
    layers, w, h = read(os.path.join(job, "layers.svg"))
    with open(os.path.join(job, "job.json"), encoding="utf-8") as f:
        record = json.load(f)
    n = 0
    for one, layer in zip(record["passes"], layers.findall(SVG + "g")):
        art = scan(parse_path(layer.find(SVG + "path").get("d"), True), w, h, SCALE)
        put = np.zeros_like(art)
        for panel in one["panels"]:
            name = os.path.basename(panel["files"][0])[:-4]
            check(panel["good"] and panel["pieces"] == 1, f"{job} {name} is not good")
            root, pw, ph = read(os.path.join(job, "cut", name + ".svg"))
            size = (ph, pw) if panel["turned"] else (pw, ph)
            check(size[0] <= bed[0] and size[1] <= bed[1], f"{job} {name}: {pw} x {ph} is larger than the bed")
            put |= scan(cut_paths(root, "opening"), w, h, SCALE, *panel["origin_mm"])
            n += 1
        bad = off_by_more_than_a_pixel(art, put)
        check(bad == 0, f"{job}: {bad} pixels of pass {one['pass']} differ")
    last = record["passes"][-1]["panels"][-1]
    off = same_in_all_formats(job, os.path.basename(last["files"][0])[:-4], last["width_mm"], last["height_mm"])
    return n, off


def main():
    with tempfile.TemporaryDirectory() as tmp:
        jobs = [one_job(tmp, sample, options, bed) for sample, options in SAMPLES for bed in BEDS]
    print(f"panels_samples: {len(jobs)} jobs, {sum(n for n, _ in jobs)} panels equal their sheets to a pixel at {SCALE} px/mm; PDF and EPS within "
          f"{max(o[0] for _, o in jobs):.2f} px and {max(o[1] for _, o in jobs):.3f} mm ({version('qpdf', '--version')}, ghostscript {version('gs', '--version')})")


main()
