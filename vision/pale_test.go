package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Where no ink is dark, a line as dark as the paper's grain is followed, and
// stains, grain and rules are not.
func TestFaintLine(t *testing.T) {
	for _, c := range []struct {
		name  string
		pen   float64 // how much darker than the paper the pen is, 0 for none
		faint float64 // the same of the faint line
		grain float64
		more  func(p page)
		spots int
		kept  bool
	}{
		{"beside a worn pen", 0.28, 0.07, 0.01, nil, 2, true},
		{"nothing else", 0, 0.06, 0.01, nil, 1, true},
		{"beside a dark pen, as it shines through", 0.7, 0.05, 0.01, nil, 1, false},
		{"fainter than grain", 0.28, 0.004, 0.015, nil, 1, false},
		{"on ruled paper", 0.28, 0.07, 0.01, func(p page) {
			for y := 60.0; y < 900; y += 40 {
				p.line(20, y, 980, y, 2, 0.03)
			}
		}, 2, true},
		{"a stain", 0.28, 0.07, 0.01, func(p page) { p.line(300, 800, 320, 800, 60, 0.02) }, 2, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(c.grain)
			if c.pen > 0 {
				p.line(200, 200, 700, 310, 6, c.pen)
			}
			p.line(200, 605, 700, 715, 4, c.faint)
			if c.more != nil {
				c.more(p)
			}
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			on, n := 0, 0
			for q := range placesOn(geom.Pt(210, 607.2), geom.Pt(690, 712.8)) {
				n++
				on += int(ink.Mask.Pix[int(q.Y)*ink.Mask.W+int(q.X)])
			}
			if c.kept {
				assert.Greater(t, float64(on), 0.97*float64(n))
			} else {
				assert.Less(t, float64(on), 0.03*float64(n))
			}
			assert.Equal(t, c.spots, ink.Spots)
		})
	}
}

// placesOn yields places a pixel apart from a to b.
func placesOn(a, b geom.Point) func(yield func(geom.Point) bool) {
	return func(yield func(geom.Point) bool) {
		n := int(a.Dist(b))
		for i := range n {
			if !yield(a.Lerp(b, float64(i)/float64(n))) {
				return
			}
		}
	}
}
