package rules

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"inkchannel/geom"
)

// SpacingSettings tune Spacing and Spread.
type SpacingSettings struct {
	Least float64 // mm between centrelines; common practice, no source
	// Spread is the most that Spread may move a point, mm; 0 leaves the lines
	// where they are.
	Spread float64
}

// DefaultSpacing returns the spacing of channels 7 mm wide over all.
func DefaultSpacing() SpacingSettings { return SpacingSettings{Least: 7.5} }

// A Tight is a place where centrelines that should keep apart are too near.
type Tight struct {
	Curves   [2]int        // of the centreline
	At       [2]geom.Point // where they are nearest
	Along    [2]float64    // mm along each curve
	Distance float64       // mm between the two places
	Length   float64       // mm of the first curve that is too near
}

// Lines nearer than the least spacing are natural where they have only just
// parted: beside a junction, and within a bend. How far from a junction two
// arms may take to part is bounded by partMost times the spacing, which arms
// that part at more than 26 degrees keep to.
const partMost = 2.2

// Spacing lists where centrelines of different strokes, or parts of one stroke
// that are far apart along it, are nearer than the least spacing, nearest
// first. The distance is between the curves flattened to 0.002 mm.
//
// Lines that meet are near each other by nature beside the junction, until
// their outlines part; likewise the two sides of one bend. These are left out.
//
// It returns an error for a spacing that is not over 0.
func Spacing(c geom.Centreline, set SpacingSettings) ([]Tight, error) {
	if !(set.Least > 0) {
		return nil, errors.New("the least spacing must be over 0 mm")
	}
	m := newSpacer(c, set.Least)
	var out []Tight
	for _, group := range m.groups(m.pairs()) {
		if t, ok := m.nearest(group); ok {
			out = append(out, t)
		}
	}
	slices.SortFunc(out, func(a, b Tight) int {
		return cmp.Or(
			cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.Curves[0], b.Curves[0]),
			cmp.Compare(a.Along[0], b.Along[0]),
		)
	})
	return out, nil
}

// A spacer measures the distances between tracks.
type spacer struct {
	least  float64
	tracks []track
	near   *geom.Grid[segment] // by their middles
	part   map[armPair]float64
}

// A segment is one straight piece of a track.
type segment struct{ track, i int32 }

// A closePair is two segments nearer than the spacing, at distances s and t
// along their tracks.
type closePair struct {
	a, b   segment
	s, t   float64
	d      float64
	border float64 // how far within what counts as natural's end, mm
}

// An arm leaves a stop of a track forward or backward.
type arm struct{ track, stop, dir int }

type armPair struct{ a, b arm }

func newSpacer(c geom.Centreline, least float64) *spacer {
	m := &spacer{least: least, near: geom.NewGrid[segment](least * nearCell), part: map[armPair]float64{}}
	for _, k := range c.Curves {
		m.tracks = append(m.tracks, newTrack(k, least/4))
	}
	for i := range m.tracks {
		t := &m.tracks[i]
		for j := 1; j < len(t.p); j++ {
			m.near.Put(t.p[j-1].Lerp(t.p[j], 0.5), segment{int32(i), int32(j - 1)})
		}
	}
	return m
}

// nearCell is the size of a cell, in spacings: wider than the spacing and a segment
// together, so that neighbouring cells hold all that is near.
const nearCell = 1.3

// pairs lists the segments that are too near and not so by nature.
func (m *spacer) pairs() []closePair {
	var out []closePair
	for i := range m.tracks {
		t := &m.tracks[i]
		for j := range len(t.p) - 1 {
			a := segment{int32(i), int32(j)}
			for b := range m.near.Near(t.p[j].Lerp(t.p[j+1], 0.5)) {
				if b.track < a.track || b.track == a.track && b.i <= a.i {
					continue
				}
				if p, ok := m.pair(a, b); ok {
					out = append(out, p)
				}
			}
		}
	}
	return out
}

func (m *spacer) pair(a, b segment) (closePair, bool) {
	ta, tb := &m.tracks[a.track], &m.tracks[b.track]
	if a.track == b.track && tb.s[b.i+1]-ta.s[a.i] <= m.short() {
		return closePair{}, false
	}
	p, q, u, v := nearestOfSegments(ta.p[a.i], ta.p[a.i+1], tb.p[b.i], tb.p[b.i+1])
	d := p.Dist(q)
	if d >= m.least {
		return closePair{}, false
	}
	c := closePair{a: a, b: b, d: d, border: math.Inf(1)}
	c.s = ta.s[a.i] + u*(ta.s[a.i+1]-ta.s[a.i])
	c.t = tb.s[b.i] + v*(tb.s[b.i+1]-tb.s[b.i])
	if a.track == b.track && m.oneBend(ta, &c) {
		return c, false
	}
	for i, sa := range ta.stops {
		for j, sb := range tb.stops {
			if sa.knot == sb.knot && m.parting(a.track, b.track, i, j, &c) {
				return c, false
			}
		}
	}
	return c, true
}

// short is how far apart along a track places are that are near by nature: on a
// half circle whose ends are at the least distance.
func (m *spacer) short() float64 { return math.Pi / 2 * m.least }

// oneBend reports whether the two places of a track are near by nature: the
// track between them is short, or one bend of which they are the sides.
func (m *spacer) oneBend(t *track, c *closePair) bool {
	g := t.along(c.s, c.t)
	if g <= m.short() {
		return true
	}
	c.border = min(c.border, g-m.short())
	if g > 2*partMost*m.least {
		return false
	}
	// Walking in from both sides, the distance must only shrink.
	lo, hi := min(c.s, c.t), max(c.s, c.t)
	if t.closed && t.length()-(hi-lo) < hi-lo {
		lo, hi = hi, lo+t.length()
	}
	last := c.d
	for k := 1; k <= 16; k++ {
		x := (hi - lo) / 2 * float64(k) / 17
		d := t.at(lo + x).Dist(t.at(hi - x))
		if d > last+0.05 {
			return false
		}
		last = d
	}
	return true
}

// parting reports whether two places are near because their tracks meet at a
// knot not far off, from where they part.
func (m *spacer) parting(ta, tb int32, i, j int, c *closePair) bool {
	a, b := &m.tracks[ta], &m.tracks[tb]
	if ta == tb && i == j {
		return false
	}
	da, db := offset(a, a.stops[i].s, c.s), offset(b, b.stops[j].s, c.t)
	reach := m.parts(armPair{arm{int(ta), i, sign(da)}, arm{int(tb), j, sign(db)}})
	far := max(math.Abs(da), math.Abs(db))
	limit := max(1.05*m.least, 1.2*reach)
	if far <= limit {
		return true
	}
	if reach < partMost*m.least {
		c.border = min(c.border, far-limit)
	}
	return false
}

// offset is how far place s lies beyond stop at, negative before it.
func offset(t *track, at, s float64) float64 {
	d := s - at
	if t.closed {
		l := t.length()
		if d > l/2 {
			d -= l
		}
		if d < -l/2 {
			d += l
		}
	}
	return d
}

func sign(v float64) int {
	if v < 0 {
		return -1
	}
	return 1
}

// parts returns how far two arms run from their knot until they are the
// spacing apart, at most partMost times the spacing.
func (m *spacer) parts(p armPair) float64 {
	if r, ok := m.part[p]; ok {
		return r
	}
	a, b := &m.tracks[p.a.track], &m.tracks[p.b.track]
	x := 0.0
	for x < partMost*m.least {
		x += 0.05 * m.least
		pa := a.at(a.stops[p.a.stop].s + x*float64(p.a.dir))
		pb := b.at(b.stops[p.b.stop].s + x*float64(p.b.dir))
		if pa.Dist(pb) >= m.least {
			break
		}
	}
	m.part[p] = x
	return x
}

// groups gathers pairs that follow one another along both tracks.
func (m *spacer) groups(pairs []closePair) [][]closePair {
	type box struct {
		a, b int32
		x, y int32
	}
	step := m.least / 2
	at := map[box][]int{}
	// Cells of a closed track go round: the last borders on the first.
	index := func(track int32, s float64, d int32) int32 {
		t := &m.tracks[track]
		n := max(int32(t.length()/step), 1)
		i := min(int32(s/step), n-1) + d
		if t.closed {
			i = (i + n) % n
		}
		return i
	}
	key := func(p closePair, dx, dy int32) box {
		return box{a: p.a.track, b: p.b.track, x: index(p.a.track, p.s, dx), y: index(p.b.track, p.t, dy)}
	}
	for i, p := range pairs {
		k := key(p, 0, 0)
		at[k] = append(at[k], i)
	}
	seen := make([]bool, len(pairs))
	var out [][]closePair
	for i := range pairs {
		if seen[i] {
			continue
		}
		seen[i] = true
		todo := []int{i}
		var group []closePair
		for len(todo) > 0 {
			j := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			group = append(group, pairs[j])
			for dy := int32(-1); dy <= 1; dy++ {
				for dx := int32(-1); dx <= 1; dx++ {
					for _, n := range at[key(pairs[j], dx, dy)] {
						if !seen[n] {
							seen[n] = true
							todo = append(todo, n)
						}
					}
				}
			}
		}
		out = append(out, group)
	}
	return out
}

// nearest is the group's nearest pair. It is none if that lies where natural
// nearness ends: the lines then only part, and are nowhere nearest but at the
// junction.
func (m *spacer) nearest(group []closePair) (Tight, bool) {
	best := group[0]
	lo, hi := group[0].s, group[0].s
	for _, p := range group {
		if p.d < best.d || p.d == best.d && (p.s < best.s || p.s == best.s && p.t < best.t) {
			best = p
		}
		lo, hi = min(lo, p.s), max(hi, p.s)
	}
	if best.border < m.least/5 && best.d > m.least/2 {
		return Tight{}, false
	}
	a, b := &m.tracks[best.a.track], &m.tracks[best.b.track]
	return Tight{
		Curves: [2]int{int(best.a.track), int(best.b.track)}, At: [2]geom.Point{a.at(best.s), b.at(best.t)},
		Along: [2]float64{best.s, best.t}, Distance: best.d, Length: hi - lo,
	}, true
}

// nearestOfSegments returns the nearest points of segments ab and cd and how
// far along each they lie, 0 to 1.
func nearestOfSegments(a, b, c, d geom.Point) (p, q geom.Point, u, v float64) {
	if u, v, ok := geom.Cross(a, b, c, d); ok {
		p = a.Lerp(b, u)
		return p, p, u, v
	}
	best := math.Inf(1)
	try := func(x, y geom.Point, ux, vy float64) {
		if d := x.Dist(y); d < best {
			best, p, q, u, v = d, x, y, ux, vy
		}
	}
	f, t := geom.Foot(c, d, a)
	try(a, f, 0, t)
	f, t = geom.Foot(c, d, b)
	try(b, f, 1, t)
	f, t = geom.Foot(a, b, c)
	try(f, c, t, 0)
	f, t = geom.Foot(a, b, d)
	try(f, d, t, 1)
	return p, q, u, v
}
