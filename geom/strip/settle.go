package strip

import (
	"slices"

	"inkchannel/geom"
)

// Settled is the plan with what whole cuts leave of each line laid where it shows least, now that
// it is known where all strip lies; and with pieces cut once more, or a few times, where then all
// stretches that stay dark are so short that they do not matter. What is cut is soldered on again
// across the gap.
func (p Plan) Settled(c geom.Centreline, set Settings) Plan {
	p.Pieces, p.Chains, p.Circuits = slices.Clone(p.Pieces), slices.Clone(p.Chains), slices.Clone(p.Circuits)
	s := settler{Plan: &p, rulers: geom.Rulers(c.Curves), set: set}
	s.laid = p.laid(s.rulers)
	for range settleTries {
		for i := range p.Pieces {
			s.settle(i)
		}
	}
	node := 0
	for _, q := range p.Pieces {
		node = max(node, q.Start.Node+1, q.End.Node+1)
	}
	for i := 0; i < len(p.Pieces); i++ {
		s.settle(i)
		how := p.Pieces[i].shared(set)
		if how.joints == 0 {
			continue
		}
		p.split(i, how, node, s.rulers, set)
		s.laid = slices.Insert(s.laid, i+1, make([]lay, how.joints)...)
		for k := range how.joints + 1 {
			s.laid[i+k] = p.Pieces[i+k].laid(s.rulers)
		}
		node, i = node+how.joints, i+how.joints
	}
	for i := range p.Pieces {
		s.centre(i)
	}
	p.sum(s.rulers, set)
	return p
}

// settleTries is how often each piece is laid anew beside the others.
const settleTries = 3

// A settler lays pieces anew, one after the other, each beside where the others lie now: none
// ever lies on another.
type settler struct {
	*Plan
	rulers []*geom.Ruler
	set    Settings
	laid   []lay // of each piece
}

// settle lays a piece anew within its line: in the room that the others leave it, by how much of
// its ends they light, and by how much stays dark of others that end where it does. One that would
// stay dark so, as what it leaves bare at a free end leaves no room there for wires, lies as it did.
func (s *settler) settle(i int) {
	q := &s.Pieces[i]
	if q.Strip == 0 {
		return
	}
	was := *q
	for e := range q.Gaps {
		by := s.beside(i, e)
		q.keep[e] = s.least(q.Gaps[e], 0, func(at float64) bool { return s.strip(*q, e, at, by) })
		if at, ok := q.hole(e, s.set); ok && at > 0 {
			q.well[e] = s.least(at, s.set.Hole/2, func(at float64) bool { return s.dig(*q, e, at, by) })
		}
	}
	s.relay(i)
	if q.Strip == 0 {
		*q = was
		s.laid[i] = q.laid(s.rulers)
	}
}

// relay lays a piece anew in the room that it has.
func (s *settler) relay(i int) {
	q := &s.Pieces[i]
	if q.Strip == 0 {
		return
	}
	for e := range q.Gaps {
		q.lit[e] = s.light(i, e)
	}
	s.set.cut(q)
	s.laid[i] = q.laid(s.rulers)
}

// centre puts a piece's holes for wires into the middle of the room that is left for them.
func (s *settler) centre(i int) {
	q := &s.Pieces[i]
	for e := range q.Gaps {
		middle := (q.well[e] + q.Gaps[e] - s.set.Hole/2) / 2
		if at, ok := q.hole(e, s.set); ok && at > 0 && s.dig(*q, e, middle, s.beside(i, e)) {
			q.well[e] = middle
		}
	}
}

// least goes down from a place that has room as long as what it comes to has room, at most to
// the end.
func (s *settler) least(from, end float64, room func(float64) bool) float64 {
	for from > end {
		next := max(from-roomStep, end)
		if !room(next) {
			break
		}
		from = next
	}
	return from
}

// nearEnd is how far from a piece's end, mm, other strip is looked at.
const nearEnd = 20.0

// neighbours are what is about a piece's end: lines of strip, of its own what is not near there,
// the corners of their square ends, and the other pieces' holes for wires.
type neighbours struct {
	lines          []geom.Polyline
	corners, holes []geom.Point
}

// beside is what is about a piece's end.
func (s *settler) beside(i, end int) (by neighbours) {
	q := s.Pieces[i]
	about := s.place(q, end, q.Gaps[end]/2)
	reach := nearEnd + q.Gaps[end]
	for k, l := range s.laid {
		if !l.near(about, reach) {
			continue
		}
		line, n := l.line, len(l.line)
		for e, v := range [2]geom.Point{line[1].Sub(line[0]), line[n-1].Sub(line[n-2])} {
			if tip, side := line[e*(n-1)], v.Unit().Perp().Mul(s.set.Half); k != i || e != end {
				by.corners = append(by.corners, tip.Add(side), tip.Sub(side))
			}
		}
		if k == i {
			line = beyondOwn(line, end)
		}
		by.lines = append(by.lines, within(line, about, reach)...)
		for e := range 2 {
			if from, ok := s.Pieces[k].hole(e, s.set); ok && k != i {
				by.holes = append(by.holes, s.place(s.Pieces[k], e, from))
			}
		}
	}
	return by
}

// place is the place so many mm from a piece's end.
func (s *settler) place(q Piece, end int, from float64) geom.Point {
	return at(q, s.rulers, q.fromEnd(end, from))
}

// strip tells whether a piece's strip can begin so many mm from its end.
func (s *settler) strip(q Piece, end int, start float64, by neighbours) bool {
	var mine geom.Polyline
	for d := start; d <= min(start+holeReach, q.Path); d++ {
		mine = append(mine, s.place(q, end, d))
	}
	if len(mine) < 2 {
		return false
	}
	dir := mine[1].Sub(mine[0]).Unit()
	side := dir.Perp().Mul(s.set.Half)
	if slices.ContainsFunc(by.lines, func(t geom.Polyline) bool { return endsOn(t, mine[0], side, s.set.Half) }) {
		return false
	}
	for _, p := range by.corners {
		if p.Dist(mine[0]) > holeReach+s.set.Half+roomSlack {
			continue // mine is no longer
		}
		if off, past := from(mine, p); off < s.set.Half+roomSlack && past < roomSlack {
			return false
		}
	}
	for _, h := range by.holes {
		if before := mine[0].Sub(h).Dot(dir); before < s.set.Hole/2 && mine.DistanceTo(h) < s.set.Half+s.set.Hole/2 {
			return false
		}
	}
	return true
}

// holeReach is how much of a strip from its end on, mm, is held against holes beside it.
const holeReach = 12.0

// dig tells whether a hole for wires can be so many mm from a piece's end.
func (s *settler) dig(q Piece, end int, middle float64, by neighbours) bool {
	at := s.place(q, end, middle)
	for _, t := range by.lines {
		if off, past := from(t, at); off < s.set.Half+s.set.Hole/2 && past < s.set.Hole/2 {
			return false
		}
	}
	for _, h := range by.holes {
		if h.Dist(at) < s.set.Hole+holeWall {
			return false
		}
	}
	return true
}

// holeWall is what stays between two holes for wires, mm.
const holeWall = 0.8

// light is how many mm at a piece's end others light; where all that ends there leaves it dark,
// less than 0 by the longest that another leaves.
func (s *settler) light(i, end int) (lit float64) {
	q := s.Pieces[i]
	lines := q.lights(s.laid, i, end, s.place(q, end, q.Gaps[end]/2), q.Gaps[end]/2+s.set.Half+lightReach)
	dark := true // up to the very end
	for d := q.Gaps[end] - darkStep/2; d > 0; d -= darkStep {
		if onAny(lines, s.place(q, end, d), s.set.Half) {
			lit, dark = lit+darkStep, false
		}
	}
	if !dark || q.Closed {
		return lit
	}
	for k, other := range s.Pieces {
		for e, n := range other.nodes() {
			if n == q.nodes()[end] && k != i {
				lit = min(lit, -other.Gaps[e])
			}
		}
	}
	return lit
}

// hole is how far from a piece's start, 0, or end, 1, wires come up there; ok is false where none do.
func (p Piece) hole(end int, set Settings) (from float64, ok bool) {
	switch {
	case p.Strip == 0 || end == 0 && p.After >= 0 || end == 1 && (!p.out || p.Closed):
		return 0, false
	case p.open(end):
		return 0, true
	}
	return p.well[end], true
}

// fromEnd is so many mm from a piece's start, 0, or from its end, 1.
func (p Piece) fromEnd(end int, s float64) float64 {
	if end == 1 {
		return p.Path - s
	}
	return s
}

// sum brings the chains' and circuits' lengths and places up to date with their pieces.
func (p *Plan) sum(rulers []*geom.Ruler, set Settings) {
	for i := range p.Chains {
		c := &p.Chains[i]
		c.Strip = 0
		for _, k := range c.Pieces {
			c.Strip += p.Pieces[k].Strip
		}
		first, last := p.Pieces[c.Pieces[0]], p.Pieces[c.Pieces[len(c.Pieces)-1]]
		c.Tap = first.tap(rulers, set)
		c.Out = last.leave(rulers, set)
	}
	for i := range p.Circuits {
		c := &p.Circuits[i]
		c.Strip = 0
		for _, k := range c.Pieces {
			c.Strip += p.Pieces[k].Strip
		}
	}
}
