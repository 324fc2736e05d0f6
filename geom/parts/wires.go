package parts

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/simple"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// grooveHalf is half the wire groove's width.
func (b *builder) grooveHalf() float64 { return b.s.outer() - b.s.GrooveInset }

// feedRadius is the radius of a hole from groove to slot.
func (b *builder) feedRadius() float64 { return min(b.grooveHalf(), b.s.Channel.Slot()/2) - 0.3 }

// A wireNet is the places that wires can run between: behind the channels and
// over the bridges.
type wireNet struct {
	g    *simple.WeightedUndirectedGraph
	at   []geom.Point
	node map[geom.Point]int64
}

func (n *wireNet) id(p geom.Point) int64 {
	if i, ok := n.node[p]; ok {
		return i
	}
	i := int64(len(n.at))
	n.at = append(n.at, p)
	n.node[p] = i
	n.g.AddNode(simple.Node(i))
	return i
}

func (n *wireNet) link(p, q geom.Point) {
	a, b := n.id(p), n.id(q)
	if a != b && !n.g.HasEdgeBetween(a, b) {
		n.g.SetWeightedEdge(n.g.NewWeightedEdge(simple.Node(a), simple.Node(b), p.Dist(q)))
	}
}

// atEntry is how near to where the wires come in, mm, a strip needs no hidden
// wire.
const atEntry = 8

// wireStep is the distance between places on a channel that wires may turn
// off at, mm.
const wireStep = 2

// addWires leads wires from where they come in to each place that must be fed,
// as the strip plan says; without one, to an end of each piece that the bore
// does not reach; or, if asked, to every strip. They take the shortest way behind the channels and over the
// bridges.
func (b *builder) addWires() {
	if b.s.Groove == GrooveNone {
		return
	}
	source, starts := b.feeds()
	if b.plan != nil && b.s.Groove == GrooveAuto {
		starts = nil
		for _, p := range b.plan.Feeds {
			if p.Dist(source) > atEntry {
				starts = append(starts, []geom.Point{p})
			}
		}
		b.wires = append(b.wires, b.plan.Jumpers...)
		for _, j := range b.plan.Jumpers {
			b.sign.Feeds = append(b.sign.Feeds, j[0], j[len(j)-1])
		}
	}
	if len(starts)+len(b.wires) == 0 {
		return
	}
	n := b.wireWays()
	from := n.near(source)
	ways := path.DijkstraFrom(simple.Node(from), n.g)
	// Each stretch once, however many wires lie in it.
	type step struct{ a, b int64 }
	seen := map[step]bool{}
	for _, ends := range starts {
		end, length := n.near(ends[0]), math.Inf(1)
		for _, q := range ends {
			if l := ways.WeightTo(n.near(q)); l < length {
				end, length = n.near(q), l
			}
		}
		if math.IsInf(length, 1) {
			b.note("no concealed path for a wire to the strip at x %.0f, y %.0f mm", ends[0].X, ends[0].Y)
			continue
		}
		route, _ := ways.To(end)
		b.sign.Feeds = append(b.sign.Feeds, n.at[end])
		var run geom.Polyline
		flush := func() {
			if len(run) > 1 {
				b.wires = append(b.wires, run)
			}
			run = nil
		}
		for i := 1; i < len(route); i++ {
			s := step{route[i-1].ID(), route[i].ID()}
			if seen[s] {
				flush()
				continue
			}
			seen[s], seen[step{s.b, s.a}] = true, true
			if run == nil {
				run = geom.Polyline{n.at[s.a]}
			}
			run = append(run, n.at[s.b])
		}
		flush()
	}
	if len(b.wires) == 0 {
		return
	}
	if len(starts) > 0 {
		b.sign.Feeds = append(b.sign.Feeds, n.at[from])
	}
	b.sign.Wires = b.wires
	b.solid = b.solid.Cut(0, b.s.GrooveDepth, solid.Ribbon(b.wires, b.grooveHalf()).And(b.body))
	var holes []solid.Plan
	for _, f := range b.sign.Feeds {
		holes = append(holes, solid.Disc(f, b.feedRadius()))
	}
	b.solid = b.solid.Cut(b.s.GrooveDepth, b.floor(), solid.Union(holes...))
}

// feeds is where the wires come in and the places to lead them to, each a
// choice of ends.
func (b *builder) feeds() (source geom.Point, starts [][]geom.Point) {
	source = entry(b.lines, b.s.Hold)
	fed := b.pieceAt(source)
	for i, p := range b.pieces {
		if b.s.Groove == GrooveAuto && i != fed && len(p.curves) > 0 {
			var ends []geom.Point
			for _, c := range p.curves {
				ends = append(ends, b.ends(c)...)
			}
			starts = append(starts, ends)
		}
		if b.s.Groove == GrooveAll {
			for _, c := range p.curves {
				starts = append(starts, b.ends(c))
			}
		}
	}
	return source, starts
}

// Entry returns where the wires come into the lines, given with y up: above the
// foot's bore, or at the lowest end, where a cable comes up.
func Entry(c geom.Centreline, h Hold) geom.Point {
	var lines []geom.Polyline
	for _, k := range c.Curves {
		lines = append(lines, k.Flatten(flat))
	}
	return entry(lines, h)
}

func entry(lines []geom.Polyline, h Hold) geom.Point {
	if h == HoldStand {
		return lowestPoint(lines)
	}
	at := lines[0][0]
	for _, l := range lines {
		for _, p := range []geom.Point{l[0], l[len(l)-1]} {
			if p.Y < at.Y {
				at = p
			}
		}
	}
	return at
}

// ends are the places where the strip in curve i may begin: a little in from
// its ends, so that a hole lies within the slot's straight sides.
func (b *builder) ends(i int) []geom.Point {
	l := b.lines[i]
	in := min(b.s.Channel.Slot()/2, l.Length()/2)
	return []geom.Point{l.At(in), l.At(l.Length() - in)}
}

// near is the place nearest to p.
func (n *wireNet) near(p geom.Point) int64 {
	best, d := int64(0), math.Inf(1)
	for i, q := range n.at {
		if e := q.Dist(p); e < d {
			best, d = int64(i), e
		}
	}
	return best
}

// route is the shortest way between the places nearest to p and q, nil if
// there is none.
func (n *wireNet) route(p, q geom.Point) geom.Polyline {
	nodes, _ := path.DijkstraFrom(simple.Node(n.near(p)), n.g).To(n.near(q))
	var out geom.Polyline
	for _, v := range nodes {
		out = append(out, n.at[v.ID()])
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// wireWays enters the channels and bridges as ways for wires.
func (b *builder) wireWays() *wireNet {
	n := &wireNet{g: simple.NewWeightedUndirectedGraph(0, math.Inf(1)), node: map[geom.Point]int64{}}
	// Places on each curve: steps, knots, and the feet of the bridges.
	cuts := make([]geom.Polyline, len(b.lines))
	for i, k := range b.c.Curves {
		for _, st := range k.Stops {
			cuts[i] = append(cuts[i], b.c.Knots[st.Knot].At)
		}
	}
	for _, t := range b.ties {
		ends := []*geom.Point{&t.a, &t.b}
		for e, piece := range []int{t.pa, t.pb} {
			if piece < 0 {
				continue
			}
			best, which := math.Inf(1), 0
			for _, i := range b.pieces[piece].curves {
				if d := b.lines[i].DistanceTo(*ends[e]); d < best {
					best, which = d, i
				}
			}
			cuts[which] = append(cuts[which], *ends[e])
		}
		n.link(t.a, t.b)
	}
	for i, l := range b.lines {
		pts := withPoints(l.Resampled(wireStep), cuts[i])
		for k := 1; k < len(pts); k++ {
			n.link(pts[k-1], pts[k])
		}
	}
	b.mergedWays(n)
	b.footWays(n)
	return n
}

// mergedWays leads across where channels run into each other though their lines
// do not meet.
func (b *builder) mergedWays(n *wireNet) {
	for _, p := range b.pieces {
		for x, i := range p.curves {
			mine := grown(geom.Bounds(b.lines[i]), b.s.outer())
			for _, k := range p.curves[:x] {
				if o := grown(geom.Bounds(b.lines[k]), b.s.outer()); o.Min.X > mine.Max.X || o.Max.X < mine.Min.X ||
					o.Min.Y > mine.Max.Y ||
					o.Max.Y < mine.Min.Y {
					continue
				}
				from, to, best := geom.Point{}, geom.Point{}, 2*b.s.outer()
				for _, q := range b.lines[i].Resampled(wireStep) {
					if _, _, f, d := b.lines[k].Nearest(q); d < best {
						from, to, best = q, f, d
					}
				}
				if best < 2*b.s.outer() {
					n.link(n.at[n.near(from)], n.at[n.near(to)])
				}
			}
		}
	}
}

func grown(r geom.Rect, d float64) geom.Rect {
	return geom.Rect{Min: r.Min.Sub(geom.Pt(d, d)), Max: r.Max.Add(geom.Pt(d, d))}
}

// footWays leads from the bore to lines that only the foot joins, behind it.
func (b *builder) footWays(n *wireNet) {
	if b.sign.Bore == nil {
		return
	}
	top := n.at[n.near(b.sign.Bore.Top)]
	piece := b.pieceAt(top)
	if piece < 0 {
		return
	}
	y := b.sign.Bore.Top.Y - (b.s.outer()+b.s.FootHeight)/2 // across the foot's middle
	under := geom.Pt(top.X, y)
	free := func(p, q geom.Point) bool {
		return b.body.Covers(solid.Ribbon([]geom.Polyline{{p, q}}, b.grooveHalf()+0.5))
	}
	for _, i := range b.pieces[piece].curves {
		_, _, q, _ := b.lines[i].Nearest(under)
		q = n.at[n.near(q)]
		turn := geom.Pt(q.X, y)
		if q != top && free(top, under) && free(under, turn) && free(turn, q) {
			n.link(top, under)
			n.link(under, turn)
			n.link(turn, q)
		}
	}
}

// withPoints is the polyline with the points, which lie on it, as corners. A
// knot's point replaces the corner it lies on.
func withPoints(l geom.Polyline, pts []geom.Point) geom.Polyline {
	out := slices.Clone(l)
	for _, p := range pts {
		at, _, _, _ := out.Nearest(p)
		at++
		switch {
		case out[at-1].Dist(p) < 0.2:
			out[at-1] = p
		case out[at].Dist(p) < 0.2:
			out[at] = p
		default:
			out = slices.Insert(out, at, p)
		}
	}
	return out
}
