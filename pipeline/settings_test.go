package pipeline

import (
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/vision"
)

// withCores runs f with Go's number of cores set to n.
func withCores(n int, f func()) {
	old := runtime.GOMAXPROCS(n)
	defer runtime.GOMAXPROCS(old)
	f()
}

func TestSettingsRoundTrip(t *testing.T) {
	s := Default()
	s.Ink.Method = vision.InkMean
	s.Ink.Window = 17.25
	s.Sheet.Corners = []geom.Point{{X: 1, Y: 2}, {X: 30.5, Y: 4}, {X: 5, Y: 60}, {X: 70, Y: 80}}
	s.Sheet.Page = vision.PageLetter
	s.Channel.Rear = 0
	got := Default()
	require.NoError(t, ReadSettings(&got, WriteSettings(s)))
	assert.Equal(t, s, got)

	got = Default()
	require.NoError(t, ReadSettings(&got, WriteSettings(Default())))
	assert.Equal(t, Default(), got)
}

func TestReadSettingsPart(t *testing.T) {
	s := Default()
	require.NoError(t, ReadSettings(&s, []byte("# mine\nchannel:\n  wall: 1.2 # mm\nink:\n")))
	assert.Equal(t, 1.2, s.Channel.Wall)
	assert.Equal(t, Default().Ink, s.Ink)
	require.NoError(t, ReadSettings(&s, nil))
}

func TestReadSettingsErrors(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no YAML", "ink: [", "not valid YAML"},
		{"a list", "- ink\n- dots\n", "line 1: want settings"},
		{"unknown stage", "ink:\n  hole: 1\nchanel:\n  wall: 1\n", `line 3: there is no stage "chanel"`},
		{"unknown setting", "ink:\n  hole: 1\n  hoel: 2\n", `line 3: stage ink has no setting "hoel"`},
		{"setting of another stage", "ink:\n  wall: 1\n", `line 2: stage ink has no setting "wall"`},
		{"no number", "channel:\n  wall: thick\n", `line 2: wall: "thick" is not a number from 0.2 to 20 (mm)`},
		{"out of range", "channel:\n\n  wall: 99\n", "line 3: wall"},
		{"nested", "channel:\n  wall:\n    a: 1\n", "line 2: wall takes one value"},
		{"scalar stage", "channel: 3\n", "line 1: want settings"},
		{"not a choice", "sheet:\n  page: A5\n", `"A5" is none of auto, A4, A3, letter, free`},
		{"too few places", "dots:\n  dots: \"1,2\"\n", "1 places given, 2 are needed"},
		{"no place", "dots:\n  dots: \"1,2 3;4\"\n", `"3;4" is not a place`},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			err := ReadSettings(&s, []byte(c.text))
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// Each setting has a stage, a flag of its own, and takes its own default.
func TestKnobs(t *testing.T) {
	seen := map[string]bool{}
	for _, k := range Knobs() {
		assert.False(t, seen[k.Flag], k.Flag)
		seen[k.Flag] = true
		assert.NotPanics(t, func() { stageIndex(k.Stage) })
		assert.NotEmpty(t, k.Help)
		s := Default()
		assert.NoError(t, k.Set(&s, k.Get(&s)), k.Flag)
		assert.Equal(t, Default(), s, k.Flag)
		assert.Error(t, k.Set(&s, "no such value"), k.Flag)
	}
}
