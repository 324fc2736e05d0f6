package rules

import (
	"math"

	"inkchannel/geom"
)

// How two lines are compared, mm.
const (
	astrayStep = 0.25 // between the places that are compared
	astrayCell = 10.0 // within which the nearest is looked for first
)

// Astray returns how far two centrelines are apart where they are farthest, mm, and that place
// on the one that is there: the distance of F. Hausdorff. It is 0 if either has no curves.
func Astray(a, b geom.Centreline) (mm float64, at geom.Point) {
	p, q := placesOn(a), placesOn(b)
	for _, pair := range [][2][]geom.Point{{p, q}, {q, p}} {
		if len(pair[1]) == 0 {
			return 0, geom.Point{}
		}
		near := geom.NewGrid[geom.Point](astrayCell)
		for _, o := range pair[1] {
			near.Put(o, o)
		}
		for _, o := range pair[0] {
			least := math.Inf(1)
			for n := range near.Near(o) {
				least = min(least, o.Dist(n))
			}
			if least > astrayCell { // what is nearer may lie outside the cells
				for _, n := range pair[1] {
					least = min(least, o.Dist(n))
				}
			}
			if least > mm {
				mm, at = least, o
			}
		}
	}
	return mm, at
}

func placesOn(c geom.Centreline) (out []geom.Point) {
	for _, k := range c.Curves {
		out = append(out, k.Flatten(fine).Resampled(astrayStep)...)
	}
	return out
}
