package pipeline

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline/specimen"
)

// A session tuned to some settings ends as a run with them from the start does,
// whatever was tried before.
func TestSessionEqualsRun(t *testing.T) {
	p := photo(t, specimen.Demo(), specimen.White(), nil)
	s := NewSession(p.JPEG, Default())
	_, err := s.Run(context.Background(), StagePower)
	require.NoError(t, err)
	for _, c := range []struct{ flag, value string }{
		{"bend-radius", "7"}, {"wall", "1.5"}, {"ink-offset", "30"}, {"smooth", "0.2"}, {"hold", "pads"}, {"strip-cut", "20"}, {"ink-offset", "0"},
	} {
		set := s.Settings()
		for _, k := range Knobs() {
			if k.Flag == c.flag {
				require.NoError(t, k.Set(&set, c.value))
			}
		}
		s.Use(set)
		_, err := s.Run(context.Background(), StageChannel)
		require.NoError(t, err)
	}
	got, err := s.Run(context.Background(), StagePower)
	require.NoError(t, err)
	want := mustRun(t, p.JPEG, s.Settings())
	a, err := Summarise(got)
	require.NoError(t, err)
	b, err := Summarise(want)
	require.NoError(t, err)
	assert.Equal(t, string(b), string(a))
	x, err := ThreeMF(got)
	require.NoError(t, err)
	y, err := ThreeMF(want)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(x, y))
}

// Only the changed stage and those after it run again; an error leaves what was
// found before.
func TestSessionKeeps(t *testing.T) {
	p := photo(t, specimen.Demo(), specimen.White(), nil)
	s := NewSession(p.JPEG, Default())
	first, err := s.Run(context.Background(), StageBends)
	require.NoError(t, err)
	set := s.Settings()
	set.Bends.Radius = 9
	s.Use(set)
	_, ok := s.At(StageBends)
	assert.False(t, ok)
	again, err := s.Run(context.Background(), StageBends)
	require.NoError(t, err)
	assert.Same(t, first.Ink, again.Ink, "the ink was not looked for again")
	assert.NotEqual(t, first.Bends, again.Bends)
	at, ok := s.At(StageSpacing)
	require.True(t, ok)
	assert.Len(t, at.Steps, stageIndex(StageSpacing)+1)
	img, err := ReviewImage(at, StageSpacing)
	require.NoError(t, err)
	assert.Greater(t, img.Bounds().Dx(), 1000)
	_, err = ReviewImage(at, StageBends)
	assert.ErrorContains(t, err, "has not run")
	set.Dots.Distance = 60
	s.Use(set)
	_, err = s.Run(context.Background(), StageBends)
	require.Error(t, err)
	_, ok = s.At(StageInk)
	assert.True(t, ok)
	set.Dots.Distance = 100
	s.Use(set)
	_, err = s.Run(context.Background(), StageBends)
	require.NoError(t, err)
}
