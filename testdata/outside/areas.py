"""Buffers polylines by shapely. Reads JSON from standard input:
{"lines": [[[x, y], ...], ...], "radius": r, "quarter": n}; prints the area and
the number of holes as JSON."""
import json
import sys

from shapely.geometry import MultiLineString

q = json.load(sys.stdin)
g = MultiLineString(q["lines"]).buffer(q["radius"], resolution=q["quarter"])
parts = list(getattr(g, "geoms", [g]))
print(json.dumps({"area": g.area, "holes": sum(len(p.interiors) for p in parts)}))
