package pipeline

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/rules"
)

// Corners stay corners of a line that was made larger or smaller to suit whole cuts of strip: the strip is cut in them, not
// beside them, where it would be folded.
func TestCornersOnFittedLines(t *testing.T) {
	drop := geom.Lines(geom.Pt(100, 0), geom.Pt(160, 180), geom.Pt(40, 180), geom.Pt(100, 0))
	for _, k := range []float64{0.97, 0.99, 1, 1.01, 1.03} {
		line := geom.Join([]geom.Curve{drop}, 0.01).Mapped(func(p geom.Point) geom.Point {
			return geom.Pt(100, 90).Lerp(p, k)
		})
		got := cornersOn(line, []rules.Bend{
			{Curve: 0, At: geom.Pt(100, 0), Turn: 143}, {Curve: 0, At: geom.Pt(160, 180), Turn: 108},
			{Curve: 0, At: geom.Pt(130, 90), Turn: 60}, // a bend without a corner near by
			{Curve: 0, At: geom.Pt(40, 180), Turn: 108, Rounded: true},
		})
		require.Len(t, got, 3, "%g", k)
		r := geom.NewRuler(line.Curves[0])
		assert.InDelta(t, 0, r.At(got[0].Along).Dist(geom.Pt(100, 90).Lerp(geom.Pt(100, 0), k)), 1e-9)
		assert.InDelta(t, 0, r.At(got[1].Along).Dist(geom.Pt(100, 90).Lerp(geom.Pt(160, 180), k)), 1e-9)
		assert.Less(t, r.At(got[2].Along).Dist(geom.Pt(130, 90)), 2.0)
		assert.Equal(t, 143.0, got[0].Turn)
	}
}
