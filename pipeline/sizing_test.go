package pipeline

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/strip"
)

// darkBut stays dark by 100 mm for each 1 % that a size is off the one that leaves nothing dark.
func darkBut(best geom.Point, tried *[]geom.Point) func(geom.Point) (StripsFound, error) {
	return func(size geom.Point) (StripsFound, error) {
		*tried = append(*tried, size)
		f := StripsFound{Fit: LengthsFit{Size: size}}
		if off := 1e4 * size.Dist(best); off > 3 {
			f.Dark = []strip.Dark{{Length: off}}
		}
		return f, nil
	}
}

// From the best of a few sizes it goes on step by step to one between them that leaves nothing dark.
func TestSizingClimbs(t *testing.T) {
	best, fit := geom.Pt(1.005, 0.997), strip.Fit{Size: 0.02}
	var tried []geom.Point
	z := sizing{at: darkBut(best, &tried), least: math.Inf(1)}
	for _, at := range []geom.Point{{X: 1, Y: 1}, {X: 1.008, Y: 1}} { // one by one, as two at once would race for tried
		require.NoError(t, z.all([]geom.Point{at}))
	}
	assert.Equal(t, geom.Pt(1.008, 1), z.best.Fit.Size)
	require.Len(t, tried, 2)
	require.NoError(t, z.all([]geom.Point{{X: 1, Y: 1}}))
	require.Len(t, tried, 2, "no size is tried twice")
	z.at = func(size geom.Point) (StripsFound, error) { return darkBut(best, new([]geom.Point))(size) } // for each its own
	require.NoError(t, z.climb(fit))
	assert.Zero(t, z.least)
	assert.InDelta(t, 0, z.best.Fit.Size.Dist(best), 1e-6)
	assert.Empty(t, z.best.Dark)

	z = sizing{at: z.at, least: math.Inf(1)}
	require.NoError(t, z.all([]geom.Point{{X: 1.019, Y: 0.997}}))
	best.X = 1.05
	require.NoError(t, z.climb(fit))
	assert.InDelta(t, 1.02, z.best.Fit.Size.X, 0.0011, "never by more than may be")

	bad := errors.New("no such size")
	z = sizing{at: func(geom.Point) (StripsFound, error) { return StripsFound{}, bad }, least: math.Inf(1)}
	assert.ErrorIs(t, z.all([]geom.Point{{X: 1, Y: 1}, {X: 1, Y: 1.002}}), bad)
}
