#!/usr/bin/python3
# needs: stencilwright
"""The main job on real pictures, judged by a program that shares no code with it (check_job.py: librsvg and OpenCV).

Pictures: scikit-image's own (Debian package python3-skimage, used in place): astronaut, coffee, chelsea, rocket, at
2.1 m, 3 passes, tone and colour. Every job must exit 0, and every sheet must be one piece, closed, and nowhere under 0.9
of min-web and min-opening. One job is also compared with preview.png by headless Chromium.
"""
import os
import shutil
import subprocess
import sys
import tempfile

import skimage

BUILD = os.environ.get("BUILD", "build")
DATA = os.path.join(os.path.dirname(skimage.__file__), "data")
HERE = os.path.dirname(os.path.abspath(__file__))


def main():
    faults = []
    folder = tempfile.mkdtemp()
    for picture in ("astronaut.png", "coffee.png", "chelsea.png", "rocket.jpg"):
        for how in ("tone", "colour"):
            name = f"{picture}-{how}"
            job = os.path.join(folder, name)
            cut = subprocess.run([f"{BUILD}/stencilwright", "cut", os.path.join(DATA, picture), "--width", "2.1m",
                                  "--passes", "3", "--separate", how, "--quiet", "--out", job],
                                 capture_output=True, text=True)
            if cut.returncode != 0:
                faults.append(f"{name}: exit status {cut.returncode}: {cut.stderr.strip()}")
                continue
            options = [] if name == "coffee.png-tone" else ["--no-chromium"]
            check = subprocess.run(["/usr/bin/python3", os.path.join(HERE, "check_job.py"), job, *options],
                                   capture_output=True, text=True)
            if check.returncode != 0:
                faults.append(f"{name}: " + "; ".join((check.stdout + check.stderr).strip().splitlines()[-3:]))
            shutil.rmtree(job)
    shutil.rmtree(folder)
    for fault in faults:
        print(fault)
    print(f"jobs_hold: scikit-image {skimage.__version__}, 8 jobs, {len(faults)} with faults")
    return 1 if faults else 0


sys.exit(main())
