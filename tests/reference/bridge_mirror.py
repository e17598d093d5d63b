#!/usr/bin/python3
# needs: tests/reference/bridge_mirror
"""Moments and mirror symmetry of openings against OpenCV (version printed).

Moments: cv2.moments of the same mask, one by one. Symmetry: forms are drawn at random, half of them mirrored in an axis at a
random angle, with ragged edges; every form is reflected by cv2.warpAffine about its middle. What the program calls an
axis must lay 0.95 of the form on its image widened by a fiftieth of its size (cv2.dilate), within two degrees. A form made
symmetric must get its axis, or an upright or level one, beside which slanted ones do not count. A form whose intersection
over union with its image is at most 0.80 at every degree must get none.
"""
import os
import subprocess
import sys

import cv2
import numpy as np

PROGRAM = os.path.join(os.environ.get("BUILD", "build"), "bin/tests/reference/bridge_mirror")
SIDE = 240


def blob(rng, points):
    """A closed polygon about the middle, smoothed."""
    mask = np.zeros((SIDE, SIDE), np.uint8)
    cv2.fillPoly(mask, [np.round(points).astype(np.int32)], 1)
    return mask


def reflected(points, angle):
    c, s = np.cos(2 * angle), np.sin(2 * angle)
    return (points - SIDE / 2) @ np.array([[c, s], [s, -c]]) + SIDE / 2


def draw(rng, is_symmetric, angle):
    """Spokes of random length; mirrored ones come in pairs about the axis. Some are hollow: outlines."""
    n = 7
    turns = (np.arange(n) + 0.5) * np.pi / n
    lengths = 35 + 75 * rng.random(n)
    half = SIDE / 2 + np.stack([lengths * np.cos(turns + angle), lengths * np.sin(turns + angle)], 1)
    if is_symmetric:
        points = np.concatenate([half, reflected(half, angle)[::-1]])
    else:
        others = np.roll(lengths, 3) * (0.35 + 1.1 * rng.random(n))
        other = SIDE / 2 + np.stack([others * np.cos(angle - turns), others * np.sin(angle - turns)], 1)
        points = np.concatenate([half, np.clip(other, 3, SIDE - 4)[::-1]])
    mask = blob(rng, points + rng.normal(0, 0.7, points.shape))
    if rng.random() < 0.4:
        mask -= cv2.erode(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (15, 15)))
    n_parts, label, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    return (label == 1 + np.argmax(stats[1:, cv2.CC_STAT_AREA])).astype(np.uint8)


def image_of(mask, middle, degree):
    c, s = np.cos(np.radians(2 * degree)), np.sin(np.radians(2 * degree))
    at = np.array([[c, s], [s, -c]])
    return cv2.warpAffine(mask, np.column_stack([at, middle - at @ middle]), (SIDE, SIDE), flags=cv2.INTER_NEAREST)


def share_near(mask, middle, degree):
    """How much of the form lies on its image, or within a fiftieth of its size."""
    off = max(1, round(0.02 * max(cv2.boundingRect(mask)[2:])))
    image = cv2.dilate(image_of(mask, middle, degree), np.ones((2 * off + 1, 2 * off + 1), np.uint8))
    return np.count_nonzero(mask & image) / np.count_nonzero(mask)


def fits(mask, middle):
    """Intersection over union of the form and its image, by degrees of the axis."""
    out = np.zeros(180)
    for degree in range(180):
        image = image_of(mask, middle, degree)
        out[degree] = np.count_nonzero(mask & image) / np.count_nonzero(mask | image)
    return out


def main():
    rng = np.random.default_rng(5)
    faults, n_found, n_none, worst_moment = [], 0, 0, 0.0
    for case in range(160):
        is_symmetric, angle = case % 2 == 0, rng.choice([np.pi / 2, 0.0, rng.uniform(0, np.pi)])
        mask = draw(rng, is_symmetric, angle)
        out = subprocess.run([PROGRAM], input=f"{SIDE} {SIDE}\n".encode() + mask.tobytes(), capture_output=True, check=True).stdout
        ours = np.array(out.split(b"\n")[0].split(), float)
        m = cv2.moments(mask, binaryImage=True)
        middle = np.array([m["m10"], m["m01"]]) / m["m00"]
        theirs = [m["m00"], middle[0] + 0.5, middle[1] + 0.5, m["mu20"], m["mu11"], m["mu02"], m["mu30"] + m["mu12"], m["mu21"] + m["mu03"]]
        size = m["mu20"] + m["mu02"]
        scale = [m["m00"], SIDE, SIDE, size, size, size, size * SIDE, size * SIDE]
        worst_moment = max(worst_moment, max(abs(a - b) / c for a, b, c in zip(ours, theirs, scale)))
        by_degree, axes = fits(mask, middle), ours[8:]
        is_hollow = np.count_nonzero(mask) < 0.5 * np.count_nonzero(cv2.fillPoly(mask.copy(), cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0], 1))
        for axis in axes:
            near = max(share_near(mask, middle, axis + k) for k in (-2, -1, 0, 1, 2))
            if near < 0.95:
                faults.append(f"case {case}: an axis at {axis:.1f} degrees fits {near:.2f}")
        if is_symmetric:
            off = min((abs((a - np.degrees(angle) + 90) % 180 - 90) for a in axes), default=90.0)
            if off > 2.0 and not any(axis in (0.0, 90.0) for axis in axes):
                faults.append(f"case {case}: the axis at {np.degrees(angle):.1f} was not found ({off:.1f} off)")
        elif by_degree.max() <= 0.80 and not is_hollow and len(axes) > 0:
            faults.append(f"case {case}: {by_degree.max():.2f} at best, but an axis at {axes[0]:.1f}")
        n_found += len(axes) > 0
        n_none += len(axes) == 0
    if worst_moment > 1e-9:
        faults.append(f"moments differ by {worst_moment:.1e}")
    print(f"bridge_mirror: {n_found} forms with an axis, {n_none} without, moments within {worst_moment:.0e}, {len(faults)} faults, OpenCV {cv2.__version__}")
    for fault in faults[:10]:
        print("  " + fault)
    return 1 if faults or n_found < 60 or n_none < 40 else 0


if __name__ == "__main__":
    sys.exit(main())
