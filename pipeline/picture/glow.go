package picture

import (
	"image"
	"image/color"

	"github.com/disintegration/imaging"

	"inkchannel/geom"
)

// Glow is a dark wall lit by lines of light, drawn k px a mm. The light is spread
// by three bells of 4, 14 and 45 mm, which falls off much as light from a line
// near a wall does; power is its brightness, 1 for usual.
func Glow(lines *image.NRGBA, k, power float64) *image.RGBA {
	for i := 3; i < len(lines.Pix); i += 4 {
		lines.Pix[i] = 255
	}
	bells := []struct {
		img  *image.NRGBA
		gain float64
	}{{lines, 0.9}, {bell(lines, 4*k), 0.9 * power}, {bell(lines, 14*k), 1.2 * power}, {bell(lines, 45*k), 1.5 * power}}
	out := image.NewRGBA(lines.Rect)
	wall := [3]float64{20, 21, 26}
	for i := 0; i < len(out.Pix); i += 4 {
		for ch := range 3 {
			v := wall[ch]
			for _, b := range bells {
				v += b.gain * float64(b.img.Pix[i+ch])
			}
			out.Pix[i+ch] = uint8(min(v, 255))
		}
		out.Pix[i+3] = 255
	}
	return out
}

// bell spreads an image by a Gaussian of sigma px, shrunk first where that is
// wide, as nothing fine is left of it.
func bell(img *image.NRGBA, sigma float64) *image.NRGBA {
	b := img.Rect
	f := max(sigma/4, 1)
	small := imaging.Resize(img, max(int(float64(b.Dx())/f), 1), max(int(float64(b.Dy())/f), 1), imaging.Box)
	return imaging.Resize(imaging.Blur(small, sigma/f), b.Dx(), b.Dy(), imaging.Linear)
}

// Disc fills a disc of r px about a place.
func Disc(img *image.NRGBA, at geom.Point, r float64, c color.RGBA) {
	b := img.Rect
	for y := max(int(at.Y-r), 0); y <= min(int(at.Y+r), b.Dy()-1); y++ {
		for x := max(int(at.X-r), 0); x <= min(int(at.X+r), b.Dx()-1); x++ {
			if dx, dy := float64(x)-at.X, float64(y)-at.Y; dx*dx+dy*dy <= r*r {
				o := img.PixOffset(x, y)
				img.Pix[o], img.Pix[o+1], img.Pix[o+2] = c.R, c.G, c.B
			}
		}
	}
}
