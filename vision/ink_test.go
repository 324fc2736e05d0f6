package vision

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// A scene is a drawn sheet in px, 10 px to the mm.
type scene struct {
	w, h   int
	pen    float64 // px
	lines  []geom.Polyline
	dots   []geom.Point
	dotPx  float64 // diameter
	colour [3]uint8
	light  func(x, y float64) float64 // 0 to 1
	noise  float64
	rules  bool
}

const scenePxPerMm = 10

// covers is how much of each pixel ink covers, from 0 to 1.
func (s scene) covers() []float64 {
	out := make([]float64, s.w*s.h)
	dab := func(ink geom.Polyline, wide float64) {
		about, reach := geom.Bounds(ink), wide/2+1
		for y := max(int(about.Min.Y-reach), 0); y < min(int(about.Max.Y+reach)+1, s.h); y++ {
			for x := max(int(about.Min.X-reach), 0); x < min(int(about.Max.X+reach)+1, s.w); x++ {
				off := ink.DistanceTo(geom.Pt(float64(x)+0.5, float64(y)+0.5))
				out[y*s.w+x] = max(out[y*s.w+x], min(wide/2-off+0.5, 1))
			}
		}
	}
	for _, l := range s.lines {
		for i := 1; i < len(l); i++ {
			dab(l[i-1:i+1], s.pen)
		}
	}
	for _, d := range s.dots {
		dab(geom.Polyline{d, d}, s.dotPx)
	}
	return out
}

// draw renders the scene with soft edges.
func (s scene) draw() *Colour {
	c := NewColour(s.w, s.h)
	rng := rand.New(rand.NewSource(5))
	covers := s.covers()
	for y := range s.h {
		for x := range s.w {
			p := geom.Pt(float64(x)+0.5, float64(y)+0.5)
			cover := covers[y*s.w+x]
			light := 1.0
			if s.light != nil {
				light = s.light(p.X, p.Y)
			}
			for k := range 3 {
				paper := 245.0
				if s.rules && y%80 < 2 {
					paper = []float64{226, 200, 180}[k] // pale blue
				}
				v := (paper*(1-cover) + float64(s.colour[k])*cover) * light
				c.Pix[3*(y*s.w+x)+k] = uint8(min(max(v+s.noise*rng.NormFloat64()+0.5, 0), 255))
			}
		}
	}
	return c
}

func testScene() scene {
	return scene{
		w: 900, h: 700, pen: 18, dotPx: 40, colour: [3]uint8{30, 30, 30},
		lines: []geom.Polyline{{geom.Pt(150, 150), geom.Pt(700, 180), geom.Pt(600, 450)}},
		dots:  []geom.Point{{X: 100, Y: 600}, {X: 700, Y: 600}},
	}
}

// inkError is the share of pixels that are wrongly ink or paper, away from the
// edge of the ink by more than a pixel.
func inkError(s scene, m *Bitmap) float64 {
	wrong := 0
	for y := 40; y < s.h-40; y++ {
		for x := 40; x < s.w-40; x++ {
			p := geom.Pt(float64(x)+0.5, float64(y)+0.5)
			d := math.Inf(1)
			for _, l := range s.lines {
				d = min(d, l.DistanceTo(p)-s.pen/2)
			}
			for _, c := range s.dots {
				d = min(d, c.Dist(p)-s.dotPx/2)
			}
			if math.Abs(d) > 1.5 && (d < 0) != (m.Pix[y*s.w+x] == 1) {
				wrong++
			}
		}
	}
	return float64(wrong) / float64(s.w*s.h)
}

func TestFindInk(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*scene)
	}{
		{"black on white", func(*scene) {}},
		{"blue", func(s *scene) { s.colour = [3]uint8{170, 70, 40} }},
		{"red", func(s *scene) { s.colour = [3]uint8{45, 40, 190} }},
		{"green", func(s *scene) { s.colour = [3]uint8{70, 130, 20} }},
		{"thin pen", func(s *scene) { s.pen = 4 }},
		{"6 mm pen", func(s *scene) { s.pen = 60 }},
		{"one side in the dark", func(s *scene) { s.light = func(x, _ float64) float64 { return 1 - 0.6*x/900 } }},
		{"dim and noisy", func(s *scene) { s.noise = 6; s.light = func(_, _ float64) float64 { return 0.45 } }},
		{"soft shadow", func(s *scene) {
			s.light = func(x, y float64) float64 { return 1 - 0.5/(1+math.Exp(-(x-y/2-200)/15)) }
		}},
		{"ruled paper", func(s *scene) { s.rules = true }},
		{"ruled paper in the dark", func(s *scene) { s.rules = true; s.light = func(x, _ float64) float64 { return 1 - 0.6*x/900 } }},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := testScene()
			c.change(&s)
			ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			assert.Less(t, inkError(s, ink.Mask), 1e-5)
			assert.Equal(t, 3, ink.Spots)
		})
	}
}

func TestFindInkMethods(t *testing.T) {
	for _, m := range []InkMethod{InkPaper, InkMean, InkOtsu} {
		s := testScene()
		set := DefaultInk()
		set.Method = m
		ink, err := FindInk(s.draw(), scenePxPerMm, set)
		require.NoError(t, err, m)
		assert.Less(t, inkError(s, ink.Mask), 1e-4, m)
	}
}

// What is ink does not depend on which way round the sheet lies.
func TestFindInkMirrored(t *testing.T) {
	pic := testScene().draw()
	flip := NewColour(pic.W, pic.H)
	for y := range pic.H {
		for x := range pic.W {
			copy(flip.Pix[3*(y*pic.W+pic.W-1-x):][:3], pic.Pix[3*(y*pic.W+x):][:3])
		}
	}
	a, err := FindInk(pic, scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	b, err := FindInk(flip, scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	assert.InDelta(t, a.Mask.Count(), b.Mask.Count(), 30)
	for y := range pic.H {
		for x := range pic.W {
			i, j := y*pic.W+x, y*pic.W+pic.W-1-x
			d := int(a.Level.Pix[i]) - int(b.Level.Pix[j])
			require.LessOrEqual(t, max(d, -d), 3, "at %d, %d", x, y)
		}
	}
}

func TestFindInkRefuses(t *testing.T) {
	flat := func(v uint8) *Colour {
		c := NewColour(900, 700)
		for i := range c.Pix {
			c.Pix[i] = v
		}
		return c
	}
	inverted := scene{w: 900, h: 700, pen: 20, lines: []geom.Polyline{{{X: 100, Y: 100}, {X: 800, Y: 600}}}}.draw()
	for i, v := range inverted.Pix {
		inverted.Pix[i] = 245 - v
	}
	for _, c := range []struct {
		name string
		pic  *Colour
		want string
	}{
		{"light on dark", inverted, "light lines on a dark ground: turn the picture's colours round"},
		{"all black", flat(0), "too dark"},
		{"all but black", flat(12), "too dark"},
		{"blank", flat(240), "no pen line"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FindInk(c.pic, scenePxPerMm, DefaultInk())
			assert.ErrorContains(t, err, c.want)
		})
	}
}

func TestDropSmall(t *testing.T) {
	b := NewBitmap(40, 40)
	fill := func(x0, y0, x1, y1 int, v uint8) {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				b.Pix[y*40+x] = v
			}
		}
	}
	fill(2, 2, 22, 22, 1) // a block
	fill(8, 8, 10, 10, 0) // with a small hole
	fill(12, 8, 18, 14, 0)
	fill(30, 30, 33, 33, 1) // a speckle
	did := piecesOf(b, 1, true).dropSmall(b, 1, 16, nil)
	assert.Equal(t, sifted{kept: 1, dropped: 1, faint: 1}, did)
	piecesOf(b, 0, false).dropSmall(b, 0, 10, nil)
	assert.Equal(t, 20*20-6*6, b.Count())
}

// A gleam on a thing, paler than it by half but darker than paper, is no hole; one of paper is.
func TestOutlineOfGleamingThing(t *testing.T) {
	const px = 4.0
	for _, c := range []struct {
		name  string
		level uint8 // within the thing
		rings int
	}{{"a gleam", 165, 1}, {"a hole", 240, 2}} {
		t.Run(c.name, func(t *testing.T) {
			sheet := NewColour(800, 600)
			for y := range sheet.H {
				for x := range sheet.W {
					v := uint8(240)
					if x > 200 && x < 600 && y > 150 && y < 450 {
						v = 60
					}
					if x > 350 && x < 450 && y > 250 && y < 350 {
						v = c.level
					}
					for k := range 3 {
						sheet.Pix[3*(y*sheet.W+x)+k] = v
					}
				}
			}
			ink, err := FindOutlines(sheet, px, DefaultInk())
			require.NoError(t, err)
			assert.Len(t, piecesOf(ink.Mask, 1, true).list, c.rings)
			thing, ok, err := FindThing(sheet, px, DefaultInk())
			require.NoError(t, err)
			require.True(t, ok)
			assert.InDelta(t, 400, thing.At.X, 4)
			assert.InDelta(t, 300, thing.Size.Y, 4)
		})
	}
}

// On a sheet that is dark all over nothing is a thing, and the outline of one cannot be taken.
func TestNoThingWithoutPaper(t *testing.T) {
	sheet := NewColour(300, 200)
	for i := range sheet.Pix {
		sheet.Pix[i] = uint8(i * 7919 % 251)
	}
	_, ok, err := FindThing(sheet, 1, DefaultInk())
	require.NoError(t, err)
	assert.False(t, ok)
	for _, size := range []int{1, 2, 5} {
		_, ok, err := FindThing(NewColour(size, size), 1, DefaultInk())
		require.NoError(t, err, "%d px", size)
		assert.False(t, ok)
		_, err = FindOutlines(NewColour(size, size), 1, DefaultInk())
		assert.Error(t, err)
	}
}
