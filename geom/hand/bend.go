package hand

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// bent draws the stretch at p out to q, its ends staying where they are. An end that is a corner or
// the line's own may turn; where the line runs on smoothly it keeps its heading.
func bent(c geom.Centreline, p, q geom.Point) (geom.Centreline, geom.Point, string) {
	s := nearest(c, p)
	if s.off > Reach {
		return c, p, noLine(s)
	}
	k, by := c.Curves[s.curve], q.Sub(s.at())
	from, to := stretch(k, s)
	out := c
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	if smoothRing(k, from, to) {
		k = refined(k, []float64{s.s}, s.ruler.Length())
		r := geom.NewRuler(k)
		l := r.Length()
		out.Curves[s.curve] = r.Displaced(func(at float64) geom.Point {
			d := math.Abs(at - s.s)
			return by.Mul(geom.Fade(min(d, l-d) / (l / 2)))
		})
		settle(&out, s.curve)
		return out, p, ""
	}
	start, end := s.ruler.Piece(from), s.ruler.Piece(to)
	if s.s-start < leastLeft || end-s.s < leastLeft {
		return c, p, "a stretch is bent between its ends; move takes an end elsewhere"
	}
	before, behind := fadeAt(k, from), fadeAt(k, to)
	k = refined(k, []float64{s.s}, end-start)
	out.Curves[s.curve] = geom.NewRuler(k).Displaced(func(at float64) geom.Point {
		switch {
		case at <= start || at >= end:
			return geom.Point{}
		case at < s.s:
			return by.Mul(before((s.s - at) / (s.s - start)))
		}
		return by.Mul(behind((at - s.s) / (end - s.s)))
	})
	return out, p, ""
}

// fadeAt is how a bend fades, from 1 at 0 to 0 at 1, towards the end of a stretch at a piece.
func fadeAt(k geom.Curve, piece int) func(x float64) float64 {
	before, behind := piece-1, piece
	if k.Closed {
		before, behind = (before+len(k.Pieces))%len(k.Pieces), behind%len(k.Pieces)
	}
	turns := before < 0 || behind == len(k.Pieces) ||
		k.Pieces[before].Heading(1).Angle(k.Pieces[behind].Heading(0)) > cornerTurn
	if turns {
		return func(x float64) float64 { return 1 - x*x }
	}
	return geom.Fade
}
