package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// What evenLight leaves out is blank: where the whole picture is worked out,
// everything that can be ink lies within the marks, with a pixel about it, and
// has the same value there.
func TestEvenLightMarks(t *testing.T) {
	line := pl(100, 100, 650, 430)
	for _, c := range []struct {
		name   string
		s      scene
		offset float64
	}{
		{"broad black pen", scene{pen: 30, colour: [3]uint8{20, 20, 20}}, 0},
		{"hair, faint", scene{pen: 1.5, colour: [3]uint8{150, 150, 150}}, 0},
		{"hair, very faint, low offset", scene{pen: 1.5, colour: [3]uint8{215, 215, 215}}, 5},
		{"dim, noisy", scene{pen: 5, colour: [3]uint8{20, 20, 120}, noise: 6, light: func(x, y float64) float64 { return 0.35 - 0.1*y/500 }}, 0},
		{"hard shadow", scene{pen: 5, colour: [3]uint8{20, 20, 20}, light: func(x, y float64) float64 { return map[bool]float64{true: 1, false: 0.45}[x+y < 500] }}, 0},
		{"odd size", scene{w: 701, h: 501, pen: 5, colour: [3]uint8{20, 20, 20}}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.s.w == 0 {
				c.s.w, c.s.h = 700, 500
			}
			c.s.lines = []geom.Polyline{line, pl(0, 499.5, float64(c.s.w), 499.5)}
			pic := c.s.draw()
			set := DefaultInk()
			set.Offset = c.offset
			whole := set
			whole.Method = InkMean
			want, err := evenLight(pic, scenePxPerMm, whole, 0)
			require.NoError(t, err)
			got, err := evenLight(pic, scenePxPerMm, set, blank*leastDark(set))
			require.NoError(t, err)
			in, worked := NewBitmap(pic.W, pic.H), 0
			for y := range pic.H {
				for _, r := range got.marked(y) {
					worked += r.x1 - r.x0
					for x := r.x0; x < r.x1; x++ {
						in.Pix[y*pic.W+x] = 1
						require.Equal(t, want.Pix[y*pic.W+x], got.Pix[y*pic.W+x], "at %d, %d", x, y)
					}
				}
			}
			for y := range pic.H {
				for x := range pic.W {
					if float64(want.Pix[y*pic.W+x]) > evenWhite*(1-leastDark(set)) {
						continue
					}
					for v := max(y-1, 0); v <= min(y+1, pic.H-1); v++ {
						for u := max(x-1, 0); u <= min(x+1, pic.W-1); u++ {
							require.EqualValues(t, 1, in.Pix[v*pic.W+u], "at %d, %d", u, v)
						}
					}
				}
			}
			if c.s.noise == 0 {
				assert.Less(t, float64(worked), 0.2*float64(pic.W*pic.H), "most is left out")
			}
		})
	}
}

// The edge of a hard shadow is no ink, though lines cross it, of which it was once taken for a part.
func TestShadowEdgeAcrossLines(t *testing.T) {
	const pen, lines, length = 6, 4, 540
	for _, c := range []struct {
		name  string
		ink   uint8
		depth float64
	}{
		{"a dark pen", 40, 0.5}, {"a pale pen", 140, 0.5}, {"pencil", 170, 0.4}, {"pencil, a deep shadow", 170, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := scene{w: 700, h: 500, pen: pen, colour: [3]uint8{c.ink, c.ink, c.ink}, light: func(x, y float64) float64 {
				return 1 - c.depth/(1+math.Exp((430-x-y/3)/2))
			}}
			for i := range lines {
				y := float64(100 + 100*i)
				s.lines = append(s.lines, pl(80, y, 80+length, y+10))
			}
			ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			assert.InEpsilon(t, lines*length*pen, ink.Mask.Count(), 0.1)
		})
	}
}

// Paper in a shadow with a round or pointed edge, which no whole window fits in, is no ink; a line as dark
// as the shadow that it leads into is.
func TestRoundShadow(t *testing.T) {
	const pen, length = 6, 540
	inDisc := func(cx, cy, r float64) func(x, y float64) float64 {
		return func(x, y float64) float64 { return r - math.Hypot(x-cx, y-cy) }
	}
	both := func(f, g func(x, y float64) float64) func(x, y float64) float64 {
		return func(x, y float64) float64 { return min(f(x, y), g(x, y)) }
	}
	for _, c := range []struct {
		name   string
		within func(x, y float64) float64 // px in from the shadow's edge
		ink    uint8
	}{
		{"a disc", inDisc(350, 260, 140), 40},
		{"a lens", both(inDisc(350, -20, 360), inDisc(350, 520, 360)), 40},
		{"a line as dark as the shadow", inDisc(350, 260, 140), 165},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := scene{w: 700, h: 500, pen: pen, colour: [3]uint8{c.ink, c.ink, c.ink}, light: func(x, y float64) float64 {
				return 1 - 0.3/(1+math.Exp(-c.within(x, y)))
			}}
			for _, y := range []float64{60, 250, 450} {
				s.lines = append(s.lines, pl(80, y, 80+length, y+10))
			}
			ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			assert.InEpsilon(t, 3*length*pen, ink.Mask.Count(), 0.1)
		})
	}
}
