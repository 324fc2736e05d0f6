package solid

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Volumes of boxes joined and cut, and the genus of what is left: elementary
// geometry.
func TestSolid(t *testing.T) {
	block := Solid{{0, 10, Box(0, 0, 40, 20)}}
	for _, c := range []struct {
		name   string
		solid  Solid
		volume float64
		euler  int // 2 − 2·handles
		parts  int
	}{
		{"block", block, 8000, 2, 1},
		{"tower on it", block.Add(10, 15, Box(5, 5, 10, 10)), 8125, 2, 1},
		{"tower through its top", block.Add(8, 15, Box(5, 5, 10, 10)), 8125, 2, 1},
		{"hole through", block.Cut(0, 10, Box(10, 5, 20, 15)), 7000, 0, 1},
		{"pocket", block.Cut(4, 10, Box(10, 5, 20, 15)), 7400, 2, 1},
		{"hollow inside", block.Cut(4, 6, Box(10, 5, 20, 15)), 7800, 4, 2},
		{"tunnel", block.Cut(4, 6, Box(10, -1, 20, 21)), 7600, 0, 1},
		{"below and above", block.Add(-5, -2, Box(50, 0, 60, 10)), 8300, 4, 2},
		{"two that touch in an edge", block.Add(0, 10, Box(40, 20, 50, 30)), 9000, 2, 1},
		{"step that touches in an edge", Solid{{0, 5, Box(0, 0, 10, 10)}, {5, 10, Box(10, 0, 20, 10)}}, 1000, 2, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, c.volume, c.solid.Volume(), 0.01)
			m, err := c.solid.Mesh(0.001)
			require.NoError(t, err)
			s := m.Check()
			require.NoError(t, s.Err())
			assert.InDelta(t, c.volume, s.Volume, 2.5, "where it only touched itself it was thickened")
			assert.InEpsilon(t, m.Surface(), c.solid.Surface(), 0.01)
			assert.Equal(t, c.euler, s.Euler)
			assert.Equal(t, c.parts, s.Parts)
		})
	}
}

func TestPlan(t *testing.T) {
	a, b := Box(0, 0, 10, 10), Box(5, 5, 15, 15)
	for _, c := range []struct {
		name string
		p    Plan
		want float64
	}{
		{"or", a.Or(b), 175}, {"and", a.And(b), 25}, {"less", a.Less(b), 75}, {"union", Union(a, b, Plan{}, Box(100, 0, 101, 1)), 176},
		{"or nothing", a.Or(Plan{}), 100}, {"nothing less", Plan{}.Less(a), 0}, {"touching only", a.And(Box(10, 0, 20, 10)), 0},
		{"turned", a.Moved(30, geom.Pt(5, -3)), 100}, {"upended", a.Upended(), 100}, {"square grown", a.GrowSquare(1), 144},
		{"grown", a.Grow(2), 100 + 4*20 + math.Pi*4}, {"shrunk", a.Grow(-2), 36}, {"opened away", Box(0, 0, 10, 0.4).Opened(0.5), 0},
		{"round box", RoundBox(0, 0, 10, 10, 2), 100 - 16 + math.Pi*4},
	} {
		// A circle of 2 mm loses two thirds of the chord's stray along its length.
		t.Run(c.name, func(t *testing.T) { assert.InDelta(t, c.want, c.p.Size(), 2*math.Pi*2*chord*2/3+0.01) })
	}
	assert.True(t, a.Contains(geom.Pt(1, 1)))
	assert.False(t, a.Contains(geom.Pt(11, 1)))
	assert.True(t, a.Covers(Box(1, 1, 2, 2)))
	assert.Len(t, a.Or(Box(20, 0, 30, 10)).Parts(), 2)
	assert.Equal(t, geom.Pt(5, 5), a.Centroid())
}

// The edges on the printer's bed of what goes into something are drawn in, outlines and holes,
// where it is asked; what is too thin for that stays.
func TestRelieved(t *testing.T) {
	plate := Box(0, 0, 40, 20).Less(Box(10, 5, 20, 15)).Or(Box(50, 0, 50.4, 20))
	s := Solid{{Z0: 0, Z1: 5, Plan: plate}}
	for _, c := range []struct {
		name string
		by   float64
		zone Plan
		at   [3]float64 // area at 0.1, 0.3 and 0.5 mm
	}{
		{"none asked", 0, plate, [3]float64{708, 708, 708}},
		{"nowhere", 0.3, Plan{}, [3]float64{708, 708, 708}},
		{"the hole", 0.3, Box(9, 4, 21, 16), [3]float64{708 - (10.6*10.6 - 100), 708 - (10.3*10.3 - 100), 708}},
		{"all but the hole, the thin wall stays", 0.3, plate.Less(Box(9, 4, 21, 16)), [3]float64{708 - (800 - 39.4*19.4), 708 - (808 - 39.7*19.7 - 0.1*19.7), 708}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := s.Relieved(c.by, c.zone)
			for i, z := range []float64{0.1, 0.3, 0.5} {
				assert.InDelta(t, c.at[i], r.At(z).Size(), 0.5, "at %g mm", z)
			}
			_, err := r.Mesh(0.001)
			assert.NoError(t, err, "watertight")
		})
	}
}
