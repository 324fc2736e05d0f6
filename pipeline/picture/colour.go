package picture

import (
	"fmt"
	"image/color"
	"strconv"
)

// parseColour reads #RRGGBB or #RRGGBBAA.
func ParseColour(text string) (color.RGBA, error) {
	v, err := strconv.ParseUint(text[1:], 16, 32)
	switch {
	case err != nil:
		return color.RGBA{}, fmt.Errorf("colour %q: %w", text, err)
	case len(text) == 7:
		v = v<<8 | 0xff
	}
	return color.RGBA{uint8(v >> 24), uint8(v >> 16), uint8(v >> 8), uint8(v)}, nil
}
