package lsq_test

import (
	"fmt"

	"inkchannel/geom/lsq"
)

// The point of the line x + y = 10 that is nearest to (8, 6).
func ExampleProblem_Solve() {
	p := lsq.Problem{
		X: []float64{0, 0},
		Terms: []lsq.Term{{Vars: []int{0, 1}, N: 2, Weight: 1, Residuals: func(v, out []float64) {
			out[0], out[1] = v[0]-8, v[1]-6
		}}},
		Conditions: []lsq.Term{{Vars: []int{0, 1}, N: 1, Residuals: func(v, out []float64) {
			out[0] = v[0] + v[1] - 10
		}}},
	}
	p.Solve()
	fmt.Printf("%.3f %.3f\n", p.X[0], p.X[1])
	// Output: 6.000 4.000
}
