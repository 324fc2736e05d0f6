package strip

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/testdata/outside"
)

// fewest is the least length of links to double so that a walk exists, by
// trying every set of links: with both ends free, or one at start.
func fewest(links []Link) float64 {
	best := math.Inf(1)
	for set := range 1 << len(links) {
		degree := map[int]int{}
		sum := 0.0
		for i, l := range links {
			degree[l.A]++
			degree[l.B]++
			if set>>i&1 == 1 {
				degree[l.A]++
				degree[l.B]++
				sum += l.Length
			}
		}
		odd := 0
		for _, d := range degree {
			if d%2 == 1 {
				odd++
			}
		}
		if odd == 0 || odd == 2 {
			best = min(best, sum)
		}
	}
	return best
}

func total(hops []Hop) float64 {
	sum := 0.0
	for _, h := range hops {
		sum += h.Length
	}
	return sum
}

// connected reports whether all links hang together.
func connected(links []Link) bool {
	seen := map[int]bool{links[0].A: true}
	for range links {
		for _, l := range links {
			if seen[l.A] || seen[l.B] {
				seen[l.A], seen[l.B] = true, true
			}
		}
	}
	for _, l := range links {
		if !seen[l.A] {
			return false
		}
	}
	return true
}

// Against exhaustive search: every connected graph of up to 8 links whose
// nodes are numbered in the order they appear, as far as random lengths and
// some thousand draws go, loops and parallel links included.
func TestPostmanAgainstAll(t *testing.T) {
	rng := rand.New(rand.NewSource(2))
	tried := 0
	for tried < 3000 {
		n := 1 + rng.Intn(8)
		nodes := 1 + rng.Intn(n+1)
		var links []Link
		for range n {
			links = append(links, Link{rng.Intn(nodes), rng.Intn(nodes), float64(1 + rng.Intn(9))})
		}
		if !connected(links) {
			continue
		}
		tried++
		hops := Postman(links)
		require.InDelta(t, fewest(links), total(hops), 1e-9, "%v", links)
		for _, h := range hops {
			at, sum := h.From, 0.0
			for _, i := range h.Links {
				require.True(t, links[i].A == at || links[i].B == at)
				at = links[i].A + links[i].B - at
				sum += links[i].Length
			}
			require.Equal(t, h.To, at)
			require.InDelta(t, h.Length, sum, 1e-9)
		}
	}
}

// Graphs of the textbooks, every link of length 1: the least number of links
// walked twice with free ends.
func TestPostmanTextbook(t *testing.T) {
	unit := func(pairs ...int) []Link {
		var out []Link
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, Link{pairs[i], pairs[i+1], 1})
		}
		return out
	}
	for _, c := range []struct {
		name  string
		links []Link
		want  float64
	}{
		// L. Euler, 1736: the seven bridges join four places, all odd.
		{"Königsberg", unit(0, 1, 0, 1, 0, 2, 0, 2, 0, 3, 1, 3, 2, 3), 1},
		{"complete graph of 4", unit(0, 1, 0, 2, 0, 3, 1, 2, 1, 3, 2, 3), 1},
		{"Petersen's graph", unit(0, 1, 1, 2, 2, 3, 3, 4, 4, 0, 0, 5, 1, 6, 2, 7, 3, 8, 4, 9, 5, 7, 7, 9, 9, 6, 6, 8, 8, 5), 4},
		{"house of Saint Nicholas", unit(0, 1, 1, 2, 2, 3, 3, 0, 0, 2, 1, 3, 2, 4, 3, 4), 0},
		{"cube", unit(0, 1, 1, 2, 2, 3, 3, 0, 4, 5, 5, 6, 6, 7, 7, 4, 0, 4, 1, 5, 2, 6, 3, 7), 3},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, total(Postman(c.links))) })
	}
}

// Outside check: networkx's minimum weight matching of the odd nodes over
// shortest paths, on larger random graphs, as a closed walk.
func TestPostmanAgainstNetworkx(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	var all [][]Link
	for range 20 {
		n := 12 + rng.Intn(20)
		var links []Link
		for i := 1; i < n; i++ {
			links = append(links, Link{rng.Intn(i), i, float64(1+rng.Intn(1000)) / 8})
		}
		for range n / 2 {
			a, b := rng.Intn(n), rng.Intn(n)
			if a != b {
				links = append(links, Link{a, b, float64(1+rng.Intn(1000)) / 8})
			}
		}
		all = append(all, links)
	}
	in, err := json.Marshal(all)
	require.NoError(t, err)
	cmd := exec.Command(outside.Python(t, "networkx"), "../../testdata/outside/postman.py")
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.Output()
	require.NoError(t, err, "make test installs python3-networkx")
	var want []float64
	require.NoError(t, json.Unmarshal(out, &want))
	for i, links := range all {
		assert.InDelta(t, want[i], total(Postman(links)), 0.01, "graph %d", i)
	}
}
