#!/usr/bin/python3
"""Check a job folder as written. A second program: it shares no code and no idea of the proof but the definition of
narrow (src/sheet/sheet.h), and reads only the files that a cutting shop would get.

    check_job.py DIR [--min-opening MM] [--min-web MM] [--px-per-mm N] [--no-chromium] [--quiet]

One line a fault, with its place; the last line sums up; exit status 1 if there was a fault.

References: librsvg (rsvg-convert) renders the cut lines, OpenCV labels and measures them, numpy rasterises suspicious
places again at a finer scale, xmllint validates against the SVG 1.1 DTD (Debian package w3c-sgml-lib) or, without it,
for well-formedness; headless Chromium is the second renderer of layers.svg. Written for Debian 12: librsvg 2.54,
OpenCV 4.6, numpy 1.24, libxml2 2.9.
"""
# not a test by itself: tests/reference/jobs_hold.py calls it
import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

import cv2
import numpy as np

SVG = "{http://www.w3.org/2000/svg}"
ENOUGH = 0.9          # of min-web and min-opening
FINE_PX_PER_MM = 24.0  # where something looks wrong
TOKEN = re.compile(r"[A-Za-z]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?|[\s,]+|.")
NUMBER = re.compile(r"-?\d+(\.\d{1,3})?$")


class Faults:
    def __init__(self, quiet):
        self.lines = []
        self.quiet = quiet

    def add(self, name, what):
        self.lines.append(f"{name}: {what}")
        if not self.quiet:
            print(f"FAULT {name}: {what}", flush=True)


# ---- paths ------------------------------------------------------------------------------------------------------

class PathError(Exception):
    pass


def parse_path(d):
    """[[(kind, points...)]] a subpath: first (M, p), then (L, p) and (C, a, b, p); second value: closed by Z or not."""
    tokens = [t for t in TOKEN.findall(d) if not re.match(r"[\s,]", t)]
    at, subpaths, here, command, i = None, [], None, None, 0

    def numbers(n):
        nonlocal i
        out = tokens[i:i + n]
        if len(out) < n or not all(NUMBER.match(t) for t in out):
            raise PathError(f"number expected (at most three decimals), got {' '.join(out)!r}")
        i += n
        return [float(t) for t in out]

    while i < len(tokens):
        if tokens[i].isalpha():
            command = tokens[i]
            i += 1
            if command not in "MLHVCZ":
                raise PathError(f"command {command!r}; only M L H V C Z are allowed")
            if command == "Z":
                if here is None:
                    raise PathError("Z without a subpath")
                subpaths[-1][1] = True
                here = None
                continue
        elif command in (None, "Z", "M"):
            raise PathError(f"{tokens[i]!r} without a command")
        if command != "M" and here is None:
            raise PathError(f"{command} before M")
        if command == "M":
            at = numbers(2)
            here = [("M", tuple(at))]
            subpaths.append([here, False])
        elif command == "L":
            at = numbers(2)
            here.append(("L", tuple(at)))
        elif command == "H":
            at = [numbers(1)[0], at[1]]
            here.append(("L", tuple(at)))
        elif command == "V":
            at = [at[0], numbers(1)[0]]
            here.append(("L", tuple(at)))
        else:
            v = numbers(6)
            at = v[4:]
            here.append(("C", tuple(v[0:2]), tuple(v[2:4]), tuple(at)))
    return [(s, closed) for s, closed in subpaths]


def flatten(subpath, tolerance=0.004):
    """Polygon of a subpath; chords within tolerance mm (bound by second differences)."""
    out = [np.array([subpath[0][1]])]
    p = np.array(subpath[0][1])
    for seg in subpath[1:]:
        if seg[0] == "L":
            p = np.array(seg[1])
            out.append(p[None])
            continue
        a, b, e = (np.array(q) for q in seg[1:])
        bend = max(np.hypot(*(p - 2 * a + b)), np.hypot(*(a - 2 * b + e)))
        n = max(1, int(np.ceil(np.sqrt(0.75 * bend / tolerance))))
        t = np.arange(1, n + 1)[:, None] / n
        out.append((1 - t) ** 3 * p + 3 * (1 - t) ** 2 * t * a + 3 * (1 - t) * t * t * b + t ** 3 * e)
        p = e
    return np.concatenate(out)


# ---- one SVG file as text -----------------------------------------------------------------------------------------

def dtd_known():
    probe = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "x"><svg xmlns="http://www.w3.org/2000/svg"/>'
    run = subprocess.run(["xmllint", "--noout", "--nonet", "--valid", "-"], input=probe.encode(), capture_output=True)
    return run.returncode == 0


def check_xml(path, name, faults, use_dtd):
    with open(path, "rb") as f:
        text = f.read()
    command = ["xmllint", "--noout", "--nonet"]
    if use_dtd:
        command += ["--dtdvalidfpi", "-//W3C//DTD SVG 1.1//EN"]
    run = subprocess.run(command + [path], capture_output=True, text=True)
    if run.returncode != 0:
        faults.add(name, "xmllint: " + run.stderr.strip().splitlines()[0])
    if b"\r" in text or not text.endswith(b"\n"):
        faults.add(name, "lines do not end as lines do")


def check_numbers(root, name, faults):
    for element in root.iter():
        tag = element.tag if isinstance(element.tag, str) else "?"
        if not tag.startswith(SVG):
            faults.add(name, f"element {tag} is not of SVG")
            continue
        if tag[len(SVG):] not in ("svg", "g", "path", "title", "desc"):
            faults.add(name, f"element {tag[len(SVG):]}; svg, g, path, title and desc are enough")
        for key, value in element.attrib.items():
            if key.startswith("{"):
                faults.add(name, f"foreign attribute {key}")
            if key in ("transform", "style", "class"):
                faults.add(name, f"attribute {key} on {element.get('id', tag[len(SVG):])}")
            if key in ("width", "height", "viewBox", "stroke-width"):
                for number in re.findall(r"[-+.\deE]+", value.replace("mm", "")):
                    if not NUMBER.match(number):
                        faults.add(name, f"{key} has number {number!r}")


def root_size(root, name, faults):
    """(width, height) in mm, or None."""
    size = [re.fullmatch(r"(\d+(?:\.\d{1,3})?)mm", root.get(k, "")) for k in ("width", "height")]
    box = re.fullmatch(r"0 0 (\d+(?:\.\d{1,3})?) (\d+(?:\.\d{1,3})?)", root.get("viewBox", ""))
    if None in size or box is None:
        faults.add(name, "root needs width and height in mm and a viewBox from 0 0")
        return None
    if size[0][1] != box[1] or size[1][1] != box[2]:
        faults.add(name, f"width x height {size[0][1]} x {size[1][1]} mm, but viewBox {box[0]}")
    return float(box[1]), float(box[2])


def read_svg(path, name, faults, use_dtd):
    check_xml(path, name, faults, use_dtd)
    try:
        root = ET.parse(path).getroot()
    except ET.ParseError as e:
        faults.add(name, f"not XML: {e}")
        return None, None
    if root.tag != SVG + "svg":
        faults.add(name, "root is not svg")
        return None, None
    check_numbers(root, name, faults)
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    for double in sorted({i for i in ids if ids.count(i) > 1}):
        faults.add(name, f"id {double} occurs twice")
    return root, root_size(root, name, faults)


def polygons_of(element, name, faults, size=None):
    """All closed subpaths below an element as polygons; every fault of theirs is told."""
    out = []
    for path in element.iter(SVG + "path"):
        try:
            subpaths = parse_path(path.get("d", ""))
        except PathError as e:
            faults.add(name, f"path {path.get('id', '')}: {e}")
            continue
        if not subpaths:
            continue
        for subpath, closed in subpaths:
            first, last = subpath[0][-1], subpath[-1][-1]
            # Z may draw the last straight line, but not mend ends that should have met
            if not closed or 0 < np.hypot(first[0] - last[0], first[1] - last[1]) < 0.05:
                faults.add(name, f"open subpath from {first} to {last}" + ("" if closed else " without Z"))
            if len(subpath) < 3:
                faults.add(name, f"subpath at {first} encloses nothing")
                continue
            polygon = flatten(subpath)
            if size and (polygon.min() < -1e-9 or (polygon > np.array(size) + 1e-9).any()):
                faults.add(name, f"subpath at {first} leaves the panel")
            out.append(polygon)
    return out


# ---- rasters ------------------------------------------------------------------------------------------------------

def path_text(polygons):
    return " ".join("M" + " ".join(f"{x:.4f},{y:.4f}" for x, y in p) + "Z" for p in polygons)


def rsvg(svg_path, width_px, height_px, ground="#ffffff"):
    out = subprocess.run(["rsvg-convert", "--unlimited", "-w", str(width_px), "-h", str(height_px), "-b", ground,
                          svg_path], capture_output=True)
    if out.returncode != 0:
        raise RuntimeError(out.stderr.decode(errors="replace").strip())
    return cv2.imdecode(np.frombuffer(out.stdout, np.uint8), cv2.IMREAD_COLOR)


def render_raw_d(paths, size, px_per_mm, folder):
    """Openings (path data as written, even-odd together) by librsvg: True where open."""
    w, h = size
    width_px, height_px = int(np.ceil(w * px_per_mm)), int(np.ceil(h * px_per_mm))
    svg = os.path.join(folder, "fill.svg")
    with open(svg, "w", encoding="utf-8") as f:
        f.write(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_px / px_per_mm} {height_px / px_per_mm}" '
                f'width="{width_px}" height="{height_px}"><path fill="#000" fill-rule="evenodd" '
                f'd="{" ".join(paths)}"/></svg>')
    return rsvg(svg, width_px, height_px)[:, :, 1] < 128


def fill_fine(polygons, boxes, x0, y0, x1, y1):
    """Openings of a window by OpenCV's polygon filler at FINE_PX_PER_MM, even-odd."""
    s = FINE_PX_PER_MM
    width, height = int(np.ceil((x1 - x0) * s)), int(np.ceil((y1 - y0) * s))
    near = np.flatnonzero((boxes[:, 0] < x1) & (boxes[:, 2] > x0) & (boxes[:, 1] < y1) & (boxes[:, 3] > y0))
    out = np.zeros((height, width), np.uint8)
    shift = 6
    rings = [np.round(((polygons[i] - (x0, y0)) * s - 0.5) * (1 << shift)).astype(np.int32) for i in near]
    if rings:
        cv2.fillPoly(out, rings, 1, cv2.LINE_8, shift)
    return out.astype(bool)


# ---- narrow -------------------------------------------------------------------------------------------------------

def disc_distance(mask, beyond):
    """Centre distance to the nearest pixel outside the set; beyond: is what lies outside the raster in the set?"""
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=1 if beyond else 0)
    return cv2.distanceTransform(padded, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[1:-1, 1:-1]


def narrow_parts(mask, width_px, slack_px, beyond=False, rim_px=0.5, reach_ratio=1.0):
    """Parts of the set that discs of width_px do not reach, that are necks, specks or spikes.
    slack_px is taken off the disc's radius; what is within rim_px of a disc counts as reached (a strip of single
    pixels between disc and edge would join the two corners of a square end into a neck). Returns [(x, y, kind, bbox)] in pixels."""
    radius = 0.5 * width_px - slack_px
    fits = disc_distance(mask, beyond) - 0.5 >= radius
    away = cv2.distanceTransform((~fits).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    reached = mask & (away <= radius + rim_px)
    if not fits.any():
        away = np.full(mask.shape, 1e9, np.float32)
        reached = np.zeros_like(mask)
    rest = (mask & ~reached).astype(np.uint8)
    n, label, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=8, ltype=cv2.CV_32S)
    out = []
    height, width = mask.shape
    around = np.ones((3, 3), np.uint8)
    for i in range(1, n):
        x, y, w, h, _ = stats[i]
        x0, y0, x1, y1 = max(0, x - 3), max(0, y - 3), min(width, x + w + 3), min(height, y + h + 3)
        own = (label[y0:y1, x0:x1] == i).astype(np.uint8)
        contact = cv2.dilate(own, around) & reached[y0:y1, x0:x1].astype(np.uint8)
        stretches = cv2.connectedComponents(cv2.dilate(contact, around), connectivity=8)[0] - 1
        # how far a part reaches is measured from where it hangs, not across an edge to some other reached place
        far = away[y0:y1, x0:x1] if stretches == 0 else cv2.distanceTransform(1 - contact, cv2.DIST_L2,
                                                                               cv2.DIST_MASK_PRECISE)
        far = far * own
        kind = "speck" if stretches == 0 else "neck" if stretches > 1 else "spike" if far.max() > reach_ratio * width_px else None
        if kind:
            v, u = np.unravel_index(np.argmax(far), own.shape)
            out.append((x0 + u + 0.5, y0 + v + 0.5, kind, (x, y, x + w, y + h)))
    return out


class Panel:
    """Cut lines of one panel, rendered, and how to look closer."""

    def __init__(self, polygons, open_mask, size, px_per_mm):
        self.polygons = polygons
        self.boxes = np.array([[*p.min(0), *p.max(0)] for p in polygons]) if polygons else np.zeros((0, 4))
        self.size = size
        self.px_per_mm = px_per_mm
        self.open = open_mask

    def window(self, box_px, margin_mm):
        s = self.px_per_mm
        w, h = self.size
        x0, y0, x1, y1 = box_px
        # the corner of a window lies on the coarse raster, its far side too
        return (max(0.0, np.floor(x0 / s - margin_mm)), max(0.0, np.floor(y0 / s - margin_mm)),
                min(w, np.ceil(x1 / s + margin_mm)), min(h, np.ceil(y1 / s + margin_mm)))

    def fine(self, window, is_web):
        """The set in a window at the fine scale."""
        opening = fill_fine(self.polygons, self.boxes, *window)
        return ~opening if is_web else opening


def check_widths(panel, name, is_web, min_mm, faults):
    what = "web" if is_web else "opening"
    s = panel.px_per_mm
    wanted = ENOUGH * min_mm
    mask = ~panel.open if is_web else panel.open
    # coarse: a disc half a pixel too wide, so that nothing narrow is overlooked
    suspects = narrow_parts(mask, wanted * s, slack_px=-0.25)
    n = 0
    done = []
    for x, y, kind, box in suspects:
        if any(w[0] + wanted < x / s < w[2] - wanted and w[1] + wanted < y / s < w[3] - wanted for w in done):
            continue
        window = panel.window(box, 3.0 * wanted)
        found = confirm(panel, window, is_web, wanted)
        if (window[2] - window[0]) * (window[3] - window[1]) < 1e4:
            done.append(window)
        for u, v, fine_kind in found:
            n += 1
            if n <= 10:
                faults.add(name, f"{what} narrower than {wanted:.2f} mm ({fine_kind}) at {u:.1f}, {v:.1f} mm")
    if n > 10:
        faults.add(name, f"{n} {what}s narrower than {wanted:.2f} mm in all")
    return n, len(suspects)


def confirm(panel, window, is_web, wanted):
    f = FINE_PX_PER_MM
    mask = panel.fine(window, is_web)
    if mask.size > 60e6:
        return [(window[0], window[1], "too long to look closer")]
    w, h = panel.size
    # where the window ends inside the panel, the set is taken to go on; at the panel's edge it ends
    edges = [window[0] > 0, window[1] > 0, window[2] < w, window[3] < h]
    pad = int(np.ceil(2 * wanted * f))
    ring = [pad if e else 1 for e in edges]
    padded = cv2.copyMakeBorder(mask.astype(np.uint8), ring[1], ring[3], ring[0], ring[2], cv2.BORDER_REPLICATE)
    for k, e in enumerate(edges):
        if not e:  # the panel ends here
            side = [np.s_[:, :1], np.s_[:1, :], np.s_[:, -1:], np.s_[-1:, :]][k]
            padded[side] = 0
    out = []
    core = 1.5 * wanted
    for x, y, kind, _ in narrow_parts(padded.astype(bool), wanted * f, slack_px=0.5, beyond=True, rim_px=2.5):
        u, v = window[0] + (x - ring[0]) / f, window[1] + (y - ring[1]) / f
        inside = [u > window[0] + core or not edges[0], v > window[1] + core or not edges[1],
                  u < window[2] - core or not edges[2], v < window[3] - core or not edges[3]]
        if all(inside):
            out.append((u, v, kind))
    return out


def check_pieces(panel, name, faults):
    """One connected piece of material; a bit that looks loose is looked at closer."""
    n, label, stats, centre = cv2.connectedComponentsWithStats((~panel.open).astype(np.uint8), connectivity=4,
                                                               ltype=cv2.CV_32S)
    if n == 1:
        faults.add(name, "no material left")
        return 0
    s, f = panel.px_per_mm, FINE_PX_PER_MM
    main = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    loose = 0
    for i in range(1, n):
        if i == main:
            continue
        x, y, w, h, area = stats[i]
        window = panel.window((x, y, x + w, y + h), 2.0)
        fine = panel.fine(window, True).astype(np.uint8)
        k, fine_label, fine_stats, _ = cv2.connectedComponentsWithStats(fine, connectivity=4, ltype=cv2.CV_32S)
        v, u = np.argwhere(label[y:y + h, x:x + w] == i)[0]
        px, py = int(((x + u + 0.5) / s - window[0]) * f), int(((y + v + 0.5) / s - window[1]) * f)
        own = fine_label[min(py, fine.shape[0] - 1), min(px, fine.shape[1] - 1)]
        on_edge = {*fine_label[0], *fine_label[-1], *fine_label[:, 0], *fine_label[:, -1]}
        if own == 0 or own in on_edge:
            continue  # a thin spike that only the coarse raster tore off
        loose += 1
        if loose <= 10:
            faults.add(name, f"island of {area / s / s:.1f} mm2 at {centre[i][0] / s:.1f}, {centre[i][1] / s:.1f} mm")
    if loose > 10:
        faults.add(name, f"{loose} islands in all")
    return 1 + loose


def check_tiny_islands(panel, name, faults):
    """Contours too small for the raster: material if an odd number of others lies around them."""
    for i, box in enumerate(panel.boxes):
        if max(box[2] - box[0], box[3] - box[1]) > 1.0:
            continue
        p = panel.polygons[i][0]
        around = np.flatnonzero((panel.boxes[:, 0] < p[0]) & (panel.boxes[:, 2] > p[0]) &
                                (panel.boxes[:, 1] < p[1]) & (panel.boxes[:, 3] > p[1]))
        depth = sum(cv2.pointPolygonTest(panel.polygons[k].astype(np.float32), (float(p[0]), float(p[1])), False) > 0
                    for k in around if k != i)
        faults.add(name, f"{'island' if depth % 2 else 'opening'} under 1 mm at {p[0]:.1f}, {p[1]:.1f} mm")


# ---- one cut file -------------------------------------------------------------------------------------------------

def group(root, name, wanted, faults):
    found = [e for e in root.iter(SVG + "g") if e.get("id") == wanted]
    if not found:
        faults.add(name, f"no group {wanted}")
        return None
    return found[0]


def check_hairlines(element, name, faults):
    def walk(e, fill, stroke, width):
        fill, stroke = e.get("fill", fill), e.get("stroke", stroke)
        width = e.get("stroke-width", width)
        if e.tag == SVG + "path":
            if fill != "none" or stroke in (None, "none"):
                faults.add(name, f"path {e.get('id', '')} is filled or has no stroke")
            if width is None or not float(width) <= 0.5:
                faults.add(name, f"path {e.get('id', '')} has stroke-width {width}; a hairline is meant")
        for child in e:
            walk(child, fill, stroke, width)
    walk(element, None, None, None)


def check_order(root, name, faults):
    order = [e.get("id") for e in root.iter(SVG + "g") if e.get("id") in ("cut", "outline")]
    if order != ["cut", "outline"]:
        faults.add(name, f"groups come as {order}; openings before the outline")


def check_cut_file(path, name, record, args, faults, use_dtd, folder):
    root, size = read_svg(path, name, faults, use_dtd)
    if root is None or size is None:
        return None
    groups = [group(root, name, g, faults) for g in ("cut", "outline", "marks")]
    if groups[0] is None or groups[1] is None:
        return None
    check_order(root, name, faults)
    check_hairlines(groups[0], name, faults)
    check_hairlines(groups[1], name, faults)
    cut = polygons_of(groups[0], name, faults, size)
    outline = polygons_of(groups[1], name, faults, size)
    if len(outline) != 1 or not np.allclose([*outline[0].min(0), *outline[0].max(0)], [0, 0, *size], atol=1e-6):
        faults.add(name, "the outline is not one contour around the whole panel")
    if record and not np.allclose(size, (record["width_mm"], record["height_mm"]), atol=1e-3):
        faults.add(name, f"size {size} but job.json says {record['width_mm']} x {record['height_mm']}")
    d = [p.get("d", "") for p in groups[0].iter(SVG + "path")]
    panel = Panel(cut, render_raw_d(d, size, args.px_per_mm, folder), size, args.px_per_mm)
    pieces = check_pieces(panel, name, faults)
    check_tiny_islands(panel, name, faults)
    webs = check_widths(panel, name, True, args.min_web, faults)
    openings = check_widths(panel, name, False, args.min_opening, faults)
    if not args.quiet:
        print(f"{name}: {len(cut)} contours, {pieces} piece(s), narrow webs {webs[0]} of {webs[1]} looked at, "
              f"narrow openings {openings[0]} of {openings[1]}", flush=True)
    return panel


# ---- layers.svg and the previews ----------------------------------------------------------------------------------

def check_layers(path, job, faults, use_dtd):
    """Returns [(pass, fill, [d])] or None."""
    name = "layers.svg"
    root, size = read_svg(path, name, faults, use_dtd)
    if root is None or size is None:
        return None, None
    if not np.allclose(size, (job["width_mm"], job["height_mm"]), atol=2e-3):
        faults.add(name, f"size {size} but job.json says {job['width_mm']} x {job['height_mm']}")
    wanted = [f"pass-{p['pass']}" for p in job["passes"]]
    got = [e.get("id") for e in root if e.tag == SVG + "g"]
    if got != wanted:
        faults.add(name, f"groups {got}, expected {wanted}")
    layers = []
    for record in job["passes"]:
        g = next((e for e in root if e.get("id") == f"pass-{record['pass']}"), None)
        if g is None:
            continue
        if g.find(SVG + "title") is None:
            faults.add(name, f"group {g.get('id')} has no title")
        paths = list(g.iter(SVG + "path"))
        if len(paths) != 1 or paths[0].get("id") != f"{g.get('id')}-openings":
            faults.add(name, f"group {g.get('id')} needs one path {g.get('id')}-openings")
        for p in paths:
            if p.get("fill-rule") != "evenodd" or p.get("fill") != record["paint"]:
                faults.add(name, f"path {p.get('id')}: fill {p.get('fill')}, rule {p.get('fill-rule')}; "
                                 f"evenodd and {record['paint']} expected")
        polygons_of(g, name, faults)
        layers.append((record["pass"], [p.get("d", "") for p in paths]))
    return size, layers


def check_sheets_agree(size, layers, panels, faults, folder):
    """The panels of a pass, each at its place, open what the layer opens (away from edges, at 1 px a mm)."""
    for number, d in layers:
        layer = render_raw_d(d, size, 1.0, folder)
        sheet = np.zeros_like(layer)
        mine = [p for p in panels if p[0] == number]
        for _, record, panel in mine:
            ox, oy = record["origin_mm"]
            small = [p + (ox, oy) for p in panel.polygons]
            sheet |= render_raw_d([path_text(small)] if small else [""], size, 1.0, folder)
        kernel = np.ones((3, 3), np.uint8)
        edge = cv2.dilate(layer.astype(np.uint8), kernel) != cv2.erode(layer.astype(np.uint8), kernel)
        wrong = int(((sheet != layer) & ~edge).sum())
        if mine and wrong:
            v, u = np.argwhere((sheet != layer) & ~edge)[0]
            faults.add("cut", f"pass {number}: {wrong} mm2 differ from layers.svg, first at {u}, {v} mm")


def chromium(svg_path, width, height, ground, folder):
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        return None
    page, shot = os.path.join(folder, "page.html"), os.path.join(folder, "shot.png")
    with open(page, "w", encoding="utf-8") as f:
        f.write(f'<!doctype html><html><body style="margin:0;background:{ground}">'
                f'<img style="display:block" width="{width}" height="{height}" src="file://{svg_path}"></body></html>')
    subprocess.run([program, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                    "--disable-background-networking", "--disable-component-update", "--disable-sync",
                    "--hide-scrollbars", "--force-color-profile=srgb", "--force-device-scale-factor=1",
                    f"--user-data-dir={os.path.join(folder, 'profile')}", f"--window-size={width},{height}",
                    f"--screenshot={shot}", "file://" + page], capture_output=True, timeout=120)
    image = cv2.imread(shot, cv2.IMREAD_COLOR)
    return image[:height, :width] if image is not None else None


def check_preview(preview, image, renderer, faults):
    """Equal away from edges. An edge is where the preview or the rendering changes within two pixels."""
    if image is None or image.shape != preview.shape:
        faults.add("layers.svg", f"{renderer} made no picture of the preview's size")
        return 0.0, 0.0
    kernel = np.ones((5, 5), np.uint8)
    edge = np.zeros(preview.shape[:2], bool)
    for picture in (preview, image):
        edge |= (cv2.dilate(picture, kernel).astype(int) - cv2.erode(picture, kernel) > 3).any(2)
    wrong = (np.abs(preview.astype(int) - image).max(2) > 3) & ~edge
    if wrong.any():
        v, u = np.argwhere(wrong)[0]
        faults.add("preview.png", f"{int(wrong.sum())} pixels differ from layers.svg in {renderer}, first at pixel "
                                  f"{u}, {v}: {preview[v, u][::-1]} against {image[v, u][::-1]}")
    mean = float(np.abs(preview.astype(int) - image).mean())
    if mean > 2.0:
        faults.add("preview.png", f"differs from layers.svg in {renderer} by {mean:.2f} of 255 on average")
    return float(edge.mean()), mean


def check_previews(job, directory, args, faults, folder):
    preview = cv2.imread(os.path.join(directory, "preview.png"), cv2.IMREAD_COLOR)
    if preview is None:
        faults.add("preview.png", "cannot be read")
        return
    height, width = preview.shape[:2]
    if abs(width / height - job["width_mm"] / job["height_mm"]) > 0.01 * width / height:
        faults.add("preview.png", f"{width} x {height} pixels are not the artwork's shape")
    svg = os.path.abspath(os.path.join(directory, "layers.svg"))
    results = [("librsvg", check_preview(preview, rsvg(svg, width, height, job["ground"]), "librsvg", faults))]
    if not args.no_chromium:
        image = chromium(svg, width, height, job["ground"], folder)
        results.append(("Chromium", check_preview(preview, image, "Chromium", faults)))
    if not args.quiet:
        for renderer, (edge, mean) in results:
            print(f"preview.png against {renderer}: mean difference {mean:.3f} of 255, edges {100 * edge:.1f} %")


# ---- the folder ---------------------------------------------------------------------------------------------------

def read_job(directory, faults):
    try:
        with open(os.path.join(directory, "job.json"), encoding="utf-8") as f:
            job = json.load(f)
        for key in ("width_mm", "height_mm", "min_opening_mm", "min_web_mm", "ground", "passes", "good"):
            job[key]
    except (OSError, ValueError, KeyError) as e:
        faults.add("job.json", f"cannot be used: {e!r}")
        return None
    if job["good"] is not True:
        faults.add("job.json", "the job calls itself not good")
    if [p["pass"] for p in job["passes"]] != list(range(1, len(job["passes"]) + 1)):
        faults.add("job.json", "passes are not 1, 2, 3 in this order")
    return job


def check_files(directory, job, faults):
    listed = sorted(f for p in job["passes"] for panel in p["panels"] for f in panel["files"])
    there = sorted("cut/" + f for f in os.listdir(os.path.join(directory, "cut")))
    if [f for f in listed if f not in there] or [f for f in there if f not in listed]:
        faults.add("job.json", f"lists {listed}, but the folder has {there}")
    for record in job["passes"]:
        names = [f for panel in record["panels"] for f in panel["files"] if f.endswith(".svg")]
        pattern = rf"cut/pass-{record['pass']}" + (r"\.svg" if len(names) == 1 else r"-panel-[A-Z]+\d+\.svg")
        for name in names:
            if not re.fullmatch(pattern, name) and not re.fullmatch(pattern.replace(r"\.svg", r"-panel-[A-Z]+\d+\.svg"),
                                                                    name):
                faults.add(name, "is not named as the contract says")


def check(directory, args):
    faults = Faults(args.quiet)
    job = read_job(directory, faults)
    if job is None:
        return faults
    args.min_opening = args.min_opening or job["min_opening_mm"]
    args.min_web = args.min_web or job["min_web_mm"]
    # 12 px across the smallest; a wall of 20 m with large openings needs no finer raster
    args.px_per_mm = args.px_per_mm or min(4.0, 12.0 / min(args.min_opening, args.min_web))
    use_dtd = dtd_known()
    if not use_dtd and not args.quiet:
        print("no SVG 1.1 DTD (w3c-sgml-lib): well-formedness only")
    with tempfile.TemporaryDirectory() as folder:
        check_files(directory, job, faults)
        size, layers = check_layers(os.path.join(directory, "layers.svg"), job, faults, use_dtd)
        panels = []
        for record in job["passes"]:
            for panel_record in record["panels"]:
                for name in (f for f in panel_record["files"] if f.endswith(".svg")):
                    path = os.path.join(directory, name)
                    if not os.path.exists(path):
                        continue
                    panel = check_cut_file(path, name, panel_record, args, faults, use_dtd, folder)
                    if panel is not None:
                        panel.open = None
                        panels.append((record["pass"], panel_record, panel))
        if layers is not None:
            check_sheets_agree(size, layers, panels, faults, folder)
            check_previews(job, directory, args, faults, folder)
    return faults


def arguments(argv):
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("dir")
    parser.add_argument("--min-opening", type=float)
    parser.add_argument("--min-web", type=float)
    parser.add_argument("--px-per-mm", type=float)
    parser.add_argument("--no-chromium", action="store_true")
    parser.add_argument("--quiet", action="store_true")
    return parser.parse_args(argv)


def main(argv):
    args = arguments(argv)
    faults = check(args.dir, args)
    print(f"check_job {args.dir}: {len(faults.lines)} faults")
    return 1 if faults.lines else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
