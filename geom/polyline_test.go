package geom

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// bent is a line 3 mm to the right, then 4 mm down, with a point twice.
var bent = Polyline{Pt(1, 1), Pt(4, 1), Pt(4, 1), Pt(4, 5)}

func TestPolylineAt(t *testing.T) {
	s := []float64{0, 3, 3, 7}
	for _, c := range []struct {
		name   string
		d      float64
		open   Point
		closed Point // of a chain that starts again at its start after 7 mm
	}{
		{"before the start", -1, Pt(1, 1), Pt(4, 4)},
		{"the start", 0, Pt(1, 1), Pt(1, 1)},
		{"on the first side", 1.5, Pt(2.5, 1), Pt(2.5, 1)},
		{"in the corner", 3, Pt(4, 1), Pt(4, 1)},
		{"on the second side", 4, Pt(4, 2), Pt(4, 2)},
		{"the end", 7, Pt(4, 5), Pt(1, 1)},
		{"past the end", 8.5, Pt(4, 5), Pt(2.5, 1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, 0, bent.At(c.d).Dist(c.open), 1e-12)
			assert.InDelta(t, 0, bent.AtDistance(s, c.d, false).Dist(c.open), 1e-12)
			assert.InDelta(t, 0, bent.AtDistance(s, c.d, true).Dist(c.closed), 1e-12)
		})
	}
	dot := Polyline{Pt(2, 3), Pt(2, 3)}
	assert.Equal(t, Pt(2, 3), dot.AtDistance([]float64{0, 0}, 1, true), "a closed chain without length")
	assert.Equal(t, Pt(2, 3), dot.At(1))
}

// The middle of an L of 4 and 2 mm, by its two sides' middles weighed by their lengths.
func TestMiddle(t *testing.T) {
	m := Middle([]Polyline{{Pt(0, 0), Pt(4, 0), Pt(4, 2)}})
	assert.InDelta(t, 16.0/6, m.X, 1e-12)
	assert.InDelta(t, 2.0/6, m.Y, 1e-12)
	apart := Middle([]Polyline{{Pt(0, 0), Pt(4, 0)}, {Pt(4, 0), Pt(4, 2)}})
	assert.InDelta(t, 0, m.Dist(apart), 1e-12, "in one line or in two")
	assert.Equal(t, Point{}, Middle([]Polyline{{Pt(3, 3)}}))
	assert.Equal(t, 6.0, TotalLength([]Polyline{{Pt(0, 0), Pt(4, 0)}, {Pt(4, 0), Pt(4, 2)}}))
}

func TestResampledPlaces(t *testing.T) {
	want := Polyline{Pt(1, 1), Pt(2, 1), Pt(3, 1), Pt(4, 1), Pt(4, 2), Pt(4, 3), Pt(4, 4), Pt(4, 5)}
	for _, step := range []float64{1, 0.94, 1.07} { // 7 steps are the nearest whole number for each
		got := bent.Resampled(step)
		if assert.Len(t, got, len(want)) {
			for i, p := range want {
				assert.InDelta(t, 0, got[i].Dist(p), 1e-12, "%g: %d", step, i)
			}
		}
	}
	assert.Len(t, bent.Resampled(7.0/6.4), 7)
	assert.Len(t, bent.Resampled(7.0/6.6), 8)
	one := Polyline{Pt(1, 1)}
	assert.Equal(t, one, one.Resampled(1))
}

func TestNearest(t *testing.T) {
	for _, c := range []struct {
		name     string
		p        Point
		i        int
		t        float64
		at       Point
		distance float64
	}{
		{"above the first side", Pt(2.5, -1), 0, 0.5, Pt(2.5, 1), 2},
		{"beside the second", Pt(6, 4), 2, 0.75, Pt(4, 4), 2},
		{"before the start", Pt(-2, 5), 0, 0, Pt(1, 1), 5},
		{"past the end", Pt(7, 9), 2, 1, Pt(4, 5), 5},
		{"at a draw, the first", Pt(3, 2), 0, 2.0 / 3, Pt(3, 1), 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			i, share, at, d := bent.Nearest(c.p)
			assert.Equal(t, c.i, i)
			assert.InDelta(t, c.t, share, 1e-12)
			assert.InDelta(t, 0, at.Dist(c.at), 1e-12)
			assert.InDelta(t, c.distance, d, 1e-12)
			assert.InDelta(t, c.distance, bent.DistanceTo(c.p), 1e-12)
		})
	}
	_, _, at, d := Polyline{Pt(2, 2)}.Nearest(Pt(2, 5))
	assert.Equal(t, Pt(2, 2), at)
	assert.Equal(t, 3.0, d)
}

func TestPolylineReversedAndScaled(t *testing.T) {
	assert.Equal(t, Polyline{Pt(4, 5), Pt(4, 1), Pt(4, 1), Pt(1, 1)}, bent.Reversed())
	assert.Equal(t, Polyline{Pt(3, 3), Pt(12, 3), Pt(12, 3), Pt(12, 15)}, bent.Scaled(3))
}

// A ring's area by the shoelace formula: 6 by 4 less a notch of 2 by 1, one sense and the other.
func TestRingArea(t *testing.T) {
	r := Ring{Pt(1, 1), Pt(7, 1), Pt(7, 5), Pt(5, 5), Pt(5, 4), Pt(3, 4), Pt(3, 5), Pt(1, 5)}
	assert.InDelta(t, 22, r.Area(), 1e-12)
	assert.InDelta(t, -22, Ring(Polyline(r).Reversed()).Area(), 1e-12)
	assert.Zero(t, Ring{}.Area())
	region := Region{{Outline: r, Holes: []Ring{{Pt(2, 2), Pt(3, 2), Pt(3, 3)}}}, {Outline: Ring{Pt(9, 9), Pt(10, 9), Pt(10, 12)}}}
	assert.Equal(t, Rect{Pt(1, 1), Pt(10, 12)}, region.Bounds())
	assert.Len(t, region.Rings(), 3)
	moved := region.Mapped(func(p Point) Point { return p.Add(Pt(1, -1)) })
	assert.Equal(t, Pt(3, 1), moved[0].Holes[0][0])
	assert.Equal(t, Rect{Pt(2, 0), Pt(11, 11)}, moved.Bounds())
}

func TestRects(t *testing.T) {
	r := Rect{Pt(1, 2), Pt(5, 8)}
	for _, c := range []struct {
		name     string
		q        Rect
		overlaps bool
	}{
		{"a corner", Rect{Pt(4, 7), Pt(9, 9)}, true},
		{"an edge", Rect{Pt(5, 3), Pt(6, 4)}, true},
		{"the other edge", Rect{Pt(0, 3), Pt(1, 4)}, true},
		{"above, touching", Rect{Pt(2, 0), Pt(3, 2)}, true},
		{"below, touching", Rect{Pt(2, 8), Pt(3, 9)}, true},
		{"to the right", Rect{Pt(6, 3), Pt(7, 4)}, false},
		{"to the left", Rect{Pt(-3, 3), Pt(0, 4)}, false},
		{"above", Rect{Pt(2, 0), Pt(3, 1)}, false},
		{"below", Rect{Pt(2, 9), Pt(3, 10)}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.overlaps, r.Overlaps(c.q))
			assert.Equal(t, c.overlaps, c.q.Overlaps(r))
		})
	}
	for p, want := range map[Point]Point{{0, 0}: {1, 2}, {3, 3}: {3, 3}, {9, 4}: {5, 4}, {2, 9}: {2, 8}} {
		assert.Equal(t, want, r.Nearest(p))
	}
	assert.Equal(t, Rect{}, Bounds(nil))
	assert.Equal(t, Rect{Pt(-1, -4), Pt(3, 2)}, Bounds([]Point{{3, 2}, {-1, -4}, {0, 0}}))
	assert.Equal(t, Pt(4, 6), r.Size())
}

// A place mirrored in a line: about the line y = x its coordinates change places.
func TestMirrored(t *testing.T) {
	dir := Pt(1, 1).Unit()
	assert.InDelta(t, 0, Pt(3, 1).Mirrored(Pt(0, 0), dir).Dist(Pt(1, 3)), 1e-12)
	assert.InDelta(t, 0, Pt(3, 5).Mirrored(Pt(1, 1), Pt(1, 0)).Dist(Pt(3, -3)), 1e-12)
	assert.Equal(t, Pt(-2, 3), Pt(3, 2).Perp())
	assert.Equal(t, Pt(2, 5), Pt(1, 3).Lerp(Pt(5, 11), 0.25))
	assert.Equal(t, Point{}, Point{}.Unit())
}
