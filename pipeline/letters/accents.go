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

// barWide is how wide and high a slash across a stem is.
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
		0x338: {strokes: []geom.Polyline{line(-0.05, 1.05, 1.05, -0.05)}, through: true},    // slash, of ø and ł
		0x328: {strokes: []geom.Polyline{line(0, 0, -1, 2, 0, 4, 3, 4)}, below: true},       // ogonek
	}
}

// other are letters that are more than an ASCII one with a mark.
func other() map[rune]Glyph {
	return map[rune]Glyph{
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
		if letter == 'l' || letter == 'L' { // across the stem
			mid := geom.Pt(box.Min.X, (box.Min.Y+box.Max.Y)/2)
			box = geom.Rect{Min: mid.Sub(geom.Pt(barWide/2, barWide/2)), Max: mid.Add(geom.Pt(barWide/2, barWide/2))}
		}
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
