"""Shrinks a run's review images for README: pictures.py RUNDIR OUTDIR [OTHERDIR
STAGE]..., the image of STAGE from another run."""
import base64
import glob
import html
import os
import re
import sys

import cv2
import numpy as np

run, out = sys.argv[1:3]
files = {os.path.basename(f).split(".")[0]: f for f in glob.glob(os.path.join(run, "[0-9][0-9]-*"))}
for other, stage in zip(sys.argv[3::2], sys.argv[4::2]):
    files[stage] = glob.glob(os.path.join(other, stage + ".*"))[0]
for name, f in sorted(files.items()):
    img = cv2.imread(f)
    if name.startswith(("21-", "22-")):
        img = img[:img.shape[1] * 2 // 3]  # the page's upper part
    k = (900 if name[:2] in ("21", "22") else 640) / max(img.shape[:2])
    img = cv2.resize(img, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    cv2.imwrite(os.path.join(out, name + ".jpg"), img, [cv2.IMWRITE_JPEG_QUALITY, 85])
# The sign lit, as the page has it.
page = open(os.path.join(run, "review.html")).read()
data = re.search(r'id="lit".*?src="data:image/jpeg;base64,([^"]+)"', page, re.S).group(1).replace("&#43;", "+")
with open(os.path.join(out, "lit.jpg"), "wb") as f:
    f.write(base64.b64decode(data))
# Steps of assembly, as their page has them, found by what they say.
page = html.unescape(open(os.path.join(run, "assembly.html")).read())
steps = page.split('<section class="step"')[1:]
for name, say in (
    ("build-wires", "Cut the wires"), ("build-strip", "cut the strip as it shows"),
    ("build-board", "onto the channels and into their seats"), ("build-stand", "put the tenon in"),
):
    step = next(s for s in steps if say in s)
    data = base64.b64decode(re.search(r'data:image/jpeg;base64,([^"]+)"', step).group(1))
    img = cv2.imdecode(np.frombuffer(data, np.uint8), 1)
    img = cv2.resize(img, None, fx=640 / img.shape[1], fy=640 / img.shape[1], interpolation=cv2.INTER_AREA)
    cv2.imwrite(os.path.join(out, name + ".jpg"), img, [cv2.IMWRITE_JPEG_QUALITY, 85])
