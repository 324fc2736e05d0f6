package pipeline_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// Overlays lie over one picture: strip on its lines, though its size was fitted since; each has
// nothing until its stage has run.
func TestOverlays(t *testing.T) {
	t.Parallel()
	r := signOf(t, twoLines(), 200, "", settings(t, "tilt=0", "strip-cut=50"))
	require.NotEqual(t, geom.Pt(1, 1), stage.Of[pipeline.StripsFound](r.Results).Fit.Size, "or there is nothing to test")
	line := stage.Of[pipeline.BendsFound](r.Results).Line
	named := map[string][]pipeline.OverlayPath{}
	for _, o := range pipeline.Overlays() {
		named[o.Name] = o.Paths(r.Results)
		assert.Nil(t, o.Paths(stage.Results{}), o.Name)
		for _, p := range named[o.Name] {
			assert.Regexp(t, `^M[\d.-]+ [\d.-]+( [LC][\d. -]+)*( Z)?$`, p.Data)
		}
	}
	assert.Len(t, named["lines"], len(line.Curves))
	assert.Len(t, named["channels"], len(line.Curves))
	assert.NotEmpty(t, named["wires"])
	names := map[string]bool{}
	for _, p := range named["outlines"] {
		names[p.Text] = true
	}
	assert.Equal(t, map[string]bool{"channel 1": true, "channel 2": true, "backboard": true}, names)
	assert.Len(t, named["bed"], 1+len(stage.Of[pipeline.BedsFound](r.Results).Cuts))
	pieces := 0
	for _, p := range named["strip"] {
		var at geom.Point
		if p.Width == 0 || p.Pen < 0 {
			continue
		}
		pieces++
		_, err := fmt.Sscanf(p.Data, "M%f %f", &at.X, &at.Y)
		require.NoError(t, err)
		near := 1e9
		for _, c := range line.Curves {
			_, d := geom.NewRuler(c).Nearest(at)
			near = min(near, d)
		}
		assert.Less(t, near, 0.3, "%s begins on its line", p.Text)
	}
	assert.Positive(t, pieces)
}
