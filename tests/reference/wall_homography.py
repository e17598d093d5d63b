#!/usr/bin/python3
# needs: tests/reference/wall_homography
"""The wall's map against OpenCV's findHomography (least squares; version printed) on random cameras: exact points, also
only four, must be found back to below 0.1 px (they are to a millionth); for noisy ones ours must never leave a
larger sum of squares, and where theirs reached the least too the maps must agree. Residuals in mm are checked against NumPy's inverse. Seeded."""
import os
import subprocess
import sys

import cv2
import numpy as np

BUILD = os.environ.get("BUILD", "build")
SEED, N_CASES = 8, 400
rng = np.random.default_rng(SEED)
faults = []


def mapped(h, xy):
    p = np.c_[xy, np.ones(len(xy))] @ np.asarray(h).reshape(3, 3).T
    return p[:, :2] / p[:, 2:]


def camera():
    """A pinhole camera of 3000 x 2000 pixels that looks at a wall from 3 to 12 m, up to 50 degrees off."""
    while True:
        yaw, pitch, roll = np.radians(rng.uniform([-50, -20, -6], [50, 20, 6]))
        ry = np.array([[np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]])
        rx = np.array([[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]])
        rz = np.array([[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1]])
        turn = rz @ rx @ ry
        at = np.array([rng.uniform(-3000, 3000), rng.uniform(-1000, 1500), -rng.uniform(3000, 12000)])
        k = np.array([[rng.uniform(1500, 4000), 0, 1500], [0, 0, 1000], [0, 0, 1.0]])
        k[1, 1] = k[0, 0]
        h = k @ np.c_[turn[:, 0], -turn[:, 1], -turn @ at]  # wall y is up
        corners = np.array([[-3000, -1500], [3000, -1500], [3000, 1500], [-3000, 1500]], float)
        depth = (np.c_[corners, np.ones(4)] @ h.T)[:, 2]
        if depth.min() > 500:
            return h


def case(n, noise_px):
    while True:
        h = camera()
        wall = rng.uniform([-3000, -1500], [3000, 1500], (n, 2))
        photo = mapped(h, wall)
        first = wall[:4]
        areas = [abs(np.cross(first[j] - first[i], first[k] - first[i])) for i, j, k in ((0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3))]
        if min(areas) > 1e6:  # no three of the first four nearly in a line
            return h, wall, photo, photo + rng.normal(0, noise_px, photo.shape) if noise_px else photo


def main():
    cases = [(n, noise, *case(n, noise)) for n, noise in ((4, 0.0), (6, 0.0), (12, 0.0), (6, 1.0), (12, 2.0), (40, 3.0)) for _ in range(N_CASES)]
    text = "".join(f"{len(wall)}\n" + "".join(f"{a[0]!r} {a[1]!r} {b[0]!r} {b[1]!r}\n" for a, b in zip(wall.tolist(), seen.tolist()))
                   for _, _, _, wall, _, seen in cases)
    made = subprocess.run([os.path.join(BUILD, "bin/tests/reference/wall_homography")], input=text, capture_output=True, text=True, check=True)
    lines = made.stdout.splitlines()
    n_less, worst_exact, worst_excess, worst_apart, worst_mm = 0, 0.0, 0.0, 0.0, 0.0
    if len(lines) != len(cases):
        faults.append(f"{len(lines)} answers for {len(cases)} cases")
    for (n, noise, h, wall, photo, seen), line in zip(cases, lines):
        if line == "refused":
            faults.append(f"refused {n} points, noise {noise}")
            continue
        numbers = np.array(line.split(), float)
        ours, residual = numbers[:9], numbers[9:]
        back = mapped(np.linalg.inv(ours.reshape(3, 3)), seen)
        worst_mm = max(worst_mm, np.abs(np.hypot(*(back - wall).T) - residual).max())
        if noise == 0.0:
            worst_exact = max(worst_exact, np.hypot(*(mapped(ours, wall) - photo).T).max())
            continue
        theirs, _ = cv2.findHomography(wall, seen, 0)
        cost = [((mapped(m, wall) - seen) ** 2).sum() for m in (ours, theirs)]
        worst_excess = max(worst_excess, cost[0] / cost[1] - 1.0)
        if cost[1] > cost[0] * (1 + 1e-6):
            n_less += 1  # theirs stopped before the least: nothing to be near to
            continue
        worst_apart = max(worst_apart, np.hypot(*(mapped(ours, wall) - mapped(theirs, wall)).T).max())
    if worst_exact > 1e-3:
        faults.append(f"exact points come back {worst_exact} px off")
    if n_less > len(cases) // 4:
        faults.append(f"OpenCV did not reach the least in {n_less} cases: the comparison says little")
    if worst_excess > 1e-6:
        faults.append(f"OpenCV leaves a smaller sum of squares, by {worst_excess}")
    if worst_apart > 0.1:
        faults.append(f"{worst_apart} px apart from OpenCV on noisy points")
    if worst_mm > 1e-3:
        faults.append(f"residuals in mm are {worst_mm} off")
    for fault in faults:
        print("FAULT", fault)
    print(f"wall map: {len(cases)} cases (seed {SEED}), exact to {worst_exact:.1e} px, against OpenCV {cv2.__version__} "
          f"{worst_apart:.1e} px apart, {n_less} times less squares than theirs, never more than {max(0.0, worst_excess):.0e} above, "
          f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
