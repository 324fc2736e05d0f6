package hand

import (
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
)

// A part is a stretch of a line that a place names, from one end to the other: kept is the end
// farther from the place, and moves the nearer one.
type part struct {
	curve       int
	from, to    int // pieces
	pieces      []geom.Cubic
	kept, moves geom.Point
	ring        bool // a whole closed line without corners
}

// partAt is the stretch at a place; why says why there is none.
func partAt(c geom.Centreline, p geom.Point) (t part, why string) {
	s := nearest(c, p)
	if s.off > Reach {
		return t, noLine(s)
	}
	k := c.Curves[s.curve]
	t.curve = s.curve
	t.from, t.to = stretch(k, s)
	t.pieces = k.Pieces[t.from:t.to]
	t.ring = smoothRing(k, t.from, t.to)
	t.kept, t.moves = t.pieces[0][0], t.pieces[len(t.pieces)-1][3]
	if s.s-s.ruler.Piece(t.from) < s.ruler.Piece(t.to)-s.s {
		t.kept, t.moves = t.moves, t.kept
	}
	return t, ""
}

// smoothRing tells whether pieces are all of a closed line without corners.
func smoothRing(k geom.Curve, from, to int) bool {
	return k.Closed && from == 0 && to == len(k.Pieces) && k.Pieces[0].Heading(0).Angle(k.Pieces[to-1].Heading(1)) < cornerTurn
}

func (t part) length() float64 { return geom.Curve{Pieces: t.pieces}.Length() }

// circle is the circle through the ends of a stretch and its farthest place, or a ring's mean; its
// radius is infinite for a straight one.
func (t part) circle() (middle geom.Point, radius float64) {
	if t.ring {
		return meanCircle(geom.Curve{Pieces: t.pieces})
	}
	far := farthest(t.pieces)
	middle, _ = circumcentre(t.kept, far, t.moves)
	if (geom.Polyline{t.kept, t.moves}).DistanceTo(far) < straightOff {
		return middle, math.Inf(1)
	}
	return middle, middle.Dist(t.kept)
}

// arc is the radius of an arc or a circle; ok is false for any other stretch.
func (t part) arc() (radius float64, ok bool) {
	middle, radius := t.circle()
	if t.ring || math.IsInf(radius, 1) {
		return radius, t.ring
	}
	for _, q := range (geom.Curve{Pieces: t.pieces}).Flatten(0.02) {
		if math.Abs(q.Dist(middle)-radius) > arcOff {
			return radius, false
		}
	}
	return radius, true
}

// arcOff is how far off a circle, mm, an arc may run.
const arcOff = 0.6

// straightOff is how far off its chord, mm, a stretch may run to count as straight.
const straightOff = 0.3

// mostTimes is how many times as long a stretch may become.
const mostTimes = 10

// side is the curve that the end that moves ends at the side of, −1 for none.
func (t part) side(c geom.Centreline) int {
	for i, k := range c.Curves {
		if i == t.curve {
			continue
		}
		r := geom.NewRuler(k)
		s, off := r.Nearest(t.moves)
		if off <= joinWithin && (k.Closed || s > joinWithin && s < r.Length()-joinWithin) {
			return i
		}
	}
	return -1
}

// leaves tells that the end that moves would leave the line that it ends at the side of.
func (t part) leaves(c geom.Centreline, to geom.Point) bool {
	i := t.side(c)
	if i < 0 {
		return false
	}
	_, off := geom.NewRuler(c.Curves[i]).Nearest(to)
	return off > joinWithin
}

// tears is why an end is not moved that meets the side of a line.
const tears = "the end that would move meets the side of another line and would leave it; pick nearer the other end"

// exact gives a stretch a length, an angle or a radius, or another's.
func exact(c geom.Centreline, ch Change) (geom.Centreline, geom.Point, string) {
	p := ch.At[0]
	t, why := partAt(c, p)
	if why != "" {
		return c, p, why
	}
	chord := t.moves.Sub(t.kept)
	if t.ring && ch.Verb != Radius && ch.Verb != Equal {
		return c, p, "a closed line without corners has no end to move; it takes a radius"
	}
	if !t.ring && chord.Norm() < leastLeft {
		return c, p, "its ends are in one place"
	}
	switch ch.Verb {
	case Length:
		return t.stretched(c, ch.Value/t.length(), p)
	case Angle:
		sin, cos := math.Sincos(geom.Radians(ch.Value))
		return t.turnedAlong(c, geom.Pt(cos, -sin), p) // y points down
	case Radius:
		return t.rounded(c, ch.Value, p)
	case Tangent:
		return t.smoothed(c, p)
	}
	o, why := partAt(c, ch.At[1])
	if why != "" {
		return c, ch.At[1], why
	}
	if ch.Verb == Parallel {
		if o.ring {
			return c, ch.At[1], "a closed line has no direction"
		}
		return t.turnedAlong(c, o.moves.Sub(o.kept).Unit(), p)
	}
	_, round := t.arc()
	if radius, ok := o.arc(); ok && round {
		return t.rounded(c, radius, p)
	}
	return t.stretched(c, o.length()/t.length(), p)
}

// stretched makes a stretch so many times as long.
func (t part) stretched(c geom.Centreline, times float64, p geom.Point) (geom.Centreline, geom.Point, string) {
	if t.ring {
		return c, p, "the one is closed and the other is not"
	}
	if times > mostTimes {
		return c, p, fmt.Sprintf("it is %.4g mm long, and can be made %d times as long at most", t.length(), mostTimes)
	}
	return t.putIn(c, t.kept.Add(t.moves.Sub(t.kept).Mul(times)), p)
}

// turnedAlong turns a stretch about the end that stays, the shorter way, until its chord runs along a
// direction.
func (t part) turnedAlong(c geom.Centreline, dir, p geom.Point) (geom.Centreline, geom.Point, string) {
	chord := t.moves.Sub(t.kept)
	if chord.Dot(dir) < 0 {
		dir = dir.Mul(-1)
	}
	return t.putIn(c, t.kept.Add(dir.Mul(chord.Norm())), p)
}

// putIn puts the end that moves at a place, the rest of the stretch with it as it is but for size and
// turn.
func (t part) putIn(c geom.Centreline, to, p geom.Point) (geom.Centreline, geom.Point, string) {
	if t.leaves(c, to) {
		return c, p, tears
	}
	was, is := t.moves.Sub(t.kept), to.Sub(t.kept)
	n := was.Dot(was)
	re, im := is.Dot(was)/n, was.Cross(is)/n // is = was times re + i·im
	made := make([]geom.Cubic, len(t.pieces))
	for i, q := range t.pieces {
		for k, p := range q {
			d := p.Sub(t.kept)
			made[i][k] = t.kept.Add(geom.Pt(re*d.X-im*d.Y, re*d.Y+im*d.X))
		}
	}
	return t.replaced(c, made, to), p, ""
}

// replaced is the lines with other pieces for the stretch, whose end moved to a place: what else
// meets there goes along.
func (t part) replaced(c geom.Centreline, made []geom.Cubic, to geom.Point) geom.Centreline {
	k := c.Curves[t.curve]
	by := to.Sub(t.moves)
	others := remade(c, slices.Delete(slices.Clone(c.Curves), t.curve, t.curve+1))
	for i, n := range others.Knots {
		if n.At.Dist(t.moves) <= joinWithin && by != (geom.Point{}) {
			others = movedKnot(others, i, by)
		}
	}
	goesAlong := func(pieces []geom.Cubic) []geom.Cubic { // the rest of the curve, whose end may be the one that moved
		if len(pieces) == 0 || by == (geom.Point{}) {
			return pieces
		}
		rest := geom.Curve{Pieces: pieces}
		for _, s := range []float64{0, rest.Length()} {
			if at := geom.NewRuler(rest).At(s); at.Dist(t.moves) <= joinWithin {
				rest = givesWay(rest, []float64{s}, by)
			}
		}
		return rest.Pieces
	}
	whole := geom.Curve{Ink: k.Ink, Closed: k.Closed}
	if k.Closed {
		whole.Pieces = slices.Concat(made, goesAlong(slices.Concat(k.Pieces[t.to:], k.Pieces[:t.from])))
	} else {
		whole.Pieces = slices.Concat(goesAlong(k.Pieces[:t.from]), made, goesAlong(k.Pieces[t.to:]))
	}
	return remade(c, slices.Insert(slices.Clone(others.Curves), t.curve, whole))
}

// rounded makes a stretch an arc of a radius between its ends, or a ring a circle of it.
func (t part) rounded(c geom.Centreline, radius float64, p geom.Point) (geom.Centreline, geom.Point, string) {
	if t.ring {
		k := c.Curves[t.curve]
		if len(k.Stops) > 2 {
			return c, p, "other lines meet this closed one: give the stretches between them a radius"
		}
		middle, _ := meanCircle(k)
		return circled(c, t.curve, middle, radius), p, ""
	}
	chord := t.moves.Sub(t.kept)
	half := chord.Norm() / 2
	if radius < half {
		return c, p, fmt.Sprintf("its ends are %.1f mm apart, too far for a radius of %.4g mm", 2*half, radius)
	}
	middle := t.kept.Lerp(t.moves, 0.5)
	side := chord.Unit().Perp()
	bulge := farthest(t.pieces).Sub(middle).Dot(side)
	if math.Abs(bulge) < straightOff { // a straight one bends towards the place
		bulge = p.Sub(middle).Dot(side)
	}
	high := radius - math.Sqrt(max(radius*radius-half*half, 0))
	if math.Abs(bulge) > half { // more than half a circle
		high = 2*radius - high
	}
	via := middle.Add(side.Mul(math.Copysign(high, bulge)))
	return t.replaced(c, t.inSense(arcThrough(t.kept, via, t.moves)), t.moves), p, ""
}

// inSense is the pieces of a curve from the end that stays, as the stretch runs.
func (t part) inSense(k geom.Curve) []geom.Cubic {
	out := slices.Clone(k.Pieces)
	if t.kept != t.pieces[0][0] {
		slices.Reverse(out)
		for i, q := range out {
			out[i] = q.Reversed()
		}
	}
	return out
}

// smoothed makes a stretch an arc that runs on, without a corner, from the line that it meets at the
// end nearer to the place.
func (t part) smoothed(c geom.Centreline, p geom.Point) (geom.Centreline, geom.Point, string) {
	chord := t.moves.Sub(t.kept)
	dir, turn := geom.Point{}, math.Inf(1)
	for i, k := range c.Curves {
		for n, q := range k.Pieces {
			if i == t.curve && n >= t.from && n < t.to {
				continue
			}
			for end, at := range []geom.Point{q[0], q[3]} {
				if at.Dist(t.moves) > joinWithin {
					continue
				}
				d := q.Heading(float64(end))
				if d.Dot(chord) < 0 {
					d = d.Mul(-1)
				}
				if a := d.Angle(chord); a < turn {
					dir, turn = d, a
				}
			}
		}
	}
	if math.IsInf(turn, 1) {
		return c, p, "no other line meets the end nearer to the place"
	}
	if farthest(t.pieces).Dist(t.kept.Lerp(t.moves, 0.5)) > chord.Norm()/2 {
		return c, p, "it turns by more than half a circle between its ends, and would be flattened"
	}
	normal := dir.Perp()
	across := t.kept.Sub(t.moves).Dot(normal)
	made := geom.Lines(t.kept, t.moves)
	if math.Abs(across) > 1e-6*chord.Norm() {
		centre := t.moves.Add(normal.Mul(chord.Dot(chord) / (2 * across)))
		r := centre.Dist(t.moves)
		via := centre.Add(t.kept.Lerp(t.moves, 0.5).Sub(centre).Unit().Mul(r))
		made = arcThrough(t.kept, via, t.moves)
	}
	return t.replaced(c, t.inSense(made), t.moves), p, ""
}
