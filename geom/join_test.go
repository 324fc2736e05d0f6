package geom

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Fade is the smooth step 3x² − 2x³ turned over: half way at the middle, level at its ends.
func TestFade(t *testing.T) {
	for x, want := range map[float64]float64{-1: 1, 0: 1, 0.25: 0.84375, 0.5: 0.5, 0.75: 0.15625, 1: 0, 2: 0} {
		assert.InDelta(t, want, Fade(x), 1e-12, "%g", x)
	}
}

// knotsOf are a centreline's knots by their degree.
func knotsOf(c Centreline, degree int) (out []Point) {
	for _, k := range c.Knots {
		if k.Degree == degree {
			out = append(out, k.At)
		}
	}
	return out
}

// Where curves that are joined meet.
func TestJoinPlaces(t *testing.T) {
	for _, c := range []struct {
		name   string
		curves []Curve
		ends   []Point // knots of one arm
		bends  []Point // of two
		meets  []Point // of three and more
		curved []int   // pieces of each curve that is left
	}{
		{
			"a T lies on the line that runs through", []Curve{Lines(Pt(0, 0), Pt(20, 0)), Lines(Pt(10, 0.08), Pt(10, 10))},
			[]Point{{0, 0}, {20, 0}, {10, 10}}, nil, []Point{{10, 0}}, []int{2, 1},
		},
		{
			"ends share the mean of their places", []Curve{Lines(Pt(0, 0), Pt(10, 0)), Lines(Pt(10.06, 0), Pt(20, 5)), Lines(Pt(10, 0.03), Pt(10, 9))},
			[]Point{{0, 0}, {20, 5}, {10, 9}}, nil, []Point{{10.02, 0.01}}, []int{1, 1, 1},
		},
		{
			"too far apart", []Curve{Lines(Pt(0, 0), Pt(10, 0)), Lines(Pt(10.11, 0), Pt(20, 5))},
			[]Point{{0, 0}, {10, 0}, {10.11, 0}, {20, 5}}, nil, nil, []int{1, 1},
		},
		{
			"a T near an end is at the end", []Curve{Lines(Pt(0, 0), Pt(20, 0)), Lines(Pt(0.05, 0), Pt(0, 10)), Lines(Pt(19.95, 0), Pt(20, 10))},
			[]Point{{0, 10}, {20, 10}}, []Point{{0.025, 0}, {19.975, 0}}, nil, []int{1, 1, 1},
		},
		{
			"a crossing away from the middle", []Curve{Lines(Pt(0, 0), Pt(20, 0)), Lines(Pt(3, -1), Pt(5, 3))},
			[]Point{{0, 0}, {20, 0}, {3, -1}, {5, 3}}, nil, []Point{{3.5, 0}}, []int{2, 2},
		},
		{
			"side by side on each other", []Curve{Lines(Pt(0, 0), Pt(20, 0)), Lines(Pt(30, 1), Pt(40, 1))},
			[]Point{{0, 0}, {20, 0}, {30, 1}, {40, 1}}, nil, nil, []int{1, 1},
		},
		{
			"a line that crosses itself", []Curve{Lines(Pt(0, 0), Pt(20, 0), Pt(20, 10), Pt(10, 10), Pt(10, -10))},
			[]Point{{0, 0}, {10, -10}}, nil, []Point{{10, 0}}, []int{6},
		},
		{
			"an end that comes to its own side", []Curve{Lines(Pt(0, 0), Pt(20, 0), Pt(20, 10), Pt(10, 10), Pt(10, 0.05))},
			[]Point{{0, 0}}, nil, []Point{{10, 0}}, []int{5},
		},
		{
			"a ring's start is no crossing", []Curve{Lines(Pt(0, 0), Pt(20, 0), Pt(20, 10), Pt(0, 0))},
			nil, []Point{{0, 0}}, nil, []int{3},
		},
		{
			"what is shorter than the tolerance", []Curve{Lines(Pt(0, 0), Pt(20, 0)), Lines(Pt(5, 5), Pt(5.09, 5))},
			[]Point{{0, 0}, {20, 0}}, nil, nil, []int{1},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Join(c.curves, 0.1)
			same := func(want, have []Point) {
				if assert.Len(t, have, len(want)) {
					for _, p := range want {
						near := math.Inf(1)
						for _, q := range have {
							near = min(near, p.Dist(q))
						}
						assert.Less(t, near, 1e-5, "%v in %v", p, have)
					}
				}
			}
			same(c.ends, knotsOf(got, 1))
			same(c.bends, knotsOf(got, 2))
			same(c.meets, append(knotsOf(got, 3), knotsOf(got, 4)...))
			var pieces []int
			for _, k := range got.Curves {
				pieces = append(pieces, len(k.Pieces))
			}
			assert.Equal(t, c.curved, pieces)
		})
	}
}

// A curve whose end is led to a knot gives way over its last 10 mm, or up to the next knot, and not beyond; ink,
// corners and order stay.
func TestJoinLeadsEnds(t *testing.T) {
	post := Lines(Pt(0, -5), Pt(0, 5))
	rail := Curve{Ink: 3, Corners: 1}
	for i := range 20 {
		rail.Pieces = append(rail.Pieces, StraightCubic(Pt(0.4+1.5*float64(i), 0), Pt(1.9+1.5*float64(i), 0)))
	}
	up := post
	up.Pieces = []Cubic{StraightCubic(Pt(-0.1, -5), Pt(-0.1, 5))}
	got := Join([]Curve{up, rail}, 0.5)
	require.Len(t, got.Curves, 2)
	k := got.Curves[1]
	assert.Equal(t, 3, k.Ink)
	assert.Equal(t, 1, k.Corners)
	for i, p := range k.Pieces {
		want := 0.4 + 1.5*float64(i) - 0.5*Fade(1.5*float64(i)/10)
		assert.InDelta(t, want, p[0].X, 1e-4, "piece %d", i)
	}
	// A post in the way 4.4 mm on: all has been given before it.
	got = Join([]Curve{up, rail, Lines(Pt(4.9, -5), Pt(4.9, 5))}, 0.5)
	r := NewRuler(got.Curves[1])
	assert.InDelta(t, -0.1, r.At(0).X, 1e-4)
	require.Len(t, got.Curves[1].Stops, 3)
	assert.InDelta(t, 0, r.At(r.Piece(got.Curves[1].Stops[1].Piece)).Dist(Pt(4.9, 0)), 0.01)
	assert.InDelta(t, 30.5, r.Length(), 1e-3)
	// The same at its other end, which is led 0.1 mm on: nothing moves before the post.
	back := rail.Reversed()
	got = Join([]Curve{up, back, Lines(Pt(4.9, -5), Pt(4.9, 5))}, 0.5)
	r = NewRuler(got.Curves[1])
	assert.InDelta(t, -0.1, r.At(r.Length()).X, 1e-4)
	assert.InDelta(t, 0, r.At(30.4-4.9).Dist(Pt(4.9, 0)), 0.01)
	for x := 6.0; x < 30; x += 3 {
		assert.InDelta(t, x, r.At(30.4-x).X, 1e-3, "beyond the post")
	}
	// The other end, led sideways: half of it half way.
	line := Curve{}
	for i := range 30 {
		line.Pieces = append(line.Pieces, StraightCubic(Pt(float64(i), 0), Pt(float64(i+1), 0)))
	}
	got = Join([]Curve{line, Lines(Pt(20, 0.2), Pt(30, 0.2), Pt(30, 9))}, 0.05)
	assert.InDelta(t, 0, got.Curves[0].Pieces[25][0].Y, 1e-9, "too far to be led")
	got = Join([]Curve{line, Lines(Pt(30, 0.2), Pt(40, 9))}, 0.25)
	k = got.Curves[0]
	assert.InDelta(t, 0.1, k.Pieces[len(k.Pieces)-1][3].Y, 1e-4)
	assert.InDelta(t, 0.05, NewRuler(k).At(25).Y, 0.003)
	assert.InDelta(t, 0, NewRuler(k).At(19.5).Y, 1e-4)
}
