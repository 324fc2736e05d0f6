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

	blockedReach, blockedStep = 6.0, 1.5 // from where a strip starts
)

// makeRoom finds how much each piece keeps free where others pass or end: at each node
// the strip that goes on has its way, then the longest, then the next.
func (r *router) makeRoom(pieces []Piece) {
	type end struct {
		*Piece
		keep *float64
		lit  *float64
		well *float64
	}
	of := map[arm]end{}
	for i := range pieces {
		p := &pieces[i]
		p.well = [2]float64{r.set.Hole / 2, r.set.Hole / 2}
		for k, a := range p.arms {
			of[a] = end{p, &p.keep[k], &p.lit[k], &p.well[k]}
		}
	}
	for n, arms := range r.arms {
		var taken []geom.Polyline
		var ends []arm
		for _, a := range arms {
			if b, on := r.next[a]; on {
				taken = append(taken, append(r.out(b, 0).Reversed(), r.out(a, 0)...))
			} else {
				ends = append(ends, a)
			}
		}
		if len(arms) == 1 { // a free end may lie beside a line that it does not meet
			taken = r.beside(n, r.runs[arms[0].run].span.Curve)
		}
		slices.SortStableFunc(ends, func(a, b arm) int { return cmp.Compare(of[b].Path, of[a].Path) })
		if all := r.alongside(n); len(ends) == len(arms) && len(all) > 0 { // what ends at their side has its way
			slices.SortStableFunc(ends, func(a, b arm) int { return cmp.Compare(in(a, all[0]), in(b, all[0])) })
		}
		for _, a := range ends {
			e := of[a]
			for *e.lit < e.Path && r.on(a, *e.lit, taken) {
				*e.lit += roomStep
			}
			for *e.keep < e.Path && r.blocked(a, *e.keep, e.Path, taken) {
				*e.keep += roomStep
			}
			for *e.well < e.Path && r.covers(a, *e.well, taken) {
				*e.well += roomStep
			}
			if line := r.out(a, *e.keep); len(line) > 1 {
				taken = append(taken, line)
			}
		}
	}
}

// besideReach is how far along a line to either side of what is beside it, mm, it is looked at.
const besideReach = 15.0

// beside are the lines of other curves that pass a node so near that strips would touch.
func (r *router) beside(node, curve int) (out []geom.Polyline) {
	for i, k := range r.rulers {
		s, d := k.Nearest(r.nodes[node])
		if i == curve || d > 3*r.set.Half {
			continue
		}
		var line geom.Polyline
		from, to, l := s-besideReach, s+besideReach, k.Length()
		if k.At(0).Dist(k.At(l)) > roomSlack {
			from, to = max(from, 0), min(to, l)
		}
		for t := from; t <= to; t++ {
			line = append(line, k.At(math.Mod(t+l, l)))
		}
		if len(line) > 1 {
			out = append(out, line)
		}
	}
	return out
}

// in is 1 for an arm that is among others, else 0.
func in(a arm, among [2]arm) int {
	if a == among[0] || a == among[1] {
		return 1
	}
	return 0
}

// along is the place and the direction s mm out of the node along an arm and what goes on
// from it, at most to its end.
func (r *router) along(a arm, s float64) (at, dir geom.Point) {
	q := r.runs[a.run].span
	for s > q.Length() {
		next, on := r.next[a.other()]
		if !on {
			break
		}
		s, a = s-q.Length(), next
		q = r.runs[a.run].span
	}
	t, sign := q.From+s, 1.0
	if a.end == 1 {
		t, sign = q.To-s, -1
	}
	t = min(max(t, q.From), q.To)
	return r.rulers[q.Curve].At(t), r.rulers[q.Curve].Heading(t).Mul(sign)
}

// ahead is how far strip goes out of the node along an arm and what goes on from it, mm, at most roomReach.
func (r *router) ahead(a arm) (sum float64) {
	for sum < roomReach {
		sum += r.runs[a.run].span.Length()
		next, on := r.next[a.other()]
		if !on {
			break
		}
		a = next
	}
	return min(sum, roomReach)
}

// out is the line from s mm out of the node on.
func (r *router) out(a arm, s float64) geom.Polyline {
	var out geom.Polyline
	for end := max(r.ahead(a), s); ; s += 1 {
		at, _ := r.along(a, min(s, end))
		if out = append(out, at); s >= end {
			return out
		}
	}
}

// blocked tells whether strip that starts s mm out of the node would lie, there or a little farther on, on strip along
// the lines taken: a line may first lead past the end of another's strip, and then back along it.
func (r *router) blocked(a arm, s, end float64, taken []geom.Polyline) bool {
	for at := s; at <= min(s+blockedReach, end); at += blockedStep {
		if r.strikes(a, at, taken) {
			return true
		}
	}
	return false
}

// strikes tells whether strip that starts s mm out of the node would lie on strip along
// the lines taken.
func (r *router) strikes(a arm, s float64, taken []geom.Polyline) bool {
	at, dir := r.along(a, s)
	side := dir.Perp().Mul(r.set.Half)
	return slices.ContainsFunc(taken, func(t geom.Polyline) bool { return endsOn(t, at, side, r.set.Half) })
}

// endsOn tells whether the square end of a strip, its middle or a corner to either side of it, lies on strip, half mm
// to either side of a line.
func endsOn(line geom.Polyline, middle, side geom.Point, half float64) bool {
	off, past := from(line, middle)
	if off >= 2*half+roomSlack {
		return false // nor are the corners, which lie half mm off, any nearer
	}
	for _, p := range []geom.Point{middle, middle.Add(side), middle.Sub(side)} {
		if p != middle {
			off, past = from(line, p)
		}
		if off < half+roomSlack && past < roomSlack {
			return true
		}
	}
	return false
}

// covers tells whether a hole for wires s mm out of the node would lie under strip along the
// lines taken.
func (r *router) covers(a arm, s float64, taken []geom.Polyline) bool {
	at, _ := r.along(a, s)
	return slices.ContainsFunc(taken, func(t geom.Polyline) bool {
		off, past := from(t, at)
		return off < r.set.Half+r.set.Hole/2 && past < r.set.Hole/2
	})
}

// on tells whether the place s mm out of the node lies on strip along the lines taken.
func (r *router) on(a arm, s float64, taken []geom.Polyline) bool {
	at, _ := r.along(a, s)
	return slices.ContainsFunc(taken, func(t geom.Polyline) bool { return t.DistanceTo(at) < r.set.Half })
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
	slices.SortStableFunc(order, func(a, b int) int {
		// Of those that end together first one with a free end: there wires take no room.
		return cmp.Or(
			cmp.Compare(math.Round(near(a)), math.Round(near(b))),
			cmp.Compare(plan.Pieces[b].free(), plan.Pieces[a].free()),
			cmp.Compare(near(a), near(b)),
		)
	})
	ends := map[[2]int]int{} // piece that ends at a node, by node and ink
	for _, i := range order {
		p := &plan.Pieces[i]
		for _, e := range []Place{p.Start, p.End} {
			if k, ok := ends[[2]int{e.Node, p.Ink}]; ok && p.After < 0 && !p.Closed && r.nothingPasses(e.Node) {
				p.After = k
				r.goesOn(plan, k, e.Node, ends)
				if e.Node != p.Start.Node {
					p.turn()
				}
			}
		}
		if p.After < 0 && !p.Closed && r.fedAtEnd(*p, far) {
			p.turn()
		}
		p.out = r.set.Data
		r.set.cut(p)
		if p.Strip == 0 {
			continue
		}
		hosts := []Place{p.Start, p.End}
		if r.set.Data {
			hosts = hosts[1:]
		}
		for _, e := range hosts {
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
		plan.Chains = append(plan.Chains, Chain{Pieces: []int{i}, Strip: p.Strip, Tap: p.tap(r.rulers, r.set)})
	}
}

// goesOn makes room for no wires at the end of a piece that another is soldered on to, of
// addressable strip: data goes on there, and to no third.
func (r *router) goesOn(plan *Plan, piece, node int, ends map[[2]int]int) {
	p := &plan.Pieces[piece]
	if !p.out {
		return
	}
	was := p.Strip
	p.out = false
	r.set.cut(p)
	plan.Chains[p.Chain].Strip += p.Strip - was
	delete(ends, [2]int{node, p.Ink})
}

// nothingPasses tells whether no strip goes on through a node.
func (r *router) nothingPasses(node int) bool {
	return !slices.ContainsFunc(r.arms[node], func(a arm) bool { _, on := r.next[a]; return on })
}

// fedAtEnd tells whether a piece that wires feed is to be turned: they come up at a free
// end, or else at the end nearer to where they come in.
func (r *router) fedAtEnd(p Piece, far []float64) bool {
	if p.Start.Node == p.End.Node { // either will do: as the line runs
		return p.Spans[0].From > p.Spans[0].To
	}
	if r.named[p.Start.Node] != r.named[p.End.Node] {
		return r.named[p.End.Node]
	}
	if p.open(0) != p.open(1) {
		return p.open(1)
	}
	if a, b := p.fedDark(0, r.set), p.fedDark(1, r.set); a != b {
		return b < a
	}
	return far[p.End.Node] < far[p.Start.Node]-sameWay
}

// fedDark is how much more than what does not matter, mm, stays dark where wires come up at a
// piece's start, 0, or end, 1.
func (p Piece) fedDark(end int, set Settings) float64 {
	return max(p.well[end]+set.Hole/2-p.lit[end]-set.Dark, 0)
}

// turn makes a piece start where it ended.
func (p *Piece) turn() {
	p.Start, p.End = p.End, p.Start
	p.keep[0], p.keep[1] = p.keep[1], p.keep[0]
	p.lit[0], p.lit[1] = p.lit[1], p.lit[0]
	p.well[0], p.well[1] = p.well[1], p.well[0]
	slices.Reverse(p.Spans)
	for k, s := range p.Spans {
		p.Spans[k].From, p.Spans[k].To = s.To, s.From
	}
}

// open tells whether a piece's start, 0, or end, 1, is a line's free end that no strip passes by:
// the channel goes on around it, and wires come up there.
func (p Piece) open(end int) bool {
	at := p.Start
	if end == 1 {
		at = p.End
	}
	return at.Free && p.keep[end] == 0
}

// gapsAtLeast are what a piece leaves bare at start and end in any case, mm: for strip that
// passes there, and for its wires.
func (p Piece) gapsAtLeast(set Settings) [2]float64 {
	gaps := p.keep
	if p.After < 0 && !p.open(0) {
		gaps[0] = max(gaps[0], p.well[0]+set.Hole/2)
	}
	if p.out && !p.Closed && !p.open(1) {
		gaps[1] = max(gaps[1], p.well[1]+set.Hole/2)
	}
	return gaps
}

// cut finds a piece's length and what it leaves bare: what the rounding leaves goes where it
// shows least.
func (set Settings) cut(p *Piece) {
	p.Gaps = p.gapsAtLeast(set)
	room := p.Path - p.Gaps[0] - p.Gaps[1]
	p.Strip = math.Floor(max(room+1e-6, 0)/set.Cut) * set.Cut
	if p.Strip == 0 {
		p.Gaps = [2]float64{p.Path / 2, p.Path / 2}
		return
	}
	left := room - p.Strip
	first := min(max((left+p.Gaps[1]-p.lit[1]-p.Gaps[0]+p.lit[0])/2, 0), left)
	p.Gaps[0], p.Gaps[1] = p.Gaps[0]+first, p.Gaps[1]+left-first
}

// nodes are the nodes at a piece's start and end.
func (p Piece) nodes() [2]int { return [2]int{p.Start.Node, p.End.Node} }

// tap is where wires come up to a piece's start: in the middle of the room kept for them, or at
// an open end.
func (p Piece) tap(rulers []*geom.Ruler, set Settings) geom.Point {
	from, _ := p.hole(0, set)
	return at(p, rulers, from)
}

// leave is where data's wire goes down from a piece's end, as tap; that of a closed one at its tap.
func (p Piece) leave(rulers []*geom.Ruler, set Settings) geom.Point {
	switch {
	case p.Closed:
		return p.tap(rulers, set)
	case p.open(1):
		return p.End.At
	}
	return at(p, rulers, p.Path-p.well[1])
}

// DataOrder is the chains in the order that data runs through them: the one fed nearest to where
// the wires come in, then each time the one that is fed nearest to where the last one ends.
func (p Plan) DataOrder(feed geom.Point) (out []int) {
	seen := make([]bool, len(p.Chains))
	for range p.Chains {
		best := -1
		for i, c := range p.Chains {
			if !seen[i] && (best < 0 || c.Tap.Dist(feed) < p.Chains[best].Tap.Dist(feed)-sameWay) {
				best = i
			}
		}
		seen[best], feed = true, p.Chains[best].Out
		out = append(out, best)
	}
	return out
}

// PlusLeft tells of each piece whether its plus is to the left of its way from its start: it is of
// the first of each chain, and of the others so that plus goes on along one side where pieces meet,
// and the short wires between them do not cross.
func (p Plan) PlusLeft() []bool {
	out := make([]bool, len(p.Pieces))
	for _, c := range p.Chains {
		for _, i := range c.Pieces {
			q := p.Pieces[i]
			if out[i] = true; q.After >= 0 {
				onEnd := q.Start.Node == p.Pieces[q.After].End.Node
				out[i] = out[q.After] == onEnd
			}
		}
	}
	return out
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
		ch.Out = plan.Pieces[ch.Pieces[len(ch.Pieces)-1]].leave(r.rulers, r.set)
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
