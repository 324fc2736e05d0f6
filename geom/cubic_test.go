package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// parabola is y = x² from x = 0 to 1, whose parameter is x: a cubic's control points by degree elevation
// (a textbook example, from memory).
var parabola = Cubic{Pt(0, 0), Pt(1.0/3, 0), Pt(2.0/3, 1.0/3), Pt(1, 1)}

// Place, derivatives and curvature of the parabola, by calculus: (x, x²), (1, 2x), (0, 2) and 2 / (1 + 4x²)^1.5.
func TestCubicOfParabola(t *testing.T) {
	for _, x := range []float64{0, 0.1, 0.35, 0.5, 0.8, 1} {
		assert.InDelta(t, 0, parabola.At(x).Dist(Pt(x, x*x)), 1e-12)
		assert.InDelta(t, 0, parabola.Deriv(x).Dist(Pt(1, 2*x)), 1e-12)
		assert.InDelta(t, 0, parabola.Deriv2(x).Dist(Pt(0, 2)), 1e-12)
		assert.InDelta(t, 2/math.Pow(1+4*x*x, 1.5), parabola.Curvature(x), 1e-12)
		assert.InDelta(t, 0, parabola.Heading(x).Dist(Pt(1, 2*x).Unit()), 1e-12)
		assert.InDelta(t, 0, parabola.Reversed().At(1-x).Dist(Pt(x, x*x)), 1e-12)
		part := parabola.Between(0.2, 0.7)
		assert.InDelta(t, 0, part.At(x).Dist(parabola.At(0.2+0.5*x)), 1e-12)
	}
	// Its length from 0 to 1, by the integral: √5/2 + asinh(2)/4.
	assert.InDelta(t, math.Sqrt(5)/2+math.Asinh(2)/4, Curve{Pieces: []Cubic{parabola}}.Length(), 0.003)
	for _, tol := range []float64{0.1, 0.01, 0.001} {
		flat := parabola.Flatten(Polyline{parabola[0]}, tol)
		for i := range 100 {
			assert.LessOrEqual(t, flat.DistanceTo(parabola.At(float64(i)/99)), tol)
		}
		// A chord of a parabola over h strays from it by h²/4 in y: Wang's number is no more than needed.
		assert.Equal(t, int(math.Ceil(math.Sqrt(1/(4*tol)))), len(flat)-1)
	}
}

// Where handles have no length a curve still has a heading, and no curvature.
func TestCubicWithoutHandles(t *testing.T) {
	c := Cubic{Pt(0, 0), Pt(0, 0), Pt(3, 4), Pt(3, 4)}
	for _, x := range []float64{0, 1} {
		assert.InDelta(t, 0, c.Heading(x).Dist(Pt(0.6, 0.8)), 1e-9)
		assert.Zero(t, c.Curvature(x))
	}
	assert.Equal(t, Cubic{Pt(0, 3), Pt(1, 3), Pt(2, 3), Pt(3, 3)}, StraightCubic(Pt(0, 3), Pt(3, 3)))
}

func TestCurveMappedAndUpended(t *testing.T) {
	c := Centreline{Curves: []Curve{{Pieces: []Cubic{parabola}, Ink: 2}}, Knots: []Knot{{Pt(0, 0), 1}, {Pt(1, 1), 3}}, Stray: 0.1}
	up := c.Upended(5)
	assert.Equal(t, Pt(1, 4), up.Curves[0].Pieces[0][3])
	assert.Equal(t, Pt(2.0/3, 5-1.0/3), up.Curves[0].Pieces[0][2])
	assert.Equal(t, []Knot{{Pt(0, 5), 1}, {Pt(1, 4), 3}}, up.Knots)
	assert.Equal(t, 2, up.Curves[0].Ink)
	assert.Equal(t, 0.1, up.Stray)
	assert.Equal(t, Pt(0, 0), c.Curves[0].Pieces[0][0], "what was given stays")
	assert.InDelta(t, 1, BoundsOf(c.Curves, 0.01).Size().Y, 1e-12)
	assert.Nil(t, Curve{}.Flatten(0.1))
}

// A curve run the other way passes its knots the other way.
func TestCurveReversed(t *testing.T) {
	c := Lines(Pt(0, 0), Pt(10, 0), Pt(10, 5), Pt(2, 5))
	c.Stops = []Stop{{7, 0}, {8, 1}, {9, 3}}
	r := c.Reversed()
	assert.Equal(t, []Stop{{9, 0}, {8, 2}, {7, 3}}, r.Stops)
	assert.Equal(t, Pt(2, 5), r.Pieces[0][0])
	assert.Equal(t, Pt(0, 0), r.Pieces[2][3])
	assert.False(t, c.Closed)
	assert.False(t, Lines(Pt(0, 0), Pt(0, 0)).Closed, "two points are no closed line")
	assert.True(t, Lines(Pt(0, 0), Pt(3, 0), Pt(0, 0)).Closed)
}

// A straight line goes on straight, of an end that bends either way goes on the bend.
func TestEndsGoOnAsTheyBend(t *testing.T) {
	for _, angle := range []float64{60, -60} {
		c := Curve{Pieces: ArcCubics(Pt(0, 0), Pt(20, 0), angle)}
		out := c.EndsMoved(0, Radians(20)*20)
		last := out.Pieces[len(out.Pieces)-1]
		s, k := math.Sincos(Radians(angle / 60 * 80))
		assert.InDelta(t, 0, last[3].Dist(Pt(20*k, 20*s)), 0.02, "%g degrees", angle)
		assert.Len(t, c.Pieces, 2, "what was given stays")
	}
	// The bend is read over the last 8 mm alone: a quarter arc, then straight.
	c := Curve{Pieces: append(ArcCubics(Pt(0, 0), Pt(10, 0), 90), StraightCubic(Pt(0, 10), Pt(-12, 10)))}
	out := c.EndsMoved(0, 6)
	assert.InDelta(t, 0, out.Pieces[len(out.Pieces)-1][3].Dist(Pt(-18, 10)), 1e-9)
	// And over all of a line shorter than that.
	short := Curve{Pieces: ArcCubics(Pt(0, 0), Pt(4, 0), 45)}
	out = short.EndsMoved(0, Radians(30)*4)
	s, k := math.Sincos(Radians(75))
	assert.InDelta(t, 0, out.Pieces[len(out.Pieces)-1][3].Dist(Pt(4*k, 4*s)), 0.02)
	// A line stops before its end, though not before a stop: up to there it may.
	stopped := Lines(Pt(0, 0), Pt(30, 0), Pt(60, 0))
	stopped.Stops = []Stop{{0, 0}, {1, 1}, {2, 2}}
	assert.InDelta(t, 31, stopped.EndsMoved(0, -29).Length(), 1e-9)
	assert.InDelta(t, 60, stopped.EndsMoved(0, -30).Length(), 1e-9)
	free := Lines(Pt(0, 0), Pt(30, 0))
	assert.InDelta(t, 1, free.EndsMoved(0, -29).Length(), 1e-9)
	assert.InDelta(t, 30, free.EndsMoved(0, -30).Length(), 1e-9)
}
