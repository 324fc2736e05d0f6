package parts

import (
	"cmp"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// clearanceHoles are the diameters, mm, of clearance holes for metric screws,
// medium series: ISO 273:1979 (values from memory).
var clearanceHoles = []struct{ screw, hole float64 }{
	{2, 2.4}, {2.5, 2.9}, {3, 3.4}, {4, 4.5}, {5, 5.5}, {6, 6.6}, {8, 9},
}

// ClearanceHole returns the diameter of the medium clearance hole for a metric
// screw of the given nominal diameter, mm: the next larger screw's if it is not
// in ISO 273.
func ClearanceHole(screw float64) float64 {
	for _, h := range clearanceHoles {
		if h.screw >= screw-1e-9 {
			return h.hole
		}
	}
	return screw + 1
}

// headFactor is the diameter of a screw's head by its nominal diameter: at most
// 2 for pan heads (ISO 7045, from memory), and a little more to pass it.
const headFactor = 2.1

// HeadOff is how far off the wall, mm, the underside of a screw's head is to be for a keyhole, and how high the head may
// be at most.
func HeadOff() (off, high float64) { return keyholePlate + 0.5, keyholeRoom - 0.5 }

// MostHead is how wide, mm, the head of a screw may be at most that a keyhole takes.
func MostHead(screw float64) float64 { return headFactor * screw }

// Measures of what holds the sign on a wall, mm; common practice, no source.
const (
	earThick     = 3.0
	keyholePlate = 2.0 // what the screw's head catches behind
	keyholeRoom  = 4.0 // depth of the head's room
	stickRadius  = 12.0
	stickThick   = 1.5
)

// addMounts puts what hangs the sign beside the channels: on the backboard if
// there is one, else on the channels.
func (b *builder) addMounts() {
	onBoard := len(b.ties) > 0 || b.covers()
	places := 2
	radius, reach := 0.0, b.s.outer()
	switch b.s.Hold {
	case HoldEars:
		radius, places = ClearanceHole(b.s.Screw)/2+4, 4
	case HoldKeyhole:
		radius = MostHead(b.s.Screw)/2 + 4
	case HoldPads:
		radius, places = stickRadius, 4
	}
	found := b.mountsByHand(radius)
	if len(b.s.Screws) == 0 {
		found = b.mountPlaces(places, radius, reach, onBoard)
	}
	if len(b.s.Screws) == 0 && len(found) < places {
		b.note("there is room for only %d of %d %s", len(found), places, b.s.Hold)
	}
	b.sign.Mounts = len(found)
	b.sign.Swings = len(found) > 0 && !b.carries(found)
	for i, m := range found {
		if s := b.screwAt(m); s != nil {
			b.sign.Screws = append(b.sign.Screws, *s)
		}
		if len(b.s.Screws) == 0 && i%2 == 1 && math.Abs(m.at.Y-found[i-1].at.Y) > 1e-6 {
			b.note("there is no room for %s at one height: one is %.1f mm higher than the other", b.s.Hold, math.Abs(m.at.Y-found[i-1].at.Y))
		}
		if onBoard {
			b.mountOnBoard(m, radius)
		} else {
			b.mountOnChannel(m, radius)
		}
	}
	if !onBoard {
		b.body = b.solid.Shadow()
		b.pieces = nil
		b.split()
	}
}

// carries tells whether places hold the sign as it is to hang: on either side of the centre of mass,
// and not all below it.
func (b *builder) carries(found []mount) bool {
	mid := b.solid.Centre()
	left, right, above := false, false, false
	for _, m := range found {
		left, right, above = left || m.at.X < mid.X, right || m.at.X > mid.X, above || m.at.Y > mid.Y
	}
	return left && right && above
}

// neckReach is how far from a line's middle, mm, a mount may be; common practice, no source.
const neckReach = 40.0

// nudge is how far, mm, a place by hand is moved off a line to have room.
const nudge = 4.0

// mountsByHand are the mounts at the places by hand that have room, or have it a little farther from
// the nearest line.
func (b *builder) mountsByHand(radius float64) (out []mount) {
	least := b.s.outer() + radius
	for _, p := range b.s.Screws {
		m := mount{at: p}
		if b.s.Hold == HoldKeyhole {
			m.at = p.Sub(restOf(b.s.Screw))
		}
		near := neckReach
		for _, l := range b.lines {
			if _, _, foot, d := l.Nearest(m.at); d < near {
				m.foot, near = foot, d
			}
		}
		if short := least - near; short > 0 && short < nudge && near > 0 {
			m.at = m.at.Add(m.at.Sub(m.foot).Unit().Mul(short + 1e-6))
		}
		if near == neckReach || !b.mountFits(m, out, radius) {
			b.sign.NoRoom = append(b.sign.NoRoom, p)
			continue
		}
		out = append(out, m)
	}
	b.sign.MountRoom = least
	return out
}

// screwAt is where a mount's screw is in the wall, nil for a pad.
func (b *builder) screwAt(m mount) *geom.Point {
	at := m.at
	switch b.s.Hold {
	case HoldEars:
	case HoldKeyhole:
		at = at.Add(restOf(b.s.Screw))
	default:
		return nil
	}
	return &at
}

// restOf is how far above a keyhole's middle its screw rests.
func restOf(screw float64) geom.Point { return geom.Pt(0, MostHead(screw)/4+0.5) }

// A mount is a place for one ear, keyhole or pad: its middle, and the point of
// the centreline that it hangs on.
type mount struct{ at, foot geom.Point }

// neck is the plan from a mount's foot to its disc.
func (m mount) neck(r float64) solid.Plan {
	return solid.Disc(m.at, r).Or(solid.Ribbon([]geom.Polyline{{m.at, m.foot}}, min(r, 5)))
}

func (b *builder) mountOnChannel(m mount, r float64) {
	s := b.s
	free := m.neck(r).Less(b.slot.Grow(s.Channel.Wall))
	switch s.Hold {
	case HoldPads:
		b.solid = b.solid.Add(0, stickThick, free)
	case HoldEars:
		b.solid = b.solid.Add(0, earThick, free)
		b.solid = b.solid.Cut(0, earThick, solid.Disc(m.at, ClearanceHole(s.Screw)/2))
	case HoldKeyhole:
		top := keyholePlate + keyholeRoom + 1
		b.solid = b.solid.Add(0, top, free)
		b.solid = b.keyhole(b.solid, m.at, 0)
	}
}

// keyhole cuts the hole for a screw's head, the slot for its shank above, and
// the head's room behind them, from height z.
func (b *builder) keyhole(block solid.Solid, at geom.Point, z float64) solid.Solid {
	low, high := at.Sub(restOf(b.s.Screw)), at.Add(restOf(b.s.Screw))
	block = block.Cut(z, z+keyholePlate, Keyhole(high, b.s.Screw))
	return block.Cut(z+keyholePlate, z+keyholePlate+keyholeRoom, solid.Ribbon([]geom.Polyline{{low, high}}, MostHead(b.s.Screw)/2))
}

// Keyhole is the opening for the head of a metric screw, and the slot in which its shank comes to rest at a
// place, mm.
func Keyhole(at geom.Point, screw float64) solid.Plan {
	low := at.Sub(restOf(screw).Mul(2))
	return solid.Disc(low, MostHead(screw)/2).Or(solid.Ribbon([]geom.Polyline{{low, at}}, ClearanceHole(screw)/2))
}

func (b *builder) mountOnBoard(m mount, r float64) {
	s := b.s
	b.extra = b.extra.Or(m.neck(r))
	if len(b.ties) > 0 {
		// The board runs on behind the channel to the nearest bridge.
		n := b.wireWays()
		if l := n.route(m.foot, b.ties[0].a); l != nil {
			b.extra = b.extra.Or(solid.Ribbon([]geom.Polyline{l}, b.hidden()))
		}
	}
	if s.Hold == HoldKeyhole {
		// The board alone is too thin: a boss in front, clear of the channels.
		boss := solid.Disc(m.at, r).Less(b.body.Grow(0.3))
		b.boss = append(b.boss, solid.Layer{Z0: 0, Z1: keyholePlate + keyholeRoom + 1, Plan: boss})
	}
	b.holes = append(b.holes, m.at)
}

// holed cuts the mounts' holes into the board.
func (b *builder) holed(block solid.Solid) solid.Solid {
	for _, at := range b.holes {
		switch b.s.Hold {
		case HoldEars:
			block = block.Cut(0, b.s.BoardThick, solid.Disc(at, ClearanceHole(b.s.Screw)/2))
		case HoldKeyhole:
			block = b.keyhole(block, at, 0)
		}
	}
	return block
}

// levelWithin is how far apart in height, mm, two places may be that are then made level.
const levelWithin = 2.0

// mountPlaces picks n places beside the channels, in level pairs, one of each on either side of the
// centre of mass: the upper pair first, as high and wide apart as there is room. They are at the
// largest channel, which carries the rest, or where that has no room for a level pair and a board
// joins the channels, or would hang from below its middle, at any. Where no pair is level places are
// taken that are not.
func (b *builder) mountPlaces(n int, radius, reach float64, onBoard bool) []mount {
	found := b.mountsAt(b.largest().curves, n, radius, reach)
	carried := b.carries(found)
	if !onBoard || len(found) == n && level(found) && carried {
		return found
	}
	var all []int
	for i := range b.lines {
		all = append(all, i)
	}
	more := b.mountsAt(all, n, radius, reach)
	if better := b.carries(more); better && !carried ||
		better == carried && (len(more) > len(found) || len(more) == len(found) && level(more)) {
		return more
	}
	return found
}

// level tells whether the places of each pair are at one height.
func level(m []mount) bool {
	for i := 1; i < len(m); i += 2 {
		if math.Abs(m[i].at.Y-m[i-1].at.Y) > 1e-6 {
			return false
		}
	}
	return true
}

// mountsAt is mountPlaces along some of the curves.
func (b *builder) mountsAt(curves []int, n int, radius, reach float64) []mount {
	v := b.solid.Centre()
	mid := geom.Pt(v.X, v.Y)
	var left, right []mount
	for _, i := range curves {
		pts := b.lines[i].Resampled(4)
		for i := 1; i+1 < len(pts); i++ {
			side := pts[i+1].Sub(pts[i-1]).Unit().Perp()
			for _, k := range []float64{1, -1} {
				m := mount{pts[i].Add(side.Mul(k * (reach + radius + 0.5))), pts[i]}
				switch {
				case !b.mountFits(m, nil, radius) || math.Abs(m.at.X-mid.X) < radius:
				case m.at.X < mid.X:
					left = append(left, m)
				default:
					right = append(right, m)
				}
			}
		}
	}
	var out []mount
	for _, up := range []float64{1, -1}[:n/2] {
		out = append(out, b.mountPair(left, right, out, mid, up, radius)...)
	}
	return out
}

// mountPair is the pair of a left and a right place that is highest (up 1) or lowest (up −1) and
// widest apart; none if there is no room for both.
func (b *builder) mountPair(left, right, others []mount, mid geom.Point, up, radius float64) []mount {
	type pair struct {
		l, r  mount
		score float64
	}
	var all []pair
	for _, l := range left {
		for _, r := range right {
			off := math.Abs(l.at.Y - r.at.Y)
			y := (l.at.Y + r.at.Y) / 2
			score := r.at.X - l.at.X + 2*up*(y-mid.Y)
			if off > levelWithin {
				score -= 1e4 + 10*off
			}
			if up > 0 && y < mid.Y { // it would hang upside down
				score -= 1e6
			}
			all = append(all, pair{l, r, score})
		}
	}
	slices.SortStableFunc(all, func(p, q pair) int { return cmp.Compare(q.score, p.score) })
	for _, p := range all {
		if off := math.Abs(p.l.at.Y - p.r.at.Y); off <= levelWithin {
			y := (p.l.at.Y + p.r.at.Y) / 2
			p.l.at.Y, p.r.at.Y = y, y
		}
		if b.mountFits(p.l, others, radius) && b.mountFits(p.r, append(slices.Clone(others), p.l), radius) {
			return []mount{p.l, p.r}
		}
	}
	return nil
}

// largest is the piece with the most area.
func (b *builder) largest() *piece {
	best := b.pieces[0]
	for _, p := range b.pieces {
		if p.plan.Size() > best.plan.Size() {
			best = p
		}
	}
	return best
}

func (b *builder) mountFits(m mount, others []mount, radius float64) bool {
	for _, o := range others {
		if o.at.Dist(m.at) < 2*radius+10 {
			return false
		}
	}
	for _, l := range b.lines {
		if l.DistanceTo(m.at) < b.s.outer()+radius {
			return false
		}
	}
	return true
}
