package specimen

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/geom"
)

// A touch varies the line by what it says, and no more.
func TestTouch(t *testing.T) {
	line := geom.Polyline{{X: 20, Y: 50}, {X: 180, Y: 50}}
	for _, c := range []struct {
		name        string
		touch       Touch
		passes      int
		least, most float64 // mm, the line's half width
		aside       float64 // mm that a pass strays
	}{
		{"steady", Touch{Uneven: 0}, 1, 1, 1, 0},
		{"uneven, with a blot", UnevenPen(), 2, 0.7, 1.35, 0},
		{"twice", Retraced(), 2, 0.9, 1.1, 2.8},
		{"pencil", Pencilled(), 1, 0.85, 1.15, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := Drawing{Strokes: []geom.Polyline{line}, PenWidth: 2, Touch: c.touch}
			all := d.passes(0, 3)
			assert.Len(t, all, c.passes)
			for _, p := range all {
				for k, r := range p.radius {
					assert.True(t, r >= c.least-1e-9 && r <= c.most+1e-9, r)
					assert.LessOrEqual(t, line.DistanceTo(p.line[k]), c.aside+1e-9)
					assert.True(t, p.dry[k] >= 0 && p.dry[k] <= c.touch.Dry, p.dry[k])
				}
			}
		})
	}
}
