package solid

import (
	"fmt"
	"math"
	"runtime"

	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// canonical is ring r from its least point on, towards the lesser of that
// point's neighbours.
func canonical(r geom.Ring) geom.Ring {
	less := func(p, q geom.Point) bool { return p.X < q.X || p.X == q.X && p.Y < q.Y }
	first := 0
	for i, p := range r {
		if less(p, r[first]) {
			first = i
		}
	}
	out := make(geom.Ring, len(r))
	step := 1
	if n := len(r); less(r[(first+n-1)%n], r[(first+1)%n]) {
		step = n - 1
	}
	for i := range out {
		out[i] = r[(first+i*step)%len(r)]
	}
	return out
}

// coords of a chain, closed if ring is set.
func coords(p []geom.Point, ring bool) [][]float64 {
	out := make([][]float64, 0, len(p)+1)
	for _, q := range p {
		out = append(out, []float64{q.X, q.Y})
	}
	if ring && len(p) > 0 {
		out = append(out, []float64{p[0].X, p[0].Y})
	}
	return out
}

// ringOf reads a closed line.
func ringOf(g *geos.Geom) geom.Ring {
	c := g.CoordSeq().ToCoords()
	out := make(geom.Ring, 0, len(c))
	for _, q := range c[:len(c)-1] {
		out = append(out, geom.Pt(q[0], q[1]))
	}
	return out
}

// regionOf reads polygons.
func regionOf(g *geos.Geom) geom.Region {
	var out geom.Region
	for i := range g.NumGeometries() {
		p := g.Geometry(i)
		if t := p.TypeID(); t == geos.TypeIDMultiPolygon || t == geos.TypeIDGeometryCollection {
			out = append(out, regionOf(p)...)
			continue
		} else if t != geos.TypeIDPolygon || p.IsEmpty() {
			continue
		}
		q := geom.Polygon{Outline: ringOf(p.ExteriorRing())}
		for k := range p.NumInteriorRings() {
			q.Holes = append(q.Holes, ringOf(p.InteriorRing(k)))
		}
		out = append(out, q)
	}
	return out
}

// bufferLines is the points within radius of the lines, with round ends and joints.
// A full circle gets 4·quarter corners.
func bufferLines(ctx *geos.Context, lines []geom.Polyline, radius float64, quarter int) *geos.Geom {
	g := make([]*geos.Geom, 0, len(lines))
	for _, l := range lines {
		g = append(g, ctx.NewLineString(coords(l, false)))
	}
	return ctx.NewCollection(geos.TypeIDMultiLineString, g).Buffer(radius, quarter)
}

// onGrid puts polygons on a grid of the given step and mends what that leaves:
// a corner where an outline touches itself would become an edge shared by four
// walls, so it is filled by a patch a few steps wide. In a crevice the outlines touch
// again beside the patch; there it is opened by one instead, since larger patches would
// reach into what lies in the crevice.
func onGrid(g *geos.Geom, grid float64) (*geos.Geom, error) {
	r := regionOf(g)
	if !allOnGrid(r, grid) {
		g = g.SetPrecision(grid, geos.PrecisionRuleNone)
		r = regionOf(g)
	}
	const fills = 2
	for again := range 8 {
		pinches := pinched(r)
		if len(pinches) == 0 {
			return g, nil
		}
		d := grid * 20 * math.Pow(2, float64(again%fills))
		patches := make([]*geos.Geom, len(pinches))
		for i, p := range pinches {
			patches[i] = geos.NewPolygon([][][]float64{coords([]geom.Point{
				geom.Pt(p.X-d, p.Y), geom.Pt(p.X, p.Y-d), geom.Pt(p.X+d, p.Y), geom.Pt(p.X, p.Y+d),
			}, true)})
		}
		if again < fills {
			patches = append(patches, g.Clone()) // a collection takes its parts over
			g = geos.NewCollection(geos.TypeIDGeometryCollection, patches).UnaryUnionPrec(grid)
		} else {
			all := geos.NewCollection(geos.TypeIDGeometryCollection, patches).UnaryUnionPrec(grid)
			g = g.DifferencePrec(all, grid)
			runtime.KeepAlive(all)
		}
		r = regionOf(g)
	}
	return nil, fmt.Errorf("an outline touches itself in a way that cannot be mended at a grid of %g mm", grid)
}

// allOnGrid reports whether all corners of a region lie on a grid of the given step.
func allOnGrid(r geom.Region, grid float64) bool {
	on := func(ring geom.Ring) bool {
		for _, p := range ring {
			x, y := p.X/grid, p.Y/grid
			if math.Abs(x-math.Round(x)) > 1e-6 || math.Abs(y-math.Round(y)) > 1e-6 {
				return false
			}
		}
		return true
	}
	for _, p := range r {
		if !on(p.Outline) {
			return false
		}
		for _, h := range p.Holes {
			if !on(h) {
				return false
			}
		}
	}
	return true
}

// pinched lists the corners that rings of a region pass more than once.
func pinched(r geom.Region) []geom.Point {
	seen := map[geom.Point]int{}
	var out []geom.Point
	count := func(ring geom.Ring) {
		for _, p := range ring {
			if seen[p]++; seen[p] == 2 {
				out = append(out, p)
			}
		}
	}
	for _, p := range r {
		count(p.Outline)
		for _, h := range p.Holes {
			count(h)
		}
	}
	return out
}
