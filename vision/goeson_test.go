package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// shadowed darkens what lies on the left of the way from a to b, its edge fading over so many px.
func shadowed(c *Colour, a, b geom.Point, light, fade float64) *Colour {
	out, n := NewColour(c.W, c.H), b.Sub(a).Unit().Perp()
	for i := range c.Pix {
		k := i / 3
		p := geom.Pt(float64(k%c.W)+0.5, float64(k/c.W)+0.5)
		in := 1 / (1 + math.Exp(p.Sub(a).Dot(n)/fade*4))
		out.Pix[i] = uint8(float64(c.Pix[i]) * (1 - in*(1-light)))
	}
	return out
}

// A shadow with a straight edge lies across a sheet as light as its table is dark: what lies in the light is no
// sheet, for the sheet's edges go on beyond it.
func TestShadowAcrossSheet(t *testing.T) {
	q := camera(297, 210, 3800, 12, -9)
	for i := range q {
		q[i] = q[i].Mul(0.4)
	}
	sheet := paperOnTable(1600, 1200, q, 220, 95)
	middle := q[0].Add(q[1]).Add(q[2]).Add(q[3]).Mul(0.25)
	for _, c := range []struct {
		name        string
		a, b        geom.Point
		light, fade float64
	}{
		{"across the middle", middle, middle.Add(geom.Pt(10, 1)), 0.5, 4},
		{"along the middle, soft", middle, middle.Add(geom.Pt(1, 10)), 0.6, 40},
		{"askew", middle, middle.Add(geom.Pt(5, -7)), 0.45, 10},
		{"from a corner", q[0], middle.Lerp(q[2], 0.8).Add(geom.Pt(160, 0)), 0.45, 6},
		{"as light in the shade as the table in the light", middle, middle.Add(geom.Pt(4, 9)), 95.0 / 220, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			sh, err := Rectify(shadowed(sheet, c.a, c.b, c.light, c.fade), DefaultSheet())
			require.NoError(t, err)
			require.True(t, sh.Found)
			assert.False(t, sh.Cut)
			for i := range q {
				assert.InDelta(t, 0, sh.Corners[i].Dist(q[i]), 3, "corner %d", i)
			}
		})
	}
}

// Of a sheet with no far edge, as it runs off the picture there, the part in the light is still no sheet.
func TestShadowAcrossSheetWithoutEnd(t *testing.T) {
	q := [4]geom.Point{{X: 420, Y: 200}, {X: 1180, Y: 200}, {X: 1230, Y: 1500}, {X: 370, Y: 1500}}
	pic := shadowed(paperOnTable(1600, 1200, q, 220, 95), geom.Pt(0, 700), geom.Pt(1600, 700), 0.45, 4)
	pic = shadowed(pic, geom.Pt(1600, 1000), geom.Pt(0, 1000), 0.6, 4) // both, so that one strip is lightest
	sh, err := Rectify(pic, DefaultSheet())
	require.NoError(t, err)
	assert.True(t, !sh.Found || sh.Cut || sh.Out != nil, "%+v", sh.Corners)
}

func TestGoesOn(t *testing.T) {
	q := [4]geom.Point{{X: 200, Y: 150}, {X: 600, Y: 150}, {X: 600, Y: 430}, {X: 200, Y: 430}}
	part := [4]geom.Point{{X: 200, Y: 150}, {X: 420, Y: 150}, {X: 420, Y: 430}, {X: 200, Y: 430}}
	grain := func(p geom.Point) (uint8, bool) { return 140, p.X > 605 && p.Y > 150 }
	for _, c := range []struct {
		name      string
		q         [4]geom.Point
		grained   bool
		one, both bool
	}{
		{"all of the sheet", q, false, false, false},
		{"a part of it", part, false, true, true},
		{"beside a step of the table", q, true, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic := paperOnTable(900, 600, q, 220, 95)
			if c.grained {
				pic = recoloured(pic, grain)
			}
			one, both := goesOn(pic, c.q)
			assert.Equal(t, c.one, one)
			assert.Equal(t, c.both, both)
		})
	}
	assert.True(t, holds(q, part))
	assert.False(t, holds(part, q))
	assert.False(t, holds(q, q), "it is no larger")
}
