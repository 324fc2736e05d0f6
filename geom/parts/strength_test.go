package parts

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// A beam of 12 by 6 mm has W = 12·6²/6 = 72 mm³ and bears 30 MPa · 72 mm³.
func TestBearing(t *testing.T) {
	assert.InDelta(t, 2160, bearing(12, 6), 1e-9)
	assert.InDelta(t, 6, thickFor(2160, 12), 1e-9)
}

// A bridge is as thick as what hangs on it asks for, clear of the channels and of its wires.
func TestBridgesBear(t *testing.T) {
	for _, c := range []struct {
		name  string
		reach float64 // mm of the line that hangs on the bridge
		note  string
	}{
		{"little hangs on it", 10, ""},
		{"a long line", 60, ""},
		{"a very long one", 400, "--bridge-width"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := join(line(-60, 0, 60, 0), line(0, 15, 0, 15+c.reach))
			sign, err := Build(in, nil, Default())
			require.NoError(t, err)
			board := part(t, sign, NameBackboard)
			z := 0.0
			for _, l := range board.Solid {
				if !l.Plan.Empty() {
					z = max(z, l.Z1)
				}
			}
			free := 15 - 2*3.5 - 2*0.2 // of the bridge, in the open
			assert.Positive(t, free)
			need := math.Sqrt(6 * 3 * 10 * c.reach / (30 * 8)) // all its width; wires leave less
			assert.GreaterOrEqual(t, z, min(max(3, need), 12)-1e-6)
			assert.LessOrEqual(t, z, 12.0)
			assert.False(t, board.Solid.At(4).Contains(geom.Pt(0, 2)), "no rib in a channel")
			assert.Equal(t, c.note != "", strings.Contains(strings.Join(sign.Notes, " "), "--bridge-width"), sign.Notes)
		})
	}
}

// A board that covers all is thicker at a bridge where it would not bear what hangs there, and only there.
func TestBoardsBear(t *testing.T) {
	for _, c := range []struct {
		name  string
		board Board
		reach float64 // mm of the line that hangs on the bridge
		more  bool
	}{
		{"solid, little hangs on it", BoardSolid, 10, false},
		{"solid, a long line", BoardSolid, 90, true},
		{"ribs, little hangs on them", BoardRibs, 10, false},
		{"ribs, a long line", BoardRibs, 90, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := Default()
			set.Board = c.board
			sign, err := Build(join(line(-60, 0, 60, 0), line(0, 15, 0, 15+c.reach)), nil, set)
			require.NoError(t, err)
			board := part(t, sign, NameBackboard).Solid
			assert.Equal(t, c.more, !board.At(set.BoardThick+0.1).Empty())
			if c.more {
				open := board.At(set.BoardThick + 0.1)
				assert.Greater(t, open.Bounds().Min.Y, 3.5, "clear of the channel below")
				assert.False(t, open.Contains(geom.Pt(0, 15-3.4)), "and of that above")
			}
		})
	}
}

// Several weak bridges are one note, with the width that does for all.
func TestWeakBridgesAreOneNote(t *testing.T) {
	sign, err := Build(join(line(-60, 0, 60, 0), line(-50, 15, -50, 400), line(50, 15, 50, 300)), nil, Default())
	require.NoError(t, err)
	var told []string
	for _, n := range sign.Notes {
		if strings.Contains(n, "--bridge-width") {
			told = append(told, n)
		}
	}
	require.Len(t, told, 1, sign.Notes)
	assert.Regexp(t, `^the bridges at x .*; x .* mm bear, the weakest of them, a push of `, told[0])
}

// A foot that would break is told of, with the width that holds.
func TestFootBears(t *testing.T) {
	tall := join(line(0, 0, 0, 600))
	s := Default()
	s.Tilt = 1
	sign, err := Build(tall, nil, s)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(sign.Notes, " "), "the foot bears a push of")
	low := join(line(0, 0, 0, 100))
	sign, err = Build(low, nil, s)
	require.NoError(t, err)
	assert.NotContains(t, strings.Join(sign.Notes, " "), "the foot bears")
}
