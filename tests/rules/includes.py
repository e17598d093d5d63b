#!/usr/bin/python3
"""Stages know only the doors of stages before them.

A file of src/STAGE/ may include its own folder's headers, doors (src/EARLIER/EARLIER.h) of earlier stages and the
public headers of include/. An arrow to a later stage, a header of another folder that is not its door, a stage that is
not in the chain, and a path that climbs (..) are faults.
"""
import os
import re

import source

CHAIN = ["base", "picture", "separate", "sheet", "contour", "layout", "proof", "write", "job", "vector", "check", "wall",
         "cli"]
INCLUDE = re.compile(r'^[ \t]*#[ \t]*include[ \t]*"([^"]+)"', re.M)


def check_include(stage, header):
    if header.startswith("stencilwright/"):
        return None
    if ".." in header:
        return "climbs out of its folder"
    other = header.split("/")[0]
    if "/" not in header:
        return "does not say its folder"
    if other == stage:
        return None
    if other not in CHAIN:
        return f"{other} is no stage of the chain"
    if CHAIN.index(other) > CHAIN.index(stage):
        return f"an arrow back: {stage} comes before {other}"
    if header != f"{other}/{other}.h":
        return f"is private to src/{other}/"
    return None


def check(root):
    faults = []
    for path in source.files(root, ["src"], (".c", ".h")):
        stage = path.split(os.sep)[1]
        if stage not in CHAIN:
            faults.append(f"{path}: {stage} is no stage; add it to CHAIN in tests/rules/includes.py")
            continue
        text = source.without_comments(source.read(root, path), keep_strings=True)
        for header in INCLUDE.findall(text):
            wrong = check_include(stage, header)
            if wrong:
                faults.append(f'{path}: "{header}" {wrong}')
    for path in source.files(root, ["include"], (".h",)):
        for header in INCLUDE.findall(source.without_comments(source.read(root, path), keep_strings=True)):
            if not header.startswith("stencilwright/"):
                faults.append(f'{path}: a public header includes "{header}"')
    return faults


if __name__ == "__main__":
    source.main("includes", check)
