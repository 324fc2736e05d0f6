package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestEndsMoved(t *testing.T) {
	straight := Lines(Pt(0, 0), Pt(30, 0), Pt(60, 0))
	straight.Stops = []Stop{{0, 0}, {1, 1}, {2, 2}}
	arc := Arc(Pt(0, 0), 40, 0, 90)
	arc.Stops = []Stop{{0, 0}, {1, len(arc.Pieces)}}
	for _, c := range []struct {
		name       string
		curve      Curve
		start, end float64
		length     float64
		from, to   Point
	}{
		{"longer at the end", straight, 0, 5, 65, Pt(0, 0), Pt(65, 0)},
		{"longer at the start", straight, 5, 0, 65, Pt(-5, 0), Pt(60, 0)},
		{"shorter at both", straight, -5, -7, 48, Pt(5, 0), Pt(53, 0)},
		{"not beyond a stop", straight, 0, -31, 60, Pt(0, 0), Pt(60, 0)},
		{"arc", arc, 0, 40 * math.Pi / 180 * 10, 40 * math.Pi / 180 * 100, Pt(40, 0), Pt(-40*math.Sin(Radians(10)), 40*math.Cos(Radians(10)))},
		{"arc, shorter", arc, -40 * math.Pi / 180 * 10, 0, 40 * math.Pi / 180 * 80, Pt(40*math.Cos(Radians(10)), 40*math.Sin(Radians(10))), Pt(0, 40)},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := c.curve.EndsMoved(c.start, c.end)
			r := NewRuler(out)
			assert.InDelta(t, c.length, r.Length(), 0.01)
			assert.InDelta(t, 0, out.Pieces[0][0].Dist(c.from), 0.01)
			last := len(out.Pieces)
			assert.InDelta(t, 0, out.Pieces[last-1][3].Dist(c.to), 0.01)
			n := len(out.Stops)
			assert.Equal(t, 0, out.Stops[0].Piece)
			assert.Equal(t, last, out.Stops[n-1].Piece)
			if n > 2 {
				assert.InDelta(t, 0, r.At(r.Piece(out.Stops[1].Piece)).Dist(Pt(30, 0)), 0.01, "the stop stays on its knot")
			}
		})
	}
}
