#!/usr/bin/python3
"""The job checker itself: a hand-made job folder is good, and each thing broken in it by hand is reported.

References: as check_job.py.
"""
# needs:
import contextlib
import io
import json
import os
import sys
import tempfile

import cv2
import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import check_job  # noqa: E402

HEAD = ('<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" version="1.1" '
        'width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">\n')


def box(x, y, w, h):
    return f"M{x:g} {y:g}H{x + w:g}V{y + h:g}H{x:g}L{x:g} {y:g}Z"


def disc(x, y, r):
    k = round(0.5523 * r, 3)
    return (f"M{x + r:g} {y:g}C{x + r:g} {y + k:g} {x + k:g} {y + r:g} {x:g} {y + r:g}"
            f"C{x - k:g} {y + r:g} {x - r:g} {y + k:g} {x - r:g} {y:g}"
            f"C{x - r:g} {y - k:g} {x - k:g} {y - r:g} {x:g} {y - r:g}"
            f"C{x + k:g} {y - r:g} {x + r:g} {y - k:g} {x + r:g} {y:g}Z")


def layers_svg(d):
    return (HEAD.format(w=200, h=120) + '<g id="pass-1"><title>pass 1</title><path id="pass-1-openings" '
            f'fill="#404040" fill-rule="evenodd" d="{d}"/></g>\n</svg>\n')


def cut_svg(d):
    return (HEAD.format(w=240, h=160) + '<g id="cut" fill="none" stroke="#000" stroke-width="0.088">'
            f'<path d="{d}"/></g>\n<g id="outline" fill="none" stroke="#000" stroke-width="0.088">'
            f'<path d="{box(0, 0, 240, 160)}"/></g>\n<g id="marks"></g>\n</svg>\n')


def finger(x, y):
    """A box of 80 x 60 with a finger of material, 1 wide and 8 long, 2.8 beside its left wall: discs in the wall's
    material lie within reach of the finger's tip, but the finger does not hang there."""
    return f"M{x:g} {y:g}H{x + 80:g}V{y + 60:g}H{x + 3.8:g}V{y + 52:g}H{x + 2.8:g}V{y + 60:g}H{x:g}L{x:g} {y:g}Z"


class Job:
    """A good job: a box, a disc and a bar on a panel whose corner is at -20, -20; one mark in the frame."""

    shapes = [(box, 20, 20, 60, 50), (disc, 130, 60, 30), (box, 20, 90, 70, 4)]

    def __init__(self, extra=(), keep=True, mark=(disc, 10, 10, 3)):
        shapes = (self.shapes if keep else []) + list(extra)
        self.layer = " ".join(s[0](*s[1:]) for s in shapes)
        self.cut = " ".join(s[0](s[1] + 20, s[2] + 20, *s[3:]) for s in shapes) + " " + mark[0](*mark[1:])
        self.layers_text = layers_svg(self.layer)
        self.cut_text = cut_svg(self.cut)
        self.json = {"width_mm": 200, "height_mm": 120, "min_opening_mm": 3, "min_web_mm": 5, "ground": "#ffffff",
                     "good": True, "passes": [{"pass": 1, "paint": "#404040", "panels": [
                         {"name": "", "files": ["cut/pass-1.svg"], "width_mm": 240, "height_mm": 160,
                          "origin_mm": [-20, -20]}]}]}
        self.preview = None

    def write(self, folder):
        os.makedirs(os.path.join(folder, "cut"))
        for name, text in (("layers.svg", self.layers_text), ("cut/pass-1.svg", self.cut_text),
                           ("job.json", json.dumps(self.json))):
            with open(os.path.join(folder, name), "w", encoding="utf-8") as f:
                f.write(text)
        picture = self.preview
        if picture is None:  # the composite by hand: OpenCV's filler at 4 px/mm, averaged down
            big = np.full((960, 1600, 3), 255, np.uint8)
            rings = [check_job.flatten(s) * 8 - 0.5 for s, _ in check_job.parse_path(self.layer)]
            cv2.fillPoly(big, [np.round(r * 64).astype(np.int32) for r in rings], (64, 64, 64), cv2.LINE_8, 6)
            picture = cv2.resize(big, (800, 480), interpolation=cv2.INTER_AREA)
        cv2.imwrite(os.path.join(folder, "preview.png"), picture)


def faults_of(job, more=()):
    with tempfile.TemporaryDirectory() as folder:
        job.write(folder)
        args = check_job.arguments([folder, "--quiet", *more])
        with contextlib.redirect_stdout(io.StringIO()):
            return check_job.check(folder, args).lines


def swapped(job, attribute, old, new):
    text = getattr(job, attribute)
    assert old in text, (old, attribute)
    setattr(job, attribute, text.replace(old, new, 1))
    return job


def with_json(job, change):
    change(job.json)
    return job


def cases():
    """(what is broken, job, words that some fault line must have)"""
    yield "an island", Job([(disc, 130, 60, 12)]), "island of"
    yield "an island of half a millimetre", Job([(disc, 130, 60, 0.25)]), "island under 1 mm"
    yield "a web of 4 mm", Job([(box, 84, 20, 10, 50)]), "web narrower than 4.50 mm (neck)"
    yield "a web of 1 mm", Job([(box, 81, 20, 13, 50)]), "web narrower"
    yield "a slit", Job([(box, 20, 104, 60, 2)]), "opening narrower than 2.70 mm"
    yield "a speck", Job([(disc, 180, 20, 1)]), "opening narrower"
    yield "a thin frame", Job(mark=(disc, 6, 6, 3)), "web narrower"
    yield "no Z", swapped(Job(), "cut_text", "L40 40Z", "L40 40"), "open subpath"
    yield "ends that miss each other", swapped(Job(), "layers_text", "H20L20 20Z", "H20L20 20.002Z"), "open subpath"
    yield "a finger of material beside a large web", Job([(finger, 60, 30)], keep=False), "web narrower than 4.50 mm (spike)"
    yield "a relative command", swapped(Job(), "cut_text", "H40L40 40Z", "H40l0 -50Z"), "command 'l'"
    yield "an arc", swapped(Job(), "cut_text", "V90H40", "A5 5 0 0 0 90 90H40"), "command 'A'"
    yield "four decimals", swapped(Job(), "cut_text", "M40 40H100", "M40 40H100.0001"), "three decimals"
    yield "an exponent", swapped(Job(), "cut_text", "M40 40H100", "M40 40H1e2"), "expected"
    yield "a transform", swapped(Job(), "cut_text", '<g id="cut"', '<g id="cut" transform="scale(1)"'), "transform"
    yield "a foreign attribute", swapped(Job(), "layers_text", "<g id", '<g xmlns:v="urn:v" v:a="1" id'), "foreign"
    yield "a foreign element", swapped(Job(), "cut_text", '<g id="marks">', '<g id="marks"><rect width="1" height="1"/>'), \
        "element rect"
    yield "pixels", swapped(Job(), "cut_text", 'width="240mm"', 'width="240"'), "in mm"
    yield "another scale", swapped(Job(), "cut_text", 'viewBox="0 0 240 160"', 'viewBox="0 0 480 320"'), "viewBox"
    yield "outline first", swapped(swapped(swapped(Job(), "cut_text", 'id="cut"', 'id="x"'), "cut_text",
                                           'id="outline"', 'id="cut"'), "cut_text", 'id="x"', 'id="outline"'), "before"
    yield "filled cut lines", swapped(Job(), "cut_text", 'fill="none"', 'fill="#000"'), "filled"
    yield "a wrong id", swapped(Job(), "layers_text", 'id="pass-1-openings"', 'id="openings"'), "pass-1-openings"
    yield "no title", swapped(Job(), "layers_text", "<title>pass 1</title>", ""), "no title"
    yield "nonzero", swapped(Job(), "layers_text", "evenodd", "nonzero"), "evenodd"
    yield "another paint", swapped(Job(), "layers_text", "#404040", "#505050"), "#404040"
    yield "broken XML", swapped(Job(), "layers_text", "</g>", ""), "xmllint"
    yield "an opening that only the layer has", swapped(Job(), "cut_text", box(40, 110, 70, 4), ""), \
        "differ from layers.svg"
    yield "a file that is missing", with_json(Job(), lambda j: j["passes"][0]["panels"][0]["files"].append("cut/x.svg")), \
        "lists"
    yield "a job that is not good", with_json(Job(), lambda j: j.update(good=False)), "not good"
    yield "another size", with_json(Job(), lambda j: j["passes"][0]["panels"][0].update(width_mm=241)), "job.json says"
    blank = Job()
    blank.preview = np.full((480, 800, 3), 255, np.uint8)
    yield "a blank preview", blank, "pixels differ"
    no_json = Job()
    no_json.json = {}
    yield "no job.json to speak of", no_json, "cannot be used"
    if check_job.dtd_known():
        yield "an attribute that SVG 1.1 does not know", swapped(Job(), "layers_text", '<g id="pass-1"',
                                                                 '<g id="pass-1" colour="red"'), "xmllint"


def main():
    wrong = []
    n = 0
    for name, job, more in (("good", Job(), ["--no-chromium"]), ("good in both renderers", Job(), [])):
        n += 1
        found = faults_of(job, more)
        if found:
            wrong.append(f"{name}: {found}")
    for name, job, words in cases():
        n += 1
        found = faults_of(job, ["--no-chromium"])
        if not any(words in line for line in found):
            wrong.append(f"{name}: wanted {words!r}, got {found}")
    for line in wrong:
        print(line)
    print(f"test_check_job: {n - len(wrong)} of {n} job folders judged rightly")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
