package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline/specimen"
)

// A made photograph of one drawing serves as a real one: its ink goes, another drawing is
// put in its place, and is traced as if it had been drawn there.
func TestDrawnOntoPhotograph(t *testing.T) {
	plain := specimen.Plain(nil, 0)
	first, second := plain[0], plain[1].Onto(plain[0].Sheet)
	view := specimen.PlainViews()[1]
	view.Width = 2400
	old, err := specimen.Take(first, specimen.White(), view)
	require.NoError(t, err)

	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "truth"), 0o755))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "photos"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "photos", "a.jpg"), old.JPEG, 0o644))
	var corners [][2]float64
	for _, c := range old.Truth.Corners {
		corners = append(corners, [2]float64{c.X, c.Y})
	}
	for name, paper := range map[string]string{"a": "plain", "b": "ruled"} {
		data, err := json.Marshal(map[string]any{"file": "a.jpg", "paper": paper, "corners": corners})
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "truth", name+".json"), data, 0o644))
	}
	files, err := backdropFiles(dir)
	require.NoError(t, err)
	require.Len(t, files, 1, "plain paper only")

	photo, ok, err := files[0].take(second, 1)
	require.NoError(t, err)
	require.True(t, ok)
	r, err := traced(photo)
	require.NoError(t, err)
	s := compared(photo, r)
	assert.Equal(t, s.Want, s.Got, "nothing is left of the first drawing")
	assert.Less(t, s.Median, 0.1, "mm")
	assert.InDelta(t, 0, s.ScaleError, 0.003)

	b, err := specimen.NewBackdrop("a", old.JPEG, old.Truth.Corners)
	require.NoError(t, err)
	assert.InDelta(t, view.Blur, b.Blur, 0.5, "px")

	second.PenWidth = 0.1
	_, ok, err = files[0].take(second, 1)
	require.NoError(t, err)
	assert.False(t, ok, "too fine to be seen")
}
