package solid

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// Triangles make up the polygon: as many as Euler's formula says, of its area.
func TestTriangulated(t *testing.T) {
	holed := geom.Region{{Outline: geom.Ring{{X: 0, Y: 0}, {X: 30, Y: 0}, {X: 30, Y: 20}, {X: 0, Y: 20}}, Holes: []geom.Ring{{{X: 5, Y: 5}, {X: 5, Y: 10}, {X: 10, Y: 10}, {X: 10, Y: 5}}, {{X: 20, Y: 5}, {X: 20, Y: 10}, {X: 25, Y: 10}}}}}
	plans := []Plan{Box(0, 0, 10, 5), PlanOf(holed), Disc(geom.Pt(3, 4), 20).Less(Box(0, 0, 1, 1))}
	want := []int{2, 4 + 4 + 3 + 2*2 - 2, 0}
	var polygons []*geos.Geom
	for _, p := range plans {
		polygons = append(polygons, p.g)
	}
	got := triangulated(polygons)
	require.Len(t, got, len(plans))
	for i, p := range plans {
		require.NoError(t, got[i].err)
		if want[i] > 0 {
			assert.Len(t, got[i].corners, want[i])
		}
		sum := 0.0
		for _, c := range got[i].corners {
			sum += math.Abs(geom.Ring(c[:]).Area())
		}
		assert.InDelta(t, p.Size(), sum, 1e-9)
	}
	_, err := triangles([]byte("no polygon"))
	assert.Error(t, err)
}

// Ribbons worked out at once are those worked out one by one, and no smaller than
// their corners' stray makes them.
func TestRibbons(t *testing.T) {
	lines := []geom.Polyline{{{X: 0, Y: 0}, {X: 50, Y: 0}, {X: 60, Y: 30}}, {{X: 20, Y: -20}, {X: 20, Y: 40}}}
	all := Ribbons(lines, 3.5, 2.5, 1)
	require.Len(t, all, 3)
	for i, r := range []float64{3.5, 2.5, 1} {
		assert.Equal(t, Ribbon(lines, r).Region(), all[i].Region())
	}
	assert.InDelta(t, 50*2+math.Pi, Ribbon([]geom.Polyline{{{X: 0, Y: 0}, {X: 50, Y: 0}}}, 1).Size(), 2*math.Pi*chord)
	assert.True(t, Ribbons(nil, 2)[0].Empty())
}
