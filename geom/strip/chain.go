package strip

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/simple"

	"inkchannel/geom"
)

// How room is looked for where strips meet, mm.
const (
	roomStep  = 0.1  // from one place along a strip to the next
	roomReach = 60.0 // of a line that is looked at from where it meets others
	roomSlack = 0.02 // between two strips
)

// makeRoom finds how much each piece keeps free where others pass or end: at each node
// the strip that goes on has its way, then the longest, then the next.
func (r *router) makeRoom(pieces []Piece) {
	type end struct {
		*Piece
		keep *float64
	}
	of := map[arm]end{}
	for i := range pieces {
		p := &pieces[i]
		for k, a := range p.arms {
			of[a] = end{p, &p.keep[k]}
		}
	}
	for _, arms := range r.arms {
		var taken []geom.Polyline
		var ends []arm
		for _, a := range arms {
			if _, on := r.next[a]; on {
				taken = append(taken, r.out(a, 0))
			} else {
				ends = append(ends, a)
			}
		}
		slices.SortStableFunc(ends, func(a, b arm) int { return cmp.Compare(of[b].Path, of[a].Path) })
		for _, a := range ends {
			e := of[a]
			for *e.keep < e.Path && r.strikes(a, *e.keep, taken) {
				*e.keep += roomStep
			}
			taken = append(taken, r.out(a, *e.keep))
		}
	}
}

// along is the place and the direction s mm out of the node along an arm.
func (r *router) along(a arm, s float64) (at, dir geom.Point) {
	q := r.runs[a.run].span
	t, sign := q.From+s, 1.0
	if a.end == 1 {
		t, sign = q.To-s, -1
	}
	t = min(max(t, q.From), q.To)
	return r.rulers[q.Curve].At(t), r.rulers[q.Curve].Heading(t).Mul(sign)
}

// out is the line from s mm out of the node on.
func (r *router) out(a arm, s float64) geom.Polyline {
	var out geom.Polyline
	for end := min(r.runs[a.run].span.Length(), roomReach); ; s += 1 {
		at, _ := r.along(a, min(s, end))
		if out = append(out, at); s >= end {
			return out
		}
	}
}

// strikes tells whether strip that starts s mm out of the node would lie on strip along
// the lines taken.
func (r *router) strikes(a arm, s float64, taken []geom.Polyline) bool {
	at, dir := r.along(a, s)
	side := dir.Perp().Mul(r.set.Half)
	for _, t := range taken {
		for _, p := range []geom.Point{at, at.Add(side), at.Sub(side)} {
			if t.DistanceTo(p) < r.set.Half+roomSlack && !behind(t, p) {
				return true
			}
		}
	}
	return false
}

// behind tells whether a place lies before a line's start: its strip ends square there.
func behind(t geom.Polyline, p geom.Point) bool {
	return len(t) > 1 && p.Sub(t[0]).Dot(t[1].Sub(t[0])) < 0
}

// chains directs the pieces away from where the wires come in, solders those together that
// end where others do, and finds where the wires come up to the rest.
func (r *router) chains(plan *Plan, feed geom.Point) {
	group := r.groups()
	far := r.distances(feed, group)
	order := make([]int, len(plan.Pieces))
	for i := range order {
		p := &plan.Pieces[i]
		order[i] = i
		if p.Closed {
			r.startNearest(p, far)
		}
	}
	near := func(i int) float64 {
		return min(far[plan.Pieces[i].Start.Node], far[plan.Pieces[i].End.Node])
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(near(a), near(b)) })
	ends := map[[2]int]int{} // piece that ends at a node, by node and ink
	for _, i := range order {
		p := &plan.Pieces[i]
		for _, e := range []Place{p.Start, p.End} {
			if k, ok := ends[[2]int{e.Node, p.Ink}]; ok && p.After < 0 && !p.Closed && r.nothingPasses(e.Node) {
				p.After = k
				if e.Node != p.Start.Node {
					p.turn()
				}
			}
		}
		if p.After < 0 && !p.Closed && r.fedAtEnd(*p, far) {
			p.turn()
		}
		r.cut(p)
		if p.Strip == 0 {
			continue
		}
		for _, e := range []Place{p.Start, p.End} {
			if _, ok := ends[[2]int{e.Node, p.Ink}]; !ok {
				ends[[2]int{e.Node, p.Ink}] = i
			}
		}
		if p.After >= 0 {
			p.Chain = plan.Pieces[p.After].Chain
			ch := &plan.Chains[p.Chain]
			ch.Pieces, ch.Strip = append(ch.Pieces, i), ch.Strip+p.Strip
			continue
		}
		p.Chain = len(plan.Chains)
		plan.Chains = append(plan.Chains, Chain{Pieces: []int{i}, Strip: p.Strip, Tap: r.tap(*p)})
	}
}

// nothingPasses tells whether no strip goes on through a node.
func (r *router) nothingPasses(node int) bool {
	return !slices.ContainsFunc(r.arms[node], func(a arm) bool { _, on := r.next[a]; return on })
}

// fedAtEnd tells whether a piece that wires feed is to be turned: they come up at a free
// end, or else at the end nearer to where they come in.
func (r *router) fedAtEnd(p Piece, far []float64) bool {
	if p.Start.Free != p.End.Free {
		return p.End.Free
	}
	return far[p.End.Node] < far[p.Start.Node]-sameWay
}

// turn makes a piece start where it ended.
func (p *Piece) turn() {
	p.Start, p.End = p.End, p.Start
	p.keep[0], p.keep[1] = p.keep[1], p.keep[0]
	slices.Reverse(p.Spans)
	for k, s := range p.Spans {
		p.Spans[k].From, p.Spans[k].To = s.To, s.From
	}
}

// cut finds a piece's length and what it leaves bare.
func (r *router) cut(p *Piece) {
	p.Gaps = p.keep
	if p.After < 0 && !p.Start.Free {
		p.Gaps[0] += r.set.Hole
	}
	room := p.Path - p.Gaps[0] - p.Gaps[1]
	p.Strip = math.Floor(max(room+1e-6, 0)/r.set.Cut) * r.set.Cut
	left := p.Path - p.Strip - p.Gaps[0] - p.Gaps[1]
	switch {
	case p.Strip == 0:
		p.Gaps = [2]float64{p.Path / 2, p.Path / 2}
	case p.Start.Free == p.End.Free:
		p.Gaps[0], p.Gaps[1] = p.Gaps[0]+left/2, p.Gaps[1]+left/2
	case p.Start.Free:
		p.Gaps[1] += left
	default:
		p.Gaps[0] += left
	}
}

// tap is where wires come up to a piece's start: in the middle of the room kept for
// them; at a line's free end the channel goes on around it and leaves room.
func (r *router) tap(p Piece) geom.Point {
	s := 0.0
	if !p.Start.Free {
		s = (p.keep[0] + p.Gaps[0]) / 2
	}
	return at(p, r.rulers, s)
}

// sameWay is how much shorter, mm, a way must be to count as the shorter: sums of
// the same lengths differ by rounding.
const sameWay = 1e-9

// distances is how far each node is, along the lines, from its group's node nearest to
// where the wires come in (E. W. Dijkstra).
func (r *router) distances(feed geom.Point, group []int) []float64 {
	far := make([]float64, len(r.nodes))
	for i := range far {
		far[i] = math.Inf(1)
	}
	for _, g := range unique(group) {
		ways := simple.NewWeightedUndirectedGraph(0, math.Inf(1))
		start, near := -1, math.Inf(1)
		for i, q := range r.runs {
			if group[i] != g {
				continue
			}
			a, b := int64(q.node[0]), int64(q.node[1])
			if a == b {
				if ways.Node(a) == nil {
					ways.AddNode(simple.Node(a))
				}
			} else if w, ok := ways.Weight(a, b); !ok || q.span.Length() < w {
				ways.SetWeightedEdge(ways.NewWeightedEdge(simple.Node(a), simple.Node(b), q.span.Length()))
			}
			for _, n := range q.node {
				if d := r.nodes[n].Dist(feed); d < near-sameWay {
					start, near = n, d
				}
			}
		}
		from := path.DijkstraFrom(simple.Node(int64(start)), ways)
		for n := ways.Nodes(); n.Next(); {
			id := n.Node().ID()
			far[id] = min(far[id], from.WeightTo(id))
		}
	}
	return far
}

// unique are the values of v, each once, in order.
func unique(v []int) []int {
	out := slices.Clone(v)
	slices.Sort(out)
	return slices.Compact(out)
}

// circuits gathers the pieces of each colour.
func (r *router) circuits(plan *Plan) {
	number := map[int]int{}
	inks := make([]int, len(plan.Pieces))
	for i, p := range plan.Pieces {
		inks[i] = p.Ink
	}
	for k, ink := range unique(inks) {
		number[ink] = k
		plan.Circuits = append(plan.Circuits, Circuit{Ink: ink})
	}
	for i := range plan.Pieces {
		p := &plan.Pieces[i]
		p.Circuit = number[p.Ink]
		c := &plan.Circuits[p.Circuit]
		c.Pieces, c.Strip = append(c.Pieces, i), c.Strip+p.Strip
	}
	for i := range plan.Chains {
		ch := &plan.Chains[i]
		ch.Circuit = plan.Pieces[ch.Pieces[0]].Circuit
		plan.Circuits[ch.Circuit].Chains = append(plan.Circuits[ch.Circuit].Chains, i)
	}
	for k := range plan.Circuits {
		c := &plan.Circuits[k]
		var runs []int
		for i := range r.runs {
			if r.ink(i) == c.Ink {
				runs = append(runs, i)
			}
		}
		c.Bound = r.bound(runs)
		plan.Bound += c.Bound
	}
}

// A Dark is a stretch of line that no strip lights.
type Dark struct {
	Piece  int
	At     geom.Point // its middle
	Length float64    // mm
}

// Dark lists the stretches longer than least, mm, that stay dark. What lies within half mm
// of a line that strip passes or ends on is lit by that.
func (p Plan) Dark(c geom.Centreline, half, least float64) []Dark {
	rulers := make([]*geom.Ruler, len(c.Curves))
	for i, k := range c.Curves {
		rulers[i] = geom.NewRuler(k)
	}
	var out []Dark
	add := func(i int, from, to float64) {
		if to-from > least {
			out = append(out, Dark{i, at(p.Pieces[i], rulers, (from+to)/2), to - from})
		}
	}
	for i, q := range p.Pieces {
		lit := func(e Place) float64 {
			if e.Side && !q.Closed {
				return half
			}
			return 0
		}
		switch {
		case q.Strip == 0:
			add(i, lit(q.Start), q.Path-lit(q.End))
		case q.Closed: // the two gaps are one
			if q.Gaps[0]+q.Gaps[1] > least {
				out = append(out, Dark{i, q.Start.At, q.Gaps[0] + q.Gaps[1]})
			}
		default:
			add(i, lit(q.Start), q.Gaps[0])
			add(i, q.Path-q.Gaps[1], q.Path-lit(q.End))
		}
	}
	return out
}

// at is the place s mm along a piece.
func at(p Piece, rulers []*geom.Ruler, s float64) geom.Point {
	for _, q := range p.Spans {
		if s <= q.Length() {
			t := q.From + s
			if q.To < q.From {
				t = q.From - s
			}
			return rulers[q.Curve].At(t)
		}
		s -= q.Length()
	}
	return p.End.At
}
