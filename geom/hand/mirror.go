package hand

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// A mirror is an axis and the side of it that is kept.
type mirror struct {
	at     geom.Point
	normal geom.Point // unit, to the side that is kept
}

// mirrored keeps what is drawn on the side of the axis from a to b where the place side lies, and
// puts its image on the other side, in place of what was there. Lines that end near the axis are
// led to it.
func mirrored(c geom.Centreline, a, b, side geom.Point) (geom.Centreline, geom.Point, string) {
	if a.Dist(b) < leastLeft {
		return c, a, "the axis needs two places apart"
	}
	m := mirror{a, b.Sub(a).Unit().Perp()}
	if m.off(side) < 0 {
		m.normal = m.normal.Mul(-1)
	}
	if m.off(side) < leastLeft {
		return c, side, "the third place lies on the axis: it tells which side is kept"
	}
	var curves []geom.Curve
	for i := range c.Curves {
		k := m.ledTo(c, i)
		for _, half := range m.kept(k) {
			curves = append(curves, m.whole(half)...)
		}
	}
	if len(curves) == 0 {
		return c, a, "no line lies on that side of the axis"
	}
	return remade(c, curves), a, ""
}

// off is how far p lies from the axis, mm, under 0 on the side that is not kept.
func (m mirror) off(p geom.Point) float64 { return p.Sub(m.at).Dot(m.normal) }

// image is p on the other side of the axis.
func (m mirror) image(p geom.Point) geom.Point { return p.Mirrored(m.at, m.normal.Perp()) }

// ledTo is curve i of c with its free ends on the axis that lie near it, on the side that is kept.
func (m mirror) ledTo(c geom.Centreline, i int) geom.Curve {
	k := c.Curves[i]
	if k.Closed {
		return k
	}
	for _, end := range []int{0, len(k.Stops) - 1} {
		st := k.Stops[end]
		knot := c.Knots[st.Knot]
		if off := m.off(knot.At); knot.Degree == 1 && off > 0 && off <= snapReach {
			k = givesWay(k, []float64{geom.NewRuler(k).Piece(st.Piece)}, m.normal.Mul(-off))
		}
	}
	return k
}

// axisStep is how far apart, mm, the places of a line are at which its side of the axis is looked up.
const axisStep = 0.5

// kept are the stretches of a curve on the side that is kept, each from where it leaves the axis to
// where it comes back to it.
func (m mirror) kept(k geom.Curve) (out []geom.Curve) {
	r := geom.NewRuler(k)
	l := r.Length()
	n := max(int(math.Ceil(l/axisStep)), 1)
	off := func(s float64) float64 { return m.off(r.At(s)) }
	var cuts []float64 // where it crosses, and its ends
	for i := range n {
		s, t := l*float64(i)/float64(n), l*float64(i+1)/float64(n)
		if off(s) > joinWithin != (off(t) > joinWithin) {
			cuts = append(cuts, crossing(off, s, t))
		}
	}
	if len(cuts) == 0 {
		if off(l/2) > joinWithin {
			return []geom.Curve{k}
		}
		return m.along(k)
	}
	if k.Closed {
		cuts = append(cuts, cuts[0]+l)
	} else {
		cuts = slices.Concat([]float64{0}, cuts, []float64{l})
	}
	for i := 1; i < len(cuts); i++ {
		s, t := cuts[i-1], cuts[i]
		if t-s > leastLeft && off(math.Mod((s+t)/2, l)) > joinWithin {
			out = append(out, geom.Curve{Ink: k.Ink, Pieces: r.Sub(s, t)})
		}
	}
	return out
}

// along is a curve that lies on the axis as a whole, or nothing.
func (m mirror) along(k geom.Curve) []geom.Curve {
	for _, p := range k.Flatten(joinWithin) {
		if math.Abs(m.off(p)) > snapReach {
			return nil
		}
	}
	if k.Closed {
		return nil
	}
	first, last := k.Pieces[0][0], k.Pieces[len(k.Pieces)-1][3]
	foot := func(p geom.Point) geom.Point { return p.Sub(m.normal.Mul(m.off(p))) }
	on := geom.Lines(foot(first), foot(last))
	on.Ink = k.Ink
	return []geom.Curve{on}
}

// crossing is where off is 0 between s and t, or as near to it as it comes.
func crossing(off func(float64) float64, s, t float64) float64 {
	inside := off(s) > joinWithin
	for range 40 {
		if mid := (s + t) / 2; off(mid) > 0 == inside {
			s = mid
		} else {
			t = mid
		}
	}
	return (s + t) / 2
}

// whole is a stretch with its image: one line where they meet on the axis, else two.
func (m mirror) whole(k geom.Curve) []geom.Curve {
	on := func(p geom.Point) bool { return math.Abs(m.off(p)) <= joinWithin }
	first, last := on(k.Pieces[0][0]), on(k.Pieces[len(k.Pieces)-1][3])
	image := geom.Centreline{Curves: []geom.Curve{k}}.Mapped(m.image).Curves[0]
	if k.Closed {
		return []geom.Curve{k, image}
	}
	image = image.Reversed()
	k.Stops, image.Stops = nil, nil
	switch {
	case first && last && k.Length() > joinWithin && m.bows(k):
		k.Pieces, k.Closed = joined(k.Pieces, image.Pieces), true
		k.Pieces[len(k.Pieces)-1][3] = k.Pieces[0][0]
	case first && last:
		return []geom.Curve{k}
	case last:
		k.Pieces = joined(k.Pieces, image.Pieces)
	case first:
		k.Pieces = joined(image.Pieces, k.Pieces)
	default:
		return []geom.Curve{k, image}
	}
	return []geom.Curve{k}
}

// bows tells whether a stretch leaves the axis.
func (m mirror) bows(k geom.Curve) bool {
	return slices.ContainsFunc(k.Flatten(joinWithin), func(p geom.Point) bool { return m.off(p) > joinWithin })
}

// joined are the pieces of a and b, which begin where those of a end.
func joined(a, b []geom.Cubic) []geom.Cubic {
	out := slices.Concat(a, b)
	out[len(a)][0] = out[len(a)-1][3]
	return out
}
