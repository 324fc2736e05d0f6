package lsq

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Worked by hand: the point of a line nearest to another point, a circle's
// nearest point, and Rosenbrock's function, whose least is 0 at (1, 1)
// (H. H. Rosenbrock, 1960, cited from memory).
func TestProblem(t *testing.T) {
	toward := func(x, y float64) Term {
		return Term{Vars: []int{0, 1}, N: 2, Weight: 1, Residuals: func(v, out []float64) { out[0], out[1] = v[0]-x, v[1]-y }}
	}
	for _, c := range []struct {
		name string
		p    Problem
		want []float64
	}{
		{"nearest on a line", Problem{X: []float64{0, 0}, Terms: []Term{toward(3, 1)},
			Conditions: []Term{{Vars: []int{0, 1}, N: 1, Residuals: func(v, out []float64) { out[0] = v[0] + v[1] - 2 }}}}, []float64{2, 0}},
		{"nearest on a circle", Problem{X: []float64{1, 0}, Terms: []Term{toward(3, 4)},
			Conditions: []Term{{Vars: []int{0, 1}, N: 1, Residuals: func(v, out []float64) { out[0] = math.Hypot(v[0], v[1]) - 2 }}}}, []float64{1.2, 1.6}},
		{"Rosenbrock", Problem{X: []float64{0.9, 0.7}, Terms: []Term{{Vars: []int{0, 1}, N: 2, Weight: 1,
			Residuals: func(v, out []float64) { out[0], out[1] = 1-v[0], 10*(v[1]-v[0]*v[0]) }}}}, []float64{1, 1}},
		{"two groups", Problem{X: []float64{0, 0, 5}, Terms: []Term{toward(1, 2), {Vars: []int{2}, N: 1, Weight: 3,
			Residuals: func(v, out []float64) { out[0] = v[0] - 7 }}}}, []float64{1, 2, 7}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, left := range c.p.Solve() {
				assert.Less(t, left, 1e-7)
			}
			assert.InDeltaSlice(t, c.want, c.p.X, 1e-5)
		})
	}
}

// All ways to solve the normal equations agree, with and without unknowns that
// many share.
func TestStepsAgree(t *testing.T) {
	for _, hubs := range []int{0, 1, 3} {
		var rows []lsqRow
		const n = 160
		for i := range n - hubs {
			rows = append(rows, lsqRow{[]int{i}, []float64{0.3}, float64(i%7) - 3})
			if i%5 > 0 {
				rows = append(rows, lsqRow{[]int{i - 1, i}, []float64{-2, 2}, math.Sin(float64(i))})
			}
			if hubs > 0 {
				rows = append(rows, lsqRow{[]int{i, n - 1 - i%hubs}, []float64{1, -1.5}, math.Cos(float64(i))})
			}
		}
		want := denseStep(rows, n)
		assert.InDeltaSlice(t, want, sparseStep(rows, n), 1e-6)
		var shared []int
		for k := range hubs {
			shared = append(shared, n-1-k)
		}
		assert.InDeltaSlice(t, want, solveRows(rows, n, shared), 1e-8)
		_, _, blocks := splitAtHubs(rows, n, shared)
		assert.GreaterOrEqual(t, len(blocks), 30)
	}
}
