package strip

import (
	"math"

	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/simple"
)

// A Link is an edge of a graph of lines: two nodes and the length between, mm.
type Link struct {
	A, B   int
	Length float64
}

// A Hop is a way, over links, that a jumper takes from one node to another.
type Hop struct {
	From, To int
	Links    []int // in order from From to To
	Length   float64
}

// Postman returns the jumpers of least total length that, added to the links
// of a connected graph, let one walk go over every link and jumper once: the
// Chinese postman's problem (M. Guan, 1962; J. Edmonds and E. L. Johnson,
// 1973, both cited from memory). Nodes with an odd number of links are paired
// by a matching of least weight over shortest ways.
//
// The walk may start and end anywhere.
func Postman(links []Link) []Hop { return newWays(links).jumpers() }

// jumpers is Postman's answer.
func (g *ways) jumpers() []Hop {
	var odd []int
	for n, d := range g.degree {
		if d%2 == 1 {
			odd = append(odd, n)
		}
	}
	if len(odd) <= 2 {
		return nil
	}
	// The walk's two ends are points at no distance from all but each other.
	n := len(odd) + 2
	ways := make([]path.Shortest, len(odd))
	far := int64(1)
	d := make([][]int64, len(odd))
	for i, o := range odd {
		ways[i] = g.from(o)
		d[i] = make([]int64, len(odd))
		for k, p := range odd {
			d[i][k] = int64(math.Round(ways[i].WeightTo(int64(p)) * 1000)) // micrometres
			far += d[i][k]
		}
	}
	m := Matching(n, func(i, j int) int64 {
		switch a, b := i >= len(odd), j >= len(odd); {
		case a && b:
			return far
		case a || b:
			return 0
		}
		return d[i][j]
	})
	var out []Hop
	for i, j := range m {
		if i < j && j < len(odd) {
			nodes, length := ways[i].To(int64(odd[j]))
			out = append(out, Hop{From: odd[i], To: odd[j], Links: g.between(nodes), Length: length})
		}
	}
	return out
}

// ways is the links as a graph; of parallel links the shortest serves.
type ways struct {
	graph  *simple.WeightedUndirectedGraph
	best   map[[2]int]int
	degree []int
}

func newWays(links []Link) *ways {
	g := &ways{graph: simple.NewWeightedUndirectedGraph(0, math.Inf(1)), best: map[[2]int]int{}}
	for i, l := range links {
		for len(g.degree) <= max(l.A, l.B) {
			g.degree = append(g.degree, 0)
		}
		g.degree[l.A]++
		g.degree[l.B]++
		if l.A == l.B {
			continue
		}
		key := [2]int{min(l.A, l.B), max(l.A, l.B)}
		if old, ok := g.best[key]; ok && links[old].Length <= l.Length {
			continue
		}
		g.best[key] = i
		g.graph.SetWeightedEdge(g.graph.NewWeightedEdge(simple.Node(l.A), simple.Node(l.B), l.Length))
	}
	return g
}

// from is the shortest ways from a node to all others (E. W. Dijkstra).
func (g *ways) from(node int) path.Shortest { return path.DijkstraFrom(simple.Node(node), g.graph) }

// between is the links along nodes.
func (g *ways) between(nodes []graph.Node) []int {
	var out []int
	for i := 1; i < len(nodes); i++ {
		a, b := int(nodes[i-1].ID()), int(nodes[i].ID())
		out = append(out, g.best[[2]int{min(a, b), max(a, b)}])
	}
	return out
}
