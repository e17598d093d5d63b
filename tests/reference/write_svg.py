#!/usr/bin/python3
# needs: bin/tests/reference/write_svg
"""Looks at written SVG files with other programs: xmllint and the SVG 1.1 DTD (W3C, second edition, as Debian's
w3c-sgml-lib ships it; that step is passed over where the DTD is not installed), librsvg, and a parser of our own that
allows nothing but what the contract allows. Prints one line; exit status 1 on the first failure."""
import os
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

import cv2
import numpy as np

BUILD = os.environ.get("BUILD", "build")
DTD = "/usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd"
SVG = "{http://www.w3.org/2000/svg}"
NUMBER = r"-?(?:0|[1-9]\d*)(?:\.\d{1,3})?"
COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Z": 0}


def check(ok, what):
    if not ok:
        sys.exit(f"write_svg: {what}")


def parse_path(d, closed):
    """Subpaths as lists of points (curves in 32 chords); anything outside the contract ends the check."""
    check(re.fullmatch(rf"(?:[MLHVCZ]|{NUMBER}|[ \n])*", d), f"path has more than M L H V C Z and numbers: {d[:60]}")
    subpaths, at, closed_now = [], None, True
    for command, rest in re.findall(r"([MLHVCZ])([^MLHVCZ]*)", d):
        v = [float(t) for t in re.findall(NUMBER, rest)]
        check(len(v) == COUNT[command], f"{command} with {len(v)} numbers")
        if command == "M":
            check(closed_now or not closed, "an open path")
            subpaths.append([(v[0], v[1])])
            closed_now = False
        elif command == "Z":
            closed_now = True
        elif command == "C":
            t = np.linspace(0, 1, 33)[1:, None]
            p = [np.array(at), np.array(v[0:2]), np.array(v[2:4]), np.array(v[4:6])]
            curve = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
            subpaths[-1] += [tuple(q) for q in curve]
        else:
            subpaths[-1].append({"L": lambda: (v[0], v[1]), "H": lambda: (v[0], at[1]), "V": lambda: (at[0], v[0])}[command]())
        if command != "Z":
            at = subpaths[-1][-1]
    check(closed_now or not closed, "an open path")
    return subpaths


def scan(subpaths, width, height, scale):
    """Even-odd raster by OpenCV (which counts from pixel centres and paints edges too), 1 where inside."""
    polygons = [np.round((np.array(s) * scale - 0.5) * 16).astype(np.int32) for s in subpaths]
    out = np.zeros((round(height * scale), round(width * scale)), np.uint8)
    cv2.fillPoly(out, polygons, 1, shift=4)
    return out


def read(path):
    if os.path.exists(DTD):
        run = subprocess.run(["xmllint", "--noout", "--nonet", "--dtdvalid", DTD, path], capture_output=True, text=True)
        check(run.returncode == 0, run.stderr)
    root = ET.parse(path).getroot()
    check(root.tag == SVG + "svg" and root.get("version") == "1.1", "no SVG 1.1 root")
    for e in root.iter():
        check(e.get("transform") is None, "a transform")
        check(all(not k.startswith("{") for k in e.attrib), f"a foreign attribute {e.attrib}")
    width, height = (float(re.fullmatch(rf"({NUMBER})mm", root.get(k)).group(1)) for k in ("width", "height"))
    check(root.get("viewBox") == f"0 0 {root.get('width')[:-2]} {root.get('height')[:-2]}", "viewBox is not the size")
    return root, width, height


def render(path, width, height, scale):
    png = path + ".png"
    subprocess.run(["rsvg-convert", "-w", str(round(width * scale)), "-h", str(round(height * scale)), "-b", "white", path, "-o", png], check=True)
    return cv2.imread(png)


def main():
    with tempfile.TemporaryDirectory() as tmp:
        job = os.path.join(tmp, "job")
        subprocess.run([os.path.join(BUILD, "bin/tests/reference/write_svg"), job], check=True, stdout=subprocess.DEVNULL)
        layers, width, height = read(os.path.join(job, "layers.svg"))
        worst = 0.0
        for n in (1, 2):
            group = next(g for g in layers.iter(SVG + "g") if g.get("id") == f"pass-{n}")
            path = group.find(SVG + "path")
            check(group.find(SVG + "title") is not None and path.get("id") == f"pass-{n}-openings", "group or path id")
            art = scan(parse_path(path.get("d"), True), width, height, 4)
            cut, w, h = read(os.path.join(job, f"cut/pass-{n}.svg"))
            groups = [g.get("id") for g in cut.findall(SVG + "g")]
            check(groups == ["cut", "outline", "marks"], f"groups are {groups}")
            openings, edge, drawn = cut.findall(SVG + "g")
            subpaths = [s for p in openings.iter(SVG + "path") for s in parse_path(p.get("d"), True)]
            for p in drawn.iter(SVG + "path"):
                parse_path(p.get("d"), False)
            outline = parse_path(edge.find(SVG + "path").get("d"), True)
            check(len(outline) == 1 and set(outline[0]) == {(0, 0), (w, 0), (w, h), (0, h)}, "the edge is not the panel")
            whole = scan(subpaths, w, h, 4)
            frame = round((w - width) * 2)
            inner = whole[frame:-frame, frame:-frame]
            check(inner.shape == art.shape, "cut file and layers differ in size")
            off = int((inner != art).sum())
            check(off <= 0.0005 * art.size, f"pass {n}: {off} pixels differ between cut file and layers")
            worst = max(worst, off / art.size)
            ring = whole.copy()
            ring[frame:-frame, frame:-frame] = 0
            check(ring.any(), "no registration marks in the frame")
        # what librsvg shows of the layers is what our parser reads
        picture = render(os.path.join(job, "layers.svg"), width, height, 4)
        painted = (picture != 255).any(axis=2)
        both = np.zeros(painted.shape, bool)
        for p in layers.iter(SVG + "path"):
            both |= scan(parse_path(p.get("d"), True), width, height, 4) != 0
        edge = cv2.morphologyEx(both.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((5, 5), np.uint8)) != 0
        check(not ((painted != both) & ~edge).any(), "librsvg shows something else")
    version = subprocess.run(["rsvg-convert", "--version"], capture_output=True, text=True).stdout.strip()
    print(f"write_svg: 3 files, DTD {'valid' if os.path.exists(DTD) else 'not installed'}, cut = layers to {worst:.2g} of the pixels, {version} agrees")


main()
