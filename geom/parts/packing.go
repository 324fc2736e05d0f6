package parts

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
)

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

// A bundle is the wires that run side by side: so many for power, so many for data.
type bundle struct{ thick, thin int }

func (w bundle) and(v bundle) bundle { return bundle{w.thick + v.thick, w.thin + v.thin} }

// bundles are all that a load has, fewest first.
func bundles(load map[[2]int64]bundle) []bundle {
	all := map[bundle]bool{}
	for _, w := range load {
		all[w] = true
	}
	return slices.SortedFunc(maps.Keys(all), func(v, w bundle) int {
		return cmp.Or(cmp.Compare(v.thick, w.thick), cmp.Compare(v.thin, w.thin))
	})
}

// wireSizes are the diameters of wires for power and for data, mm, over the insulation.
type wireSizes struct{ thick, thin float64 }

// text names wires with their size.
func (d wireSizes) text(w bundle) string {
	out := fmt.Sprintf("%d wires %g mm thick", w.thick, d.thick)
	if w.thin > 0 {
		out += fmt.Sprintf(" and %d of %g mm", w.thin, d.thin)
	}
	return out
}

// deep is how deep, mm, a groove of a width must be for wires in rows, the thick ones below and
// the thin ones beside and on them; infinite if it is too narrow for one.
func (d wireSizes) deep(w bundle, wide float64) float64 {
	inRow := func(room, wire float64) int { return int(room/wire + 1e-9) }
	rows, left := 0.0, w.thin
	if w.thick > 0 {
		row := inRow(wide, d.thick)
		if row < 1 {
			return math.Inf(1)
		}
		full := (w.thick + row - 1) / row
		rows = float64(full) * d.thick
		if last := w.thick - (full-1)*row; w.thin > 0 {
			left = max(w.thin-inRow(wide-float64(last)*d.thick, d.thin), 0)
		}
	}
	if left == 0 {
		return rows
	}
	row := inRow(wide, d.thin)
	if row < 1 {
		return math.Inf(1)
	}
	return rows + float64((left+row-1)/row)*d.thin
}

// deepest is how deep, mm, a groove of a width must be for the bundle that needs most, and that bundle.
func (d wireSizes) deepest(load map[[2]int64]bundle, wide float64) (need float64, most bundle) {
	for _, w := range bundles(load) {
		if deep := d.deep(w, wide); deep >= need {
			need, most = deep, w
		}
	}
	return need, most
}

// wide is how wide, mm, a groove of a depth must be for wires.
func (d wireSizes) wide(w bundle, deep float64) float64 {
	best := float64(w.thick)*d.thick + float64(w.thin)*d.thin // all in a row
	for thick := range w.thick + 1 {
		for thin := range w.thin + 1 {
			if wide := float64(thick)*d.thick + float64(thin)*d.thin; wide > 0 && wide < best && d.deep(w, wide) <= deep+1e-9 {
				best = wide
			}
		}
	}
	return best
}
