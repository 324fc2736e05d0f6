package letters

import (
	"bytes"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"strconv"
	"strings"

	"inkchannel/geom"
)

//go:embed hershey
var files embed.FS

// A Glyph is a character's strokes, in the font's units, y down, the baseline at 9.
type Glyph struct {
	Left, Right float64 // where the character begins and ends on the line
	Strokes     []geom.Polyline
}

// A Font is the glyphs of the printable characters of ASCII.
type Font struct {
	Name   string
	glyphs map[rune]Glyph
}

// In the Hershey fonts capitals reach from capTop to baseline.
const capTop, baseline = -12, 9

// first is the character of a font's first glyph.
const first = ' '

// Fonts lists the fonts there are.
func Fonts() []string {
	list, err := fs.Glob(files, "hershey/*.jhf")
	if err != nil {
		panic(err) // the pattern is ours
	}
	for i, name := range list {
		list[i] = strings.TrimSuffix(path.Base(name), ".jhf")
	}
	return list
}

// Load returns a font by its name; it returns an error for one that there is not.
func Load(name string) (Font, error) {
	data, err := files.ReadFile("hershey/" + name + ".jhf")
	if err != nil {
		return Font{}, fmt.Errorf("there is no font %q; there are %s", name, strings.Join(Fonts(), ", "))
	}
	list, err := Parse(data)
	if err != nil {
		return Font{}, err
	}
	f := Font{Name: name, glyphs: map[rune]Glyph{}}
	for i, g := range list {
		g.Strokes = joined(dotted(g.Strokes))
		f.glyphs[first+rune(i)] = g
	}
	return f, nil
}

// Parse reads glyphs in James Hurt's format: five columns of a number, three of how many pairs of
// characters follow, the first pair left and right end, each other one x and y as distances from R; the
// pair " R" lifts the pen. Long glyphs go over several lines. It returns an error for anything else.
func Parse(data []byte) ([]Glyph, error) {
	var out []Glyph
	text := bytes.NewBuffer(bytes.ReplaceAll(data, []byte("\r"), nil))
	for {
		for text.Len() > 0 && text.Bytes()[0] == '\n' {
			text.Next(1)
		}
		if text.Len() == 0 {
			return out, nil
		}
		head := string(text.Next(8))
		if len(head) < 8 {
			return nil, fmt.Errorf("glyph %d is cut off", len(out)+1)
		}
		n, err := strconv.Atoi(strings.TrimSpace(head[5:]))
		if err != nil || n < 1 {
			return nil, fmt.Errorf("glyph %d: %q is no number of points", len(out)+1, head[5:])
		}
		pairs := make([]byte, 0, 2*n)
		for len(pairs) < 2*n {
			c, err := text.ReadByte()
			if err != nil {
				return nil, fmt.Errorf("glyph %d is cut off", len(out)+1)
			}
			if c != '\n' {
				pairs = append(pairs, c)
			}
		}
		out = append(out, glyphOf(pairs))
	}
}

func glyphOf(pairs []byte) Glyph {
	value := func(c byte) float64 { return float64(int(c) - 'R') }
	g := Glyph{Left: value(pairs[0]), Right: value(pairs[1])}
	var line geom.Polyline
	end := func() {
		if len(line) > 1 {
			g.Strokes = append(g.Strokes, line)
		}
		line = nil
	}
	for i := 2; i < len(pairs); i += 2 {
		if pairs[i] == ' ' && pairs[i+1] == 'R' {
			end()
			continue
		}
		line = append(line, geom.Pt(value(pairs[i]), value(pairs[i+1])))
	}
	end()
	return g
}

// dot is how large, in the font's units, the ring that stands for a dot is at most: as a line of light
// it is a short stroke.
const dot = 2.0

// dotted are strokes with rings that stand for dots made short strokes.
func dotted(strokes []geom.Polyline) []geom.Polyline {
	for i, s := range strokes {
		if box := geom.Bounds(s); len(s) > 3 && max(box.Size().X, box.Size().Y) <= dot {
			mid := box.Min.Lerp(box.Max, 0.5)
			strokes[i] = geom.Polyline{geom.Pt(mid.X, box.Min.Y-0.5), geom.Pt(mid.X, box.Max.Y+0.5)}
		}
	}
	return strokes
}

// touching is how near, in the font's units, the end of a stroke comes to another to be meant to meet it:
// the fonts' places are whole numbers.
const touching = 0.8

// joined moves ends of strokes onto the strokes that they are meant to meet.
func joined(strokes []geom.Polyline) []geom.Polyline {
	for i, s := range strokes {
		for _, e := range []int{0, len(s) - 1} {
			for k, other := range strokes {
				if k == i {
					continue
				}
				if _, _, at, d := other.Nearest(s[e]); d <= touching {
					s[e] = at
					break
				}
			}
		}
	}
	return strokes
}
