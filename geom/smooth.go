package geom

import (
	"errors"
	"math"
	"slices"

	"inkchannel/geom/parallel"
)

// SmoothSettings tune Smooth.
type SmoothSettings struct {
	Deviation float64 // mm, how far a curve may stray from the traced line
	Corner    float64 // degrees, a sharper turn than this stays a corner
}

// DefaultSmooth returns the settings that take out a hand's tremor.
func DefaultSmooth() SmoothSettings { return SmoothSettings{Deviation: 0.12, Corner: 40} }

// A Curve is one stroke as a chain of cubic Béziers, each starting where the
// one before ends.
type Curve struct {
	Pieces  []Cubic
	Closed  bool
	Corners int // places where the direction jumps
	Ink     int // which pen drew it, 0 for the first
	// Stops are the knots that the curve runs through, in its order: a curve
	// of a stroke has one at each end, a closed one its own knot at both.
	Stops []Stop
}

// A Stop is where a curve runs through a knot of its centreline: at the start
// of piece Piece, or at the curve's end if Piece is the number of pieces.
type Stop struct{ Knot, Piece int }

// Length returns the curve's length to within 0.01 mm or so a piece.
func (c Curve) Length() float64 { return c.Flatten(0.005).Length() }

// Flatten returns a polyline that strays from the curve by at most tol.
func (c Curve) Flatten(tol float64) Polyline {
	if len(c.Pieces) == 0 {
		return nil
	}
	out := Polyline{c.Pieces[0][0]}
	for _, p := range c.Pieces {
		out = p.Flatten(out, tol)
	}
	return out
}

// A Centreline is a drawing's smoothed strokes and the points they share.
type Centreline struct {
	Curves []Curve
	Knots  []Knot
	// Stray is the largest distance of a traced point from its curve.
	Stray float64
}

// Upended returns the centreline in a frame whose y points the other way,
// height above the old one's: from the sheet's frame to the sign's and back.
func (c Centreline) Upended(height float64) Centreline {
	return c.Mapped(func(p Point) Point { return Upended(p, height) })
}

// Mapped returns the centreline with each point moved by f, which must keep
// straight lines straight.
func (c Centreline) Mapped(f func(Point) Point) Centreline {
	out := Centreline{Stray: c.Stray}
	for _, k := range c.Curves {
		m := k
		m.Pieces = make([]Cubic, len(k.Pieces))
		for i, p := range k.Pieces {
			m.Pieces[i] = Cubic{f(p[0]), f(p[1]), f(p[2]), f(p[3])}
		}
		out.Curves = append(out.Curves, m)
	}
	for _, k := range c.Knots {
		out.Knots = append(out.Knots, Knot{f(k.At), k.Degree})
	}
	return out
}

// BoundsOf returns the box about curves, each taken as a polyline that strays from it by at most
// tol, mm.
func BoundsOf(curves []Curve, tol float64) Rect {
	var all []Point
	for _, k := range curves {
		all = append(all, k.Flatten(tol)...)
	}
	return Bounds(all)
}

// Length returns the length of all curves.
func (c Centreline) Length() float64 { return TotalLength(c.Curves) }

// The lengths, in mm, over which a line's direction is read: the corner itself
// is blurred over cornerGap each side, beyond it directions are read over
// cornerSpan.
const (
	cornerGap   = 0.55
	cornerSpan  = 1.8
	tangentSpan = 1.6
)

// Smooth fits each stroke of n (in mm) by cubic Béziers that stray from the
// traced points by at most the deviation, smooth everywhere but at corners.
// Strokes that meet at a knot go through the same point exactly.
//
// It returns an error for a network without strokes or a deviation that is not
// positive.
func Smooth(n Network, s SmoothSettings) (Centreline, error) {
	if s.Deviation <= 0 {
		return Centreline{}, errors.New("the deviation must be over 0 mm")
	}
	if len(n.Strokes) == 0 {
		return Centreline{}, errors.New("there are no strokes to smooth")
	}
	out := Centreline{Knots: slices.Clone(n.Knots), Curves: make([]Curve, len(n.Strokes))}
	stray := make([]float64, len(n.Strokes))
	parallel.Each(len(n.Strokes), func(i int) {
		st := n.Strokes[i]
		free := st.Closed && len(st.Runs) == 1 && n.Knots[st.Knots[0]].Degree == 2
		if out.Curves[i], stray[i] = smoothStroke(st, free, s); free {
			out.Knots[st.Knots[0]].At = out.Curves[i].Pieces[0][0]
		}
	})
	out.Stray = slices.Max(stray)
	return out, nil
}

// SmoothLine is Smooth of one line, closed if its end is its start and smooth there.
func SmoothLine(line Polyline, closed bool, s SmoothSettings) (Curve, error) {
	n := Network{
		Knots:   []Knot{{At: line[0], Degree: 1}, {At: line[len(line)-1], Degree: 1}},
		Strokes: []Stroke{{Runs: []Polyline{line}, Knots: []int{0, 1}}},
	}
	if closed {
		n.Knots, n.Strokes[0].Knots, n.Strokes[0].Closed = []Knot{{At: line[0], Degree: 2}}, []int{0, 0}, true
	}
	out, err := Smooth(n, s)
	if err != nil {
		return Curve{}, err
	}
	return out.Curves[0], nil
}

// startAt has a closed walk start at another of its points, which becomes its knot.
func (w *walk) startAt(i int) {
	if i == 0 {
		return
	}
	knot, n := w.knot[0], len(w.p)-1
	w.p = slices.Concat(w.p[i:n], w.p[:i+1])
	w.corner = slices.Concat(w.corner[i:n], w.corner[:i+1])
	w.knot, w.fixed = make([]int, n+1), slices.Clone(w.corner)
	for k := range w.knot {
		w.knot[k] = -1
	}
	w.knot[0], w.knot[n], w.fixed[0], w.fixed[n] = knot, knot, true, true
	w.measure()
}

// clear is a point of a closed walk where it may start: its start, unless a corner is near, where the start, which
// must not move, would keep the corner from its place; then the middle of the longest way between corners.
func (w *walk) clear() int {
	var corners []float64
	for i, c := range w.corner[:len(w.p)-1] {
		if c {
			corners = append(corners, w.s[i])
		}
	}
	if len(corners) == 0 || corners[0] > cornerGap+cornerSpan && w.length()-corners[len(corners)-1] > cornerGap+cornerSpan {
		return 0
	}
	middle, longest := 0.0, 0.0
	for i, c := range corners {
		next := w.length() + corners[0]
		if i+1 < len(corners) {
			next = corners[i+1]
		}
		if next-c > longest {
			middle, longest = math.Mod((c+next)/2, w.length()), next-c
		}
	}
	at, _ := slices.BinarySearch(w.s, middle)
	return min(at, len(w.p)-2)
}

// A walk is a stroke's points in one row with what is known of each.
type walk struct {
	p      Polyline
	s      []float64 // arc length
	knot   []int     // the network's knot there, -1 if none: must not move
	fixed  []bool    // a piece must end here: knots and corners
	corner []bool
	closed bool
}

// smoothStroke fits a stroke; a free one is closed and meets no other, so that it may start anywhere.
func smoothStroke(st Stroke, free bool, set SmoothSettings) (Curve, float64) {
	w := newWalk(st)
	w.findCorners(set.Corner)
	if free {
		w.startAt(w.clear())
	}
	w.sharpenCorners()
	c := Curve{Closed: st.Closed, Ink: st.Ink}
	stray := 0.0
	last := len(w.p) - 1
	for i := 0; i < last; {
		if w.knot[i] >= 0 {
			c.Stops = append(c.Stops, Stop{w.knot[i], len(c.Pieces)})
		}
		j := i + 1
		for j < last && !w.fixed[j] {
			j++
		}
		f := fitter{tol: set.Deviation}
		f.fit(w.p[i:j+1], w.tangent(i, 1), w.tangent(j, -1).Mul(-1), 0)
		c.Pieces = append(c.Pieces, f.out...)
		stray = max(stray, f.stray)
		i = j
	}
	c.Stops = append(c.Stops, Stop{w.knot[last], len(c.Pieces)})
	for i, k := range w.corner {
		if k && i < last {
			c.Corners++
		}
	}
	return c, stray
}

func newWalk(st Stroke) *walk {
	w := &walk{closed: st.Closed}
	for run, r := range st.Runs {
		for i, p := range r {
			if n := len(w.p); n > 0 && (i == 0 || w.p[n-1].Dist(p) < 1e-6) && i < len(r)-1 {
				continue
			}
			w.p = append(w.p, p)
			knot := -1
			switch i {
			case 0:
				knot = st.Knots[run]
			case len(r) - 1:
				knot = st.Knots[run+1]
			}
			w.knot = append(w.knot, knot)
			w.fixed = append(w.fixed, knot >= 0)
		}
	}
	w.corner = make([]bool, len(w.p))
	w.measure()
	return w
}

func (w *walk) measure() {
	w.s = make([]float64, len(w.p))
	for i := 1; i < len(w.p); i++ {
		w.s[i] = w.s[i-1] + w.p[i-1].Dist(w.p[i])
	}
}

func (w *walk) length() float64 { return w.s[len(w.s)-1] }

// at is the point at arc length s; a closed walk goes on past its ends.
func (w *walk) at(s float64) Point { return w.p.AtDistance(w.s, s, w.closed) }

// heading is the direction of the line through the points between arc lengths
// a and b, by least squares.
func (w *walk) heading(a, b float64) Point {
	const n = 8
	var sum Point
	for i := 0; i <= n; i++ {
		t := float64(i)/n - 0.5
		sum = sum.Add(w.at(a + (b-a)*float64(i)/n).Mul(t))
	}
	return sum.Unit()
}

// turnAt is how sharply, in degrees, the line turns at arc length s, beyond
// what the bend of the line to either side leads one to expect.
func (w *walk) turnAt(s float64) float64 {
	span := cornerSpan
	if !w.closed {
		span = min(span, s-cornerGap, w.length()-s-cornerGap)
		if span < 0.7 {
			return 0
		}
	} else if w.length() < 4*(cornerGap+cornerSpan) {
		span = w.length()/4 - cornerGap
		if span < 0.7 {
			return 0
		}
	}
	a0, a1 := s-cornerGap-span, s-cornerGap
	b0, b1 := s+cornerGap, s+cornerGap+span
	before, after := w.heading(a0, a1), w.heading(b0, b1)
	bend := func(x, y float64) float64 {
		m := (x + y) / 2
		u, v := w.heading(x, m), w.heading(m, y)
		return Degrees(math.Atan2(u.Cross(v), u.Dot(v))) / (span / 2)
	}
	total := Degrees(math.Atan2(before.Cross(after), before.Dot(after)))
	expected := (bend(a0, a1) + bend(b0, b1)) / 2 * (2*cornerGap + span)
	if math.Abs(total) > 150 { // a hairpin: either sense, bends tell nothing
		return math.Abs(total)
	}
	excess := total - expected
	// What the sides' own bend explains, or more than explains, is no corner.
	if excess*total <= 0 {
		return 0
	}
	return min(math.Abs(excess), math.Abs(total))
}

// findCorners marks the points where the line turns most, more than limit.
func (w *walk) findCorners(limit float64) {
	turn := make([]float64, len(w.p))
	for i := range w.p {
		turn[i] = w.turnAt(w.s[i])
	}
	for i, t := range turn {
		if t < limit {
			continue
		}
		top := true
		for j := range turn {
			d := math.Abs(w.s[i] - w.s[j])
			if w.closed {
				d = min(d, w.length()-d)
			}
			if d < cornerGap+cornerSpan/2 && (turn[j] > t || turn[j] == t && j < i && d > 0) {
				top = false
			}
		}
		if top {
			w.corner[i], w.fixed[i] = true, true
		}
	}
	if last := len(w.p) - 1; w.closed && (w.corner[0] || w.corner[last]) {
		w.corner[0], w.corner[last] = true, true
	}
}

// When sides make a corner sharper: the least sine of the turn between them, below
// which where they meet is noise, and the furthest, mm, that the corner then moves.
const (
	cornerSine  = 0.2
	cornerShift = 0.6
)

// sharpenCorners puts each corner where the lines on its two sides meet, as
// tracing blurs it a little. A knot stays where it is.
func (w *walk) sharpenCorners() {
	for i, c := range w.corner {
		last := len(w.p) - 1
		if !c || i == last && w.closed || w.knot[i] >= 0 {
			continue
		}
		s := w.s[i]
		d1 := w.heading(s-cornerGap-cornerSpan*0.6, s-cornerGap*0.8)
		d2 := w.heading(s+cornerGap*0.8, s+cornerGap+cornerSpan*0.6)
		p1, p2 := w.at(s-cornerGap-cornerSpan*0.2), w.at(s+cornerGap+cornerSpan*0.2)
		u, _, sine := Meet(p1, d1, p2, d2)
		meet := p1.Add(d1.Mul(u))
		if math.Abs(sine) < cornerSine || meet.Dist(w.p[i]) > cornerShift {
			continue
		}
		// Points blurred by the corner go onto the straight sides.
		for j := range w.p {
			if d := w.s[j] - s; j != i && math.Abs(d) < cornerGap*0.8 && !w.fixed[j] {
				side := p1
				if d > 0 {
					side = p2
				}
				w.p[j] = meet.Lerp(side, math.Abs(d)/(cornerGap+cornerSpan*0.2))
			}
		}
		w.p[i] = meet
	}
	w.measure()
}

// tangent is the unit direction of travel at point i. At a corner or an end it
// is read on one side only: ahead for side 1, behind for side −1.
func (w *walk) tangent(i int, side float64) Point {
	s := w.s[i]
	open := !w.closed && (i == 0 || i == len(w.p)-1)
	if !open && !w.corner[i] {
		span := tangentSpan
		if !w.closed {
			span = min(span, s, w.length()-s)
		}
		return w.heading(s-span, s+span)
	}
	// p(t) = p0 + a·t + b·t² by least squares over the span; a is wanted.
	span := min(tangentSpan, w.length()/2)
	var t2, t3, t4 float64
	var pt, ptt Point
	for k := 1; k <= 10; k++ {
		t := span * float64(k) / 10
		d := w.at(s + side*t).Sub(w.p[i])
		t2, t3, t4 = t2+t*t, t3+t*t*t, t4+t*t*t*t
		pt, ptt = pt.Add(d.Mul(t)), ptt.Add(d.Mul(t*t))
	}
	a := pt.Mul(t4).Sub(ptt.Mul(t3)).Mul(side).Unit()
	if a == (Point{}) {
		return w.heading(s, s+side*span).Mul(side)
	}
	return a
}

// A fitter fits cubics to points: P. J. Schneider, "An algorithm for
// automatically fitting digitized curves", Graphics Gems (1990), 612–626.
type fitter struct {
	tol   float64
	out   []Cubic
	stray float64
}

// fit appends cubics through p that leave in direction t0 and arrive from
// direction t1 (both unit vectors pointing into the span).
func (f *fitter) fit(p Polyline, t0, t1 Point, depth int) {
	c, worst, at := fitOne(p, t0, t1)
	if worst <= f.tol || len(p) < 4 || depth > 24 {
		f.out = append(f.out, c)
		f.stray = max(f.stray, worst)
		return
	}
	at = min(max(at, 1), len(p)-2)
	// The direction where the span is split, over a few points either way.
	k := max(min(3, at, len(p)-1-at), 1)
	t := p[at-k].Sub(p[at+k]).Unit()
	if t == (Point{}) {
		t = p[at-1].Sub(p[at]).Unit()
	}
	f.fit(p[:at+1], t0, t, depth+1)
	f.fit(p[at:], t.Mul(-1), t1, depth+1)
}

// fitOne is the best single cubic, how far it is from the points at most, and
// at which point.
func fitOne(p Polyline, t0, t1 Point) (Cubic, float64, int) {
	n := len(p) - 1
	u := make([]float64, n+1)
	for i := 1; i <= n; i++ {
		u[i] = u[i-1] + p[i-1].Dist(p[i])
	}
	total := u[n]
	if total == 0 {
		return StraightCubic(p[0], p[n]), 0, 0
	}
	for i := range u {
		u[i] /= total
	}
	var best Cubic
	bestWorst, bestAt := math.Inf(1), 0
	for range 6 {
		c := bezierThrough(p, u, t0, t1)
		worst, at := 0.0, 0
		for i := 1; i < n; i++ {
			if d := c.At(u[i]).Dist(p[i]); d > worst {
				worst, at = d, i
			}
		}
		if worst < bestWorst {
			best, bestWorst, bestAt = c, worst, at
		}
		for i := 1; i < n; i++ {
			u[i] = newton(c, p[i], u[i])
		}
	}
	return best, bestWorst, bestAt
}

// bezierThrough finds the handle lengths by least squares, falling back to a
// third of the chord where those make no sense.
func bezierThrough(p Polyline, u []float64, t0, t1 Point) Cubic {
	first, last := p[0], p[len(p)-1]
	var c00, c01, c11, x0, x1 float64
	for i, t := range u {
		v := 1 - t
		b0, b1, b2, b3 := v*v*v, 3*t*v*v, 3*t*t*v, t*t*t
		a0, a1 := t0.Mul(b1), t1.Mul(b2)
		c00, c01, c11 = c00+a0.Dot(a0), c01+a0.Dot(a1), c11+a1.Dot(a1)
		r := p[i].Sub(first.Mul(b0 + b1)).Sub(last.Mul(b2 + b3))
		x0, x1 = x0+a0.Dot(r), x1+a1.Dot(r)
	}
	chord := first.Dist(last)
	h0, h1 := chord/3, chord/3
	if det := c00*c11 - c01*c01; math.Abs(det) > 1e-12 {
		a, b := (x0*c11-x1*c01)/det, (c00*x1-c01*x0)/det
		if least := 1e-3 * chord; a > least && b > least && a < 4*chord+1 && b < 4*chord+1 {
			h0, h1 = a, b
		}
	}
	return Cubic{first, first.Add(t0.Mul(h0)), last.Add(t1.Mul(h1)), last}
}

// newton improves t as the parameter of the curve point nearest to p.
func newton(c Cubic, p Point, t float64) float64 {
	d, d1, d2 := c.At(t).Sub(p), c.Deriv(t), c.Deriv2(t)
	den := d1.Dot(d1) + d.Dot(d2)
	if den <= 0 {
		return t
	}
	return min(max(t-d.Dot(d1)/den, 0), 1)
}
