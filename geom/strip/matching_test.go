package strip

import (
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
)

// least is the least sum of pairs' distances by trying all.
func least(left []int, dist func(i, j int) int64) int64 {
	if len(left) == 0 {
		return 0
	}
	best := int64(1) << 62
	for k := 1; k < len(left); k++ {
		rest := append(append([]int{}, left[1:k]...), left[k+1:]...)
		best = min(best, dist(left[0], left[k])+least(rest, dist))
	}
	return best
}

func TestMatchingAgainstAll(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for round := range 400 {
		n := 2 * (1 + rng.Intn(4))
		d := make([][]int64, n)
		for i := range d {
			d[i] = make([]int64, n)
			for j := range i {
				d[i][j] = int64(rng.Intn(1 + 10*(1+round%20)))
				d[j][i] = d[i][j]
			}
		}
		dist := func(i, j int) int64 { return d[i][j] }
		all := make([]int, n)
		for i := range all {
			all[i] = i
		}
		m := Matching(n, dist)
		sum := int64(0)
		for i, j := range m {
			assert.NotEqual(t, i, j)
			assert.Equal(t, i, m[j])
			if i < j {
				sum += d[i][j]
			}
		}
		assert.Equal(t, least(all, dist), sum, "round %d", round)
	}
}
