package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Where a drawing could be read two ways the trace says so, at the place; where
// it could not it is silent. The pen is 1.8 mm broad, 18 px.
func TestTraceDoubts(t *testing.T) {
	for _, c := range []struct {
		name string
		s    scene
		want string // none if empty
		at   geom.Point
	}{
		{"a crossing", inked(pl(150, 350, 750, 350), pl(450, 100, 450, 600)), "", geom.Point{}},
		{"a T", inked(pl(150, 300, 700, 300), pl(420, 300, 420, 600)), "", geom.Point{}},
		{"a ring and a line apart", inked(arcLine(300, 350, 120, 0, 360), pl(600, 100, 600, 600)), "", geom.Point{}},
		{"a small gap", inked(pl(150, 300, 700, 300), pl(420, 330, 420, 600)), "may be meant to meet", geom.Pt(420, 330)},
		{"a wide gap", inked(pl(150, 300, 700, 300), pl(420, 360, 420, 600)), "", geom.Point{}},
		{"a short end", inked(pl(150, 300, 700, 300), pl(420, 282, 420, 600)), "sticks out by", geom.Pt(420, 286)},
		{"bent lines that meet in a tail", inked(arcLine(-147, 150, 600, 0, 50), arcLine(1059, 150, 600, 130, 180)), "tail", geom.Pt(456, 150)},
		{"crossings close together", inked(pl(150, 300, 700, 300), pl(400, 300, 380, 100), pl(418, 300, 438, 500)), "junctions", geom.Pt(409, 300)},
		{"two lines side by side", inked(pl(150, 300, 700, 300), pl(150, 500, 400, 500), pl(150, 512, 400, 512), pl(200, 100, 700, 100)), "side by side", geom.Pt(275, 506)},
		{"lines that touch along a stretch", inked(arcLine(450, 900, 600, 230, 310), arcLine(450, -294, 600, 50, 130)), "run as one", geom.Pt(450, 303)},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := traceScene(t, c.s)
			if c.want == "" {
				assert.Empty(t, tr.Doubts)
				return
			}
			require.NotEmpty(t, tr.Doubts, "%+v", tr.Topology())
			assert.Contains(t, tr.Doubts[0].Why, c.want)
			assert.Less(t, tr.Doubts[0].At.Dist(c.at), 30.0, "%v", tr.Doubts[0].At)
			assert.Positive(t, tr.Doubts[0].Stake)
		})
	}
}
