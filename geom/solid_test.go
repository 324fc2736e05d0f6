package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
		{"turned", a.Moved(30, Pt(5, -3)), 100}, {"upended", a.Upended(), 100}, {"square grown", a.GrowSquare(1), 144},
		{"grown", a.Grow(2), 100 + 4*20 + math.Pi*4}, {"shrunk", a.Grow(-2), 36}, {"opened away", Box(0, 0, 10, 0.4).Opened(0.5), 0},
		{"round box", RoundBox(0, 0, 10, 10, 2), 100 - 16 + math.Pi*4},
	} {
		// A circle of 2 mm loses two thirds of the chord's stray along its length.
		t.Run(c.name, func(t *testing.T) { assert.InDelta(t, c.want, c.p.Size(), 2*math.Pi*2*chord*2/3+0.01) })
	}
	assert.True(t, a.Contains(Pt(1, 1)))
	assert.False(t, a.Contains(Pt(11, 1)))
	assert.True(t, a.Covers(Box(1, 1, 2, 2)))
	assert.Len(t, a.Or(Box(20, 0, 30, 10)).Parts(), 2)
	assert.Equal(t, Pt(5, 5), a.Centroid())
}

// An arc by cubics strays from its circle by less than 5 millionths of the
// radius, as its comment says, and its length is radius times angle.
func TestArcCubics(t *testing.T) {
	for _, angle := range []float64{10, 45, 90, 180, 359, -120} {
		cs := ArcCubics(Pt(3, 4), Pt(53, 4), angle)
		for _, c := range cs {
			for i := range 50 {
				assert.InDelta(t, 50, c.At(float64(i)/49).Dist(Pt(3, 4)), 50*5e-6)
			}
		}
		assert.InDelta(t, Radians(math.Abs(angle))*50, NewRuler(Curve{Pieces: cs}).Length(), 0.01)
		s, c := math.Sincos(Radians(angle))
		assert.InDelta(t, 0, cs[len(cs)-1][3].Dist(Pt(3+50*c, 4+50*s)), 1e-9)
		assert.InDelta(t, 1.0/50, math.Abs(cs[0].Curvature(0.5)), 1e-5)
	}
}

func TestRuler(t *testing.T) {
	square := Lines(Pt(0, 0), Pt(10, 0), Pt(10, 10), Pt(0, 10), Pt(0, 0))
	r := NewRuler(square)
	assert.InDelta(t, 40, r.Length(), 1e-9)
	for _, c := range []struct {
		name string
		a, b float64
		from Point
		to   Point
	}{
		{"within a side", 2, 7, Pt(2, 0), Pt(7, 0)}, {"round a corner", 5, 15, Pt(5, 0), Pt(10, 5)},
		{"through the start", 35, 45, Pt(0, 5), Pt(5, 0)}, {"before the start", -5, 5, Pt(0, 5), Pt(5, 0)}, {"all", 0, 40, Pt(0, 0), Pt(0, 0)},
	} {
		t.Run(c.name, func(t *testing.T) {
			ps := r.Sub(c.a, c.b)
			assert.InDelta(t, 0, ps[0][0].Dist(c.from), 1e-9)
			assert.InDelta(t, 0, ps[len(ps)-1][3].Dist(c.to), 1e-9)
			assert.InDelta(t, c.b-c.a, Curve{Pieces: ps}.Length(), 1e-6)
			for i := 1; i < len(ps); i++ {
				assert.InDelta(t, 0, ps[i-1][3].Dist(ps[i][0]), 1e-9)
			}
		})
	}
}

func TestJoin(t *testing.T) {
	for _, c := range []struct {
		name   string
		curves []Curve
		ends   int
		meets  int // knots of three and more arms
		stops  []int
	}{
		{"one line", []Curve{Lines(Pt(0, 0), Pt(10, 0))}, 2, 0, []int{2}},
		{"T, a little short", []Curve{Lines(Pt(0, 0), Pt(20, 0)), Lines(Pt(10, 0.05), Pt(10, 10))}, 3, 1, []int{3, 2}},
		{"crossing", []Curve{Lines(Pt(0, 0), Pt(20, 20)), Lines(Pt(0, 20), Pt(20, 0))}, 4, 1, []int{3, 3}},
		{"corner of two lines", []Curve{Lines(Pt(0, 0), Pt(10, 0)), Lines(Pt(10, 0.03), Pt(10, 10))}, 2, 0, []int{2, 2}},
		{"circle with a spoke", []Curve{Arc(Pt(0, 0), 10, 0, 360), Lines(Pt(10, 0), Pt(30, 0))}, 1, 1, []int{2, 2}},
		{"figure eight", []Curve{{Pieces: []Cubic{{Pt(0, 0), Pt(30, 30), Pt(30, -30), Pt(0, 0)}, {Pt(0, 0), Pt(-30, 30), Pt(-30, -30), Pt(0, 0)}}, Closed: true}}, 0, 1, []int{3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Join(c.curves, 0.1)
			ends, meets := 0, 0
			for _, k := range got.Knots {
				switch {
				case k.Degree == 1:
					ends++
				case k.Degree > 2:
					meets++
				}
			}
			assert.Equal(t, c.ends, ends)
			assert.Equal(t, c.meets, meets)
			var stops []int
			for _, k := range got.Curves {
				stops = append(stops, len(k.Stops))
				for _, s := range k.Stops {
					at := k.Pieces[len(k.Pieces)-1][3]
					if s.Piece < len(k.Pieces) {
						at = k.Pieces[s.Piece][0]
					}
					assert.InDelta(t, 0, at.Dist(got.Knots[s.Knot].At), 1e-9)
				}
			}
			assert.Equal(t, c.stops, stops)
		})
	}
}
