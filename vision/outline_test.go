package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// recoloured sets the pixels for which of returns a level, all channels alike.
func recoloured(c *Colour, of func(p geom.Point) (level uint8, set bool)) *Colour {
	for i := range c.W * c.H {
		if v, ok := of(geom.Pt(float64(i%c.W)+0.5, float64(i/c.W)+0.5)); ok {
			c.Pix[3*i], c.Pix[3*i+1], c.Pix[3*i+2] = v, v, v
		}
	}
	return c
}

// outlineDistance is how far p lies from the nearest side of q.
func outlineDistance(q [4]geom.Point, p geom.Point) float64 {
	return geom.Polyline{q[0], q[1], q[2], q[3], q[0]}.DistanceTo(p)
}

func TestDrawnFrameIsNoSheet(t *testing.T) {
	q := [4]geom.Point{{X: 300, Y: 200}, {X: 1300, Y: 160}, {X: 1450, Y: 1010}, {X: 150, Y: 1050}}
	for _, c := range []struct {
		name  string
		width float64
	}{{"pen", 5}, {"marker", 12}, {"brush", 20}} {
		t.Run(c.name, func(t *testing.T) {
			paper := paperOnTable(1600, 1200, q, 225, 225)
			pic := recoloured(paper, func(p geom.Point) (uint8, bool) { return 40, outlineDistance(q, p) < c.width/2 })
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			assert.False(t, sh.Found, "a frame drawn on paper that fills the photo")
		})
	}
}

// inOutline reports whether p lies in q, clockwise.
func inOutline(q [4]geom.Point, p geom.Point) bool {
	for i := range q {
		if q[(i+1)%4].Sub(q[i]).Cross(p.Sub(q[i])) < 0 {
			return false
		}
	}
	return true
}

// A tray, a book or a telephone has straight edges too, and is larger than the sheet or the only thing on it.
func TestDarkThingIsNoSheet(t *testing.T) {
	sheet := [4]geom.Point{{X: 400, Y: 260}, {X: 1220, Y: 250}, {X: 1260, Y: 880}, {X: 380, Y: 900}}
	tray := [4]geom.Point{{X: 60, Y: 60}, {X: 1530, Y: 70}, {X: 1540, Y: 1130}, {X: 50, Y: 1120}}
	for _, c := range []struct {
		name   string
		levels [3]uint8 // of the sheet, the thing, and what is around it
		thing  [4]geom.Point
		found  bool
	}{
		{"a tray under it", [3]uint8{235, 40, 190}, tray, true},
		{"a book on paper that fills the photo", [3]uint8{40, 40, 225}, sheet, false},
		{"brown paper on white", [3]uint8{140, 140, 225}, sheet, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic := recoloured(NewColour(1600, 1200), func(p geom.Point) (uint8, bool) {
				switch {
				case inOutline(sheet, p):
					return c.levels[0], true
				case inOutline(c.thing, p):
					return c.levels[1], true
				}
				return c.levels[2], true
			})
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			require.Equal(t, c.found, sh.Found)
			assert.False(t, sh.Framed)
			if c.found {
				for i, p := range sh.Corners {
					assert.Less(t, p.Dist(sheet[i]), 2.0)
				}
			}
		})
	}
}

// A joint of the table beyond a sheet makes a larger outline with two of its sides, along which less edge is seen.
func TestSheetBeforeTableJoint(t *testing.T) {
	const left, right, top, bottom, joint = 150.0, 750.0, 250.0, 600.0, 80.0
	pic := recoloured(NewColour(900, 675), func(p geom.Point) (uint8, bool) {
		u := (p.X - left) / (right - left)
		switch {
		case u > 0 && u < 1 && p.Y > top+8*4*u*(1-u) && p.Y < bottom: // its upper edge bows
			return 235, true
		case p.Y > joint:
			return 110, true
		}
		return 60, true
	})
	sheet := [4]geom.Point{{X: left, Y: top}, {X: right, Y: top}, {X: right, Y: bottom}, {X: left, Y: bottom}}
	larger := [4]geom.Point{{X: left, Y: joint}, {X: right, Y: joint}, {X: right, Y: bottom}, {X: left, Y: bottom}}
	best, seen := (&glance{pic: pic}).best([][4]geom.Point{larger, sheet}, 0.6)
	assert.Equal(t, sheet, best)
	assert.Greater(t, seen, 0.95)
	_, seen = (&glance{pic: pic}).best([][4]geom.Point{larger}, 0.6)
	assert.InDelta(t, (bottom-top)/(bottom-joint), seen, 0.05, "enough, by itself")
}

// A frame too broad for a pen, with paper beyond it on two sides at least, may be the sheet or not.
func TestFrameTakenForSheetIsDoubted(t *testing.T) {
	inner := [4]geom.Point{{X: 60, Y: 60}, {X: 1540, Y: 60}, {X: 1540, Y: 1140}, {X: 60, Y: 1140}}
	outer := [4]geom.Point{{X: 24, Y: 12}, {X: 1574, Y: 10}, {X: 1572, Y: 1190}, {X: 26, Y: 1192}}
	for _, c := range []struct {
		name   string
		beyond uint8
		framed bool
	}{{"on paper", 225, true}, {"a mat on a table", 120, false}} {
		t.Run(c.name, func(t *testing.T) {
			pic := recoloured(NewColour(1600, 1200), func(p geom.Point) (uint8, bool) {
				switch {
				case inOutline(inner, p):
					return 225, true
				case inOutline(outer, p):
					return 35, true
				}
				return c.beyond, true
			})
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			require.True(t, sh.Found)
			assert.Equal(t, c.framed, sh.Framed)
		})
	}
}

func TestSheetHardToTell(t *testing.T) {
	q := [4]geom.Point{{X: 420, Y: 120}, {X: 1400, Y: 420}, {X: 1180, Y: 1080}, {X: 210, Y: 800}}
	small := [4]geom.Point{{X: 700, Y: 500}, {X: 1060, Y: 460}, {X: 1100, Y: 780}, {X: 720, Y: 800}}
	along := q[1].Sub(q[0]).Unit().Perp()
	outside := func(p geom.Point) bool { return !inOutline(q, p) }
	for _, c := range []struct {
		name string
		q    [4]geom.Point
		of   func(geom.Point) (uint8, bool)
	}{
		{"small", small, func(geom.Point) (uint8, bool) { return 0, false }},
		{"on boards as pale as paper here and there", q, func(p geom.Point) (uint8, bool) {
			return uint8(150 + 70*math.Sin(p.Dot(along)/6)), outside(p)
		}},
		{"next to another sheet", q, func(p geom.Point) (uint8, bool) {
			return 235, p.X > 1150 && p.Y > 1090 && p.Y < 1190
		}},
		{"a pale cloth under one half", q, func(p geom.Point) (uint8, bool) { return 225, outside(p) && p.X < 320 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			sh, err := Rectify(recoloured(paperOnTable(1600, 1200, c.q, 240, 90), c.of), DefaultSheet())
			require.NoError(t, err)
			require.True(t, sh.Found)
			for i := range c.q {
				assert.Less(t, sh.Corners[i].Dist(c.q[i]), 2.0, "corner %d at %v", i, sh.Corners[i])
			}
		})
	}
}
