package rules

import (
	"math"

	"inkchannel/geom"
)

// fine is how far the straight pieces that curves are measured by stray, mm.
const fine = 0.002

// A track is a curve as short straight segments, with its knots.
type track struct {
	p      geom.Polyline
	s      []float64 // distance along
	closed bool
	stops  []trackStop
}

type trackStop struct {
	knot int
	s    float64
}

func newTrack(c geom.Curve, longest float64) track {
	t := track{closed: c.Closed}
	ends := []int{0}
	for i, p := range c.Pieces {
		if i == 0 {
			t.p = append(t.p, p[0])
		}
		for _, q := range p.Flatten(nil, fine) {
			a := t.p[len(t.p)-1]
			n := max(int(math.Ceil(a.Dist(q)/longest)), 1)
			for k := 1; k <= n; k++ {
				t.p = append(t.p, a.Lerp(q, float64(k)/float64(n)))
			}
		}
		ends = append(ends, len(t.p)-1)
	}
	t.s = make([]float64, len(t.p))
	for i := 1; i < len(t.p); i++ {
		t.s[i] = t.s[i-1] + t.p[i-1].Dist(t.p[i])
	}
	for _, st := range c.Stops {
		t.stops = append(t.stops, trackStop{st.Knot, t.s[ends[st.Piece]]})
	}
	return t
}

func (t *track) length() float64 { return t.s[len(t.s)-1] }

// at is the point at distance s; a closed track goes round, another stops at
// its ends.
func (t *track) at(s float64) geom.Point { return t.p.AtDistance(t.s, s, t.closed) }

// along is how far apart two distances are along the track.
func (t *track) along(a, b float64) float64 {
	d := math.Abs(a - b)
	if t.closed {
		d = min(d, t.length()-d)
	}
	return d
}
