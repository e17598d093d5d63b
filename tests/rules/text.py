#!/usr/bin/python3
"""Rules that one look at the text decides.

length   a source file over 700 lines (a header that is mostly documentation may be longer: its code counts)
memory   malloc, calloc, realloc, strdup or free outside src/base/
locale   setlocale anywhere in the program; a floating-point conversion of printf in src/write/ or in sw_text_addf
words    notes to oneself (two well-known marks) and paths of somebody's machine, anywhere in the tree
"""
import re

import source

MOST_LINES = 700
MEMORY = re.compile(r"(?<![\w.>])(malloc|calloc|realloc|reallocarray|strdup|strndup|free)[ \t]*\(")
FLOATING = re.compile(r"%[-+ #0]*(?:\*|\d+)?(?:\.(?:\*|\d+)?)?(?:l|L)?[aAeEfFgG]")
STRING = re.compile(r'"(?:\\.|[^"\\\n])*"')
ADDF = re.compile(r"\bsw_text_addf\([^;]*;")
# put together here so that this file does not hold what it forbids
MARKS = ["TO" + "DO", "FIX" + "ME", "XX" + "X:"]
PATHS = ["/wo" + "rk/", "/ro" + "ot/", "/ho" + "me/[a-z]"]
WORDS = re.compile("|".join([rf"\b{m}\b" if m[-1].isalpha() else m for m in MARKS] + [rf"(?<![\w.])({p})" for p in PATHS]))


def line_of(text, offset):
    return text.count("\n", 0, offset) + 1


def check_length(path, text):
    body = source.without_comments(text) if path.endswith(".h") else text
    n = sum(1 for line in body.splitlines() if line.strip()) if path.endswith(".h") else len(text.splitlines())
    return [f"{path}: {n} lines; at {MOST_LINES} find the second noun"] if n > MOST_LINES else []


def check_memory(path, text):
    if path.startswith("src/base/") or not path.startswith(("src/", "include/")):
        return []
    code = source.without_comments(text)
    return [f"{path}:{line_of(code, m.start())}: {m[1]}; memory comes from sw_alloc_array and goes to sw_free"
            for m in MEMORY.finditer(code)]


def check_locale(path, text):
    if not path.startswith("src/"):
        return []
    code = source.without_comments(text, keep_strings=True)
    out = [f"{path}:{line_of(code, m.start())}: setlocale" for m in re.finditer(r"\bsetlocale\s*\(", code)]
    whole = code if path.startswith("src/write/") else ""
    for place, part in [(0, whole)] + [(m.start(), m[0]) for m in ADDF.finditer(code) if not whole]:
        for string in STRING.finditer(part):
            for m in FLOATING.finditer(string[0].replace("%%", "  ")):
                out.append(f"{path}:{line_of(code, place + string.start())}: {m[0]} writes a number as the locale "
                           "likes it; sw_text_add_number does not")
    return out


def check_words(path, text):
    return [f"{path}:{line_of(text, m.start())}: {m[0]!r}" for m in WORDS.finditer(text)]


def check(root):
    faults = []
    code = (".c", ".h")
    for path in source.files(root, ["src", "include", "tools", "tests"], code):
        text = source.read(root, path)
        faults += check_length(path, text) + check_memory(path, text) + check_locale(path, text)
    endings = code + (".md", ".py", ".sh", ".awk", ".1", ".txt", ".case", ".json", ".html", ".in", "Makefile", ".yml")
    for path in sorted(set(source.files(root, ["."], endings) + source.files(root, [".ci"], ("",)))):
        faults += check_words(path, source.read(root, path))
    return faults


if __name__ == "__main__":
    source.main("text", check)
