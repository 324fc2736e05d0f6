package hand

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// How a line drawn by hand is smoothed.
const (
	wobble    = 0.5  // mm that it may stray from the places
	handTurn  = 50.0 // degrees that make a corner on purpose
	closeNear = 4.0  // mm between the ends of a line that is meant to close
	pastSteps = 8    // places of the curve from one given place to the next
)

// freehand adds a smooth line past places. Its ends go on to lines near; a line that comes back to
// where it began is closed.
func freehand(c geom.Centreline, at []geom.Point) (geom.Centreline, geom.Point, string) {
	way := geom.Polyline(slices.Clone(at))
	last := len(way) - 1
	closed := last > 2 && way[0].Dist(way[last]) < closeNear && way.Length() > 4*closeNear
	if closed {
		way[last] = way[0]
	} else {
		way[0], way[last] = snapped(c, way[0]), snapped(c, way[last])
	}
	if way.Length() < leastLeft {
		return drawn(c, geom.Curve{}, at[0])
	}
	way = past(way, closed)
	k, err := geom.SmoothLine(way.Resampled(penStep), closed, geom.SmoothSettings{Deviation: wobble, Corner: handTurn})
	if err != nil {
		return c, at[0], err.Error()
	}
	return drawn(c, k, at[0])
}

// penStep is how far apart, mm, the places are that a line is fitted to.
const penStep = 0.25

// past is a smooth way past all places: a centripetal Catmull-Rom curve by the pyramid of Barry
// and Goldman (1988, "A recursive evaluation algorithm for a class of Catmull-Rom splines", from
// memory).
func past(at geom.Polyline, closed bool) geom.Polyline {
	n := len(at)
	around := func(i int) geom.Point {
		switch {
		case closed:
			return at[(i+n-1)%(n-1)]
		case i < 0:
			return at[0].Mul(2).Sub(at[1])
		case i >= n:
			return at[n-1].Mul(2).Sub(at[n-2])
		}
		return at[i]
	}
	out := geom.Polyline{at[0]}
	for i := 1; i < n; i++ {
		p := [4]geom.Point{around(i - 2), at[i-1], at[i], around(i + 1)}
		var t [4]float64
		for k := 1; k < 4; k++ {
			t[k] = t[k-1] + math.Sqrt(max(p[k].Dist(p[k-1]), penStep))
		}
		mix := func(a, b geom.Point, from, to int, u float64) geom.Point {
			return a.Lerp(b, (u-t[from])/(t[to]-t[from]))
		}
		for k := 1; k < pastSteps; k++ {
			u := t[1] + (t[2]-t[1])*float64(k)/pastSteps
			a, b, c := mix(p[0], p[1], 0, 1, u), mix(p[1], p[2], 1, 2, u), mix(p[2], p[3], 2, 3, u)
			out = append(out, mix(mix(a, b, 0, 2, u), mix(b, c, 1, 3, u), 1, 2, u))
		}
		out = append(out, at[i])
	}
	return out
}
