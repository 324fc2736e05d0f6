package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// The holes of punched paper, or what shows of the dark behind them, were taken for a
// drawing. ISO 838 (from memory): 6 mm wide, 80 mm apart, 12 mm from the edge.
func TestWithoutHoles(t *testing.T) {
	// Pixels at 5 px/mm, of a sheet of 180 by 240 mm.
	spot := func(p page, x, y float64) { p.line(5*x-0.5, 5*y, 5*x+0.5, 5*y, 30, 0.7) }
	ring := func(p page, x, y float64) {
		for i := range 36 {
			sa, ca := math.Sincos(geom.Radians(float64(10 * i)))
			sb, cb := math.Sincos(geom.Radians(float64(10*i + 10)))
			p.line(5*x+12*ca, 5*y+12*sa, 5*x+12*cb, 5*y+12*sb, 5, 0.7)
		}
	}
	for _, c := range []struct {
		name  string
		draw  func(p page)
		holes int
	}{
		{"two, 80 mm apart", func(p page) { spot(p, 12, 80); spot(p, 12, 160) }, 2},
		{"three, 108 mm apart, at the right", func(p page) { spot(p, 168, 12); spot(p, 168, 120); spot(p, 168, 228) }, 3},
		{"along the top", func(p page) { spot(p, 50, 12); spot(p, 130, 13) }, 2},
		{"dots 100 mm apart", func(p page) { spot(p, 40, 228); spot(p, 140, 228) }, 0},
		{"far from the edge", func(p page) { spot(p, 30, 80); spot(p, 30, 160) }, 0},
		{"one by itself", func(p page) { spot(p, 12, 80) }, 0},
		{"not in a row", func(p page) { spot(p, 9, 80); spot(p, 17, 160) }, 0},
		{"rings of the pen's breadth", func(p page) { ring(p, 12, 80); ring(p, 12, 160) }, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0)
			p.line(300, 300, 700, 500, 6, 0.8)
			p.line(300, 800, 700, 600, 6, 0.8)
			c.draw(p)
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			was := ink.Mask.Count()
			rest, holes, err := WithoutHoles(ink, 5)
			require.NoError(t, err)
			assert.Len(t, holes, c.holes)
			assert.Equal(t, was, ink.Mask.Count(), "the ink given stays as it is")
			assert.Equal(t, ink.Spots-c.holes, len(piecesOf(rest.Mask, 1, true).list))
		})
	}
}
