"""Sheets' places by scipy: adjust.py < JSON of {"size": [w, h], "photos": [[[sheet, x, y, px, py], ...], ...]},
where x, y are a mark's mm on its sheet and px, py where a photograph shows it, to JSON of sheet: [x, y, turn]."""
import json
import sys

import numpy as np
from scipy.optimize import least_squares

given = json.load(sys.stdin)
photos = [np.array(p) for p in given["photos"]]
sheets = sorted({int(r[0]) for p in photos for r in p})
first, rest = sheets[0], sheets[1:]


def split(v):
    views = v[: 8 * len(photos)].reshape(-1, 8)
    poses = {first: np.zeros(3), **dict(zip(rest, v[8 * len(photos):].reshape(-1, 3)))}
    return views, poses


def off(v):
    views, poses = split(v)
    out = []
    for g, p in zip(views, photos):
        u, w = (p[:, 3] - 2000) / 1000, (p[:, 4] - 1500) / 1000
        d = g[6] * u + g[7] * w + 1
        for sheet, mx, my, x, y in zip(p[:, 0], p[:, 1], p[:, 2], (g[0] * u + g[1] * w + g[2]) / d, (g[3] * u + g[4] * w + g[5]) / d):
            ax, ay, t = poses[int(sheet)]
            out += [x - ax - np.cos(t) * mx + np.sin(t) * my, y - ay - np.sin(t) * mx - np.cos(t) * my]
    return np.array(out)


start = []
for p in photos:  # each photograph some 10 px to a mm, over the middle of what it shows, as the sheets were laid
    start += [100, 0, given["over"][len(start) // 8][0], 0, 100, given["over"][len(start) // 8][1], 0, 0]
for s in rest:
    start += given["about"][str(s)]
best = least_squares(off, np.array(start, float), method="lm", xtol=1e-14, ftol=1e-14)
print(json.dumps({str(s): list(map(float, pose)) for s, pose in split(best.x)[1].items()}))
