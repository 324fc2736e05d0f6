package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What is pale and broad along a shadow's edge is no line, though the lines that cross it hang together with it; a broad
// pale mark elsewhere is one, and so is what is dark.
func TestClearShade(t *testing.T) {
	const w, h, px = 300, 200, 5.0
	sheet := NewColour(w, h)
	for i := range sheet.Pix {
		if sheet.Pix[i] = 220; i/3%w >= 150 {
			sheet.Pix[i] = 120 // in the shadow
		}
	}
	even := NewGrey(w, h)
	ink := &Ink{Mask: NewBitmap(w, h), Cut: 0.18}
	mark := func(x0, y0, x1, y1 int, v uint8) {
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				even.Pix[y*w+x], ink.Mask.Pix[y*w+x] = v, 1
			}
		}
	}
	for i := range even.Pix {
		even.Pix[i] = evenWhite
	}
	mark(150, 20, 166, 180, evenWhite*9/10) // beside the shadow's edge
	mark(40, 100, 260, 104, evenWhite/2)    // a line that crosses it
	mark(30, 20, 50, 180, evenWhite*9/10)   // a pale broad mark in the light
	some, err := ink.clearShade(func() (paperLook, error) { return aroundPaper(sheet, px) }, even, px)
	require.NoError(t, err)
	assert.True(t, some)
	at := func(x, y int) uint8 { return ink.Mask.Pix[y*w+x] }
	for _, y := range []int{40, 90, 120, 160} {
		assert.Zero(t, at(158, y), "beside the shadow's edge")
		assert.EqualValues(t, 1, at(40, y), "in the light")
	}
	for x := 40; x < 260; x++ {
		assert.EqualValues(t, 1, at(x, 102), "the line at %d", x)
	}
	_, err = ink.clearShade(func() (paperLook, error) { return aroundPaper(sheet, 0.1) }, even, 0.1)
	assert.NoError(t, err, "of a sheet at less than a px to a mm")
}
