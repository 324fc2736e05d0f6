package regular

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Worked example: W. Gander, G. H. Golub and R. Strebel, "Least-squares fitting
// of circles and ellipses", BIT 34 (1994), table 2.1 and sections 2 and 3 (from
// memory): the algebraic fit has centre (5.3794, 7.2532) and radius 3.0370, the
// geometric one centre (4.7398, 2.9835) and radius 4.7142.
func TestFitCircleGander(t *testing.T) {
	p := []geom.Point{{X: 1, Y: 7}, {X: 2, Y: 6}, {X: 5, Y: 8}, {X: 7, Y: 7}, {X: 9, Y: 5}, {X: 3, Y: 7}}
	c, r, ok := FitCircle(p)
	require.True(t, ok)
	assert.InDelta(t, 4.7398, c.X, 1e-4)
	assert.InDelta(t, 2.9835, c.Y, 1e-4)
	assert.InDelta(t, 4.7142, r, 1e-4)
}

// Closed forms: points on a circle give it; points on a line give none; the
// line of least squares through the corners of a rectangle is its long axis.
func TestFits(t *testing.T) {
	var on []geom.Point
	for i := range 5 {
		s, c := math.Sincos(float64(i) * 0.3)
		on = append(on, geom.Pt(10+7*c, -4+7*s))
	}
	c, r, ok := FitCircle(on)
	require.True(t, ok)
	assert.InDelta(t, 0, c.Dist(geom.Pt(10, -4)), 1e-9)
	assert.InDelta(t, 7, r, 1e-9)
	_, _, ok = FitCircle([]geom.Point{{X: 0, Y: 0}, {X: 1, Y: 1}, {X: 2, Y: 2}, {X: 5, Y: 5}})
	assert.False(t, ok)
	at, dir := FitLine([]geom.Point{{X: 0, Y: 0}, {X: 0, Y: 2}, {X: 10, Y: 0}, {X: 10, Y: 2}})
	assert.InDelta(t, 1, at.Y, 1e-12)
	assert.InDelta(t, 1, dir.X, 1e-12)
}

// shaky draws curves as a hand does: each point off by a smooth tremor of at
// most size mm.
func shaky(t *testing.T, seed int64, size float64, cs ...geom.Curve) geom.Centreline {
	t.Helper()
	rng := rand.New(rand.NewSource(seed))
	type wave struct{ k, x, y float64 }
	var waves []wave
	for range 5 {
		waves = append(waves, wave{0.05 + 0.25*rng.Float64(), rng.Float64() * 7, rng.Float64() * 7})
	}
	off := func(p geom.Point) geom.Point {
		for _, w := range waves {
			s := math.Sin(w.k*(p.X*math.Cos(w.x)+p.Y*math.Sin(w.x))*4 + w.y)
			p = p.Add(geom.Pt(math.Cos(w.y), math.Sin(w.y)).Mul(s * size / 5))
		}
		return p
	}
	var out []geom.Curve
	for _, c := range cs {
		pts := c.Flatten(0.005).Resampled(0.4)
		for i := range pts {
			pts[i] = off(pts[i])
		}
		// Corners of the drawing stay corners.
		n := geom.Network{Knots: []geom.Knot{{At: pts[0], Degree: 1}, {At: pts[len(pts)-1], Degree: 1}}}
		st := geom.Stroke{Runs: []geom.Polyline{pts}, Knots: []int{0, 1}, Closed: c.Closed}
		if c.Closed {
			pts[len(pts)-1] = pts[0]
			n.Knots = []geom.Knot{{At: pts[0], Degree: 2}}
			st.Knots = []int{0, 0}
		}
		n.Strokes = []geom.Stroke{st}
		s, err := geom.Smooth(n, geom.DefaultSmooth())
		require.NoError(t, err)
		out = append(out, s.Curves...)
	}
	return geom.Join(out, 0.6)
}

func path(parts ...geom.Curve) geom.Curve {
	var c geom.Curve
	for _, p := range parts {
		c.Pieces = append(c.Pieces, p.Pieces...)
	}
	return c
}

func line(v ...float64) geom.Curve {
	var pts []geom.Point
	for i := 0; i < len(v); i += 2 {
		pts = append(pts, geom.Pt(v[i], v[i+1]))
	}
	return geom.Lines(pts...)
}

func kinds(r Regular) map[Kind]int {
	out := map[Kind]int{}
	for _, s := range r.Shapes {
		out[s.Kind]++
	}
	return out
}

func TestShapes(t *testing.T) {
	wave := geom.Curve{Pieces: []geom.Cubic{{{X: 0, Y: 0}, {X: 30, Y: 60}, {X: 40, Y: -70}, {X: 100, Y: 20}}}}
	stadium := path(line(20, 0, 80, 0), geom.Arc(geom.Pt(80, 20), 20, -90, 90), line(80, 40, 20, 40), geom.Arc(geom.Pt(20, 20), 20, 90, 270))
	stadium.Closed = true
	for _, c := range []struct {
		name     string
		curves   []geom.Curve
		want     map[Kind]int
		tangent  int
		parallel int
		equal    int
	}{
		{"line", []geom.Curve{line(0, 0, 80, 10)}, map[Kind]int{Line: 1}, 0, 0, 0},
		{"arc", []geom.Curve{geom.Arc(geom.Pt(0, 0), 40, 20, 140)}, map[Kind]int{Arc: 1}, 0, 0, 0},
		{"circle", []geom.Curve{geom.Arc(geom.Pt(0, 0), 30, 0, 360)}, map[Kind]int{Circle: 1}, 0, 0, 0},
		{"right corner", []geom.Curve{line(0, 0, 60, 0, 60, 50)}, map[Kind]int{Line: 2}, 0, 0, 0},
		{"two lines, parallel within 1 degree", []geom.Curve{line(0, 0, 90, 0), line(0, 20, 90, 21.5)}, map[Kind]int{Line: 2}, 0, 2, 0},
		{"two lines, 10 degrees apart", []geom.Curve{line(0, 0, 90, 0), line(0, 20, 90, 36)}, map[Kind]int{Line: 2}, 0, 0, 0},
		{"circles of nearly one radius", []geom.Curve{geom.Arc(geom.Pt(0, 0), 30, 0, 360), geom.Arc(geom.Pt(80, 0), 30.8, 0, 360)}, map[Kind]int{Circle: 2}, 0, 0, 2},
		{"circles of two radii", []geom.Curve{geom.Arc(geom.Pt(0, 0), 30, 0, 360), geom.Arc(geom.Pt(80, 0), 25, 0, 360)}, map[Kind]int{Circle: 2}, 0, 0, 0},
		{"line into arc", []geom.Curve{path(line(-60, -30, 0, -30), geom.Arc(geom.Pt(0, 0), 30, -90, 60))}, map[Kind]int{Line: 1, Arc: 1}, 1, 0, 0},
		{"free wave stays free", []geom.Curve{wave}, map[Kind]int{}, 0, 0, 0},
		{"line through a junction", []geom.Curve{line(0, 0, 90, 0), line(40, 0, 40, 60)}, map[Kind]int{Line: 3}, 1, 2, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := shaky(t, 3, 0.25, c.curves...)
			set := DefaultShapes()
			got, err := Shapes(in, set)
			require.NoError(t, err)
			assert.Equal(t, c.want, kinds(got))
			assert.Equal(t, c.tangent, got.Tangent)
			assert.Equal(t, c.parallel, got.Parallel)
			assert.Equal(t, c.equal, got.Equal)
			assert.LessOrEqual(t, got.Moved, 2*set.Tolerance)
			checkCurves(t, got.Line)
			assertNear(t, got.Line, c.curves, 0.6)
		})
	}
	t.Run("stadium", func(t *testing.T) {
		got, err := Shapes(shaky(t, 5, 0.2, stadium), DefaultShapes())
		require.NoError(t, err)
		// The closed line starts within a side, which so comes in two.
		assert.Equal(t, 2, kinds(got)[Arc])
		for i, k := range got.Line.Curves[0].Pieces {
			before := got.Line.Curves[0].Pieces[(i+len(got.Line.Curves[0].Pieces)-1)%len(got.Line.Curves[0].Pieces)]
			assert.InDelta(t, 0, before.Heading(1).Angle(k.Heading(0)), 0.01, "tangent all round")
		}
		var radii []float64
		for _, s := range got.Shapes {
			if s.Kind == Arc {
				radii = append(radii, s.Radius)
			}
		}
		assert.InDelta(t, radii[0], radii[1], 1e-5)
		assert.InDelta(t, 20, radii[0], 0.4)
		var dirs []geom.Point
		for _, s := range got.Shapes {
			if s.Kind == Line {
				dirs = append(dirs, s.To.Sub(s.From).Unit())
			}
		}
		for _, d := range dirs {
			assert.InDelta(t, 0, d.Cross(dirs[0]), 1e-6, "parallel")
		}
	})
	_, err := Shapes(geom.Centreline{}, ShapeSettings{Tolerance: -1})
	assert.ErrorContains(t, err, "must be 0 or more")
	in := shaky(t, 1, 0.2, wave)
	off, err := Shapes(in, ShapeSettings{})
	require.NoError(t, err)
	assert.Equal(t, in, off.Line, "a tolerance of 0 leaves all as drawn")
}

// checkCurves checks that pieces follow one another and stops lie at knots.
func checkCurves(t *testing.T, c geom.Centreline) {
	t.Helper()
	for _, k := range c.Curves {
		for i := 1; i < len(k.Pieces); i++ {
			assert.InDelta(t, 0, k.Pieces[i-1][3].Dist(k.Pieces[i][0]), 1e-6)
		}
		require.NotEmpty(t, k.Stops)
		assert.Zero(t, k.Stops[0].Piece)
		assert.Equal(t, len(k.Pieces), k.Stops[len(k.Stops)-1].Piece)
		for _, s := range k.Stops {
			at := k.Pieces[len(k.Pieces)-1][3]
			if s.Piece < len(k.Pieces) {
				at = k.Pieces[s.Piece][0]
			}
			assert.InDelta(t, 0, at.Dist(c.Knots[s.Knot].At), 1e-6)
		}
	}
}

// assertNear checks that a centreline lies near the curves it was drawn after.
func assertNear(t *testing.T, c geom.Centreline, want []geom.Curve, tol float64) {
	t.Helper()
	var pl []geom.Polyline
	for _, k := range want {
		pl = append(pl, k.Flatten(0.01))
	}
	for _, k := range c.Curves {
		for _, p := range k.Flatten(0.05).Resampled(2) {
			d := math.Inf(1)
			for _, l := range pl {
				d = min(d, l.DistanceTo(p))
			}
			assert.LessOrEqual(t, d, tol, "%v", p)
		}
	}
}

// The sides and corners of a rounded plate are found, all four of each.
func TestShapesOfRoundedPlate(t *testing.T) {
	var way geom.Polyline
	for i, c := range []geom.Point{{X: 55, Y: 30}, {X: -55, Y: 30}, {X: -55, Y: -30}, {X: 55, Y: -30}} {
		for d := range 91 {
			s, k := math.Sincos(geom.Radians(float64(90*i + d)))
			way = append(way, c.Add(geom.Pt(20*k, 20*s)))
		}
	}
	way = append(way, way[0]).Resampled(0.5)
	way[len(way)-1] = way[0]
	k, err := geom.SmoothLine(way, true, geom.DefaultSmooth())
	require.NoError(t, err)
	r, err := Shapes(geom.Join([]geom.Curve{k}, 0.05), DefaultShapes())
	require.NoError(t, err)
	kinds := map[Kind]int{}
	for _, s := range r.Shapes {
		kinds[s.Kind]++
		if s.Kind == Arc {
			assert.InDelta(t, 20, s.Radius, 0.5)
		}
	}
	assert.Equal(t, map[Kind]int{Line: 4, Arc: 4}, kinds)
	box := geom.BoundsOf(r.Line.Curves, 0.01).Size()
	assert.InDelta(t, 150, box.X, 0.5)
	assert.InDelta(t, 100, box.Y, 0.5)
}
