package regular

import (
	"math"

	"inkchannel/geom"
)

// onAxis is how near to the axis, mm, and within how many degrees of its
// direction a stroke counts as running along it; square is how far from square
// it may cross and still be made to cross squarely.
const (
	onAxis   = 2.5
	alongDeg = 20.0
	square   = 40.0
)

// paired is the share of a stroke that must have a partner across the axis for
// the stroke to have one.
const paired = 0.8

// A stretch is a part of a curve on one side of the axis.
type stretch struct {
	pieces     []geom.Cubic
	ink        int
	start, end bool // whether it begins or ends on the axis
	closed     bool // a whole closed curve
	side       float64
	along      bool // on the axis all the way
}

// split cuts the curves where they cross the axis.
func split(c geom.Centreline, a Axis) []stretch {
	var out []stretch
	for _, k := range c.Curves {
		out = append(out, splitCurve(k, a)...)
	}
	return out
}

func splitCurve(k geom.Curve, a Axis) []stretch {
	r := geom.NewRuler(k)
	l := r.Length()
	if runsAlong(r, a, 0, l) {
		return []stretch{{pieces: k.Pieces, ink: k.Ink, along: true}}
	}
	var cuts []float64
	const step = 0.5
	n := max(int(l/step), 4)
	for i := range n {
		s0, s1 := l*float64(i)/float64(n), l*float64(i+1)/float64(n)
		d0, d1 := a.side(r.At(s0)), a.side(r.At(s1))
		if d0 == 0 || d0*d1 >= 0 {
			continue
		}
		for range 50 { // halve
			m := (s0 + s1) / 2
			if a.side(r.At(m))*d0 > 0 {
				s0 = m
			} else {
				s1 = m
			}
		}
		cuts = append(cuts, (s0+s1)/2)
	}
	one := func(s0, s1 float64, start, end bool) stretch {
		side := 0.0
		for i := 1; i < 16; i++ {
			side += a.side(r.At(s0 + (s1-s0)*float64(i)/16))
		}
		return stretch{pieces: r.Sub(s0, s1), ink: k.Ink, start: start, end: end, side: side}
	}
	switch {
	case len(cuts) == 0:
		s := one(0, l, math.Abs(a.side(r.At(0))) < onAxis && !k.Closed, math.Abs(a.side(r.At(l))) < onAxis && !k.Closed)
		s.closed = k.Closed
		return []stretch{s}
	case k.Closed:
		var out []stretch
		for i, s := range cuts {
			next := cuts[(i+1)%len(cuts)]
			if i == len(cuts)-1 {
				next += l
			}
			out = append(out, one(s, next, true, true))
		}
		return out
	}
	out := []stretch{one(0, cuts[0], false, true)}
	for i := 1; i < len(cuts); i++ {
		out = append(out, one(cuts[i-1], cuts[i], true, true))
	}
	return append(out, one(cuts[len(cuts)-1], l, true, false))
}

// runsAlong reports whether the curve between two distances stays on the axis.
func runsAlong(r *geom.Ruler, a Axis, s0, s1 float64) bool {
	for i := range 17 {
		s := s0 + (s1-s0)*float64(i)/16
		if math.Abs(a.side(r.At(s))) > onAxis {
			return false
		}
	}
	d := r.At(s1).Sub(r.At(s0))
	return d.Angle(a.Dir) < alongDeg || d.Angle(a.Dir) > 180-alongDeg
}

// landed puts an end of a stretch on the axis, crossing squarely if it nearly
// does. It reports how far that moved the end.
func landed(ps []geom.Cubic, a Axis, end bool) float64 {
	i, p0, p1 := 0, 0, 1
	if end {
		i, p0, p1 = len(ps)-1, 3, 2
	}
	c := &ps[i]
	foot := c[p0].Sub(a.Dir.Perp().Mul(a.side(c[p0])))
	shift := foot.Sub(c[p0])
	c[p0], c[p1] = foot, c[p1].Add(shift)
	handle := c[p1].Sub(c[p0])
	across := a.Dir.Perp()
	if handle.Dot(across) < 0 {
		across = across.Mul(-1)
	}
	if handle.Angle(across) < square {
		c[p1] = c[p0].Add(across.Mul(handle.Norm()))
	}
	return shift.Norm()
}

// doubled is a stretch and its mirror image as curves: one if they join on the
// axis, else two.
func doubled(s stretch, a Axis, moved *float64) []geom.Curve {
	ps := append([]geom.Cubic(nil), s.pieces...)
	if s.start {
		*moved = max(*moved, landed(ps, a, false))
	}
	if s.end {
		*moved = max(*moved, landed(ps, a, true))
	}
	image := make([]geom.Cubic, len(ps))
	for i, p := range ps { // run the other way
		image[len(ps)-1-i] = geom.Cubic{a.reflect(p[0]), a.reflect(p[1]), a.reflect(p[2]), a.reflect(p[3])}.Reversed()
	}
	switch {
	case s.start && s.end:
		return []geom.Curve{{Pieces: append(ps, image...), Closed: true, Ink: s.ink}}
	case s.end:
		return []geom.Curve{{Pieces: append(ps, image...), Ink: s.ink}}
	case s.start:
		return []geom.Curve{{Pieces: append(image, ps...), Ink: s.ink}}
	}
	return []geom.Curve{{Pieces: ps, Ink: s.ink, Closed: s.closed}, {Pieces: image, Ink: s.ink, Closed: s.closed}}
}

// laid is a stretch along the axis, laid on it.
func laid(s stretch, a Axis, moved *float64) geom.Curve {
	foot := func(p geom.Point) geom.Point {
		*moved = max(*moved, math.Abs(a.side(p)))
		return p.Sub(a.Dir.Perp().Mul(a.side(p)))
	}
	first, last := s.pieces[0][0], s.pieces[len(s.pieces)-1][3]
	return geom.Curve{Pieces: []geom.Cubic{geom.StraightCubic(foot(first), foot(last))}, Ink: s.ink}
}

// rejoin is how near, mm, ends must come to other curves to be joined to them
// after mirroring.
const rejoin = 1.2

// copyHalf keeps one half and puts its image in the other's place.
func copyHalf(out *Symmetric, a Axis, right bool) {
	var curves []geom.Curve
	for _, s := range split(out.Line, a) {
		switch {
		case s.along:
			curves = append(curves, laid(s, a, &out.Moved))
		case s.side > 0 == right:
			curves = append(curves, doubled(s, a, &out.Moved)...)
		}
	}
	out.Line = joined(curves, out.Line.Stray)
}

func joined(curves []geom.Curve, stray float64) geom.Centreline {
	c := geom.Join(curves, rejoin)
	for i := range c.Curves {
		c.Curves[i].Corners = countCorners(c.Curves[i])
	}
	c.Stray = stray
	return c
}

// average moves the right half half way towards the left one's image, and puts
// its own image in the left one's place. Strokes that have no partner stay as
// drawn.
func average(out *Symmetric, a Axis, reach float64) {
	f := newAxisFinder(out.Line, reach)
	pairs := func(s stretch) (share float64) {
		pts := geom.Curve{Pieces: s.pieces}.Flatten(0.05).Resampled(axisStep)
		n := 0
		for _, p := range pts {
			if _, ok := f.partner(a.reflect(p)); ok {
				n++
			}
		}
		return float64(n) / float64(len(pts))
	}
	var images []geom.Polyline // of the left half
	parts := split(out.Line, a)
	for _, s := range parts {
		if !s.along && s.side <= 0 && pairs(s) >= paired {
			var l geom.Polyline
			for _, p := range (geom.Curve{Pieces: s.pieces}).Flatten(0.01) {
				l = append(l, a.reflect(p))
			}
			images = append(images, l)
		}
	}
	var curves []geom.Curve
	for _, s := range parts {
		switch {
		case s.along:
			curves = append(curves, laid(s, a, &out.Moved))
		case pairs(s) < paired:
			out.Kept++
			curves = append(curves, geom.Curve{Pieces: s.pieces, Ink: s.ink, Closed: s.closed})
		case s.side > 0:
			curves = append(curves, doubled(halfWay(s, images, reach, &out.Moved), a, &out.Moved)...)
		}
	}
	out.Line = joined(curves, out.Line.Stray)
}

// halfWay moves a stretch half way towards the nearest of images, smoothly
// along it.
func halfWay(s stretch, images []geom.Polyline, reach float64, moved *float64) stretch {
	ruler := geom.NewRuler(geom.Curve{Pieces: s.pieces, Closed: s.closed})
	const step = 1.0
	n := max(int(ruler.Length()/step), 4)
	shift := make([]geom.Point, n+1)
	for i := range shift {
		p := ruler.At(ruler.Length() * float64(i) / float64(n))
		h := ruler.Heading(ruler.Length() * float64(i) / float64(n))
		best := reach
		for _, l := range images {
			for k := 1; k < len(l); k++ {
				// Only a line that runs the same way is the partner.
				if math.Abs(l[k].Sub(l[k-1]).Unit().Dot(h)) < 0.7 {
					continue
				}
				if q, _ := geom.Foot(l[k-1], l[k], p); q.Dist(p) < best {
					best, shift[i] = q.Dist(p), q.Sub(p).Mul(0.5)
				}
			}
		}
	}
	// Smooth over 6 mm, so that the stroke keeps its own small shape.
	smooth := make([]geom.Point, n+1)
	for i := range smooth {
		var sum geom.Point
		m := 0.0
		for k := -3; k <= 3; k++ {
			j := i + k
			if s.closed {
				j = (j + n) % n
			}
			if j >= 0 && j <= n {
				sum, m = sum.Add(shift[j]), m+1
			}
		}
		smooth[i] = sum.Mul(1 / m)
		*moved = max(*moved, smooth[i].Norm())
	}
	at := func(d float64) geom.Point {
		x := min(max(d/ruler.Length()*float64(n), 0), float64(n))
		i := min(int(x), n-1)
		return smooth[i].Lerp(smooth[i+1], x-float64(i))
	}
	out := s
	out.pieces = ruler.Displaced(at).Pieces
	return out
}
