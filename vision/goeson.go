package vision

import (
	"cmp"
	"slices"

	"inkchannel/geom"
)

// Whether the paper goes on beyond a side. Found on real photographs with shadows laid over them.
const (
	onReach  = 30   // px of the small copy beyond a corner where it is looked for,
	onFrom   = 6    // but for so many, as corners are found to some
	onSeen   = 0.75 // of them with the edge seen that go on
	onLarger = 1.1  // times the area that an outline has at least that holds another
	onInside = 10   // px of the small copy by which a corner may lie outside of what holds it
)

// goesOn tells whether a side beside one of q's goes on beyond it, paper still on the same hand, and whether both
// sides beside one do: then that is no edge of the sheet but of a shadow, or a fold. One alone may be the table's
// grain, or a shadow's edge that ends in a corner of the sheet.
func goesOn(pic *Colour, q [4]geom.Point) (one, both bool) {
	b := &bands{pic: pic}
	var hands [4]int
	for i := range q {
		hands[i] = b.lighterHand(q[i], q[(i+1)%4])
	}
	for i := range q {
		before := b.beyond(q[(i+3)%4], q[i], hands[(i+3)%4]) >= onSeen
		after := b.beyond(q[(i+2)%4], q[(i+1)%4], -hands[(i+1)%4]) >= onSeen // seen the other way round
		one, both = one || before || after, both || before && after
	}
	return one, both
}

// whole puts the outline of all of the sheet in the place of one beyond which it goes on, if there is one: of a
// page's shape rather than of another.
func (g *glance) whole(o *outline, support float64) error {
	one, both := goesOn(g.pic, o.corners)
	if !both && (!one || isPage(g.pic, o.corners)) {
		return nil
	}
	lines, err := edgeLines(g.pic)
	if err != nil {
		return err
	}
	larger := slices.DeleteFunc(append(lineQuads(g.pic, lines, support), g.quads...), func(q [4]geom.Point) bool {
		if !holds(q, o.corners) {
			return true
		}
		_, on := goesOn(g.pic, q)
		return on
	})
	pages := slices.DeleteFunc(slices.Clone(larger), func(q [4]geom.Point) bool { return !isPage(g.pic, q) })
	q, seen := g.best(pages, support)
	if seen == 0 && both {
		q, seen = g.best(larger, support)
	}
	if seen > 0 {
		o.corners, o.seen = q, seen
	}
	o.cut = seen == 0 && both && !isPage(g.pic, o.corners) // a table's grain may run along two sides
	return nil
}

// isPage tells whether an outline has a page's shape.
func isPage(pic *Colour, q [4]geom.Point) bool {
	page, _ := pageOf(q, pic.W, pic.H, PageAuto)
	return page != PageFree
}

// lighterHand is 1 where at most places of a side it is lighter to the right, −1 where it is to the left, 0 for neither.
func (b *bands) lighterHand(from, to geom.Point) int {
	n, sum := to.Sub(from).Unit().Perp(), 0
	for k := range supportPlaces {
		lighter, _ := b.edge(lookedAt(from, to, k), n)
		sum += cmp.Compare(lighter, 0)
	}
	return cmp.Compare(sum, 0)
}

// beyond is along which share of the way beyond a side's end, from its other one, the edge goes on with that hand
// lighter; 0 where the picture ends too soon.
func (b *bands) beyond(from, end geom.Point, hand int) float64 {
	d := end.Sub(from).Unit()
	n := d.Perp()
	seen, places := 0, 0
	for far := onFrom; far <= onReach; far++ {
		p := end.Add(d.Mul(float64(far)))
		if outsideBy(b.pic, p) > 0 {
			return 0
		}
		places++
		if lighter, _ := b.edge(p, n); lighter != 0 && cmp.Compare(lighter, 0) == hand {
			seen++
		}
	}
	return float64(seen) / float64(places)
}

// holds tells whether an outline holds another that is smaller.
func holds(q, other [4]geom.Point) bool {
	if quadArea(q) < onLarger*quadArea(other) {
		return false
	}
	for i := range q {
		d := q[(i+1)%4].Sub(q[i]).Unit()
		for _, p := range other {
			if d.Cross(p.Sub(q[i])) < -onInside {
				return false
			}
		}
	}
	return true
}
