package vision_test

import (
	"image"
	"image/color"
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/vision"
)

// Halving is the mean of each square of four pixels, to within a rounding; an odd last column or row has no part in it.
func TestHalved(t *testing.T) {
	for _, c := range []struct {
		name string
		w, h int
	}{{"even", 8, 6}, {"odd width", 9, 6}, {"odd height", 8, 7}, {"both odd", 3, 3}} {
		t.Run(c.name, func(t *testing.T) {
			img := image.NewRGBA(image.Rect(0, 0, c.w, c.h))
			for y := range c.h {
				for x := range c.w {
					img.SetRGBA(x, y, color.RGBA{uint8(37 * x * y), uint8(101*x + 7*y), uint8(x*x + 59*y), 255})
				}
			}
			got := vision.Halved(img)
			assert.Equal(t, image.Rect(0, 0, c.w/2, c.h/2), got.Rect)
			for y := range c.h / 2 {
				for x := range c.w / 2 {
					for k := range 4 {
						sum := 0
						for _, at := range []image.Point{{2 * x, 2 * y}, {2*x + 1, 2 * y}, {2 * x, 2*y + 1}, {2*x + 1, 2*y + 1}} {
							sum += int(img.Pix[img.PixOffset(at.X, at.Y)+k])
						}
						assert.InDelta(t, float64(sum)/4, got.Pix[got.PixOffset(x, y)+k], 0.5, "x %d, y %d, channel %d", x, y, k)
					}
				}
			}
		})
	}
}
