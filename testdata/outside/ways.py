"""Makes README's pictures of other ways in and out: ways.py PROGRAM OUTDIR, with chromium and pdftoppm."""
import os
import subprocess
import sys
import tempfile

import cv2
import numpy as np

program, out = os.path.abspath(sys.argv[1]), sys.argv[2]
tmp = tempfile.mkdtemp()


def at(name):
    return os.path.join(tmp, name)


def run(*args):
    quiet = [] if args[0] in ("letters", "paper", "join") else ["--quiet"]
    subprocess.run([program, *args, *quiet], check=True, stdout=subprocess.DEVNULL)


def shrunk(name, img, wide=640):
    k = wide / img.shape[1]
    cv2.imwrite(os.path.join(out, name + ".jpg"), cv2.resize(img, None, fx=k, fy=k, interpolation=cv2.INTER_AREA), [cv2.IMWRITE_JPEG_QUALITY, 85])


def drawn(svg, wide, high):
    """The picture of an SVG file, by chromium, its lines two px wide at least."""
    text = open(svg).read().replace("<svg ", '<svg preserveAspectRatio="xMidYMid meet" ', 1)
    page = at("page.html")
    style = "svg{width:%dpx;height:%dpx} path,circle{vector-effect:non-scaling-stroke;stroke-width:2px}" % (wide, high)
    with open(page, "w") as f:
        f.write("<style>body{margin:0;background:#fff} %s</style>%s" % (style, text[text.index("<svg"):]))
    subprocess.run(["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--screenshot=" + at("page.png"),
                    "--window-size=%d,%d" % (wide, high), "file://" + page], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return cv2.imread(at("page.png"))


# A mug on a sheet with its two dots, on a table.
k = 8
sheet = np.full((210 * k, 297 * k, 3), 245, np.uint8)
dark = (60, 50, 40)
cv2.ellipse(sheet, (185 * k, 100 * k), (30 * k, 35 * k), 0, 0, 360, dark, -1, cv2.LINE_AA)
cv2.ellipse(sheet, (187 * k, 100 * k), (18 * k, 22 * k), 0, 0, 360, (245, 245, 245), -1, cv2.LINE_AA)
cv2.rectangle(sheet, (100 * k, 50 * k), (180 * k, 150 * k), dark, -1)
cv2.ellipse(sheet, (120 * k, 90 * k), (3 * k, 20 * k), 10, 0, 360, (170, 165, 160), -1, cv2.LINE_AA)
for x in (98, 198):
    cv2.circle(sheet, (x * k, 190 * k), 5 * k // 2, (20, 20, 20), -1, cv2.LINE_AA)
corners = np.float32([[0, 0], [297 * k, 0], [297 * k, 210 * k], [0, 210 * k]])
turn = cv2.getPerspectiveTransform(corners, np.float32([[300, 250], [3650, 330], [3750, 2700], [220, 2650]]))
photo = cv2.warpPerspective(sheet, turn, (4000, 3000), np.full((3000, 4000, 3), (60, 90, 130), np.uint8), borderMode=cv2.BORDER_TRANSPARENT)
photo = cv2.GaussianBlur(photo, (0, 0), 1.5).astype(float) + np.random.default_rng(2).normal(0, 4, photo.shape)
cv2.imwrite(at("mug.jpg"), np.clip(photo, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 92])
run("make", at("mug.jpg"), "-o", at("mug"), "--only", "pictures")
shrunk("thing", cv2.imread(at("mug/08-centreline.jpg")))

run("letters", "--fonts", "-o", at("fonts.svg"))
shrunk("fonts", drawn(at("fonts.svg"), 1800, 352), 900)
run("letters", "TEA", "Café", "--height", "60", "-o", at("tea.svg"))
run("make", at("tea.svg"), "-o", at("tea"), "--only", "pictures")
shrunk("letters", cv2.imread(at("tea/17-parts.png")))

run("demo", "-o", at("demo"), "--hold", "ears", "--only", "cutting")
shrunk("outlines", drawn(at("demo/outlines.svg"), 1280, 930))
subprocess.run(["pdftoppm", "-r", "110", "-png", "-singlefile", at("demo/dimensions.pdf"), at("dim")], check=True)
shrunk("dimensions", cv2.imread(at("dim.png")))

# A teapot over two sheets, in two photographs.
run("paper", "--sheets", "2x1", "-o", at("sheets.pdf"))
subprocess.run(["pdftoppm", "-r", "203.2", "-png", at("sheets.pdf"), at("sheet")], check=True)  # 8 px per mm
edge, k = 40, 8
wall = np.full(((210 + 2 * edge) * k, (2 * 297 + 2 * edge) * k, 3), (70, 85, 105), np.uint8)


def place(x, y):
    return int((edge + x) * k), int((edge + y) * k)


for name, x, y, turned in (("sheet-1.png", 0, 0, 0), ("sheet-2.png", 297.3, 0.8, 0.15)):
    img = cv2.imread(at(name))
    move = cv2.getRotationMatrix2D((0, 0), -turned, 1)
    move[:, 2] += np.array(place(x, y))
    shape = cv2.warpAffine(np.full(img.shape[:2], 255, np.uint8), move, wall.shape[1::-1])
    shade = cv2.GaussianBlur(cv2.dilate(shape, np.ones((5, 5))), (9, 9), 0)[..., None] / 255
    wall = (wall * (1 - 0.35 * shade)).astype(np.uint8)
    wall[shape > 128] = cv2.warpAffine(img, move, wall.shape[1::-1])[shape > 128]
pen = dict(color=(40, 30, 30), thickness=20, lineType=cv2.LINE_AA)
cv2.ellipse(wall, place(297, 114), (120 * k, 54 * k), 0, 0, 360, **pen)
cv2.ellipse(wall, place(297, 68), (60 * k, 17 * k), 0, 180, 360, **pen)
cv2.circle(wall, place(297, 44), 7 * k, **pen)
cv2.ellipse(wall, place(412, 112), (55 * k, 38 * k), 0, -112, 112, **pen)
cv2.polylines(wall, [np.array([place(*p) for p in ((186, 97), (140, 88), (110, 50), (88, 44))])], False, **pen)
cv2.polylines(wall, [np.array([place(*p) for p in ((181, 130), (125, 120), (84, 66), (88, 44))])], False, **pen)
rng = np.random.default_rng(4)
shots = []
for name, x, tilt, turn in (("left", 168, 14, 4), ("right", 440, 17, -6)):
    w, h, zoom = 3200, 2400, 7.6
    s, c, low = np.sin(np.radians(turn)), np.cos(np.radians(turn)), np.sin(np.radians(tilt)) / 430

    def see(px, py):
        dx, dy = px - x, py - 107
        u, v = c * dx - s * dy, s * dx + c * dy
        return w / 2 + zoom * u / (1 + v * low), h / 2 + zoom * v * np.cos(np.radians(tilt)) / (1 + v * low)

    places = [(x - 100, 20), (x + 100, 20), (x + 100, 190), (x - 100, 190)]
    view = cv2.getPerspectiveTransform(np.float32([place(*p) for p in places]), np.float32([see(*p) for p in places]))
    photo = cv2.warpPerspective(wall, view, (w, h), borderMode=cv2.BORDER_REPLICATE).astype(float)
    yy, xx = np.mgrid[0:h, 0:w]
    photo *= (0.75 + 0.3 * np.exp(-2 * (((xx - w * 0.3) / w) ** 2 + ((yy - h * 0.4) / h) ** 2)))[..., None] * np.array([0.88, 0.96, 1])
    photo = cv2.GaussianBlur(photo, (0, 0), 1) + rng.normal(0, 3, photo.shape)
    shots.append(np.clip(photo, 0, 255).astype(np.uint8))
    cv2.imwrite(at(name + ".jpg"), shots[-1], [cv2.IMWRITE_JPEG_QUALITY, 90])
run("join", at("left.jpg"), at("right.jpg"), "-o", at("whole.png"))
shrunk("sheets", np.hstack(shots))
shrunk("whole", cv2.imread(at("whole.png")))
