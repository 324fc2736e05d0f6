package geom

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestForest(t *testing.T) {
	f := NewForest(6)
	assert.True(t, f.Join(4, 1), "they were apart")
	assert.True(t, f.Join(1, 5))
	assert.False(t, f.Join(5, 4), "they hang together already")
	assert.Equal(t, f.Root(4), f.Root(5))
	assert.NotEqual(t, f.Root(0), f.Root(4))
	of, n := f.Numbers()
	assert.Equal(t, []int{0, 1, 2, 3, 1, 1}, of, "by their first members")
	assert.Equal(t, 4, n)
}

// What is near a place is in its cell or one of the eight about it, and a box is in every cell that it touches.
func TestGridCells(t *testing.T) {
	g := NewGrid[int](10)
	for i := range 25 { // one in each cell of five by five
		g.Put(Pt(float64(i%5)*10-15, float64(i/5)*10-15), i)
	}
	var near []int
	for v := range g.Near(Pt(7, 3)) {
		near = append(near, v)
	}
	assert.Equal(t, []int{6, 7, 8, 11, 12, 13, 16, 17, 18}, near)
	for v := range g.Near(Pt(7, 3)) {
		assert.Equal(t, 6, v, "it stops where it is told to")
		break
	}
	box := NewGrid[string](10)
	box.PutBox(Rect{Pt(-5, 12), Pt(21, 33)}, "box")
	for x := -20; x < 40; x += 10 {
		for y := 0; y < 50; y += 10 {
			in := x >= -10 && x <= 20 && y >= 10 && y <= 30
			assert.Equal(t, in, len(box.At(Pt(float64(x)+5, float64(y)+5))) == 1, "%d, %d", x, y)
		}
	}
}

// What scales a drawing scales its pens, and a sign that is not turned lies as its sheet does.
func TestScaledAndPlan(t *testing.T) {
	n := Network{Knots: []Knot{{Pt(1, 2), 1}}, Strokes: []Stroke{{Runs: []Polyline{{Pt(1, 2), Pt(3, 4)}}, Knots: []int{0, 0}, Width: 0.5, Ink: 2}}}
	s := n.Scaled(4)
	assert.Equal(t, Stroke{Runs: []Polyline{{Pt(4, 8), Pt(12, 16)}}, Knots: []int{0, 0}, Width: 2, Ink: 2}, s.Strokes[0])
	assert.Equal(t, Knot{Pt(4, 8), 1}, s.Knots[0])
	line := Centreline{Curves: []Curve{Lines(Pt(10, 20), Pt(30, 20))}}
	flat := Frame{Size: Pt(100, 60)}
	assert.Equal(t, Pt(10, 20), flat.PlanLine(line).Curves[0].Pieces[0][0])
	turned := Frame{Size: Pt(100, 60), Turn: 90}.PlanLine(line).Curves[0].Pieces[0][0]
	assert.InDelta(t, 0, turned.Dist(Pt(40, 70)), 1e-9, "anticlockwise about the middle (50, 30)")
}

// More line than two thousand times a drawing's size is left as it is; less is looked at, also where the second line does not
// begin where the first did.
func TestOnceLimits(t *testing.T) {
	hatch := func(n int) []Curve {
		var out []Curve
		for i := range n {
			a, b := Pt(0, 0.01*float64(i%3)), Pt(100, 0.01*float64(i%3))
			out = append(out, path(a, b))
		}
		return out
	}
	out, twice := Once(hatch(2010))
	assert.Len(t, out, 2010)
	assert.Zero(t, twice)
	out, twice = Once(hatch(30))
	assert.Len(t, out, 3)
	assert.InDelta(t, 2700, twice, 1)
	out, twice = Once([]Curve{path(Pt(0, 0), Pt(100, 0)), path(Pt(90.037, 0), Pt(30.051, 0)), path(Pt(0, 50), Pt(100, 50))})
	assert.Len(t, out, 2)
	assert.InDelta(t, 59.986, twice, 0.01)
	// A line that leaves another, and comes back to it, keeps what lies off it, a step on it at each end.
	bow := path(Pt(0, 0), Pt(30, 0), Pt(40, 20), Pt(60, 20), Pt(70, 0), Pt(100, 0))
	out, twice = Once([]Curve{path(Pt(0, 0), Pt(100, 0)), bow})
	assert.Len(t, out, 2)
	r := NewRuler(out[1])
	assert.InDelta(t, 0, r.At(0).Dist(Pt(30, 0)), 0.25)
	assert.InDelta(t, 0, r.At(r.Length()).Dist(Pt(70, 0)), 0.25)
	assert.InDelta(t, 60, twice, 0.5)
	// One of no size at all has nothing to look at.
	dot := []Curve{path(Pt(5, 5), Pt(5, 5))}
	out, twice = Once(dot)
	assert.Equal(t, dot, out)
	assert.Zero(t, twice)
}

// A curve whose control point lies on its end heads where it bends to from there.
func TestHeadingOfBentEnds(t *testing.T) {
	c := Cubic{Pt(0, 0), Pt(0, 0), Pt(0, 10), Pt(10, 10)}
	assert.Less(t, c.Heading(0).Angle(Pt(0, 1)), 0.1)
	back := Cubic{Pt(10, 10), Pt(0, 10), Pt(0, 0), Pt(0, 0)}
	assert.Less(t, back.Heading(1).Angle(Pt(0, -1)), 0.1)
}
