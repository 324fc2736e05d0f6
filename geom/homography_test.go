package geom

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// tilted is a homography of which no number is 0 or 1.
var tilted = Homography{4, 0.6, 10, -0.8, 3, 14, 0.002, 0.004, 2}

// A worked example by hand, all of it doubled: the weight at (10, 20) is 0.02 + 0.08 + 2.
func TestHomographyApply(t *testing.T) {
	p := tilted.Apply(Pt(10, 20))
	assert.InDelta(t, (40+12+10)/2.1, p.X, 1e-12)
	assert.InDelta(t, (-8+60+14)/2.1, p.Y, 1e-12)
}

// What is mapped and mapped back is where it was, and two maps in one are the one after the other.
func TestHomographyInverseAndThen(t *testing.T) {
	next := Homography{0.5, -0.2, 3, 0.7, 0.9, -4, 0.003, -0.001, 2}
	both := tilted.Then(next)
	assert.InDelta(t, tilted[3]*next[1]+tilted[0]*next[0]+tilted[6]*next[2], both[0], 1e-12, "of matrices the product")
	for _, p := range []Point{{0, 0}, {10, 20}, {-30, 5}, {7, -9}, {100, 60}} {
		assert.InDelta(t, 0, tilted.Inverse().Apply(tilted.Apply(p)).Dist(p), 1e-9, "%v back", p)
		assert.InDelta(t, 0, both.Apply(p).Dist(next.Apply(tilted.Apply(p))), 1e-9, "%v by both", p)
	}
}

func TestMeet(t *testing.T) {
	for _, c := range []struct {
		name       string
		p, r, q, s Point
		u, v, den  float64
	}{
		{"square", Pt(0, 0), Pt(4, 0), Pt(1, -2), Pt(0, 8), 0.25, 0.25, 32},
		{"slanting", Pt(1, 1), Pt(2, 1), Pt(5, 0), Pt(-1, 1), 1, 2, 3},
		{"behind both", Pt(2, 0), Pt(1, 0), Pt(0, 2), Pt(0, 1), -2, -2, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			u, v, den := Meet(c.p, c.r, c.q, c.s)
			assert.InDeltaSlice(t, []float64{c.u, c.v, c.den}, []float64{u, v, den}, 1e-12)
		})
	}
}

func TestCross(t *testing.T) {
	for _, c := range []struct {
		name       string
		a, b, c, d Point
		u, v       float64
		ok         bool
	}{
		{"within both", Pt(0, 0), Pt(10, 0), Pt(4, -1), Pt(4, 3), 0.4, 0.25, true},
		{"at the first's start", Pt(0, 0), Pt(10, 0), Pt(0, -1), Pt(0, 1), 0, 0.5, true},
		{"at the first's end", Pt(0, 0), Pt(10, 0), Pt(10, -1), Pt(10, 1), 1, 0.5, true},
		{"at the second's start", Pt(0, 0), Pt(10, 0), Pt(5, 0), Pt(5, 1), 0.5, 0, true},
		{"at the second's end", Pt(0, 0), Pt(10, 0), Pt(5, -1), Pt(5, 0), 0.5, 1, true},
		{"before the first", Pt(0, 0), Pt(10, 0), Pt(-1, -1), Pt(-1, 1), -0.1, 0.5, false},
		{"past the first", Pt(0, 0), Pt(10, 0), Pt(11, -1), Pt(11, 1), 1.1, 0.5, false},
		{"before the second", Pt(0, 0), Pt(10, 0), Pt(5, 1), Pt(5, 2), 0.5, -1, false},
		{"past the second", Pt(0, 0), Pt(10, 0), Pt(5, -2), Pt(5, -1), 0.5, 2, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			u, v, ok := Cross(c.a, c.b, c.c, c.d)
			assert.Equal(t, c.ok, ok)
			assert.InDeltaSlice(t, []float64{c.u, c.v}, []float64{u, v}, 1e-12)
		})
	}
	_, _, ok := Cross(Pt(0, 0), Pt(10, 0), Pt(2, 0), Pt(8, 0))
	assert.False(t, ok, "parallel, on each other")
}
