package rules

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// path is one stroke made of several curves end to end.
func path(parts ...geom.Curve) geom.Curve {
	var c geom.Curve
	for _, p := range parts {
		c.Pieces = append(c.Pieces, p.Pieces...)
	}
	return c
}

func pl(v ...float64) geom.Curve {
	var out geom.Polyline
	for i := 0; i < len(v); i += 2 {
		out = append(out, geom.Pt(v[i], v[i+1]))
	}
	return geom.Lines(out...)
}

func circle(x, y, r float64) geom.Curve { return geom.Arc(geom.Pt(x, y), r, 0, 360) }

// uTurn is a U open to the left.
func uTurn(r float64) geom.Curve {
	return path(pl(-60, -r, 0, -r), geom.Arc(geom.Pt(0, 0), r, -90, 90), pl(0, r, -60, r))
}

func TestSpacing(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []geom.Curve
		want  []float64 // distances, nearest first
	}{
		{"parallel, wide enough", []geom.Curve{pl(0, 0, 100, 0), pl(0, 7.5, 100, 7.5)}, nil},
		{"parallel, too near", []geom.Curve{pl(0, 0, 100, 0), pl(0, 6, 100, 6)}, []float64{6}},
		{"end near a side", []geom.Curve{pl(0, 0, 100, 0), pl(50, 4, 50, 60)}, []float64{4}},
		{"two circles", []geom.Curve{circle(0, 0, 20), circle(45, 0, 20)}, []float64{5}},
		{"circle in circle, off centre", []geom.Curve{circle(0, 0, 30), circle(5, 0, 20)}, []float64{5}},
		{"crossing", []geom.Curve{pl(0, 0, 30, 30, 60, 60), pl(0, 60, 30, 30, 60, 0)}, nil},
		{"T", []geom.Curve{pl(0, 0, 30, 0, 60, 0), pl(30, 0, 30, 50)}, nil},
		{"fork of 40 degrees", []geom.Curve{pl(-40, 0, 0, 0), pl(0, 0, 80*math.Cos(0.35), 80*math.Sin(0.35)), pl(0, 0, 80*math.Cos(0.35), -80*math.Sin(0.35))}, nil},
		{"corner of 45 degrees", []geom.Curve{pl(0, 0, 60, 0, 10, 50)}, nil},
		{"corner of 10 degrees", []geom.Curve{pl(0, 0, 80, 0, 0, 14)}, []float64{2.89}},
		{"narrow U of 6 mm, long sides", []geom.Curve{uTurn(3)}, []float64{6}},
		{"U of 8 mm", []geom.Curve{uTurn(4)}, nil},
		// Three quarters of a circle open by r·√2. As long as a half circle 7.5 mm wide, π/2 · 7.5 = 11.8 mm, is near by nature.
		{"open ring of 9.4 mm", []geom.Curve{geom.Arc(geom.Pt(0, 0), 2, 45, 315)}, nil},
		{"open ring of 15 mm", []geom.Curve{geom.Arc(geom.Pt(0, 0), 3.2, 45, 315)}, []float64{3.2 * math.Sqrt2}},
		{"fork that comes near again", []geom.Curve{pl(0, 0, 40, 0), pl(0, 0, 20, 20, 38, 4)}, []float64{4}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Spacing(geom.Join(c.lines, 0.01), DefaultSpacing())
			require.NoError(t, err)
			var d []float64
			for _, g := range got {
				d = append(d, g.Distance)
				assert.InDelta(t, g.Distance, g.At[0].Dist(g.At[1]), 1e-9)
			}
			require.Len(t, d, len(c.want), "%v", got)
			assert.InDeltaSlice(t, c.want, d, 0.03)
		})
	}
	_, err := Spacing(geom.Centreline{}, SpacingSettings{})
	assert.ErrorContains(t, err, "spacing")
}

// The tightest radius of a curve made by Bends.
func tightest(c geom.Centreline) float64 {
	least := math.Inf(1)
	for _, k := range c.Curves {
		for _, p := range k.Pieces {
			for i := range 40 {
				if v := math.Abs(p.Curvature((float64(i) + 0.5) / 40)); v > 0 {
					least = min(least, 1/v)
				}
			}
		}
	}
	return least
}

func corners(c geom.Centreline) int {
	n := 0
	for _, k := range c.Curves {
		for i, p := range k.Pieces {
			if i == 0 && !k.Closed {
				continue
			}
			before := k.Pieces[(i+len(k.Pieces)-1)%len(k.Pieces)]
			if before[3].Dist(p[0]) > 1e-9 || before.Heading(1).Angle(p.Heading(0)) > 1 {
				n++
			}
		}
	}
	return n
}

func TestBends(t *testing.T) {
	square := pl(0, 0, 60, 0, 60, 60, 0, 60, 0, 0)
	for _, c := range []struct {
		name        string
		lines       []geom.Curve
		bends, left int // found, and not rounded
		moved       float64
		length      float64 // of all lines afterwards, 0 if not asked
	}{
		{"straight", []geom.Curve{pl(0, 0, 50, 0)}, 0, 0, 0, 50},
		{"circle of 20", []geom.Curve{circle(0, 0, 20)}, 0, 0, 0, 0},
		// A right corner rounded by R = 5 leaves by R(√2 − 1) and is shorter
		// by R(2 − π/2): closed form.
		{"right corner", []geom.Curve{pl(0, 0, 50, 0, 50, 50)}, 1, 0, 5 * (math.Sqrt2 - 1), 100 - 5*(2-math.Pi/2)},
		{"square", []geom.Curve{square}, 4, 0, 5 * (math.Sqrt2 - 1), 240 - 4*5*(2-math.Pi/2)},
		{"circle of 3: nowhere to go", []geom.Curve{circle(0, 0, 3)}, 1, 1, 0, 0},
		{"corner at a junction", []geom.Curve{pl(0, 0, 50, 0, 50, 50), pl(50, 0, 90, -30)}, 1, 1, 0, 0},
		// An arc of 5 mm in a corner of 20 degrees would lie 5/sin 10° − 5 = 23.8 mm
		// from its tip: more than rounding may.
		{"corner of 20 degrees", []geom.Curve{pl(0, 0, 90, 0, 90-90*math.Cos(geom.Radians(20)), 90*math.Sin(geom.Radians(20)))}, 1, 1, 0, 0},
		{"sides too short", []geom.Curve{pl(0, 0, 3, 0, 3, 3)}, 1, 1, 0, 0},
		{"U of radius 3 between long sides", []geom.Curve{uTurn(3)}, 1, 1, 0, 0},
		{"bend of radius 2 by 90 degrees", []geom.Curve{path(pl(-40, -2, 0, -2), geom.Arc(geom.Pt(0, 0), 2, -90, 0), pl(2, 0, 2, 40))}, 1, 0, 3 * (math.Sqrt2 - 1), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := geom.Join(c.lines, 0.01)
			got, bends, err := Bends(in, DefaultBends())
			require.NoError(t, err)
			require.Len(t, bends, c.bends, "%+v", bends)
			left, moved := 0, 0.0
			for _, b := range bends {
				if !b.Rounded {
					left++
					assert.NotEmpty(t, b.Why)
				}
				moved = max(moved, b.Moved)
			}
			assert.Equal(t, c.left, left, "%+v", bends)
			if left == 0 {
				assert.Zero(t, corners(got))
				assert.GreaterOrEqual(t, tightest(got), 5*0.985)
				assert.InDelta(t, c.moved, moved, 0.05)
			}
			if c.length > 0 {
				assert.InDelta(t, c.length, got.Length(), 0.1)
			}
			for i, k := range got.Curves {
				require.NotEmpty(t, k.Stops)
				assert.Equal(t, 0, k.Stops[0].Piece)
				assert.Equal(t, len(k.Pieces), k.Stops[len(k.Stops)-1].Piece)
				assert.Len(t, k.Stops, len(in.Curves[i].Stops))
				for _, s := range k.Stops {
					at := k.Pieces[len(k.Pieces)-1][3]
					if s.Piece < len(k.Pieces) {
						at = k.Pieces[s.Piece][0]
					}
					assert.InDelta(t, 0, at.Dist(got.Knots[s.Knot].At), 1e-9, "a stop lies at its knot")
				}
			}
			join, marked, err := Bends(in, BendSettings{Radius: 5, Corners: CornerJoin})
			require.NoError(t, err)
			assert.Equal(t, in, join, "only marked")
			assert.Len(t, marked, c.bends)
		})
	}
}

// How tight a bend is, how far it turns and where it is, by the circle's measures.
func TestBendsAreMeasured(t *testing.T) {
	for _, c := range []struct {
		name                string
		line                geom.Curve
		radius, turn, along float64
	}{
		{"corner", pl(0, 0, 50, 0, 50, 50), 0, 90, 50},
		{"circle", circle(0, 0, 3), 3, 360, -1},
		{"half a circle", uTurn(3), 3, 180, -1},
		{"a quarter of radius 2", path(pl(-40, -2, 0, -2), geom.Arc(geom.Pt(0, 0), 2, -90, 0), pl(2, 0, 2, 40)), 2, 90, -1},
		{"an ellipse's end", ellipse(40, 8), 8.0 * 8 / 40, -1, -1}, // b²/a
	} {
		t.Run(c.name, func(t *testing.T) {
			_, bends, err := Bends(geom.Join([]geom.Curve{c.line}, 0.01), DefaultBends())
			require.NoError(t, err)
			require.NotEmpty(t, bends)
			b := bends[0]
			assert.InDelta(t, c.radius, b.Radius, 0.03*c.radius+1e-9)
			if c.turn >= 0 {
				assert.InDelta(t, c.turn, b.Turn, 0.03*c.turn)
			}
			if c.along >= 0 {
				assert.InDelta(t, c.along, b.Along, 1e-6)
			}
		})
	}
}

// ellipse is one of half axes a along x and b along y.
func ellipse(a, b float64) geom.Curve {
	var pieces []geom.Curve
	const n = 16
	for i := range n {
		from, to := 2*math.Pi*float64(i)/n, 2*math.Pi*float64(i+1)/n
		h := 4.0 / 3 * math.Tan((to-from)/4)
		at := func(t float64) geom.Point { return geom.Pt(a*math.Cos(t), b*math.Sin(t)) }
		way := func(t float64) geom.Point { return geom.Pt(-a*math.Sin(t), b*math.Cos(t)) }
		pieces = append(pieces, geom.Curve{Pieces: []geom.Cubic{{at(from), at(from).Add(way(from).Mul(h)), at(to).Sub(way(to).Mul(h)), at(to)}}})
	}
	c := path(pieces...)
	c.Closed = true
	return c
}

// Where lines are too near, and for how far: of a line 5 mm off, the first is within 7.5 mm as far as
// Pythagoras says beyond its ends, to within a segment.
func TestSpacingPlaces(t *testing.T) {
	beyond := math.Sqrt(7.5*7.5 - 5*5)
	for _, c := range []struct {
		name   string
		other  geom.Curve
		at     [2]geom.Point
		along  [2]float64
		length float64
	}{
		{"an end", pl(30, 45, 30, 5), [2]geom.Point{{X: 30, Y: 0}, {X: 30, Y: 5}}, [2]float64{30, 40}, 2 * beyond},
		{"a line beside it", pl(60, 25, 60, 5, 90, 6), [2]geom.Point{{X: 60, Y: 0}, {X: 60, Y: 5}}, [2]float64{60, 20}, 30 + 2*beyond},
	} {
		t.Run(c.name, func(t *testing.T) {
			tight, err := Spacing(geom.Join([]geom.Curve{pl(0, 0, 120, 0), c.other}, 0.01), DefaultSpacing())
			require.NoError(t, err)
			require.Len(t, tight, 1)
			got := tight[0]
			assert.Equal(t, [2]int{0, 1}, got.Curves)
			assert.InDelta(t, 5, got.Distance, 1e-6)
			for k := range 2 {
				assert.InDelta(t, 0, got.At[k].Dist(c.at[k]), 1e-6)
				assert.InDelta(t, c.along[k], got.Along[k], 1e-6)
			}
			assert.InDelta(t, c.length, got.Length, 7.5/2, "two segments are a quarter of the spacing each")
		})
	}
}

func TestJunctions(t *testing.T) {
	none := math.Inf(1)
	for _, c := range []struct {
		name    string
		lines   []geom.Curve
		passes  []int // curve that passes, by junction
		butts   []int // how many butt
		cramped int
		room    []float64 // mm to the next junction, less the strip of 5 mm
	}{
		{"none", []geom.Curve{pl(0, 0, 50, 0)}, nil, nil, 0, nil},
		{"T", []geom.Curve{pl(30, 0, 30, 50), pl(0, 0, 30, 0, 60, 0)}, []int{1}, []int{1}, 0, []float64{none}},
		{"crossing, the longer passes", []geom.Curve{pl(0, 0, 30, 0, 60, 0), pl(30, -40, 30, 0, 30, 40)}, []int{1}, []int{1}, 0, []float64{none}},
		{"ladder with narrow rungs", []geom.Curve{pl(0, 0, 30, 0, 37, 0, 90, 0), pl(30, 0, 30, 50), pl(37, 0, 37, 50)}, []int{0, 0}, []int{1, 1}, 2, []float64{7 - 5, 7 - 5}},
		{"circle with a spoke", []geom.Curve{circle(0, 0, 20), pl(20, 0, 60, 0)}, []int{0}, []int{1}, 0, []float64{none}},
		{"circle with two spokes at right angles", []geom.Curve{circle(0, 0, 20), pl(20, 0, 60, 0), pl(0, 20, 0, 60)}, []int{0, 0}, []int{1, 1}, 0, []float64{10*math.Pi - 5, 10*math.Pi - 5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			js, err := Junctions(geom.Join(c.lines, 0.01), JunctionSettings{Strip: 5})
			require.NoError(t, err)
			var passes, butts []int
			cramped := 0
			require.Len(t, js, len(c.room))
			for i, j := range js {
				if math.IsInf(c.room[i], 1) {
					assert.True(t, math.IsInf(j.Room, 1), "%g", j.Room)
				} else {
					assert.InDelta(t, c.room[i], j.Room, 0.01)
				}
				passes, butts = append(passes, j.Passes.Curve), append(butts, len(j.Butts))
				if j.Cramped {
					cramped++
				}
			}
			assert.Equal(t, c.passes, passes)
			assert.Equal(t, c.butts, butts)
			assert.Equal(t, c.cramped, cramped)
		})
	}
}

func TestSpread(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []geom.Curve
		moved float64 // expected, about
		left  bool
	}{
		{"wide enough", []geom.Curve{pl(0, 0, 100, 0), pl(0, 8, 100, 8)}, 0, false},
		// Two equal lines share what is missing: 0.75 mm each, and a hair.
		{"parallel, 6 mm apart", []geom.Curve{pl(0, 0, 100, 0), pl(0, 6, 100, 6)}, 0.76, false},
		{"two circles", []geom.Curve{circle(0, 0, 20), circle(45, 0, 20)}, 1.26, false},
		{"end near a side", []geom.Curve{pl(0, 0, 100, 0), pl(50, 5, 50, 60)}, 1.8, false},
		{"three in a row", []geom.Curve{pl(0, 0, 80, 0), pl(0, 6, 80, 6), pl(0, 12, 80, 12)}, 1.53, false},
		{"ladder held together", []geom.Curve{pl(0, 0, 60, 0), pl(0, 30, 60, 30), pl(20, 0, 20, 30), pl(26, 0, 26, 30)}, 1.2, false},
		{"more than it may", []geom.Curve{pl(0, 0, 100, 0), pl(0, 1, 100, 1)}, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := geom.Join(c.lines, 0.01)
			set := DefaultSpacing()
			set.Spread = 2.5
			got, err := Spread(in, set)
			require.NoError(t, err)
			if c.left {
				assert.NotEmpty(t, got.Left)
				assert.Equal(t, in, got.Line)
				return
			}
			assert.Empty(t, got.Left)
			if c.moved == 0 {
				assert.Equal(t, in, got.Line, "left as it was")
			}
			tight, err := Spacing(got.Line, set)
			require.NoError(t, err)
			assert.Empty(t, tight)
			assert.InDelta(t, c.moved, got.Moved, 0.25)
			// Shape is kept: lengths hardly change.
			for i, k := range got.Line.Curves {
				assert.InEpsilon(t, in.Curves[i].Length(), k.Length(), 0.06)
				assert.Len(t, k.Stops, len(in.Curves[i].Stops))
				for _, s := range k.Stops {
					at := k.Pieces[len(k.Pieces)-1][3]
					if s.Piece < len(k.Pieces) {
						at = k.Pieces[s.Piece][0]
					}
					assert.InDelta(t, 0, at.Dist(got.Line.Knots[s.Knot].At), 1e-9)
				}
			}
		})
	}
	_, err := Spread(geom.Centreline{}, DefaultSpacing())
	assert.ErrorContains(t, err, "over 0 mm")
}

func TestWalls(t *testing.T) {
	plate := solid.Box(0, 0, 60, 40)
	for _, c := range []struct {
		name string
		part solid.Solid
		want []WeakKind
		size float64
	}{
		{"plate", solid.Solid{{Z0: 0, Z1: 3, Plan: plate}}, nil, 0},
		{"fin of 0.3 mm", solid.Solid{{Z0: 0, Z1: 1, Plan: plate}, {Z0: 1, Z1: 5, Plan: solid.Box(10, 10, 10.3, 30)}}, []WeakKind{WeakSliver}, 6},
		{"wall of one line", solid.Solid{{Z0: 0, Z1: 1, Plan: plate}, {Z0: 1, Z1: 5, Plan: solid.Box(10, 10, 10.5, 30)}}, nil, 0},
		{"bridge of 8 mm", solid.Solid{{Z0: 0, Z1: 2, Plan: plate.Less(solid.Box(20, -1, 28, 41))}, {Z0: 2, Z1: 3, Plan: plate}}, nil, 0},
		// The middle of a gap of 16 mm is carried 8 mm away.
		{"bridge of 16 mm", solid.Solid{{Z0: 0, Z1: 2, Plan: plate.Less(solid.Box(20, -1, 36, 41))}, {Z0: 2, Z1: 3, Plan: plate}}, []WeakKind{WeakCeiling}, 8},
		{"ledge of 4 mm", solid.Solid{{Z0: 0, Z1: 2, Plan: solid.Box(0, 0, 56, 40)}, {Z0: 2, Z1: 3, Plan: plate}}, nil, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			weak, err := Walls(c.part, DefaultWalls())
			require.NoError(t, err)
			var kinds []WeakKind
			for _, w := range weak {
				kinds = append(kinds, w.Kind)
				assert.InDelta(t, c.size, w.Size, 0.4)
			}
			assert.Equal(t, c.want, kinds)
		})
	}
	_, err := Walls(nil, WallSettings{})
	assert.ErrorContains(t, err, "over 0 mm")
	for _, c := range []struct{ wall, line, want float64 }{{1, 0.5, 1}, {1, 0.45, 1.35}, {0.9, 0.45, 0.9}, {0.2, 0.5, 0.5}, {1.2, 0.4, 1.2}} {
		assert.InDelta(t, c.want, WholeWall(c.wall, c.line), 1e-9)
	}
}

func TestAstray(t *testing.T) {
	one := func(c ...geom.Curve) geom.Centreline { return geom.Centreline{Curves: c} }
	for _, c := range []struct {
		name string
		a, b geom.Centreline
		mm   float64
		at   geom.Point
	}{
		{"the same", one(geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0))), one(geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0))), 0, geom.Point{}},
		{"a tip cut back", one(geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0))), one(geom.Lines(geom.Pt(0, 0), geom.Pt(44, 0))), 6, geom.Pt(50, 0)},
		{"a tip led on", one(geom.Lines(geom.Pt(0, 0), geom.Pt(44, 0))), one(geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0))), 6, geom.Pt(50, 0)},
		{"far beyond the cells", one(geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0))), one(geom.Lines(geom.Pt(0, 35), geom.Pt(50, 35))), 35, geom.Pt(0, 0)},
		{"nothing to compare", one(), one(geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0))), 0, geom.Point{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			mm, at := Astray(c.a, c.b)
			assert.InDelta(t, c.mm, mm, 0.02)
			assert.InDelta(t, 0, at.Dist(c.at), 0.3)
		})
	}
}
