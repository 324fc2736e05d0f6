package lines

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"inkchannel/geom"
)

// A pathReader reads SVG 1.1 path data (W3C, chapter 8.3).
type pathReader struct {
	text string
	out  []geom.Curve
	now  geom.Curve
	at   geom.Point // current point
	from geom.Point // start of the subpath
	ctrl geom.Point // last control point, for smooth curves
	last byte       // the command before, in lower case
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
		switch c := r.text[0]; {
		case c >= 'A' && c <= 'z':
			cmd, r.text = c, r.text[1:]
		case cmd == 0 || cmd|0x20 == 'z':
			return nil, fmt.Errorf("path data %.20q starts with no command", r.text)
		case cmd == 'M':
			cmd = 'L'
		case cmd == 'm':
			cmd = 'l'
		}
		if err := r.command(cmd); err != nil {
			return nil, err
		}
		r.last = cmd | 0x20
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
		case (c == '-' || c == '+') && (n == 0 || r.text[n-1]|0x20 == 'e'):
		case c == '.' && !dot && !exp:
			dot = true
		case c|0x20 == 'e' && n > 0 && !exp:
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
		if r.text == "" {
			return 0, errors.New("a number is missing at the end of its data; places have two each")
		}
		return 0, fmt.Errorf("its data have %.20q where a number is expected", r.text)
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
	case 'q':
		v, err := r.numbers(4)
		if err != nil {
			return err
		}
		r.quadratic(pt(v, 0), pt(v, 2))
		return nil
	case 't':
		v, err := r.numbers(2)
		if err != nil {
			return err
		}
		ctrl := r.at
		if r.last == 'q' || r.last == 't' {
			ctrl = r.at.Mul(2).Sub(r.ctrl)
		}
		r.quadratic(ctrl, pt(v, 0))
		return nil
	case 's':
		v, err := r.numbers(4)
		if err != nil {
			return err
		}
		ctrl := r.at
		if r.last == 'c' || r.last == 's' {
			ctrl = r.at.Mul(2).Sub(r.ctrl)
		}
		r.to(geom.Cubic{r.at, ctrl, pt(v, 0), pt(v, 2)})
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
	if n := len(r.now.Pieces); n > 0 {
		r.now.Pieces[n-1][3] = to
	}
	r.at = to
	return nil
}

// quadratic adds a quadratic curve as the cubic that is the same.
func (r *pathReader) quadratic(ctrl, to geom.Point) {
	r.to(geom.Cubic{r.at, r.at.Lerp(ctrl, 2.0/3), to.Lerp(ctrl, 2.0/3), to})
	r.ctrl = ctrl
}
