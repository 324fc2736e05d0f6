package hand

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// angled is a line of two legs with a corner, a third that meets their corner, and two rings.
func angled() geom.Centreline {
	return geom.Join([]geom.Curve{
		line(0, 0, 60, 0, 60, 40), line(60, 0, 90, -30), geom.Arc(geom.Pt(150, 50), 20, 0, 360), geom.Arc(geom.Pt(250, 50), 31, 0, 360),
	}, 0.05)
}

// partOf is the stretch nearest to a place.
func partOf(t *testing.T, c geom.Centreline, p geom.Point) part {
	t.Helper()
	q, why := partAt(c, p)
	require.Empty(t, why)
	return q
}

func radiusOf(p part) float64 {
	_, r := p.circle()
	return r
}

func TestExact(t *testing.T) {
	level := func(p part) float64 {
		d := p.moves.Sub(p.kept)
		return math.Mod(geom.Degrees(math.Atan2(-d.Y, d.X))+360, 180)
	}
	for _, c := range []struct {
		name   string
		change Change
		look   geom.Point // at a place of the stretch afterwards
		is     func(p part) float64
		want   float64
		end    geom.Point // where something meets or ends afterwards
		why    string
	}{
		{"a free end moves", Change{Length, pts(5, 0), 80}, geom.Pt(30, 0), part.length, 80, geom.Pt(-20, 0), ""},
		{"a corner moves, and what meets there", Change{Length, pts(50, 0), 70}, geom.Pt(30, 0), part.length, 70, geom.Pt(70, 0), ""},
		{"turned about the corner", Change{Angle, pts(60, 35), 45}, geom.Pt(50, 10), level, 45, geom.Pt(60, 0), ""},
		{"the shorter way", Change{Angle, pts(60, 35), 80}, geom.Pt(58, 15), level, 80, geom.Pt(60, 0), ""},
		{"a circle's radius", Change{Radius, pts(170, 50), 12.5}, geom.Pt(162, 50), radiusOf, 12.5, geom.Pt(162.5, 50), ""},
		{"an arc in a line's place", Change{Radius, pts(30, 1), 50}, geom.Pt(30, 10), radiusOf, 50, geom.Pt(60, 0), ""},
		{"parallel to another", Change{Parallel, pts(85, -25, 30, 0), 0}, geom.Pt(90, 0), level, 0, geom.Pt(60, 0), ""},
		{"as long as another", Change{Equal, pts(10, 0, 60, 20), 0}, geom.Pt(40, 0), part.length, 40, geom.Pt(20, 0), ""},
		{"as round as another", Change{Equal, pts(170, 50, 281, 50), 0}, geom.Pt(181, 50), radiusOf, 31, geom.Pt(181, 50), ""},
		{"too short a radius", Change{Radius, pts(30, 0), 20}, geom.Point{}, nil, 0, geom.Point{}, "its ends are 60.0 mm apart, too far for a radius of 20 mm"},
		{"a ring has no length", Change{Length, pts(170, 50), 100}, geom.Point{}, nil, 0, geom.Point{}, "no end to move"},
		{"ten times as long at most", Change{Length, pts(5, 0), 601}, geom.Point{}, nil, 0, geom.Point{}, "it is 60 mm long, and can be made 10 times as long at most"},
		{"off all lines", Change{Length, pts(30, 20), 100}, geom.Point{}, nil, 0, geom.Point{}, "the nearest line is 20.0 mm away"},
		{"nothing to run on from", Change{Tangent, pts(2, 0), 0}, geom.Point{}, nil, 0, geom.Point{}, "no other line meets"},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, missed, err := Apply(angled(), []Change{c.change})
			require.NoError(t, err)
			if c.why != "" {
				require.Len(t, missed, 1)
				assert.Contains(t, missed[0].Why, c.why)
				assert.Equal(t, angled(), out)
				return
			}
			require.Empty(t, missed)
			assertSound(t, out)
			assert.Len(t, out.Curves, 4, "lines stay whole")
			assert.InDelta(t, c.want, c.is(partOf(t, out, c.look)), 0.02)
			near := nearest(out, c.end)
			assert.Less(t, near.off, 0.05)
		})
	}
	_, _, err := Apply(angled(), []Change{{Length, pts(5, 0), -3}})
	assert.ErrorContains(t, err, "a length must be at least 1 mm")
}

// What meets at the end that moves still meets there.
func TestExactKeepsJunctions(t *testing.T) {
	out, missed, err := Apply(angled(), []Change{{Length, pts(50, 0), 72}})
	require.NoError(t, err)
	require.Empty(t, missed)
	k := knotNear(out, geom.Pt(72, 0))
	require.GreaterOrEqual(t, k, 0)
	assert.Equal(t, 3, out.Knots[k].Degree)
	assert.InDelta(t, 0, out.Knots[k].At.Dist(geom.Pt(72, 0)), 0.01)
	assert.Less(t, nearest(out, geom.Pt(60, 40)).off, 0.01, "far ends stay")
	assert.Less(t, nearest(out, geom.Pt(90, -30)).off, 0.01)
}

// An arc that runs on from a line has its direction where they meet: the circle touches the line
// (Euclid, Elements III.18: the radius to the point of contact is square to the tangent).
func TestTangent(t *testing.T) {
	c := geom.Join([]geom.Curve{line(0, 0, 50, 0), line(50, 0, 90, 30)}, 0.05)
	out, missed, err := Apply(c, []Change{{Tangent, pts(56, 4), 0}})
	require.NoError(t, err)
	require.Empty(t, missed)
	assertSound(t, out)
	p := partOf(t, out, geom.Pt(74, 9))
	centre, ok := circumcentre(p.kept, farthest(p.pieces), p.moves)
	require.True(t, ok)
	assert.InDelta(t, 50, centre.X, 0.01, "over the place of contact")
	// |AB|² = 40² + 30²; r = |AB|²/(2·30).
	assert.InDelta(t, 2500.0/60, radiusOf(p), 0.01)
}

// An end at the side of another line is not torn off it, unless it stays on it; from the other end all
// is well. A stretch that turns by more than half a circle is not flattened.
func TestExactTearsNothing(t *testing.T) {
	c := geom.Join([]geom.Curve{
		line(0, 0, 100, 0), line(50, 0, 50, 60), line(50, 30, 90, 30), geom.Curve{Pieces: geom.ArcCubics(geom.Pt(20, -8), geom.Pt(14, 0), -254)},
	}, 0.05)
	for _, k := range []struct {
		name   string
		change Change
		why    string
	}{
		{"torn off", Change{Length, pts(50, 5), 40}, tears},
		{"turned off", Change{Angle, pts(50, 5), 70}, tears},
		{"from the free end", Change{Length, pts(50, 55), 40}, ""},
		{"a bar's free end", Change{Length, pts(85, 30), 25}, ""},
		{"a knob", Change{Tangent, pts(26, -2), 0}, "would be flattened"},
	} {
		t.Run(k.name, func(t *testing.T) {
			out, missed, err := Apply(c, []Change{k.change})
			require.NoError(t, err)
			if k.why != "" {
				require.Len(t, missed, 1)
				assert.Contains(t, missed[0].Why, k.why)
				return
			}
			require.Empty(t, missed)
			assertSound(t, out)
			assert.Equal(t, len(c.Knots), len(out.Knots), "no junction is lost")
		})
	}
}

// What is shown as the stretch under the pointer is what a change takes there.
func TestStretches(t *testing.T) {
	c := angled()
	all := Stretches(c)
	require.Len(t, all, 5, "two legs, a third, two rings")
	for i, want := range []Stretch{
		{Length: 60, Radius: math.Inf(1)}, {Length: 40, Angle: 90, Radius: math.Inf(1)},
		{Length: 30 * math.Sqrt2, Angle: 45, Radius: math.Inf(1)},
		{Length: 2 * math.Pi * 20, Radius: 20}, {Length: 2 * math.Pi * 31, Radius: 31},
	} {
		assert.InDelta(t, want.Length, all[i].Length, 0.1, "stretch %d", i)
		assert.InDelta(t, want.Angle, math.Mod(all[i].Angle, 180), 0.1, "stretch %d", i)
		if math.IsInf(want.Radius, 1) {
			assert.True(t, math.IsInf(all[i].Radius, 1), "stretch %d is straight", i)
		} else {
			assert.InDelta(t, want.Radius, all[i].Radius, 0.05, "stretch %d", i)
		}
	}
	for _, p := range []geom.Point{{X: 5, Y: 0}, {X: 55, Y: 1}, {X: 60, Y: 30}, {X: 85, Y: -25}, {X: 170, Y: 50}, {X: 250, Y: 81}} {
		got := partOf(t, c, p)
		near := slices.MinFunc(all, func(a, b Stretch) int {
			return cmp.Compare(a.Curve.Flatten(0.01).DistanceTo(p), b.Curve.Flatten(0.01).DistanceTo(p))
		})
		assert.Equal(t, got.pieces, near.Curve.Pieces, "at %v", p)
	}
}
