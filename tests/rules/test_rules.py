#!/usr/bin/python3
"""Every rule fails on a small bad example and holds on the same example mended."""
import os
import sys
import tempfile

import cleanup
import comments
import headers
import includes
import text

DOOR = '/*\n * Owls. *out is untouched unless SW_OK; free with sw_owl_free.\n */\n#ifndef SW_OWL_H\n#define SW_OWL_H\n'
END = "\n#endif\n"


def door(body):
    return {"src/sheet/sheet.h": DOOR + body + END}


# rule, what is wrong with it, {file: text} that must fail, {file: text} that must hold
CASES = [
    (includes, "an arrow back", {"src/sheet/a.c": '#include "proof/proof.h"\n'},
     {"src/sheet/a.c": '#include "picture/picture.h"\n'}),
    (includes, "a second door", {"src/proof/a.c": '#include "sheet/bridge.h"\n'},
     {"src/sheet/a.c": '#include "sheet/bridge.h"\n'}),
    (includes, "write knows job", {"src/write/a.c": '#include "job/job.h"\n'},
     {"src/job/a.c": '#include "write/write.h"\n'}),
    (includes, "a path that climbs", {"src/job/a.c": '#include "../base/base.h"\n'},
     {"src/job/a.c": '#include "base/base.h"\n/* #include "../base/base.h" */\n'}),
    (includes, "no folder", {"src/job/a.c": '# include "job.h"\n'}, {"src/job/a.c": '#include <math.h>\n'}),
    (includes, "an unknown stage", {"src/owls/a.c": "int a;\n"}, {"src/base/a.c": "int a;\n"}),
    (includes, "a public header that shows the inside", {"include/stencilwright/a.h": '#include "base/base.h"\n'},
     {"include/stencilwright/a.h": '#include "stencilwright/status.h"\n',
      "src/base/a.c": '#include "stencilwright/a.h"\n'}),
    (headers, "a header that needs another before it", {"src/base/a.h": "size_t owl(void);\n"},
     {"src/base/a.h": "#include <stddef.h>\nsize_t owl(void);\n"}),
    (headers, "a header without a guard", {"src/base/a.h": "struct owl { int n; };\n"},
     {"src/base/a.h": "#ifndef A\n#define A\nstruct owl { int n; };\n#endif\n"}),
    (cleanup, "return above the label", {"src/a/a.c": "int f(void)\n{\n    if (g()) return 1;\ncleanup:\n    return 0;\n}\n"},
     {"src/a/a.c": "int f(void)\n{\n    /* return */\n    if (g()) goto cleanup;\ncleanup:\n    return 0;\n}\n"
                   "int h(void)\n{\n    return 2;\n}\n"}),
    (cleanup, "SW_TRY above the label",
     {"src/a/a.c": "int f(void)\n{\n    SW_TRY(g());\n  cleanup:\n    return 0;\n}\n"},
     {"src/a/a.c": "#define T(x) do { return x; } while (0)\nint f(void)\n{\n    SW_TRY(g());\n    return 0;\n}\n"}),
    (comments, "no comment", door("int sw_owl_count(void);\n"), door("/** How many owls there are. */\nint sw_owl_count(void);\n")),
    (comments, "a status nobody explains",
     {"src/sheet/sheet.h": "/* Owls. */\n/** Count. */\nsw_status sw_owl_count(int *out);\n"},
     {"src/sheet/sheet.h": "/* Owls. */\n/** Count. Returns SW_OK, SW_IO. */\nsw_status sw_owl_count(int *out);\n"}),
    (comments, "nobody told to free",
     {"src/sheet/sheet.h": "/* Owls. SW_OK. */\n/** Make. */\nsw_status sw_owl_make(sw_owl **out);\n"},
     {"src/sheet/sheet.h": "/* Owls. SW_OK. */\n/** Make; free with sw_owl_free. */\nsw_status sw_owl_make(sw_owl **out);\n"
                           "\nvoid sw_owl_free(sw_owl *owl);\n"}),
    (comments, "a length without unit", door("/** Widen. */\nvoid sw_owl_widen(double width);\n"),
     door("/** Widen. */\nvoid sw_owl_widen(double width_mm);\n/** Same. tone: 0..1. */\nvoid sw_owl_paint(double tone);\n")),
    (text, "a file too long", {"src/a/a.c": "int a;\n" * 701}, {"src/a/a.c": "int a;\n" * 700}),
    (text, "a header with too much code", {"src/a/a.h": "int a;\n" * 701}, {"src/a/a.h": "/* more */\n" * 701}),
    (text, "malloc", {"src/sheet/a.c": "void *p = malloc (3);\n"}, {"src/base/a.c": "void *p = malloc(3);\n"}),
    (text, "free", {"src/sheet/a.c": "free(p);\n"},
     {"src/sheet/a.c": 'sw_free(p); x->free(p); /* free(p) */ puts("free(p)");\n'}),
    (text, "setlocale", {"src/cli/a.c": 'setlocale(LC_ALL, "");\n'}, {"src/cli/a.c": "/* no setlocale( here */\n"}),
    (text, "%f in a file", {"src/write/a.c": 'sprintf(s, "%.3f", x);\n'}, {"src/write/a.c": 'sprintf(s, "100%% of %zu", n);\n'}),
    (text, "%g in a text", {"src/job/a.c": 'sw_text_addf(out, "%d %g",\n             1, x);\n'},
     {"src/job/a.c": 'sw_fail(note, SW_IO, "%.1f mm", x);\n'}),
    (text, "a note to oneself", {"README.md": "TO" + "DO: owls\n"}, {"README.md": "Todos los owls\n"}),
    (text, "a machine's path", {"tests/a.sh": "cd /ro" + "ot/x\n"}, {"tests/a.sh": "cd src/root/x; ls rel/work/x\n"}),
]


def faults_of(rule, tree):
    with tempfile.TemporaryDirectory() as root:
        for path, content in tree.items():
            os.makedirs(os.path.dirname(os.path.join(root, path)) or root, exist_ok=True)
            with open(os.path.join(root, path), "w", encoding="utf-8") as f:
                f.write(content)
        return rule.check(root)


def main():
    wrong = 0
    for rule, what, bad, good in CASES:
        if not faults_of(rule, bad):
            print(f"test_rules: {rule.__name__} overlooks {what}")
            wrong += 1
        held = faults_of(rule, good)
        if held:
            print(f"test_rules: {rule.__name__} complains without cause beside {what}: {held}")
            wrong += 1
    print(f"test_rules: {len(CASES)} bad examples, {wrong} judged wrongly")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
