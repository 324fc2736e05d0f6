package parts

import (
	"cmp"
	"math"
	"slices"

	"inkchannel/geom"
)

// A tie is a straight bridge between two points, each on the centreline of a
// piece or, for a star of three, in the open.
type tie struct {
	a, b   geom.Point
	pa, pb int // pieces, −1 in the open
}

func (t tie) length() float64 { return t.a.Dist(t.b) }

// joinStrokes finds the least bridges that join all pieces: the minimum
// spanning tree over the centrelines, then stars of three (Steiner points)
// where they are shorter.
func (b *builder) joinStrokes() {
	if len(b.pieces) < 2 || b.s.Board == BoardNone {
		if len(b.pieces) > 1 {
			b.note("%d channels do not touch, and no backboard joins them", len(b.pieces))
		}
		return
	}
	net := bridges{}
	for _, p := range b.pieces {
		var ls []geom.Polyline
		for _, i := range p.curves {
			ls = append(ls, b.lines[i])
		}
		net.lines = append(net.lines, ls)
	}
	net.tree()
	before := total(net.ties)
	net.stars()
	for i, t := range net.ties {
		net.ties[i] = net.firm(t)
	}
	b.ties = net.ties
	b.sign.Saved = before - total(net.ties)
	for _, t := range b.ties {
		b.sign.Bridges = append(b.sign.Bridges, geom.Polyline{t.a, t.b})
	}
}

func total(ts []tie) float64 {
	sum := 0.0
	for _, t := range ts {
		sum += t.length()
	}
	return sum
}

// bridges looks for the least network that joins groups of lines.
type bridges struct {
	lines [][]geom.Polyline // by piece
	ties  []tie
}

// tree is the minimum spanning tree over the pieces by Kruskal's rule. The
// shortest tie between two pieces is looked for among points along their lines
// and then drawn taut; pieces further apart than reach are left out, and reach
// is doubled until all hang together.
func (n *bridges) tree() {
	var pts []sample
	var all []geom.Point
	for i, ls := range n.lines {
		for _, l := range ls {
			for _, p := range l.Resampled(sampleStep) {
				pts = append(pts, sample{p, i})
				all = append(all, p)
			}
		}
	}
	size := geom.Bounds(all).Size().Norm()
	for reach := 30.0; ; reach *= 2 {
		n.ties = n.kruskal(n.candidates(pts, reach))
		if len(n.ties) == len(n.lines)-1 || reach > size {
			return
		}
	}
}

// A sample is a point that stands for the line of a piece; samples lie
// sampleStep apart, mm.
type sample struct {
	at    geom.Point
	piece int
}

const sampleStep = 2.0

// candidates is the shortest tie between each two pieces nearer than reach.
func (n *bridges) candidates(pts []sample, reach float64) []tie {
	near := geom.NewGrid[sample](reach)
	for _, s := range pts {
		near.Put(s.at, s)
	}
	shortest := map[[2]int]tie{}
	for _, s := range pts {
		for o := range near.Near(s.at) {
			if o.piece <= s.piece {
				continue
			}
			t := tie{a: s.at, b: o.at, pa: s.piece, pb: o.piece}
			pair := [2]int{s.piece, o.piece}
			if old, ok := shortest[pair]; t.length() <= reach && (!ok || t.length() < old.length()) {
				shortest[pair] = t
			}
		}
	}
	var out []tie
	for _, t := range shortest {
		out = append(out, n.settled(t))
	}
	return out
}

// kruskal picks the shortest ties that join pieces which are apart.
func (n *bridges) kruskal(all []tie) (out []tie) {
	slices.SortFunc(all, func(x, y tie) int {
		return cmp.Or(
			cmp.Compare(x.length(), y.length()), cmp.Compare(x.a.X, y.a.X), cmp.Compare(x.a.Y, y.a.Y),
			cmp.Compare(x.b.X, y.b.X), cmp.Compare(x.b.Y, y.b.Y),
		)
	})
	root := geom.NewForest(len(n.lines))
	for _, t := range all {
		if root.Join(t.pa, t.pb) {
			out = append(out, t)
		}
	}
	return out
}

// settled moves a tie's ends along their lines until neither can come nearer.
func (n *bridges) settled(t tie) tie {
	for range 20 {
		a, b := t.a, t.b
		t.a = n.foot(t.pa, t.b)
		t.b = n.foot(t.pb, t.a)
		if a.Dist(t.a)+b.Dist(t.b) < 1e-6 {
			break
		}
	}
	return t
}

// endClear is how far from a line's end a bridge should meet it, so that what
// is left of the channel carries the ceiling over the bridge's seat, mm.
const endClear = 8

// firm moves a tie away from the ends of its lines if it grows but little.
func (n *bridges) firm(t tie) tie {
	best, cost := t, n.toll(t)
	try := func(u tie) {
		if c := n.toll(u); c < cost-1e-9 {
			best, cost = u, c
		}
	}
	for d := -3 * endClear; d <= 3*endClear; d++ {
		if t.pa >= 0 {
			u := t
			u.a = n.slid(t.pa, t.a, float64(d))
			if t.pb >= 0 {
				u.b = n.foot(t.pb, u.a)
			}
			try(u)
		}
		if t.pb >= 0 {
			u := t
			u.b = n.slid(t.pb, t.b, float64(d))
			if t.pa >= 0 {
				u.a = n.foot(t.pa, u.b)
			}
			try(u)
		}
	}
	return best
}

// toll is a tie's length and something for each foot near a line's end.
func (n *bridges) toll(t tie) float64 {
	sum := t.length()
	for _, e := range []struct {
		piece int
		at    geom.Point
	}{{t.pa, t.a}, {t.pb, t.b}} {
		if e.piece < 0 {
			continue
		}
		for _, l := range n.lines[e.piece] {
			if l[0] == l[len(l)-1] {
				continue
			}
			for _, end := range []geom.Point{l[0], l[len(l)-1]} {
				sum += max(endClear-end.Dist(e.at), 0) / 2
			}
		}
	}
	return sum
}

// slid is the point d further along the line of a piece that p lies on.
func (n *bridges) slid(piece int, p geom.Point, d float64) geom.Point {
	best := math.Inf(1)
	out := p
	for _, l := range n.lines[piece] {
		i, t, _, far := l.Nearest(p)
		if far < best {
			at := l[:i+1].Length() + t*l[i].Dist(l[i+1])
			best, out = far, l.At(min(max(at+d, 0), l.Length()))
		}
	}
	return out
}

// foot is the point of a piece's lines nearest to p.
func (n *bridges) foot(piece int, p geom.Point) geom.Point {
	best, d := p, math.Inf(1)
	for _, l := range n.lines[piece] {
		if _, _, f, e := l.Nearest(p); e < d {
			best, d = f, e
		}
	}
	return best
}

// stars replaces two ties at one piece by three to a common point where that
// is shorter, best first.
func (n *bridges) stars() {
	type star struct {
		i, j int
		ties [3]tie
		gain float64
	}
	var found []star
	at := make([][]int, len(n.lines))
	for i, t := range n.ties {
		at[t.pa] = append(at[t.pa], i)
		at[t.pb] = append(at[t.pb], i)
	}
	for c, is := range at {
		for x := range is {
			for _, j := range is[x+1:] {
				i := is[x]
				if ts := n.star(c, n.ties[i], n.ties[j]); ts != nil {
					gain := n.ties[i].length() + n.ties[j].length() - total(ts)
					if gain > 0.5 {
						found = append(found, star{i: i, j: j, ties: [3]tie(ts), gain: gain})
					}
				}
			}
		}
	}
	slices.SortStableFunc(found, func(a, b star) int { return cmp.Compare(b.gain, a.gain) })
	used := map[int]bool{}
	var stars []tie
	for _, s := range found {
		if used[s.i] || used[s.j] {
			continue
		}
		used[s.i], used[s.j] = true, true
		stars = append(stars, s.ties[:]...)
	}
	var out []tie
	for i, t := range n.ties {
		if !used[i] {
			out = append(out, t)
		}
	}
	n.ties = append(out, stars...)
}

// star is the three ties from the lines of piece c and of the far ends of t
// and u to the point that makes them shortest together (Fermat's point, by
// E. Weiszfeld's iteration, 1937), nil if that lies on one of the lines.
func (n *bridges) star(c int, t, u tie) []tie {
	far := func(t tie) (int, geom.Point, geom.Point) {
		if t.pa == c {
			return t.pb, t.b, t.a
		}
		return t.pa, t.a, t.b
	}
	pa, a, ca := far(t)
	pb, b, cb := far(u)
	ends := [3]geom.Point{a, b, ca.Lerp(cb, 0.5)}
	pieces := [3]int{pa, pb, c}
	s := ends[0].Add(ends[1]).Add(ends[2]).Mul(1.0 / 3)
	for range 30 {
		for k := range ends {
			ends[k] = n.foot(pieces[k], s)
		}
		for range 10 {
			var sum geom.Point
			weight := 0.0
			for _, e := range ends {
				w := 1 / max(e.Dist(s), 1e-6)
				sum, weight = sum.Add(e.Mul(w)), weight+w
			}
			s = sum.Mul(1 / weight)
		}
	}
	var out []tie
	for k, e := range ends {
		if e.Dist(s) < 1 {
			return nil
		}
		out = append(out, tie{a: e, b: s, pa: pieces[k], pb: -1})
	}
	return out
}
