#!/usr/bin/python3
# needs: bin/tests/reference/shared_dump stencilwright
# Masks that share edges get the same curve there. Over random maps of labels, side by side and over each other: every
# contour is simple and valid and nests as its mask's regions do, no pixel edge is farther off than the tolerance
# allows, and what two masks have in common is drawn as one curve, which it is not when each is traced alone. Then a
# whole job without trap, unsplit and in panels.
# Reference: GEOS through shapely, connected components of OpenCV, k-d trees of SciPy (versions printed).
import json
import os
import re
import subprocess
import sys
import tempfile
import warnings

import cv2
import numpy as np
import scipy
import shapely
from scipy.spatial import cKDTree
from shapely.geometry import LinearRing
from shapely.geos import geos_version

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import contour_valid

warnings.simplefilter("ignore")
BUILD = os.environ.get("BUILD", "build")
EXE = os.path.join(BUILD, "bin/tests/reference/shared_dump")
PROGRAM = os.path.join(BUILD, "stencilwright")
SAME_MM = 0.002  # two roundings to 0.001 mm, and chords


def random_map(rng, kind):
    """Labels 0 to 3: the largest of four blurred noises; kind 1 with a straight grid of bars over it, kind 2 coarse."""
    h, w = int(rng.integers(60, 180)), int(rng.integers(60, 180))
    sigma = float(rng.uniform(3, 9)) if kind != 2 else float(rng.uniform(9, 20))
    fields = [cv2.GaussianBlur(rng.random((h, w)).astype(np.float32), (0, 0), sigma) for _ in range(4)]
    label = np.argmax(np.stack([(f - f.mean()) / f.std() for f in fields]), axis=0).astype(np.uint8)
    if kind == 1:
        for k in range(3):
            p = rng.integers(0, max(h, w), (2, 2))
            cv2.line(label, tuple(map(int, p[0])), tuple(map(int, p[1])), k + 1, int(rng.integers(4, 14)))
    return label


def curve_points(segments, step_mm):
    """Points along closed curves, and the next of each. Segments: arrays of 2 or 4 points."""
    first, second = [], []
    for contour in segments:
        points = []
        for s in contour:
            n = max(1, int(np.ceil(np.hypot(*np.diff(s, axis=0).T).sum() / step_mm)))
            u = (np.arange(n) / n)[:, None]
            v = 1 - u
            points.append(s[0] * v + s[1] * u if len(s) == 2 else
                          v**3 * s[0] + 3 * v * v * u * s[1] + 3 * v * u * u * s[2] + u**3 * s[3])
        points = np.vstack(points)
        first.append(points)
        second.append(np.roll(points, -1, 0))
    return (np.vstack(first), np.vstack(second)) if first else (np.zeros((0, 2)),) * 2


def in_common(a, b, near_mm):
    """Length of b's curves that run along a's within near_mm, of that within SAME_MM, and the area between."""
    if len(a[0]) == 0 or len(b[0]) == 0:
        return np.zeros(3)
    middle, chord = (b[0] + b[1]) / 2, b[1] - b[0]
    length = np.hypot(*chord.T)
    off, which = cKDTree(a[0]).query(middle, distance_upper_bound=near_mm + 0.5)
    at = np.where(np.isfinite(off))[0]
    least, alike = np.full(len(at), np.inf), np.zeros(len(at))
    for k in (0, -1):
        i = (which[at] + k) % len(a[0])
        e, to = a[1][i] - a[0][i], middle[at] - a[0][i]
        e_len = np.maximum(np.hypot(*e.T), 1e-12)
        t = np.clip((to * e).sum(1) / e_len**2, 0, 1)
        away = np.hypot(*(to - e * t[:, None]).T)
        cosine = np.abs((e * chord[at]).sum(1)) / e_len / np.maximum(length[at], 1e-12)
        alike = np.where(away < least, cosine, alike)
        least = np.minimum(away, least)
    is_near = (least < near_mm) & (alike > 0.95)
    w = length[at]
    return np.array([w[is_near].sum(), w[is_near & (least < SAME_MM)].sum(), (w * least)[is_near].sum()])


def read(text):
    """Per mask: contours as lists of segments, and the line about what is shared."""
    masks = []
    for line in text.splitlines():
        t = line.split()
        if t[0] == "mask":
            masks.append(([], []))
        elif t[0] == "s":
            masks[-1][1].extend(map(float, t[1:]))
        elif t[0] == "c":
            now = np.array([float(t[2]), float(t[3])])
            masks[-1][0].append([])
        else:
            s = np.vstack([now, np.array([float(x) for x in t[2:]]).reshape(-1, 2)])
            masks[-1][0][-1].append(s)
            now = s[-1]
    return masks


def pixel_edges_off(mask, contours, px_per_mm):
    """Farthest pixel edge from the curves, in pixels; the border has none."""
    middles = []
    for axis in (0, 1):
        y, x = np.nonzero(np.diff(mask.astype(np.int8), axis=axis))
        middles.append(np.stack([x + (1 if axis else 0.5), y + (0.5 if axis else 1)], 1))
    middles = np.vstack(middles)
    points = curve_points(contours, 0.05)[0] * px_per_mm
    return cKDTree(points).query(middles)[0].max() if len(middles) and len(points) else 0.0


def beyond_border(mask, contours):
    nodes = np.array([s[-1] for c in contours for s in c]).reshape(-1, 2)
    return (nodes < 0).any() or (nodes > np.array(mask.shape[::-1]) / 2).any()


def check_maps():
    n_bad = n_masks = n_nodes = n_alone = 0
    shared, alone, told = np.zeros(3), np.zeros(3), np.zeros(4)
    far = far_alone = 0
    for over in ("beside", "over"):
        for kind in range(3):
            rng = np.random.default_rng(50 + kind)
            maps = [random_map(rng, kind) for _ in range(40)]
            data = b"".join(map(contour_valid.pgm, maps))
            made = [subprocess.run([EXE, "2", "0.3", "3", over, how], input=data, stdout=subprocess.PIPE, check=True).stdout
                    for how in ("shared", "alone")]
            rings = contour_valid.read("\n".join(t for t in made[0].decode().splitlines() if t[0] != "s"))
            with_them, without = read(made[0].decode()), read(made[1].decode())
            for m, label in enumerate(maps):
                points = []
                for k in range(3):
                    mask = (label > k if over == "over" else label == k + 1).astype(np.uint8)
                    contours, about = with_them[3 * m + k]
                    n_masks += 1
                    n_nodes += sum(map(len, contours))
                    n_alone += sum(map(len, without[3 * m + k][0]))
                    told += about
                    bound = 1.25 + 0.5 * 0.6 + 0.1
                    far += pixel_edges_off(mask, contours, 2) > bound
                    far_alone += pixel_edges_off(mask, without[3 * m + k][0], 2) > bound
                    if beyond_border(mask, contours) and not beyond_border(mask, without[3 * m + k][0]):
                        n_bad += 1
                        print(f"{over} kind {kind} map {m} mask {k + 1}: beyond the border")
                    for p in contour_valid.problems(mask, rings[3 * m + k]):
                        n_bad += 1
                        print(f"{over} kind {kind} map {m} mask {k + 1}: {p}")
                    points.append((curve_points(contours, 0.1), curve_points(without[3 * m + k][0], 0.1)))
                for b in range(3):
                    for a in range(b):
                        shared += in_common(points[a][0], points[b][0], 0.6)
                        alone += in_common(points[a][1], points[b][1], 0.6)
    print(f"maps: {n_masks} masks, {n_bad} problems; curves within 0.6 mm of another mask's: {shared[0]:.0f} mm, the same "
          f"{shared[1] / shared[0]:.1%}, between them {shared[2]:.0f} mm2; each alone {alone[1] / alone[0]:.1%}, {alone[2]:.0f} mm2")
    print(f"maps: {told[0]:.0f} mm of edges shared, {told[1]:.0f} mm with one curve, {told[2]:.0f} stretches, {told[3]:.0f} given "
          f"up; {n_nodes} nodes, alone {n_alone}; a pixel edge too far off in {far} masks, alone in {far_alone}")
    # noise has an edge in common for two centimetres at a time, and each end costs some millimetres to leave it smoothly
    is_good = n_bad == 0 and shared[1] > 0.68 * shared[0] and told[1] > 0.8 * told[0] and shared[2] < 0.6 * alone[2]
    return is_good and n_nodes < 1.06 * n_alone and far <= far_alone + 3


# Maps of random_map in which a curve taken over loses the one that it was joined to: seed, kind, how, number, mask, and the
# least that has to be one curve there, in mm (measured; less when it stayed joined to what is no more).
PARTED = [(61, "beside", 16, 2, 216.0), (61, "beside", 19, 2, 229.0), (62, "beside", 6, 2, 97.0), (92, "beside", 0, 2, 112.0),
          (100, "over", 1, 2, 145.0), (90, "over", 7, 2, 292.0), (122, "beside", 7, 2, 169.0)]


def check_parted():
    n_bad = 0
    for seed, over, number, k, least_mm in PARTED:
        rng = np.random.default_rng(seed)
        label = [random_map(rng, seed % 10) for _ in range(number + 1)][-1]
        made = subprocess.run([EXE, "2", "0.3", "3", over, "shared"], input=contour_valid.pgm(label), stdout=subprocess.PIPE, check=True)
        contours, about = read(made.stdout.decode())[k]
        shortest = min(np.hypot(*np.diff(s, axis=0).T).sum() for c in contours for s in c)
        if shortest > 0 and about[1] >= least_mm:
            continue
        n_bad += 1
        print(f"parted: seed {seed} {over} map {number}: shortest segment {shortest:.3f} mm, one curve {about[1]:.1f} of {about[0]:.1f} mm, "
              f"{about[3]:.0f} given up")
    print(f"parted: {len(PARTED)} maps, {n_bad} with a curve still joined to one that is gone")
    return n_bad == 0


TOKEN = re.compile(r"[MLHVCZ]|-?\d*\.?\d+")


def path_segments(d):
    t, i, out, command, now = TOKEN.findall(d), 0, [], "", np.zeros(2)
    while i < len(t):
        if t[i].isalpha():
            command = t[i]
            i += 1
        if command == "Z":
            if np.hypot(*(now - out[-1][0][0])) > 0:
                out[-1].append(np.vstack([now, out[-1][0][0]]))
            continue
        n = {"M": 2, "L": 2, "C": 6, "H": 1, "V": 1}[command]
        v = [float(x) for x in t[i:i + n]]
        i += n
        v = [v[0], now[1]] if command == "H" else [now[0], v[0]] if command == "V" else v
        points = np.array(v).reshape(-1, 2)
        if command == "M":
            out.append([])
        else:
            out[-1].append(np.vstack([now, points]))
        now = points[-1]
    return out


def check_job(picture, settings, folder):
    subprocess.run([PROGRAM, "cut", picture, *settings, "--trap", "0mm", "--quiet", "--replace", "--out", folder], check=True)
    with open(os.path.join(folder, "layers.svg"), encoding="utf-8") as f:
        passes = [path_segments(d) for d in re.findall(r'-openings"[^>]* d="([^"]*)"', f.read())]
    with open(os.path.join(folder, "job.json"), encoding="utf-8") as f:
        told = [p["shared_edges"] for p in json.load(f)["passes"]]
    n_bad = sum(not LinearRing(curve_points([c], 0.1)[0]).is_simple for p in passes for c in p)
    points = [curve_points(p, 0.1) for p in passes]
    sums = sum(in_common(points[a], points[b], 0.6) for b in range(len(points)) for a in range(b))
    edge, same = sum(t["length_mm"] for t in told), sum(t["one_curve_mm"] for t in told)
    print(f"job {' '.join(settings)}: {len(passes)} passes, {n_bad} contours not simple; within 0.6 mm of another pass {sums[0]:.0f} "
          f"mm, the same {sums[1] / sums[0]:.1%}, off by {sums[2] / sums[0]:.4f} mm on average; told: {same:.0f} of {edge:.0f} mm")
    return n_bad == 0 and sums[1] > 0.85 * sums[0] and same > 0.9 * edge and sums[2] < 0.03 * sums[0]


def main():
    is_good = check_maps() and check_parted()
    with tempfile.TemporaryDirectory() as place:
        picture = os.path.join(BUILD, "samples/regatta.png")
        is_good &= check_job(picture, ["--width", "900mm"], os.path.join(place, "whole"))
        is_good &= check_job(picture, ["--width", "900mm", "--bed", "500x400mm"], os.path.join(place, "panels"))
    print(f"shared_edges: {'good' if is_good else 'FAILED'} (GEOS {'.'.join(map(str, geos_version))}, shapely {shapely.__version__}, "
          f"OpenCV {cv2.__version__}, SciPy {scipy.__version__})")
    return not is_good


if __name__ == "__main__":
    sys.exit(main())
