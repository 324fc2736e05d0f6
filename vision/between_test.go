package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Two white labels stick on tinted paper: the paper between them is no ink. A broad mark that
// somebody drew is.
func TestPaperBetweenLighterPlaces(t *testing.T) {
	const w, h = 900, 700 // px, 10 to the mm
	for name, c := range map[string]struct {
		labels  bool
		fill    uint8 // of a drawn disc, of 255; 0 for none
		between int
	}{
		"labels":            {labels: true, between: 1},
		"no labels":         {},
		"a pale disc":       {fill: 130},
		"labels and a disc": {labels: true, fill: 120, between: 1},
	} {
		t.Run(name, func(t *testing.T) {
			sheet := scene{w: w, h: h, pen: 12, lines: []geom.Polyline{{{X: 300, Y: 200}, {X: 700, Y: 500}}}}.draw()
			for y := range h {
				for x := range w {
					p, at := geom.Pt(float64(x), float64(y)), sheet.Pix[3*(y*w+x):]
					at[0] = uint8(int(at[0]) * 186 / 245) // yellow
					white := c.labels && y >= 300 && y < 450 && (x >= 80 && x < 180 || x >= 250 && x < 350)
					for k := range 3 {
						if white {
							at[k] = 250
						} else if c.fill > 0 && p.Dist(geom.Pt(650, 150)) < 40 {
							at[k] = min(at[k], c.fill)
						}
					}
				}
			}
			ink, err := FindInk(sheet, scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, c.between, ink.Between)
			assert.Zero(t, ink.Mask.Pix[380*w+215], "paper between the labels")
			assert.EqualValues(t, 1, ink.Mask.Pix[350*w+500], "the line")
			assert.Equal(t, c.fill > 0, ink.Mask.Pix[150*w+650] > 0, "the disc")
		})
	}
}
