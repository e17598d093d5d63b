#!/usr/bin/python3
"""A function with a cleanup label has one return, below it. A return or SW_TRY above the label leaks."""
import re

import source

OPEN = re.compile(r"^\{|\)[ \t]*\{[ \t]*$", re.M)
LEAVES = re.compile(r"\breturn\b|\bSW_TRY\b")


def functions(text):
    """(offset, body) of each block that opens at the left margin or ends a line at depth 0."""
    depth, start = 0, 0
    for match in re.finditer(r"[{}]", text):
        if match[0] == "{":
            if depth == 0:
                start = match.start()
            depth += 1
        else:
            depth = max(0, depth - 1)
            if depth == 0:
                yield start, text[start:match.end()]


def check_text(text):
    """Line numbers of what leaves early."""
    code = re.sub(r"(?m)^[ \t]*#.*$", lambda m: " " * len(m[0]), source.without_comments(text))
    out = []
    for start, body in functions(code):
        label = re.search(r"^[ \t]*cleanup[ \t]*:", body, re.M)
        if not label:
            continue
        for leave in LEAVES.finditer(body, 0, label.start()):
            out.append(code.count("\n", 0, start + leave.start()) + 1)
    return out


def check(root):
    return [f"{path}:{line}: leaves above cleanup:" for path in source.files(root, ["src", "tools", "tests"], (".c", ".h"))
            for line in check_text(source.read(root, path))]


if __name__ == "__main__":
    source.main("cleanup", check)
