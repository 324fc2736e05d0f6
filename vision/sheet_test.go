package vision

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// ISO 216: A4 is 210 × 297 mm, A3 is 297 × 420 mm, sides in the ratio 1 : √2
// to the nearest mm. ANSI/ASME Y14.1: size A is 8.5 × 11 in.
func TestPageSizes(t *testing.T) {
	for _, c := range []struct {
		page        Page
		short, long float64
	}{{PageA4, 210, 297}, {PageA3, 297, 420}, {PageLetter, 8.5 * 25.4, 11 * 25.4}} {
		s, l, ok := c.page.Size()
		require.True(t, ok)
		assert.InDelta(t, c.short, s, 1e-9)
		assert.InDelta(t, c.long, l, 1e-9)
	}
	for _, p := range []Page{PageA4, PageA3} {
		s, l, _ := p.Size()
		assert.InDelta(t, math.Sqrt2, l/s, 0.5/s*2, "ISO 216 rounds to whole mm")
	}
	_, _, ok := PageFree.Size()
	assert.False(t, ok)
}

// pinhole is where a camera of focal length f px over a plane tilted about both
// axes sees the place x, y mm of it in a photo of 4000 by 3000 px.
func pinhole(x, y, f, tiltX, tiltY float64) geom.Point {
	sx, cx := math.Sincos(geom.Radians(tiltX))
	sy, cy := math.Sincos(geom.Radians(tiltY))
	x, z := x*cy, x*sy
	y, z = y*cx-z*sx, y*sx+z*cx
	z += 400
	return geom.Pt(2000+f*x/z, 1500+f*y/z)
}

// camera is how that camera sees a sheet of w by h mm.
func camera(w, h, f, tiltX, tiltY float64) (q [4]geom.Point) {
	for i, c := range [][2]float64{{-w / 2, -h / 2}, {w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}} {
		q[i] = pinhole(c[0], c[1], f, tiltX, tiltY)
	}
	return q
}

func TestAspectOf(t *testing.T) {
	for _, c := range []struct {
		name         string
		w, h         float64
		f            float64
		tiltX, tiltY float64
		tol          float64
	}{
		{"A4 from above", 297, 210, 2889, 0, 0, 1e-9},
		{"A4 tilted one way", 297, 210, 2889, 25, 0, 0.002},
		{"A4 tilted both ways", 297, 210, 2889, 20, 15, 0.002},
		{"A4 tilted both ways, another lens", 210, 297, 3800, 25, 20, 0.01},
		{"letter tilted", 279.4, 215.9, 2889, 15, -25, 0.002},
		{"square tilted", 200, 200, 2889, 30, 20, 0.002},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := aspectOf(camera(c.w, c.h, c.f, c.tiltX, c.tiltY), 4000, 3000)
			assert.InEpsilon(t, c.w/c.h, got, c.tol+1e-9)
		})
	}
}

func TestPageOf(t *testing.T) {
	for _, c := range []struct {
		name string
		w, h float64
		ask  Page
		want Page
	}{
		{"A4 across", 297, 210, PageAuto, PageA4},
		{"A4 upright", 210, 297, PageAuto, PageA4},
		{"letter", 279.4, 215.9, PageAuto, PageLetter},
		{"letter upright", 215.9, 279.4, PageAuto, PageLetter},
		{"square", 200, 200, PageAuto, PageFree},
		{"a long strip", 300, 100, PageAuto, PageFree},
		{"A4 taken as free", 297, 210, PageFree, PageFree},
		{"A4 taken as A3", 297, 210, PageA3, PageA3},
	} {
		t.Run(c.name, func(t *testing.T) {
			page, aspect := pageOf(camera(c.w, c.h, 2889, 18, 10), 4000, 3000, c.ask)
			assert.Equal(t, c.want, page)
			assert.InEpsilon(t, c.w/c.h, aspect, 0.005)
		})
	}
}

func TestClockwise(t *testing.T) {
	want := [4]geom.Point{{X: 10, Y: 20}, {X: 300, Y: 5}, {X: 320, Y: 200}, {X: 0, Y: 210}}
	for _, order := range [][4]int{{0, 1, 2, 3}, {2, 0, 3, 1}, {3, 2, 1, 0}, {1, 3, 0, 2}} {
		var q [4]geom.Point
		for i, k := range order {
			q[i] = want[k]
		}
		assert.Equal(t, want, clockwise(q))
	}
}

// However a photo is turned and mirrored, the sheet's top is the side that it was before, turned along: near
// to 45 degrees too, where another faces up then. The corners are of a real photo.
func TestTurnedAlong(t *testing.T) {
	const w, h = 1500, 2000
	was := [4]geom.Point{{X: 153, Y: 1036}, {X: 829, Y: 322}, {X: 1258, Y: 803}, {X: 681, Y: 1481}}
	quarter := func(p geom.Point) geom.Point { return geom.Pt(h-p.Y, p.X) } // clockwise, of either size
	for _, c := range []struct {
		turned   Turn
		quarters int
	}{{TurnNone, 0}, {TurnQuarter, 1}, {TurnHalf, 2}, {TurnBack, 3}} {
		for _, flipped := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, mirrored %v", c.turned, flipped), func(t *testing.T) {
				// What was the top left corner, and the others clockwise from it, is found anew.
				q := was
				for range c.quarters {
					for i := range q {
						q[i] = quarter(q[i])
					}
				}
				top := from(q, 4-c.quarters)
				if flipped {
					for i := range q {
						q[i].X = -q[i].X
						top[i].X = -top[i].X
					}
					top = [4]geom.Point{top[1], top[0], top[3], top[2]}
				}
				assert.Equal(t, top, facing{c.turned, flipped}.along(clockwise(q)))
			})
		}
	}
}

func TestHomographyInverse(t *testing.T) {
	h := fourPoint([4]geom.Point{{}, {X: 100}, {X: 100, Y: 70}, {Y: 70}}, camera(297, 210, 2889, 20, 10))
	for _, p := range []geom.Point{{}, {X: 50, Y: 35}, {X: 100, Y: 70}, {X: 3, Y: 66}} {
		q := h.Inverse().Apply(h.Apply(p))
		assert.InDelta(t, p.X, q.X, 1e-6)
		assert.InDelta(t, p.Y, q.Y, 1e-6)
	}
}

// paperOnTable is a plain picture: a pale quadrilateral on a darker ground.
func paperOnTable(w, h int, q [4]geom.Point, paper, table uint8) *Colour {
	c := NewColour(w, h)
	for y := range h {
		for x := range w {
			v := paper
			if !inOutline(q, geom.Pt(float64(x)+0.5, float64(y)+0.5)) {
				v = table
			}
			for k := range 3 {
				c.Pix[3*(y*w+x)+k] = v
			}
		}
	}
	return c
}

func TestRectifyFindsCorners(t *testing.T) {
	for _, c := range []struct {
		name         string
		q            [4]geom.Point
		paper, table uint8
	}{
		{"square on", [4]geom.Point{{X: 200, Y: 150}, {X: 1400, Y: 150}, {X: 1400, Y: 1000}, {X: 200, Y: 1000}}, 240, 90},
		{"tilted", [4]geom.Point{{X: 300, Y: 200}, {X: 1300, Y: 160}, {X: 1450, Y: 1010}, {X: 150, Y: 1050}}, 240, 90},
		{"turned", [4]geom.Point{{X: 420, Y: 120}, {X: 1400, Y: 420}, {X: 1180, Y: 1080}, {X: 210, Y: 800}}, 230, 120},
		{"little contrast", [4]geom.Point{{X: 300, Y: 200}, {X: 1300, Y: 160}, {X: 1450, Y: 1010}, {X: 150, Y: 1050}}, 240, 215},
		{"dark sheet on a pale table", [4]geom.Point{{X: 300, Y: 200}, {X: 1300, Y: 160}, {X: 1450, Y: 1010}, {X: 150, Y: 1050}}, 120, 240},
	} {
		t.Run(c.name, func(t *testing.T) {
			sh, err := Rectify(paperOnTable(1600, 1200, c.q, c.paper, c.table), DefaultSheet())
			require.NoError(t, err)
			require.True(t, sh.Found)
			for i := range c.q {
				assert.Less(t, sh.Corners[i].Dist(c.q[i]), 1.0, "corner %d at %v", i, sh.Corners[i])
			}
			// The picture's corners lie on the paper's.
			w, h := float64(sh.Image.W), float64(sh.Image.H)
			for i, p := range []geom.Point{{}, {X: w}, {X: w, Y: h}, {Y: h}} {
				assert.Less(t, sh.InPhoto(p).Dist(sh.Corners[i]), 1e-2)
			}
		})
	}
}

func TestRectifyWithoutSheet(t *testing.T) {
	blank := NewColour(1600, 1200)
	for i := range blank.Pix {
		blank.Pix[i] = 200
	}
	sh, err := Rectify(blank, DefaultSheet())
	require.NoError(t, err)
	assert.False(t, sh.Found)
	assert.Equal(t, PageFree, sh.Page)
	assert.Equal(t, geom.Pt(7, 9), sh.InPhoto(geom.Pt(7, 9)))
}

// A thin pen's lines on a coarse photo are two or three px wide, of which thinning and
// tracing lost short ends and corners.
func TestRectifyCoarsePhoto(t *testing.T) {
	for _, c := range []struct {
		name        string
		photo, want int     // px of the longer side, of the photo and at most of the picture
		bare        float64 // px of the picture's longer side where no sheet shows,
		sheet       float64 // and of a sheet 0.625 times as long
	}{
		{"coarse", 1000, 2600, 2000, 1250},
		{"coarse, and less is wanted", 1000, 1200, 1200, 1200},
		{"fine", 1600, 2600, 1600, 1000},
		{"finer than is wanted", 1600, 800, 800, 800},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, h := c.photo, c.photo*3/4
			k := float64(w) / 1600
			q := [4]geom.Point{{X: 300 * k, Y: 200 * k}, {X: 1300 * k, Y: 200 * k}, {X: 1300 * k, Y: 1000 * k}, {X: 300 * k, Y: 1000 * k}}
			s := DefaultSheet()
			s.Pixels = c.want
			for _, found := range []bool{false, true} {
				pic, seen, want := paperOnTable(w, h, q, 200, 200), float64(w), c.bare
				if found {
					pic, seen, want = paperOnTable(w, h, q, 235, 90), 1000*k, c.sheet
				}
				sh, err := Rectify(pic, s)
				require.NoError(t, err)
				require.Equal(t, found, sh.Found)
				assert.InDelta(t, want, max(sh.Image.W, sh.Image.H), 2)
				assert.InDelta(t, max(want/seen, 1), sh.Finer, 0.01)
				mid := geom.Pt(float64(w)/2, float64(h)/2)
				assert.InDelta(t, 0, sh.InPhoto(sh.FromPhoto(mid)).Dist(mid), 0.01)
			}
		})
	}
}

func TestRectifyByHand(t *testing.T) {
	q := [4]geom.Point{{X: 300, Y: 200}, {X: 1300, Y: 160}, {X: 1450, Y: 1010}, {X: 150, Y: 1050}}
	pic := paperOnTable(1600, 1200, q, 200, 200)
	s := DefaultSheet()
	s.Corners = []geom.Point{q[2], q[0], q[3], q[1]}
	sh, err := Rectify(pic, s)
	require.NoError(t, err)
	assert.Equal(t, q, sh.Corners)
	for name, bad := range map[string][]geom.Point{
		"do not outline a sheet": {{X: 1, Y: 1}, {X: 1, Y: 1}, {X: 900, Y: 900}, {X: 1, Y: 900}},
		"far outside":            {{X: 1, Y: 1}, {X: 99999, Y: 1}, {X: 99999, Y: 900}, {X: 1, Y: 900}},
	} {
		s.Corners = bad
		_, err = Rectify(pic, s)
		assert.ErrorContains(t, err, name)
	}
}
