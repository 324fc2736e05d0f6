package letters

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// A mark is an accent in the font's units, its foot at y = 0 above a letter, its head at 0 below one.
type mark struct {
	strokes []geom.Polyline
	below   bool
	through bool // across the letter; the strokes go from 0 to 1 over its box
}

// markRoom is how much room a mark keeps to what stands beside its letter, in the font's units.
const markRoom = 1.5

// beyond is how far a mark, with its room, reaches out of its letter to the left and to the right. A letter
// that hangs on to its neighbours stays where it is.
func (m mark) beyond(g Glyph) (left, right float64) {
	if m.through || slices.ContainsFunc(g.Strokes, func(s geom.Polyline) bool {
		box := geom.Bounds(s)
		return box.Min.X <= g.Left || box.Max.X >= g.Right
	}) {
		return 0, 0
	}
	half := (g.Right - g.Left) / 2
	for _, s := range m.strokes {
		for _, p := range s {
			left, right = max(left, markRoom-p.X-half), max(right, markRoom+p.X-half)
		}
	}
	return left, right
}

// barWide is how wide and high a slash or bar across a stem is.
const barWide = 7.0

// turned is a glyph upside down, as a question begins with one.
func turned(g Glyph) Glyph {
	var pts []geom.Point
	for _, s := range g.Strokes {
		pts = append(pts, s...)
	}
	box := geom.Bounds(pts)
	out := Glyph{Left: g.Left, Right: g.Right}
	for _, s := range g.Strokes {
		var line geom.Polyline
		for _, p := range s {
			line = append(line, geom.Pt(g.Left+g.Right-p.X, box.Min.Y+box.Max.Y-p.Y))
		}
		out.Strokes = append(out.Strokes, line)
	}
	return out
}

// over is how far an accent stays from its letter.
const over = 3.0

// accents are the marks of the letters of the Latin alphabets, by Unicode's combining characters.
func accents() map[rune]mark {
	line := func(xy ...float64) geom.Polyline {
		var out geom.Polyline
		for i := 0; i < len(xy); i += 2 {
			out = append(out, geom.Pt(xy[i], xy[i+1]))
		}
		return out
	}
	ring := make(geom.Polyline, 13)
	for i := range ring {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 12)
		ring[i] = geom.Pt(2.5*c, -2.5+2.5*s)
	}
	ring[12] = ring[0]
	return map[rune]mark{
		0x300: {strokes: []geom.Polyline{line(-3, -4, 1, 0)}},                               // grave
		0x301: {strokes: []geom.Polyline{line(3, -4, -1, 0)}},                               // acute
		0x302: {strokes: []geom.Polyline{line(-4, 0, 0, -4, 4, 0)}},                         // circumflex
		0x303: {strokes: []geom.Polyline{line(-5, 0, -4, -2, -2, -3, 2, -1, 4, -2, 5, -4)}}, // tilde
		0x304: {strokes: []geom.Polyline{line(-4, -1, 4, -1)}},                              // macron
		0x306: {strokes: []geom.Polyline{line(-4, -4, -3, -1, 0, 0, 3, -1, 4, -4)}},         // breve
		0x307: {strokes: []geom.Polyline{line(0, -3, 0, 0)}},                                // dot
		0x308: {strokes: []geom.Polyline{line(-3, -3, -3, 0), line(3, -3, 3, 0)}},           // diaeresis
		0x30a: {strokes: []geom.Polyline{ring}},                                             // ring
		0x30b: {strokes: []geom.Polyline{line(-1, -4, -3, 0), line(4, -4, 2, 0)}},           // double acute
		0x30c: {strokes: []geom.Polyline{line(-4, -4, 0, 0, 4, -4)}},                        // caron
		0x327: {strokes: []geom.Polyline{line(0, 0, 1, 2, 0, 4, -3, 4)}, below: true},       // cedilla
		0x335: {strokes: []geom.Polyline{line(0, 0.5, 1, 0.5)}, through: true},              // bar, of đ and ħ
		0x338: {strokes: []geom.Polyline{line(-0.05, 1.05, 1.05, -0.05)}, through: true},    // slash, of ø and ł
		0x328: {strokes: []geom.Polyline{line(0, 0, -1, 2, 0, 4, 3, 4)}, below: true},       // ogonek
	}
}

// other are letters and signs that are more than an ASCII one with a mark, drawn for this program.
func other() map[rune]Glyph {
	line := func(xy ...float64) geom.Polyline {
		var out geom.Polyline
		for i := 0; i < len(xy); i += 2 {
			out = append(out, geom.Pt(xy[i], xy[i+1]))
		}
		return out
	}
	lowerE := []geom.Polyline{ // of æ and œ, from the stem at x = 0 on
		line(0, 1, 11, 1, 11, -1, 10, -3, 9, -4, 7, -5, 4, -5, 2, -4, 0, -2), line(0, 6, 2, 8, 4, 9, 7, 9, 9, 8, 11, 6),
	}
	upperE := []geom.Polyline{line(10, -12, 1, -12, 1, 9, 10, 9), line(1, -2, 7, -2)}
	bowl := line(0, -2, -2, -4, -4, -5, -6, -5, -8, -4, -10, -2, -11, 1, -11, 3, -10, 6, -8, 8, -6, 9, -4, 9, -2, 8, 0, 6)
	with := func(strokes []geom.Polyline, more ...geom.Polyline) []geom.Polyline { return append(more, strokes...) }
	return map[rune]Glyph{
		'æ': {Left: -14, Right: 14, Strokes: with(lowerE, bowl, line(0, -5, 0, 9))},
		'œ': {Left: -14, Right: 14, Strokes: with(lowerE, bowl, line(0, -2, 0, 6))},
		'Æ': {Left: -11, Right: 12, Strokes: with(upperE, line(-9, 9, 1, -12), line(-5.67, 2, 1, 2))},
		'Œ': {Left: -11, Right: 12, Strokes: with(upperE, line(1, -12, -2, -12, -4, -11, -6, -9, -7, -7, -8, -4, -8, 1, -7, 4, -6, 6, -4, 8, -2, 9, 1, 9))},
		'€': {Left: -10, Right: 10, Strokes: []geom.Polyline{
			line(8, -9, 6, -11, 4, -12, 1, -12, -1, -11, -3, -9, -4, -7, -5, -4, -5, 1, -4, 4, -3, 6, -1, 8, 1, 9, 4, 9, 6, 8, 8, 6),
			line(-8, -4, 4, -4), line(-8, 1, 3, 1),
		}},
		'£': {Left: -10, Right: 10, Strokes: []geom.Polyline{
			line(6, -8, 5, -10, 3, -12, 0, -12, -2, -11, -3, -9, -3, -6, -2, -3, -2, 3, -3, 6, -6, 9, 7, 9), line(-6, -1, 3, -1),
		}},
		'ß': {Left: -9, Right: 9, Strokes: []geom.Polyline{{
			{X: -5, Y: 9}, {X: -5, Y: -7}, {X: -4, Y: -10}, {X: -2, Y: -12}, {X: 1, Y: -12}, {X: 3, Y: -11}, {X: 4, Y: -9}, {X: 4, Y: -7},
			{X: 3, Y: -5}, {X: 1, Y: -3}, {X: 3, Y: -2}, {X: 5, Y: 0}, {X: 6, Y: 3}, {X: 5, Y: 6}, {X: 3, Y: 8}, {X: 0, Y: 9}, {X: -2, Y: 9},
		}}},
	}
}

// dotless takes the dot of an i or j off: a small stroke that lies wholly above another.
func dotless(strokes []geom.Polyline) []geom.Polyline {
	const mostDot = 4 // units of the font, across
	return slices.DeleteFunc(slices.Clone(strokes), func(s geom.Polyline) bool {
		box := geom.Bounds(s)
		return max(box.Size().X, box.Size().Y) <= mostDot && slices.ContainsFunc(strokes, func(o geom.Polyline) bool {
			return geom.Bounds(o).Min.Y > box.Max.Y
		})
	})
}

// crossed is the box that a mark through a letter fills: about the stem of a letter that has one, else the
// letter's own.
func crossed(letter rune, box geom.Rect) geom.Rect {
	const ascender = 0.2 // of the letter's height that its mark is below its top
	mid, high := (box.Min.Y+box.Max.Y)/2, box.Min.Y+ascender*box.Size().Y
	half := geom.Pt(barWide/2, barWide/2)
	about := func(x, y float64) geom.Rect {
		return geom.Rect{Min: geom.Pt(x, y).Sub(half), Max: geom.Pt(x, y).Add(half)}
	}
	switch letter {
	case 'l', 'L', 'D':
		return about(box.Min.X, mid)
	case 'h':
		return about(box.Min.X, high)
	case 'H': // both of its stems
		return geom.Rect{Min: about(box.Min.X, high).Min, Max: about(box.Max.X, high).Max}
	case 'd':
		return about(box.Max.X, high)
	}
	return box
}

// accented is a letter's strokes, which are set at x, with a mark.
func accented(strokes []geom.Polyline, letter rune, g Glyph, at float64, m mark) []geom.Polyline {
	if !m.below && (letter == 'i' || letter == 'j') {
		strokes = dotless(strokes)
	}
	var pts []geom.Point
	for _, s := range strokes {
		pts = append(pts, s...)
	}
	box := geom.Bounds(pts)
	if m.through {
		box = crossed(letter, box)
		for _, s := range m.strokes {
			var on geom.Polyline
			for _, p := range s {
				on = append(on, geom.Pt(box.Min.X+p.X*box.Size().X, box.Min.Y+p.Y*box.Size().Y))
			}
			strokes = append(strokes, on)
		}
		return strokes
	}
	foot := geom.Pt(at+(g.Left+g.Right)/2, box.Min.Y-over)
	if m.below {
		foot.Y = box.Max.Y
	}
	for _, s := range m.strokes {
		strokes = append(strokes, moved(s, foot))
	}
	return strokes
}
