package parts

import (
	"cmp"
	"slices"

	"gonum.org/v1/gonum/graph"

	"inkchannel/geom"
)

// A wireTree is one circuit's way from where the wires come in to its taps.
type wireTree struct {
	root  int64
	steps map[[2]int64]bool
	next  map[int64][]int64
	taps  map[int64]bool
}

func newWireTree(root int64) *wireTree {
	return &wireTree{root: root, steps: map[[2]int64]bool{}, next: map[int64][]int64{}, taps: map[int64]bool{}}
}

// add leads the tree along a route, shortest from its root, to a tap.
func (t *wireTree) add(route []graph.Node, tap int64) {
	t.taps[tap] = true
	for i := 1; i < len(route); i++ {
		a, b := route[i-1].ID(), route[i].ID()
		if s := step(a, b); !t.steps[s] {
			t.steps[s] = true
			t.next[a] = append(t.next[a], b)
		}
	}
}

// step is a stretch between two places, whichever way it is run.
func step(a, b int64) [2]int64 { return [2]int64{min(a, b), max(a, b)} }

// wires are the tree's stretches between root, taps and branches, as places.
func (t *wireTree) wires() (out [][]int64) {
	var walk func(run []int64)
	walk = func(run []int64) {
		at := run[len(run)-1]
		on := t.next[at]
		if len(run) > 1 && (len(on) != 1 || t.taps[at]) {
			out = append(out, run)
			run = []int64{at}
		}
		for _, v := range on {
			walk(append(slices.Clone(run), v))
		}
	}
	walk([]int64{t.root})
	return out
}

// stretches are the ways that carry just such wires, as lines: each on from a step while
// one other leads on.
func stretches(n *wireNet, load map[[2]int64]bundle, w bundle) []geom.Polyline {
	var steps [][2]int64
	for s, wires := range load {
		if wires == w {
			steps = append(steps, s)
		}
	}
	slices.SortFunc(steps, func(a, b [2]int64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	next := map[int64][]int64{}
	for _, s := range steps {
		next[s[0]], next[s[1]] = append(next[s[0]], s[1]), append(next[s[1]], s[0])
	}
	seen := map[[2]int64]bool{}
	var out []geom.Polyline
	for _, s := range steps {
		if seen[s] {
			continue
		}
		seen[s] = true
		run := []int64{s[0], s[1]}
		for range 2 { // one way, then the other
			run = runOn(run, next, seen)
			slices.Reverse(run)
		}
		var l geom.Polyline
		for _, v := range run {
			l = append(l, n.at[v])
		}
		out = append(out, l)
	}
	return out
}

// runOn goes on from a run's end over steps not seen yet, as far as only one leads on.
func runOn(run []int64, next map[int64][]int64, seen map[[2]int64]bool) []int64 {
	for {
		at := run[len(run)-1]
		if len(next[at]) != 2 {
			return run
		}
		to := next[at][0]
		if to == run[len(run)-2] {
			to = next[at][1]
		}
		if seen[step(at, to)] {
			return run
		}
		seen[step(at, to)] = true
		run = append(run, to)
	}
}
