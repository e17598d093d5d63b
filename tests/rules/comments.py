#!/usr/bin/python3
"""Every public function has a comment, and the comment says what a caller needs.

Public: declared in include/ or in a stage's door (src/STAGE/STAGE.h). A comment stands directly above the declaration,
behind it on its line, or above a group of declarations without a blank line between them. Free functions may stand in
any group. Of every door that hands something over:

- a function that returns sw_status: its comment, or the door's opening comment, names a status ("Returns SW_OK ...");
- a function that makes something its caller frees: comment or door names the free function (..._free, sw_free);
- a function with a double parameter: the parameter's name carries its unit or is a ratio or plain number by comment.
"""
import re

import source

DECLARATION = re.compile(r"^(?!typedef|#|static inline|struct|enum|extern|[}{ \t])[A-Za-z_][^;{}()]*\b(sw_\w+)\([^;{}]*\)"
                         r"[^;{}]*;", re.M)
LENGTH = re.compile(r"\bdouble (\w+)")
UNITS = ("_mm", "_mm2", "_px", "_px_per_mm", "_px_per_px", "_rad", "_mm_s", "_ratio", "_min", "_deg", "_m2")

PLAIN = ("v", "value")  # numbers without a unit


def blocks(text):
    """(comment, [declarations]) of each paragraph; a paragraph ends at a blank line outside comments. Functions right
    after the type they are for share its comment."""
    blanked = re.sub(r"/\*.*?\*/", lambda m: m[0].replace("\n\n", "\n \n").replace("\n *\n", "\n * \n"), text, flags=re.S)
    of_type = ""
    for paragraph in re.split(r"\n[ \t]*\n", blanked):
        comments = " ".join(re.findall(r"/\*.*?\*/", paragraph, re.S))
        code = source.without_comments(paragraph)
        yield comments or of_type, list(DECLARATION.finditer(code))
        of_type = comments if "typedef" in code else ""


def check_text(text):
    faults = []
    first = re.match(r"\s*/\*.*?\*/", text, re.S)
    opening = first[0] if first else ""
    if not opening:
        faults.append("no opening comment that says what the door is for")
    for comment, declarations in blocks(text[len(opening):]):
        for d in declarations:
            name, whole = d[1], re.sub(r"\s+", " ", d[0])
            if name.endswith("_free"):
                continue
            if not comment.strip():
                faults.append(f"{name} has no comment")
                continue
            if re.search(r"\bsw_status sw_", whole) and "SW_" not in comment + opening:
                faults.append(f"{name}: neither its comment nor the door says what it returns")
            if re.search(r"\b(sw_\w+ \*\*|void \*\*|char \*\*)out\b|^char \*", whole) and "free" not in comment + opening:
                faults.append(f"{name}: nobody is told to free what it makes")
            for parameter in LENGTH.findall(whole[whole.index("("):]):
                if parameter not in PLAIN and not parameter.endswith(UNITS) and not re.search(rf"\b{parameter}\b", comment):
                    faults.append(f"{name}: {parameter} has no unit in its name and none in the comment")
    return faults


def is_door(path):
    parts = path.split("/")
    return parts[0] == "include" or (len(parts) == 3 and parts[2] == parts[1] + ".h")


def check(root):
    return [f"{path}: {fault}" for path in source.files(root, ["include", "src"], (".h",)) if is_door(path)
            for fault in check_text(source.read(root, path))]


if __name__ == "__main__":
    source.main("comments", check)
