package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

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
