"""Time the reference thinnings on one picture.

Usage: thinspeed.py MASK.png. Prints seconds: skimage.morphology.thin (Guo and
Hall 1989), skimage.morphology.skeletonize (Zhang and Suen 1984), and
cv2.ximgproc.thinning (Guo and Hall). The best of two runs each.
"""
import sys
import time

import cv2
import numpy as np
from skimage import morphology

mask = cv2.imread(sys.argv[1], cv2.IMREAD_GRAYSCALE) > 0


def best(f):
    times = []
    for _ in range(2):
        start = time.perf_counter()
        f()
        times.append(time.perf_counter() - start)
    return min(times)


print(
    best(lambda: morphology.thin(mask)),
    best(lambda: morphology.skeletonize(mask)),
    best(lambda: cv2.ximgproc.thinning(mask.astype(np.uint8) * 255, thinningType=cv2.ximgproc.THINNING_GUOHALL)),
)
