package picture

import (
	"fmt"
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Labels of places close together keep off each other, off what is drawn, and within the picture.
func TestLabelsKeepApart(t *testing.T) {
	for _, c := range []struct {
		name  string
		at    geom.Point
		steps geom.Point
	}{
		{"in the middle", geom.Pt(100, 70), geom.Pt(1, 0.5)},
		{"in a corner", geom.Pt(199, 1), geom.Pt(0, 1)},
		{"all at one place", geom.Pt(60, 60), geom.Pt(0, 0)},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic, err := Blank(200, 140, "a test")
			require.NoError(t, err)
			pic.SetColor(BarBack)
			pic.SetLineWidth(6)
			pic.Path([]geom.Point{{X: 0, Y: 55}, {X: 200, Y: 55}}, 1, false)
			pic.Stroke()
			for i := range 5 {
				pic.Label(c.at.Add(c.steps.Mul(float64(i))), 1, fmt.Sprintf("place %d", i), MarkOther)
			}
			require.Len(t, pic.labels, 5)
			line := geom.Rect{Min: geom.Pt(0, 55*pic.K-3), Max: geom.Pt(200*pic.K, 55*pic.K+3)}
			for i, a := range pic.labels {
				assert.True(t, a.Min.X >= 0 && a.Min.Y >= 0 && a.Max.X <= float64(pic.W) && a.Max.Y <= float64(pic.H), "%v", a)
				assert.Less(t, a.Shared(line), 0.05*a.Shared(a), "%d covers the line", i)
				for j, b := range pic.labels[:i] {
					assert.Zero(t, a.Shared(b), "%d and %d", i, j)
				}
			}
		})
	}
}

// Badges of places close together cover neither each other nor the places that are kept free, and stay on their
// place where there is room.
func TestBadgesKeepApart(t *testing.T) {
	c, err := Over(image.NewRGBA(image.Rect(0, 0, 400, 300)))
	require.NoError(t, err)
	var list []Badge
	for i := range 6 {
		at := geom.Pt(200+4*float64(i), 150)
		c.Keep(at, 6)
		list = append(list, Badge{at, fmt.Sprintf("hole %d", i+1), BarBack})
	}
	alone := geom.Pt(60, 60)
	c.Badges(append(list, Badge{alone, "w1", BarBack}))
	require.Len(t, c.labels, 6+7)
	for i, a := range c.labels[6:] {
		for j, b := range c.labels[:6+i] {
			assert.Zero(t, a.Shared(b), "%d and %d", i, j)
		}
	}
	assert.Equal(t, alone, c.labels[12].Min.Lerp(c.labels[12].Max, 0.5))
	assert.Equal(t, color.RGBA{255, 255, 255, 255}, c.Image.RGBAAt(60, 60-badgeRadius-1), "its rim is drawn")
}

// A text too long for its bar is written smaller, then cut between words: it never runs out of the picture.
func TestBarTextFits(t *testing.T) {
	long := "19 parts: backboard, " + strings.Repeat("channel 1, ", 60) + "lid"
	for _, c := range []struct {
		name string
		w, h float64
		text string
		cut  bool
	}{
		{"short", 200, 140, "a few words", false},
		{"written smaller", 200, 140, "19 parts: " + strings.Repeat("channel 1, ", 16) + "lid", false},
		{"cut", 200, 140, long, true},
		{"cut in a narrow picture", 60, 140, "19 parts: " + strings.Repeat("channel 1, ", 16) + "lid", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic, err := Blank(c.w, c.h, c.text)
			require.NoError(t, err)
			right := 0
			for y := pic.H; y < pic.H+BarHeight; y++ {
				for x := range pic.W {
					if pic.Image.RGBAAt(x, y) != BarBack {
						right = max(right, x)
					}
				}
			}
			assert.Less(t, right, pic.W-barInset+1)
			assert.Greater(t, right, barInset)
			if c.cut {
				assert.Greater(t, right, pic.W*3/4, "no more is cut than must be")
			}
		})
	}
}
