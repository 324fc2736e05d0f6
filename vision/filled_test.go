package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// passes are a line drawn twice: two passes that part by up to gap px at the middle of
// each of the bulges.
func passes(a, b geom.Point, gap float64, bulges int) []geom.Polyline {
	out := make([]geom.Polyline, 2)
	across := b.Sub(a).Unit().Perp()
	for k, side := range []float64{1, -1} {
		for i := range 201 {
			t := float64(i) / 200
			off := side * gap / 2 * math.Abs(math.Sin(math.Pi*t*float64(bulges)))
			out[k] = append(out[k], a.Lerp(b, t).Add(across.Mul(off)))
		}
	}
	return out
}

// A marker goes over its line again and leaves slivers of paper; it once became two
// lines with islands. What is a loop of the drawing stays one.
func TestLinesDrawnTwice(t *testing.T) {
	for _, c := range []struct {
		name    string
		lines   []geom.Polyline
		pen     float64
		want    geom.Topology
		slivers int
	}{
		{"two slivers along a line", append(passes(geom.Pt(200, 350), geom.Pt(700, 350), 22, 2), pl(100, 350, 200, 350), pl(700, 350, 800, 350)), 16, geom.Topology{Parts: 1, Ends: 2}, 2},
		{"passes that meet at the line's end", append(passes(geom.Pt(200, 350), geom.Pt(500, 350), 22, 1), pl(500, 350, 800, 350)), 16, geom.Topology{Parts: 1, Ends: 2}, 1},
		{"two lines that are meant", append(passes(geom.Pt(200, 350), geom.Pt(700, 350), 60, 1), pl(100, 350, 200, 350), pl(700, 350, 800, 350)), 16, geom.Topology{Parts: 1, Ends: 2, Junctions: 2, Loops: 1}, 0},
		{"a small round loop on a line", []geom.Polyline{arcLine(450, 350, 16, 0, 360), pl(466, 350, 800, 350), pl(434, 350, 100, 350)}, 16, geom.Topology{Parts: 1, Ends: 2, Junctions: 2, Loops: 1}, 0},
		{"a narrow loop whose line meets itself at a sharp angle", []geom.Polyline{append(append(pl(380, 600, 445, 420, 455.5, 200), arcLine(450, 200, 5.5, 0, -180)...), pl(444.5, 200, 455, 420, 520, 600)...)}, 7, geom.Topology{Parts: 1, Ends: 2, Junctions: 2, Loops: 1}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, tr := traceThinned(t, scene{w: 900, h: 700, pen: c.pen, colour: [3]uint8{30, 30, 30}, lines: c.lines})
			assert.Equal(t, c.want, tr.Topology())
			assert.Len(t, l.Slivers, c.slivers)
			assert.Empty(t, l.Areas)
		})
	}
}

// traceThinned is traceScene by way of ThinInk.
func traceThinned(t *testing.T, s scene) (Lines, Tracing) {
	t.Helper()
	ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	before := ink.Mask.Count()
	l, err := ThinInk(ink, scenePxPerMm)
	require.NoError(t, err)
	assert.Equal(t, before, ink.Mask.Count(), "the ink given stays as it is")
	tr, err := Trace(l.Ink, l.Skeleton, scenePxPerMm, DefaultTrace())
	require.NoError(t, err)
	return l, tr
}

// An area filled with ink has no middle line; its outline is followed, half a pen's width
// within its edge.
func TestFilledArea(t *testing.T) {
	const pen, radius = 10.0, 45.0
	l, tr := traceThinned(t, scene{
		w: 900, h: 700, pen: pen, colour: [3]uint8{30, 30, 30}, lines: []geom.Polyline{pl(100, 350, 400, 350)},
		dots: []geom.Point{{X: 440, Y: 350}}, dotPx: 2 * radius,
	})
	require.Len(t, l.Areas, 1)
	assert.Less(t, l.Areas[0].At.Dist(geom.Pt(440, 350)), 3.0, "px")
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 1, Junctions: 1, Loops: 1}, tr.Topology())
	ring := []geom.Polyline{arcLine(440, 350, radius-pen/2, 0, 360)}
	assert.Less(t, missed(tr, ring), 2.5, "px")
}
