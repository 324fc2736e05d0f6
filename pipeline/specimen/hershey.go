package specimen

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"inkchannel/geom"
)

// HersheyDir is where Debian's package hershey-fonts-data keeps its fonts.
const HersheyDir = "/usr/share/hershey-fonts"

// A HersheyFont is a set of single-stroke glyphs by A. V. Hershey, in the
// order of ASCII from the space on.
type HersheyFont []Glyph

// A Glyph is one letter's strokes in font units (y down), its left and right
// side bearings.
type Glyph struct {
	Strokes     []geom.Polyline
	Left, Right float64
}

// LoadHershey reads font name (say "futural") from Debian's
// hershey-fonts-data. The file is in the jhf form: five columns of glyph
// number, three of the count of vertices, then a pair of letters a vertex,
// each coordinate the letter's code less that of R; the first pair is the side
// bearings and " R" lifts the pen.
func LoadHershey(name string) (HersheyFont, error) {
	f, err := os.Open(filepath.Join(HersheyDir, name+".jhf"))
	if err != nil {
		return nil, fmt.Errorf("hershey font %s: %w (install Debian's hershey-fonts-data)", name, err)
	}
	defer f.Close()
	var font HersheyFont
	sc := bufio.NewScanner(f)
	var rec string
	for sc.Scan() {
		rec += sc.Text()
		if len(rec) < 8 {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(rec[5:8]))
		if err != nil {
			return nil, fmt.Errorf("hershey font %s: glyph %d: %w", name, len(font), err)
		}
		if len(rec) < 8+2*n { // the record goes on in the next line
			continue
		}
		font = append(font, parseGlyph(rec[8:8+2*n]))
		rec = ""
	}
	return font, sc.Err()
}

func parseGlyph(s string) Glyph {
	g := Glyph{Left: float64(s[0]) - 'R', Right: float64(s[1]) - 'R'}
	var cur geom.Polyline
	for i := 2; i+1 < len(s); i += 2 {
		if s[i:i+2] == " R" {
			if len(cur) > 1 {
				g.Strokes = append(g.Strokes, cur)
			}
			cur = nil
			continue
		}
		cur = append(cur, geom.Pt(float64(s[i])-'R', float64(s[i+1])-'R'))
	}
	if len(cur) > 1 {
		g.Strokes = append(g.Strokes, cur)
	}
	return g
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
