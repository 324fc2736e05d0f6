package regular

import (
	"cmp"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/lsq"
)

// relate finds which sections are tangent, parallel or of one radius, and
// makes conditions of that.
func (w *work) relate(x func(...float64) int) {
	for i := range w.order {
		w.eachPair(i, func(s, t int) {
			a, b := w.sections[s], w.sections[t]
			if !smooth(a.kind) || !smooth(b.kind) || w.turn(a, b) > w.set.Tangent {
				return
			}
			w.add(relation{what: tangents, term: w.tangency(a, b), s: s, t: t})
		})
	}
	w.parallels(x)
	w.equals(x)
}

func smooth(k Kind) bool { return k == Line || k == Arc }

func (w *work) add(r relation) {
	if !w.banned[ban{r.what, r.s, r.t}] {
		w.rels = append(w.rels, r)
	}
}

// eachPair calls f for sections of a curve that follow each other.
func (w *work) eachPair(curve int, f func(s, t int)) {
	o := w.order[curve]
	for n := 1; n < len(o); n++ {
		f(o[n-1], o[n])
	}
	if len(o) > 1 && w.c.Curves[curve].Closed {
		f(o[len(o)-1], o[0])
	}
}

// turn is the angle, in degrees, between sections as drawn where they meet. Of
// a shape it is the fitted shape's direction, which a hand's wobble near the
// end does not sway.
func (w *work) turn(a, b *section) float64 {
	return w.drawn(a, true).Angle(w.drawn(b, false))
}

func (w *work) drawn(s *section, end bool) geom.Point {
	p, q := s.pts[0], s.pts[len(s.pts)-1]
	switch s.kind {
	case Line:
		_, d := FitLine(s.pts)
		return d
	case Arc:
		return tangent(p, q, startBulge(s.pts), end)
	}
	if end {
		return s.pieces[len(s.pieces)-1].Heading(1)
	}
	return s.pieces[0].Heading(0)
}

// tangency is the condition that b goes on as a ends.
func (w *work) tangency(a, b *section) lsq.Term {
	vars := append(w.ends(a), w.ends(b)...)
	ia, ib := -1, -1
	if a.kind == Arc {
		ia = len(vars)
		vars = append(vars, a.bulge)
	}
	if b.kind == Arc {
		ib = len(vars)
		vars = append(vars, b.bulge)
	}
	bulge := func(v []float64, i int) float64 {
		if i < 0 {
			return 0
		}
		return v[i]
	}
	return lsq.Term{Vars: vars, N: 1, Residuals: func(v, out []float64) {
		t := tangent(geom.Pt(v[0], v[1]), geom.Pt(v[2], v[3]), bulge(v, ia), true)
		u := tangent(geom.Pt(v[4], v[5]), geom.Pt(v[6], v[7]), bulge(v, ib), false)
		out[0] = t.Cross(u)
	}}
}

// leastParallel is the length of a line whose direction says something, mm.
const leastParallel = 10

// parallels gathers lines of nearly one direction: each group's direction is
// one more unknown.
func (w *work) parallels(x func(...float64) int) {
	var list []valued
	for i, s := range w.sections {
		if s.kind == Line && s.pts[0].Dist(s.pts[len(s.pts)-1]) >= leastParallel && !w.banned[ban{parallels, i, -1}] {
			_, d := FitLine(s.pts)
			a := geom.Degrees(math.Atan2(d.Y, d.X))
			list = append(list, valued{i, math.Mod(a+360, 180)})
		}
	}
	for _, g := range clusters(list, w.set.Parallel, 180) {
		dir := x(geom.Radians(mean(g)))
		w.problem.Shared = append(w.problem.Shared, dir)
		for _, v := range g {
			s := w.sections[v.section]
			w.add(
				relation{
					what: parallels,
					term: lsq.Term{Vars: append(w.ends(s), dir), N: 1, Residuals: func(v, out []float64) {
						sin, cos := math.Sincos(v[4])
						out[0] = geom.Pt(v[2]-v[0], v[3]-v[1]).Unit().Cross(geom.Pt(cos, sin))
					}},
					s: v.section,
					t: -1,
				},
			)
		}
	}
}

// equals gathers arcs and circles of nearly one radius: each group's radius is
// one more unknown. Radii are compared by their logarithms.
func (w *work) equals(x func(...float64) int) {
	var list []valued
	for i, s := range w.sections {
		if w.banned[ban{equals, i, -1}] {
			continue
		}
		switch s.kind {
		case Circle:
			_, r, _ := FitCircle(s.pts)
			list = append(list, valued{i, math.Log(r)})
		case Arc:
			if f, ok := fitArc(s.pts); ok && math.Abs(f.sweep) >= leastSweep {
				list = append(list, valued{i, math.Log(f.radius)})
			}
		}
	}
	for _, g := range clusters(list, math.Log1p(w.set.Radius/100), 0) {
		radius := x(math.Exp(mean(g)))
		w.problem.Shared = append(w.problem.Shared, radius)
		for _, v := range g {
			s := w.sections[v.section]
			t := lsq.Term{
				Vars:      []int{s.circle + 2, radius},
				N:         1,
				Residuals: func(v, out []float64) { out[0] = v[0] - v[1] },
			}
			if s.kind == Arc {
				t = lsq.Term{Vars: append(w.ends(s), s.bulge, radius), N: 1, Residuals: func(v, out []float64) {
					// Radius by chord and bulge: c·(1 + b²) / (4·|b|).
					c := math.Hypot(v[2]-v[0], v[3]-v[1])
					out[0] = c*(1+v[4]*v[4])/(4*max(math.Abs(v[4]), 1e-9)) - v[5]
				}}
			}
			w.add(relation{what: equals, term: t, s: v.section, t: -1})
		}
	}
}

// A valued is a section with a value that others may share.
type valued struct {
	section int
	value   float64
}

func mean(g []valued) float64 {
	sum := 0.0
	for _, v := range g {
		sum += v.value
	}
	return sum / float64(len(g))
}

// clusters gathers values within a step of their neighbours and no more than
// one and a half steps apart in all, two or more together. Values go round at
// period, if that is not 0.
func clusters(list []valued, step, period float64) [][]valued {
	slices.SortStableFunc(list, func(a, b valued) int { return cmp.Compare(a.value, b.value) })
	if n := len(list); period > 0 && n > 1 {
		// Start behind the widest gap.
		at, widest := 0, list[0].value+period-list[n-1].value
		for i := 1; i < n; i++ {
			if g := list[i].value - list[i-1].value; g > widest {
				at, widest = i, g
			}
		}
		turned := slices.Clone(list[at:])
		for _, v := range list[:at] {
			turned = append(turned, valued{v.section, v.value + period})
		}
		list = turned
	}
	var out [][]valued
	for i := 0; i < len(list); {
		j := i + 1
		for j < len(list) && list[j].value-list[j-1].value <= step && list[j].value-list[i].value <= 1.5*step {
			j++
		}
		if j-i > 1 {
			out = append(out, list[i:j])
		}
		i = j
	}
	return out
}

// unmet is the residual above which a condition counts as not met.
const unmet = 1e-5

// giveUp gives up what cannot be met or moves too far. It reports whether the
// problem must be solved again.
func (w *work) giveUp(left []float64) bool {
	changed := false
	worst := unmet
	for i := range w.rels {
		worst = max(worst, left[w.given+i])
	}
	for i, r := range w.rels {
		if v := left[w.given+i]; v > unmet && v >= worst/3 {
			w.banned[ban{r.what, r.s, r.t}] = true
			changed = true
		}
	}
	if changed {
		return true
	}
	for i, s := range w.sections {
		if s.kind == "" || w.moved(i) <= 2*w.set.Tolerance {
			continue
		}
		changed = true
		freed := false
		for _, k := range []relationKind{equals, parallels} {
			if r := (ban{k, i, -1}); !w.banned[r] && w.has(r) {
				w.banned[r], freed = true, true
			}
		}
		if !freed {
			s.kind = ""
		}
	}
	return changed || w.freeKinked()
}

// Where a curve that turns by less than smoothTurn degrees would turn by more than kinkMost.
const smoothTurn, kinkMost = 4.0, 6.0

// freeKinked leaves arcs as drawn that would put a kink into a smooth curve, of two that meet there
// the one that turns more from it. It reports whether there was one.
func (w *work) freeKinked() (changed bool) {
	for i := range w.order {
		w.eachPair(i, func(s, t int) {
			a, b := w.sections[s], w.sections[t]
			if a.kind != Arc && b.kind != Arc {
				return
			}
			was, is := a.pieces[len(a.pieces)-1].Heading(1), b.pieces[0].Heading(0)
			before, after := w.built(a), w.built(b)
			out, in := before[len(before)-1].Heading(1), after[0].Heading(0)
			if was.Angle(is) > smoothTurn || out.Angle(in) < kinkMost {
				return
			}
			if changed = true; b.kind != Arc || a.kind == Arc && out.Angle(was) > in.Angle(is) {
				a.kind = ""
			} else {
				b.kind = ""
			}
		})
	}
	return changed
}

func (w *work) has(b ban) bool {
	return slices.ContainsFunc(w.rels, func(r relation) bool { return r.what == b.what && r.s == b.s && r.t == b.t })
}

func (w *work) place(j int) geom.Point {
	x := w.joints[j].x
	return geom.Pt(w.problem.X[x], w.problem.X[x+1])
}

// moved is how far the points of section i lie from what it became, and its
// knots from where they were, at most.
func (w *work) moved(i int) float64 {
	worst, s := 0.0, w.sections[i]
	if s.kind == Circle {
		c, r := geom.Pt(w.problem.X[s.circle], w.problem.X[s.circle+1]), w.problem.X[s.circle+2]
		for _, p := range s.pts {
			worst = max(worst, math.Abs(p.Dist(c)-r))
		}
		return worst
	}
	// A joint within a curve may slide along it: the neighbours count too.
	var near []geom.Polyline
	o := w.order[s.curve]
	n := slices.Index(o, i)
	for _, k := range []int{n - 1, n, n + 1} {
		if w.c.Curves[s.curve].Closed {
			k = (k + len(o)) % len(o)
		}
		if k >= 0 && k < len(o) {
			near = append(near, geom.Curve{Pieces: w.built(w.sections[o[k]])}.Flatten(0.01))
		}
	}
	for _, p := range s.pts {
		d := math.Inf(1)
		for _, pl := range near {
			d = min(d, pl.DistanceTo(p))
		}
		worst = max(worst, d)
	}
	for _, e := range []struct {
		j  int
		at geom.Point
	}{{s.a, s.pts[0]}, {s.b, s.pts[len(s.pts)-1]}} {
		if w.joints[e.j].knot >= 0 {
			worst = max(worst, w.place(e.j).Dist(e.at))
		}
	}
	return worst
}

// built is the section's pieces after solving.
func (w *work) built(s *section) []geom.Cubic {
	a, b := w.place(s.a), w.place(s.b)
	switch s.kind {
	case Line:
		return []geom.Cubic{geom.StraightCubic(a, b)}
	case Arc:
		bulge := w.problem.X[s.bulge]
		if math.Abs(bulge) < 1e-6 {
			return []geom.Cubic{geom.StraightCubic(a, b)}
		}
		c, _ := arcOf(a, b, bulge)
		out := geom.ArcCubics(c, a, 4*geom.Degrees(math.Atan(bulge)))
		out[len(out)-1][3] = b
		return out
	}
	// As drawn: its ends' moves are spread along it.
	da, db := a.Sub(s.pieces[0][0]), b.Sub(s.pieces[len(s.pieces)-1][3])
	total := 0.0
	lengths := make([]float64, len(s.pieces))
	for i, p := range s.pieces {
		lengths[i] = geom.Curve{Pieces: []geom.Cubic{p}}.Length()
		total += lengths[i]
	}
	out := slices.Clone(s.pieces)
	at := 0.0
	for i, p := range s.pieces {
		d0 := da.Lerp(db, at/total)
		at += lengths[i]
		d1 := da.Lerp(db, at/total)
		out[i] = geom.Cubic{p[0].Add(d0), p[1].Add(d0), p[2].Add(d1), p[3].Add(d1)}
	}
	out[0][0], out[len(out)-1][3] = a, b
	return out
}

// result builds the centreline of the solved problem.
func (w *work) result() Regular {
	out := Regular{Line: geom.Centreline{Stray: w.c.Stray, Knots: slices.Clone(w.c.Knots)}}
	for knot, j := range w.byKnot {
		out.Line.Knots[knot].At = w.place(j)
	}
	for i, k := range w.c.Curves {
		n := geom.Curve{Closed: k.Closed, Ink: k.Ink}
		o := w.order[i]
		if len(o) == 1 && w.sections[o[0]].kind == Circle {
			w.circle(&n, k, w.sections[o[0]])
		} else {
			w.chain(&n, o)
		}
		n.Corners = countCorners(n)
		out.Line.Curves = append(out.Line.Curves, n)
	}
	for i, s := range w.sections {
		out.Moved = max(out.Moved, w.moved(i))
		if s.kind != "" {
			out.Shapes = append(out.Shapes, w.shape(i))
		}
	}
	for _, r := range w.rels {
		switch r.what {
		case tangents:
			out.Tangent++
		case parallels:
			out.Parallel++
		case equals:
			out.Equal++
		}
	}
	return out
}

func (w *work) shape(i int) Shape {
	s := w.sections[i]
	sh := Shape{Kind: s.kind, Curve: s.curve, From: w.place(s.a), To: w.place(s.b), Moved: w.moved(i)}
	switch s.kind {
	case Circle:
		sh.Centre, sh.Radius = geom.Pt(w.problem.X[s.circle], w.problem.X[s.circle+1]), w.problem.X[s.circle+2]
		sh.Sweep = 360
	case Arc:
		sh.Sweep = 4 * geom.Degrees(math.Atan(w.problem.X[s.bulge]))
		sh.Centre, sh.Radius = arcOf(sh.From, sh.To, w.problem.X[s.bulge])
	}
	return sh
}

// chain appends a curve's sections with its stops; what is left as drawn goes
// on in the direction of the shape it joins smoothly.
func (w *work) chain(n *geom.Curve, order []int) {
	built := make([][]geom.Cubic, len(order))
	for k, i := range order {
		built[k] = w.built(w.sections[i])
	}
	last := len(order) - 1
	for k, i := range order {
		s := w.sections[i]
		if s.kind != "" {
			continue
		}
		align := func(other int, p *geom.Cubic, end bool) {
			o := w.sections[order[other]]
			a, b := s, o
			if !end {
				a, b = o, s
			}
			if o.kind == "" || w.turn(a, b) > w.set.Tangent {
				return
			}
			if end {
				d := built[other][0].Heading(0)
				p[2] = p[3].Sub(d.Mul(p[2].Dist(p[3])))
			} else {
				d := built[other][len(built[other])-1].Heading(1)
				p[1] = p[0].Add(d.Mul(p[1].Dist(p[0])))
			}
		}
		if k > 0 || n.Closed && last > 0 {
			align((k+last)%(last+1), &built[k][0], false)
		}
		if k < last || n.Closed && last > 0 {
			align((k+1)%(last+1), &built[k][len(built[k])-1], true)
		}
	}
	for k, i := range order {
		if j := w.joints[w.sections[i].a]; j.knot >= 0 {
			n.Stops = append(n.Stops, geom.Stop{Knot: j.knot, Piece: len(n.Pieces)})
		}
		n.Pieces = append(n.Pieces, built[k]...)
	}
	if j := w.joints[w.sections[order[last]].b]; j.knot >= 0 {
		n.Stops = append(n.Stops, geom.Stop{Knot: j.knot, Piece: len(n.Pieces)})
	}
}

// circle makes a closed curve one circle, cut at its knots.
func (w *work) circle(n *geom.Curve, k geom.Curve, s *section) {
	c := geom.Pt(w.problem.X[s.circle], w.problem.X[s.circle+1])
	sense := 1.0
	if geom.Ring(s.pts).Area() < 0 {
		sense = -1
	}
	for i := range len(k.Stops) - 1 {
		a, b := w.place(w.byKnot[k.Stops[i].Knot]), w.place(w.byKnot[k.Stops[i+1].Knot])
		u, v := a.Sub(c), b.Sub(c)
		sweep := sense * geom.Degrees(math.Atan2(u.Cross(v), u.Dot(v)))
		if sweep <= 1e-9 {
			sweep += 360
		}
		n.Stops = append(n.Stops, geom.Stop{Knot: k.Stops[i].Knot, Piece: len(n.Pieces)})
		ps := geom.ArcCubics(c, a, sense*sweep)
		ps[len(ps)-1][3] = b
		n.Pieces = append(n.Pieces, ps...)
	}
	n.Stops = append(n.Stops, geom.Stop{Knot: k.Stops[len(k.Stops)-1].Knot, Piece: len(n.Pieces)})
}

func countCorners(k geom.Curve) int {
	n := 0
	for i, p := range k.Pieces {
		if i == 0 && !k.Closed {
			continue
		}
		if k.Pieces[(i+len(k.Pieces)-1)%len(k.Pieces)].Heading(1).Angle(p.Heading(0)) > corner {
			n++
		}
	}
	return n
}
