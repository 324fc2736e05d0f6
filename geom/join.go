package geom

import (
	"cmp"
	"math"
	"slices"
)

// Join makes a centreline of curves drawn apart: ends that come within tol
// (mm) of another curve, and places where curves cross, become knots, and
// pieces are cut there. Ends within tol of each other share a knot. Curves
// keep their order, Ink and Closed; those shorter than tol are left
// out.
func Join(curves []Curve, tol float64) Centreline {
	j := &joiner{tol: tol}
	for _, c := range curves {
		j.rulers = append(j.rulers, NewRuler(c))
	}
	j.index()
	for i, c := range curves {
		l := j.rulers[i].Length()
		j.mark(i, 0)
		j.mark(i, l)
		if !c.Closed {
			j.contact(i, 0)
			j.contact(i, l)
		}
	}
	j.crossings()
	return j.build(curves)
}

type joinSegment struct {
	curve  int
	a, b   Point
	s0, s1 float64
}

// A joinMark is a place of a curve that must become a knot.
type joinMark struct {
	curve int
	s     float64
	at    Point
}

type joiner struct {
	tol    float64
	rulers []*Ruler
	near   *Grid[joinSegment] // by their middles
	all    []joinSegment
	marks  []joinMark
	same   [][2]int // marks that are one knot
}

func (j *joiner) index() {
	longest := 4 * j.tol
	for i, r := range j.rulers {
		for k := range len(r.s) - 1 {
			a, b := r.p[k], r.p[k+1]
			j.all = append(j.all, joinSegment{curve: i, a: a, b: b, s0: r.s[k], s1: r.s[k+1]})
			longest = max(longest, a.Dist(b))
		}
	}
	j.near = NewGrid[joinSegment](2 * longest)
	for _, s := range j.all {
		j.near.Put(s.a.Lerp(s.b, 0.5), s)
	}
}

func (j *joiner) mark(curve int, s float64) int {
	j.marks = append(j.marks, joinMark{curve, s, j.rulers[curve].At(s)})
	return len(j.marks) - 1
}

// contact ties a curve's end to what it comes within tol of.
func (j *joiner) contact(i int, s float64) {
	p := j.rulers[i].At(s)
	best := map[int]joinMark{}
	dist := map[int]float64{}
	for g := range j.near.Near(p) {
		f, t := Foot(g.a, g.b, p)
		d := f.Dist(p)
		at := g.s0 + t*(g.s1-g.s0)
		if d > j.tol || g.curve == i && math.Abs(at-s) < 4*j.tol {
			continue
		}
		if old, ok := dist[g.curve]; !ok || d < old {
			best[g.curve], dist[g.curve] = joinMark{g.curve, at, f}, d
		}
	}
	for c := range j.rulers {
		m, ok := best[c]
		if !ok {
			continue
		}
		own := j.mark(i, s)
		other := j.mark(m.curve, j.snap(m.curve, m.s))
		j.same = append(j.same, [2]int{own, other})
	}
}

// snap takes a place within tol of a curve's end to the end.
func (j *joiner) snap(curve int, s float64) float64 {
	l := j.rulers[curve].Length()
	switch {
	case s < j.tol:
		return 0
	case s > l-j.tol:
		return l
	}
	return s
}

// alongside is the cross product, mm², under which two segments lie along each other:
// strokes drawn over each other do not cross.
const alongside = 1e-12

// crossings marks where segments of curves cross.
func (j *joiner) crossings() {
	for _, a := range j.all {
		for b := range j.near.Near(a.a.Lerp(a.b, 0.5)) {
			if b.curve < a.curve || b.curve == a.curve && b.s0 < a.s1+1e-9 {
				continue
			}
			if a.curve == b.curve && j.rulers[a.curve].c.Closed && a.s0 < 1e-9 &&
				b.s1 > j.rulers[a.curve].Length()-1e-9 {
				continue
			}
			u, v, den := Meet(a.a, a.b.Sub(a.a), b.a, b.b.Sub(b.a))
			if math.Abs(den) < alongside || u < 0 || u > 1 || v < 0 || v > 1 {
				continue
			}
			x := j.mark(a.curve, j.snap(a.curve, a.s0+u*(a.s1-a.s0)))
			y := j.mark(b.curve, j.snap(b.curve, b.s0+v*(b.s1-b.s0)))
			j.same = append(j.same, [2]int{x, y})
		}
	}
}

// build clusters the marks to knots and cuts the curves at them.
func (j *joiner) build(curves []Curve) Centreline {
	order := j.order()
	set := j.cluster(curves, order)
	knots, knotOf := j.knots(curves, set, order)
	out := Centreline{Knots: knots}
	for i, c := range curves {
		r, stops := j.led(j.rulers[i], j.stops(i, set, order, knotOf), out.Knots)
		if k := j.cut(c, r, stops, out.Knots); len(k.Pieces) > 0 {
			out.Curves = append(out.Curves, k)
		}
	}
	return out
}

// order is the marks by curve and by place along it.
func (j *joiner) order() []int {
	order := make([]int, len(j.marks))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		x, y := j.marks[a], j.marks[b]
		return cmp.Or(cmp.Compare(x.curve, y.curve), cmp.Compare(x.s, y.s), cmp.Compare(a, b))
	})
	return order
}

// cluster gathers the marks that are one knot: those that touch, those of one curve at
// one place, the two ends of a closed curve.
func (j *joiner) cluster(curves []Curve, order []int) Forest {
	set := NewForest(len(j.marks))
	for _, s := range j.same {
		set.Join(s[0], s[1])
	}
	for k := 1; k < len(order); k++ {
		a, b := j.marks[order[k-1]], j.marks[order[k]]
		if a.curve == b.curve && b.s-a.s < 2*j.tol {
			set.Join(order[k], order[k-1])
		}
	}
	for i, c := range curves {
		if !c.Closed {
			continue
		}
		var ends []int
		for k, m := range j.marks {
			if m.curve == i && (m.s == 0 || m.s == j.rulers[i].Length()) {
				ends = append(ends, k)
			}
		}
		for _, e := range ends[1:] {
			set.Join(e, ends[0])
		}
	}
	return set
}

// throughWeight is how much more the curves that run through a knot say where it lies
// than those that end there: ends come to them.
const throughWeight = 1e6

// knots places a knot for each cluster, in the order of the marks, and tells the knot
// of each root.
func (j *joiner) knots(curves []Curve, set Forest, order []int) (knots []Knot, of map[int]int) {
	sum := map[int]Point{}
	count := map[int]float64{}
	for i, m := range j.marks {
		weight := 1.0
		if l := j.rulers[m.curve].Length(); m.s > 0 && m.s < l || curves[m.curve].Closed {
			weight = throughWeight
		}
		r := set.Root(i)
		sum[r] = sum[r].Add(m.at.Mul(weight))
		count[r] += weight
	}
	of = map[int]int{}
	for _, i := range order {
		r := set.Root(i)
		if _, ok := of[r]; !ok {
			of[r] = len(knots)
			knots = append(knots, Knot{At: sum[r].Mul(1 / count[r])})
		}
	}
	return knots, of
}

// stops are the knots along curve i.
func (j *joiner) stops(i int, set Forest, order []int, knotOf map[int]int) (stops []joinStop) {
	for _, k := range order {
		if j.marks[k].curve != i {
			continue
		}
		id, s := knotOf[set.Root(k)], j.marks[k].s
		if n := len(stops); n > 0 && stops[n-1].knot == id && s-stops[n-1].s < 2*j.tol {
			if s == j.rulers[i].Length() {
				stops[n-1].s = s
			}
			continue
		}
		stops = append(stops, joinStop{id, s})
	}
	return stops
}

type joinStop struct {
	knot int
	s    float64
}

// leadReach is the most of a curve, mm, that gives way when its end is moved to
// a knot.
const leadReach = 10

// led is the curve with its ends moved to their knots, giving way smoothly up
// to the next stop.
func (j *joiner) led(r *Ruler, stops []joinStop, knots []Knot) (*Ruler, []joinStop) {
	n := len(stops)
	if r.c.Closed || n < 2 {
		return r, stops
	}
	l := r.Length()
	a, b := knots[stops[0].knot].At.Sub(r.At(0)), knots[stops[n-1].knot].At.Sub(r.At(l))
	if a.Norm() < 1e-9 && b.Norm() < 1e-9 {
		return r, stops
	}
	ra, rb := min(stops[1].s, leadReach), min(l-stops[n-2].s, leadReach)
	moved := NewRuler(r.Displaced(func(s float64) Point { return a.Mul(Fade(s / ra)).Add(b.Mul(Fade((l - s) / rb))) }))
	out := slices.Clone(stops)
	for i := range out {
		out[i].s = moved.along(r.locate(out[i].s))
	}
	return moved, out
}

// Fade falls from 1 at 0 to 0 at 1, level at both ends, and stays so beyond.
func Fade(x float64) float64 {
	x = min(max(x, 0), 1)
	return 1 - x*x*(3-2*x)
}

// cut returns the curve with pieces that start at the stops, moved onto their
// knots.
func (j *joiner) cut(c Curve, r *Ruler, stops []joinStop, knots []Knot) Curve {
	out := Curve{Closed: c.Closed, Ink: c.Ink, Corners: c.Corners}
	for k := range len(stops) - 1 {
		a, b := stops[k], stops[k+1]
		ps := r.Sub(a.s, b.s)
		if len(ps) == 0 {
			continue
		}
		d := knots[a.knot].At.Sub(ps[0][0])
		ps[0][0], ps[0][1] = ps[0][0].Add(d), ps[0][1].Add(d)
		last := len(ps) - 1
		d = knots[b.knot].At.Sub(ps[last][3])
		ps[last][2], ps[last][3] = ps[last][2].Add(d), ps[last][3].Add(d)
		out.Stops = append(out.Stops, Stop{a.knot, len(out.Pieces)})
		out.Pieces = append(out.Pieces, ps...)
		knots[a.knot].Degree++
		knots[b.knot].Degree++
	}
	if n := len(stops); n > 0 {
		out.Stops = append(out.Stops, Stop{stops[n-1].knot, len(out.Pieces)})
	}
	return out
}

// Lines returns the curve of straight pieces through the points; it is closed
// if the last point is the first.
func Lines(pts ...Point) Curve {
	c := Curve{Closed: len(pts) > 2 && pts[0] == pts[len(pts)-1]}
	for i := 1; i < len(pts); i++ {
		c.Pieces = append(c.Pieces, StraightCubic(pts[i-1], pts[i]))
	}
	return c
}

// Arc returns the circular arc about centre from one angle to another in
// degrees, measured from x towards y; it is closed if they are 360 apart.
func Arc(centre Point, radius, from, to float64) Curve {
	s, k := math.Sincos(Radians(from))
	c := Curve{Pieces: ArcCubics(centre, centre.Add(Pt(radius*k, radius*s)), to-from), Closed: math.Abs(to-from) == 360}
	if c.Closed {
		c.Pieces[len(c.Pieces)-1][3] = c.Pieces[0][0]
	}
	return c
}
