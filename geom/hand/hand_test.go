package hand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

func line(v ...float64) geom.Curve {
	var pts []geom.Point
	for i := 0; i < len(v); i += 2 {
		pts = append(pts, geom.Pt(v[i], v[i+1]))
	}
	return geom.Lines(pts...)
}

// tee is a line with another that ends at its side, and a ring apart.
func tee() geom.Centreline {
	return geom.Join([]geom.Curve{line(0, 0, 100, 0), line(50, 0, 50, 60), geom.Arc(geom.Pt(150, 50), 20, 0, 360)}, 0.05)
}

func pts(v ...float64) (out []geom.Point) {
	for i := 0; i < len(v); i += 2 {
		out = append(out, geom.Pt(v[i], v[i+1]))
	}
	return out
}

// assertSound checks that curves run from knot to knot without gaps.
func assertSound(t *testing.T, c geom.Centreline) {
	t.Helper()
	degree := make([]int, len(c.Knots))
	for i, k := range c.Curves {
		for j := 1; j < len(k.Pieces); j++ {
			assert.InDelta(t, 0, k.Pieces[j][0].Dist(k.Pieces[j-1][3]), 1e-6, "curve %d is whole", i)
		}
		require.GreaterOrEqual(t, len(k.Stops), 2)
		for j, s := range k.Stops {
			at := k.Pieces[len(k.Pieces)-1][3]
			if s.Piece < len(k.Pieces) {
				at = k.Pieces[s.Piece][0]
			}
			assert.InDelta(t, 0, c.Knots[s.Knot].At.Dist(at), 1e-6, "curve %d, stop %d is on its knot", i, j)
			degree[s.Knot] += 2
			if j == 0 || j == len(k.Stops)-1 {
				degree[s.Knot]--
			}
		}
	}
	for i, k := range c.Knots {
		assert.Equal(t, degree[i], k.Degree, "knot %d", i)
	}
}

func TestApply(t *testing.T) {
	for _, c := range []struct {
		name    string
		changes []Change
		curves  int
		on      []geom.Point // must lie on a line now
		off     []geom.Point // must not, by 1 mm
		missed  string
	}{
		{"a line bends", []Change{{Verb: Move, At: pts(25, 0, 25, 6)}}, 3, pts(25, 6, 0, 0, 50, 0, 100, 0), pts(25, 0), ""},
		{"a junction moves", []Change{{Verb: Move, At: pts(50, 1, 55, 4)}}, 3, pts(55, 3, 0, 0, 100, 0, 50, 60), pts(50, 0), ""},
		{"an end moves", []Change{{Verb: Move, At: pts(50, 60, 60, 65)}}, 3, pts(60, 65, 50, 0, 55, 32.5), pts(50, 60), ""},
		{"a ring bulges", []Change{{Verb: Move, At: pts(170, 50, 175, 50)}}, 3, pts(175, 50, 130, 50), pts(170, 50), ""},
		{"a ring's start moves as any other place", []Change{{Verb: Move, At: pts(170, 50, 164, 50)}}, 3, pts(164, 50, 130, 50), pts(170, 50), ""},
		{"nothing there to move", []Change{{Verb: Move, At: pts(80, 30, 85, 30)}}, 3, nil, nil, "the nearest line is 30.0 mm away"},
		{"a new line snaps to lines", []Change{{Verb: Draw, At: pts(20, 1, 51, 40)}}, 4, pts(20, 0, 35, 20, 50, 40), nil, ""},
		{"a new line apart", []Change{{Verb: Draw, At: pts(20, 30, 35, 50)}}, 4, pts(20, 30, 35, 50), nil, ""},
		{"too short a line", []Change{{Verb: Draw, At: pts(20, 30, 20.5, 30)}}, 3, nil, nil, "must be 1 mm long"},
		{"an arc by way of a place", []Change{{Verb: Bow, At: pts(0, 100, 20, 120, 40, 100)}}, 4, pts(0, 100, 20, 120, 40, 100, 20-20*math.Sqrt2/2, 100+20*math.Sqrt2/2), pts(20, 100), ""},
		{"a circle", []Change{{Verb: Ring, At: pts(20, 140, 40, 140)}}, 4, pts(40, 140, 0, 140, 20, 120, 20, 160), pts(20, 140), ""},
		{"a line over another", []Change{{Verb: Draw, At: pts(10, 0, 70, 0)}}, 3, nil, nil, "a line is there already"},
		{"a circle of no size", []Change{{Verb: Ring, At: pts(20, 140, 20, 140)}}, 3, nil, nil, "must be 1 mm long"},
		{"a line by hand, which wobbles", []Change{{Verb: Freehand, At: pts(0, 100, 5, 100.4, 10, 99.6, 15, 100.3, 20, 99.8, 25, 100)}}, 4, pts(0, 100, 12, 100, 25, 100), nil, ""},
		{"a ring by hand, which nearly closes", []Change{{Verb: Freehand, At: pts(30, 120, 20, 127, 10, 130, 0, 120, 10, 110, 20, 112, 28, 118)}}, 4, pts(30, 120, 10, 130, 10, 110), nil, ""},
		{"an arc the other way round", []Change{{Verb: Bow, At: pts(40, 100, 20, 120, 0, 100)}}, 4, pts(20, 120), pts(20, 80), ""},
		{"more than half round", []Change{{Verb: Bow, At: pts(-10, 100, 0, 140, 10, 100)}}, 4, pts(0, 140), nil, ""},
		{"an arc of three places on a line", []Change{{Verb: Bow, At: pts(0, 100, 20, 100, 40, 100)}}, 4, pts(20, 100), nil, ""},
		{"a stretch is erased", []Change{{Verb: RubOut, At: pts(60, 0, 80, 1)}}, 4, pts(59, 0, 81, 0), pts(70, 0), ""},
		{"to the end", []Change{{Verb: RubOut, At: pts(80, 0, 99.5, 0)}}, 3, pts(79, 0), pts(85, 0, 100, 0), ""},
		{"a stretch of a ring, the shorter way", []Change{{Verb: RubOut, At: pts(150+20*math.Cos(0.5), 50+20*math.Sin(0.5), 150+20*math.Cos(0.5), 50-20*math.Sin(0.5))}}, 3, pts(130, 50), pts(170, 50), ""},
		{"up to a junction that is near", []Change{{Verb: RubOut, At: pts(53, 0, 97.5, 0)}}, 3, pts(50, 0, 48, 0), pts(52, 0, 99.5, 0), ""},
		{"a gap", []Change{{Verb: Split, At: pts(75, 1), Value: 8}}, 4, pts(70.5, 0, 79.5, 0, 50, 0, 100, 0), pts(75, 0, 72.5, 0), ""},
		{"a gap at a free end", []Change{{Verb: Split, At: pts(98, 0), Value: 8}}, 3, pts(93.5, 0), pts(97, 0, 100, 0), ""},
		{"a ring opens where it starts", []Change{{Verb: Split, At: pts(170, 50), Value: 8}}, 3, pts(130, 50), pts(170, 50), ""},
		{"a gap wider than the ring", []Change{{Verb: Split, At: pts(170, 50), Value: 800}}, 3, nil, nil, "nothing would be left"},
		{"two lines are not one", []Change{{Verb: RubOut, At: pts(60, 0, 50, 40)}}, 3, nil, nil, "from the line that the first place is on"},
		{"an end is led to a ring", []Change{{Verb: Meet, At: pts(100, 0, 150, 30)}}, 3, pts(150, 30), pts(100, 0), ""},
		{"no end to lead", []Change{{Verb: Meet, At: pts(50, 30, 150, 30)}}, 3, nil, nil, "no line ends within 3 mm"},
		{"straight", []Change{{Verb: Move, At: pts(25, 0, 25, 6)}, {Verb: Straighten, At: pts(25, 6)}}, 3, pts(25, 0), pts(25, 6), ""},
		{"round", []Change{{Verb: Move, At: pts(25, 0, 25, 6)}, {Verb: Round, At: pts(25, 6)}}, 3, pts(25, 6, 0, 0, 50, 0), pts(25, 0), ""},
		{"round, of a straight one", []Change{{Verb: Round, At: pts(75, 0)}}, 3, nil, nil, "bend it first"},
		{"a ring cannot be straight", []Change{{Verb: Straighten, At: pts(170, 50)}}, 3, nil, nil, "cannot be straight"},
		{"a dented ring is round", []Change{{Verb: Move, At: pts(170, 50, 168, 50)}, {Verb: Round, At: pts(130, 50)}}, 3, pts(130, 50), nil, ""},
		{"a stretch is bent, its ends stay", []Change{{Verb: Bend, At: pts(25, 0, 25, 10)}}, 3, pts(25, 10, 0, 0, 50, 0, 100, 0, 12.5, 7.5, 50, 30), pts(25, 0), ""},
		{"a line that ends at a side is bent", []Change{{Verb: Bend, At: pts(50, 40, 60, 40)}}, 3, pts(60, 40, 50, 0, 50, 60, 57.5, 50), pts(50, 40), ""},
		{"a ring is drawn out", []Change{{Verb: Bend, At: pts(170, 50, 185, 50)}}, 3, pts(185, 50, 130, 50), pts(170, 50), ""},
		{"no bend at an end", []Change{{Verb: Bend, At: pts(100, 0, 100, 10)}}, 3, nil, nil, "bent between its ends"},
		{"no line to bend", []Change{{Verb: Bend, At: pts(80, 30, 80, 40)}}, 3, nil, nil, "the nearest line is 30.0 mm away"},
		{"one side and its image", []Change{{Verb: Mirror, At: pts(50, -10, 50, 90, 90, 20)}}, 4, pts(0, 0, 30, 0, 100, 0, 50, 30, 170, 50, -70, 50, -50, 70), nil, ""},
		{"a ring across the axis", []Change{{Verb: Mirror, At: pts(140, 0, 140, 90, 190, 0)}}, 1, pts(170, 50, 150, 70, 110, 50, 130, 70), pts(50, 30, 100, 0), ""},
		{"an end near the axis is led to it", []Change{{Verb: Mirror, At: pts(102, -10, 102, 90, 90, 20)}}, 3, pts(102, 0, 100, 0, 104, 0, 204, 0, 154, 60), pts(170, 50), ""},
		{"a slanting axis", []Change{{Verb: Mirror, At: pts(0, 0, 10, 10, 50, 1)}}, 4, pts(100, 0, 0, 100, 30, 50, 50, 30, 50, 50, 70, 150), nil, ""},
		{"an axis of no length", []Change{{Verb: Mirror, At: pts(50, 0, 50, 0, 90, 20)}}, 3, nil, nil, "two places apart"},
		{"no side named", []Change{{Verb: Mirror, At: pts(50, 0, 50, 20, 50, 90)}}, 3, nil, nil, "which side is kept"},
		{"nothing on that side", []Change{{Verb: Mirror, At: pts(-5, 0, -5, 20, -50, 0)}}, 3, nil, nil, "no line lies on that side"},
		{"one after another", []Change{{Verb: Draw, At: pts(20, 30, 35, 50)}, {Verb: Move, At: pts(20, 30, 15, 30)}, {Verb: RubOut, At: pts(5, 0, 30, 0)}}, 5, pts(15, 30, 35, 50), pts(20, 0, 20, 30), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, missed, err := Apply(tee(), c.changes)
			require.NoError(t, err)
			assertSound(t, out)
			assert.Len(t, out.Curves, c.curves)
			if c.missed == "" {
				assert.Empty(t, missed)
			} else {
				require.Len(t, missed, 1)
				assert.Contains(t, missed[0].Why, c.missed)
				assert.Equal(t, tee(), out, "nothing is changed")
			}
			for _, p := range c.on {
				assert.InDelta(t, 0, nearest(out, p).off, 0.8, "%v", p)
			}
			for _, p := range c.off {
				assert.Greater(t, nearest(out, p).off, 1.0, "%v", p)
			}
		})
	}
	_, _, err := Apply(tee(), []Change{{Verb: Move, At: pts(1, 2)}})
	assert.ErrorContains(t, err, "takes 2 places, 1 given")
	_, _, err = Apply(tee(), []Change{{Verb: "paint", At: pts(1, 2)}})
	assert.ErrorContains(t, err, "paint")
	_, missed, err := Apply(geom.Centreline{}, []Change{{Verb: Move, At: pts(1, 2, 3, 4)}})
	require.NoError(t, err)
	assert.Contains(t, missed[0].Why, "there is no line")
}

// A junction on a curve moves with all that meets there: a finer curve measures longer, and its stops
// must be known all the same.
func TestJunctionsOnCurvesMove(t *testing.T) {
	in := geom.Join([]geom.Curve{
		geom.Arc(geom.Pt(100, 100), 60, 10, 370), line(40, 100, 160, 100), line(100, 40, 130, 10), geom.Arc(geom.Pt(160, 100), 30, -100, 200),
	}, 0.1)
	junctions := 0
	for i, k := range in.Knots {
		if k.Degree < 3 {
			continue
		}
		junctions++
		for _, by := range pts(3, 4, -9, -6, 0.6, -1.8) {
			out, missed, err := Apply(in, []Change{{Verb: Move, At: []geom.Point{k.At, k.At.Add(by)}}})
			require.NoError(t, err)
			assert.Empty(t, missed)
			assertSound(t, out)
			assert.InDelta(t, 0, out.Knots[i].At.Dist(k.At.Add(by)), 1e-9)
			for j, other := range in.Knots {
				if j != i && other.Degree != 2 {
					assert.Equal(t, other.At, out.Knots[j].At, "only that one")
				}
			}
		}
	}
	assert.GreaterOrEqual(t, junctions, 4)
}

// Two lines that end at each other move together, from a corner as from a smooth joint.
func TestMoveJoint(t *testing.T) {
	for _, c := range []struct {
		name string
		end  geom.Point // of the second line
	}{{"a corner", geom.Pt(60, 60)}, {"straight on", geom.Pt(120, 0)}} {
		t.Run(c.name, func(t *testing.T) {
			in := geom.Join([]geom.Curve{line(0, 0, 60, 0), line(60, 0, c.end.X, c.end.Y)}, joinWithin)
			require.Contains(t, Held(in), geom.Pt(60, 0))
			got, missed, err := Apply(in, []Change{{Verb: Move, At: pts(60.4, 0.3, 70.4, -9.7)}})
			require.NoError(t, err)
			require.Empty(t, missed)
			assertSound(t, got)
			assert.Len(t, got.Curves, 2)
			assert.Less(t, nearest(got, geom.Pt(70, -10)).off, 0.05)
			assert.Less(t, nearest(got, geom.Pt(35, -5)).off, 0.05, "straight")
			assert.Greater(t, nearest(got, geom.Pt(60, 0)).off, 2.0)
		})
	}
	ring := geom.Join([]geom.Curve{geom.Arc(geom.Pt(0, 0), 20, 0, 360)}, joinWithin)
	assert.Empty(t, Held(ring), "a closed line starts at no place of its own")
}

// A ring gives way alike wherever it is moved, at its start too: the same, turned.
func TestRingGivesWayAlike(t *testing.T) {
	const r = 40.0
	ring := geom.Join([]geom.Curve{geom.Arc(geom.Pt(0, 0), r, 0, 360)}, joinWithin)
	moved := func(angle float64) geom.Centreline {
		sin, cos := math.Sincos(geom.Radians(angle))
		got, missed, err := Apply(ring, []Change{{Verb: Move, At: pts(r*cos, r*sin, (r+6)*cos, (r+6)*sin)}})
		require.NoError(t, err)
		require.Empty(t, missed)
		assertSound(t, got)
		return got
	}
	want := moved(137)
	for _, angle := range []float64{0, 2, 20, 345, 359} {
		got := moved(angle)
		sin, cos := math.Sincos(geom.Radians(angle - 137))
		for _, p := range want.Curves[0].Flatten(0.01) {
			turned := geom.Pt(p.X*cos-p.Y*sin, p.X*sin+p.Y*cos)
			require.Less(t, nearest(got, turned).off, 0.1, "moved at %g degrees, at %v", angle, turned)
		}
	}
}

func TestMovedStraightStaysStraight(t *testing.T) {
	teardrop := geom.Curve{Closed: true, Pieces: []geom.Cubic{{geom.Pt(0, 0), geom.Pt(60, 40), geom.Pt(-60, 40), geom.Pt(0, 0)}}}
	square := line(0, 0, 80, 0, 80, 80, 0, 80, 0, 0)
	square.Closed = true
	for _, c := range []struct {
		name   string
		line   geom.Curve
		places []geom.Point // from, to
		on     []geom.Point
	}{
		{"the end of a line", line(0, 0, 100, 0), pts(100, 0, 100, 20), pts(0, 0, 50, 10, 25, 5, 75, 15)},
		{"the corner between two", line(0, 0, 60, 0, 60, 60), pts(60, 0, 70, -10), pts(35, -5, 65, 25, 0, 0, 60, 60)},
		{"a corner that the place is a little off", line(0, 0, 60, 0, 60, 60), pts(60, 0.3, 70, -9.7), pts(35, -5, 65, 25, 0, 0, 60, 60)},
		{"the corner of a closed line, where it starts", square, pts(0, 0, -10, -10), pts(35, -5, -5, 35, 80, 80, 80, 40)},
		{"a corner elsewhere on it", square, pts(80, 80, 90, 90), pts(85, 45, 45, 85, 0, 0, 40, 0)},
		{"a closed line with one corner is no straight one", teardrop, pts(0, 0, 5, -5), pts(5, -5, 0, 30)},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, missed, err := Apply(geom.Join([]geom.Curve{c.line}, joinWithin), []Change{{Verb: Move, At: c.places}})
			require.NoError(t, err)
			require.Empty(t, missed)
			for _, p := range c.on {
				assert.Less(t, nearest(got, p).off, 0.05, "%v is on a line", p)
			}
		})
	}
}

// What changes a line begins on one; what draws begins anywhere.
func TestMissedFirst(t *testing.T) {
	c := geom.Join([]geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(100, 0))}, 0.01)
	on, off := geom.Pt(50, 2.9), geom.Pt(50, 3.1)
	for _, v := range []Verb{Move, Bend, RubOut, Meet, Parallel, Equal, Split, Length} {
		assert.Empty(t, MissedFirst(c, v, on), v)
		assert.Contains(t, MissedFirst(c, v, off), "3.1 mm away", v)
		assert.NotEmpty(t, MissedFirst(geom.Centreline{}, v, on), v)
	}
	for _, v := range []Verb{Draw, Bow, Ring, Freehand, Mirror} {
		assert.Empty(t, MissedFirst(c, v, off), v)
	}
}
