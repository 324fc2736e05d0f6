package regular

import (
	"errors"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/lsq"
	"inkchannel/geom/parallel"
)

// ShapeSettings tune Shapes.
type ShapeSettings struct {
	Tolerance float64 // mm, how far a stroke may stray from its shape; 0 leaves all as drawn
	Tangent   float64 // degrees, shapes that meet at less than this become tangent
	Parallel  float64 // degrees, lines within this angle of each other become parallel
	Radius    float64 // %, radii that differ by less than this become equal
}

// DefaultShapes returns settings for an unsteady hand.
func DefaultShapes() ShapeSettings {
	return ShapeSettings{Tolerance: 0.5, Tangent: 12, Parallel: 3, Radius: 6}
}

// A Kind is a kind of shape.
type Kind string

// The kinds of shapes.
const (
	Line   Kind = "line"
	Arc    Kind = "arc"
	Circle Kind = "circle"
)

// A Shape is one regular piece of a curve.
type Shape struct {
	Kind     Kind
	Curve    int
	From, To geom.Point
	Radius   float64    // of an arc or circle
	Centre   geom.Point // of an arc or circle
	Sweep    float64    // degrees that an arc turns from From, positive from x towards y
	Moved    float64    // mm that the stroke moved at most to become it
}

// Flatten returns a polyline that strays from the shape by at most 0.02 mm.
func (s Shape) Flatten() geom.Polyline {
	if s.Kind == Line {
		return geom.Polyline{s.From, s.To}
	}
	return geom.Curve{Pieces: geom.ArcCubics(s.Centre, s.From, s.Sweep)}.Flatten(0.02)
}

// A Regular is a centreline with what was made regular of it.
type Regular struct {
	Line     geom.Centreline
	Shapes   []Shape
	Tangent  int     // joints made tangent
	Parallel int     // lines made parallel to others
	Equal    int     // arcs and circles given the radius of others
	Moved    float64 // mm that any point moved at most
}

// Shapes finds the stretches of curves that are lines, arcs and circles within
// the tolerance and makes them exactly so, all at once, by least squares: the
// shapes' measures are the unknowns, that shapes are tangent, parallel or of
// one radius are conditions, and the curves' own points pull. Conditions that
// cannot be met together, or that would move a point by more than twice the
// tolerance, are given up.
//
// Arcs come out as cubics that stray from the circle by less than 5 millionths
// of its radius.
//
// It returns an error for settings under 0.
func Shapes(c geom.Centreline, set ShapeSettings) (Regular, error) {
	if set.Tolerance < 0 || set.Tangent < 0 || set.Parallel < 0 || set.Radius < 0 {
		return Regular{}, errors.New("the tolerances for shapes must be 0 or more")
	}
	if set.Tolerance == 0 || len(c.Curves) == 0 {
		return Regular{Line: c}, nil
	}
	w := newWork(c, set)
	w.findSections()
	for range mostRounds {
		w.pose()
		left := w.problem.Solve()
		if !w.giveUp(left) {
			break
		}
	}
	return w.result(), nil
}

// mostRounds is how often conditions and shapes are given up and the rest is fitted anew.
const mostRounds = 20

// A section is a stretch of a curve between two joints.
type section struct {
	curve  int
	pts    geom.Polyline // of the curve as it is, evenly spaced
	pieces []geom.Cubic
	kind   Kind // "" as drawn
	a, b   int  // joints
	bulge  int  // unknown of an arc: tan of a quarter of its angle
	circle int  // first of three unknowns of a circle
}

// A joint is a point where sections meet; its place is two unknowns.
type joint struct {
	at   geom.Point
	knot int // of the centreline, −1 if none
	x    int // first unknown
}

// A relation is a condition between sections; of those that many share, s is
// the section and t is −1.
type relation struct {
	what relationKind
	term lsq.Term
	s, t int
}

type relationKind int

const (
	tangents relationKind = iota
	parallels
	equals
)

// A ban is a relation given up.
type ban struct {
	what relationKind
	s, t int
}

type work struct {
	c        geom.Centreline
	set      ShapeSettings
	sections []*section
	joints   []joint
	byKnot   map[int]int
	order    [][]int // sections of each curve
	problem  lsq.Problem
	rels     []relation
	banned   map[ban]bool
	given    int // conditions that are not relations: knots on circles
}

func newWork(c geom.Centreline, set ShapeSettings) *work {
	return &work{c: c, set: set, byKnot: map[int]int{}, banned: map[ban]bool{}}
}

func (w *work) jointAt(p geom.Point, knot int) int {
	if knot >= 0 {
		if j, ok := w.byKnot[knot]; ok {
			return j
		}
		w.byKnot[knot] = len(w.joints)
	}
	w.joints = append(w.joints, joint{at: p, knot: knot})
	return len(w.joints) - 1
}

// corner is a turn, in degrees, that is meant.
const corner = 15

// findSections cuts the curves at knots and corners, and what lies between
// into lines, arcs and stretches left as drawn.
func (w *work) findSections() {
	parts := w.divideAll()
	for i, k := range w.c.Curves {
		w.order = append(w.order, nil)
		if s := w.wholeCircle(i, k); s != nil {
			w.push(i, s)
			continue
		}
		cuts, knots := hardPoints(k)
		joints := make([]int, len(cuts))
		for n, cut := range cuts {
			switch {
			case n < len(cuts)-1:
				joints[n] = w.jointAt(k.Pieces[cut][0], knots[n])
			case k.Closed:
				joints[n] = joints[0]
			default:
				joints[n] = w.jointAt(k.Pieces[cut-1][3], knots[n])
			}
		}
		for n, d := range parts[i] {
			w.addSections(i, d, joints[n], joints[n+1])
		}
	}
}

// divideAll divides what lies between the hard points of each curve, all at
// once.
func (w *work) divideAll() [][]division {
	out := make([][]division, len(w.c.Curves))
	parallel.Each(len(out), func(i int) {
		ruler := geom.NewRuler(w.c.Curves[i])
		cuts, _ := hardPoints(w.c.Curves[i])
		out[i] = make([]division, len(cuts)-1)
		for n := range out[i] {
			out[i][n] = w.divide(ruler, ruler.Piece(cuts[n]), ruler.Piece(cuts[n+1]))
		}
	})
	return out
}

func (w *work) push(curve int, s *section) {
	s.curve = curve
	w.order[curve] = append(w.order[curve], len(w.sections))
	w.sections = append(w.sections, s)
}

// hardPoints are the pieces that start at a knot or a corner, with the knots,
// −1 for a corner; the last is the curve's end.
func hardPoints(k geom.Curve) (cuts, knots []int) {
	at := map[int]int{}
	for _, s := range k.Stops {
		at[s.Piece] = s.Knot
	}
	for i := range len(k.Pieces) + 1 {
		knot, ok := at[i]
		if !ok {
			knot = -1
		}
		ends := i == 0 || i == len(k.Pieces)
		if !ends && !ok && k.Pieces[i-1].Heading(1).Angle(k.Pieces[i].Heading(0)) < corner {
			continue
		}
		cuts, knots = append(cuts, i), append(knots, knot)
	}
	return cuts, knots
}

// wholeCircle is the section of a closed curve that is one circle within the
// tolerance, nil if it is none.
func (w *work) wholeCircle(i int, k geom.Curve) *section {
	if !k.Closed {
		return nil
	}
	pts := k.Flatten(0.01).Resampled(max(k.Length()/120, 0.3))
	c, r, ok := FitCircle(pts)
	if !ok {
		return nil
	}
	for _, p := range pts {
		if math.Abs(p.Dist(c)-r) > w.set.Tolerance {
			return nil
		}
	}
	var a int
	for _, s := range k.Stops {
		j := w.jointAt(w.c.Knots[s.Knot].At, s.Knot)
		if s.Piece == 0 {
			a = j
		}
	}
	return &section{pts: pts, pieces: k.Pieces, kind: Circle, a: a, b: a}
}

// The costs by which a stretch is divided: a line costs 1; an arc more, so that
// lines are preferred; what is left as drawn by its length, so that a few
// shapes are preferred to it, and it to many.
const (
	arcCost  = 1.25
	drawnFix = 1.2
	drawnPer = 0.03 // for each mm
	// leastLine and leastSweep keep shapes within a longer stretch from being
	// mere approximations of a free curve.
	leastLine  = 8.0
	leastSweep = 50.0
	partShare  = 0.6 // of the tolerance, for shapes within a longer stretch
	// What turns by curveSweep degrees, and strays from an arc by less than curveRather of what it
	// strays from a line, is no line.
	curveSweep, curveRather = 8.0, 0.3
)

// divide cuts a stretch of a curve into sections of least cost, by dynamic
// programming over places along it.
func (w *work) divide(r *geom.Ruler, from, to float64) division {
	length := to - from
	m := min(max(int(length/1.5), 6), 90)
	pts := make(geom.Polyline, m+1)
	for i := range pts {
		pts[i] = r.At(from + length*float64(i)/float64(m))
	}
	type step struct {
		cost float64
		from int
		kind Kind
	}
	best := make([]step, m+1)
	for j := 1; j <= m; j++ {
		best[j].cost = math.Inf(1)
		for i := range j {
			spare := best[j].cost - 1e-9 - best[i].cost
			if spare <= 1 { // even a line costs more
				continue
			}
			kind, cost := w.span(pts[i:j+1], length*float64(j-i)/float64(m), i == 0 && j == m, spare)
			if c := best[i].cost + cost; c < best[j].cost-1e-9 {
				best[j] = step{c, i, kind}
			}
		}
	}
	var cuts []int
	for j := m; j > 0; j = best[j].from {
		cuts = append(cuts, j)
	}
	slices.Reverse(cuts)
	d := division{r: r, from: from, to: to, pts: pts, cuts: cuts}
	for _, j := range cuts {
		d.kinds = append(d.kinds, best[j].kind)
	}
	return d
}

// A division is a stretch of a curve and how it is cut.
type division struct {
	r        *geom.Ruler
	from, to float64       // along it, mm
	pts      geom.Polyline // evenly spaced
	cuts     []int         // of pts, where its sections end
	kinds    []Kind        // of the sections
}

// addSections adds a division's sections, between joints a and b.
func (w *work) addSections(curve int, d division, a, b int) {
	along := func(i int) float64 { return d.from + (d.to-d.from)*float64(i)/float64(len(d.pts)-1) }
	at, prev := 0, a
	for n, j := range d.cuts {
		next := b
		if n < len(d.cuts)-1 {
			next = w.jointAt(d.pts[j], -1)
		}
		s := &section{pts: d.pts[at : j+1], pieces: d.r.Sub(along(at), along(j)), kind: d.kinds[n], a: prev, b: next}
		if len(s.pts) < 5 {
			s.pts = s.pts.Resampled(s.pts.Length() / 5)
		}
		w.push(curve, s)
		at, prev = j, next
	}
}

// span is what points are best taken for, and its cost. An arc is not looked for
// if it costs spare or more.
func (w *work) span(pts geom.Polyline, length float64, whole bool, spare float64) (Kind, float64) {
	kind, cost := Kind(""), drawnFix+drawnPer*length
	tol := w.set.Tolerance
	if !whole {
		tol *= partShare
	}
	if len(pts) < 3 && !whole {
		return kind, cost
	}
	if cost > 1 && (whole || length >= leastLine) {
		if stray := lineStray(pts); stray <= tol && (whole || !curving(pts, stray)) {
			return Line, 1
		}
	}
	if cost <= arcCost && !whole || spare <= arcCost {
		return kind, cost
	}
	f, ok := fitArc(pts)
	if !ok || f.stray > tol || math.Abs(f.sweep) > 340 {
		return kind, cost
	}
	if whole || math.Abs(f.sweep) >= leastSweep {
		return Arc, arcCost
	}
	return kind, cost
}

// curving tells whether points that stray so far from a line lie on a curve much rather: a free curve
// is straight within the tolerance for some way everywhere.
func curving(pts geom.Polyline, stray float64) bool {
	f, ok := fitArc(pts)
	return ok && math.Abs(f.sweep) > curveSweep && f.stray < curveRather*stray
}

// pose writes the sections as a least squares problem.
func (w *work) pose() {
	w.problem = lsq.Problem{}
	w.rels = nil
	x := func(v ...float64) int {
		n := len(w.problem.X)
		w.problem.X = append(w.problem.X, v...)
		return n
	}
	for i, j := range w.joints {
		w.joints[i].x = x(j.at.X, j.at.Y)
		// A joint of what is left as drawn pulls to stay.
		w.problem.Terms = append(w.problem.Terms, stay(w.joints[i].x, j.at, 0.02))
	}
	for _, s := range w.sections {
		switch s.kind {
		case Line:
			w.problem.Terms = append(w.problem.Terms, w.onLine(s)...)
		case Arc:
			s.bulge = x(startBulge(s.pts))
			w.problem.Terms = append(w.problem.Terms, w.onArc(s)...)
		case Circle:
			c, r, _ := FitCircle(s.pts)
			s.circle = x(c.X, c.Y, r)
			w.problem.Terms = append(w.problem.Terms, onCircle(s)...)
			for _, st := range w.c.Curves[s.curve].Stops {
				j := w.joints[w.byKnot[st.Knot]].x
				w.problem.Conditions = append(
					w.problem.Conditions,
					lsq.Term{Vars: []int{s.circle, s.circle + 1, s.circle + 2, j, j + 1}, N: 1,
						Residuals: func(v, out []float64) { out[0] = math.Hypot(v[3]-v[0], v[4]-v[1]) - v[2] }},
				)
			}
		default:
			w.problem.Terms = append(
				w.problem.Terms, stay(w.joints[s.a].x, w.joints[s.a].at, 0.5),
				stay(w.joints[s.b].x, w.joints[s.b].at, 0.5),
			)
		}
	}
	w.given = len(w.problem.Conditions)
	w.relate(x)
	for _, r := range w.rels {
		w.problem.Conditions = append(w.problem.Conditions, r.term)
	}
}

func stay(x int, at geom.Point, weight float64) lsq.Term {
	return lsq.Term{
		Vars:      []int{x, x + 1},
		N:         2,
		Weight:    weight,
		Residuals: func(v, out []float64) { out[0], out[1] = v[0]-at.X, v[1]-at.Y },
	}
}

// startBulge is the tangent of a quarter of the angle that points turn by.
func startBulge(pts geom.Polyline) float64 {
	f, ok := fitArc(pts)
	if !ok {
		return 0
	}
	return math.Tan(geom.Radians(f.sweep) / 4)
}

func (w *work) ends(s *section) []int {
	a, b := w.joints[s.a].x, w.joints[s.b].x
	return []int{a, a + 1, b, b + 1}
}

// onLine pulls a line to its points: their distances from it, and of the first
// and last from the ends along it.
func (w *work) onLine(s *section) []lsq.Term {
	var out []lsq.Term
	for i, p := range s.pts {
		n := 1
		if i == 0 || i == len(s.pts)-1 {
			n = 2
		}
		out = append(out, lsq.Term{Vars: w.ends(s), N: n, Weight: 1, Residuals: func(v, r []float64) {
			a, b := geom.Pt(v[0], v[1]), geom.Pt(v[2], v[3])
			d := b.Sub(a).Unit()
			r[0] = p.Sub(a).Cross(d)
			if n == 2 {
				end := a
				if i > 0 {
					end = b
				}
				r[1] = 0.3 * p.Sub(end).Dot(d)
			}
		}})
	}
	return out
}

// arcOf is the circle of an arc by its ends and bulge.
func arcOf(a, b geom.Point, bulge float64) (centre geom.Point, radius float64) {
	// The sagitta is bulge times half the chord; the centre lies on the
	// chord's bisector.
	chord := b.Sub(a)
	mid := a.Lerp(b, 0.5)
	k := (1 - bulge*bulge) / (4 * bulge)
	centre = mid.Add(chord.Perp().Mul(k))
	return centre, centre.Dist(a)
}

func (w *work) onArc(s *section) []lsq.Term {
	var out []lsq.Term
	vars := append(w.ends(s), s.bulge)
	for i, p := range s.pts {
		n := 1
		if i == 0 || i == len(s.pts)-1 {
			n = 2
		}
		out = append(out, lsq.Term{Vars: vars, N: n, Weight: 1, Residuals: func(v, r []float64) {
			a, b := geom.Pt(v[0], v[1]), geom.Pt(v[2], v[3])
			if math.Abs(v[4]) < 1e-9 {
				r[0] = p.Sub(a).Cross(b.Sub(a).Unit())
			} else {
				c, radius := arcOf(a, b, v[4])
				r[0] = p.Dist(c) - radius
			}
			if n == 2 {
				end, t := a, tangent(a, b, v[4], false)
				if i > 0 {
					end, t = b, tangent(a, b, v[4], true)
				}
				r[1] = 0.3 * p.Sub(end).Dot(t)
			}
		}})
	}
	return out
}

func onCircle(s *section) []lsq.Term {
	var out []lsq.Term
	for _, p := range s.pts {
		out = append(out, lsq.Term{Vars: []int{s.circle, s.circle + 1, s.circle + 2}, N: 1, Weight: 1,
			Residuals: func(v, r []float64) { r[0] = math.Hypot(p.X-v[0], p.Y-v[1]) - v[2] }})
	}
	return out
}

// tangent is the unit direction of an arc at its start or end; a bulge of 0 is
// a line. The chord and the tangent are half the arc's angle apart.
func tangent(a, b geom.Point, bulge float64, end bool) geom.Point {
	half := 2 * math.Atan(bulge)
	if !end {
		half = -half
	}
	s, c := math.Sincos(half)
	d := b.Sub(a).Unit()
	return geom.Pt(c*d.X-s*d.Y, s*d.X+c*d.Y)
}
