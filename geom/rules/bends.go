package rules

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
)

// Corner says what is to be done where the strip cannot bend as the line does.
type Corner string

// What to do at a corner.
const (
	CornerRound Corner = "round" // round it to the strip's radius
	CornerJoin  Corner = "join"  // cut the strip there and join it
)

// BendSettings tune Bends.
type BendSettings struct {
	Radius  float64 // mm, the tightest in-plane bend of the strip; common practice, no source
	Corners Corner
	// Most is the furthest, mm, that rounding may move the line; a bend that
	// needs more is left to be cut and joined.
	Most float64
}

// DefaultBends returns settings for strip that bends sideways.
func DefaultBends() BendSettings { return BendSettings{Radius: 5, Corners: CornerRound, Most: 8} }

// A Bend is a place where a line turns tighter than the strip can.
type Bend struct {
	Curve  int
	At     geom.Point // where it is tightest, on the line as it was
	Along  float64    // mm along the line as it was
	Radius float64    // mm there, 0 at a corner
	Turn   float64    // degrees that the line turns within the tight stretch
	// Rounded tells that the line now bends by the least radius here; Moved is
	// how far that took it off, mm. Otherwise the strip is cut and joined here,
	// and Why says why it was not rounded if it should have been.
	Rounded bool
	Moved   float64
	Why     string
}

// slack is the turn, in degrees, beyond what the radius allows that a strip
// takes up without harm.
const slack = 6

// Bends finds where lines turn tighter than the strip's radius, and rounds
// those places if asked to. Knots stay where they are, so a corner at one is
// never rounded.
//
// It returns an error for a radius that is not over 0 or a limit under 0.
func Bends(c geom.Centreline, set BendSettings) (geom.Centreline, []Bend, error) {
	if !(set.Radius > 0) || set.Most < 0 {
		return c, nil, errors.New("the bend radius must be over 0 mm and the rounding limit 0 mm or more")
	}
	out := c
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	var all []Bend
	for i, k := range c.Curves {
		b := newBender(k, c.Knots, set.Radius)
		found := b.find()
		if set.Corners == CornerRound {
			out.Curves[i] = b.round(found, set.Most)
			if k.Closed { // its own knot may have moved with its start
				out.Knots[out.Curves[i].Stops[0].Knot].At = out.Curves[i].Pieces[0][0]
			}
		}
		for _, f := range found {
			f.Curve = i
			all = append(all, f.Bend)
		}
	}
	return out, all, nil
}

// A tight is a bend with the stretch of the line that it takes.
type tight struct {
	Bend
	from, to float64
	sense    float64 // 1 turns from x towards y, −1 the other way
}

type bender struct {
	c     geom.Curve
	knots []geom.Knot
	r     float64
	*geom.Ruler
}

func newBender(c geom.Curve, knots []geom.Knot, radius float64) *bender {
	return &bender{c: c, knots: knots, r: radius, Ruler: geom.NewRuler(c)}
}

// bendSteps is how many places of each piece are looked at.
const bendSteps = 24

// find lists the stretches that are too tight, in the curve's order.
func (b *bender) find() []tight {
	type place struct{ s, k, turn float64 } // k: curvature, infinite at a corner
	var places []place
	n := len(b.c.Pieces)
	for i, p := range b.c.Pieces {
		if i > 0 || b.c.Closed {
			before := b.c.Pieces[(i+n-1)%n]
			if turn := signedAngle(before.Heading(1), p.Heading(0)); math.Abs(turn) > slack/2 {
				places = append(places, place{b.Piece(i), math.Inf(sign(turn)), turn})
			}
		}
		s0, l := b.Piece(i), b.Piece(i+1)-b.Piece(i)
		for k := range bendSteps {
			t := (float64(k) + 0.5) / bendSteps
			turn := signedAngle(p.Heading(t-0.5/bendSteps), p.Heading(t+0.5/bendSteps))
			places = append(places, place{s0 + t*l, p.Curvature(t), turn})
		}
	}
	var out []tight
	gap := b.r / 4
	for _, p := range places {
		if math.Abs(p.k)*b.r <= 1 {
			continue
		}
		radius := 1 / math.Abs(p.k)
		sense := float64(sign(p.k))
		if l := len(out) - 1; l >= 0 && p.s-out[l].to < gap && out[l].sense == sense {
			out[l].to = p.s
			out[l].Turn += math.Abs(p.turn)
			if radius < out[l].Radius {
				out[l].Radius, out[l].Along = radius, p.s
			}
			continue
		}
		out = append(
			out,
			tight{Bend: Bend{Along: p.s, Radius: radius, Turn: math.Abs(p.turn)}, from: p.s, to: p.s, sense: sense},
		)
	}
	if l := len(out) - 1; b.c.Closed && l > 0 && out[0].from+b.Length()-out[l].to < gap &&
		out[0].sense == out[l].sense {
		out[0].from = out[l].from - b.Length()
		out[0].Turn += out[l].Turn
		if out[l].Radius < out[0].Radius {
			out[0].Radius, out[0].Along = out[l].Radius, out[l].Along
		}
		out = out[:l]
	}
	kept := out[:0]
	for _, t := range out {
		if t.Turn-geom.Degrees((t.to-t.from)/b.r) > slack {
			t.At = b.At(t.Along)
			kept = append(kept, t)
		}
	}
	return kept
}

func signedAngle(a, b geom.Point) float64 {
	return geom.Degrees(math.Atan2(a.Cross(b), a.Dot(b)))
}

// A fillet replaces the line from one distance to another by an arc.
type fillet struct {
	from, to float64
	arc      []geom.Cubic
}

// round puts an arc of the least radius in place of each tight stretch that
// has room for it, marks those in found, and returns the curve.
func (b *bender) round(found []tight, most float64) geom.Curve {
	var fillets []fillet
	for i := range found {
		lo, hi := b.room(found, i)
		f, why := b.fillet(found[i], lo, hi)
		if why != "" {
			found[i].Why = why
			continue
		}
		moved := 0.0
		for k := 0; k <= 16; k++ {
			moved = max(moved, distanceTo(f.arc, b.At(f.from+(f.to-f.from)*float64(k)/16)))
		}
		if moved > most {
			found[i].Why = fmt.Sprintf(
				"rounding it would move the line by %.1f mm, over the limit of %g mm", moved, most,
			)
			continue
		}
		found[i].Rounded, found[i].Moved = true, moved
		fillets = append(fillets, f)
	}
	if len(fillets) == 0 {
		return b.c
	}
	return b.replaced(fillets)
}

func distanceTo(cs []geom.Cubic, p geom.Point) float64 {
	var pl geom.Polyline
	for i, c := range cs {
		if i == 0 {
			pl = append(pl, c[0])
		}
		pl = c.Flatten(pl, fine)
	}
	return pl.DistanceTo(p)
}

// room is the stretch that the arc for found[i] may take: up to the next knot
// and half way to the next tight place.
func (b *bender) room(found []tight, i int) (lo, hi float64) {
	l := b.Length()
	t := found[i]
	lo, hi = t.from-l, t.to+l
	if !b.c.Closed {
		lo, hi = 0, l
	}
	wrap := func(s float64) {
		for _, v := range []float64{s - l, s, s + l} {
			if v != s && !b.c.Closed {
				continue
			}
			if v <= t.from {
				lo = max(lo, v)
			} else if v >= t.to {
				hi = min(hi, v)
			} else {
				lo, hi = t.from, t.to // a knot in its midst
			}
		}
	}
	for k, s := range b.c.Stops {
		if b.c.Closed && (k == 0 || k == len(b.c.Stops)-1) && b.lonely(s.Knot) {
			continue // a closed line's own start holds nothing
		}
		wrap(b.Piece(s.Piece))
	}
	for k, o := range found {
		if k == i {
			continue
		}
		for _, d := range []float64{-l, 0, l} {
			if d != 0 && !b.c.Closed {
				continue
			}
			if m := (o.to + d + t.from) / 2; o.to+d <= t.from {
				lo = max(lo, m)
			} else if m := (o.from + d + t.to) / 2; o.from+d >= t.to {
				hi = min(hi, m)
			}
		}
	}
	if b.c.Closed && hi-lo > l {
		spare := (hi - lo - l) / 2
		lo, hi = lo+spare, hi-spare
	}
	return lo, hi
}

// lonely reports whether a closed curve's knot is met by nothing but the curve's
// own two ends.
func (b *bender) lonely(knot int) bool { return b.knots[knot].Degree == 2 }

// filletSteps is how many places either side of a tight stretch are tried for
// the arc's ends; between them the place is interpolated.
const filletSteps = 400

// fillet finds the arc that touches the line before and after t. Its centre is
// the radius away from both sides, so it lies where the sides' parallels cross.
func (b *bender) fillet(t tight, lo, hi float64) (fillet, string) {
	if hi-t.to < 1e-6 || t.from-lo < 1e-6 {
		return fillet{}, "a junction or an end is in the bend"
	}
	// Seen from the middle of the stretch outwards.
	before := b.parallel(t.from, lo, t.sense)
	after := b.parallel(t.to, hi, t.sense)
	u, v, centre, ok := firstCrossing(before, after)
	if !ok {
		return fillet{}, "the sides are too short for the radius"
	}
	f := fillet{from: t.from + (lo-t.from)*u, to: t.to + (hi-t.to)*v}
	p, q := b.At(f.from), b.At(f.to)
	angle := signedAngle(p.Sub(centre), q.Sub(centre))
	if angle*t.sense < 0 {
		angle += 360 * t.sense
	}
	if math.Abs(angle) > 330 {
		return fillet{}, "the sides are too near each other for the radius"
	}
	f.arc = geom.ArcCubics(centre, p, angle)
	// The arc must meet the line's own points and directions exactly.
	last := len(f.arc) - 1
	f.arc[last][3] = q
	d, e := b.Heading(f.from), b.Heading(f.to)
	f.arc[0][1] = p.Add(d.Mul(f.arc[0][1].Dist(p)))
	f.arc[last][2] = q.Sub(e.Mul(f.arc[last][2].Dist(q)))
	return f, ""
}

// parallel is the line at the radius to the inner side of the bend, from
// distance s towards end.
func (b *bender) parallel(s, end, sense float64) geom.Polyline {
	out := make(geom.Polyline, 0, filletSteps+1)
	step := sign(end - s)
	for k := 0; k <= filletSteps; k++ {
		x := s + (end-s)*float64(k)/filletSteps
		// Just beside a corner the direction must be that of this side.
		h := b.Heading(x + 1e-6*float64(step))
		out = append(out, b.At(x).Add(h.Perp().Mul(sense*b.r)))
	}
	return out
}

// firstCrossing is where two lines cross that is nearest to both starts: how
// far along each, 0 to 1, and the point.
func firstCrossing(p, q geom.Polyline) (u, v float64, at geom.Point, ok bool) {
	n, m := len(p)-1, len(q)-1
	best := math.Inf(1)
	box := geom.Bounds(q)
	for i := range n {
		a, b := p[i], p[i+1]
		if max(a.X, b.X) < box.Min.X || min(a.X, b.X) > box.Max.X || max(a.Y, b.Y) < box.Min.Y ||
			min(a.Y, b.Y) > box.Max.Y {
			continue
		}
		for j := range m {
			x, y, cross := geom.Cross(a, b, q[j], q[j+1])
			if !cross {
				continue
			}
			if far := float64(i) + x + float64(j) + y; far < best {
				best, ok = far, true
				u, v, at = (float64(i)+x)/float64(n), (float64(j)+y)/float64(m), a.Lerp(b, x)
			}
		}
	}
	return u, v, at, ok
}

// replaced is the curve with the fillets in place, its knots still at starts
// of pieces.
func (b *bender) replaced(fs []fillet) geom.Curve {
	l := b.Length()
	out := geom.Curve{Closed: b.c.Closed, Ink: b.c.Ink}
	start, end := 0.0, l
	if b.c.Closed {
		// An arc over the line's start: start behind it.
		for _, f := range fs {
			if f.from < 0 {
				start = f.to
			} else if f.to > l {
				start = f.to - l
			}
		}
		end = start + l
		for i, f := range fs {
			if f.from < start-1e-9 {
				fs[i].from, fs[i].to = f.from+l, f.to+l
			}
		}
	}
	slices.SortFunc(fs, func(x, y fillet) int { return sign(x.from - y.from) })
	var marks []mark
	for _, s := range b.c.Stops {
		marks = append(marks, mark{s.Knot, b.Piece(s.Piece)})
	}
	at := start
	emit := func(to float64) {
		for _, piece := range b.through(at, to, marks) {
			for _, k := range piece.knots {
				out.Stops = append(out.Stops, geom.Stop{Knot: k, Piece: len(out.Pieces)})
			}
			out.Pieces = append(out.Pieces, piece.c)
		}
		at = to
	}
	for _, f := range fs {
		emit(f.from)
		out.Pieces = append(out.Pieces, f.arc...)
		at = f.to
	}
	emit(end)
	return b.closeStops(out, start)
}

type mark struct {
	knot int
	s    float64
}

type stoppedPiece struct {
	c     geom.Cubic
	knots []int
}

// through lists the pieces from a to b, cut at the marks between, each with
// the knots at its start.
func (b *bender) through(from, to float64, marks []mark) []stoppedPiece {
	var out []stoppedPiece
	l := b.Length()
	type cut struct {
		s     float64
		knots []int
	}
	cuts := []cut{{s: from}}
	for _, m := range marks {
		for _, d := range []float64{-l, 0, l} {
			if d != 0 && !b.c.Closed {
				continue
			}
			s := m.s + d
			switch {
			case math.Abs(s-from) < 1e-6 && from < to-1e-6:
				cuts[0].knots = append(cuts[0].knots, m.knot)
			case s > from+1e-6 && s < to-1e-6:
				cuts = append(cuts, cut{s, []int{m.knot}})
			}
		}
	}
	slices.SortStableFunc(cuts, func(x, y cut) int { return sign(x.s - y.s) })
	for i, c := range cuts {
		end := to
		if i+1 < len(cuts) {
			end = cuts[i+1].s
		}
		if end-c.s < 1e-9 {
			continue
		}
		for k, piece := range b.Sub(c.s, end) {
			p := stoppedPiece{c: piece}
			if k == 0 {
				p.knots = c.knots
			}
			out = append(out, p)
		}
	}
	return out
}

// closeStops puts the knots of the curve's two ends right.
func (b *bender) closeStops(c geom.Curve, start float64) geom.Curve {
	first, last := b.c.Stops[0].Knot, b.c.Stops[len(b.c.Stops)-1].Knot
	if !b.c.Closed || start == 0 {
		if len(c.Stops) == 0 || c.Stops[0].Piece != 0 {
			c.Stops = append([]geom.Stop{{Knot: first}}, c.Stops...)
		}
		c.Stops = append(c.Stops, geom.Stop{Knot: last, Piece: len(c.Pieces)})
		c.Stops = slices.Compact(c.Stops)
		return c
	}
	// The closed line starts elsewhere now, and its own knot goes along.
	c.Stops = append([]geom.Stop{{Knot: first}}, c.Stops...)
	c.Stops = append(c.Stops, geom.Stop{Knot: first, Piece: len(c.Pieces)})
	return c
}
