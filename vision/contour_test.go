package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// A sheet whose edges run as no straight line or single bow does comes out with
// its corners and edges where they are seen.
func TestCurledSheet(t *testing.T) {
	const w, h, left, right, top, bottom = 1600, 1200, 250.0, 1400.0, 180.0, 1000.0
	tip := func(u float64) float64 { return math.Pow(max(u-0.85, 0)/0.15, 2) } // the last seventh of a side
	for _, c := range []struct {
		name                        string
		topAt, bottomAt             func(u float64) float64 // px down at share u from left to right
		topLeft, topRight, botRight geom.Point
		over                        bool // so far that the corner is not seen
	}{
		{
			"a corner curled up",
			func(u float64) float64 { return top + 22*tip(u) },
			func(u float64) float64 { return bottom },
			geom.Pt(left, top), geom.Pt(right, top+22), geom.Pt(right, bottom), false,
		},
		{
			"two corners curled up, on other sides",
			func(u float64) float64 { return top + 16*tip(1-u) },
			func(u float64) float64 { return bottom - 20*tip(u) },
			geom.Pt(left, top+16), geom.Pt(right, top), geom.Pt(right, bottom-20), false,
		},
		{
			"a corner curled over, a bow below",
			func(u float64) float64 { return top + 400*max(u-0.9, 0) },
			func(u float64) float64 { return bottom - 24*u*(1-u) },
			geom.Pt(left, top), geom.Pt(right, top), geom.Pt(right, bottom), true,
		},
		{
			"a wave",
			func(u float64) float64 { return top + 8*math.Sin(2*math.Pi*u) },
			func(u float64) float64 { return bottom + 8*math.Sin(3*math.Pi*u) },
			geom.Pt(left, top), geom.Pt(right, top), geom.Pt(right, bottom), false,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic := recoloured(NewColour(w, h), func(p geom.Point) (uint8, bool) {
				u := (p.X - left) / (right - left)
				if u < 0 || u > 1 || p.Y < c.topAt(u) || p.Y > c.bottomAt(u) {
					return 90, true
				}
				return 235, true
			})
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			require.True(t, sh.Found)
			assert.True(t, sh.Bowed)
			for i, at := range []geom.Point{c.topLeft, c.topRight, c.botRight} {
				assert.Less(t, sh.Corners[i].Dist(at), 2.5, "corner %d at %v", i, sh.Corners[i])
			}
			for u := 0.05; u < 1; u += 0.1 {
				p := sh.InPhoto(geom.Pt(u*float64(sh.Image.W), 0))
				want := c.topAt((p.X - left) / (right - left))
				if c.over && u > 0.9 {
					want = top // where the paper would be
				}
				assert.InDelta(t, want, p.Y, 2.5, "top at %.2f", u)
				q := geom.Pt(u*float64(sh.Image.W), 0.3*float64(sh.Image.H))
				assert.Less(t, sh.FromPhoto(sh.InPhoto(q)).Dist(q), 0.05, "there and back")
			}
		})
	}
}
