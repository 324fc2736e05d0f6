package specimen

import (
	"math"
	"slices"

	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// Inked returns the network that an eye sees in strokes drawn with a pen of
// the given width (mm): strokes whose ends lie in another's ink meet it, what is
// shorter than the pen is wide is no stroke of its own, and a loop in which no
// paper shows, or but a speck, is none.
func Inked(strokes []geom.Polyline, pen float64) geom.Network {
	return inked(strokes, pen, pen)
}

// inked is Inked with another width for what fills loops of several lines, 0 for
// a pen that fills none.
func inked(strokes []geom.Polyline, pen, fill float64) geom.Network {
	snapped := snapEnds(strokes, 0.95*pen)
	lines := make([]*geos.Geom, 0, len(snapped))
	for _, s := range snapped {
		c := make([][]float64, len(s))
		for i, p := range s {
			c[i] = []float64{p.X, p.Y}
		}
		lines = append(lines, geos.NewLineString(c))
	}
	noded := geos.NewCollection(geos.TypeIDMultiLineString, lines).UnaryUnionPrec(0.001)
	g := &inkGraph{}
	parts := linesOf(noded.LineMerge())
	if fill > 0 {
		parts = opened(parts, fill)
	}
	for _, l := range parts {
		var pl geom.Polyline
		for _, c := range l.CoordSeq().ToCoords() {
			pl = append(pl, geom.Pt(c[0], c[1]))
		}
		g.add(pl)
	}
	g.contract(pen)
	return g.network()
}

// linesOf are the lines of a collection.
func linesOf(g *geos.Geom) []*geos.Geom {
	out := make([]*geos.Geom, g.NumGeometries())
	for i := range out {
		out[i] = g.Geometry(i).Clone()
	}
	return out
}

// speck is the area, mm², up to which paper that shows within ink is a place the
// pen missed, and no loop.
const speck = 0.25

// opened returns lines that meet at their ends less the longest side of each
// loop that a pen of the given width (mm) fills with ink, but for a speck.
func opened(lines []*geos.Geom, pen float64) []*geos.Geom {
	for {
		faces := geos.Polygonize(lines)
		drop := -1
		for i := range faces.NumGeometries() {
			if face := faces.Geometry(i); face.Buffer(-pen/2, 8).Area() < speck {
				drop = longestSide(face, lines)
				break
			}
		}
		if drop < 0 {
			return lines
		}
		rest := slices.Delete(lines, drop, drop+1)
		if len(rest) == 0 {
			return nil
		}
		for i, l := range rest { // a collection takes its parts over
			rest[i] = l.Clone()
		}
		lines = linesOf(geos.NewCollection(geos.TypeIDMultiLineString, rest).LineMerge())
	}
}

// longestSide is the longest of the lines that a face's outline is made of, −1
// if none is.
func longestSide(face *geos.Geom, lines []*geos.Geom) int {
	outline := face.ExteriorRing()
	best := -1
	for i, l := range lines {
		if outline.Covers(l) && (best < 0 || l.Length() > lines[best].Length()) {
			best = i
		}
	}
	return best
}

// snapEnds moves each stroke end that lies within tol of another part of the
// drawing onto it.
func snapEnds(strokes []geom.Polyline, tol float64) []geom.Polyline {
	out := make([]geom.Polyline, len(strokes))
	for i, s := range strokes {
		out[i] = dense(s, 1)
	}
	for i := range out {
		for _, end := range []bool{false, true} {
			p := out[i][0]
			if end {
				p = out[i][len(out[i])-1]
			}
			best, seg, at := tol, -1, -1
			var foot geom.Point
			for j, s := range out {
				for k := 1; k < len(s); k++ {
					if j == i && nearEnd(s, k, end, 2.5*tol) {
						continue
					}
					f, _ := geom.Foot(s[k-1], s[k], p)
					if d := f.Dist(p); d < best {
						best, seg, at, foot = d, k, j, f
					}
				}
			}
			if at < 0 {
				continue
			}
			out[at] = append(out[at][:seg:seg], append(geom.Polyline{foot}, out[at][seg:]...)...)
			if end {
				out[i] = append(out[i], foot)
			} else {
				out[i] = append(geom.Polyline{foot}, out[i]...)
			}
		}
	}
	return out
}

// nearEnd reports whether segment k of s lies within length of the end in
// question, measured along s.
func nearEnd(s geom.Polyline, k int, end bool, length float64) bool {
	if end {
		return s[k:].Length() < length
	}
	return s[:k].Length() < length
}

type inkGraph struct {
	at    []geom.Point
	edges []inkEdge
}

type inkEdge struct {
	a, b int
	len  float64
}

func (g *inkGraph) node(p geom.Point) int {
	for i, q := range g.at {
		if p.Dist(q) < 0.01 {
			return i
		}
	}
	g.at = append(g.at, p)
	return len(g.at) - 1
}

func (g *inkGraph) add(pl geom.Polyline) {
	g.edges = append(g.edges, inkEdge{g.node(pl[0]), g.node(pl[len(pl)-1]), pl.Length()})
}

// contract drops dead ends hidden in the ink and merges junctions nearer than
// a pen's width.
func (g *inkGraph) contract(pen float64) {
	for again := true; again; {
		again = g.straighten()
		deg := make([]int, len(g.at))
		for _, e := range g.edges {
			deg[e.a]++
			deg[e.b]++
		}
		for i, e := range g.edges {
			dead := (deg[e.a] == 1 && deg[e.b] > 2) || (deg[e.b] == 1 && deg[e.a] > 2)
			// A closed line shorter than the pen's own circumference leaves no
			// paper within.
			blot := e.a == e.b && e.len < math.Pi*pen
			inner := deg[e.a] > 2 && deg[e.b] > 2 && e.a != e.b
			if !(dead && e.len < pen || inner && e.len < pen || blot) {
				continue
			}
			g.edges = append(g.edges[:i:i], g.edges[i+1:]...)
			if inner {
				for j := range g.edges {
					if g.edges[j].a == e.b {
						g.edges[j].a = e.a
					}
					if g.edges[j].b == e.b {
						g.edges[j].b = e.a
					}
				}
			}
			again = true
			break
		}
	}
}

// straighten makes one edge of two that meet where nothing else does.
func (g *inkGraph) straighten() bool {
	at := make([][]int, len(g.at))
	for i, e := range g.edges {
		at[e.a] = append(at[e.a], i)
		at[e.b] = append(at[e.b], i)
	}
	for n, es := range at {
		if len(es) != 2 || es[0] == es[1] {
			continue
		}
		i, j := min(es[0], es[1]), max(es[0], es[1])
		far := func(e inkEdge) int {
			if e.a == n {
				return e.b
			}
			return e.a
		}
		g.edges[i] = inkEdge{far(g.edges[i]), far(g.edges[j]), g.edges[i].len + g.edges[j].len}
		g.edges = append(g.edges[:j:j], g.edges[j+1:]...)
		return true
	}
	return false
}

func (g *inkGraph) network() geom.Network {
	var n geom.Network
	for _, p := range g.at {
		n.Knots = append(n.Knots, geom.Knot{At: p})
	}
	for _, e := range g.edges {
		n.Strokes = append(n.Strokes, geom.Stroke{
			Runs: []geom.Polyline{{g.at[e.a], g.at[e.b]}}, Knots: []int{e.a, e.b},
		})
	}
	return n
}
