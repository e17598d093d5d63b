# not a test: what several of them import
"""What the checks of written SVG share: reading a file strictly, flattening its paths, scan conversion."""
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import cv2
import numpy as np

BUILD = os.environ.get("BUILD", "build")
DTD = "/usr/share/xml/w3c-sgml-lib/schema/dtd/REC-SVG11-20110816/svg11.dtd"
SVG = "{http://www.w3.org/2000/svg}"
NUMBER = r"-?(?:0|[1-9]\d*)(?:\.\d{1,3})?"
COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Z": 0}
ME = os.path.basename(sys.argv[0])


def check(ok, what):
    if not ok:
        sys.exit(f"{ME}: {what}")


def parse_path(d, closed):
    """Subpaths as arrays of points (curves in 32 chords); anything outside the contract ends the check."""
    check(re.fullmatch(rf"(?:[MLHVCZ]|{NUMBER}|[ \n])*", d), f"path has more than M L H V C Z and numbers: {d[:60]}")
    t = np.linspace(0, 1, 33)[1:, None]
    subpaths, closed_now = [], True
    for command, rest in re.findall(r"([MLHVCZ])([^MLHVCZ]*)", d):
        v = [float(n) for n in re.findall(NUMBER, rest)]
        check(len(v) == COUNT[command], f"{command} with {len(v)} numbers")
        if command == "M":
            check(closed_now or not closed, "an open path")
            subpaths.append([(v[0], v[1])])
            closed_now = False
            continue
        if command == "Z":
            closed_now = True
            continue
        at = subpaths[-1][-1]
        if command == "C":
            p = [np.array(at), np.array(v[0:2]), np.array(v[2:4]), np.array(v[4:6])]
            curve = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
            subpaths[-1] += [tuple(q) for q in curve]
        else:
            subpaths[-1].append({"L": (v[0], v[-1]), "H": (v[0], at[1]), "V": (at[0], v[0])}[command])
    check(closed_now or not closed, "an open path")
    return [np.array(s) for s in subpaths]


def scan(subpaths, width, height, scale, dx=0.0, dy=0.0):
    """Even-odd raster: 1 where a pixel's centre is inside. Every edge toggles its rows from where it crosses on."""
    rows, columns = round(height * scale), round(width * scale)
    toggles = np.zeros((rows, columns + 1), np.int32)
    if subpaths:
        a = np.concatenate([(s + (dx, dy)) * scale - 0.5 for s in subpaths])
        b = np.concatenate([(np.roll(s, -1, axis=0) + (dx, dy)) * scale - 0.5 for s in subpaths])
        low, high = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1])
        first = np.clip(np.ceil(low), 0, rows).astype(int)
        n = np.maximum(np.clip(np.ceil(high), 0, rows).astype(int) - first, 0)
        edge = np.repeat(np.arange(len(n)), n)
        row = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(n) - n, n)
        x = a[edge, 0] + (row - a[edge, 1]) / (b[edge, 1] - a[edge, 1]) * (b[edge, 0] - a[edge, 0])
        np.add.at(toggles, (row, np.clip(np.ceil(x), 0, columns).astype(int)), 1)
    return (np.cumsum(toggles[:, :-1], axis=1) & 1).astype(np.uint8)


def read(path):
    """Root, width and height in mm of a file that holds to the contract and, where the DTD is there, to SVG 1.1."""
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


def group(root, name):
    return next(g for g in root.iter(SVG + "g") if g.get("id") == name)


def cut_paths(root, prefix):
    """Subpaths of the cut group whose ids begin with prefix."""
    return [s for p in group(root, "cut").iter(SVG + "path") if p.get("id").startswith(prefix) for s in parse_path(p.get("d"), True)]


def off_by_more_than_a_pixel(one, two):
    """Pixels that differ and are farther than one pixel from an edge of either."""
    kernel = np.ones((3, 3), np.uint8)
    bad = (one != 0) & (cv2.dilate(two, kernel) == 0) | (two != 0) & (cv2.dilate(one, kernel) == 0)
    return int(bad.sum())


def version(*command):
    run = subprocess.run(command, capture_output=True, text=True)
    return (run.stdout + run.stderr).strip().splitlines()[0]
