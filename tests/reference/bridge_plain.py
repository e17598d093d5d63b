#!/usr/bin/python3
# needs: tests/reference/bridge_plain
"""Visible error of planned bridges against the plain rule (each island by its shortest gap).

Pictures of scikit-image's data folder, in place, at 2.1 m, three passes in tone and in colour. All errors together must
be at most 0.45 of the plain rule's; single pictures with a handful of bridges vary. Printed beside it: the geometric mean
of the ratios, each ratio, and the share of bridge area that a later pass hides.
Bridges that islands need alone: droop is off on both sides, since the plain rule knows nothing of it.
"""
import math
import os
import subprocess
import sys

import skimage

BUILD = os.environ.get("BUILD", "build")
PICTURES = ["astronaut.png", "chelsea.png", "coffee.png", "rocket.jpg"]


def main():
    program = os.path.join(BUILD, "bin/tests/reference/bridge_plain")
    folder = os.path.join(os.path.dirname(skimage.__file__), "data")
    ratios, hidden, sums = [], [], [0.0, 0.0]
    for picture in PICTURES:
        for kind in ("0", "1"):
            out = subprocess.run([program, os.path.join(folder, picture), "2100", "3", kind], check=True,
                                 capture_output=True, text=True).stdout.split()
            planned, plain = float(out[0]), float(out[1])
            ratios.append(planned / plain)
            sums = [sums[0] + planned, sums[1] + plain]
            hidden.append(float(out[6]))
    mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
    total = sums[0] / sums[1]
    print(f"bridge_plain: visible error {total:.3f} of the plain rule's (mean {mean:.3f}, each "
          f"{' '.join(f'{r:.2f}' for r in ratios)}), {sum(hidden) / len(hidden):.2f} of bridge area hidden, "
          f"scikit-image {skimage.__version__}")
    return 0 if total <= 0.45 else 1


if __name__ == "__main__":
    sys.exit(main())
