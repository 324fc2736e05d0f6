package vision

import (
	"math"
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

// The edge of a hard shadow, and noise as dark as pale lines would be, were once
// traced where the pen's line is fine.
func TestPaleIsNoInk(t *testing.T) {
	for _, c := range []struct {
		name  string
		light func(x, y float64) float64
		noise float64
	}{
		{"a hard shadow's edge", func(x, y float64) float64 { return 1 - 0.5/(1+math.Exp(-(x+y/3-520)/4)) }, 2},
		{"noise in dim light", func(x, y float64) float64 { return 0.3 }, 9},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := testScene()
			s.pen, s.colour, s.light, s.noise = 4, [3]uint8{95, 95, 95}, c.light, c.noise
			ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, 3, ink.Spots, "a line and two dots")
		})
	}
}

// A pencil that presses lightly, beside a marker and on from where it pressed
// harder, is followed; what lies apart and as pale shines through.
func TestPencilLeadsOn(t *testing.T) {
	p := newPage(0.01)
	p.line(200, 200, 700, 300, 8, 0.7)
	p.line(200, 600, 400, 650, 4, 0.35)
	p.line(400, 650, 700, 620, 4, 0.12)
	p.line(200, 900, 700, 880, 4, 0.12)
	ink, err := FindInk(p.Colour, 5, DefaultInk())
	require.NoError(t, err)
	on := func(a, b geom.Point) (share float64) {
		n := 0
		for q := range placesOn(a, b) {
			n++
			share += float64(ink.Mask.Pix[int(q.Y)*ink.Mask.W+int(q.X)])
		}
		return share / float64(n)
	}
	assert.Greater(t, on(geom.Pt(405, 649.5), geom.Pt(695, 620.5)), 0.97)
	assert.Less(t, on(geom.Pt(205, 899.8), geom.Pt(695, 880.2)), 0.03)
}

// In noise as dark as pale lines they are not looked for, and that is told.
func TestNoiseIsTold(t *testing.T) {
	s := scene{w: 1800, h: 1500, pen: 4, colour: [3]uint8{95, 95, 95}, noise: 9, lines: []geom.Polyline{pl(200, 200, 1500, 700)}}
	s.light = func(x, y float64) float64 { return 0.3 }
	ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	assert.True(t, ink.Noisy)
	assert.Equal(t, 1, ink.Spots)
	s.noise = 2
	ink, err = FindInk(s.draw(), scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	assert.False(t, ink.Noisy)
}

// Noise all over was once taken for pale ink all over, and the photo refused.
func TestNoiseAllOver(t *testing.T) {
	s := scene{w: 1000, h: 1400, pen: 6, colour: [3]uint8{170, 170, 170}, noise: 20, light: func(_, _ float64) float64 { return 0.4 }}
	for _, y := range []float64{100, 200, 300, 400} {
		s.lines = append(s.lines, pl(80, y, 620, y+10))
	}
	ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	assert.True(t, ink.Noisy)
	assert.Equal(t, 4, ink.Spots)
}

// Pencil beside a dark marker is drawn, though less than a third as dark; what is paler still shines
// through.
func TestPencilBesideMarker(t *testing.T) {
	for _, c := range []struct {
		name   string
		pencil float64
		kept   bool
	}{{"pencil", 0.24, true}, {"the back's drawing", 0.1, false}} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0.01)
			p.line(200, 200, 700, 300, 8, 0.72)
			p.line(200, 600, 700, 650, 4, c.pencil)
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, c.kept, ink.Spots == 2, "%d marks", ink.Spots)
		})
	}
}
