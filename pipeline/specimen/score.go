package specimen

import (
	"math"
	"sort"

	"inkchannel/geom"
)

// A Score is how near a result comes to the truth.
type Score struct {
	TopologyRight bool
	Want, Got     geom.Topology
	// Distances in mm, taken at every half millimetre of the true lines to
	// the found ones and of the found to the true.
	Median, P95, Max float64
	Distances        []float64 // all, sorted
	// ScaleError is the found size of the sheet over the true one, less 1.
	ScaleError float64
}

// Compare scores found centrelines (mm, in the sheet's frame), their topology,
// and the size found for the sheet (mm). Nothing is shifted, turned or scaled
// to fit.
func (t Truth) Compare(found []geom.Polyline, got geom.Topology, sheet geom.Point) Score {
	s := Score{Want: t.Want, Got: got, TopologyRight: t.Want == got}
	s.ScaleError = max(sheet.X, sheet.Y)/max(t.Sheet.X, t.Sheet.Y) - 1
	s.Distances = append(distances(t.Strokes, found), distances(found, t.Strokes)...)
	sort.Float64s(s.Distances)
	s.Median, s.P95, s.Max = Quantile(s.Distances, 0.5), Quantile(s.Distances, 0.95), Quantile(s.Distances, 1)
	return s
}

// Quantile of sorted values, +Inf if there are none.
func Quantile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return math.Inf(1)
	}
	return sorted[int(q*float64(len(sorted)-1)+0.5)]
}

// distances from points along from to the nearest of to.
func distances(from, to []geom.Polyline) []float64 {
	const cell = 5.0
	near := geom.NewGrid[[2]geom.Point](cell)
	for _, pl := range to {
		pl = dense(pl, 1)
		for i := 1; i < len(pl); i++ {
			near.Put(pl[i], [2]geom.Point{pl[i-1], pl[i]})
		}
	}
	var out []float64
	for _, pl := range from {
		for _, p := range pl.Resampled(0.5) {
			best := cell // farther is as bad
			for s := range near.Near(p) {
				f, _ := geom.Foot(s[0], s[1], p)
				best = min(best, f.Dist(p))
			}
			out = append(out, best)
		}
	}
	return out
}
