package bed

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// A Cut is a place where a channel is cut in two.
type Cut struct {
	At      geom.Point
	Heading geom.Point // unit vector along the channel; the key points so
	Curve   int
	Along   float64 // mm along the curve
	Asked   bool    // for by hand
}

// The joints' measures, mm; common practice, no source.
const (
	cutEvery  = 4.0  // between places that are looked at
	cutClear  = 9.0  // from a junction, an end or a corner
	cutNear   = 8.0  // along the channel from where a cut was asked for
	cutApart  = 20.0 // from one that was asked for to the next
	saw       = 0.1  // taken off at each cut
	keyLong   = 4.0  // of the dovetail that keys a joint
	keyNeck   = 2.6  // its width where it leaves the piece
	keyHead   = 4.2  // and at its end
	keyRelief = 0.7  // about it, where edges on the bed are drawn in
	sharpBend = 15.0 // degrees over the key's length: too bent for a joint
)

// A Channel is what Divide cuts.
type Channel struct {
	Solid solid.Solid
	Line  geom.Centreline // in the solid's frame
	Half  float64         // the channel's width over all, halved
	// Floor is the height up to which a dovetail keys each joint; 0 for none.
	Floor float64
	// Relief is by how much, mm, the dovetails' edges on the bed are drawn in.
	Relief float64
	Avoid  []geom.Point // places that cuts keep cutClear from
	// Asked are places where it is to be cut though it may fit the bed.
	Asked []geom.Point
}

// Divide cuts a channel that does not fit the bed into pieces that do, as few
// as it finds, at places square to the channel and away from junctions and
// corners. A channel that fits comes back whole, but for cuts that were asked for: each is
// made at the nearest place that may be cut, if that is near and leaves two pieces.
//
// It returns an error if some stretch cannot be cut small enough.
func Divide(ch Channel, s Settings) (pieces []solid.Solid, cuts []Cut, err error) {
	defer solid.Guard("cutting a channel to the bed", &err)
	if err := s.check(); err != nil {
		return nil, nil, err
	}
	tooLarge := !Fits(ch.Solid, s)
	if !tooLarge && len(ch.Asked) == 0 {
		return []solid.Solid{ch.Solid}, nil, nil
	}
	d := &divider{Channel: ch, s: s, shadow: ch.Solid.Shadow()}
	d.findCuts(tooLarge)
	d.findAtoms()
	if cuts, err = d.choose(tooLarge); err != nil {
		return nil, nil, err
	}
	if len(cuts) == 0 {
		return []solid.Solid{ch.Solid}, nil, nil
	}
	return d.sawn(cuts), cuts, nil
}

// Fits tells whether the bed takes a part whole, turned if need be.
func Fits(part solid.Solid, s Settings) bool {
	_, share := Turn(part.Hull(), s.room())
	return share <= 1
}

// Grown is the bed, as much wider as it is deeper and of whole mm, that takes a part whole.
func Grown(part solid.Solid, s Settings) Settings {
	room := s.room()
	_, share := Turn(part.Hull(), room)
	if share > 1 {
		s.Width, s.Depth = math.Ceil(share*room.X+2*s.Margin), math.Ceil(share*room.Y+2*s.Margin)
	}
	return s
}

// A divider looks for the cuts through one channel.
type divider struct {
	Channel
	s      Settings
	shadow solid.Plan
	cuts   []Cut    // all that may be made
	atoms  []*atom  // what they leave
	links  [][2]int // the atoms on both sides of each cut
}

// An atom is a stretch that no cut divides: its convex hull.
type atom struct{ hull []geom.Point }

// findCuts lists the places that are to be cut, and if it does not fit those that may be.
func (d *divider) findCuts(tooLarge bool) {
	rulers := geom.Rulers(d.Line.Curves)
	asked := make([][]float64, len(rulers)) // along each curve
	for _, p := range d.Asked {
		if i, at, off := geom.NearestOf(rulers, p); off <= cutNear {
			asked[i] = append(asked[i], at)
		}
	}
	for i, k := range d.Line.Curves {
		r := rulers[i]
		keep := d.ends(k, r)
		cut := func(at float64, asked bool) bool {
			may := d.obstacle(r, k, at, keep) == noObstacle
			for _, c := range d.cuts {
				may = may && !(asked && c.Curve == i && gapAlong(r, k, c.Along, at) < cutApart)
			}
			if may {
				d.cuts = append(d.cuts, Cut{At: r.At(at), Heading: r.Heading(at), Curve: i, Along: at, Asked: asked})
			}
			return may
		}
		for _, at := range asked[i] {
			for step := 0.0; step <= cutNear && !cut(at+step, true) && !cut(at-step, true); step++ {
			}
		}
		for _, c := range d.cuts {
			if c.Curve == i {
				keep = append(keep, c.Along)
			}
		}
		n := int(r.Length() / cutEvery)
		for j := 1; j < n && tooLarge; j++ {
			cut(r.Length()*float64(j)/float64(n), false)
		}
	}
}

// gapAlong is how far two places along a curve are apart, mm, the shorter way round a closed one.
func gapAlong(r *geom.Ruler, k geom.Curve, a, b float64) float64 {
	gap := math.Abs(a - b)
	if k.Closed {
		gap = min(gap, r.Length()-gap)
	}
	return gap
}

// Refusal tells why a channel is not cut at a place that was asked for; ok is false if the place does not lie
// on it. It is for places that Divide made no cut at.
func Refusal(ch Channel, p geom.Point) (why string, ok bool) {
	d := &divider{Channel: ch, shadow: ch.Solid.Shadow()}
	rulers := geom.Rulers(ch.Line.Curves)
	i, at, off := geom.NearestOf(rulers, p)
	switch r := rulers[i]; {
	case off > cutNear:
		return fmt.Sprintf("no line is within %.0f mm", cutNear), d.shadow.Contains(p)
	case !d.shadow.Contains(r.At(at)):
		return "", false
	default:
		if o := d.obstacle(r, ch.Line.Curves[i], at, d.ends(ch.Line.Curves[i], r)); o != noObstacle {
			return o.String(), true
		}
		return "the channel would stay in one piece: a ring needs two cuts, which are not too near each other", true
	}
}

// ends are where a curve ends or meets others, mm along it.
func (d *divider) ends(k geom.Curve, r *geom.Ruler) (out []float64) {
	for _, st := range k.Stops {
		if d.Line.Knots[st.Knot].Degree != 2 {
			out = append(out, r.Piece(st.Piece))
		}
	}
	return out
}

// An obstacle is what forbids a cut at a place.
type obstacle int

const (
	noObstacle obstacle = iota
	endNear
	holeNear
	tooBent
	noChannel
	channelBeside
)

func (o obstacle) String() string {
	switch o {
	case endNear:
		return fmt.Sprintf("an end, a junction or another cut is nearer than %.0f mm", cutClear)
	case holeNear:
		return fmt.Sprintf("a hole for wires, or the foot, is nearer than %.0f mm", cutClear)
	case tooBent:
		return "the line bends too tightly for a joint"
	case noChannel:
		return "there is no channel"
	case channelBeside:
		return "another channel lies in the saw's way"
	}
	return ""
}

// obstacle is what forbids a cut at a place along a curve; keep are places along it that cuts keep off.
func (d *divider) obstacle(r *geom.Ruler, k geom.Curve, at float64, keep []float64) obstacle {
	for _, s := range keep {
		if gapAlong(r, k, at, s) < cutClear {
			return endNear
		}
	}
	p, h := r.At(at), r.Heading(at)
	for _, q := range d.Avoid {
		if q.Dist(p) < cutClear {
			return holeNear
		}
	}
	for _, ds := range []float64{-keyLong, keyLong / 2, keyLong * 1.5} {
		if r.Heading(at+ds).Angle(h) > sharpBend {
			return tooBent
		}
	}
	if !d.shadow.Contains(p) {
		return noChannel
	}
	// Nothing but this channel may lie in the saw's way.
	for _, ds := range []float64{-1, 0, 1, keyLong} {
		q := r.At(at + ds)
		n := r.Heading(at + ds).Perp()
		for _, side := range []float64{1, -1} {
			if d.shadow.Contains(q.Add(n.Mul(side * (d.Half + 0.8)))) {
				return channelBeside
			}
		}
	}
	return noObstacle
}

// blade is the plan that the saw takes at a cut.
func (d *divider) blade(c Cut) solid.Plan {
	a, n := c.Heading.Mul(saw/2), c.Heading.Perp().Mul(d.Half+0.6)
	return solid.Area(c.At.Sub(a).Sub(n), c.At.Add(a).Sub(n), c.At.Add(a).Add(n), c.At.Sub(a).Add(n))
}

func (d *divider) blades(cuts []Cut) solid.Plan {
	var all []solid.Plan
	for _, c := range cuts {
		all = append(all, d.blade(c))
	}
	return solid.Union(all...)
}

// findAtoms makes all cuts and sees what is left.
func (d *divider) findAtoms() {
	parts := d.shadow.Less(d.blades(d.cuts)).Parts()
	for _, p := range parts {
		d.atoms = append(d.atoms, &atom{p.Hull()})
	}
	at := newLocator(parts)
	for _, c := range d.cuts {
		d.links = append(d.links, [2]int{at.find(c.At.Sub(c.Heading.Mul(saw))), at.find(c.At.Add(c.Heading.Mul(saw)))})
	}
}

// A locator finds which of several plans holds a point.
type locator struct {
	parts []solid.Plan
	boxes []geom.Rect
}

func newLocator(parts []solid.Plan) locator {
	l := locator{parts: parts}
	for _, p := range parts {
		l.boxes = append(l.boxes, p.Bounds())
	}
	return l
}

func (l locator) find(p geom.Point) int {
	for i, b := range l.boxes {
		if p.X >= b.Min.X && p.X <= b.Max.X && p.Y >= b.Min.Y && p.Y <= b.Max.Y && l.parts[i].Contains(p) {
			return i
		}
	}
	return -1
}

// sweeps are the directions, degrees, in which pieces are grown; the best of
// them is taken.
var sweeps = [...]float64{0, 45, 90, 135, 180, 225, 270, 315}

// choose returns the cuts that leave the fewest pieces, then the fewest cuts.
func (d *divider) choose(tooLarge bool) ([]Cut, error) {
	room := d.s.room()
	for _, a := range d.atoms {
		if _, share := Turn(a.hull, room); share > 1 {
			b := geom.Bounds(a.hull)
			size := b.Size()
			return nil, fmt.Errorf(
				"a stretch of %.0f by %.0f mm near x %.0f, y %.0f mm does not fit the bed, and there is no place "+
					"to cut it; draw it smaller, or set a bed larger than that", size.X, size.Y, b.Min.Lerp(b.Max, 0.5).X,
				b.Min.Lerp(b.Max, 0.5).Y,
			)
		}
	}
	var best []Cut
	bestPieces := math.MaxInt
	for _, dir := range sweeps {
		owner, n := d.grow(dir)
		var cuts []Cut
		for i, l := range d.links {
			if l[0] >= 0 && l[1] >= 0 && owner[l[0]] != owner[l[1]] {
				cuts = append(cuts, d.cuts[i])
			}
		}
		if n < bestPieces || n == bestPieces && len(cuts) < len(best) {
			best, bestPieces = cuts, n
		}
	}
	if bestPieces < 2 && tooLarge {
		return nil, errors.New(
			"the channel does not fit the bed, and there is no place to cut it; draw it smaller, or set a larger bed",
		)
	}
	return best, nil
}

// grow gathers atoms to pieces from one side of the drawing to the other, each
// as large as fits the bed. It returns each atom's piece.
func (d *divider) grow(dir float64) (owner []int, n int) {
	s, c := math.Sincos(geom.Radians(dir))
	depth := make([]float64, len(d.atoms))
	order := make([]int, len(d.atoms))
	owner = make([]int, len(d.atoms))
	for i, a := range d.atoms {
		owner[i], order[i] = -1, i
		b := geom.Bounds(a.hull)
		m := b.Min.Lerp(b.Max, 0.5)
		depth[i] = c*m.X + s*m.Y
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(depth[a], depth[b]) })
	beside := make([][]int, len(d.atoms))
	for i, l := range d.links {
		if l[0] >= 0 && l[1] >= 0 && l[0] != l[1] && !d.cuts[i].Asked {
			beside[l[0]] = append(beside[l[0]], l[1])
			beside[l[1]] = append(beside[l[1]], l[0])
		}
	}
	room := d.s.room()
	if d.Floor > 0 { // a key may stick out at either end
		room = room.Sub(geom.Pt(2*keyLong, 2*keyLong))
	}
	for _, first := range order {
		if owner[first] >= 0 {
			continue
		}
		owner[first] = n
		hull := d.atoms[first].hull
		edge := slices.Clone(beside[first])
		for {
			best := -1
			for _, e := range edge {
				if owner[e] < 0 && (best < 0 || depth[e] < depth[best]) {
					best = e
				}
			}
			if best < 0 {
				break
			}
			edge = slices.DeleteFunc(edge, func(e int) bool { return e == best })
			joined := solid.Area(append(slices.Clone(hull), d.atoms[best].hull...)...).Hull()
			if _, share := Turn(joined, room); share > 1 {
				continue
			}
			hull = joined
			owner[best] = n
			edge = append(edge, beside[best]...)
		}
		n++
	}
	return owner, n
}

// key is the dovetail of a cut, pointing along its heading.
func (c Cut) key() solid.Plan {
	n := c.Heading.Perp()
	end := c.At.Add(c.Heading.Mul(keyLong))
	start := c.At.Sub(c.Heading.Mul(saw))
	return solid.Area(
		start.Sub(n.Mul(keyNeck/2)), end.Sub(n.Mul(keyHead/2)), end.Add(n.Mul(keyHead/2)),
		start.Add(n.Mul(keyNeck/2)),
	)
}

// sawn is the pieces that the cuts leave, with the keys of their joints.
func (d *divider) sawn(cuts []Cut) []solid.Solid {
	top := d.Solid[len(d.Solid)-1].Z1
	base := d.Solid[0].Z0
	blades := d.blades(cuts)
	open := d.Solid.Cut(base, top, blades)
	at := newLocator(d.shadow.Less(blades).Parts())
	pieces := make([]solid.Solid, len(at.parts))
	for i, p := range at.parts {
		pieces[i] = open.Keep(p)
	}
	if d.Floor <= 0 {
		return pieces
	}
	for _, c := range cuts {
		from, to := at.find(c.At.Sub(c.Heading.Mul(saw))), at.find(c.At.Add(c.Heading.Mul(saw)))
		if from < 0 || to < 0 {
			continue
		}
		key := c.key()
		pieces[to] = pieces[to].Cut(base, d.Floor, key.Grow(d.s.Clearance))
		for _, l := range d.Solid {
			if l.Z1 <= d.Floor {
				pieces[from] = pieces[from].Add(l.Z0, l.Z1, l.Plan.And(key))
			}
		}
		for _, i := range []int{from, to} {
			pieces[i] = pieces[i].Relieved(d.Relief, key.Grow(keyRelief))
		}
	}
	return pieces
}
