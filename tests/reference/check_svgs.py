#!/usr/bin/python3
"""Drawings by other hands: none may crash the check, none may take over 5 s, and every answer is an answer.

Source: the Debian package openclipart-svg (public domain), every so many-th of its files in order of name, and the largest.
Where the package is not installed there is nothing to try, which is said and is no failure.
usage: check_svgs.py [NUMBER]   240 by default
"""
import glob
import json
import os
import resource
import subprocess
import sys

BUILD = os.environ.get("BUILD", "build")
SW = f"{BUILD}/stencilwright"
PATHS = "/usr/share/openclipart/svg/**/*.svg"
LIMIT_S = 5.0


def spent():
    """Processor time of all programs run so far: what a loaded machine adds is not theirs."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main():
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 240
    every = sorted(glob.glob(PATHS, recursive=True))
    if not every:
        print("check_svgs: openclipart-svg is not installed; nothing tried")
        return 0
    chosen = every[::max(1, len(every) // number)] + sorted(every, key=os.path.getsize)[-10:]
    wrong, slowest, verdicts, refused = 0, (0.0, ""), {}, 0
    for path in chosen:
        begun = spent()
        try:
            run = subprocess.run([SW, "check", "--json", path], capture_output=True, timeout=60, check=False)
        except subprocess.TimeoutExpired:
            print(f"{path}: still at work after a minute")
            wrong += 1
            continue
        took = spent() - begun
        slowest = max(slowest, (took, os.path.basename(path)))
        if took > LIMIT_S or run.returncode not in (0, 1, 2):
            print(f"{path}: exit {run.returncode} after {took:.1f} s {run.stderr[-300:]}")
            wrong += 1
        elif run.returncode == 2:
            refused += 1
            if not run.stderr.strip():
                print(f"{path}: refused without a word")
                wrong += 1
        else:
            answer = json.loads(run.stdout)
            verdicts[answer["verdict"]] = verdicts.get(answer["verdict"], 0) + 1
            if (answer["verdict"] == "no") != (run.returncode == 1):
                print(f"{path}: exit {run.returncode} with verdict {answer['verdict']}")
                wrong += 1
    print(f"check_svgs: {len(chosen)} drawings, {wrong} wrong, {refused} refused, verdicts {verdicts}, slowest {slowest[0]:.2f} s "
          f"({slowest[1]})")
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main())
