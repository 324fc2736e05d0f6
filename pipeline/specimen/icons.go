package specimen

import (
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom"
)

// IconSide is the side of the square that icons are drawn in, in their own
// units.
const IconSide = 24

// Icons returns the file names of npm's feather-icons (stroke art with known
// centrelines), which make test-deps installs under folder npm.
func Icons(npm string) ([]string, error) {
	names, err := filepath.Glob(filepath.Join(npm, "node_modules/feather-icons/dist/icons/*.svg"))
	if err == nil && len(names) == 0 {
		err = fmt.Errorf("no icons under %s: run make test-deps", npm)
	}
	return names, err
}

// Icon reads the strokes of an SVG drawing that is made of paths, lines,
// polylines, polygons, circles, ellipses and rectangles without transforms, as
// feather-icons are, and scales it so that one unit is unit mm. Dots are left
// out.
func Icon(name string, unit float64) (geom.Centreline, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return geom.Centreline{}, err
	}
	curves, err := svgCurves(data)
	if err != nil {
		return geom.Centreline{}, fmt.Errorf("%s: %w", filepath.Base(name), err)
	}
	// Dots drawn as lines of no length hold no strip.
	curves = slices.DeleteFunc(curves, func(c geom.Curve) bool { return c.Length() < 0.2 })
	for i, c := range curves {
		for k, p := range c.Pieces {
			for j, q := range p {
				curves[i].Pieces[k][j] = q.Mul(unit)
			}
		}
	}
	return geom.Join(curves, 0.02*unit), nil
}

func svgCurves(data []byte) ([]geom.Curve, error) {
	d := xml.NewDecoder(strings.NewReader(string(data)))
	var out []geom.Curve
	for {
		tok, err := d.Token()
		if tok == nil {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		cs, err := element(e)
		if err != nil {
			return nil, err
		}
		for _, c := range cs {
			if len(c.Pieces) > 0 {
				out = append(out, c)
			}
		}
	}
}

func element(e xml.StartElement) ([]geom.Curve, error) {
	attr := func(name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	num := func(name string) float64 { v, _ := strconv.ParseFloat(attr(name), 64); return v }
	switch e.Name.Local {
	case "line":
		return []geom.Curve{geom.Lines(geom.Pt(num("x1"), num("y1")), geom.Pt(num("x2"), num("y2")))}, nil
	case "circle":
		return []geom.Curve{geom.Arc(geom.Pt(num("cx"), num("cy")), num("r"), 0, 360)}, nil
	case "ellipse":
		c := geom.Arc(geom.Pt(0, 0), 1, 0, 360)
		for i := range c.Pieces {
			for k, q := range c.Pieces[i] {
				c.Pieces[i][k] = geom.Pt(num("cx")+q.X*num("rx"), num("cy")+q.Y*num("ry"))
			}
		}
		return []geom.Curve{c}, nil
	case "rect":
		x, y, w, h := num("x"), num("y"), num("width"), num("height")
		r := max(num("rx"), num("ry"))
		text := fmt.Sprintf(
			"M%g %gh%ga%g %g 0 0 1 %g %gv%ga%g %g 0 0 1 %g %gh%ga%g %g 0 0 1 %g %gv%ga%g %g 0 0 1 %g %gz", x+r, y,
			w-2*r, r, r, r, r, h-2*r, r, r, -r, r, 2*r-w, r, r, -r, -r, 2*r-h, r, r, r, -r,
		)
		return path(text)
	case "polyline", "polygon":
		text := "M" + attr("points")
		if e.Name.Local == "polygon" {
			text += "z"
		}
		return path(text)
	case "path":
		return path(attr("d"))
	}
	return nil, nil
}

// A pathReader reads SVG 1.1 path data (W3C, chapter 8.3).
type pathReader struct {
	text string
	out  []geom.Curve
	now  geom.Curve
	at   geom.Point // current point
	from geom.Point // start of the subpath
	ctrl geom.Point // last control point, for smooth curves
}

func path(text string) ([]geom.Curve, error) {
	r := &pathReader{text: text}
	cmd := byte(0)
	for {
		r.skip()
		if r.text == "" {
			r.finish(false)
			return r.out, nil
		}
		if c := r.text[0]; c >= 'A' && c <= 'z' {
			cmd, r.text = c, r.text[1:]
		} else if cmd == 'M' {
			cmd = 'L'
		} else if cmd == 'm' {
			cmd = 'l'
		}
		if err := r.command(cmd); err != nil {
			return nil, err
		}
	}
}

func (r *pathReader) skip() { r.text = strings.TrimLeft(r.text, " ,\t\r\n") }

// number reads the next number; flags of arcs may stand without a gap.
func (r *pathReader) number(flag bool) (float64, error) {
	r.skip()
	n := 0
	if flag && r.text != "" {
		n = 1
	}
	dot, exp := false, false
	for !flag && n < len(r.text) {
		c := r.text[n]
		switch {
		case c >= '0' && c <= '9':
		case (c == '-' || c == '+') && (n == 0 || r.text[n-1] == 'e'):
		case c == '.' && !dot && !exp:
			dot = true
		case c == 'e' && n > 0:
			exp = true
		default:
			c = 0
		}
		if c == 0 {
			break
		}
		n++
	}
	v, err := strconv.ParseFloat(r.text[:n], 64)
	if err != nil {
		return 0, fmt.Errorf("path data %.20q: %w", r.text, err)
	}
	r.text = r.text[n:]
	return v, nil
}

func (r *pathReader) numbers(n int) ([]float64, error) {
	out := make([]float64, n)
	for i := range out {
		var err error
		if out[i], err = r.number(false); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (r *pathReader) finish(closed bool) {
	if len(r.now.Pieces) > 0 {
		r.now.Closed = closed || r.now.Pieces[len(r.now.Pieces)-1][3].Dist(r.now.Pieces[0][0]) < 1e-9
		if r.now.Closed {
			r.now.Pieces[len(r.now.Pieces)-1][3] = r.now.Pieces[0][0]
		}
		r.out = append(r.out, r.now)
	}
	r.now = geom.Curve{}
}

func (r *pathReader) to(c geom.Cubic) {
	if c[0].Dist(c[3]) > 1e-9 || c[0].Dist(c[1]) > 1e-9 {
		r.now.Pieces = append(r.now.Pieces, c)
	}
	r.ctrl, r.at = c[2], c[3]
}

func (r *pathReader) lineTo(p geom.Point) {
	r.to(geom.StraightCubic(r.at, p))
	r.ctrl = p
}

func (r *pathReader) command(cmd byte) error {
	base := geom.Point{}
	if cmd >= 'a' {
		base = r.at
	}
	pt := func(v []float64, i int) geom.Point { return base.Add(geom.Pt(v[i], v[i+1])) }
	switch cmd | 0x20 {
	case 'z':
		if r.at.Dist(r.from) > 1e-9 {
			r.lineTo(r.from)
		}
		r.finish(true)
		r.at = r.from
		return nil
	case 'm', 'l':
		v, err := r.numbers(2)
		if err != nil {
			return err
		}
		if cmd|0x20 == 'm' {
			r.finish(false)
			r.at = pt(v, 0)
			r.from, r.ctrl = r.at, r.at
			return nil
		}
		r.lineTo(pt(v, 0))
	case 'h', 'v':
		v, err := r.number(false)
		if err != nil {
			return err
		}
		p := geom.Pt(base.X+v, r.at.Y)
		if cmd|0x20 == 'v' {
			p = geom.Pt(r.at.X, base.Y+v)
		}
		r.lineTo(p)
	case 'c':
		v, err := r.numbers(6)
		if err != nil {
			return err
		}
		r.to(geom.Cubic{r.at, pt(v, 0), pt(v, 2), pt(v, 4)})
	case 's':
		v, err := r.numbers(4)
		if err != nil {
			return err
		}
		r.to(geom.Cubic{r.at, r.at.Mul(2).Sub(r.ctrl), pt(v, 0), pt(v, 2)})
	case 'a':
		return r.arc(base)
	default:
		return fmt.Errorf("path command %q is not read here", cmd)
	}
	return nil
}

// arc reads an elliptical arc; its centre is found as SVG 1.1's appendix F.6.5
// says.
func (r *pathReader) arc(base geom.Point) error {
	v, err := r.numbers(3)
	if err != nil {
		return err
	}
	var flags [2]float64
	for i := range flags {
		if flags[i], err = r.number(true); err != nil {
			return err
		}
	}
	w, err := r.numbers(2)
	if err != nil {
		return err
	}
	to := base.Add(geom.Pt(w[0], w[1]))
	rx, ry := math.Abs(v[0]), math.Abs(v[1])
	if rx == 0 || ry == 0 {
		r.lineTo(to)
		return nil
	}
	s, c := math.Sincos(geom.Radians(v[2]))
	turn := func(p geom.Point) geom.Point { return geom.Pt(c*p.X+s*p.Y, -s*p.X+c*p.Y) }
	back := func(p geom.Point) geom.Point { return geom.Pt(c*p.X-s*p.Y, s*p.X+c*p.Y) }
	// In units of the radii, where the ellipse is a unit circle.
	unit := func(p geom.Point) geom.Point { q := turn(p); return geom.Pt(q.X/rx, q.Y/ry) }
	a, b := unit(r.at), unit(to)
	half := a.Dist(b) / 2
	if half > 1 {
		rx, ry, half = rx*half, ry*half, 1
		a, b = unit(r.at), unit(to)
	}
	rise := math.Sqrt(max(1-half*half, 0))
	if flags[0] == flags[1] {
		rise = -rise
	}
	centre := a.Lerp(b, 0.5).Add(b.Sub(a).Unit().Perp().Mul(rise))
	angle := geom.Degrees(math.Atan2(a.Sub(centre).Cross(b.Sub(centre)), a.Sub(centre).Dot(b.Sub(centre))))
	if flags[1] == 1 && angle < 0 {
		angle += 360
	} else if flags[1] == 0 && angle > 0 {
		angle -= 360
	}
	for _, q := range geom.ArcCubics(centre, a, angle) {
		for i, p := range q {
			q[i] = back(geom.Pt(p.X*rx, p.Y*ry))
		}
		q[0] = r.at
		r.to(q)
	}
	r.now.Pieces[len(r.now.Pieces)-1][3] = to
	r.at = to
	return nil
}
