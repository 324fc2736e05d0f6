package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/geom"
)

// The extent of lines is that of their middles, and of no speck beside them, which becomes no stroke.
func TestLineExtent(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []geom.Polyline
		turn  float64
		want  geom.Point
	}{
		{"an L", []geom.Polyline{{geom.Pt(100, 100), geom.Pt(100, 300), geom.Pt(500, 300)}}, 0, geom.Pt(400, 200)},
		{"turned", []geom.Polyline{{geom.Pt(100, 100), geom.Pt(100, 300), geom.Pt(500, 300)}}, 90, geom.Pt(200, 400)},
		{"a speck far off", []geom.Polyline{{geom.Pt(100, 100), geom.Pt(100, 300), geom.Pt(500, 300)}, {geom.Pt(700, 100), geom.Pt(704, 100)}}, 0, geom.Pt(400, 200)},
		{"a short stroke far off", []geom.Polyline{{geom.Pt(100, 100), geom.Pt(100, 300), geom.Pt(500, 300)}, {geom.Pt(640, 100), geom.Pt(700, 100)}}, 0, geom.Pt(600, 200)},
		{"nothing", nil, 0, geom.Point{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := NewBitmap(800, 400)
			const pen = 12
			for i := range b.Pix {
				p := geom.Pt(float64(i%b.W)+0.5, float64(i/b.W)+0.5)
				for _, l := range c.lines {
					if l.DistanceTo(p) <= pen/2 {
						b.Pix[i] = 1
					}
				}
			}
			got := b.LineExtent(c.turn)
			assert.InDelta(t, c.want.X, got.X, pen/3) // along the pixels the width is worst known
			assert.InDelta(t, c.want.Y, got.Y, pen/3)
		})
	}
}
