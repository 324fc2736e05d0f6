package pipeline

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"image/color"

	"github.com/disintegration/imaging"

	"inkchannel/geom"
)

//go:embed page.html
var pageHTML string

// A pageStep is one stage on the page.
type pageStep struct {
	Number            int
	Name, Does, Found string
	Notes             []string
	Sure              string
	Unsure            bool
	Image             template.URL // a data URL of ours
}

// Page writes a finished run as one HTML file that needs nothing else: every
// stage's picture with what was found, the sign lit, and the parts list. It has
// no script. images are the stages' review images as JPEG, by stage; one that is
// missing is left out.
func Page(r *Result, images [][]byte) ([]byte, error) {
	t, err := template.New("page").Parse(pageHTML)
	if err != nil {
		return nil, err
	}
	var page struct {
		Headline, Alt string
		Lit           template.URL
		Steps         []pageStep
		Items         []Item
	}
	page.Alt = "What this step found"
	for _, s := range r.Steps {
		i := stageIndex(s.Stage)
		p := pageStep{Number: i + 1, Name: s.Stage, Does: Stages()[i].Does, Found: s.Found, Notes: s.Notes, Sure: s.Confidence(), Unsure: s.Unsure()}
		if i < len(images) && len(images[i]) > 0 {
			p.Image = dataURL(images[i])
		}
		page.Steps = append(page.Steps, p)
	}
	if len(r.Feeding.Circuits) > 0 {
		page.Headline = fmt.Sprintf("%d pieces to print on %d %s, %d pieces of strip, %.1f W.", len(r.Prints), r.Layout.Beds, plural(r.Layout.Beds, "bed", "beds"), len(r.Strips.Pieces), r.Feeding.Watts)
		page.Items = PartsList(r)
		lit, err := encodeJPEG(Lit(r, 1000))
		if err != nil {
			return nil, err
		}
		page.Lit = dataURL(lit)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, page); err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	return b.Bytes(), nil
}

func dataURL(jpeg []byte) template.URL {
	return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(jpeg))
}

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

// Lit draws the sign at night, its longer side of side px: each piece of strip
// in its light, with the glow it throws on the wall behind. The glow is the
// strip's light spread by three bells of 4, 14 and 45 mm, which falls off much
// as light from a line near a wall does; how bright goes by watts a metre.
func Lit(r *Result, side int) *image.RGBA {
	k := float64(side) / max(r.Size.X, r.Size.Y)
	w, h := max(int(r.Size.X*k), 1), max(int(r.Size.Y*k), 1)
	lines := image.NewNRGBA(image.Rect(0, 0, w, h))
	for i := range lines.Pix {
		if i%4 == 3 {
			lines.Pix[i] = 255
		}
	}
	half := r.Settings.Channel.Strip / 2 * k
	for _, p := range r.Strips.Pieces {
		name := ""
		if p.Ink < len(r.Pens.All) {
			name = r.Pens.All[p.Ink].Name
		}
		c := lightOf(name)
		for _, at := range r.stripOf(p) {
			disc(lines, at.Mul(k), half, c)
		}
	}
	power := min(r.Settings.Strip.Watts/7.2, 3)
	bells := []struct {
		img  *image.NRGBA
		gain float64
	}{{lines, 0.9}, {bell(lines, 4*k), 0.9 * power}, {bell(lines, 14*k), 1.2 * power}, {bell(lines, 45*k), 1.5 * power}}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
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

func disc(img *image.NRGBA, at geom.Point, r float64, c color.RGBA) {
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
