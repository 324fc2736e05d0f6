"""Shrinks a run's review images for README: pictures.py RUNDIR OUTDIR."""
import glob
import os
import sys

import cv2

for f in sorted(glob.glob(os.path.join(sys.argv[1], "[0-9][0-9]-*"))):
    img = cv2.imread(f)
    k = 640 / max(img.shape[:2])
    img = cv2.resize(img, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    name = os.path.splitext(os.path.basename(f))[0] + ".jpg"
    cv2.imwrite(os.path.join(sys.argv[2], name), img, [cv2.IMWRITE_JPEG_QUALITY, 85])
