package specimen

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/geom"
)

// What an eye counts in ink 2 mm wide, by construction.
func TestInked(t *testing.T) {
	line := func(xy ...float64) geom.Polyline {
		var out geom.Polyline
		for i := 0; i+1 < len(xy); i += 2 {
			out = append(out, geom.Pt(xy[i], xy[i+1]))
		}
		return out
	}
	for _, c := range []struct {
		name    string
		strokes []geom.Polyline
		want    geom.Topology
	}{
		{"a line", []geom.Polyline{line(0, 0, 50, 0)}, geom.Topology{Parts: 1, Ends: 2}},
		{"a cross", []geom.Polyline{line(0, 0, 50, 0), line(20, -20, 20, 20)}, geom.Topology{Parts: 1, Ends: 4, Junctions: 1}},
		{"an end that stops in another's ink", []geom.Polyline{line(0, 0, 50, 0), line(20, 1.5, 20, 20)}, geom.Topology{Parts: 1, Ends: 3, Junctions: 1}},
		{"a gap", []geom.Polyline{line(0, 0, 50, 0), line(20, 3, 20, 20)}, geom.Topology{Parts: 2, Ends: 4}},
		{"a square", []geom.Polyline{line(0, 0, 50, 0, 50, 50, 0, 50, 0, 0)}, geom.Topology{Parts: 1, Loops: 1}},
		{"a triangle with paper in it", []geom.Polyline{line(-20, 0, 50, 0), line(-10, -10, 20, 50), line(40, -10, 10, 50)}, geom.Topology{Parts: 1, Ends: 6, Junctions: 3, Loops: 1}},
		// The three lines cross within 3 mm of each other; the circle in their
		// triangle is 0.9 mm in radius, less than half the pen.
		{"a triangle filled with ink", []geom.Polyline{line(-30, 0, 30, 0), line(-16, -25, 17, 32.157), line(16, -25, -17, 32.157)}, geom.Topology{Parts: 1, Ends: 6, Junctions: 3}},
		// About a circle of 1.15 mm it shows 0.12 mm² of paper, a speck; about one of
		// 1.24 mm it shows 0.29 mm².
		{"a triangle with a speck in it", []geom.Polyline{line(-30, 0, 30, 0), line(-16, -24.262, 17, 32.895), line(16, -24.262, -17, 32.895)}, geom.Topology{Parts: 1, Ends: 6, Junctions: 3}},
		{"a triangle with more in it", []geom.Polyline{line(-30, 0, 30, 0), line(-16, -24, 17, 33.157), line(16, -24, -17, 33.157)}, geom.Topology{Parts: 1, Ends: 6, Junctions: 3, Loops: 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, Inked(c.strokes, 2).Topology())
		})
	}
}
