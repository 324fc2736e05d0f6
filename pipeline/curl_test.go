package pipeline_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline"
	"inkchannel/pipeline/specimen"
)

// A sheet whose edges lift off the table is laid flat: what is drawn on it comes
// out where it was drawn, by the photographer's own account of bent paper.
func TestBowedSheet(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name       string
		curl, tilt float64
		bowed      bool
	}{
		{"flat", 0, 12, false},
		{"edges lifted 2 mm", 2, 4, true},
		{"edges lifted 4 mm, tilted", 4, 12, true},
		{"edges lifted 8 mm", 8, 8, true},
		{"middle lifted 5 mm", -5, 8, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			v := specimen.PlainViews()[0]
			v.Curl, v.Tilt, v.Azimuth, v.Width = c.curl, c.tilt, 70, 3000
			p := photo(t, specimen.Demo(), specimen.White(), func(w *specimen.View) { *w = v })
			r := mustRunTo(t, p.JPEG, pipeline.DefaultSettings(), pipeline.StageCentreline)
			assert.Equal(t, c.bowed, r.Sheet.Bowed)
			s := p.Truth.Compare(flat(r.Centreline), r.Strokes.Topology(), r.Size)
			assert.True(t, s.TopologyRight)
			assert.Less(t, s.Median, 0.25) // the fit leaves 0.20 of the most lifted
			assert.Less(t, s.P95, 0.5)
			for i, q := range p.Truth.DotsPx { // to the photo and back
				at := r.Sheet.FromPhoto(q)
				assert.Less(t, r.Sheet.InPhoto(at).Dist(q), 0.05, i)
			}
		})
	}
}

// In dim light the first guess of a corner may be some 15 px off, beyond what the
// lines through the edges look for; the sheet is found all the same.
func TestDimSheet(t *testing.T) {
	t.Parallel()
	set, err := specimen.NewWideSet("../testdata/npm", 500)
	require.NoError(t, err)
	const number = 457
	d, _, err := set.Drawing(number)
	require.NoError(t, err)
	c := specimen.Conditions(number)[5]
	require.Equal(t, "dim, warm, noisy", c.Name)
	p, err := specimen.Ink(d, number).Take(c.Paper, c.View)
	require.NoError(t, err)
	r := mustRunTo(t, p.JPEG, pipeline.DefaultSettings(), pipeline.StageDots)
	assert.False(t, r.Sheet.Bowed)
	for i, q := range p.Truth.Corners {
		assert.Less(t, r.Sheet.Corners[i].Dist(q), 1.5, i)
	}
	assert.Empty(t, r.Doubts())
}

// The lens's barrel or pincushion bends the edges of a flat sheet, all four alike: it
// is taken out, and is no bow.
func TestLens(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		k1, k2, tilt float64
		curl         float64
	}{
		{"barrel", -0.02, 0, 8, 0},
		{"pincushion, tilted", 0.015, 0, 18, 0},
		{"barrel with its rim drawn back", -0.03, 0.01, 4, 0},
		{"barrel, edges lifted", -0.02, 0, 8, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			v := specimen.PlainViews()[0]
			v.K1, v.K2, v.Tilt, v.Azimuth, v.Curl, v.Width = c.k1, c.k2, c.tilt, 70, c.curl, 3000
			p := photo(t, specimen.Demo(), specimen.White(), func(w *specimen.View) { *w = v })
			r := mustRunTo(t, p.JPEG, pipeline.DefaultSettings(), pipeline.StageCentreline)
			s := p.Truth.Compare(flat(r.Centreline), r.Strokes.Topology(), r.Size)
			t.Log(s.Median, s.P95, r.Steps[1].Found, r.Steps[1].Confidence.Why)
			assert.True(t, s.TopologyRight)
			for i, q := range p.Truth.Corners {
				best := 1e9
				for _, at := range r.Sheet.Corners {
					best = min(best, at.Dist(q))
				}
				assert.Less(t, best, 2.5, i)
			}
			assert.Less(t, s.Median, 0.2)
			assert.Less(t, s.P95, 0.5)
		})
	}
}
