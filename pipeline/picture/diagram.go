package picture

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"inkchannel/geom"
)

// A Diagram is lines and words, in mm, y down, that can be written in several
// forms.
type Diagram struct {
	W, H  float64
	lines []dline
	words []dword
}

type dline struct {
	pts    []geom.Point
	closed bool
	fill   bool
}

type dword struct {
	at     geom.Point
	text   string
	size   float64 // mm
	anchor string  // start, middle, end
}

// Line adds a chain of straight lines through x, y, x, y and so on, mm.
func (d *Diagram) Line(v ...float64) {
	var l dline
	for i := 0; i < len(v); i += 2 {
		l.pts = append(l.pts, geom.Pt(v[i], v[i+1]))
	}
	d.lines = append(d.lines, l)
}

// Box adds the outline of a rectangle of w by h mm whose upper left corner is at
// (x, y).
func (d *Diagram) Box(x, y, w, h float64) {
	d.Line(x, y, x+w, y, x+w, y+h, x, y+h)
	d.lines[len(d.lines)-1].closed = true
}

// Text adds words at (x, y), size mm high; anchor says which of their start, middle
// and end lies there.
func (d *Diagram) Text(x, y, size float64, anchor, format string, a ...any) {
	d.words = append(d.words, dword{at: geom.Pt(x, y), text: fmt.Sprintf(format, a...), size: size, anchor: anchor})
}

// Dot is a filled circle about (x, y): a junction of conductors (IEC 60617).
func (d *Diagram) Dot(x, y float64) {
	d.lines = append(d.lines, dline{pts: geom.Arc(geom.Pt(x, y), 0.8, 0, 360).Flatten(0.05), closed: true, fill: true})
}

// Fuse is a rectangle w mm long, from (x, y) to the right, with the conductor
// through it (IEC 60617) and its label above.
func (d *Diagram) Fuse(x, y, w float64, label string) {
	d.Box(x, y-1.8, w, 3.6)
	d.Line(x, y, x+w, y)
	d.Text(x+w/2, y-3.2, 3, "middle", "%s", label)
}

// Connector is a plug and its socket, w mm long, from (x, y) to the right (IEC 60617, from memory).
func (d *Diagram) Connector(x, y, w float64) {
	d.Line(x, y, x+w/2, y)
	d.Line(x+w/2-1, y-1.4, x+w/2+0.4, y, x+w/2-1, y+1.4)
	d.Line(x+w/2, y-1.4, x+w/2+1.4, y, x+w/2, y+1.4)
	d.Line(x+w/2+1.4, y, x+w, y)
}

// LED is a light-emitting diode: a triangle against a bar, two arrows that
// leave it (IEC 60617). Its conductor runs down from (x, y) to (x, y + 12).
func (d *Diagram) LED(x, y float64) {
	d.Line(x, y, x, y+3)
	d.Line(x-3, y+3, x+3, y+3, x, y+9)
	d.lines[len(d.lines)-1].closed = true
	d.Line(x-3, y+9, x+3, y+9)
	d.Line(x, y+9, x, y+12)
	for k := range 2 {
		u, v := x+3.5+1.5*float64(k), y+4+2*float64(k)
		d.Line(u, v, u+3.5, v-3)
		d.Line(u+3.5, v-3, u+1.9, v-2.7)
		d.Line(u+3.5, v-3, u+3.3, v-1.4)
	}
}

// SVG writes the diagram as SVG 1.1, a unit a millimetre.
func (d *Diagram) SVG(title string) []byte {
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	fmt.Fprintf(
		&b,
		`<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n",
		Mm(d.W), Mm(d.H), Mm(d.W), Mm(d.H),
	)
	fmt.Fprintf(&b, "<title>%s</title>\n", Escaped(title))
	b.WriteString(`<rect width="100%" height="100%" fill="#fff"/>` + "\n")
	b.WriteString(`<g fill="none" stroke="#000" stroke-width="0.35" stroke-linejoin="round">` + "\n")
	for _, l := range d.lines {
		var pts []string
		for _, p := range l.pts {
			pts = append(pts, Mm(p.X)+","+Mm(p.Y))
		}
		name, extra := "polyline", ""
		if l.closed {
			name = "polygon"
		}
		if l.fill {
			extra = ` fill="#000"`
		}
		fmt.Fprintf(&b, `<%s points="%s"%s/>`+"\n", name, strings.Join(pts, " "), extra)
	}
	b.WriteString("</g>\n" + `<g font-family="sans-serif">` + "\n")
	for _, w := range d.words {
		fmt.Fprintf(
			&b, `<text x="%s" y="%s" font-size="%s" text-anchor="%s">%s</text>`+"\n", Mm(w.at.X), Mm(w.at.Y),
			Mm(w.size), w.anchor, Escaped(w.text),
		)
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes()
}

// Escaped is text as XML holds it.
func Escaped(text string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(text)) // a Buffer never fails
	return b.String()
}

// Draw puts the diagram on a canvas whose unit is a millimetre. It returns an error
// where the font does.
func (d *Diagram) Draw(c *Canvas) error {
	for _, l := range d.lines {
		c.Path(l.pts, 1, l.closed)
		c.SetColor(BarBack)
		if l.fill {
			c.Fill()
			continue
		}
		c.SetLineWidth(0.35 * c.K)
		c.Stroke()
	}
	for _, w := range d.words {
		f, err := face(w.size * c.K)
		if err != nil {
			return err
		}
		c.SetFontFace(f)
		x := map[string]float64{"start": 0, "middle": 0.5, "end": 1}[w.anchor]
		c.SetColor(BarBack)
		c.DrawStringAnchored(w.text, w.at.X*c.K, w.at.Y*c.K, x, 0)
	}
	return nil
}

// Mm writes a length, mm, to a thousandth.
func Mm(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	if s == "-0.000" {
		return "0.000"
	}
	return s
}
