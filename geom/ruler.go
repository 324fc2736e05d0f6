package geom

import (
	"math"
	"sort"
)

// rulerSteps is how many chords a piece is measured by. A piece of 30 mm that
// turns by 90 degrees is then measured to 0.005 mm.
const rulerSteps = 32

// A Ruler finds places on a curve by their distance along it, in mm.
type Ruler struct {
	c Curve
	s []float64 // arc length at each step of each piece
	p Polyline  // the place there
}

// NewRuler measures a curve.
func NewRuler(c Curve) *Ruler {
	r := &Ruler{
		c: c,
		s: make([]float64, 1, len(c.Pieces)*rulerSteps+1),
		p: make(Polyline, 0, len(c.Pieces)*rulerSteps+1),
	}
	if len(c.Pieces) > 0 {
		r.p = append(r.p, c.Pieces[0][0])
	}
	for _, p := range c.Pieces {
		last := p[0]
		for k := 1; k <= rulerSteps; k++ {
			q := p.At(float64(k) / rulerSteps)
			r.s = append(r.s, r.s[len(r.s)-1]+last.Dist(q))
			r.p = append(r.p, q)
			last = q
		}
	}
	return r
}

// Length returns the curve's length.
func (r *Ruler) Length() float64 { return r.s[len(r.s)-1] }

// Piece returns how far along the curve its piece i starts; i may be the
// number of pieces, for the curve's end.
func (r *Ruler) Piece(i int) float64 { return r.s[i*rulerSteps] }

// wrap takes s into the curve: round a closed one, to the ends of another.
func (r *Ruler) wrap(s float64) float64 {
	l := r.Length()
	if r.c.Closed && l > 0 && (s < -1e-9 || s > l+1e-9) {
		s = math.Mod(math.Mod(s, l)+l, l)
	}
	return min(max(s, 0), l)
}

// locate returns the piece that holds distance s and the parameter there.
func (r *Ruler) locate(s float64) (piece int, t float64) {
	s = r.wrap(s)
	i := min(max(sort.SearchFloat64s(r.s, s), 1), len(r.s)-1)
	d := r.s[i] - r.s[i-1]
	f := 0.0
	if d > 0 {
		f = (s - r.s[i-1]) / d
	}
	piece = (i - 1) / rulerSteps
	return piece, (float64((i-1)%rulerSteps) + f) / rulerSteps
}

// along returns how far along the curve the parameter t of a piece lies.
func (r *Ruler) along(piece int, t float64) float64 {
	k := min(int(t*rulerSteps), rulerSteps-1)
	i := piece*rulerSteps + k
	return r.s[i] + (t*rulerSteps-float64(k))*(r.s[i+1]-r.s[i])
}

// At returns the point at distance s along the curve.
func (r *Ruler) At(s float64) Point {
	p, t := r.locate(s)
	return r.c.Pieces[p].At(t)
}

// Heading returns the unit direction of travel at distance s. At a corner it is
// that of the piece before.
func (r *Ruler) Heading(s float64) Point {
	p, t := r.locate(s)
	return r.c.Pieces[p].Heading(t)
}

// Nearest returns how far along the curve the place nearest to p lies, to
// within a step of measuring, and its distance from p.
func (r *Ruler) Nearest(p Point) (s, distance float64) {
	i, t, _, distance := r.p.Nearest(p)
	return r.s[i] + t*(r.s[i+1]-r.s[i]), distance
}

// Rulers are those of curves.
func Rulers(curves []Curve) []*Ruler {
	out := make([]*Ruler, len(curves))
	for i, k := range curves {
		out[i] = NewRuler(k)
	}
	return out
}

// NearestOf returns which of the rulers is nearest to p, how far along it, mm, and the distance, mm:
// −1 and an infinite distance if there are none.
func NearestOf(rulers []*Ruler, p Point) (i int, s, distance float64) {
	i, distance = -1, math.Inf(1)
	for k, r := range rulers {
		if at, d := r.Nearest(p); d < distance {
			i, s, distance = k, at, d
		}
	}
	return i, s, distance
}

// Sub returns the curve's pieces from distance a to b, a < b. On a closed
// curve b may lie beyond the length: the pieces then run through its start.
func (r *Ruler) Sub(a, b float64) []Cubic {
	var out []Cubic
	if l := r.Length(); r.c.Closed && b > l+1e-9 {
		if a >= l-1e-9 {
			return r.Sub(a-l, b-l)
		}
		return append(r.Sub(a, l), r.Sub(0, b-l)...)
	}
	if r.c.Closed && a < -1e-9 {
		l := r.Length()
		return append(r.Sub(a+l, l), r.Sub(0, b)...)
	}
	i, t := r.locate(a)
	j, u := r.locate(b)
	if i < j && t > 1-1e-9 {
		i, t = i+1, 0
	}
	for k := i; k <= j; k++ {
		p, from, to := r.c.Pieces[k], 0.0, 1.0
		if k == i {
			from = t
		}
		if k == j {
			to = u
		}
		if to-from > 1e-9 {
			out = append(out, p.Between(from, to))
		}
	}
	return out
}

// Displaced returns the curve with each place at distance s along it moved by
// shift(s), which should change little over a piece; it stays smooth where it
// was.
func (r *Ruler) Displaced(shift func(s float64) Point) Curve {
	out := r.c
	out.Pieces = make([]Cubic, len(r.c.Pieces))
	for i, p := range r.c.Pieces {
		a, b := r.Piece(i), r.Piece(i+1)
		// The handles go along with the places a third of the way in.
		out.Pieces[i] = Cubic{
			p[0].Add(shift(a)),
			p[1].Add(shift(a + (b-a)/3)),
			p[2].Add(shift(b - (b-a)/3)),
			p[3].Add(shift(b)),
		}
	}
	for i, p := range r.c.Pieces {
		k := i - 1
		if i == 0 {
			if !r.c.Closed {
				continue
			}
			k = len(r.c.Pieces) - 1
		}
		if r.c.Pieces[k].Heading(1).Angle(p.Heading(0)) > 1 {
			continue
		}
		a, b := &out.Pieces[k], &out.Pieces[i]
		d := a.Heading(1).Add(b.Heading(0)).Unit()
		a[2] = b[0].Sub(d.Mul(a[2].Dist(b[0])))
		b[1] = b[0].Add(d.Mul(b[1].Dist(b[0])))
	}
	return out
}

// Heading returns the unit direction of travel at parameter t.
func (c Cubic) Heading(t float64) Point {
	d := c.Deriv(t)
	if d.Norm() > 1e-9 {
		return d.Unit()
	}
	// A control point lies on its end: look a little further in.
	if t < 0.5 {
		return c.At(t + 1e-3).Sub(c.At(t)).Unit()
	}
	return c.At(t).Sub(c.At(t - 1e-3)).Unit()
}

// Curvature returns the signed curvature at parameter t in 1/mm, positive when
// the curve turns from x towards y.
func (c Cubic) Curvature(t float64) float64 {
	d, e := c.Deriv(t), c.Deriv2(t)
	n := d.Norm()
	if n < 1e-9 {
		return 0
	}
	return d.Cross(e) / (n * n * n)
}

// Between returns the part of the curve from parameter a to b (P. de
// Casteljau's subdivision).
func (c Cubic) Between(a, b float64) Cubic {
	p, q := c.At(a), c.At(b)
	k := (b - a) / 3
	return Cubic{p, p.Add(c.Deriv(a).Mul(k)), q.Sub(c.Deriv(b).Mul(k)), q}
}

// ArcCubics returns the circular arc about centre from point a, turning by
// angle (degrees, positive from x towards y), as cubics. Each spans at most 45
// degrees and strays from the circle by less than 5 millionths of the radius:
// handles of 4/3·tan(θ/4), see M. Goldapp, "Approximation of circular arcs by
// cubic polynomials", CAGD 8 (1991), 227–238 (cited from memory).
func ArcCubics(centre, a Point, angle float64) []Cubic {
	n := max(int(math.Ceil(math.Abs(angle)/45-1e-9)), 1)
	step := Radians(angle) / float64(n)
	h := 4.0 / 3 * math.Tan(step/4)
	out := make([]Cubic, n)
	from := a.Sub(centre)
	for i := range out {
		s, c := math.Sincos(step * float64(i+1))
		r := a.Sub(centre)
		to := Pt(c*r.X-s*r.Y, s*r.X+c*r.Y)
		out[i] = Cubic{
			centre.Add(from),
			centre.Add(from).Add(from.Perp().Mul(h)),
			centre.Add(to).Sub(to.Perp().Mul(h)),
			centre.Add(to),
		}
		from = to
	}
	return out
}
