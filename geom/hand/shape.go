package hand

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// move takes what is at p to q; the lines give way.
func move(c geom.Centreline, p, q geom.Point) (geom.Centreline, geom.Point, string) {
	by := q.Sub(p)
	if k := knotNear(c, p); k >= 0 {
		return movedKnot(c, k, by), p, ""
	}
	s := nearest(c, p)
	if s.off > Reach {
		return c, p, noLine(s)
	}
	for _, corner := range sharp(c.Curves[s.curve]) {
		if at := s.ruler.Piece(corner); math.Abs(at-s.s) < cornerReach {
			s.s = at
		}
	}
	out := c
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	out.Curves[s.curve] = givesWay(c.Curves[s.curve], []float64{s.s}, by)
	settle(&out, s.curve)
	return out, p, ""
}

// movedKnot moves a knot with all that meets there.
func movedKnot(c geom.Centreline, knot int, by geom.Point) geom.Centreline {
	out := c
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	out.Knots[knot].At = out.Knots[knot].At.Add(by)
	for i, k := range c.Curves {
		r := geom.NewRuler(k)
		var at []float64
		for _, st := range k.Stops {
			if st.Knot == knot {
				at = append(at, r.Piece(st.Piece))
			}
		}
		if len(at) > 0 {
			out.Curves[i] = givesWay(k, at, by)
			settle(&out, i)
		}
	}
	return out
}

// settle puts a curve's stops and their knots together: a closed curve's own start may have moved.
func settle(c *geom.Centreline, curve int) {
	if k := c.Curves[curve]; k.Closed {
		if first := k.Stops[0].Knot; c.Knots[first].Degree == 2 {
			c.Knots[first].At = k.Pieces[0][0]
		}
	}
}

// givesWay is a curve whose places s are moved, and what is near them with them, up to the next
// stop that stays. A straight stretch whose end is moved turns as a whole: it stays straight.
func givesWay(k geom.Curve, at []float64, by geom.Point) geom.Curve {
	reach := max(giveLeast, giveTimes*by.Norm())
	apart := func(r *geom.Ruler, a, b float64) float64 { // how far b is before (under 0) or behind a
		d := b - a
		if l := r.Length(); k.Closed {
			d = math.Mod(math.Mod(d+l/2, l)+l, l) - l/2
		}
		return d
	}
	// A finer curve is measured a little longer: a stop that is moved is known by its number.
	was := geom.NewRuler(k)
	moved := make([]bool, len(k.Stops))
	var places []float64
	for _, a := range at {
		found := false
		for i, st := range k.Stops {
			if math.Abs(apart(was, a, was.Piece(st.Piece))) < 1e-6 {
				moved[i], found = true, true
			}
		}
		if !found {
			places = append(places, a)
		}
	}
	far := reach
	for _, a := range at {
		far = max(far, slices.Max(straightBeside(k, a)))
	}
	k = refined(k, at, far)
	r := geom.NewRuler(k)
	var fixed []float64
	for i, st := range k.Stops {
		own := k.Closed && (i == 0 || i == len(k.Stops)-1) && len(k.Stops) == 2 // where it starts
		switch s := r.Piece(st.Piece); {
		case moved[i]:
			places = append(places, s)
		case !own:
			fixed = append(fixed, s)
		}
	}
	straight := make([][]float64, len(places))
	for i, a := range places {
		straight[i] = straightBeside(k, a)
	}
	return r.Displaced(func(s float64) geom.Point {
		most := 0.0
		for i, a := range places {
			d := apart(r, a, s)
			if l := straight[i][side(d)]; l > 0 {
				most = max(most, 1-math.Abs(d)/l)
				continue
			}
			room := reach
			for _, f := range fixed {
				if e := apart(r, a, f); e*d > 0 || d == 0 {
					room = min(room, math.Abs(e))
				}
			}
			if room > 0 {
				most = max(most, geom.Fade(math.Abs(d)/room))
			}
		}
		return by.Mul(most)
	})
}

// side is the index of what lies before a place, or behind it, by how far on d is.
func side(d float64) int {
	if d < 0 {
		return 0
	}
	return 1
}

// straightBeside is how long, mm, the straight stretches are that end at a place of a curve, before it
// and behind it: 0 for none.
func straightBeside(k geom.Curve, at float64) []float64 {
	out := []float64{0, 0}
	r, ends := geom.NewRuler(k), slices.Compact(stretchEnds(k))
	for i := 1; i < len(ends); i++ {
		t := part{pieces: k.Pieces[ends[i-1]:ends[i]]}
		t.kept, t.moves = t.pieces[0][0], t.pieces[len(t.pieces)-1][3]
		if _, radius := t.circle(); !math.IsInf(radius, 1) {
			continue
		}
		for j, e := range []int{ends[i], ends[i-1]} { // it lies before the one, behind the other
			off := math.Abs(r.Piece(e) - at)
			if k.Closed {
				off = min(off, r.Length()-off)
			}
			if off < 1e-6 && turnsAt(k, e) {
				out[j] = t.length()
			}
		}
	}
	return out
}

// turnsAt tells whether a curve ends, or has a corner, before a piece.
func turnsAt(k geom.Curve, piece int) bool {
	before := piece - 1
	if piece == 0 || piece == len(k.Pieces) {
		if !k.Closed {
			return true
		}
		before, piece = len(k.Pieces)-1, 0
	}
	return k.Pieces[before].Heading(1).Angle(k.Pieces[piece].Heading(0)) > cornerTurn
}

// refined cuts the pieces near some places finer, so that they can give way.
func refined(k geom.Curve, at []float64, reach float64) geom.Curve {
	r := geom.NewRuler(k)
	l := r.Length()
	out := k
	out.Pieces, out.Stops = nil, slices.Clone(k.Stops)
	for i, p := range k.Pieces {
		for j, st := range k.Stops {
			if st.Piece == i {
				out.Stops[j].Piece = len(out.Pieces)
			}
		}
		a, b := r.Piece(i), r.Piece(i+1)
		near := slices.ContainsFunc(at, func(s float64) bool {
			gap := max(a-s, s-b, 0)
			if k.Closed {
				gap = min(gap, max(a+l-s, 0), max(s+l-b, 0))
			}
			return gap < reach
		})
		n := 1
		if near {
			n = max(int(math.Ceil((b-a)/fineStep)), 1)
		}
		for m := range n {
			out.Pieces = append(out.Pieces, p.Between(float64(m)/float64(n), float64(m+1)/float64(n)))
		}
	}
	for j, st := range k.Stops {
		if st.Piece == len(k.Pieces) {
			out.Stops[j].Piece = len(out.Pieces)
		}
	}
	return out
}

// shaped makes the stretch at p straight or round.
func shaped(c geom.Centreline, p geom.Point, round bool) (geom.Centreline, geom.Point, string) {
	s := nearest(c, p)
	if s.off > Reach {
		return c, p, noLine(s)
	}
	k := c.Curves[s.curve]
	from, to := stretch(k, s)
	out := c
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	if smoothRing(k, from, to) {
		if !round {
			return c, p, "a closed line without corners cannot be straight"
		}
		if len(k.Stops) > 2 {
			return c, p, "other lines meet this closed one: make the stretches between them round"
		}
		middle, radius := meanCircle(k)
		return circled(c, s.curve, middle, radius), p, ""
	}
	a, b, far := k.Pieces[from][0], k.Pieces[to-1][3], farthest(k.Pieces[from:to])
	made := geom.Lines(a, b)
	if round {
		if (geom.Polyline{a, b}).DistanceTo(far) < straightOff {
			return c, p, "it is straight: bend it first, or give it a radius"
		}
		made = arcThrough(a, far, b)
	}
	shift := len(made.Pieces) - (to - from)
	k.Pieces = slices.Concat(k.Pieces[:from], made.Pieces, k.Pieces[to:])
	k.Stops = slices.Clone(k.Stops)
	for i := range k.Stops {
		if k.Stops[i].Piece >= to {
			k.Stops[i].Piece += shift
		}
	}
	out.Curves[s.curve] = k
	return out, p, ""
}

// meanCircle is the mean of a closed line's places, and how far they are from it on average.
func meanCircle(k geom.Curve) (middle geom.Point, radius float64) {
	pts := k.Flatten(0.002).Resampled(1)[1:]
	for _, q := range pts {
		middle = middle.Add(q.Mul(1 / float64(len(pts))))
	}
	for _, q := range pts {
		radius += q.Dist(middle) / float64(len(pts))
	}
	return middle, radius
}

// circled is the lines with a circle in a closed one's place.
func circled(c geom.Centreline, curve int, middle geom.Point, radius float64) geom.Centreline {
	out, k := c, c.Curves[curve]
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	made := geom.Arc(middle, radius, 0, 360)
	made.Ink, made.Stops = k.Ink, []geom.Stop{{Knot: k.Stops[0].Knot}, {Knot: k.Stops[len(k.Stops)-1].Knot, Piece: len(made.Pieces)}}
	out.Curves[curve] = made
	settle(&out, curve)
	return out
}

// stretchEnds are the pieces that stretches begin at, and the number of all: at the ends, at knots,
// and at corners.
func stretchEnds(k geom.Curve) []int {
	ends := []int{0, len(k.Pieces)}
	for _, st := range k.Stops {
		ends = append(ends, st.Piece)
	}
	ends = append(ends, sharp(k)...)
	slices.Sort(ends)
	return ends
}

// sharp are the pieces that a curve turns sharply before.
func sharp(k geom.Curve) (pieces []int) {
	for i := range k.Pieces {
		if (i > 0 || k.Closed) && turnsAt(k, i) {
			pieces = append(pieces, i)
		}
	}
	return pieces
}

// corners are the places where lines turn sharply on their way.
func corners(c geom.Centreline) (places []geom.Point) {
	for _, k := range c.Curves {
		for _, i := range sharp(k) {
			places = append(places, k.Pieces[i][0])
		}
	}
	return places
}

// A Stretch is one that verbs which take a line by a place change, with its size as it is.
type Stretch struct {
	Curve  geom.Curve
	Length float64 // mm
	Angle  float64 // degrees anticlockwise from level of the way between its ends, 0 to 180
	Radius float64 // mm of an arc or a circle; infinite for a straight one, 0 for any other
}

// Stretches are the stretches of all lines.
func Stretches(c geom.Centreline) (out []Stretch) {
	for _, k := range c.Curves {
		ends := slices.Compact(stretchEnds(k))
		for i := 1; i < len(ends); i++ {
			pieces := k.Pieces[ends[i-1]:ends[i]]
			t := part{
				pieces: pieces, ring: smoothRing(k, ends[i-1], ends[i]), kept: pieces[0][0], moves: pieces[len(pieces)-1][3],
			}
			way := t.moves.Sub(t.kept)
			s := Stretch{Curve: geom.Curve{Ink: k.Ink, Pieces: pieces}, Length: t.length()}
			if s.Angle = geom.Degrees(math.Atan2(-way.Y, way.X)); s.Angle < 0 { // y points down
				s.Angle += 180
			}
			if radius, ok := t.arc(); ok || math.IsInf(radius, 1) {
				s.Radius = radius
			}
			out = append(out, s)
		}
	}
	return out
}

// stretch is the pieces about a place from a stop or corner to the next.
func stretch(k geom.Curve, s spot) (from, to int) {
	ends := stretchEnds(k)
	for _, e := range ends {
		if s.ruler.Piece(e) <= s.s {
			from = e
		}
	}
	to = len(k.Pieces)
	if from == to {
		from = ends[max(len(slices.Compact(ends))-2, 0)]
	}
	for _, e := range slices.Backward(ends) {
		if e > from {
			to = e
		}
	}
	return from, to
}

// farthest is the place of pieces that is farthest from the chord between their ends.
func farthest(pieces []geom.Cubic) geom.Point {
	chord := geom.Polyline{pieces[0][0], pieces[len(pieces)-1][3]}
	best := chord[0]
	off := -1.0
	for _, q := range (geom.Curve{Pieces: pieces}).Flatten(0.02) {
		if d := chord.DistanceTo(q); d > off {
			best, off = q, d
		}
	}
	return best
}
