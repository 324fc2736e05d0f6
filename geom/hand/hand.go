package hand

import (
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
)

// Verb says what a change does.
type Verb string

// The verbs, with the places that they take.
const (
	Move       Verb = "move"       // from, to: a line's place, its end, or a junction with all that meets there
	Draw       Verb = "draw"       // from, to: a new straight line; ends near a line go on to it
	Bow        Verb = "bow"        // from, by way of, to: a new arc
	Ring       Verb = "ring"       // its middle, a place on it: a new circle
	Bend       Verb = "bend"       // a place on a stretch, where to: the stretch is drawn out there, its ends stay
	Mirror     Verb = "mirror"     // two places of an axis, one beside it: that side and its image are the drawing
	Freehand   Verb = "freehand"   // two places or more: a new line past them, smoothed
	RubOut     Verb = "rub-out"    // from, to on one line: the stretch between
	Split      Verb = "split"      // a place, mm: the line is opened there, so wide
	Meet       Verb = "meet"       // a free end, and the end or the line that it is led to
	Straighten Verb = "straighten" // a place: the stretch from knot or corner to the next becomes straight
	Round      Verb = "round"      // a place: that stretch becomes an arc, a closed line a circle
	// Of a stretch that a place names, the end nearer to the place moves.
	Length   Verb = "length"   // a place, mm: the stretch gets so long
	Angle    Verb = "angle"    // a place, degrees anticlockwise from level: it runs so from end to end
	Radius   Verb = "radius"   // a place, mm: it becomes an arc, or a circle
	Parallel Verb = "parallel" // a place, and one on another stretch: it runs as that does
	Equal    Verb = "equal"    // a place, and one on another stretch: as long, or as round
	Tangent  Verb = "tangent"  // a place: it runs on from the line that it meets, as an arc
)

// Unit is the unit of the number that a verb takes besides places; empty for none.
func (v Verb) Unit() string {
	switch v {
	case Length, Radius, Split:
		return "mm"
	case Angle:
		return "degrees"
	}
	return ""
}

// Places is how many places a verb takes, or at least takes; 0 for one that there is not.
func (v Verb) Places() int {
	switch v {
	case Straighten, Round, Length, Angle, Radius, Tangent, Split:
		return 1
	case Move, Bend, Draw, Ring, Freehand, RubOut, Meet, Parallel, Equal:
		return 2
	case Bow, Mirror:
		return 3
	}
	return 0
}

// OnStretch tells whether a verb changes the stretch that its first place names.
func (v Verb) OnStretch() bool {
	switch v {
	case Bend, Straighten, Round, Length, Angle, Radius, Parallel, Equal, Tangent:
		return true
	}
	return false
}

// More tells whether a verb may take more places.
func (v Verb) More() bool { return v == Freehand }

// A Change is one thing to do.
type Change struct {
	Verb  Verb
	At    []geom.Point
	Value float64 // of a verb that takes a number
}

// A Miss is a change that found no line to work on.
type Miss struct {
	Change int // in the list
	At     geom.Point
	Why    string
}

// How near things must be, mm.
const (
	Reach       = 3.0  // a place from the line, the end or the knot that it names
	snapReach   = 2.5  // a new line's end from the line that it goes on to
	endSnap     = 1.5  // where a stretch is erased from a stop, to end there
	stubLeft    = 3.5  // half a usual channel: what is left of a line before a stop, to be erased as well
	leastLeft   = 1.0  // of a line, to be kept
	joinWithin  = 0.05 // curves that touch
	giveLeast   = 15.0 // of a line, to either side of a place that is moved, which gives way
	giveTimes   = 2.5  // times the way that it is moved
	fineStep    = 3.0  // of the pieces that give way
	cornerTurn  = 20.0 // degrees that make a corner
	cornerReach = 1.0  // a place that is moved from a corner, to be the corner
)

// Apply makes the changes, one after another, and tells which of them found nothing to work on:
// those are left out. It returns an error for a change with a wrong number of places.
func Apply(c geom.Centreline, changes []Change) (geom.Centreline, []Miss, error) {
	var missed []Miss
	for i, ch := range changes {
		if n := ch.Verb.Places(); n == 0 || len(ch.At) < n || len(ch.At) > n && !ch.Verb.More() {
			return c, nil, fmt.Errorf("change %d: %s takes %d places, %d given", i+1, ch.Verb, n, len(ch.At))
		}
		if ch.Verb.Unit() == "mm" && !(ch.Value >= leastLeft) {
			return c, nil, fmt.Errorf("change %d: a %s must be at least %g mm", i+1, ch.Verb, leastLeft)
		}
		next, at, why := apply(c, ch)
		if why != "" {
			missed = append(missed, Miss{i, at, why})
			continue
		}
		c = next
	}
	return c, missed, nil
}

// apply makes one change; why says why it cannot be made, and at where.
func apply(c geom.Centreline, ch Change) (out geom.Centreline, at geom.Point, why string) {
	switch ch.Verb {
	case Move:
		return move(c, ch.At[0], ch.At[1])
	case Bend:
		return bent(c, ch.At[0], ch.At[1])
	case Mirror:
		return mirrored(c, ch.At[0], ch.At[1], ch.At[2])
	case Draw:
		a, b := snapped(c, ch.At[0]), snapped(c, ch.At[1])
		return drawn(c, geom.Lines(a, b), ch.At[0])
	case Bow:
		return drawn(c, arcThrough(snapped(c, ch.At[0]), ch.At[1], snapped(c, ch.At[2])), ch.At[0])
	case Ring:
		return drawn(c, geom.Arc(ch.At[0], ch.At[0].Dist(ch.At[1]), 0, 360), ch.At[1])
	case Freehand:
		return freehand(c, ch.At)
	case RubOut:
		return rubbedOut(c, ch.At[0], ch.At[1])
	case Split:
		return opened(c, ch.At[0], ch.Value)
	case Meet:
		return led(c, ch.At[0], ch.At[1])
	case Length, Angle, Radius, Parallel, Equal, Tangent:
		return exact(c, ch)
	default:
		return shaped(c, ch.At[0], ch.Verb == Round)
	}
}

// MissedFirst tells why a place, mm, is of no use to a verb as its first, empty where it serves: what changes a line
// takes a place on one.
func MissedFirst(c geom.Centreline, v Verb, p geom.Point) string {
	switch v {
	case Draw, Bow, Ring, Freehand, Mirror:
		return ""
	}
	if s := nearest(c, p); s.curve < 0 || s.off > Reach {
		return noLine(s)
	}
	return ""
}

// A spot is a place on a curve.
type spot struct {
	curve int
	s     float64
	ruler *geom.Ruler
	off   float64 // how far from it the place was that named it
}

func (s spot) at() geom.Point { return s.ruler.At(s.s) }

// nearest is the place on the lines nearest to p.
func nearest(c geom.Centreline, p geom.Point) spot {
	rulers := geom.Rulers(c.Curves)
	i, s, off := geom.NearestOf(rulers, p)
	if i < 0 {
		return spot{curve: i, off: off}
	}
	return spot{i, s, rulers[i], off}
}

// noLine says that a place names no line.
func noLine(s spot) string {
	if s.curve < 0 {
		return "there is no line"
	}
	return fmt.Sprintf("the nearest line is %.1f mm away, and must be within %g mm", s.off, Reach)
}

// knotNear is the knot within reach of p that is nearest, −1 if there is none. Places where a
// closed line starts are none.
func knotNear(c geom.Centreline, p geom.Point) int {
	best, near := -1, Reach
	starts := starts(c)
	for i, k := range c.Knots {
		if d := k.At.Dist(p); d <= near && !starts[i] {
			best, near = i, d
		}
	}
	return best
}

// starts are the knots where closed lines start that meet no other there: places as any others of theirs.
func starts(c geom.Centreline) map[int]bool {
	out := map[int]bool{}
	for _, k := range c.Curves {
		if first := k.Stops[0].Knot; k.Closed && c.Knots[first].Degree == 2 {
			out[first] = true
		}
	}
	return out
}

// Held are the places where lines end, meet or turn sharply: what moves with all that is there.
func Held(c geom.Centreline) (places []geom.Point) {
	starts := starts(c)
	for i, k := range c.Knots {
		if !starts[i] {
			places = append(places, k.At)
		}
	}
	return append(places, corners(c)...)
}

// snapped is p, or the end or the place on a line that it is near.
func snapped(c geom.Centreline, p geom.Point) geom.Point {
	if k := knotNear(c, p); k >= 0 && c.Knots[k].At.Dist(p) <= snapReach {
		return c.Knots[k].At
	}
	if s := nearest(c, p); s.off <= snapReach {
		return s.at()
	}
	return p
}

// remade is the centreline of curves.
func remade(c geom.Centreline, curves []geom.Curve) geom.Centreline {
	out := geom.Join(curves, joinWithin)
	out.Stray = c.Stray
	return out
}

// drawn adds a curve, in the ink of the line nearest to p.
func drawn(c geom.Centreline, k geom.Curve, p geom.Point) (geom.Centreline, geom.Point, string) {
	if k.Length() < leastLeft {
		return c, p, fmt.Sprintf("a line must be %g mm long", leastLeft)
	}
	if along(c, k) {
		return c, p, "a line is there already"
	}
	if s := nearest(c, p); s.curve >= 0 {
		k.Ink = c.Curves[s.curve].Ink
	}
	return remade(c, append(slices.Clone(c.Curves), k)), p, ""
}

// How near, mm, a line runs to others for how much of its length, as a share, to be one of them over
// again: it would cross them everywhere.
const (
	sameLine  = 0.05
	sameShare = 0.5
)

// along reports whether a curve lies on lines that are there.
func along(c geom.Centreline, k geom.Curve) bool {
	rulers, way := geom.Rulers(c.Curves), k.Flatten(0.01).Resampled(1)
	on := 0
	for _, p := range way {
		if _, _, off := geom.NearestOf(rulers, p); off <= sameLine {
			on++
		}
	}
	return float64(on) > sameShare*float64(len(way))
}

// arcThrough is the arc from a by way of m to b; straight if they lie on a line.
func arcThrough(a, m, b geom.Point) geom.Curve {
	centre, ok := circumcentre(a, m, b)
	if !ok {
		return geom.Lines(a, b)
	}
	turn := func(p, q geom.Point) float64 {
		p, q = p.Sub(centre), q.Sub(centre)
		return geom.Degrees(math.Atan2(p.Cross(q), p.Dot(q)))
	}
	first, second := turn(a, m), turn(m, b)
	sense := 1.0
	if a.Sub(m).Cross(b.Sub(m)) > 0 { // clockwise in a frame whose y points up
		sense = -1
	}
	for _, t := range []*float64{&first, &second} {
		if *t*sense < 0 {
			*t += 360 * sense
		}
	}
	k := geom.Curve{Pieces: geom.ArcCubics(centre, a, first+second)}
	k.Pieces[len(k.Pieces)-1][3] = b
	return k
}

// circumcentre is the centre of the circle through three points; ok is false if they lie on a
// line.
func circumcentre(a, b, c geom.Point) (geom.Point, bool) {
	p, q := b.Sub(a), c.Sub(a)
	d := 2 * p.Cross(q)
	if math.Abs(d) < 1e-6*p.Norm()*q.Norm() || d == 0 {
		return a, false
	}
	pp, qq := p.Dot(p), q.Dot(q)
	return a.Add(geom.Pt((q.Y*pp-p.Y*qq)/d, (p.X*qq-q.X*pp)/d)), true
}

// rubbedOut takes out the stretch between two places of one line.
func rubbedOut(c geom.Centreline, p, q geom.Point) (geom.Centreline, geom.Point, string) {
	a := nearest(c, p)
	if a.off > Reach {
		return c, p, noLine(a)
	}
	s, off := a.ruler.Nearest(q)
	if off > Reach {
		return c, q, fmt.Sprintf("it is %.1f mm from the line that the first place is on, and must be within %g mm", off, Reach)
	}
	k := c.Curves[a.curve]
	from, to := min(a.s, s), max(a.s, s)
	length := a.ruler.Length()
	if k.Closed && to-from > length/2 {
		from, to = to, from+length
	}
	for _, st := range k.Stops {
		at := a.ruler.Piece(st.Piece)
		if d := from - at; d > -endSnap && d < stubLeft {
			from = at
		}
		if d := at - to; d > -endSnap && d < stubLeft {
			to = at
		}
	}
	return without(c, a, from, to)
}

// opened opens a line at a place, so wide, mm.
func opened(c geom.Centreline, p geom.Point, wide float64) (geom.Centreline, geom.Point, string) {
	a := nearest(c, p)
	if a.off > Reach {
		return c, p, noLine(a)
	}
	from, to := a.s-wide/2, a.s+wide/2
	if !c.Curves[a.curve].Closed {
		from, to = max(from, 0), min(to, a.ruler.Length())
	} else if wide > a.ruler.Length() {
		return c, p, "nothing would be left"
	} else if from < 0 {
		from, to = from+a.ruler.Length(), to+a.ruler.Length()
	}
	return without(c, a, from, to)
}

// without is the centreline without what a line has from one place along it to another, which on a
// closed line may lie beyond its length.
func without(c geom.Centreline, a spot, from, to float64) (geom.Centreline, geom.Point, string) {
	k, length := c.Curves[a.curve], a.ruler.Length()
	curves := slices.Delete(slices.Clone(c.Curves), a.curve, a.curve+1)
	left := [][2]float64{{0, from}, {to, length}}
	if k.Closed {
		left = [][2]float64{{to, from + length}}
	}
	for _, l := range left {
		if l[1]-l[0] > leastLeft {
			curves = append(curves, geom.Curve{Pieces: a.ruler.Sub(l[0], l[1]), Ink: k.Ink})
		}
	}
	if to <= from {
		return c, a.at(), "there is nothing between the two places"
	}
	if len(curves) == 0 {
		return c, a.at(), "nothing would be left"
	}
	return remade(c, curves), a.at(), ""
}

// led leads a free end to another line.
func led(c geom.Centreline, p, q geom.Point) (geom.Centreline, geom.Point, string) {
	end := knotNear(c, p)
	if end < 0 || c.Knots[end].Degree != 1 {
		return c, p, fmt.Sprintf("no line ends within %g mm", Reach)
	}
	to := nearest(c, q)
	if to.off > Reach {
		return c, q, noLine(to)
	}
	target := to.at()
	if k := knotNear(c, q); k >= 0 && k != end {
		target = c.Knots[k].At
	}
	out := movedKnot(c, end, target.Sub(c.Knots[end].At))
	return remade(c, out.Curves), p, ""
}
