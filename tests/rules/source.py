"""What the rules share: the tree, and C text without comments and strings. Standard library only."""
import os
import re
import sys

CODE = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'', re.S)


def without_comments(text, keep_strings=False):
    """Comments (and what strings hold) become spaces; lines stay where they are."""
    def blank(match):
        token = match[0]
        if token[0] == "/":
            return re.sub(r"[^\n]", " ", token)
        return token if keep_strings else token[0] + " " * (len(token) - 2) + token[-1]
    return CODE.sub(blank, text)


def files(root, folders, endings):
    """Paths below root, '/'-separated, sorted; build folders, caches and hidden folders left out."""
    out = []
    for folder in folders:
        for place, names, found in os.walk(os.path.join(root, folder)):
            names[:] = sorted(n for n in names if not n.startswith((".", "build")) and n != "__pycache__")
            out += [os.path.relpath(os.path.join(place, f), root) for f in sorted(found) if f.endswith(endings)]
    return out


def read(root, path):
    with open(os.path.join(root, path), encoding="utf-8", errors="replace") as f:
        return f.read()


def finish(rule, faults):
    """Print, and the exit status."""
    for fault in faults:
        print(f"{rule}: {fault}")
    return 1 if faults else 0


def root_of(argv):
    here = os.path.dirname(os.path.abspath(__file__))
    return argv[1] if len(argv) > 1 else os.path.dirname(os.path.dirname(here))


def main(rule, check):
    sys.exit(finish(rule, check(root_of(sys.argv))))
