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
    subprocess.run([program, *args, "--quiet"] if args[0] != "letters" else [program, *args], check=True, stdout=subprocess.DEVNULL)


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
