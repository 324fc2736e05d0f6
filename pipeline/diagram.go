package pipeline

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"

	"inkchannel/geom"
)

// A diagram is lines and words, in mm, y down, that can be written in several
// forms.
type diagram struct {
	w, h  float64
	lines []dline
	words []dword
}

type dline struct {
	pts    []geom.Point
	closed bool
	fill   bool
	dashed bool
}

type dword struct {
	at     geom.Point
	text   string
	size   float64 // mm
	anchor string  // start, middle, end
}

func (d *diagram) line(v ...float64) {
	var l dline
	for i := 0; i < len(v); i += 2 {
		l.pts = append(l.pts, geom.Pt(v[i], v[i+1]))
	}
	d.lines = append(d.lines, l)
}

func (d *diagram) box(x, y, w, h float64) {
	d.line(x, y, x+w, y, x+w, y+h, x, y+h)
	d.lines[len(d.lines)-1].closed = true
}

func (d *diagram) text(x, y, size float64, anchor, format string, a ...any) {
	d.words = append(d.words, dword{geom.Pt(x, y), fmt.Sprintf(format, a...), size, anchor})
}

// dot is a filled circle: a junction of conductors (IEC 60617).
func (d *diagram) dot(x, y float64) {
	var pts []geom.Point
	for _, p := range geom.Arc(geom.Pt(x, y), 0.8, 0, 360).Flatten(0.05) {
		pts = append(pts, p)
	}
	d.lines = append(d.lines, dline{pts: pts, closed: true, fill: true})
}

// fuse is a rectangle with the conductor through it (IEC 60617).
func (d *diagram) fuse(x, y, w float64, label string) {
	d.box(x, y-1.8, w, 3.6)
	d.line(x, y, x+w, y)
	d.text(x+w/2, y-3.2, 3, "middle", "%s", label)
}

// led is a light-emitting diode: a triangle against a bar, two arrows that
// leave it (IEC 60617). Its conductor runs down from (x, y) to (x, y + 12).
func (d *diagram) led(x, y float64) {
	d.line(x, y, x, y+3)
	d.line(x-3, y+3, x+3, y+3, x, y+9)
	d.lines[len(d.lines)-1].closed = true
	d.line(x-3, y+9, x+3, y+9)
	d.line(x, y+9, x, y+12)
	for k := range 2 {
		u, v := x+3.5+1.5*float64(k), y+4+2*float64(k)
		d.line(u, v, u+3.5, v-3)
		d.line(u+3.5, v-3, u+1.9, v-2.7)
		d.line(u+3.5, v-3, u+3.3, v-1.4)
	}
}

// wiringDiagram draws the supply, and for each chain its fuse and its pieces in
// the order they are fed.
func wiringDiagram(r *Result) *diagram {
	f, s := r.Feeding, r.Settings.Strip
	d := &diagram{}
	const left, row, step = 52.0, 42.0, 26.0
	y := 26.0
	plus, minus := 40.0, 46.0
	for i, c := range f.Circuits {
		ch := r.Strips.Chains[i]
		p, m := y, y+18
		d.line(plus, p, left, p)
		d.fuse(left, p, 10, fmt.Sprintf("%g A", c.Fuse))
		x := left + 10
		end := x + step*float64(len(ch.Pieces))
		d.line(x, p, end, p)
		d.line(minus, m, end, m)
		for k, n := range ch.Pieces {
			at := x + step*(float64(k)+0.5)
			d.line(at, p, at, p+3)
			d.led(at, p+3)
			d.line(at, p+15, at, m)
			if k < len(ch.Pieces)-1 {
				d.dot(at, p)
				d.dot(at, m)
			}
			d.text(at, m+4.5, 3, "middle", "piece %d", n+1)
			d.text(at, m+8.2, 2.6, "middle", "%.0f mm", r.Strips.Pieces[n].Strip)
		}
		d.text(left+14, p-3.2, 3, "start", "chain %d%s: %.2f A, %s", i+1, r.inColour(ch.Ink), c.Amps, c.Wire.Name)
		if i > 0 {
			d.dot(plus, p)
			d.dot(minus, m)
		}
		d.w = max(d.w, end+8)
		y += row
	}
	bottom := y - row
	d.line(plus, 26, plus, bottom)
	d.line(minus, 44, minus, bottom+18)
	// The supply: direct current, plus and minus.
	d.box(6, 20, 24, 30)
	d.text(18, 33, 4, "middle", "%g V =", s.Volts)
	d.text(18, 39, 3, "middle", "%g W", f.Supply)
	d.text(18, 17, 3, "middle", "supply")
	d.line(30, 26, plus, 26)
	d.line(30, 44, minus, 44)
	d.text(32, 25, 3, "start", "+")
	d.text(32, 43, 3, "start", "\u2212")
	d.w = max(d.w, 120)
	d.h = y + 8
	d.text(6, 8, 4, "start", "Wiring, low voltage only")
	d.text(6, d.h-3, 2.6, "start", "Symbols: IEC 60617. The supply is bought, listed for your country; leave mains to a licensed electrician and follow local codes.")
	d.w = max(d.w, 6+2.6*0.5*130)
	return d
}

// SVG writes the diagram as SVG 1.1, a unit a millimetre.
func (d *diagram) SVG(title string) []byte {
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n", mm(d.w), mm(d.h), mm(d.w), mm(d.h))
	fmt.Fprintf(&b, "<title>%s</title>\n", escaped(title))
	b.WriteString(`<rect width="100%" height="100%" fill="#fff"/>` + "\n")
	b.WriteString(`<g fill="none" stroke="#000" stroke-width="0.35" stroke-linejoin="round">` + "\n")
	for _, l := range d.lines {
		var pts []string
		for _, p := range l.pts {
			pts = append(pts, mm(p.X)+","+mm(p.Y))
		}
		name, extra := "polyline", ""
		if l.closed {
			name = "polygon"
		}
		if l.fill {
			extra = ` fill="#000"`
		}
		if l.dashed {
			extra += ` stroke-dasharray="1.5 1"`
		}
		fmt.Fprintf(&b, `<%s points="%s"%s/>`+"\n", name, strings.Join(pts, " "), extra)
	}
	b.WriteString("</g>\n" + `<g font-family="sans-serif">` + "\n")
	for _, w := range d.words {
		fmt.Fprintf(&b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s">%s</text>`+"\n", mm(w.at.X), mm(w.at.Y), mm(w.size), w.anchor, escaped(w.text))
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes()
}

func escaped(text string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(text)) // a Buffer never fails
	return b.String()
}

// draw puts the diagram on a canvas whose unit is a millimetre.
func (d *diagram) draw(c *canvas) error {
	for _, l := range d.lines {
		c.path(l.pts, 1, l.closed)
		c.SetColor(barBack)
		if l.fill {
			c.Fill()
			continue
		}
		c.SetLineWidth(0.35 * c.k)
		c.Stroke()
	}
	for _, w := range d.words {
		f, err := face(w.size * c.k)
		if err != nil {
			return err
		}
		c.SetFontFace(f)
		x := map[string]float64{"start": 0, "middle": 0.5, "end": 1}[w.anchor]
		c.SetColor(barBack)
		c.DrawStringAnchored(w.text, w.at.X*c.k, w.at.Y*c.k, x, 0)
	}
	return nil
}

// Wiring writes the wiring diagram as SVG.
func Wiring(r *Result) []byte { return wiringDiagram(r).SVG("Wiring diagram") }
