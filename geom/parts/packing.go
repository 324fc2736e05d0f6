package parts

import "math"

// packed is the least diameter of a circle that holds 1, 2, … circles of diameter 1:
// R. L. Graham, B. D. Lubachevsky, K. J. Nurmela, P. R. J. Östergård, "Dense packings of
// congruent circles in a circle", Discrete Mathematics 181 (1998), values from memory.
var packed = []float64{
	1, 2, 2.1547, 2.4142, 2.7013, 3, 3, 3.3048, 3.6131, 3.8130, 3.9238, 4.0296, 4.2361, 4.3284, 4.5214, 4.6154,
	4.7920, 4.8637, 4.8637, 5.1223,
}

// densest is the share of a circle that circles beyond the table fill at least.
const densest = 0.7

// aroundWires is the least diameter of a round hole that n wires of a diameter pass, mm.
func aroundWires(n int, wire float64) float64 {
	switch {
	case n < 1:
		return 0
	case n <= len(packed):
		return wire * packed[n-1]
	}
	return wire * math.Sqrt(float64(n)/densest)
}

// overWires is how deep, mm, a groove of a width must be for n wires of a diameter in
// rows, infinite if it is too narrow for one.
func overWires(n int, wire, wide float64) float64 {
	row := int(wide/wire + 1e-9)
	if n > 0 && row < 1 {
		return math.Inf(1)
	}
	return wire * math.Ceil(float64(n)/float64(max(row, 1)))
}
