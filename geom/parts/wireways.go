package parts

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/simple"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

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

// wireStep is the distance between places on a channel that wires may turn
// off at, mm.
const wireStep = 2

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

// tapAside is how far, mm, a hole may lie from a place on the way of its wires that they come
// up at: not farther than the hole is wide.
const tapAside = 1.2

// tapWays leads to the taps from the nearest line, and to where the wires come in.
func (b *builder) tapWays(n *wireNet) {
	lines := len(n.at)
	nearest := func(p geom.Point) geom.Point {
		best := n.at[0]
		for _, q := range n.at[:lines] {
			if q.Dist(p) < best.Dist(p) {
				best = q
			}
		}
		return best
	}
	places := make([]geom.Point, 0, len(b.plan.Taps)+len(b.plan.Data))
	for _, t := range b.plan.Taps {
		places = append(places, t.At)
	}
	for _, d := range b.plan.Data {
		if d.From >= 0 {
			places = append(places, d.At)
		}
	}
	for _, p := range places {
		if on := nearest(p); on.Dist(p) > tapAside {
			n.link(on, p)
		}
	}
	if b.sign.Bore != nil {
		n.link(b.source(), b.shaft())
		n.link(b.shaft(), b.mouth())
		n.link(b.shaft(), nearest(b.sign.Bore.Top))
	} else {
		n.link(b.source(), nearest(b.entry))
	}
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
	under := b.shaft() // across the foot's middle
	y := under.Y
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
