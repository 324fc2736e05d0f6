package letters

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"inkchannel/geom"
)

// Settings tell how words are set.
type Settings struct {
	Font   string
	Height float64 // mm, of capital letters
	Gap    float64 // mm more between letters than the font has
	Pitch  float64 // from one row to the next, times Height
}

// Default returns letters that a strip fits into.
func Default() Settings { return Settings{Font: "plain", Height: 80, Pitch: 1.7} }

// margin is how much paper is left around the words, mm.
const margin = 20

// Samples sets each font's name and the alphabet in it, a row each.
func Samples(set Settings) ([]geom.Curve, geom.Point, error) {
	var out []geom.Curve
	var size geom.Point
	for _, name := range Fonts() {
		set.Font = name
		curves, s, err := Words([]string{name + "  AÄBCDEFGHIJKLM abcdeéfghijklmn 0123"}, set)
		if err != nil {
			return nil, size, err
		}
		for _, c := range curves {
			for i, p := range c.Pieces {
				for k := range p {
					c.Pieces[i][k].Y += size.Y
				}
			}
			out = append(out, c)
		}
		size = geom.Pt(max(size.X, s.X), size.Y+s.Y)
	}
	return out, size, nil
}

// Words sets rows of text, one below the other about one middle, and returns the lines, mm, y down, and
// the size of the sheet that they are on.
//
// It returns an error for characters that the font has not, for no letters, and for settings that make
// none.
func Words(rows []string, set Settings) ([]geom.Curve, geom.Point, error) {
	switch {
	case !(set.Height >= 10 && set.Height <= 2000):
		return nil, geom.Point{}, errors.New("letters are 10 to 2000 mm high")
	case !(set.Gap >= -set.Height && set.Gap <= set.Height):
		return nil, geom.Point{}, errors.New("the gap between letters is at most their height")
	case !(set.Pitch >= 1 && set.Pitch <= 5):
		return nil, geom.Point{}, errors.New("rows are 1 to 5 heights apart")
	}
	font, err := Load(set.Font)
	if err != nil {
		return nil, geom.Point{}, err
	}
	if slices.ContainsFunc(rows, func(r string) bool { return strings.ContainsAny(r, "\n\r") }) {
		return nil, geom.Point{}, errors.New("there is a line break within a row; give each row by itself")
	}
	k := set.Height / (baseline - capTop)
	var strokes []geom.Polyline
	var lacks []rune
	for i, row := range rows {
		line, width, missing := font.row(row, set.Gap/k)
		lacks = append(lacks, missing...)
		by := geom.Pt(-width/2, float64(i)*set.Pitch*(baseline-capTop))
		for _, s := range line {
			strokes = append(strokes, moved(s, by))
		}
	}
	switch {
	case lacks != nil:
		return nil, geom.Point{}, font.lacking(lacks)
	case len(strokes) == 0:
		return nil, geom.Point{}, errors.New("there is no letter in it")
	}
	var all []geom.Point
	for _, s := range strokes {
		all = append(all, s...)
	}
	box := geom.Bounds(all)
	out := make([]geom.Curve, len(strokes))
	for i, s := range strokes {
		for j, p := range s {
			s[j] = p.Sub(box.Min).Mul(k).Add(geom.Pt(margin, margin))
		}
		out[i] = strokeOf(s, k)
	}
	return out, box.Size().Mul(k).Add(geom.Pt(2*margin, 2*margin)), nil
}

// plainer writes what phones and word processors type by themselves as the fonts have it, and letters
// with a stroke across them as a letter and that.
func plainer() *strings.Replacer {
	return strings.NewReplacer("’", "'", "‘", "'", "“", `"`, "”", `"`, "„", `"`, "–", "-", "—", "-", "−", "-", "…", "...", "\u00a0", " ",
		"ø", "o\u0338", "Ø", "O\u0338", "ł", "l\u0338", "Ł", "L\u0338",
		"đ", "d\u0335", "Đ", "D\u0335", "ħ", "h\u0335", "Ħ", "H\u0335")
}

// lacking is the error for characters that the font has not.
func (f Font) lacking(lacks []rune) error {
	slices.Sort(lacks)
	var names []string
	for _, c := range slices.Compact(lacks) {
		if unicode.Is(unicode.Mn, c) {
			names = append(names, fmt.Sprintf("accent %U", c))
			continue
		}
		names = append(names, strconv.QuoteRune(c))
	}
	them := "them"
	if len(names) == 1 {
		them = "it"
	}
	return fmt.Errorf("the font %s has no %s; write the words without %s", f.Name, strings.Join(names, ", "), them)
}

// row sets one row from x = 0 on, in the font's units, and returns its width, and what the font lacks of it.
func (f Font) row(text string, gap float64) (out []geom.Polyline, width float64, lacks []rune) {
	var base Glyph  // of the letter that accents go to
	var letter rune // which it is
	var at float64  // where it is
	from := 0       // its first stroke
	for _, c := range norm.NFD.String(plainer().Replace(strings.TrimSpace(text))) {
		if unicode.Is(unicode.Mn, c) {
			mark, ok := accents()[c]
			if !ok {
				lacks = append(lacks, c)
				continue
			}
			out = append(out[:from], accented(out[from:], letter, base, at, mark)...)
			left, right := mark.beyond(base)
			for i := range out[from:] {
				out[from+i] = moved(out[from+i], geom.Pt(left, 0))
			}
			at, width = at+left, width+left+right
			continue
		}
		bare := c == 'ı'
		if bare {
			c = 'i'
		}
		g, ok := f.glyphs[c]
		if bare {
			g.Strokes = dotless(g.Strokes)
		}
		if whole, known := other()[c]; known {
			g, ok = whole, true
		}
		if upright, is := map[rune]rune{'¿': '?', '¡': '!'}[c]; is {
			if g, ok = f.glyphs[upright]; ok {
				g = turned(g)
			}
		}
		if !ok {
			lacks = append(lacks, c)
			continue
		}
		if width > 0 {
			width += gap
		}
		at, base, letter, from = width-g.Left, g, c, len(out)
		for _, s := range g.Strokes {
			out = append(out, moved(s, geom.Pt(at, 0)))
		}
		width += g.Right - g.Left
	}
	return out, width, lacks
}

func moved(line geom.Polyline, by geom.Point) geom.Polyline {
	out := make(geom.Polyline, len(line))
	for i, p := range line {
		out[i] = p.Add(by)
	}
	return out
}

// Where a line of a font turns by more than corner, degrees, it is meant to; one that is longer than
// straight times its neighbour is meant to be straight.
const corner, straight = 50.0, 2.0

// smooth is a curve through a polyline's points: along long straight ones and bent at corners as it is,
// smooth elsewhere.
func smooth(line geom.Polyline) geom.Curve {
	n := len(line)
	c := geom.Curve{Closed: n > 3 && line[0] == line[n-1]}
	if n == 2 {
		return geom.Lines(line...)
	}
	before := func(i int) (geom.Point, bool) {
		if i > 0 {
			return line[i].Sub(line[i-1]), true
		}
		return line[0].Sub(line[max(n-2, 0)]), c.Closed
	}
	after := func(i int) (geom.Point, bool) {
		if i < n-1 {
			return line[i+1].Sub(line[i]), true
		}
		return line[min(1, n-1)].Sub(line[0]), c.Closed
	}
	// Directions out of and into each point; none where the line is to be straight there.
	tangent := func(i int) (geom.Point, bool) {
		a, okA := before(i)
		b, okB := after(i)
		if !okA || !okB || a.Angle(b) > corner {
			return geom.Point{}, false
		}
		switch la, lb := a.Norm(), b.Norm(); {
		case la > straight*lb:
			return a.Unit(), true
		case lb > straight*la:
			return b.Unit(), true
		default: // along the circle through the three points
			return a.Mul(1 / (la * la)).Add(b.Mul(1 / (lb * lb))).Unit(), true
		}
	}
	for i := 1; i < n; i++ {
		a, b := line[i-1], line[i]
		chord := b.Sub(a)
		ta, okA := tangent(i - 1)
		tb, okB := tangent(i)
		switch {
		case !okA && !okB:
			c.Pieces = append(c.Pieces, geom.StraightCubic(a, b))
			continue
		case !okA: // as the tangent at the other end, mirrored: an arc
			ta = mirrored(tb, chord)
		case !okB:
			tb = mirrored(ta, chord)
		}
		reach := chord.Norm() / 3 / max(math.Cos(geom.Radians(ta.Angle(tb)/4)), 0.5)
		c.Pieces = append(c.Pieces, geom.Cubic{a, a.Add(ta.Mul(reach)), b.Sub(tb.Mul(reach)), b})
	}
	return c
}

// unevenness is how far, in the font's units, a curve may stray from where the font has it: its places
// are whole numbers.
const unevenness = 0.2

// stem is how long, in the font's units, a straight stroke is at least that stays straight exactly.
const stem = 5.0

// strokeOf is the curve of a stroke, k mm to a unit of the font: stems straight, the rest smooth.
func strokeOf(line geom.Polyline, k float64) geom.Curve {
	whole := smooth(line)
	if whole.Closed && round(line) {
		return ring(line[1:])
	}
	isStem := func(i int) bool { return line[i].Dist(line[i+1]) >= stem*k }
	var out geom.Curve
	for i := 0; i < len(whole.Pieces); {
		j := i + 1
		if isStem(i) {
			out.Pieces = append(out.Pieces, geom.StraightCubic(line[i], line[j]))
			i = j
			continue
		}
		for j < len(whole.Pieces) && !isStem(j) {
			j++
		}
		part := geom.Curve{Pieces: whole.Pieces[i:j], Closed: whole.Closed && j-i == len(whole.Pieces)}
		out.Pieces = append(out.Pieces, evened(part, unevenness*k).Pieces...)
		i = j
	}
	out.Closed = whole.Closed
	return out
}

// round reports whether a closed line has no corner and no side that is much longer than the next.
func round(line geom.Polyline) bool {
	n := len(line) - 1
	for i := range n {
		a, b := line[(i+1)%n].Sub(line[i]), line[(i+2)%n].Sub(line[(i+1)%n])
		if k := a.Norm() / b.Norm(); a.Angle(b) > corner || k > straight || k < 1/straight {
			return false
		}
	}
	return true
}

// ring is a closed line as a uniform cubic B-spline about its points, which is as even as they are.
func ring(p geom.Polyline) geom.Curve {
	n := len(p)
	c := geom.Curve{Closed: true}
	knot := func(i int) geom.Point {
		return p[(i+n-1)%n].Add(p[i%n].Mul(4)).Add(p[(i+1)%n]).Mul(1.0 / 6)
	}
	for i := range n {
		a, b := p[i], p[(i+1)%n]
		c.Pieces = append(c.Pieces, geom.Cubic{knot(i), a.Lerp(b, 1.0/3), a.Lerp(b, 2.0/3), knot(i + 1)})
	}
	return c
}

// evened takes out of a curve what the font's whole numbers leave of unevenness: it strays by no more
// than by.
func evened(c geom.Curve, by float64) geom.Curve {
	if c.Closed {
		last := c.Pieces[len(c.Pieces)-1]
		if a, b := last[3].Sub(last[2]), c.Pieces[0][1].Sub(c.Pieces[0][0]); a.Angle(b) > 1 {
			return c // a corner where it closes would be rounded
		}
	}
	got, err := geom.SmoothLine(c.Flatten(0.02).Resampled(0.5), c.Closed, geom.SmoothSettings{Deviation: by, Corner: corner})
	if err != nil {
		return c
	}
	return got
}

// mirrored is the direction at the other end of an arc over a chord.
func mirrored(t, chord geom.Point) geom.Point {
	u := chord.Unit()
	return u.Mul(2 * t.Dot(u)).Sub(t)
}
