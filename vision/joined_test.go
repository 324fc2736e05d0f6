package vision

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/geom/marks"
)

// a4 is a sheet on its side (ISO 216), mm.
func a4() geom.Point { return geom.Pt(297, 210) }

// wallPx is the scale of the made drawing, px per mm, and wallEdge the table about it, mm.
const wallPx, wallEdge = 8, 40.0

// wall is a made drawing over sheets that lie as told: their marks, a circle and a line over all of
// them, and the joints' shadows, on a darker table.
func wall(t *testing.T, lay map[int]marks.Pose, circle geom.Point, radius float64, line [2]geom.Point) *Colour {
	t.Helper()
	c := NewColour(int((2*297+2*wallEdge)*wallPx), int((210+2*wallEdge)*wallPx))
	for i := range c.Pix {
		c.Pix[i] = 90
	}
	m := c.mat()
	defer m.Close()
	px := func(p geom.Point) image.Point {
		q := p.Add(geom.Pt(wallEdge, wallEdge)).Mul(wallPx)
		return image.Pt(int(math.Round(q.X)), int(math.Round(q.Y)))
	}
	paper, ink := color.RGBA{236, 238, 240, 0}, color.RGBA{30, 30, 40, 0}
	for _, pose := range lay {
		o := pose.Outline(a4(), 0)
		q := [][]image.Point{{px(o[0]), px(o[1]), px(o[2]), px(o[3])}}
		fill(&m, q, paper)
	}
	for sheet, pose := range lay {
		o := pose.Outline(a4(), 0)
		for i := range o {
			gocv.Line(&m, px(o[i]), px(o[(i+1)%4]), color.RGBA{150, 150, 150, 0}, 5)
		}
		for _, mark := range marks.Of(sheet) {
			for _, s := range mark.Shapes(a4()) {
				if s.Round {
					gocv.Circle(&m, px(pose.Apply(s.Middle)), int(s.Size.X/2*wallPx), ink, -1)
					continue
				}
				var q []image.Point
				for _, d := range []geom.Point{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}} {
					q = append(q, px(pose.Apply(s.Middle.Add(geom.Pt(d.X*s.Size.X/2, d.Y*s.Size.Y/2)))))
				}
				fill(&m, [][]image.Point{q}, ink)
			}
		}
	}
	gocv.Circle(&m, px(circle), int(radius*wallPx), ink, 2*wallPx)
	gocv.Line(&m, px(line[0]), px(line[1]), ink, 2*wallPx)
	return c
}

// shot is a photograph of a wall, from over a place and somewhat aslant, of w by h px.
func shot(t *testing.T, c *Colour, over geom.Point, tilt, turn float64, w, h int) *Colour {
	t.Helper()
	const px = 6 // to a mm
	sin, cos := math.Sincos(geom.Radians(turn))
	low := math.Sin(geom.Radians(tilt)) / 420
	see := func(p geom.Point) geom.Point { // a place of the drawing, px of the photograph
		d := p.Sub(over)
		x, y := cos*d.X-sin*d.Y, sin*d.X+cos*d.Y
		k := 1 + y*low
		return geom.Pt(float64(w)/2+px*x/k, float64(h)/2+px*y*math.Cos(geom.Radians(tilt))/k)
	}
	from := [4]geom.Point{over.Add(geom.Pt(-100, -80)), over.Add(geom.Pt(100, -80)), over.Add(geom.Pt(100, 80)), over.Add(geom.Pt(-100, 80))}
	var seen, onWall [4]geom.Point
	for i, p := range from {
		seen[i], onWall[i] = see(p), p.Add(geom.Pt(wallEdge, wallEdge)).Mul(wallPx)
	}
	out, err := warp(c, fourPoint(seen, onWall), w, h)
	require.NoError(t, err)
	return out
}

// Two photographs of a drawing over two taped sheets: how the sheets lie, and the lines over their
// joint, come out as they were made.
func TestJoined(t *testing.T) {
	lay := map[int]marks.Pose{1: {}, 2: {At: geom.Pt(297.3, 0.9), Turn: geom.Radians(-0.1)}}
	circle, line := geom.Pt(297, 105), [2]geom.Point{{X: 80, Y: 60}, {X: 520, Y: 150}}
	drawn := wall(t, lay, circle, 70, line)
	photos := []*Colour{
		shot(t, drawn, geom.Pt(165, 105), 14, 4, 2400, 1800), shot(t, drawn, geom.Pt(430, 105), 17, -6, 2400, 1800),
	}
	var seen [][]marks.Seen
	for _, p := range photos {
		s, err := FindMarks(p)
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(s), 6, "%v", s)
		seen = append(seen, s)
	}
	plan, err := marks.Adjust(seen, a4())
	require.NoError(t, err)
	assert.Less(t, plan.Worst, 0.15)
	for _, m := range marks.Of(2) {
		assert.InDelta(t, 0, plan.Sheets[2].Apply(m.At(a4())).Dist(lay[2].Apply(m.At(a4()))), 0.15, "mm")
	}
	const px = 6
	whole, err := Joined(photos, plan, a4(), px)
	require.NoError(t, err)
	s := DefaultInk()
	ink, err := FindInk(whole, px, s)
	require.NoError(t, err)
	assert.Equal(t, 1, ink.Spots, "the circle and the line over it; no mark, no joint, no table")
	dark := func(p geom.Point) bool {
		q := p.Sub(plan.Bounds(a4()).Min).Mul(px)
		return ink.Mask.Pix[int(q.Y)*ink.Mask.W+int(q.X)] != 0
	}
	for i := range 360 {
		sin, cos := math.Sincos(geom.Radians(float64(i)))
		for _, r := range []float64{69.4, 70, 70.6} { // the line is 2 mm wide
			assert.True(t, dark(circle.Add(geom.Pt(r*cos, r*sin))), "%d degrees, %g mm", i, r)
		}
		if on := circle.Add(geom.Pt(72*cos, 72*sin)); (geom.Polyline{line[0], line[1]}).DistanceTo(on) > 2 {
			assert.False(t, dark(on), "%d degrees, beside it", i)
		}
	}
}

// Only what looks like a mark in all its parts is one.
func TestFindMarks(t *testing.T) {
	lay := map[int]marks.Pose{1: {}, 2: {At: geom.Pt(297, 0)}}
	drawn := wall(t, lay, geom.Pt(297, 105), 60, [2]geom.Point{{X: 80, Y: 60}, {X: 520, Y: 150}})
	for _, c := range []struct {
		name       string
		tilt, turn float64
		flip       bool
		want       int
	}{
		{"from above", 0, 0, false, 4},
		{"tilted", 30, 0, false, 4},
		{"upside down", 10, 180, false, 4},
		{"on its side", 10, 100, false, 4},
		{"mirrored", 10, 0, true, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := shot(t, drawn, geom.Pt(148, 105), c.tilt, c.turn, 2000, 2000)
			if c.flip {
				m := p.mat()
				gocv.Flip(m, &m, 1)
				m.Close()
			}
			seen, err := FindMarks(p)
			require.NoError(t, err)
			n := 0
			for _, s := range seen {
				if s.Sheet == 1 {
					n++
				}
			}
			assert.Equal(t, c.want, n, "%v", seen)
		})
	}
}
