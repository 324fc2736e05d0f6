package specimen

import (
	"fmt"
	"os"
	"path/filepath"

	"inkchannel/geom"
	"inkchannel/pipeline/letters"
)

// HersheyDir is where Debian's package hershey-fonts-data keeps its fonts.
const HersheyDir = "/usr/share/hershey-fonts"

// A HersheyFont is a set of single-stroke glyphs by A. V. Hershey, in the
// order of ASCII from the space on.
type HersheyFont []letters.Glyph

// LoadHershey reads font name (say "futural") from Debian's hershey-fonts-data.
func LoadHershey(name string) (HersheyFont, error) {
	data, err := os.ReadFile(filepath.Join(HersheyDir, name+".jhf"))
	if err != nil {
		return nil, fmt.Errorf("hershey font %s: %w (install Debian's hershey-fonts-data)", name, err)
	}
	font, err := letters.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("hershey font %s: %w", name, err)
	}
	return font, nil
}

// Word sets text in font, spaced letters by font units more than usual so
// that thick pens keep them apart. Strokes that stop just short of another, as
// the bar of an A does, are brought to it, as a hand would.
func (font HersheyFont) Word(text string, space float64) []geom.Polyline {
	var out []geom.Polyline
	x := 0.0
	for _, r := range text {
		i := int(r) - ' '
		if i < 0 || i >= len(font) {
			continue
		}
		g := font[i]
		for _, s := range snapEnds(g.Strokes, 0.9) {
			var pl geom.Polyline
			for _, p := range s {
				pl = append(pl, geom.Pt(p.X-g.Left+x, p.Y))
			}
			out = append(out, pl)
		}
		x += g.Right - g.Left + space
	}
	return out
}

// PlainWords are the words of the plain set, or an error when the fonts are
// not installed.
func PlainWords() (map[string][]geom.Polyline, error) {
	out := map[string][]geom.Polyline{}
	for _, w := range []struct{ font, text string }{
		{"futural", "TEA"}, {"futural", "OPEN"}, {"futural", "RK4"}, {"futural", "CHAI"},
		{"rowmans", "BREW"}, {"rowmans", "cake"}, {"rowmans", "SWAY"}, {"greeks", "abg"},
	} {
		f, err := LoadHershey(w.font)
		if err != nil {
			return nil, err
		}
		out[w.font+"-"+w.text] = f.Word(w.text, 2)
	}
	return out, nil
}
