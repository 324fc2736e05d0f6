"""Distances between lines and areas of insets by shapely 1.8 (Debian's
python3-shapely). Reads JSON {lines: [[[x, y], …], …], width, inset}; prints the
distance of each two lines, and the area that is left of their widened outline
when it is inset."""
import json, sys
from shapely.geometry import LineString
from shapely.ops import unary_union

q = json.load(sys.stdin)
lines = [LineString(l) for l in q["lines"]]
body = unary_union([l.buffer(q["width"] / 2, 64) for l in lines])
json.dump({
    "distances": [[a.distance(b) for b in lines] for a in lines],
    "body": body.area,
    "inset": body.buffer(-q["inset"], 64).area,
}, sys.stdout)
