"""Thins pictures that scikit-image ships, by scikit-image and by OpenCV.

Usage: thinning.py OUTDIR. For each picture NAME it writes NAME.mask.png (what
is thinned), NAME.guohall.png (skimage.morphology.thin: Guo and Hall 1989),
NAME.skeletonize.png (skimage.morphology.skeletonize: Zhang and Suen 1984) and
NAME.opencv.png (cv2.ximgproc.thinning, Guo-Hall). Prints the names.
"""
import os
import sys

import cv2
import numpy as np
import skimage.data
from skimage import filters, io, morphology

out = sys.argv[1]
folder = os.path.dirname(skimage.data.__file__)
# Dark things on light ground, and the other way round.
for name, dark in [("horse", True), ("bw_text", False), ("text", True), ("page", True),
                   ("coins", False), ("microaneurysms", True), ("phantom", False), ("checker_bilevel", False)]:
    img = io.imread(os.path.join(folder, name + ".png"))
    if img.ndim == 3:
        img = img[..., :3].mean(axis=2)
    if img.dtype == bool:
        img = img.astype(np.uint8) * 255
    level = filters.threshold_otsu(img)
    mask = img < level if dark else img > level
    # A rim of background: OpenCV leaves the outermost pixels alone.
    mask = np.pad(mask, 2)

    def save(kind, m):
        io.imsave(os.path.join(out, f"{name}.{kind}.png"), m.astype(np.uint8) * 255, check_contrast=False)

    save("mask", mask)
    save("guohall", morphology.thin(mask))
    save("skeletonize", morphology.skeletonize(mask))
    save("opencv", cv2.ximgproc.thinning(mask.astype(np.uint8) * 255, thinningType=cv2.ximgproc.THINNING_GUOHALL) > 0)
    print(name)
