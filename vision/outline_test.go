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

func TestSheetHardToTell(t *testing.T) {
	q := [4]geom.Point{{X: 420, Y: 120}, {X: 1400, Y: 420}, {X: 1180, Y: 1080}, {X: 210, Y: 800}}
	small := [4]geom.Point{{X: 700, Y: 500}, {X: 1060, Y: 460}, {X: 1100, Y: 780}, {X: 720, Y: 800}}
	along := q[1].Sub(q[0]).Unit().Perp()
	outside := func(p geom.Point) bool {
		for i := range q {
			if q[(i+1)%4].Sub(q[i]).Cross(p.Sub(q[i])) < 0 {
				return true
			}
		}
		return false
	}
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
