#!/usr/bin/python3
# needs:
"""`wall` on photographs made here: what is painted must cover each pixel as much as 12 x 12 samples of an independent
map (OpenCV's getPerspectiveTransform) say, keep the wall's light, leave transparent parts alone, and come out the same
from a photograph that a phone has stored lying on its side (Exif orientation 6, CIPA DC-008)."""
import os
import struct
import subprocess
import sys
import tempfile

import cv2
import numpy as np

BUILD = os.environ.get("BUILD", "build")
SW = os.path.abspath(os.path.join(BUILD, "stencilwright"))
WIDTH, HEIGHT = 900, 640
WALL_MM = np.array([[0, 3000], [5000, 3000], [5000, 0], [0, 0]], np.float32)
PHOTO_PX = np.array([[60.5, 80.25], [842.0, 30.5], [815.75, 610.0], [95.0, 520.5]], np.float32)
PLACE = (1500.0, 700.0, 2400.0, 1600.0)  # left, floor, width, height in mm
PAINT = (210, 60, 40)
faults, n_checks = [], 0


def check(is_good, what):
    global n_checks
    n_checks += 1
    if not is_good:
        faults.append(what)


def linear(v):
    v = np.asarray(v, float) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def write_rgb(path, rgb):
    cv2.imwrite(path, rgb[..., ::-1])


def read_rgb(path):
    return cv2.imread(path, cv2.IMREAD_COLOR)[..., ::-1]


def write_lying_jpeg(path, rgb):
    """The picture turned a quarter to the left, with the Exif tag that says how to put it upright."""
    _, data = cv2.imencode(".jpg", cv2.rotate(rgb, cv2.ROTATE_90_COUNTERCLOCKWISE)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 98])
    tiff = b"MM\x00*" + struct.pack(">IH", 8, 1) + struct.pack(">HHIHH", 0x0112, 3, 1, 6, 0) + struct.pack(">I", 0)
    block = b"Exif\x00\x00" + tiff
    with open(path, "wb") as f:
        f.write(data.tobytes()[:2] + b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block + data.tobytes()[2:])


def expected_cover():
    """Share of each pixel that the left half of the artwork covers."""
    back = np.linalg.inv(cv2.getPerspectiveTransform(WALL_MM, PHOTO_PX))
    n = 12
    at = (np.arange(WIDTH * n) + 0.5) / n, (np.arange(HEIGHT * n) + 0.5) / n
    cover = np.zeros((HEIGHT, WIDTH))
    for row in range(HEIGHT):
        y = at[1][row * n:(row + 1) * n, None]
        w = back[2, 0] * at[0] + back[2, 1] * y + back[2, 2]
        wx = (back[0, 0] * at[0] + back[0, 1] * y + back[0, 2]) / w
        wy = (back[1, 0] * at[0] + back[1, 1] * y + back[1, 2]) / w
        inside = (wx >= PLACE[0]) & (wx < PLACE[0] + PLACE[2] / 2) & (wy >= PLACE[1]) & (wy < PLACE[1] + PLACE[3])
        cover[row] = inside.reshape(n, WIDTH, n).mean(axis=(0, 2))
    return cover


def run(folder, photo, out):
    points = "".join(f"point {p[0]} {p[1]} {w[0]} {w[1]}\n" for p, w in zip(PHOTO_PX.tolist(), WALL_MM.tolist()))
    with open(os.path.join(folder, "a.wall"), "w", encoding="ascii") as f:
        f.write(f"wall 5000 3000\nartwork {PLACE[0]} {PLACE[1]}\nphoto {photo}\nin-front front.png\n{points}")
    made = subprocess.run([SW, "wall", "a.wall", "art.png", "--width", str(PLACE[2]), "--out", out, "--replace", "--plain", "--grid", "500mm"],
                          cwd=folder, capture_output=True, text=True)
    check(made.returncode == 0, f"wall ends well: {made.stderr}")
    return read_rgb(os.path.join(folder, out))


def main():
    rng = np.random.default_rng(5)
    with tempfile.TemporaryDirectory() as folder:
        art = np.zeros((800, 1200, 4), np.uint8)
        art[:, :600] = PAINT[::-1] + (255,)
        cv2.imwrite(os.path.join(folder, "art.png"), art)
        front = np.zeros((HEIGHT, WIDTH, 3), np.uint8)
        front[:, 700:] = 255  # a post at the right, where nothing of the painted half is
        write_rgb(os.path.join(folder, "front.png"), front)
        flat = np.full((HEIGHT, WIDTH, 3), 150, np.uint8)
        write_rgb(os.path.join(folder, "flat.png"), flat)
        got = run(folder, "flat.png", "flat-wall.png")
        cover = expected_cover()
        ours = (linear(got[..., 0]) - linear(150)) / (linear(PAINT[0]) - linear(150))
        window = cv2.boxFilter((cover > 0).astype(float), -1, (9, 9)) > 0  # the person stands farther off
        inside, edge = window & (cover == 1), window & (cover > 0) & (cover < 1)
        inside = cv2.erode(inside.astype(np.uint8), np.ones((3, 3))).astype(bool)
        check(np.abs(got[inside].astype(int) - PAINT).max() <= 2, "paint is the paint's colour on a lit wall")
        outside = window & (cv2.dilate((cover > 0).astype(np.uint8), np.ones((5, 5))) == 0)
        check(np.abs(got[outside].astype(int) - 150).max() <= 1, "bare wall stays as it is")
        bias = (ours - cover)[window].sum() / edge.sum()
        spread = np.abs(ours - cover)[edge].mean()
        check(abs(bias) < 0.02, f"edges lie where they should: {bias:.4f} px off on average")
        check(spread < 0.12, f"edge pixels are covered as they should be: {spread:.3f}")
        # light that falls from the left, and grain
        light = np.linspace(0.9, 0.35, WIDTH)[None, :] * np.clip(rng.normal(1, 0.05, (HEIGHT, WIDTH)), 0.8, 1.2)
        lit = np.clip(np.repeat(linear(200) * light[..., None], 3, axis=2), 0, 1)
        shaded = np.round(255 * np.where(lit <= 0.0031308, lit * 12.92, 1.055 * lit ** (1 / 2.4) - 0.055)).astype(np.uint8)
        write_rgb(os.path.join(folder, "shaded.png"), shaded)
        got = run(folder, "shaded.png", "shaded-wall.png")
        ratio = linear(got[inside])[:, 0] / linear(shaded[inside])[:, 0]
        check(ratio.std() / ratio.mean() < 0.01, f"paint takes the wall's light: {ratio.std() / ratio.mean():.4f}")
        write_lying_jpeg(os.path.join(folder, "phone.jpg"), shaded)
        phone = run(folder, "phone.jpg", "phone-wall.png")
        check(phone.shape == got.shape and np.abs(phone.astype(int) - got)[:, :700].mean() < 3.0, "a phone's lying photograph gives the same")
    for fault in faults:
        print("FAULT", fault)
    print(f"wall on photographs (OpenCV {cv2.__version__}): {n_checks} checks, edges {bias:+.4f} px off on average, "
          f"cover of edge pixels to {spread:.3f}, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
