package geom

import "math"

// A Cubic is a cubic Bézier curve given by its four control points.
type Cubic [4]Point

// At returns the curve's point at parameter t, 0 to 1.
func (c Cubic) At(t float64) Point {
	u := 1 - t
	a, b, d, e := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
	return Point{
		a*c[0].X + b*c[1].X + d*c[2].X + e*c[3].X,
		a*c[0].Y + b*c[1].Y + d*c[2].Y + e*c[3].Y,
	}
}

// Deriv returns the first derivative at parameter t.
func (c Cubic) Deriv(t float64) Point {
	u := 1 - t
	return c[1].Sub(c[0]).Mul(3 * u * u).
		Add(c[2].Sub(c[1]).Mul(6 * u * t)).
		Add(c[3].Sub(c[2]).Mul(3 * t * t))
}

// Deriv2 returns the second derivative at parameter t.
func (c Cubic) Deriv2(t float64) Point {
	a := c[2].Sub(c[1].Mul(2)).Add(c[0])
	b := c[3].Sub(c[2].Mul(2)).Add(c[1])
	return a.Mul(6 * (1 - t)).Add(b.Mul(6 * t))
}

// Reversed returns the same curve run the other way.
func (c Cubic) Reversed() Cubic { return Cubic{c[3], c[2], c[1], c[0]} }

// StraightCubic returns the straight line from a to b as a Cubic.
func StraightCubic(a, b Point) Cubic {
	return Cubic{a, a.Lerp(b, 1.0/3), a.Lerp(b, 2.0/3), b}
}

// Flatten appends to dst the points of a polyline that strays from c by at
// most tol, without c's first point. The number of segments is the bound of
// Wang for a Bézier curve of degree 3: n = sqrt(6·max|second difference| /
// (8·tol)); see G. Wang, "The subdivision method for finding the intersection
// between two Bézier curves or surfaces", 1984 (cited from memory).
func (c Cubic) Flatten(dst Polyline, tol float64) Polyline {
	d := max(c[2].Sub(c[1].Mul(2)).Add(c[0]).Norm(), c[3].Sub(c[2].Mul(2)).Add(c[1]).Norm())
	n := max(int(math.Ceil(math.Sqrt(6*d/(8*tol)))), 1)
	for i := 1; i < n; i++ {
		dst = append(dst, c.At(float64(i)/float64(n)))
	}
	return append(dst, c[3])
}
