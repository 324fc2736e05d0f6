package pipeline

import (
	"image"
	"image/color"

	"inkchannel/pipeline/picture"
)

// lightOf is the light that a pen's strip gives: white for black and grey.
func lightOf(name string) color.RGBA {
	switch name {
	case "red":
		return color.RGBA{255, 44, 32, 255}
	case "orange", "brown":
		return color.RGBA{255, 128, 24, 255}
	case "yellow":
		return color.RGBA{255, 204, 60, 255}
	case "green":
		return color.RGBA{46, 232, 92, 255}
	case "turquoise":
		return color.RGBA{40, 224, 220, 255}
	case "blue":
		return color.RGBA{48, 96, 255, 255}
	case "violet":
		return color.RGBA{150, 72, 255, 255}
	case "pink":
		return color.RGBA{255, 88, 170, 255}
	}
	return color.RGBA{255, 214, 160, 255} // warm white
}

// A LitIn is what the picture of the lit sign shows.
type LitIn struct {
	Dots      DotsFound
	Colours   ColoursFound
	Junctions JunctionsFound
	Strips    StripsFound
	Power     PowerFound
}

// brightWatts is the power of strip, W/m, that the picture of the lit sign shows at
// usual brightness; mostBright how many times that at most.
const (
	brightWatts = 7.2
	mostBright  = 3
)

// Lit draws the sign at night, its longer side of side px: each piece of strip
// in its light, with the glow it throws on the wall behind; how bright goes by
// watts a metre.
func Lit(in LitIn, side int) *image.RGBA {
	size, line := in.Dots.Frame.Size, in.Dots.Frame.PlanLine(in.Strips.Line)
	k := float64(side) / max(size.X, size.Y)
	lines := image.NewNRGBA(image.Rect(0, 0, max(int(size.X*k), 1), max(int(size.Y*k), 1)))
	half := in.Junctions.Strip.Width / 2 * k
	for _, p := range in.Strips.Pieces {
		name := ""
		if p.Ink < len(in.Colours.All) {
			name = in.Colours.All[p.Ink].Name
		}
		c := lightOf(name)
		for _, at := range Covered(Way(line, p), p) {
			picture.Disc(lines, at.Mul(k), half, c)
		}
	}
	return picture.Glow(lines, k, min(in.Power.Strip.Watts/brightWatts, mostBright))
}
