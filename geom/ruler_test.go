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

// Places along an open line of 10, 5 and 8 mm and along a ring.
func TestRulerPlaces(t *testing.T) {
	line := Lines(Pt(0, 0), Pt(10, 0), Pt(10, 5), Pt(2, 5))
	r := NewRuler(line)
	for _, c := range []struct {
		name    string
		s       float64
		at      Point
		heading Point
	}{
		{"before the start", -3, Pt(0, 0), Pt(1, 0)},
		{"on the first piece", 4, Pt(4, 0), Pt(1, 0)},
		{"in a corner, as the piece before", 10, Pt(10, 0), Pt(1, 0)},
		{"on the second", 12, Pt(10, 2), Pt(0, 1)},
		{"on the third", 20, Pt(5, 5), Pt(-1, 0)},
		{"past the end", 99, Pt(2, 5), Pt(-1, 0)},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, 0, r.At(c.s).Dist(c.at), 1e-9)
			assert.InDelta(t, 0, r.Heading(c.s).Dist(c.heading), 1e-9)
			s, d := r.Nearest(c.at.Add(c.heading.Perp().Mul(-0.5)))
			assert.InDelta(t, min(max(c.s, 0), 23), s, 1e-6)
			assert.InDelta(t, 0.5, d, 1e-6)
		})
	}
	assert.InDeltaSlice(t, []float64{0, 10, 15, 23}, []float64{r.Piece(0), r.Piece(1), r.Piece(2), r.Piece(3)}, 1e-9)
	assert.Len(t, r.Sub(10, 15), 1, "from knot to knot it is that piece alone")
	ring := NewRuler(Arc(Pt(0, 0), 10, 0, 360))
	l := ring.Length()
	for _, s := range []float64{3, 3 + l, 3 - l, 3 + 2*l, 3 - 2*l} {
		assert.InDelta(t, 0, ring.At(s).Dist(Pt(10*math.Cos(0.3), 10*math.Sin(0.3))), 0.002, "%g", s)
	}
	assert.InDelta(t, 0, ring.At(l).Dist(Pt(10, 0)), 1e-9)
	round := Curve{Pieces: ring.Sub(l+2, l+5)}
	assert.InDelta(t, 3, round.Length(), 1e-3, "wholly in the next round")
	assert.InDelta(t, 0, round.Pieces[0][0].Dist(ring.At(2)), 1e-9)
	i, s, d := NearestOf([]*Ruler{r, ring}, Pt(0, 11))
	assert.Equal(t, 1, i)
	assert.InDelta(t, l/4, s, 0.01)
	assert.InDelta(t, 1, d, 1e-3)
	i, _, d = NearestOf(nil, Pt(0, 0))
	assert.Equal(t, -1, i)
	assert.True(t, math.IsInf(d, 1))
}

// A ring moved outwards all round is a larger ring, smooth also where it starts; a corner stays one.
func TestDisplaced(t *testing.T) {
	ring := NewRuler(Arc(Pt(0, 0), 20, 0, 360))
	out := ring.Displaced(func(s float64) Point {
		k, c := math.Sincos(s / 20)
		return Pt(5*c, 5*k)
	})
	for i, p := range out.Pieces {
		for x := range 11 {
			assert.InDelta(t, 25, p.At(float64(x)/10).Norm(), 0.02)
		}
		next := out.Pieces[(i+1)%len(out.Pieces)]
		assert.Less(t, p.Heading(1).Angle(next.Heading(0)), 1e-6)
		assert.Less(t, p[3].Perp().Angle(p.Heading(1)), 0.1, "as the circle heads there")
	}
	corner := NewRuler(Lines(Pt(0, 0), Pt(10, 0), Pt(10, 10)))
	out = corner.Displaced(func(s float64) Point { return Pt(0, s/10) })
	assert.InDelta(t, 0, out.Pieces[0][3].Dist(Pt(10, 1)), 1e-9)
	assert.InDelta(t, 0, out.Pieces[1][3].Dist(Pt(10, 12)), 1e-9)
	assert.InDelta(t, 0, out.Pieces[0][2].Dist(Pt(20.0/3, 2.0/3)), 1e-9, "the handles go along")
	assert.InDelta(t, 0, out.Pieces[1][1].Dist(Pt(10, 10.0/3+4.0/3)), 1e-9)
	// A joint of two straight pieces that is bent by what moves them is made smooth again.
	straight := NewRuler(Lines(Pt(0, 0), Pt(10, 0), Pt(20, 0)))
	out = straight.Displaced(func(s float64) Point { return Pt(0, math.Abs(s-10)/5) })
	a, b := out.Pieces[0].Heading(1), out.Pieces[1].Heading(0)
	assert.Less(t, a.Angle(b), 1e-6)
	assert.Less(t, a.Angle(Pt(1, 0)), 1e-6)
	assert.InDelta(t, math.Hypot(10.0/3, 2.0/3), out.Pieces[0][2].Dist(out.Pieces[0][3]), 1e-9, "handles keep their length")
}

// Arcs go either way round, at most 45 degrees a piece, and close only if they are whole.
func TestArcEnds(t *testing.T) {
	for _, c := range []struct {
		from, to float64
		pieces   int
		closed   bool
	}{{0, 45, 1, false}, {0, 46, 2, false}, {30, -60, 2, false}, {0, 360, 8, true}, {90, -270, 8, true}, {10, 10, 1, false}} {
		a := Arc(Pt(1, 2), 10, c.from, c.to)
		at := func(deg float64) Point {
			s, k := math.Sincos(Radians(deg))
			return Pt(1+10*k, 2+10*s)
		}
		assert.Len(t, a.Pieces, c.pieces, "%v", c)
		assert.Equal(t, c.closed, a.Closed, "%v", c)
		assert.InDelta(t, 0, a.Pieces[0][0].Dist(at(c.from)), 1e-9)
		assert.InDelta(t, 0, a.Pieces[len(a.Pieces)-1][3].Dist(at(c.to)), 1e-9)
		assert.InDelta(t, 0, NewRuler(a).At(NewRuler(a).Length()/2).Dist(at((c.from+c.to)/2)), 0.01)
		if c.closed {
			assert.Equal(t, a.Pieces[0][0], a.Pieces[len(a.Pieces)-1][3])
		}
	}
}
