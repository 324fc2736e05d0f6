package strip

import (
	"cmp"
	"slices"

	"inkchannel/geom"
)

// An Overlap is where strip of two pieces, or of one that comes back to itself, would lie on each other: two lines are
// nearer to each other than strip is wide, where they do not meet.
type Overlap struct {
	Pieces [2]int
	At     geom.Point // the middle of it
	Length float64    // mm along the first, to 1 mm
}

// Overlaps lists where pieces' strip, half mm to either side of its line, lies on other strip, the longest first.
func (p Plan) Overlaps(c geom.Centreline, half float64) (out []Overlap) {
	strips := p.laid(geom.Rulers(c.Curves))
	type sample struct{ piece, i int }
	near := geom.NewGrid[sample](2*half + 2) // samples are 1 mm apart
	for k, s := range strips {
		for i, q := range s.line {
			near.Put(q, sample{k, i})
		}
	}
	on := map[[2]int][]geom.Point{}
	for a, s := range strips {
		for i, q := range s.line {
			side := across(s.line, i).Mul(half)
			met := map[int]bool{}
			for o := range near.Near(q) {
				pair := [2]int{a, o.piece}
				if o.piece < a || met[o.piece] || o.piece == a && o.i-i < ownTurn { // each pair of places once
					continue
				}
				line := strips[o.piece].line
				if met[o.piece] = true; o.piece == a {
					line = line[i+ownTurn:]
				}
				for _, l := range within(line, q, 2*half+lightReach) {
					if endsOn(l, q, side, half-overlapSlack) {
						on[pair] = append(on[pair], q)
						break
					}
				}
			}
		}
	}
	for pair, at := range on {
		out = append(out, Overlap{pair, at[len(at)/2], float64(len(at))})
	}
	slices.SortFunc(out, func(a, b Overlap) int {
		return cmp.Or(cmp.Compare(b.Length, a.Length), slices.Compare(a.Pieces[:], b.Pieces[:]))
	})
	return out
}

// ownTurn is how far apart along a piece, mm, two of its places may be for what lies between them to be one bend.
const ownTurn = 20

// overlapSlack is how much less wide strip is taken for, mm, than its edges may touch; roomSlack is added again.
const overlapSlack = roomSlack + 0.03

// across is the unit vector across a line at one of its points.
func across(line geom.Polyline, i int) geom.Point {
	return line[min(i+1, len(line)-1)].Sub(line[max(i-1, 0)]).Unit().Perp()
}
