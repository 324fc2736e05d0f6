package pipeline_test

import (
	"fmt"
	"math"
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

// The bed lies about the sign as the sign lies on the bed: a line too long for it but along its diagonal
// is all on it.
func TestOverlayOfTurnedBed(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(10, 100), geom.Pt(190, 100))}, 0.05)
	r := signOf(t, line, 200, "", settings(t, "bed-width=150", "bed-depth=150", "hold=none"))
	f := stage.Of[pipeline.BedsFound](r.Results)
	require.Empty(t, f.Cuts, "or there is nothing to test")
	var bed pipeline.Overlay
	for _, o := range pipeline.Overlays() {
		if o.Name == "bed" {
			bed = o
		}
	}
	paths := bed.Paths(r.Results)
	require.Len(t, paths, 1)
	var a, b, c, d geom.Point
	_, err := fmt.Sscanf(paths[0].Data, "M%f %f L%f %f L%f %f L%f %f", &a.X, &a.Y, &b.X, &b.Y, &c.X, &c.Y, &d.X, &d.Y)
	require.NoError(t, err, paths[0].Data)
	assert.InDelta(t, 150, a.Dist(b), 0.5)
	assert.InDelta(t, 150, b.Dist(c), 0.5)
	assert.Less(t, a.Lerp(c, 0.5).Dist(geom.Pt(100, 100)), 12.0, "the sign lies in its middle")
	for _, end := range []geom.Point{{X: 10, Y: 100}, {X: 190, Y: 100}} {
		for _, side := range [][2]geom.Point{{a, b}, {b, c}, {c, d}, {d, a}} {
			along := side[1].Sub(side[0]).Unit()
			assert.Greater(t, math.Abs(along.Cross(end.Sub(side[0]))), 3.5, "half a channel inside of each edge")
			assert.Positive(t, along.Cross(end.Sub(side[0]))*along.Cross(geom.Pt(100, 100).Sub(side[0])))
		}
	}
}
