package strip

import (
	"cmp"
	"errors"
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
}

// A Corner is a place on a curve where the strip is cut and joined.
type Corner struct {
	Curve int
	Along float64 // mm
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

	arms [2]arm     // that it was walked from and to
	keep [2]float64 // mm at start and end that strip which passes there takes
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
	Strip   float64 // mm of strip in all
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
	r.pairArms()
	r.joinLoops()
	plan := Plan{Pieces: r.pieces()}
	r.makeRoom(plan.Pieces)
	r.chains(&plan, feed)
	r.circuits(&plan)
	return plan, nil
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

type router struct {
	c      geom.Centreline
	set    Settings
	rulers []*geom.Ruler
	runs   []run
	nodes  []geom.Point
	arms   [][]arm // of each node
	next   map[arm]arm
	kin    []int // of each run: the group that allowed turns join it to
}

func newRouter(c geom.Centreline, corners []Corner, feed geom.Point, set Settings) *router {
	r := &router{c: c, set: set, next: map[arm]arm{}}
	for _, k := range c.Knots {
		r.nodes = append(r.nodes, k.At)
	}
	for _, k := range c.Curves {
		r.rulers = append(r.rulers, geom.NewRuler(k))
	}
	corners = append(slices.Clone(corners), r.entry(feed)...)
	for i, k := range c.Curves {
		ruler := r.rulers[i]
		type stop struct {
			s    float64
			node int
		}
		var stops []stop
		for _, st := range k.Stops {
			stops = append(stops, stop{ruler.Piece(st.Piece), st.Knot})
		}
		for _, co := range corners {
			if co.Curve != i || slices.ContainsFunc(stops, func(s stop) bool { return math.Abs(s.s-co.Along) < 0.5 }) {
				continue // at a knot the turn is judged there
			}
			r.nodes = append(r.nodes, ruler.At(co.Along))
			stops = append(stops, stop{co.Along, len(r.nodes) - 1})
		}
		slices.SortStableFunc(stops, func(a, b stop) int { return cmp.Compare(a.s, b.s) })
		for j := 1; j < len(stops); j++ {
			a, b := stops[j-1], stops[j]
			if !(b.s-a.s >= 1e-6) { // nor is there strip for a curve without length
				continue
			}
			r.runs = append(r.runs, run{Span{i, a.s, b.s}, [2]int{a.node, b.node},
				[2]geom.Point{ruler.Heading(a.s + 1e-4), ruler.Heading(b.s - 1e-4).Mul(-1)}})
		}
	}
	r.arms = make([][]arm, len(r.nodes))
	for i, q := range r.runs {
		for e, n := range q.node {
			r.arms[n] = append(r.arms[n], arm{i, e})
		}
	}
	return r
}

// reach is how far from the lines, mm, the wires may come in and still be on
// one of them.
const reach = 5

// entry is a node where the wires come in, so that a closed piece can start
// there.
func (r *router) entry(feed geom.Point) []Corner {
	best, near := Corner{}, math.Inf(1)
	for i, k := range r.rulers {
		if s, d := k.Nearest(feed); d < near {
			best, near = Corner{i, s}, d
		}
	}
	if near > reach {
		return nil
	}
	return []Corner{best}
}

// ink is the pen that drew a run.
func (r *router) ink(run int) int { return r.c.Curves[r.runs[run].span.Curve].Ink }

// turn is how far, in degrees, a strip turns from arm a into arm b; more than
// any strip can if they are of different colours.
func (r *router) turn(a, b arm) float64 {
	if r.ink(a.run) != r.ink(b.run) {
		return 360 // another colour's strip
	}
	return 180 - r.runs[a.run].dir[a.end].Angle(r.runs[b.run].dir[b.end])
}

// pairArms pairs at each node the two arms that turn least.
func (r *router) pairArms() {
	kin := geom.NewForest(len(r.runs))
	for _, arms := range r.arms {
		if a, b, ok := r.straightest(arms); ok {
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

// straightest are the two arms of a node that turn least into each other; ok is false if
// all turn more than strip can.
func (r *router) straightest(arms []arm) (a, b arm, ok bool) {
	least := r.set.Turn
	for i, p := range arms {
		for _, q := range arms[:i] {
			if t := r.turn(p, q); t <= least && (p != q.other() || len(arms) == 2) {
				a, b, least, ok = p, q, t, true
			}
		}
	}
	return a, b, ok
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
	for _, arms := range r.arms {
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
		if d := far[node(s)]; d < best-sameWay {
			best, at = d, i
		}
	}
	p.Spans = append(slices.Clone(p.Spans[at:]), p.Spans[:at]...)
	n := node(p.Spans[0])
	p.Start = Place{Node: n, At: r.nodes[n], Side: len(r.arms[n]) > 2}
	p.End = p.Start
}
