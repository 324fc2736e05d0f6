#!/usr/bin/env python3
"""Reads a DXF file by ezdxf and prints, as JSON, what is on each layer: how many entities, the length
of all lines, the area inside the closed ones and inside the least, the circles, and the file's faults.

    readdxf.py FILE
"""
import json
import sys

from ezdxf import path, recover
from ezdxf.math import area

doc, audit = recover.readfile(sys.argv[1])
layers = {}
for e in doc.modelspace():
    of = layers.setdefault(e.dxf.layer, {"kinds": {}, "length": 0.0, "area": 0.0, "least": 0.0, "circles": []})
    of["kinds"][e.dxftype()] = of["kinds"].get(e.dxftype(), 0) + 1
    if e.dxftype() == "CIRCLE":
        of["circles"].append([e.dxf.center.x, e.dxf.center.y, 2 * e.dxf.radius])
        continue
    way = path.make_path(e)
    points = list(way.flattening(0.0005))
    of["length"] += sum(a.distance(b) for a, b in zip(points, points[1:]))
    if e.dxftype() == "POLYLINE" and e.is_closed:
        of["area"] += area(points)
        of["least"] = min(of["least"] or area(points), area(points))
print(json.dumps({"version": doc.dxfversion, "faults": [str(f.message) for f in audit.errors], "layers": layers}))
