package cutting

import (
	"math"

	"inkchannel/geom"
)

// A Layer is what is cut, drilled or followed in one go, in mm, y up.
type Layer struct {
	Name   string // of letters and -, as both formats take it
	Colour int    // 1 red, 3 green, 4 cyan, 5 blue, 6 magenta, 7 black, as DXF numbers the first colours
	Curves []geom.Curve
	Rings  []geom.Ring
	Holes  []Circle
}

// A Circle is a hole to drill.
type Circle struct {
	At       geom.Point
	Diameter float64
}

// A path is straight lines and arcs, one after another, as DXF's polylines have them.
type path struct {
	closed   bool
	vertices []vertex
}

// A vertex is where a line or an arc to the next begins. Its bulge is the tangent of a quarter of the
// arc's angle, over 0 anticlockwise with y up, 0 for a straight line.
type vertex struct {
	at    geom.Point
	bulge float64
}

// arcStray is how far, mm, arcs may stray from a curve.
const arcStray = 0.01

// pathOf is a curve as lines and arcs.
func pathOf(c geom.Curve) path {
	p := path{closed: c.Closed}
	for _, k := range c.Pieces {
		p.vertices = append(p.vertices, arcs(k, 0)...)
	}
	if n := len(c.Pieces); n > 0 && !c.Closed {
		p.vertices = append(p.vertices, vertex{at: c.Pieces[n-1][3]})
	}
	return p
}

// arcs is a cubic as arcs through its ends and middle, halved until they stray little.
func arcs(k geom.Cubic, depth int) []vertex {
	a, m, b := k[0], k.At(0.5), k[3]
	bulge := bulgeOf(a, m, b)
	fits := true
	for _, t := range []float64{0.2, 0.4, 0.6, 0.8} {
		fits = fits && offArc(a, b, bulge, k.At(t)) <= arcStray
	}
	if fits || depth > 12 {
		return []vertex{{a, bulge}}
	}
	return append(arcs(k.Between(0, 0.5), depth+1), arcs(k.Between(0.5, 1), depth+1)...)
}

// flat is the bulge below which an arc is a line: it strays by less than arcStray over a metre.
const flat = 1e-5

// bulgeOf is the bulge of the arc from a to b through m: its height over half its chord. The angle at m
// is 180 degrees less half of the arc's.
func bulgeOf(a, m, b geom.Point) float64 {
	u, v := m.Sub(a), b.Sub(m)
	bulge := math.Tan(math.Atan2(u.Cross(v), u.Dot(v)) / 2)
	if math.Abs(bulge) < flat {
		return 0
	}
	return bulge
}

// circle is the circle of an arc; r is below 0 for a clockwise one.
func circle(a, b geom.Point, bulge float64) (centre geom.Point, r float64) {
	chord := b.Sub(a)
	r = chord.Norm() * (1 + bulge*bulge) / 4 / bulge
	return a.Lerp(b, 0.5).Add(chord.Perp().Mul((1 - bulge*bulge) / 4 / bulge)), r
}

// offArc is how far a point is from the line or the circle of an arc.
func offArc(a, b geom.Point, bulge float64, p geom.Point) float64 {
	if bulge == 0 {
		f, _ := geom.Foot(a, b, p)
		return f.Dist(p)
	}
	c, r := circle(a, b, bulge)
	return math.Abs(p.Dist(c) - math.Abs(r))
}

func ringPath(r geom.Ring) path {
	p := path{closed: true}
	for _, q := range r {
		p.vertices = append(p.vertices, vertex{at: q})
	}
	return p
}

// extent is the box about all that is drawn and about a sheet of that size: what stands below its foot
// is outside.
func extent(layers []Layer, size geom.Point) geom.Rect {
	pts := []geom.Point{{}, size}
	for _, l := range layers {
		for _, c := range l.Curves {
			pts = append(pts, c.Flatten(arcStray)...)
		}
		for _, r := range l.Rings {
			pts = append(pts, r...)
		}
		for _, h := range l.Holes {
			r := geom.Pt(h.Diameter/2, h.Diameter/2)
			pts = append(pts, h.At.Sub(r), h.At.Add(r))
		}
	}
	return geom.Bounds(pts)
}

// paths are a layer's curves and rings.
func (l Layer) paths() []path {
	var out []path
	for _, c := range l.Curves {
		if p := pathOf(c); len(p.vertices) > 1 {
			out = append(out, p)
		}
	}
	for _, r := range l.Rings {
		out = append(out, ringPath(r))
	}
	return out
}
