package strip

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"

	"inkchannel/geom"
)

// Settings tune Route.
type Settings struct {
	// Turn is the sharpest turn, in degrees, that a strip takes at a junction;
	// common practice, no source.
	Turn float64
	// Cut is the distance between the strip's cut marks, mm.
	Cut float64
	// Half is half the strip's width, mm: no two pieces overlap, so a piece that ends at
	// the side of another stops before their lines meet.
	Half float64
	// Hole is the room, mm along the line, for the wires that come up where a piece is fed
	// and no line's free end leaves room beside it.
	Hole float64
	// Data tells that the strip is addressable: data runs through each piece from its start to its
	// end, so that pieces are soldered on only to an end that no other is on, and wires come up at
	// the end of each chain too.
	Data bool
	// Starts are places on lines where wires are to come up: at ends, and on closed lines.
	Starts []geom.Point
	// Fit is how the lines may be changed later on, and Dark the stretch, mm, up to which it does
	// not matter that a line stays dark.
	Fit  Fit
	Dark float64
	// Joints is how often more a piece may be cut, so that what stays dark is in stretches that
	// short.
	Joints int
}

// A Corner is a place on a curve where the strip is cut and joined if it turns there by more than strip does, however
// round the bend is.
type Corner struct {
	Curve int
	Along float64 // mm
	Turn  float64 // degrees
}

// A Span is a stretch of a curve, run from From to To (mm along it, To < From
// if against its sense).
type Span struct {
	Curve    int
	From, To float64
}

// Length returns the span's length.
func (s Span) Length() float64 { return math.Abs(s.To - s.From) }

// A Piece is one length of strip. It is fed at its start.
type Piece struct {
	Spans   []Span
	Path    float64 // mm of channel that it covers
	Strip   float64 // mm of strip: what has room, rounded down to a cut mark
	Start   Place
	End     Place
	Closed  bool // it ends where it starts
	Circuit int
	Chain   int
	After   int // the piece that it is soldered on to where they meet, −1 if wires come up at its start
	Ink     int // which pen drew it: the colour of its light
	// Gaps are left bare at start and end: for strip that passes there, for the wires that
	// come up, and what the rounding leaves.
	Gaps [2]float64

	out    bool       // data leaves at its end
	arms   [2]arm     // that it was walked from and to
	keep   [2]float64 // mm at start and end that strip which passes there takes
	lit    [2]float64 // mm of that which lie on that strip, and are lit by it
	well   [2]float64 // mm from start and end to the middle of the first hole that no such strip covers
	extent geom.Point // how much of Path runs along x and along y, mm
	meets  bool       // it shares a node with another line, or goes over several curves
}

// A Place is an end of a piece.
type Place struct {
	Node int // of the plan's own graph
	At   geom.Point
	Free bool // a free end of the line: nothing else meets there
	Side bool // at the side of another strip
}

// A Chain is pieces that are soldered to each other where they meet, in that order. Wires
// come up at its tap, at the start of its first piece.
type Chain struct {
	Pieces  []int
	Circuit int
	Tap     geom.Point
	Out     geom.Point // where data leaves, at the end of its last piece; the tap of a closed one
	Strip   float64    // mm of strip in all
}

// A Circuit is all strip of one colour. One pair of wires feeds it, from which its
// chains are tapped.
type Circuit struct {
	Pieces []int
	Chains []int
	Strip  float64 // mm of strip in all
	Bound  int     // the fewest pieces that could cover it
	Ink    int
}

// A Plan is how strip covers the lines.
type Plan struct {
	Pieces   []Piece
	Chains   []Chain
	Circuits []Circuit
	Bound    int // the fewest pieces that could cover all

	passes map[int]int // which pair of arms passes a node
}

// Route covers the lines with strip. At each junction the two arms that turn least go on
// into each other, if that is little enough; all others end there, since strip has a
// height and two pieces cannot cross. Closed pieces are opened into others that end
// where they pass. feed is where the wires come in: pieces that hang together are
// directed away from there; one that ends where another does is soldered on to it, and of
// the others each is fed by wires, at a free end if it has one.
//
// The bound: stretches that no allowed turn joins, however often, need pieces of
// their own, and each such group at least half as many as the ends that no
// choice of turns avoids, and one.
//
// It returns an error for a cut interval or a turn that is not over 0.
func Route(c geom.Centreline, corners []Corner, feed geom.Point, set Settings) (Plan, error) {
	if !(set.Cut > 0) || !(set.Turn > 0) {
		return Plan{}, errors.New("the strip's cut interval and the sharpest turn must be over 0")
	}
	r := newRouter(c, corners, feed, set)
	return r.search(feed), nil
}

// Again covers lines that were changed a little in the same way.
func (p Plan) Again(c geom.Centreline, corners []Corner, feed geom.Point, set Settings) Plan {
	r := newRouter(c, corners, feed, set)
	r.passes = p.passes
	return r.plan(feed).boundAs(p)
}

// boundAs is the plan with the bounds of one in which strip passes wherever it can.
func (p Plan) boundAs(q Plan) Plan {
	p.Bound = q.Bound
	for i := range p.Circuits {
		p.Circuits[i].Bound = q.Circuits[i].Bound
	}
	return p
}

const (
	mostTries = 120  // plans that are made at most,
	runTries  = 2000 // times that there are runs, so that drawings of many lines take no longer
	pieceCost = 4    // mm of dark that a piece more is worth, for its joints
)

// search makes plans in which strip passes or ends at the nodes beside what stays dark, one node
// changed or two at a time, as long as that makes it better.
func (r *router) search(feed geom.Point) Plan {
	first := r.plan(feed)
	best, least := first, first.cost(r.set)
	tries := min(mostTries, runTries/max(len(r.runs), 1))
	better := func(moves ...move) bool {
		if tries--; tries < 0 {
			return false
		}
		was := maps.Clone(r.passes)
		for _, m := range moves {
			r.passes[m.node] = m.pair
		}
		p := r.plan(feed)
		if cost := p.cost(r.set); cost < least-1e-9 {
			best, least = p, cost
			return true
		}
		r.passes = was
		return false
	}
	for again := true; again; {
		again = false
		nodes := r.darkNodes(best)
		for i, n := range nodes {
			for pair := none; pair < len(r.pairs(n)); pair++ {
				again = pair != r.passes[n] && better(move{n, pair}) || again
			}
			for _, m := range nodes[:i] {
				again = better(move{n, other(r.passes[n])}, move{m, other(r.passes[m])}) || again
			}
		}
	}
	return best.boundAs(first)
}

// A move lets another pair of arms pass a node.
type move struct{ node, pair int }

// none is the pair where all arms end.
const none = -1

// other is all ends where some pass, and the straightest where none does.
func other(pair int) int {
	if pair == none {
		return 0
	}
	return none
}

// plan covers the lines with the pairs of arms that pass now.
func (r *router) plan(feed geom.Point) Plan {
	r.pairArms()
	r.joinLoops()
	plan := Plan{Pieces: r.pieces(), passes: maps.Clone(r.passes)}
	r.makeRoom(plan.Pieces)
	r.chains(&plan, feed)
	lights := settler{&plan, r.rulers, r.set, plan.laid(r.rulers)}
	for range 2 {
		for i := range plan.Pieces {
			lights.relay(i)
		}
	}
	r.circuits(&plan)
	return plan
}

// cost is what stays dark at about the best size, mm, and what the pieces are worth.
func (p Plan) cost(set Settings) float64 {
	best := sized{cost: math.Inf(1)}
	p.eachSize(set, costEvery, func(s sized) {
		if s.cost < best.cost {
			best = s
		}
	})
	return best.dark + pieceCost*float64(len(p.Pieces))
}

// costEvery is how many steps of the sizes are gone over at once where plans are compared.
const costEvery = 2

// darkNodes are the nodes on pieces that stay dark where strip could pass.
func (r *router) darkNodes(p Plan) (out []int) {
	of := map[Span]run{}
	for _, q := range r.runs {
		of[q.span] = q
	}
	for _, q := range p.Pieces {
		if q.unlit(r.set.Dark) == 0 {
			continue
		}
		for _, s := range q.Spans {
			for _, n := range of[Span{s.Curve, min(s.From, s.To), max(s.From, s.To)}].node {
				if len(r.arms[n]) > 2 && len(r.pairs(n)) > 0 && !slices.Contains(out, n) {
					out = append(out, n)
				}
			}
		}
	}
	return out
}

// A run is a stretch of a curve between two nodes.
type run struct {
	span Span
	node [2]int
	dir  [2]geom.Point // unit vectors out of the run's ends, back into it
}

// An arm is one end of a run.
type arm struct{ run, end int }

func (a arm) other() arm { return arm{a.run, 1 - a.end} }

// onCurve is a node on a curve.
type onCurve struct{ node, curve int }

type router struct {
	c      geom.Centreline
	set    Settings
	rulers []*geom.Ruler
	runs   []run
	nodes  []geom.Point
	arms   [][]arm // of each node
	next   map[arm]arm
	passes map[int]int      // which of a node's pairs passes, the straightest if it is not said
	named  map[int]bool     // nodes where wires were asked for
	bent   map[onCurve]bool // where a curve bends so that no strip takes it
	kin    []int            // of each run: the group that allowed turns join it to
}

func newRouter(c geom.Centreline, corners []Corner, feed geom.Point, set Settings) *router {
	r := &router{c: c, set: set, passes: map[int]int{}, named: map[int]bool{}, bent: map[onCurve]bool{}}
	for _, k := range c.Knots {
		r.nodes = append(r.nodes, k.At)
	}
	r.rulers = geom.Rulers(c.Curves)
	corners = slices.Clone(corners)
	if at, ok := r.entry(feed); ok {
		corners = append(corners, at)
	}
	var asked []Corner
	for _, p := range set.Starts {
		if at, ok := r.entry(p); ok {
			asked = append(asked, r.onStop(at))
		}
	}
	corners = append(corners, asked...)
	for i, k := range c.Curves {
		ruler := r.rulers[i]
		type stop struct {
			s    float64
			node int
			off  float64 // how far along from it a corner is that counts as there, mm
		}
		var stops []stop
		for _, st := range k.Stops {
			stops = append(stops, stop{s: ruler.Piece(st.Piece), node: st.Knot})
		}
		for _, co := range corners {
			if co.Curve != i {
				continue
			}
			at := slices.IndexFunc(stops, func(s stop) bool { return math.Abs(s.s-co.Along) < sameNode })
			if at < 0 {
				at = len(stops)
				r.nodes = append(r.nodes, ruler.At(co.Along))
				stops = append(stops, stop{s: co.Along, node: len(r.nodes) - 1})
			}
			if co.Turn > set.Turn {
				r.bent[onCurve{stops[at].node, i}] = true
				stops[at].off = co.Along - stops[at].s
			}
		}
		slices.SortStableFunc(stops, func(a, b stop) int { return cmp.Compare(a.s, b.s) })
		for _, st := range stops {
			if slices.ContainsFunc(asked, func(at Corner) bool { return at.Curve == i && math.Abs(at.Along-st.s) < sameNode }) {
				r.named[st.node] = true
			}
		}
		for j := 1; j < len(stops); j++ {
			a, b := stops[j-1], stops[j]
			if !(b.s-a.s >= 1e-6) { // nor is there strip for a curve without length
				continue
			}
			r.runs = append(r.runs, run{Span{i, a.s, b.s}, [2]int{a.node, b.node},
				[2]geom.Point{ruler.Heading(a.s + max(a.off, 0) + 1e-4), ruler.Heading(b.s + min(b.off, 0) - 1e-4).Mul(-1)}})
		}
	}
	r.setArms()
	if rings := r.openRings(); len(rings) > 0 {
		r.setArms()
		for _, n := range rings {
			r.passes[n] = r.notRound(n)
		}
	}
	return r
}

// setArms lists the arms of each node.
func (r *router) setArms() {
	r.arms = make([][]arm, len(r.nodes))
	for i, q := range r.runs {
		for e, n := range q.node {
			r.arms[n] = append(r.arms[n], arm{i, e})
		}
	}
}

// openRings gives closed runs at whose node others end a second node in their middle, where their
// strip can begin and end while it passes the first, and returns the first ones.
func (r *router) openRings() (nodes []int) {
	for i, q := range slices.Clone(r.runs) {
		node := q.node[0]
		if q.node[1] != node || len(r.arms[node]) < 3 {
			continue
		}
		s := (q.span.From + q.span.To) / 2
		ruler := r.rulers[q.span.Curve]
		r.nodes = append(r.nodes, ruler.At(s))
		n := len(r.nodes) - 1
		rest := run{Span{q.span.Curve, s, q.span.To}, [2]int{n, node}, [2]geom.Point{ruler.Heading(s + 1e-4), q.dir[1]}}
		q.span.To, q.node[1], q.dir[1] = s, n, ruler.Heading(s-1e-4).Mul(-1)
		r.runs[i] = q
		r.runs, nodes = append(r.runs, rest), append(nodes, node)
	}
	return nodes
}

// notRound is the straightest pair of a node's arms that are not two ends of one ring, none for
// none: a ring is opened where others end, unless less stays dark if it is not.
func (r *router) notRound(node int) int {
	return slices.IndexFunc(r.pairs(node), func(p [2]arm) bool {
		return r.far(p[0]) != r.far(p[1]) || len(r.arms[r.far(p[0])]) > 2
	})
}

// far is the node at the other end of an arm's run.
func (r *router) far(a arm) int { return r.runs[a.run].node[1-a.end] }

// reach is how far from the lines, mm, the wires may come in and still be on
// one of them.
const reach = 5

// sameNode is how near, mm along a curve, two places are one node.
const sameNode = 0.5

// entry is the place on a line where wires come in, so that a closed piece can start there; an end
// that is near is meant.
func (r *router) entry(feed geom.Point) (Corner, bool) {
	i, s, off := geom.NearestOf(r.rulers, feed)
	return Corner{Curve: i, Along: s}, off <= reach
}

// startSnap is how near, mm, a place where wires are asked for is to an end, to mean that.
const startSnap = 3

// onStop is a place, or the end or junction of its curve that it is near.
func (r *router) onStop(at Corner) Corner {
	for _, st := range r.c.Curves[at.Curve].Stops {
		if s := r.rulers[at.Curve].Piece(st.Piece); math.Abs(s-at.Along) < startSnap {
			at.Along = s
		}
	}
	return at
}

// ink is the pen that drew a run.
func (r *router) ink(run int) int { return r.c.Curves[r.runs[run].span.Curve].Ink }

// turn is how far, in degrees, a strip turns from arm a into arm b; more than
// any strip can if they are of different colours.
func (r *router) turn(a, b arm) float64 {
	if r.ink(a.run) != r.ink(b.run) {
		return 360 // another colour's strip
	}
	p, q := r.runs[a.run], r.runs[b.run]
	if p.span.Curve == q.span.Curve && r.bent[onCurve{p.node[a.end], p.span.Curve}] {
		return 180
	}
	return 180 - p.dir[a.end].Angle(q.dir[b.end])
}

// pairArms pairs at each node the two arms that turn least.
func (r *router) pairArms() {
	r.next = map[arm]arm{}
	kin := geom.NewForest(len(r.runs))
	for n, arms := range r.arms {
		if a, b, ok := r.passing(n); ok {
			r.next[a], r.next[b] = b, a
		}
		for i, a := range arms {
			for _, b := range arms[:i] {
				if r.turn(a, b) <= r.set.Turn {
					kin.Join(a.run, b.run)
				}
			}
		}
	}
	r.kin = make([]int, len(r.runs))
	for i := range r.kin {
		r.kin[i] = kin.Root(i)
	}
}

// passing are the two arms of a node that strip goes on through; ok is false for none.
func (r *router) passing(node int) (a, b arm, ok bool) {
	all := r.pairs(node)
	if k := r.passes[node]; k != none && k < len(all) {
		return all[k][0], all[k][1], true
	}
	return a, b, false
}

// pairs are the pairs of a node's arms that strip can go on through, the straightest first. A
// line that ends where it starts does not go on there if others end there too.
func (r *router) pairs(node int) [][2]arm {
	arms := r.arms[node]
	return slices.DeleteFunc(r.alongside(node), func(p [2]arm) bool { return p[0] == p[1].other() && len(arms) > 2 })
}

// alongside are the pairs of a node's arms that turn little into each other, the straightest first.
func (r *router) alongside(node int) (out [][2]arm) {
	arms := r.arms[node]
	for i, p := range arms {
		for _, q := range arms[:i] {
			if r.turn(p, q) <= r.set.Turn {
				out = append(out, [2]arm{p, q})
			}
		}
	}
	slices.Reverse(out) // of two as straight the later
	slices.SortStableFunc(out, func(a, b [2]arm) int {
		return cmp.Compare(r.turn(a[0], a[1]), r.turn(b[0], b[1]))
	})
	return out
}

// bound is the fewest pieces that can cover the given runs.
func (r *router) bound(runs []int) int {
	ends := map[int]int{}
	for _, i := range runs {
		ends[r.kin[i]] += 0
		for e := range 2 {
			if _, ok := r.next[arm{i, e}]; !ok {
				ends[r.kin[i]]++
			}
		}
	}
	sum := 0
	for _, e := range ends {
		sum += max(1, (e+1)/2)
	}
	return sum
}

// trails numbers the trail that each run belongs to, and tells which are
// closed.
func (r *router) trails() (of []int, closed []bool) {
	of = make([]int, len(r.runs))
	for i := range of {
		of[i] = -1
	}
	for i := range r.runs {
		if of[i] >= 0 {
			continue
		}
		n := len(closed)
		closed = append(closed, false)
		of[i] = n
		for e := range 2 {
			at := arm{i, e}
			for {
				next, ok := r.next[at]
				if !ok {
					break
				}
				if next.run == i && of[next.run] == n && next == (arm{i, 1 - e}) {
					closed[n] = true
					break
				}
				of[next.run] = n
				at = next.other()
			}
			if closed[n] {
				break
			}
		}
	}
	return of, closed
}

// joinLoops joins closed trails to others that go through the same node, where
// the turns allow it.
func (r *router) joinLoops() {
	for {
		of, closed := r.trails()
		if !r.joinOne(of, closed) {
			return
		}
	}
}

func (r *router) joinOne(of []int, closed []bool) bool {
	for n, arms := range r.arms {
		if r.passes[n] == none {
			continue
		}
		for _, a := range arms {
			b, ok := r.next[a]
			if !ok || !closed[of[a.run]] {
				continue
			}
			for _, c := range arms {
				if _, paired := r.next[c]; paired || of[c.run] == of[a.run] || r.turn(a, c) > r.set.Turn {
					continue
				}
				delete(r.next, b) // the loop opens into an end
				r.next[a], r.next[c] = c, a
				return true
			}
		}
	}
	return false
}

// pieces walks the trails.
func (r *router) pieces() []Piece {
	seen := make([]bool, len(r.runs))
	var out []Piece
	walk := func(from arm) {
		p := Piece{Ink: r.ink(from.run), After: -1}
		start := from
		for {
			seen[from.run] = true
			q := r.runs[from.run]
			s := q.span
			if from.end == 1 {
				s.From, s.To = s.To, s.From
			}
			p.Spans = append(p.Spans, s)
			p.Path += s.Length()
			end := from.other()
			next, ok := r.next[end]
			if !ok || next == start {
				p.Closed = ok
				p.Start, p.End, p.arms = r.place(start), r.place(end), [2]arm{start, end}
				p.meets = r.meets(p.Spans)
				p.extent = r.extent(p.Spans)
				break
			}
			from = next
		}
		out = append(out, p)
	}
	for i := range r.runs { // open trails from their ends
		for e := range 2 {
			if _, paired := r.next[arm{i, e}]; !paired && !seen[i] {
				walk(arm{i, e})
			}
		}
	}
	for i := range r.runs {
		if !seen[i] {
			walk(arm{i, 0})
		}
	}
	return out
}

// extent is how much of the spans' length runs along x and along y: what it grows by with either.
func (r *router) extent(spans []Span) (out geom.Point) {
	for _, s := range spans {
		n := max(int(s.Length()), 1)
		step := s.Length() / float64(n)
		for i := range n {
			d := r.rulers[s.Curve].Heading(min(s.From, s.To) + (float64(i)+0.5)*step)
			out = out.Add(geom.Pt(d.X*d.X, d.Y*d.Y).Mul(step))
		}
	}
	return out
}

// meets tells whether anything else is at a node of the runs of a piece.
func (r *router) meets(spans []Span) bool {
	for _, q := range r.runs {
		if !slices.ContainsFunc(spans, func(s Span) bool { return s.Curve == q.span.Curve }) {
			continue
		}
		if q.span.Curve != spans[0].Curve || len(r.arms[q.node[0]]) > 2 || len(r.arms[q.node[1]]) > 2 {
			return true
		}
	}
	return false
}

func (r *router) place(a arm) Place {
	n := r.runs[a.run].node[a.end]
	return Place{Node: n, At: r.nodes[n], Free: len(r.arms[n]) == 1, Side: len(r.arms[n]) > 2}
}

// groups tells which runs hang together: those of one colour that share nodes.
func (r *router) groups() []int {
	f := geom.NewForest(len(r.runs))
	for _, arms := range r.arms {
		for i, a := range arms {
			for _, b := range arms[:i] {
				if r.ink(a.run) == r.ink(b.run) {
					f.Join(a.run, b.run)
				}
			}
		}
	}
	out := make([]int, len(f))
	for i := range out {
		out[i] = f.Root(i)
	}
	return out
}

// wayTo is how far a node is from where the wires come in, less than any if wires were asked for
// there.
func (r *router) wayTo(node int, far []float64) float64 {
	if r.named[node] {
		return -1
	}
	return far[node]
}

// passed is how much further, mm, a closed piece starts so as to pass where others end.
const passed = 1e4

// startNearest makes a closed piece start at its node nearest to the feed.
func (r *router) startNearest(p *Piece, far []float64) {
	best, at := math.Inf(1), 0
	node := func(s Span) int { // where a span starts
		for _, q := range r.runs {
			if q.span.Curve == s.Curve && (q.span == s || q.span.From == s.To && q.span.To == s.From) {
				if q.span.From == s.From {
					return q.node[0]
				}
				return q.node[1]
			}
		}
		return p.Start.Node
	}
	for i, s := range p.Spans {
		d := r.wayTo(node(s), far)
		if d >= 0 && len(r.arms[node(s)]) > 2 {
			d += passed // others end there, whom its gap would leave dark
		}
		if d < best-sameWay {
			best, at = d, i
		}
	}
	p.Spans = append(slices.Clone(p.Spans[at:]), p.Spans[:at]...)
	n := node(p.Spans[0])
	p.Start = Place{Node: n, At: r.nodes[n], Side: len(r.arms[n]) > 2}
	p.End = p.Start
}
