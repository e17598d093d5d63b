#!/usr/bin/python3
"""Every header compiles alone, with each compiler there is, as C11 without a warning."""
import os
import re
import shutil
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor

import source

FLAGS = ["-std=c11", "-fsyntax-only", "-Wall", "-Wextra", "-Werror", "-Wno-unused-function",
         "-D_POSIX_C_SOURCE=200809L", '-DSW_VERSION="0"']


def check(root):
    headers = source.files(root, ["src", "include"], (".h",))
    compilers = [c for c in ("gcc", "clang") if shutil.which(c)]
    try:
        cflags = subprocess.run(["pkg-config", "--cflags", "libpng", "libjpeg", "lcms2", "cairo", "expat"],
                                capture_output=True, text=True, check=False).stdout.split()
    except OSError:
        cflags = []
    includes = [f"-I{os.path.join(root, d)}" for d in ("include", "src")]

    def compile_alone(job):
        compiler, header, folder = job
        name = os.path.join(folder, re.sub(r"\W", "_", header) + ".c")
        with open(name, "w", encoding="utf-8") as f:
            f.write(f'#include "{header.split("/", 1)[1]}"\n#include "{header.split("/", 1)[1]}"\n')
        run = subprocess.run([compiler, *FLAGS, *cflags, *includes, name], capture_output=True, text=True, check=False)
        if run.returncode == 0:
            return None
        first = next((line for line in run.stderr.splitlines() if "error" in line), run.stderr.strip()[:200])
        return f"{header} does not compile alone with {compiler}: {first}"

    faults = [] if compilers else ["neither gcc nor clang is there"]
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(2) as pool:
        faults += [f for f in pool.map(compile_alone, [(c, h, folder) for h in headers for c in compilers]) if f]
    return faults


if __name__ == "__main__":
    source.main("headers", check)
