package picture

import (
	"fmt"
	"image/color"
	"strconv"
	"strings"
)

// ParseColour reads #RRGGBB or #RRGGBBAA, as CSS writes colours. It returns an
// error for anything else.
func ParseColour(text string) (color.RGBA, error) {
	digits, ok := strings.CutPrefix(text, "#")
	if !ok || len(digits) != 6 && len(digits) != 8 {
		return color.RGBA{}, fmt.Errorf("colour %q: write it as #RRGGBB or #RRGGBBAA", text)
	}
	v, err := strconv.ParseUint(digits, 16, 32)
	if err != nil {
		return color.RGBA{}, fmt.Errorf("colour %q: %w", text, err)
	}
	if len(digits) == 6 {
		v = v<<8 | 0xff
	}
	return color.RGBA{uint8(v >> 24), uint8(v >> 16), uint8(v >> 8), uint8(v)}, nil
}
