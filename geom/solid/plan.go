package solid

import (
	"fmt"
	"math"
	"runtime"

	"github.com/twpayne/go-geos"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// A Plan is a plane area that can be joined with and cut by others. The zero
// Plan is empty. Lengths are mm; y points where the maker's does.
//
// Its methods panic with GEOS's error, as GEOS does, on coordinates that are
// not finite; Guard turns that into an error where plans are used.
type Plan struct{ g *geos.Geom }

// A planError is an error that a plan's own methods panic with, as GEOS does.
type planError struct{ error }

// Unwrap returns what was wrong.
func (e planError) Unwrap() error { return e.error }

// Guard is deferred by functions that work with plans: it turns a panic of GEOS or of
// a plan into an error that says what was being done. Any other panic is a fault of
// ours and goes on.
func Guard(doing string, err *error) {
	switch r := recover().(type) {
	case nil:
	case geos.Error:
		*err = fmt.Errorf("%s: %w", doing, r)
	case planError:
		*err = fmt.Errorf("%s: %w", doing, r.error)
	default:
		panic(r)
	}
}

// PlanOf returns the area of polygons.
func PlanOf(r geom.Region) Plan {
	if len(r) == 0 {
		return Plan{}
	}
	parts := make([]*geos.Geom, 0, len(r))
	for _, p := range r {
		rings := [][][]float64{coords(p.Outline, true)}
		for _, h := range p.Holes {
			rings = append(rings, coords(h, true))
		}
		parts = append(parts, geos.NewPolygon(rings))
	}
	return Plan{geos.NewCollection(geos.TypeIDMultiPolygon, parts)}
}

// Box returns the rectangle between two opposite corners.
func Box(x0, y0, x1, y1 float64) Plan {
	x0, x1 = min(x0, x1), max(x0, x1)
	y0, y1 = min(y0, y1), max(y0, y1)
	return Area(geom.Pt(x0, y0), geom.Pt(x1, y0), geom.Pt(x1, y1), geom.Pt(x0, y1))
}

// RoundBox returns the rectangle with its corners rounded to radius r.
func RoundBox(x0, y0, x1, y1, r float64) Plan {
	r = min(r, (x1-x0)/2, (y1-y0)/2)
	return Box(x0+r, y0+r, x1-r, y1-r).Grow(r)
}

// Area returns the polygon with the given corners.
func Area(corners ...geom.Point) Plan {
	return PlanOf(geom.Region{{Outline: corners}})
}

// Disc returns a disc about c.
func Disc(c geom.Point, r float64) Plan {
	n := 4 * quarterCorners(r)
	ring := make(geom.Ring, n)
	for i := range ring {
		s, k := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		ring[i] = geom.Pt(c.X+r*k, c.Y+r*s)
	}
	return Area(ring...)
}

// Ribbon returns the area within radius of the lines, with round ends and
// joints.
func Ribbon(lines []geom.Polyline, radius float64) Plan { return Ribbons(lines, radius)[0] }

// Ribbons returns the Ribbon of each radius, worked out at once on all cores.
func Ribbons(lines []geom.Polyline, radii ...float64) []Plan {
	out := make([]Plan, len(radii))
	if len(lines) == 0 {
		return out
	}
	wkb := make([][]byte, len(radii))
	errs := make([]error, len(radii))
	parallel.Each(len(radii), func(i int) {
		defer Guard("widening the centrelines", &errs[i])
		r := radii[i]
		wkb[i] = bufferLines(geos.NewContext(), lines, r, quarterCorners(r)).TopologyPreserveSimplify(chord / 3).ToWKB()
	})
	for i := range out {
		if errs[i] == nil {
			out[i].g, errs[i] = geos.NewGeomFromWKB(wkb[i])
		}
		if errs[i] != nil {
			panic(planError{errs[i]})
		}
	}
	return out
}

// quarterCorners is how many corners a quarter circle of radius r needs to
// stray by no more than chord.
func quarterCorners(r float64) int {
	n := 4
	for n < 64 && r*(1-cosQuarter(n)) > chord {
		n++
	}
	return n
}

// geom is the plan as GEOS has it, never nil.
func (p Plan) geom() *geos.Geom {
	if p.g == nil {
		return geos.NewEmptyPolygon()
	}
	return p.g
}

// OnGrid returns the plan with its corners on a grid of the given step and
// outlines that touch themselves in a point mended. It panics with an error if
// that cannot be done.
func (p Plan) OnGrid(grid float64) Plan {
	if p.Empty() {
		return p
	}
	g, err := onGrid(p.g, grid)
	if err != nil {
		panic(planError{err})
	}
	return Plan{g}
}

// Empty reports whether the plan has no area.
func (p Plan) Empty() bool { return p.g == nil || p.g.IsEmpty() }

// Size returns the plan's area in mm².
func (p Plan) Size() float64 {
	if p.g == nil {
		return 0
	}
	return p.g.Area()
}

// Perimeter returns the length of the plan's outlines, those of its holes too, in mm.
func (p Plan) Perimeter() float64 {
	if p.g == nil {
		return 0
	}
	return p.g.Length()
}

// Region returns the plan's polygons.
func (p Plan) Region() geom.Region {
	if p.g == nil {
		return nil
	}
	return regionOf(p.g)
}

// Bounds returns the box around the plan.
func (p Plan) Bounds() geom.Rect { return p.Region().Bounds() }

// What an operation takes beside its own plan is kept alive until it is done: a plan of another context
// of GEOS, whose lock the operation does not hold, could be collected while it is read.

// Or returns the area of either plan.
func (p Plan) Or(q Plan) Plan {
	switch {
	case p.Empty():
		return q
	case q.Empty():
		return p
	}
	defer runtime.KeepAlive(q)
	return areaOf(p.g.UnionPrec(q.g, planGrid))
}

// Union returns the area of all plans together, which is faster than joining
// them one by one.
func Union(plans ...Plan) Plan {
	return joined(plans, func(all *geos.Geom) *geos.Geom { return all.UnaryUnionPrec(planGrid) })
}

// joined is what union makes of a collection of the plans.
func joined(plans []Plan, union func(*geos.Geom) *geos.Geom) Plan {
	var all []*geos.Geom
	for _, p := range plans {
		if !p.Empty() {
			all = append(all, p.g)
		}
	}
	switch len(all) {
	case 0:
		return Plan{}
	case 1:
		return Plan{all[0]}
	}
	for i, g := range all { // a collection takes its parts over
		all[i] = g.Clone()
	}
	return areaOf(union(geos.NewCollection(geos.TypeIDGeometryCollection, all)))
}

// Outside is what of p lies outside q, several times as fast as Less but with corners beside the grid:
// to look at and measure, not to build on.
func (p Plan) Outside(q Plan) Plan {
	if p.Empty() || q.Empty() {
		return p
	}
	defer runtime.KeepAlive(q)
	return areaOf(p.g.Difference(q.g))
}

// Shared is the area, mm², that p and q have in common.
func (p Plan) Shared(q Plan) float64 {
	if p.Empty() || q.Empty() {
		return 0
	}
	defer runtime.KeepAlive(q)
	return p.g.Intersection(q.g).Area()
}

// Less returns p without q.
func (p Plan) Less(q Plan) Plan {
	if p.Empty() || q.Empty() {
		return p
	}
	defer runtime.KeepAlive(q)
	return areaOf(p.g.DifferencePrec(q.g, planGrid))
}

// And returns the area that both plans cover.
func (p Plan) And(q Plan) Plan {
	if p.Empty() || q.Empty() {
		return Plan{}
	}
	defer runtime.KeepAlive(q)
	return areaOf(p.g.IntersectionPrec(q.g, planGrid))
}

// areaOf is the polygons of what an operation gave: areas that only touch also
// share lines or points.
func areaOf(g *geos.Geom) Plan {
	if t := g.TypeID(); t != geos.TypeIDPolygon && t != geos.TypeIDMultiPolygon {
		return PlanOf(regionOf(g))
	}
	return Plan{g}
}

// planGrid is the grid of plans' own algebra, mm.
const planGrid = 0.001

// Grow returns the plan widened by d all round, with round corners. A negative
// d narrows it.
func (p Plan) Grow(d float64) Plan {
	if p.Empty() || d == 0 {
		return p
	}
	return Plan{p.g.Buffer(d, quarterCorners(math.Abs(d)))}
}

// GrowSquare is Grow with square corners, for parts made of straight sides.
func (p Plan) GrowSquare(d float64) Plan {
	if p.Empty() || d == 0 {
		return p
	}
	return Plan{p.g.BufferWithStyle(d, 8, geos.BufCapStyleSquare, geos.BufJoinStyleMitre, 5)}
}

// Moved returns the plan turned about the origin by turn (degrees,
// anticlockwise with y up) and then shifted by d.
func (p Plan) Moved(turn float64, d geom.Point) Plan {
	s, c := math.Sincos(geom.Radians(turn))
	return p.mapped(func(q geom.Point) geom.Point { return geom.Pt(c*q.X-s*q.Y+d.X, s*q.X+c*q.Y+d.Y) })
}

// Upended returns the plan with y turned to −y.
func (p Plan) Upended() Plan {
	return p.mapped(func(q geom.Point) geom.Point { return geom.Pt(q.X, -q.Y) })
}

func (p Plan) mapped(f func(geom.Point) geom.Point) Plan {
	return PlanOf(p.Region().Mapped(f))
}

// Parts returns the plan's separate pieces.
func (p Plan) Parts() []Plan {
	var out []Plan
	for _, a := range p.Region() {
		out = append(out, PlanOf(geom.Region{a}))
	}
	return out
}

// Covers reports whether all of q lies in p.
func (p Plan) Covers(q Plan) bool {
	defer runtime.KeepAlive(q)
	return !p.Empty() && (q.Empty() || p.g.Covers(q.g))
}

// Contains reports whether c lies in the plan.
func (p Plan) Contains(c geom.Point) bool {
	at := geos.NewPoint([]float64{c.X, c.Y})
	defer runtime.KeepAlive(at)
	return !p.Empty() && p.g.Intersects(at)
}

// Locator returns Contains for many points.
func (p Plan) Locator() func(geom.Point) bool {
	if p.Empty() {
		return func(geom.Point) bool { return false }
	}
	ready := p.g.Prepare()
	return func(c geom.Point) bool { return ready.Intersects(geos.NewPoint([]float64{c.X, c.Y})) }
}

// Inside returns a point well within the plan.
func (p Plan) Inside() geom.Point {
	if p.Empty() {
		return geom.Point{}
	}
	c := p.g.PointOnSurface()
	return geom.Pt(c.X(), c.Y())
}

// Hull returns the corners of the smallest convex polygon around the plan,
// anticlockwise with y up.
func (p Plan) Hull() geom.Ring {
	if p.Empty() {
		return nil
	}
	h := p.g.ConvexHull()
	r := ringOf(h.ExteriorRing())
	if r.Area() < 0 {
		for i, j := 0, len(r)-1; i < j; i, j = i+1, j-1 {
			r[i], r[j] = r[j], r[i]
		}
	}
	return r
}

// Centroid returns the plan's centre of area.
func (p Plan) Centroid() geom.Point {
	if p.Empty() {
		return geom.Point{}
	}
	c := p.g.Centroid()
	return geom.Pt(c.X(), c.Y())
}

// Simplified returns the plan with as few corners as keep it within tol.
func (p Plan) Simplified(tol float64) Plan {
	if p.Empty() {
		return p
	}
	return Plan{p.g.TopologyPreserveSimplify(tol)}
}

// Opened returns what is left of p when everything narrower than width is
// taken off, corners rounded.
func (p Plan) Opened(width float64) Plan { return p.Grow(-width / 2).Grow(width / 2) }
