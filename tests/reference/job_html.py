#!/usr/bin/python3
# needs:
"""job.html in Chromium: opens from disk, steps and zooms, sends nothing, prints every panel, and axe-core (the version
npm gives, printed) finds no accessibility problem of serious or critical impact. Screenshots stay in
$BUILD/check-log/ for people."""
import glob
import io
import json
import os
import re
import subprocess
import sys
import tarfile
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import cv2
import numpy as np
from browser import Browser

BUILD = os.environ.get("BUILD", "build")
SW = os.path.join(BUILD, "stencilwright")
LOG = os.path.join(BUILD, "check-log")
faults, n_checks = [], 0


def check(is_good, what):
    global n_checks
    n_checks += 1
    if not is_good:
        faults.append(what)


def make_job(folder, picture, *options):
    job = os.path.join(folder, "job" + str(len(os.listdir(folder))))
    subprocess.run([SW, "cut", picture, "--width", "2.1m", "--out", job, "--quiet", *options], check=True)
    return job


def pixels(png):
    return cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR).astype(int)


def view(page):
    box = page.run("(function () { var b = document.getElementById('view').getBoundingClientRect();"
                   "return {x: b.left + scrollX, y: b.top + scrollY, width: b.width, height: b.height}; }())")
    return pixels(page.picture(box, whole=True))


def differs(a, b):
    return a.shape != b.shape or (abs(a - b).max(axis=2) > 24).mean() > 0.005


def check_passes(page, n_passes):
    full = view(page)
    page.run("document.getElementById('fewer').click()")
    less = view(page)
    check(differs(full, less), "one pass back changes the composite")
    check(f"of {n_passes}" in page.run("document.getElementById('saying').textContent"), "the page says which passes are shown")
    seen = []
    page.run("document.getElementById('every').click(); document.getElementById('more').click()")
    for k in range(n_passes):
        seen.append(view(page))
        page.run("document.getElementById('more').click()")
    check(all(differs(seen[i], seen[i + 1]) for i in range(n_passes - 1)), "every pass on changes the composite")
    check(not differs(full, seen[-1]), "the last pass on gives the whole artwork")
    page.run("document.getElementById('every').click(); document.querySelector('[data-pass=\"1\"]').click()")
    check(differs(full, view(page)), "switching off pass 1 changes the composite")
    page.run("document.getElementById('every').click()")


def box_of(page):
    return [float(v) for v in page.run("document.getElementById('art').getAttribute('viewBox')").split(" ")]


def middle(page):
    page.run("document.getElementById('view').scrollIntoView({block: 'center'})")
    return page.run("(function () { var b = document.getElementById('view').getBoundingClientRect();"
                    "return [b.left + b.width / 2, b.top + b.height / 2]; }())")


def check_keys_and_mouse(page):
    page.run("document.getElementById('view').focus()")
    whole = box_of(page)
    page.key("+", "+")
    near = box_of(page)
    check(near[2] < whole[2] * 0.7, "the plus key zooms")
    page.key("ArrowRight")
    check(box_of(page)[0] > near[0], "the right arrow moves right")
    page.key("0", "0")
    check(box_of(page) == whole, "the 0 key shows all")
    page.key(",", ",")
    check("of" in page.run("document.getElementById('saying').textContent"), "the comma key takes a pass back")
    page.key(".", ".")
    page.key("+", "+")
    x, y = middle(page)
    before = box_of(page)
    for kind, dx in (("mousePressed", 0), ("mouseMoved", -40), ("mouseReleased", -40)):
        page.call("Input.dispatchMouseEvent", type=kind, x=x + dx, y=y, button="left", buttons=1, clickCount=1)
    check(box_of(page)[0] > before[0], "dragging to the left moves the view right")
    page.call("Input.dispatchMouseEvent", type="mouseWheel", x=x, y=y, deltaX=0, deltaY=-200, modifiers=2)
    page.run("new Promise(function (done) { setTimeout(done, 200); })")
    check(box_of(page)[2] < before[2], "Ctrl and wheel zooms")
    page.key("0", "0")


def check_fingers(page):
    x, y = middle(page)
    before = box_of(page)
    for kind, d in (("touchStart", 30), ("touchMove", 50), ("touchMove", 80), ("touchEnd", None)):
        points = [] if d is None else [{"x": x - d, "y": y, "id": 1}, {"x": x + d, "y": y, "id": 2}]
        page.call("Input.dispatchTouchEvent", type=kind, touchPoints=points)
    check(box_of(page)[2] < before[2] * 0.8, "two fingers zoom")
    wide = page.run("[document.documentElement.scrollWidth, innerWidth]")
    check(wide[0] <= wide[1], f"no sideways scrolling at phone width: {wide}")
    page.run("document.getElementById('whole').click()")


def check_steps(page, n_panels):
    first = page.run("document.getElementById('now').textContent")
    n = page.run("document.querySelectorAll('#list input').length")
    check(n > n_panels, "a step for every panel")
    page.run("document.getElementById('done').click()")
    check(page.run("document.getElementById('now').textContent") != first, "a tick shows another next step")
    page.run("document.getElementById('back').click()")
    check(page.run("document.getElementById('now').textContent") == first, "a tick can be taken back")
    page.run("for (var i = 0; i < %d; i++) document.getElementById('done').click()" % n)
    check("every step is ticked" in page.run("document.getElementById('now').textContent"), "the end is said")
    page.run("for (var i = 0; i < %d; i++) document.getElementById('back').click()" % n)
    page.run("(function () { var a = document.getElementById('from-left'), b = document.getElementById('from-floor');"
             "a.value = '1200'; b.value = '400'; a.dispatchEvent(new Event('input', {bubbles: true})); }())")
    check("x 1160, y" in page.run("document.querySelector('#panels .at').textContent").replace("\xa0", " "), "places count from the wall once it is known")
    step = page.run("document.querySelector('#list .placed').closest('span:not(.placed)').innerText").replace("\xa0", " ")
    check(step.startswith("Mark its lower left corner on the wall: x 1200, y") and "Decide" not in step, f"the step about the place: {step}")


def check_quiet(page, path):
    asked = [e["request"]["url"] for e in page.seen("Network.requestWillBeSent")]
    out = [url for url in asked if not url.startswith("data:") and url != "file://" + os.path.abspath(path)]
    check(not out, f"nothing is fetched: {out[:3]}")
    errors = [e for e in page.seen("Runtime.consoleAPICalled") if e["type"] in ("error", "warning", "assert")]
    errors += page.seen("Runtime.exceptionThrown") + [e for e in page.seen("Log.entryAdded") if e["entry"]["level"] == "error"]
    check(not errors, f"no error in the console: {json.dumps(errors)[:300]}")


def check_print(page, job, folder):
    path = os.path.join(folder, "page.pdf")
    with open(path, "wb") as f:
        f.write(page.pdf())
    text = re.sub(r"\s+", " ", subprocess.run(["pdftotext", "-layout", path, "-"], check=True, capture_output=True, text=True).stdout)
    raw = re.sub(r"\s+", "", text)
    size = subprocess.run(["pdfinfo", path], check=True, capture_output=True, text=True).stdout
    check(re.search(r"Page size:\s+59[45]\.\d+ x 84[12]\.\d+ pts", size), "prints on A4")
    for panel in sorted(glob.glob(os.path.join(job, "cut", "pass-*.svg"))):
        name = os.path.basename(panel)[:-4]
        check("cut/" + name in raw, f"{name} is on the print")
    # nothing is cut off: no word reaches into the page's margin of 12 mm (34 pt), with one point of slack
    words = subprocess.run(["pdftotext", "-bbox", path, "-"], check=True, capture_output=True, text=True).stdout
    for left, right in re.findall(r'<word xMin="([-\d.]+)" yMin="[-\d.]+" xMax="([-\d.]+)"', words):
        if float(left) < 33.0 or float(right) > 595.3 - 33.0:
            check(False, f"a word is cut off in print: {left} to {right}")
            break


def fetch_axe():
    """The source of axe-core and its version, kept in the build folder; None where npm reaches no registry."""
    path = os.path.join(BUILD, "axe", "axe.min.js")
    if not os.path.exists(path):
        os.makedirs(os.path.dirname(path), exist_ok=True)
        try:
            made = subprocess.run(["npm", "pack", "--silent", "axe-core"], cwd=os.path.dirname(path), capture_output=True, text=True, timeout=60)
        except (OSError, subprocess.TimeoutExpired):
            return None
        if made.returncode != 0:
            return None
        archive = os.path.join(os.path.dirname(path), made.stdout.split()[-1])
        with tarfile.open(archive) as tar:
            data = tar.extractfile("package/axe.min.js").read()
        with open(path, "wb") as f:
            f.write(data)
    with open(path, encoding="utf-8") as f:
        source = f.read()
    return source, re.search(r"axe v([\d.]+)", source).group(1)


def check_axe(page, axe, where):
    page.run(axe[0] + "; true")
    found = json.loads(page.run("axe.run(document, {resultTypes: ['violations']}).then(function (r) { return JSON.stringify("
                                "r.violations.map(function (v) { return [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 120)]; })); })"))
    for violation in found:
        print(f"axe, {where}: {violation}")
    check(not [v for v in found if v[0] in ("serious", "critical")], f"axe finds nothing serious at {where}")


def check_page(browser, job, folder, axe, name):
    path = os.path.join(job, "job.html")
    with open(os.path.join(job, "job.json"), encoding="utf-8") as f:
        record = json.load(f)
    n_panels = sum(len(p["panels"]) for p in record["passes"])
    check(os.path.getsize(path) < 2_000_000, "the page is under 2 MB")
    for where, width, height, is_phone in (("desktop", 1280, 900, False), ("phone", 390, 844, True)):
        page = browser.open(path, width, height, is_phone)
        if name == "on-the-wall":
            size = page.run("[document.querySelector('.photo').naturalWidth, document.getElementById('from-left').value]")
            check(size == [1400, "2650"], f"wall picture and place are there: {size}")
        if axe:
            check_axe(page, axe, f"{name}, {where}")
        with open(os.path.join(LOG, f"job-html-{name}-{where}.png"), "wb") as f:
            f.write(page.picture(whole=False))
        check_passes(page, len(record["passes"]))
        if is_phone:
            check_fingers(page)
        else:
            check_keys_and_mouse(page)
            check_print(page, job, folder)
        check_steps(page, n_panels)
        check_quiet(page, path)


def hang(job):
    """The wall picture of the worked example goes into the page, and the place with it."""
    samples = os.path.join(BUILD, "samples")
    with open("samples/shed.wall", encoding="utf-8") as f:
        text = f.read().replace("wallphoto.jpg", os.path.abspath(os.path.join(samples, "wallphoto.jpg")))
    path = os.path.join(os.path.dirname(job), "shed.wall")
    with open(path, "w", encoding="utf-8") as f:
        f.write(text)
    subprocess.run([SW, "wall", path, job, "--into-job", "--quiet"], check=True)


def main():
    os.makedirs(LOG, exist_ok=True)
    axe = fetch_axe()
    if axe is None:
        print("axe-core is skipped: npm reaches no registry")
    with tempfile.TemporaryDirectory() as folder, Browser() as browser:
        heron = os.path.join(BUILD, "samples", "heron.png")
        whole, split = make_job(folder, heron), make_job(folder, heron, "--bed", "1200x800mm", "--passes", "4", "--key-windows", "--reuse", "--dry-time", "20")
        again = make_job(folder, heron)
        with open(os.path.join(whole, "job.html"), "rb") as a, open(os.path.join(again, "job.html"), "rb") as b:
            check(a.read() == b.read(), "the same job gives the same page")
        check_page(browser, whole, folder, axe, "whole")
        check_page(browser, split, folder, axe, "split")
        hang(split)
        check_page(browser, split, folder, axe, "on-the-wall")
    for fault in faults:
        print("FAULT", fault)
    print(f"job.html in Chromium: {n_checks} checks, {len(faults)} faults, axe-core {axe[1] if axe else 'skipped'}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
