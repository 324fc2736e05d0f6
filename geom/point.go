package geom

import "math"

// A Point is a place or a vector in the plane.
type Point struct{ X, Y float64 }

// Pt is shorthand for Point{x, y}.
func Pt(x, y float64) Point { return Point{x, y} }

// Add returns p + q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Sub returns p − q.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// Mul returns p scaled by k.
func (p Point) Mul(k float64) Point { return Point{p.X * k, p.Y * k} }

// Dot returns the scalar product of p and q.
func (p Point) Dot(q Point) float64 { return p.X*q.X + p.Y*q.Y }

// Cross returns the z component of p × q, positive when q lies clockwise of p
// in the sheet's frame (y down).
func (p Point) Cross(q Point) float64 { return p.X*q.Y - p.Y*q.X }

// Norm returns the length of p.
func (p Point) Norm() float64 { return math.Sqrt(p.X*p.X + p.Y*p.Y) }

// Dist returns the distance between p and q.
func (p Point) Dist(q Point) float64 { return p.Sub(q).Norm() }

// Unit returns p scaled to length 1, or the zero vector if p has no length.
func (p Point) Unit() Point {
	n := p.Norm()
	if n == 0 {
		return Point{}
	}
	return Point{p.X / n, p.Y / n}
}

// Perp returns p turned by 90 degrees: (−y, x).
func (p Point) Perp() Point { return Point{-p.Y, p.X} }

// Mirrored returns the point across the line through at in the unit direction dir.
func (p Point) Mirrored(at, dir Point) Point {
	return p.Sub(dir.Perp().Mul(2 * dir.Cross(p.Sub(at))))
}

// Lerp returns the point a share t of the way from p to q.
func (p Point) Lerp(q Point, t float64) Point {
	return Point{p.X + (q.X-p.X)*t, p.Y + (q.Y-p.Y)*t}
}

// Angle returns the angle between p and q, 0 to 180 degrees. It is 0 if
// either has no length.
func (p Point) Angle(q Point) float64 {
	return Degrees(math.Atan2(math.Abs(p.Cross(q)), p.Dot(q)))
}

// Degrees turns radians to degrees.
func Degrees(rad float64) float64 { return rad * 180 / math.Pi }

// Radians turns degrees to radians.
func Radians(deg float64) float64 { return deg * math.Pi / 180 }

// A Rect is an axis-aligned box; Min is its top left corner on the sheet.
type Rect struct{ Min, Max Point }

// Size returns the width and height of r.
func (r Rect) Size() Point { return r.Max.Sub(r.Min) }

// Nearest is the point of the box, its inside counted, that is nearest to p.
func (r Rect) Nearest(p Point) Point {
	return Point{min(max(p.X, r.Min.X), r.Max.X), min(max(p.Y, r.Min.Y), r.Max.Y)}
}

// Overlaps reports whether the boxes share a point.
func (r Rect) Overlaps(q Rect) bool {
	return r.Min.X <= q.Max.X && q.Min.X <= r.Max.X && r.Min.Y <= q.Max.Y && q.Min.Y <= r.Max.Y
}

// Shared is the area that two rectangles have in common.
func (r Rect) Shared(q Rect) float64 {
	w, h := min(r.Max.X, q.Max.X)-max(r.Min.X, q.Min.X), min(r.Max.Y, q.Max.Y)-max(r.Min.Y, q.Min.Y)
	return max(w, 0) * max(h, 0)
}

// Bounds returns the smallest box around pts, the zero Rect if there are none.
func Bounds(pts []Point) Rect {
	if len(pts) == 0 {
		return Rect{}
	}
	r := Rect{pts[0], pts[0]}
	for _, p := range pts[1:] {
		r.Min = Point{math.Min(r.Min.X, p.X), math.Min(r.Min.Y, p.Y)}
		r.Max = Point{math.Max(r.Max.X, p.X), math.Max(r.Max.Y, p.Y)}
	}
	return r
}
