package regular

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// vase is symmetric about x = 100: a closed outline of free curves, a band
// across, a stem on the axis and two handles.
func vase() []geom.Curve {
	half := []geom.Cubic{
		{{X: 100, Y: 20}, {X: 125, Y: 20}, {X: 110, Y: 50}, {X: 130, Y: 70}},
		{{X: 130, Y: 70}, {X: 150, Y: 90}, {X: 140, Y: 150}, {X: 100, Y: 150}},
	}
	outline := geom.Curve{Pieces: append([]geom.Cubic{}, half...), Closed: true}
	for i := len(half) - 1; i >= 0; i-- {
		p := half[i].Reversed()
		for k, q := range p {
			p[k] = geom.Pt(200-q.X, q.Y)
		}
		outline.Pieces = append(outline.Pieces, p)
	}
	handle := geom.Arc(geom.Pt(148, 100), 18, -100, 100)
	left := geom.Arc(geom.Pt(52, 100), 18, 280, 80)
	return []geom.Curve{outline, line(66, 80, 134, 80), line(100, 155, 100, 185), handle, left}
}

func moved(cs []geom.Curve, turn float64) []geom.Curve {
	rot := rotation(turn, geom.Pt(100, 100))
	var out []geom.Curve
	for _, c := range cs {
		n := geom.Curve{Closed: c.Closed}
		for _, p := range c.Pieces {
			n.Pieces = append(n.Pieces, geom.Cubic{rot(p[0]), rot(p[1]), rot(p[2]), rot(p[3])})
		}
		out = append(out, n)
	}
	return out
}

// asymmetry is how far the image of a centreline across an axis lies from it
// at most.
func asymmetry(c geom.Centreline, a Axis) float64 {
	var lines []geom.Polyline
	for _, k := range c.Curves {
		lines = append(lines, k.Flatten(0.001))
	}
	worst := 0.0
	for _, l := range lines {
		for _, p := range l.Resampled(1) {
			d := math.Inf(1)
			for _, m := range lines {
				d = min(d, m.DistanceTo(a.reflect(p)))
			}
			worst = max(worst, d)
		}
	}
	return worst
}

func TestMirror(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(*SymmetrySettings)
		turn float64
	}{
		{"average", func(s *SymmetrySettings) { s.Mirror = MirrorAverage }, 0},
		{"left copied", func(s *SymmetrySettings) { s.Mirror = MirrorLeft }, 0},
		{"right copied", func(s *SymmetrySettings) { s.Mirror = MirrorRight }, 0},
		{"average, leaning", func(s *SymmetrySettings) { s.Mirror = MirrorAverage }, 11},
		{"average, leaning, straightened", func(s *SymmetrySettings) { s.Mirror, s.Straighten = MirrorAverage, StraightenAxis }, -9},
		{"axis by hand", func(s *SymmetrySettings) {
			s.Mirror, s.Axis = MirrorRight, []geom.Point{{X: 100, Y: 10}, {X: 100, Y: 180}}
		}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := shaky(t, 7, 0.5, moved(vase(), c.turn)...)
			set := DefaultSymmetry()
			c.set(&set)
			got, err := Symmetrise(in, set)
			require.NoError(t, err)
			require.NotNil(t, got.Axis)
			assert.Less(t, asymmetry(got.Line, *got.Axis), 0.003, "symmetric")
			assert.Greater(t, asymmetry(in, *got.Axis), 0.2, "as it was not before")
			assert.LessOrEqual(t, got.Moved, 2.0)
			assert.Zero(t, got.Kept)
			checkCurves(t, got.Line)
			for _, k := range got.Line.Curves { // joined smoothly at the axis
				assert.Zero(t, k.Corners)
			}
			assert.Equal(t, networkOf(in), networkOf(got.Line), "the same drawing still")
			if set.Straighten == StraightenAxis {
				assert.InDelta(t, -c.turn, got.Turn, 0.5)
				assert.Equal(t, geom.Pt(0, -1), got.Axis.Dir)
			} else if len(set.Axis) == 0 {
				assert.InDelta(t, 0, got.Axis.Dir.Angle(rotation(c.turn, geom.Point{})(geom.Pt(0, -1))), 0.5)
				assert.InDelta(t, 0, got.Axis.side(rotation(c.turn, geom.Pt(100, 100))(geom.Pt(100, 100))), 0.4)
			}
		})
	}
}

// networkOf counts ends and junctions, and curves.
func networkOf(c geom.Centreline) [3]int {
	var n [3]int
	for _, k := range c.Knots {
		switch {
		case k.Degree == 1:
			n[0]++
		case k.Degree > 2:
			n[1]++
		}
	}
	n[2] = len(c.Curves)
	return n
}

// A stroke without a partner stays when halves are averaged.
func TestMirrorKeepsTheOdd(t *testing.T) {
	cs := append(vase(), line(170, 30, 190, 50, 185, 20))
	set := DefaultSymmetry()
	set.Mirror = MirrorAverage
	got, err := Symmetrise(shaky(t, 7, 0.5, cs...), set)
	require.NoError(t, err)
	assert.Equal(t, 1, got.Kept)
	assertNear(t, geom.Centreline{Curves: got.Line.Curves}, cs, 1)
}

func TestStraightenByLines(t *testing.T) {
	house := []geom.Curve{line(20, 60, 80, 60, 80, 120, 20, 120, 20, 60), line(15, 62, 50, 30, 85, 62), line(45, 120, 45, 90, 55, 90, 55, 120)}
	for _, turn := range []float64{-14, -3, 0, 8} {
		set := DefaultSymmetry()
		set.Straighten = StraightenLines
		got, err := Symmetrise(shaky(t, 2, 0.3, moved(house, turn)...), set)
		require.NoError(t, err)
		assert.InDelta(t, -turn, got.Turn, 0.6)
	}
}

func TestSymmetryErrors(t *testing.T) {
	zigzag := []geom.Curve{line(0, 0, 50, 10, 20, 70, 160, 40, 90, 120, 200, 190)}
	for _, c := range []struct {
		name   string
		curves []geom.Curve
		set    func(*SymmetrySettings)
		want   string
	}{
		{"no axis", zigzag, func(s *SymmetrySettings) { s.Mirror, s.Reach = MirrorAverage, 2 }, "no axis of symmetry"},
		{"one point", vase(), func(s *SymmetrySettings) {
			s.Mirror, s.Axis = MirrorLeft, []geom.Point{{X: 1, Y: 1}, {X: 1, Y: 1}}
		}, "are the same"},
		{"turn too far", moved(vase(), 20), func(s *SymmetrySettings) { s.Straighten, s.MostTurn = StraightenAxis, 10 }, "more than the limit of 10°"},
		{"no reach", vase(), func(s *SymmetrySettings) { s.Mirror, s.Reach = MirrorLeft, 0 }, "over 0 mm"},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := DefaultSymmetry()
			c.set(&set)
			_, err := Symmetrise(shaky(t, 1, 0.2, c.curves...), set)
			require.ErrorContains(t, err, c.want)
		})
	}
}
