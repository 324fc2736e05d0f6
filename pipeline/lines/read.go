package lines

import (
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/image/colornames"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
)

// A Drawing is lines, mm, y down, on a sheet.
type Drawing struct {
	Size   geom.Point // of the sheet
	Curves []geom.Curve
	Inks   []color.RGBA // the strokes' colours: that of a curve is Inks[curve.Ink]
	// Unused names what of the file holds no lines, with how often; Guessed tells that the file
	// gives no size in mm, so that 96 of its units were taken for an inch (CSS).
	Unused  []string
	Guessed bool
	Twice   float64 // mm of line that lay on other lines, and was left out
}

// perPx is how many mm a CSS px is.
const perPx = 25.4 / 96

// lengths are the units of SVG in mm.
func lengths() map[string]float64 {
	return map[string]float64{"": perPx, "px": perPx, "mm": 1, "cm": 10, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
}

// least and most bound a drawing's sides, mm.
const least, most = 5, 5000

// Read reads an SVG drawing: paths, lines, polylines, polygons, circles, ellipses and rectangles,
// with groups, copies by use, transforms, units and stroke colours; of fills only whether there are any and
// whether they are white. It returns an error for what is no SVG or has no lines.
func Read(data []byte) (Drawing, error) {
	r := &reader{byID: map[string]*node{}, unused: map[string]int{}, rules: map[string]string{}}
	if err := r.read(data); err != nil {
		return Drawing{}, err
	}
	if !r.root {
		return Drawing{}, errors.New("it is no SVG drawing: there is no svg element in it; export the drawing as SVG")
	}
	for name, n := range r.unused {
		r.out.Unused = append(r.out.Unused, fmt.Sprintf("%d × %s", n, name))
	}
	slices.Sort(r.out.Unused)
	if len(r.out.Curves) == 0 {
		has := ""
		if len(r.out.Unused) > 0 {
			has = fmt.Sprintf(" (but %s)", strings.Join(r.out.Unused, ", "))
		}
		return Drawing{}, fmt.Errorf("there is no line in it%s; draw with paths, lines, circles or rectangles", has)
	}
	if err := r.place(); err != nil {
		return r.out, err
	}
	r.out.Curves, r.out.Twice = geom.Once(r.out.Curves)
	return r.out, nil
}

// A matrix is the affine map of SVG: x' = a·x + c·y + e, y' = b·x + d·y + f.
type matrix [6]float64

func (m matrix) apply(p geom.Point) geom.Point {
	return geom.Pt(m[0]*p.X+m[2]*p.Y+m[4], m[1]*p.X+m[3]*p.Y+m[5])
}

// then is m after n: n is applied first.
func (m matrix) then(n matrix) matrix {
	return matrix{
		m[0]*n[0] + m[2]*n[1], m[1]*n[0] + m[3]*n[1],
		m[0]*n[2] + m[2]*n[3], m[1]*n[2] + m[3]*n[3],
		m[0]*n[4] + m[2]*n[5] + m[4], m[1]*n[4] + m[3]*n[5] + m[5],
	}
}

// A scope is what an element hands on to those in it.
type scope struct {
	to      matrix
	ink     color.RGBA
	stroked bool       // by a colour, or another paint, that it gives
	fill    color.RGBA // black where it gives none, as SVG has it
	bare    bool       // it is not filled
	hidden  bool
}

type reader struct {
	out    Drawing
	root   bool
	byID   map[string]*node
	using  int // uses within uses
	copies int // elements that uses have drawn so far
	unused map[string]int
	ruled  bool              // a rule was not understood: what has no stroke may have one by it
	rules  map[string]string // of the style sheet, by element, .class or #id
}

// sheetRules reads a style sheet: rules for elements, classes and ids are kept (CSS 2.1, 5.4, 5.8.3, 5.9, from memory),
// others are named.
func (r *reader) sheetRules(text string) {
	rules, remarks := regexp.MustCompile(`(?s)([^{}]+)\{([^{}]*)\}`), regexp.MustCompile(`(?s)/\*.*?\*/`)
	plain := regexp.MustCompile(`^[.#]?[\w-]+$`)
	for _, rule := range rules.FindAllStringSubmatch(remarks.ReplaceAllString(text, ""), -1) {
		for _, selector := range strings.Split(rule[1], ",") {
			if of := strings.TrimSpace(selector); plain.MatchString(of) {
				r.rules[of] += rule[2] + ";"
			} else {
				r.unused["rule of the style sheet, for "+of]++
				r.ruled = true
			}
		}
	}
}

// attrs are an element's attributes, those that rules and its style give it among them, which go before.
func (r *reader) attrs(e xml.StartElement) map[string]string {
	out := map[string]string{}
	for _, a := range e.Attr {
		out[a.Name.Local] = strings.TrimSpace(a.Value)
	}
	styles := r.rules[e.Name.Local]
	for _, class := range strings.Fields(out["class"]) {
		styles += r.rules["."+class]
	}
	styles += r.rules["#"+out["id"]]
	for _, part := range strings.Split(styles+out["style"], ";") {
		if k, v, ok := strings.Cut(part, ":"); ok {
			out[strings.TrimSpace(k)] = strings.TrimSpace(v)
		}
	}
	return out
}

func (r *reader) element(e xml.StartElement, in scope) (scope, error) {
	a := r.attrs(e)
	if a["display"] == "none" || a["visibility"] == "hidden" || a["opacity"] == "0" || a["stroke-opacity"] == "0" {
		in.hidden = true
	}
	if c, ok := colourOf(a["stroke"]); ok {
		in.ink, in.stroked = c, true
	} else if a["stroke"] == "none" {
		in.stroked = false
	} else if text := a["stroke"]; text != "" && text != "inherit" {
		if in.stroked = true; !strings.EqualFold(text, "currentColor") { // the drawing's, or black
			r.unused[fmt.Sprintf("stroke=%.30q", text)]++
		}
	}
	if c, ok := colourOf(a["fill"]); ok {
		in.fill, in.bare = c, false
	} else if text := a["fill"]; text != "" && text != "inherit" {
		in.bare = text == "none" || text == "transparent"
	}
	if clip := a["clip-path"]; clip != "" && clip != "none" {
		r.unused["clip-path"]++
	}
	m, err := transform(a["transform"])
	if err != nil {
		return in, err
	}
	in.to = in.to.then(m)
	name := e.Name.Local
	switch name {
	case "svg":
		if r.root {
			r.unused["svg within it"]++
			in.hidden = true
			return in, nil
		}
		r.root = true
		v, err := r.sheet(a)
		in.to = in.to.then(v)
		return in, err
	case "g", "a", "use", "title", "desc", "metadata", "style", "namedview":
		return in, nil
	case "defs", "symbol", "clipPath", "mask", "marker", "pattern":
		in.hidden = true
		return in, nil
	}
	if in.hidden {
		return in, nil
	}
	curves, known, err := shape(name, a)
	if err != nil {
		return in, err
	}
	switch white := (color.RGBA{255, 255, 255, 255}); {
	case !known:
		r.unused[name]++
		return in, nil
	case !in.stroked && in.fill == white: // the sheet's ground
		r.unused["white "+name+" without a stroke"]++
		return in, nil
	case !in.stroked && in.bare && !r.ruled: // nobody sees it
		r.unused[name+" without stroke and fill"]++
		return in, nil
	case strings.HasSuffix(a["width"], "%") || strings.HasSuffix(a["height"], "%"):
		r.unused[name+" with a size in %"]++
		return in, nil
	}
	ink := slices.Index(r.out.Inks, in.ink)
	if len(curves) > 0 && ink < 0 {
		ink = len(r.out.Inks)
		r.out.Inks = append(r.out.Inks, in.ink)
	}
	for _, c := range curves {
		for i, p := range c.Pieces {
			c.Pieces[i] = geom.Cubic{in.to.apply(p[0]), in.to.apply(p[1]), in.to.apply(p[2]), in.to.apply(p[3])}
		}
		if c.Ink = ink; len(c.Pieces) > 0 {
			r.out.Curves = append(r.out.Curves, c)
		}
	}
	return in, nil
}

// sheet reads the size and the view box; it returns what takes the drawing's units to mm.
func (r *reader) sheet(a map[string]string) (matrix, error) {
	w, wGuessed, err := length(a["width"])
	if err != nil {
		return matrix{}, fmt.Errorf("width: %w", err)
	}
	h, hGuessed, err := length(a["height"])
	if err != nil {
		return matrix{}, fmt.Errorf("height: %w", err)
	}
	r.out.Size, r.out.Guessed = geom.Pt(w, h), wGuessed || hGuessed
	if a["viewBox"] == "" {
		r.out.Guessed = r.out.Guessed || w == 0 && h == 0
		return matrix{perPx, 0, 0, perPx, 0, 0}, nil
	}
	box, err := numbers(a["viewBox"])
	if err != nil || len(box) != 4 || !(box[2] > 0 && box[3] > 0) {
		return matrix{}, fmt.Errorf("the view box %q is not x y width height", a["viewBox"])
	}
	if w == 0 || h == 0 { // as wide as the box says, or as high as the width leaves
		r.out.Guessed = w == 0 && h == 0 || r.out.Guessed
		k := perPx
		if w > 0 {
			k = w / box[2]
		} else if h > 0 {
			k = h / box[3]
		}
		r.out.Size = geom.Pt(k*box[2], k*box[3])
	}
	// The whole box is shown, in the middle (preserveAspectRatio's default).
	k := min(r.out.Size.X/box[2], r.out.Size.Y/box[3])
	return matrix{
		k, 0, 0, k, (r.out.Size.X-k*box[2])/2 - k*box[0], (r.out.Size.Y-k*box[3])/2 - k*box[1],
	}, nil
}

// length reads a length, mm; 0 for none or a percentage. Guessed tells that it is in px.
func length(text string) (mm float64, guessed bool, err error) {
	if text == "" || strings.HasSuffix(text, "%") {
		return 0, false, nil
	}
	n := len(text)
	for n > 0 && text[n-1] >= 'a' && text[n-1] <= 'z' {
		n--
	}
	unit, ok := lengths()[text[n:]]
	v, bad := strconv.ParseFloat(strings.TrimSpace(text[:n]), 64)
	if !ok || bad != nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, false, fmt.Errorf("%q is no length in mm, cm, in, pt, pc or px", text)
	}
	return v * unit, text[n:] == "" || text[n:] == "px", nil
}

// numbers reads numbers with blanks or commas between them.
func numbers(text string) (out []float64, err error) {
	for _, f := range strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == ' ' || c == '\n' || c == '\t' || c == '\r' }) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// transform reads a list of transforms (SVG 1.1, 7.6).
func transform(text string) (matrix, error) {
	all := matrix{1, 0, 0, 1, 0, 0}
	for text = strings.Trim(text, " ,\t\r\n"); text != ""; text = strings.Trim(text, " ,\t\r\n") {
		name, rest, ok := strings.Cut(text, "(")
		list, after, closed := strings.Cut(rest, ")")
		v, err := numbers(list)
		if !ok || !closed || err != nil {
			return all, fmt.Errorf("transform %.30q cannot be read", text)
		}
		m, ok := transformOf(strings.TrimSpace(name), v)
		if !ok {
			return all, fmt.Errorf("transform %.30q cannot be read", text)
		}
		all, text = all.then(m), after
	}
	return all, nil
}

func transformOf(name string, v []float64) (matrix, bool) {
	at := func(i int, or float64) float64 {
		if i < len(v) {
			return v[i]
		}
		return or
	}
	switch {
	case name == "matrix" && len(v) == 6:
		return matrix(v), true
	case name == "translate" && (len(v) == 1 || len(v) == 2):
		return matrix{1, 0, 0, 1, v[0], at(1, 0)}, true
	case name == "scale" && (len(v) == 1 || len(v) == 2):
		return matrix{v[0], 0, 0, at(1, v[0]), 0, 0}, true
	case name == "rotate" && (len(v) == 1 || len(v) == 3):
		s, c := math.Sincos(geom.Radians(v[0]))
		x, y := at(1, 0), at(2, 0)
		return matrix{c, s, -s, c, x - c*x + s*y, y - s*x - c*y}, true
	case name == "skewX" && len(v) == 1:
		return matrix{1, 0, math.Tan(geom.Radians(v[0])), 1, 0, 0}, true
	case name == "skewY" && len(v) == 1:
		return matrix{1, math.Tan(geom.Radians(v[0])), 0, 1, 0, 0}, true
	}
	return matrix{}, false
}

// colourOf is a colour as CSS writes it; ok is false where none is given.
func colourOf(text string) (color.RGBA, bool) {
	text = strings.ToLower(text)
	if c, ok := colornames.Map[text]; ok {
		return c, true
	}
	if len(text) == 4 && text[0] == '#' {
		text = "#" + strings.Repeat(text[1:2], 2) + strings.Repeat(text[2:3], 2) + strings.Repeat(text[3:4], 2)
	}
	if strings.HasPrefix(text, "#") {
		c, err := picture.ParseColour(text)
		return c, err == nil
	}
	var v [3]uint8
	if n, _ := fmt.Sscanf(strings.ReplaceAll(text, " ", ""), "rgb(%d,%d,%d)", &v[0], &v[1], &v[2]); n == 3 {
		return color.RGBA{v[0], v[1], v[2], 255}, true
	}
	return color.RGBA{}, false
}

// place checks where the lines lie, and takes a sheet around them where the file's does not hold
// them.
func (r *reader) place() error {
	var pts []geom.Point
	for _, c := range r.out.Curves {
		pts = append(pts, c.Flatten(0.1)...)
	}
	for _, p := range pts {
		if math.IsNaN(p.X+p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) {
			return errors.New("a line of it lies nowhere: a number is too large")
		}
	}
	box := geom.Bounds(pts)
	inside := box.Min.X >= 0 && box.Min.Y >= 0 && box.Max.X <= r.out.Size.X && box.Max.Y <= r.out.Size.Y
	if !inside {
		by := geom.Pt(around, around).Sub(box.Min)
		for i := range r.out.Curves {
			for k, p := range r.out.Curves[i].Pieces {
				r.out.Curves[i].Pieces[k] = geom.Cubic{p[0].Add(by), p[1].Add(by), p[2].Add(by), p[3].Add(by)}
			}
		}
		r.out.Size = box.Size().Add(geom.Pt(2*around, 2*around))
	}
	return nil
}

// Extent is the width and the height of the box about the lines, mm, as a frame has them on the
// sign.
func (d Drawing) Extent(f geom.Frame) geom.Point {
	return geom.BoundsOf(f.SignLine(geom.Centreline{Curves: d.Curves}).Curves, 0.1).Size()
}

// Check returns an error for lines of an extent that is smaller or larger than a sign can be.
func Check(extent geom.Point) error {
	if long := max(extent.X, extent.Y); long < least || long > most {
		return fmt.Errorf(
			"its lines are %v mm long over all; a sign is %d to %d mm: give the svg element a width and a height in mm, "+
				"or say --width", math.Round(long*100)/100, least, most,
		)
	}
	return nil
}

// around is the paper about lines that their file's sheet does not hold, mm.
const around = 10
