package geom

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// walkOf is a walk along points, sampled every step mm.
func walkOf(pts Polyline, step float64, closed bool) *walk {
	run := pts.Resampled(step)
	if closed {
		return newWalk(Stroke{Runs: []Polyline{run}, Knots: []int{0, 0}, Closed: true})
	}
	return newWalk(Stroke{Runs: []Polyline{run}, Knots: []int{0, 1}})
}

// A corner's turn is the angle between its sides, whatever the sense; an arc turns as much, and has none.
func TestTurnAt(t *testing.T) {
	arc := func(r float64) Polyline {
		var out Polyline
		for i := range 401 {
			s, c := math.Sincos(Radians(float64(i) * 0.45))
			out = append(out, Pt(r*c, r*s))
		}
		return out
	}
	corner := func(angle float64) Polyline {
		s, c := math.Sincos(Radians(angle))
		return Polyline{Pt(-20, 0), Pt(0, 0), Pt(20*c, 20*s)}
	}
	// 20 degrees from heading right, between arcs of 30 mm that bend the same way.
	bent := func(angle float64) Polyline {
		in := Curve{Pieces: ArcCubics(Pt(0, 30), Pt(0, 0), -60)}.Reversed()
		s, c := math.Sincos(Radians(angle))
		out := Curve{Pieces: ArcCubics(Pt(-30*s, 30*c), Pt(0, 0), 60)}
		return append(in.Flatten(0.001), out.Flatten(0.001)[1:]...)
	}
	for _, c := range []struct {
		name     string
		line     Polyline
		at, turn float64
		within   float64
	}{
		{"straight", Polyline{Pt(0, 0), Pt(40, 10)}, 20, 0, 1e-6},
		{"square corner", corner(90), 20, 90, 0.01},
		{"the other way", corner(-90), 20, 90, 0.01},
		{"blunt", corner(50), 20, 50, 0.01},
		{"sharp", corner(140), 20, 140, 0.01},
		{"hairpin", corner(170), 20, 170, 0.01},
		{"beside a corner", corner(90), 26, 0, 1e-6},
		{"too near the start", corner(90), 1.2, 0, 1e-9},
		{"arc of 10 mm", arc(10), 15, 0, 1},
		{"arc of 5 mm", arc(5), 8, 0, 3},
		{"corner of 60 degrees between arcs", bent(60), 30 * math.Pi / 3, 60, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := walkOf(c.line, 0.1, false)
			assert.InDelta(t, c.turn, w.turnAt(c.at), c.within)
		})
	}
	// Near an end the sides are read over what there is, down to 0.7 mm.
	w := walkOf(corner(90), 0.1, false)
	short := walkOf(Polyline{Pt(-1.4, 0), Pt(0, 0), Pt(0, 20)}, 0.1, false)
	assert.InDelta(t, 90, short.turnAt(1.4), 0.5)
	assert.Zero(t, walkOf(Polyline{Pt(-1.2, 0), Pt(0, 0), Pt(0, 20)}, 0.1, false).turnAt(1.2))
	assert.InDelta(t, 90, walkOf(Polyline{Pt(0, 20), Pt(0, 0), Pt(-1.4, 0)}, 0.1, false).turnAt(20), 0.5)
	assert.Zero(t, walkOf(Polyline{Pt(0, 20), Pt(0, 0), Pt(-1.2, 0)}, 0.1, false).turnAt(20))
	assert.InDelta(t, 0, w.heading(2, 5).Dist(Pt(1, 0)), 1e-9)
	// A closed line is read past its start, and a small one over a quarter of it.
	square := walkOf(Polyline{Pt(0, 0), Pt(10, 0), Pt(10, 10), Pt(0, 10), Pt(0, 0)}, 0.1, true)
	for _, s := range []float64{0, 10, 20, 30, 40} {
		assert.InDelta(t, 90, square.turnAt(s), 0.5, "%g", s)
	}
	small := walkOf(Polyline{Pt(0, 0), Pt(2, 0), Pt(2, 2), Pt(0, 2), Pt(0, 0)}, 0.05, true)
	assert.InDelta(t, 90, small.turnAt(4), 1)
	assert.Zero(t, walkOf(Polyline{Pt(0, 0), Pt(1.2, 0), Pt(1.2, 1.2), Pt(0, 1.2), Pt(0, 0)}, 0.05, true).turnAt(2.4), "too small to have any")
}

// A corner between arcs is put where they meet, to a few hundredths of a mm, and lone points keep their side.
func TestSharpenCornersOfArcs(t *testing.T) {
	in := Curve{Pieces: ArcCubics(Pt(0, 25), Pt(0, 0), -60)}.Reversed().Flatten(0.0005)
	out := Curve{Pieces: ArcCubics(Pt(25, 0), Pt(0, 0), -60)}.Flatten(0.0005)
	var line Polyline // 0.15 mm of each side cut off
	for _, p := range append(in, out[1:]...) {
		if p.Norm() > 0.15 {
			line = append(line, p)
		}
	}
	w := walkOf(line, 0.1, false)
	mid := 0
	for i, p := range w.p {
		if p.Norm() < w.p[mid].Norm() {
			mid = i
		}
	}
	w.corner[mid], w.fixed[mid] = true, true
	w.sharpenCorners()
	assert.Less(t, w.p[mid].Norm(), 0.04)
}

// Corners are where the line turns most, one for each, and only if more than the limit.
func TestFindCorners(t *testing.T) {
	zigzag := Polyline{Pt(0, 0), Pt(10, 0), Pt(10, 10), Pt(20, 10), Pt(25, 10+5*math.Sqrt(3))}
	for _, c := range []struct {
		limit float64
		at    []float64
	}{{40, []float64{10, 20, 30}}, {70, []float64{10, 20}}, {100, nil}} {
		w := walkOf(zigzag, 0.1, false)
		w.findCorners(c.limit)
		var at []float64
		for i, k := range w.corner {
			if k {
				at = append(at, w.s[i])
				assert.True(t, w.fixed[i])
			}
		}
		require.Len(t, at, len(c.at), "%g degrees", c.limit)
		assert.InDeltaSlice(t, c.at, at, cornerGap) // within which all places turn as much
	}
	// The seam of a closed line is one corner, told at both its ends.
	w := walkOf(Polyline{Pt(0, 0), Pt(10, 0), Pt(10, 10), Pt(0, 10), Pt(0, 0)}, 0.1, true)
	w.findCorners(40)
	assert.True(t, w.corner[0] && w.corner[len(w.p)-1])
	n := 0
	for _, k := range w.corner[1:] {
		if k {
			n++
		}
	}
	assert.Equal(t, 4, n)
}

// A corner that tracing cut off by 0.2 mm a side is put back; one that would move by more than 0.6 mm, or whose
// sides hardly turn, stays.
func TestSharpenCorners(t *testing.T) {
	for _, c := range []struct {
		name  string
		angle float64 // turned
		blur  float64 // mm cut off each side
		back  bool
	}{
		{"square", 90, 0.2, true},
		{"sharp", 130, 0.2, true},
		{"blunt", 45, 0.3, true},
		{"moves too far", 150, 0.75, false},
		{"hardly turns", 11, 0.3, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, k := math.Sincos(Radians(c.angle))
			w := walkOf(Polyline{Pt(-20, 0), Pt(-c.blur, 0), Pt(c.blur*k, c.blur*s), Pt(20*k, 20*s)}, 0.1, false)
			mid := 0
			for i, p := range w.p {
				if p.Norm() < w.p[mid].Norm() {
					mid = i
				}
			}
			was, before := w.p[mid], append([]float64(nil), w.s...)
			w.corner[mid], w.fixed[mid] = true, true
			w.sharpenCorners()
			if !c.back {
				assert.Equal(t, was, w.p[mid])
				return
			}
			assert.InDelta(t, 0, w.p[mid].Norm(), 0.02, "from %v", was)
			sides := Polyline{Pt(-20, 0), Pt(0, 0), Pt(20*k, 20*s)}
			for i, p := range w.p {
				assert.Less(t, sides.DistanceTo(p), 0.02)
				assert.InDelta(t, math.Abs(before[i]-before[mid]), p.Norm(), c.blur, "as far along its side as it was")
				if i > 0 {
					assert.InDelta(t, w.s[i]-w.s[i-1], p.Dist(w.p[i-1]), 1e-9, "measured anew")
				}
			}
		})
	}
}

// A corner at a knot stays, whatever the knot's number: other lines meet there.
func TestSharpenCornersLeavesKnots(t *testing.T) {
	for _, knot := range []int{0, 3} {
		w := walkOf(Polyline{Pt(-20, 0), Pt(-0.2, 0), Pt(0, 0.2), Pt(0, 20)}, 0.1, false)
		at := 0
		for i, p := range w.p {
			if p.Dist(Pt(-0.1, 0.1)) < w.p[at].Dist(Pt(-0.1, 0.1)) {
				at = i
			}
		}
		was := slices.Clone(w.p)
		w.corner[at], w.fixed[at], w.knot[at] = true, true, knot
		w.sharpenCorners()
		assert.Equal(t, was, w.p, "knot %d", knot)
	}
}

// On a circle the tangent is square to the radius: in the middle, at its ends, and at a closed one's seam; at a corner
// there is one for each side.
func TestTangent(t *testing.T) {
	circle := circlePoints(20)
	ring := walkOf(circle, 0.2, true)
	open := walkOf(circle[:361], 0.2, false)
	for _, i := range []int{0, 1, len(open.p) / 3, len(open.p) - 2, len(open.p) - 1} {
		want := open.p[i].Sub(Pt(50, 50)).Perp()
		if i < len(open.p)-1 {
			assert.Less(t, open.tangent(i, 1).Angle(want), 0.7, "open, %d", i)
		}
		if i > 0 {
			assert.Less(t, open.tangent(i, -1).Angle(want), 0.7, "open, behind, %d", i)
		}
	}
	for _, i := range []int{0, 50, len(ring.p) - 1} {
		assert.Less(t, ring.tangent(i, 1).Angle(ring.p[i].Sub(Pt(50, 50)).Perp()), 0.2, "ring, %d", i)
	}
	w := walkOf(Polyline{Pt(0, 0), Pt(10, 0), Pt(10, 10)}, 0.1, false)
	i := 100
	require.InDelta(t, 0, w.p[i].Dist(Pt(10, 0)), 1e-9)
	w.corner[i] = true
	assert.Less(t, w.tangent(i, 1).Angle(Pt(0, 1)), 1e-6)
	assert.Less(t, w.tangent(i, -1).Angle(Pt(1, 0)), 1e-6)
	short := walkOf(Polyline{Pt(0, 0), Pt(0.8, 0.6)}, 0.1, false)
	assert.InDelta(t, 0, short.tangent(0, 1).Dist(Pt(0.8, 0.6)), 1e-6)
}

// Points on one cubic are fitted by it again.
func TestFitOneFindsTheCubic(t *testing.T) {
	for _, k := range []struct {
		name   string
		c      Cubic
		within float64 // six rounds go so near
	}{
		{"parabola", Cubic{Pt(0, 0), Pt(10, 0), Pt(20, 10), Pt(30, 30)}, 0.06},
		{"S", Cubic{Pt(0, 0), Pt(12, 0), Pt(8, 20), Pt(20, 20)}, 0.01},
		{"handles of uneven lengths", Cubic{Pt(0, 0), Pt(3, 0), Pt(14, 9), Pt(20, 24)}, 0.3},
	} {
		t.Run(k.name, func(t *testing.T) {
			c := k.c
			var p Polyline
			for i := range 81 {
				p = append(p, c.At(float64(i)/80))
			}
			got, worst, _ := fitOne(p, c.Heading(0), c.Heading(1).Mul(-1))
			assert.Less(t, worst, k.within)
			// The curves themselves, not only their points of support.
			for i := range 21 {
				assert.Less(t, p.DistanceTo(got.At(float64(i)/20)), k.within)
			}
			// A true parameter in, a true handle out, by least squares.
			u := make([]float64, len(p))
			for i := range u {
				u[i] = float64(i) / 80
			}
			exact := bezierThrough(p, u, c.Heading(0), c.Heading(1).Mul(-1))
			for i := range c {
				assert.InDelta(t, 0, exact[i].Dist(c[i]), 1e-9, "control point %d", i)
			}
		})
	}
	same := Polyline{Pt(2, 2), Pt(2, 2), Pt(2, 2)}
	got, worst, _ := fitOne(same, Pt(1, 0), Pt(-1, 0))
	assert.Equal(t, StraightCubic(Pt(2, 2), Pt(2, 2)), got)
	assert.Zero(t, worst)
}

// Handles that make no sense are a third of the chord.
func TestBezierThroughFallsBack(t *testing.T) {
	// Points that run back before they go on: handles under 0 would fit them best.
	p := Polyline{Pt(0, 0), Pt(-3, 1), Pt(12, 1), Pt(9, 0)}
	got := bezierThrough(p, []float64{0, 1.0 / 3, 2.0 / 3, 1}, Pt(1, 0), Pt(-1, 0))
	assert.InDelta(t, 0, got[1].Dist(Pt(3, 0)), 1e-9)
	assert.InDelta(t, 0, got[2].Dist(Pt(6, 0)), 1e-9)
	// Two points say nothing of handles.
	got = bezierThrough(Polyline{Pt(0, 0), Pt(9, 0)}, []float64{0, 1}, Pt(1, 0), Pt(-1, 0))
	assert.Equal(t, Cubic{Pt(0, 0), Pt(3, 0), Pt(6, 0), Pt(9, 0)}, got)
}

// Newton's way leads to the foot of the perpendicular: places off the parabola along its normal.
func TestNewton(t *testing.T) {
	for _, x := range []float64{0.1, 0.5, 0.9} {
		for _, off := range []float64{-0.1, 0, 0.1} {
			p := parabola.At(x).Add(parabola.Heading(x).Perp().Mul(off))
			u := x + 0.08
			for range 12 {
				u = newton(parabola, p, u)
			}
			assert.InDelta(t, x, u, 1e-9, "%g, %g off", x, off)
		}
	}
	assert.Equal(t, 0.0, newton(parabola, Pt(-5, 0), 0.1), "not before the start")
	assert.Equal(t, 1.0, newton(parabola, Pt(2, 1.5), 0.9), "nor past the end")
	// On the inner side, beyond the centre of curvature, a step would lead away.
	assert.Equal(t, 0.3, newton(parabola, Pt(0, 9), 0.3))
}

// A fit takes more than one piece only where one strays too far, and says how far it strays.
func TestFitSplits(t *testing.T) {
	var wave Polyline
	for i := range 401 {
		x := float64(i) / 10
		wave = append(wave, Pt(x, 5*math.Sin(x/3)))
	}
	last := 0
	for _, tol := range []float64{0.5, 0.1, 0.02} {
		f := fitter{tol: tol}
		f.fit(wave, Pt(1, 5.0/3).Unit(), Pt(1, 5.0/3*math.Cos(40.0/3)).Unit().Mul(-1), 0)
		assert.LessOrEqual(t, f.stray, tol)
		assert.Greater(t, f.stray, tol/20)
		assert.Greater(t, len(f.out), last, "a finer fit takes more pieces")
		last = len(f.out)
		flat := Curve{Pieces: f.out}.Flatten(0.001)
		most := 0.0
		for _, p := range wave {
			most = max(most, flat.DistanceTo(p))
		}
		assert.LessOrEqual(t, most, f.stray+1e-3, "the stray is what it says")
		for i, p := range f.out[1:] {
			assert.Equal(t, f.out[i][3], p[0])
			assert.Less(t, f.out[i].Heading(1).Angle(p.Heading(0)), 1e-6, "smooth where it splits")
		}
	}
	assert.LessOrEqual(t, last, 24)
}

// Four points are still split where no cubic meets them; three are not.
func TestFitSplitsFour(t *testing.T) {
	f := fitter{tol: 0.01}
	f.fit(Polyline{Pt(0, 0), Pt(1, 3), Pt(2, -3), Pt(3, 0)}, Pt(1, 0), Pt(-1, 0), 0)
	assert.Greater(t, len(f.out), 1)
	f = fitter{tol: 0.01}
	f.fit(Polyline{Pt(0, 0), Pt(1, 3), Pt(3, 0)}, Pt(1, 0), Pt(-1, 0), 0)
	assert.Len(t, f.out, 1)
}

// Runs follow each other in a walk, their shared points once, with their knots.
func TestNewWalk(t *testing.T) {
	w := newWalk(Stroke{
		Runs:  []Polyline{{Pt(0, 0), Pt(1, 0), Pt(1, 0), Pt(3, 0)}, {Pt(3, 0), Pt(3, 2)}},
		Knots: []int{5, 6, 7},
	})
	assert.Equal(t, Polyline{Pt(0, 0), Pt(1, 0), Pt(3, 0), Pt(3, 2)}, w.p)
	assert.Equal(t, []int{5, -1, 6, 7}, w.knot)
	assert.Equal(t, []bool{true, false, true, true}, w.fixed)
	assert.Equal(t, []float64{0, 1, 3, 5}, w.s)
	assert.Equal(t, 5.0, w.length())
}

// A closed walk may start where it does if no corner is near; else in the middle of the longest way between corners.
func TestClear(t *testing.T) {
	ring := Polyline{Pt(0, 0), Pt(30, 0), Pt(30, 10), Pt(0, 10), Pt(0, 0)}
	for _, c := range []struct {
		name    string
		from    float64 // along the ring, where the walk starts
		corners bool
		at      Point
	}{
		{"no corners known", 0, false, Pt(0, 0)},
		{"starts in a corner", 0, true, Pt(15, 10)},
		{"starts clear of them", 8, true, Pt(8, 0)},
		{"starts just before one", 28.5, true, Pt(15, 10)},
		{"starts just after one", 1.5, true, Pt(15, 10)},
		{"the longest way is past the end", 38, true, Pt(15, 10)},
		{"the longest way goes over the start", 39.5, true, Pt(15, 10)},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := []float64{0, 30, 40, 70, 80}
			var pts Polyline
			for i := range 801 {
				pts = append(pts, ring.AtDistance(s, c.from+float64(i)/10, true))
			}
			w := newWalk(Stroke{Runs: []Polyline{pts}, Knots: []int{4, 4}, Closed: true})
			if c.corners {
				w.findCorners(40)
			}
			i := w.clear()
			if c.at == Pt(15, 10) { // both long sides are as long
				assert.InDelta(t, 15, w.p[i].X, cornerGap)
			} else {
				assert.InDelta(t, 0, w.p[i].Dist(c.at), 0.2)
			}
			at, n := w.p[i], len(w.p)
			w.startAt(i)
			assert.Equal(t, at, w.p[0])
			assert.Equal(t, at, w.p[n-1])
			assert.InDelta(t, 80, w.length(), 1e-6)
			assert.Equal(t, []int{4, 4}, []int{w.knot[0], w.knot[n-1]})
			for k, is := range w.corner {
				assert.Equal(t, is || k == 0 || k == n-1, w.fixed[k])
			}
		})
	}
}
