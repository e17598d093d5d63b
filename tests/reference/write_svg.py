#!/usr/bin/python3
# needs: bin/tests/reference/write_svg
"""Looks at written SVG files with other programs: xmllint and the SVG 1.1 DTD (W3C, second edition, as Debian's
w3c-sgml-lib ships it; that step is passed over where the DTD is not installed), librsvg, and a parser of our own that
allows nothing but what the contract allows. Prints one line; exit status 1 on the first failure."""
import os
import subprocess
import tempfile

import cv2
import numpy as np

from panelkit import BUILD, DTD, SVG, check, cut_paths, group, parse_path, read, scan, version


def render(path, width, height, scale):
    png = path + ".png"
    subprocess.run(["rsvg-convert", "-w", str(round(width * scale)), "-h", str(round(height * scale)), "-b", "white", path, "-o", png], check=True)
    return cv2.imread(png)


def main():
    with tempfile.TemporaryDirectory() as tmp:
        job = os.path.join(tmp, "job")
        subprocess.run([os.path.join(BUILD, "bin/tests/reference/write_svg"), job], check=True, stdout=subprocess.DEVNULL)
        layers, width, height = read(os.path.join(job, "layers.svg"))
        both = None
        for n in (1, 2):
            layer = group(layers, f"pass-{n}")
            path = layer.find(SVG + "path")
            check(layer.find(SVG + "title") is not None and path.get("id") == f"pass-{n}-openings", "group or path id")
            art = scan(parse_path(path.get("d"), True), width, height, 4)
            both = art if both is None else both | art
            cut, w, h = read(os.path.join(job, f"cut/pass-{n}.svg"))
            groups = [g.get("id") for g in cut.findall(SVG + "g")]
            check(groups == ["cut", "outline", "marks"], f"groups are {groups}")
            for p in group(cut, "marks").iter(SVG + "path"):
                parse_path(p.get("d"), False)
            outline = parse_path(group(cut, "outline").find(SVG + "path").get("d"), True)
            check(len(outline) == 1 and {tuple(p) for p in outline[0]} == {(0, 0), (w, 0), (w, h), (0, h)}, "the edge is not the panel")
            frame = round((w - width) * 2)
            whole = scan(cut_paths(cut, ""), w, h, 4)
            check(np.array_equal(whole[frame:-frame, frame:-frame], art), f"pass {n}: cut file and layers differ")
            whole[frame:-frame, frame:-frame] = 0
            check(whole.any(), "no registration marks in the frame")
        # what librsvg shows of the layers is what our parser reads
        picture = render(os.path.join(job, "layers.svg"), width, height, 4)
        painted = (picture != 255).any(axis=2)
        edge = cv2.morphologyEx(both, cv2.MORPH_GRADIENT, np.ones((5, 5), np.uint8)) != 0
        check(not ((painted != (both != 0)) & ~edge).any(), "librsvg shows something else")
    dtd = "valid" if os.path.exists(DTD) else "not installed"
    print(f"write_svg: 3 files, SVG 1.1 DTD {dtd}, cut files equal the layers at 4 px/mm, {version('rsvg-convert', '--version')} agrees")


main()
