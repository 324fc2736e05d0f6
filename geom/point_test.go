package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestAngle(t *testing.T) {
	for _, c := range []struct {
		name string
		p, q Point
		want float64
	}{
		{"same way", Pt(2, 0), Pt(5, 0), 0},
		{"square", Pt(1, 0), Pt(0, 3), 90},
		{"square, other sense", Pt(0, 3), Pt(1, 0), 90},
		{"opposite", Pt(1, 1), Pt(-2, -2), 180},
		{"no length", Pt(0, 0), Pt(1, 1), 0},
	} {
		t.Run(c.name, func(t *testing.T) { assert.InDelta(t, c.want, c.p.Angle(c.q), 1e-9) })
	}
}

func TestFoot(t *testing.T) {
	for _, c := range []struct {
		name    string
		a, b, p Point
		want    Point
		t       float64
	}{
		{"inside", Pt(0, 0), Pt(10, 0), Pt(3, 4), Pt(3, 0), 0.3},
		{"before the start", Pt(0, 0), Pt(10, 0), Pt(-3, 4), Pt(0, 0), 0},
		{"past the end", Pt(0, 0), Pt(10, 0), Pt(30, 4), Pt(10, 0), 1},
		{"no length", Pt(2, 2), Pt(2, 2), Pt(0, 0), Pt(2, 2), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, s := Foot(c.a, c.b, c.p)
			assert.Equal(t, c.want, f)
			assert.InDelta(t, c.t, s, 1e-12)
		})
	}
}

func TestShared(t *testing.T) {
	a := Rect{Point{0, 0}, Point{4, 3}}
	for _, c := range []struct {
		name string
		b    Rect
		want float64
	}{
		{"the same", a, 12},
		{"a corner", Rect{Point{3, 1}, Point{9, 9}}, 2},
		{"within", Rect{Point{1, 1}, Point{2, 2}}, 1},
		{"an edge", Rect{Point{4, 0}, Point{8, 3}}, 0},
		{"apart both ways", Rect{Point{6, 6}, Point{8, 8}}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, c.want, a.Shared(c.b), 1e-12)
			assert.InDelta(t, c.want, c.b.Shared(a), 1e-12)
		})
	}
}

func TestResampledKeepsEndsAndLength(t *testing.T) {
	pl := Polyline{Pt(0, 0), Pt(1, 0), Pt(1, 0), Pt(10, 0), Pt(10, 5)}
	for _, step := range []float64{0.1, 0.7, 3, 100} {
		r := pl.Resampled(step)
		assert.Equal(t, pl[0], r[0])
		assert.Equal(t, pl[len(pl)-1], r[len(r)-1])
		assert.LessOrEqual(t, r.Length(), pl.Length()+1e-9)
		for _, p := range r {
			assert.InDelta(t, 0, pl.DistanceTo(p), 1e-9)
		}
	}
	dot := Polyline{Pt(1, 1), Pt(1, 1)}
	assert.Len(t, dot.Resampled(0.5), 2)
}

// A quarter circle as a cubic, with handles of 4/3·tan(π/8) ≈ 0.5523, strays
// from the circle by at most 0.03 % of its radius: a handbook figure (from
// memory).
func TestFlattenQuarterCircle(t *testing.T) {
	const k = 0.5522847498
	c := Cubic{Pt(100, 0), Pt(100, 100*k), Pt(100*k, 100), Pt(0, 100)}
	for _, tol := range []float64{1, 0.1, 0.01} {
		pl := c.Flatten(Polyline{c[0]}, tol)
		for i := 1; i < len(pl); i++ {
			mid := pl[i-1].Lerp(pl[i], 0.5)
			assert.InDelta(t, 100, mid.Norm(), tol+0.03)
		}
		assert.InDelta(t, math.Pi*50, pl.Length(), 2*tol+0.05)
	}
}

func TestTopology(t *testing.T) {
	run := func(a, b int) Stroke { return Stroke{Runs: []Polyline{{Pt(0, 0), Pt(1, 0)}}, Knots: []int{a, b}} }
	for _, c := range []struct {
		name  string
		knots int
		runs  []Stroke
		want  Topology
	}{
		{"one line", 2, []Stroke{run(0, 1)}, Topology{Parts: 1, Ends: 2}},
		{"ring", 1, []Stroke{run(0, 0)}, Topology{Parts: 1, Loops: 1}},
		{"T", 4, []Stroke{run(0, 1), run(1, 2), run(1, 3)}, Topology{Parts: 1, Ends: 3, Junctions: 1}},
		{"two rings that touch", 1, []Stroke{run(0, 0), run(0, 0)}, Topology{Parts: 1, Junctions: 1, Loops: 2}},
		{"line and ring apart, one knot unused", 4, []Stroke{run(0, 1), run(3, 3)}, Topology{Parts: 2, Ends: 2, Loops: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := Network{Knots: make([]Knot, c.knots), Strokes: c.runs}
			assert.Equal(t, c.want, n.Topology())
			assert.Equal(t, c.want, n.Scaled(3).Topology())
		})
	}
}

func TestEncloses(t *testing.T) {
	c := Polyline{{X: 0, Y: 0}, {X: 30, Y: 0}, {X: 30, Y: 10}, {X: 10, Y: 10}, {X: 10, Y: 20}, {X: 30, Y: 20}, {X: 30, Y: 30}, {X: 0, Y: 30}}
	for _, k := range []struct {
		name string
		p    Point
		want bool
	}{
		{"within the back", Pt(5, 15), true},
		{"within an arm", Pt(25, 5), true},
		{"between the arms", Pt(20, 15), false},
		{"outside, level with a corner", Pt(-5, 10), false},
		{"above", Pt(15, -1), false},
	} {
		t.Run(k.name, func(t *testing.T) { assert.Equal(t, k.want, c.Encloses(k.p)) })
	}
	assert.False(t, Polyline(nil).Encloses(Pt(0, 0)))
	kite := Polyline{{X: 3, Y: 1}, {X: 13, Y: 21}, {X: -7, Y: 21}} // its sides rise by 2 for each 1 across
	for _, y := range []float64{5, 11, 19} {
		half := (y - 1) / 2
		for off, want := range map[float64]bool{-half - 0.1: false, -half + 0.1: true, half - 0.1: true, half + 0.1: false} {
			assert.Equal(t, want, kite.Encloses(Pt(3+off, y)), "%g off the middle at %g", off, y)
		}
	}
}
