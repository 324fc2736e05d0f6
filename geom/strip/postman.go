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
// The walk may start and end anywhere if start is −1, else it starts at start
// and ends anywhere.
func Postman(links []Link, start int) []Hop {
	g := newWays(links)
	var odd []int
	for n, d := range g.degree {
		if d%2 == 1 != (n == start) { // an odd node, or the start if it is even
			odd = append(odd, n)
		}
	}
	if start < 0 && len(odd) <= 2 || start >= 0 && len(odd) <= 1 {
		return nil
	}
	// Free ends of the walk are points at no distance from all but each other.
	free := 2
	if start >= 0 {
		free = 1
	}
	n := len(odd) + free
	if n%2 == 1 {
		free++
		n++
	}
	ways := make([]path.Shortest, len(odd))
	far := int64(1)
	d := make([][]int64, len(odd))
	for i, o := range odd {
		ways[i] = path.DijkstraFrom(simple.Node(o), g.graph)
		d[i] = make([]int64, len(odd))
		for k, p := range odd {
			d[i][k] = int64(math.Round(ways[i].WeightTo(int64(p)) * 1000)) // micrometres
			far += d[i][k]
		}
	}
	m := Matching(n, func(i, j int) int64 {
		switch a, b := i >= len(odd), j >= len(odd); {
		case a && b:
			if start >= 0 && free == 2 {
				return 0 // one of the two was only added to make the number even
			}
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
			out = append(out, Hop{odd[i], odd[j], g.between(nodes), length})
		}
	}
	return out
}

// ways is the links as a graph; of parallel links the shortest serves.
type ways struct {
	graph  *simple.WeightedUndirectedGraph
	best   map[[2]int]int
	degree []int
	links  []Link
}

func newWays(links []Link) *ways {
	g := &ways{graph: simple.NewWeightedUndirectedGraph(0, math.Inf(1)), best: map[[2]int]int{}, links: links}
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

func (g *ways) between(nodes []graph.Node) []int {
	var out []int
	for i := 1; i < len(nodes); i++ {
		a, b := int(nodes[i-1].ID()), int(nodes[i].ID())
		out = append(out, g.best[[2]int{min(a, b), max(a, b)}])
	}
	return out
}
