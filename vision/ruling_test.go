package vision

import (
	"cmp"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// A page is a made sheet at 5 px/mm, whose light a slope makes uneven.
type page struct{ *Colour }

func newPage(grain float64) page {
	p := page{NewColour(900, 1200)}
	rnd := rand.New(rand.NewPCG(7, 1))
	for y := range p.H {
		for x := range p.W {
			v := 235 - 30*float64(x)/float64(p.W)
			for k := range 3 {
				p.Pix[3*(y*p.W+x)+k] = uint8(v * (1 - grain*max(rnd.NormFloat64(), 0)))
			}
		}
	}
	return p
}

// line draws a line of a width, px, that is so much darker than the paper, with
// soft edges.
func (p page) line(x0, y0, x1, y1, width, dark float64) {
	long := math.Hypot(x1-x0, y1-y0)
	for y := int(min(y0, y1) - width); y <= int(max(y0, y1)+width); y++ {
		for x := int(min(x0, x1) - width); x <= int(max(x0, x1)+width); x++ {
			if x < 0 || y < 0 || x >= p.W || y >= p.H {
				continue
			}
			fx, fy := float64(x)+0.5-x0, float64(y)+0.5-y0
			t := min(max((fx*(x1-x0)+fy*(y1-y0))/(long*long), 0), 1)
			d := math.Hypot(fx-t*(x1-x0), fy-t*(y1-y0))
			if share := dark * min(max(width/2-d+0.5, 0), 1); share > 0 {
				for k := range 3 {
					i := 3*(y*p.W+x) + k
					bare := 235 - 30*float64(x)/float64(p.W)
					p.Pix[i] = min(p.Pix[i], uint8(bare*(1-share)))
				}
			}
		}
	}
}

func (p page) rules(dark float64) page {
	for y := 60.0; y < 1150; y += 40 {
		p.line(0, y, 900, y+12, 2.5, dark) // the photo is not quite level
	}
	return p
}

// shareOn is the share of a line, but for its ends, that is in a set.
func shareOn(b *Bitmap, from, to geom.Point) float64 {
	on, n := 0, 0
	for q := range placesOn(from.Lerp(to, 0.05), from.Lerp(to, 0.95)) {
		n++
		on += int(b.Pix[int(q.Y)*b.W+int(q.X)])
	}
	return float64(on) / float64(n)
}

// Printed rules that outweigh the drawing were once taken for ink; and a
// drawing of parallel lines must not be taken for rules.
func TestRuledPaper(t *testing.T) {
	for _, c := range []struct {
		name  string
		rules float64 // how dark
		pen   float64
		lines bool // whether rules are told
		onPen bool
		width float64 // px of the pen, 6 if 0
	}{
		{"pale rules", 0.2, 0.9, true, true, 0},
		{"rules half as dark as the pen", 0.45, 0.9, true, true, 0},
		{"a thin pen that the rules outweigh", 0.3, 0.6, true, true, 1.6},
		{"pencil on pale rules", 0.12, 0.4, true, true, 0},
		{"faint pencil on rules as faint as they come", 0.06, 0.17, true, true, 0},
		{"rules nearly as dark as the pen", 0.68, 0.85, true, true, 0},
		{"no rules", 0, 0.9, false, true, 0},
		{"evenly spaced lines are what is drawn", 0.8, 0, false, false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0)
			if c.rules > 0 {
				p.rules(c.rules)
			}
			if c.pen > 0 {
				wide := cmp.Or(c.width, 6)
				p.line(200, 200, 700, 500, wide, c.pen)
				p.line(700, 500, 300, 900, wide, c.pen)
			}
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, c.lines, ink.Ruling.Lines > 0)
			at := func(x, y int) bool { return ink.Mask.Pix[y*ink.Mask.W+x] != 0 }
			rule := 0 // places on rules away from the pen, and the mask there
			for y := 60; y < 1150; y += 40 {
				if mid := y + 10; at(800, mid) || at(800, mid+1) {
					rule++
				}
			}
			if c.lines || c.rules == 0 {
				assert.Zero(t, rule, "rules are no ink")
				assert.InDelta(t, 8*c.rules/max(c.rules, 0.01), ink.Ruling.Spacing, 0.3, "40 px at 5 px/mm")
			} else {
				assert.Equal(t, 28, rule, "all of them are drawn")
			}
			if c.onPen {
				on := 0
				for i := range 101 {
					f := float64(i) / 100
					if at(int(200+500*f), int(200+300*f)) {
						on++
					}
				}
				assert.Equal(t, 101, on, "the pen's line has no gap")
			}
		})
	}
}

// Where ink is pale, what is darker of the rules than elsewhere was once taken for it.
func TestFaintPenOnRules(t *testing.T) {
	p := newPage(0)
	for y := 60.0; y < 1150; y += 40 {
		p.line(0, y, 900, y+12, 1.7, 0.145)
	}
	for _, y := range []float64{60, 100, 180} {
		p.line(500, y+12*500.0/900, 800, y+12*800.0/900, 2.5, 0.18)
	}
	p.line(200, 320, 700, 500, 4, 0.3)
	p.line(700, 500, 300, 900, 4, 0.3)
	ink, err := FindInk(p.Colour, 5, DefaultInk())
	require.NoError(t, err)
	assert.Equal(t, 28, ink.Ruling.Lines)
	for y := range 260 {
		for x := range p.W {
			require.Zero(t, ink.Mask.Pix[y*p.W+x], "at %d, %d", x, y)
		}
	}
	for i := range 101 {
		f := float64(i) / 100
		assert.NotZero(t, ink.Mask.Pix[int(320+180*f)*p.W+int(200+500*f)], "the pen's line has no gap")
	}
}

// A pale line beside a dark one was once lost to the dark one's threshold; the
// grain of rough paper is as pale, and no line.
func TestPaleLine(t *testing.T) {
	for _, c := range []struct {
		name  string
		pen   float64
		pale  float64
		grain float64
		kept  bool
	}{
		{"pencil beside a felt pen", 0.6, 0.26, 0.01, true},
		{"pencil that presses lightly", 0.3, 0.14, 0.01, true},
		{"as pale as what shines through", 0.6, 0.06, 0.01, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(c.grain)
			p.line(200, 200, 700, 300, 6, c.pen)
			p.line(200, 600, 700, 700, 4, c.pale)
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			on := 0
			for i := range 101 {
				f := float64(i) / 100
				if ink.Mask.Pix[int(600+100*f)*ink.Mask.W+int(200+500*f)] != 0 {
					on++
				}
			}
			if c.kept {
				assert.Equal(t, 101, on)
				assert.Equal(t, 2, ink.Spots)
			} else {
				assert.Zero(t, on)
				assert.Equal(t, 1, ink.Spots)
			}
		})
	}
}

// A long stroke along a rule, or straight across the rules, was once taken for one
// or for a margin; a printed margin runs from edge to edge.
func TestStrokeAlongRules(t *testing.T) {
	for _, c := range []struct {
		name           string
		x0, y0, x1, y1 float64
		kept           bool
	}{
		{"across the rules", 450, 200, 452, 900, true},
		{"along a rule for most of it", 80, 461.1, 800, 470.7, true},
		{"near the edge of the sheet", 70, 150, 71, 1000, true},
		{"a margin from edge to edge", 60, 0, 60, 1200, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0).rules(0.25)
			p.line(200, 200, 700, 500, 6, 0.8)
			p.line(c.x0, c.y0, c.x1, c.y1, 6, 0.8)
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			require.Positive(t, ink.Ruling.Lines)
			if share := shareOn(ink.Mask, geom.Pt(c.x0, c.y0), geom.Pt(c.x1, c.y1)); c.kept {
				assert.Greater(t, share, 0.98)
			} else {
				assert.Less(t, share, 0.1)
			}
		})
	}
}

// A stroke along a rule and no darker than it was once left out with it, though it is broader.
func TestBroadStrokeAlongRule(t *testing.T) {
	for _, c := range []struct {
		name   string
		off, w float64 // px, of the stroke from the rule, and its width
		x0, x1 float64
		kept   bool
	}{
		{"on the rule", 0, 6, 150, 600, true},
		{"beside its middle", 2, 6, 150, 600, true},
		{"as thin as the rule", 0, 2.5, 150, 600, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0).rules(0.45)
			p.line(200, 200, 700, 500, 6, 0.62)
			p.line(700, 500, 300, 900, 6, 0.62)
			from, to := geom.Pt(c.x0, 580+c.off+c.x0/75), geom.Pt(c.x1, 580+c.off+c.x1/75) // the rules fall 12 px in 900
			p.line(from.X, from.Y, to.X, to.Y, c.w, 0.5)
			ink, err := FindInk(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			require.Positive(t, ink.Ruling.Lines)
			if share := shareOn(ink.Mask, from, to); c.kept {
				assert.Greater(t, share, 0.98)
			} else {
				assert.Zero(t, share)
			}
			for _, x := range []float64{20, c.x0 - 20, c.x1 + 150, 880} { // left and right of it, and of the pen's line
				assert.Zero(t, ink.Mask.Pix[int(580+c.off+x/75)*ink.Mask.W+int(x)], "the rule by itself, at %g", x)
			}
		})
	}
}

// Where a pen crosses dark rules they once stood out of its line to both sides.
func TestRulesBesidePen(t *testing.T) {
	p := newPage(0).rules(0.45)
	p.line(200, 200, 200, 900, 4, 0.62)
	ink, err := FindInk(p.Colour, 5, DefaultInk())
	require.NoError(t, err)
	require.Positive(t, ink.Ruling.Lines)
	const pen, rim = 2, 2 // px: half its width, and what is looked at about it
	for y := 210; y < 890; y++ {
		for x := range p.W {
			if off := math.Abs(float64(x) + 0.5 - 200); off > pen+rim {
				require.Zero(t, ink.Mask.Pix[y*p.W+x], "at %d, %d", x, y)
			}
		}
	}
}

// A printed frame, as dark as ink, was left in pieces: where it was a little darker than
// usual, beside its band, and between the rules that cross it.
func TestPrintedFrame(t *testing.T) {
	p := newPage(0).rules(0.15)
	for x := 50.0; x < 900; x += 40 {
		p.line(x, 0, x, 1200, 2.5, 0.15)
	}
	for y := 0.0; y < 1200; y += 20 { // pressed more and less
		p.line(72, y, 72, y+20, 4, 0.55+0.05*math.Sin(y))
	}
	p.line(0, 84, 900, 96, 4, 0.6)
	p.line(200, 200, 700, 500, 6, 0.8)
	p.line(700, 500, 300, 900, 6, 0.8)
	ink, err := FindInk(p.Colour, 5, DefaultInk())
	require.NoError(t, err)
	require.Positive(t, ink.Ruling.Lines)
	assert.Equal(t, 1, ink.Spots, "the two lines of the pen, which meet")
}

// The rules of the paper's back shine through between those of its front. Taken together they are no
// ruling, and were once taken for ink, all of them.
func TestRulesOfBothSides(t *testing.T) {
	p := newPage(0).rules(0.35)
	for y := 72.0; y < 1150; y += 40 {
		p.line(0, y, 900, y+12, 1.7, 0.145)
	}
	p.line(200, 200, 700, 500, 6, 0.8)
	p.line(700, 500, 300, 900, 6, 0.8)
	ink, err := FindInk(p.Colour, 5, DefaultInk())
	require.NoError(t, err)
	assert.InDelta(t, 56, ink.Ruling.Lines, 5)
	assert.InDelta(t, 8, ink.Ruling.Spacing, 0.3, "40 px at 5 px/mm")
	assert.InDelta(t, 0.35, ink.Ruling.Dark, 0.1, "the darker ones")
	assert.Equal(t, 1, ink.Spots, "the two lines of the pen, which meet")
}

func TestComb(t *testing.T) {
	for _, c := range []struct {
		name   string
		places []float64
		want   []int
	}{
		{"every other one", []float64{0, 7, 23, 30, 46, 53, 69, 76}, []int{0, 2, 4, 6}},
		{"the second set is longer", []float64{0, 7, 23, 30, 53, 76, 99}, []int{1, 3, 4, 5, 6}},
		{"one was missed", []float64{0, 7, 23, 30, 53, 69, 76, 92, 99}, []int{1, 3, 4, 6, 8}},
		{"too few", []float64{0, 7}, nil},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, comb(c.places)) })
	}
}

// Strokes along most of the rules once made the rules seem as dark as the pen.
func TestStrokesAlongMostRules(t *testing.T) {
	p := newPage(0).rules(0.45)
	var ways []geom.Polyline
	for i := range 28 {
		if i%5 == 0 {
			continue
		}
		y := 60 + 40*float64(i)
		from, to := geom.Pt(150, y+2), geom.Pt(600, y+8) // along the rule, which falls 12 px in 900
		p.line(from.X, from.Y, to.X, to.Y, 3, 0.72)
		ways = append(ways, geom.Polyline{from, to})
	}
	ink, err := FindInk(p.Colour, 5, DefaultInk())
	require.NoError(t, err)
	require.Positive(t, ink.Ruling.Lines)
	share := 0.0
	for _, w := range ways {
		share += shareOn(ink.Mask, w[0], w[1]) / float64(len(ways))
	}
	assert.Greater(t, share, 0.95)
}
