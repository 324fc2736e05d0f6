package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// path is a curve of straight pieces.
func path(pts ...Point) Curve {
	var c Curve
	for i := range pts[1:] {
		c.Pieces = append(c.Pieces, StraightCubic(pts[i], pts[i+1]))
	}
	return c
}

func TestOnce(t *testing.T) {
	ring := Curve{Pieces: ArcCubics(Pt(50, 50), Pt(80, 50), 360), Closed: true}
	for name, c := range map[string]struct {
		in     []Curve
		twice  float64
		left   []float64 // lengths
		closed bool
	}{
		"drawn once":     {[]Curve{path(Pt(0, 0), Pt(100, 0)), path(Pt(0, 10), Pt(100, 10))}, 0, []float64{100, 100}, false},
		"drawn twice":    {[]Curve{path(Pt(0, 0), Pt(100, 0)), path(Pt(100, 0), Pt(0, 0))}, 100, []float64{100}, false},
		"a ring twice":   {[]Curve{ring, ring}, 60 * math.Pi, []float64{60 * math.Pi}, true},
		"forth and back": {[]Curve{path(Pt(0, 0), Pt(100, 0), Pt(0, 0))}, 100, []float64{100}, false},
		"a spine that two sides share": {[]Curve{
			path(Pt(0, 80), Pt(50, 100), Pt(50, 0), Pt(0, 20)), path(Pt(100, 80), Pt(50, 100), Pt(50, 0), Pt(100, 20)),
		}, 100, []float64{100 + 2*math.Hypot(50, 20), math.Hypot(50, 20), math.Hypot(50, 20)}, false},
		"crossing":        {[]Curve{path(Pt(0, 0), Pt(100, 100)), path(Pt(0, 100), Pt(100, 0))}, 0, []float64{100 * math.Sqrt2, 100 * math.Sqrt2}, false},
		"tangent":         {[]Curve{ring, path(Pt(0, 20), Pt(100, 20))}, 0, []float64{60 * math.Pi, 100}, true},
		"side by side":    {[]Curve{path(Pt(0, 0), Pt(100, 0)), path(Pt(0, 0.1), Pt(100, 0.1))}, 0, []float64{100, 100}, false},
		"on for a little": {[]Curve{path(Pt(0, 0), Pt(100, 0)), path(Pt(60, 40), Pt(60, 0), Pt(60.5, 0), Pt(100, 40))}, 0, []float64{100, 40.5 + math.Hypot(39.5, 40)}, false},
	} {
		t.Run(name, func(t *testing.T) {
			out, twice := Once(c.in)
			var left []float64
			for _, k := range out {
				left = append(left, NewRuler(k).Length())
			}
			assert.InDelta(t, c.twice, twice, 0.5)
			assert.InDeltaSlice(t, c.left, left, 0.3, "%v", left)
			assert.Equal(t, c.closed, out[0].Closed)
		})
	}
	out, twice := Once(nil)
	assert.Empty(t, out)
	assert.Zero(t, twice)
}
