package cutting

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"inkchannel/geom"
)

// DXF writes layers as an ASCII drawing interchange file of release 12 (AC1009), whose lines, arcs,
// circles and polylines any reader takes; a unit is a millimetre, and size the sheet's. Group codes
// are from memory, and held against a reader of the registries in the tests.
func DXF(layers []Layer, size geom.Point) []byte {
	w := &writer{}
	w.text(0, "SECTION", 2, "HEADER", 9, "$ACADVER", 1, "AC1009", 9, "$EXTMIN")
	box := extent(layers, size)
	w.point(box.Min)
	w.text(9, "$EXTMAX")
	w.point(box.Max)
	w.text(0, "ENDSEC", 0, "SECTION", 2, "TABLES")
	w.text(0, "TABLE", 2, "LTYPE", 70, "1", 0, "LTYPE", 2, "CONTINUOUS", 70, "0", 3, "Solid line", 72, "65", 73, "0", 40, "0.0", 0, "ENDTAB")
	w.text(0, "TABLE", 2, "LAYER", 70, strconv.Itoa(len(layers)))
	for _, l := range layers {
		w.text(0, "LAYER", 2, l.Name, 70, "0", 62, strconv.Itoa(l.Colour), 6, "CONTINUOUS")
	}
	w.text(0, "ENDTAB", 0, "ENDSEC", 0, "SECTION", 2, "ENTITIES")
	for _, l := range layers {
		for _, p := range l.paths() {
			w.path(l.Name, p)
		}
		for _, h := range l.Holes {
			w.text(0, "CIRCLE", 8, l.Name)
			w.point(h.At)
			w.number(40, h.Diameter/2)
		}
	}
	w.text(0, "ENDSEC", 0, "EOF")
	return w.Bytes()
}

// A writer writes pairs of a group code and a value, a line each.
type writer struct{ bytes.Buffer }

// text writes pairs whose values are words.
func (w *writer) text(pairs ...any) {
	for i := 0; i < len(pairs); i += 2 {
		fmt.Fprintf(w, "%d\n%s\n", pairs[i], pairs[i+1])
	}
}

func (w *writer) number(code int, v float64) {
	fmt.Fprintf(w, "%d\n%s\n", code, strconv.FormatFloat(math.Round(v*1e6)/1e6+0, 'f', -1, 64))
}

// point writes a place.
func (w *writer) point(p geom.Point) {
	w.number(10, p.X)
	w.number(20, p.Y)
	w.number(30, 0)
}

// path writes a single line or arc as such, all else as a polyline.
func (w *writer) path(layer string, p path) {
	if len(p.vertices) == 2 && !p.closed {
		w.single(layer, p.vertices[0], p.vertices[1].at)
		return
	}
	closed := "0"
	if p.closed {
		closed = "1"
	}
	w.text(0, "POLYLINE", 8, layer, 66, "1", 70, closed)
	w.point(geom.Point{})
	for _, v := range p.vertices {
		w.text(0, "VERTEX", 8, layer)
		w.point(v.at)
		if v.bulge != 0 {
			w.number(42, v.bulge)
		}
	}
	w.text(0, "SEQEND", 8, layer)
}

func (w *writer) single(layer string, from vertex, to geom.Point) {
	if from.bulge == 0 {
		w.text(0, "LINE", 8, layer)
		w.point(from.at)
		w.number(11, to.X)
		w.number(21, to.Y)
		w.number(31, 0)
		return
	}
	c, r := circle(from.at, to, from.bulge)
	a, b := from.at.Sub(c), to.Sub(c)
	if r < 0 { // arcs run anticlockwise
		a, b = b, a
	}
	w.text(0, "ARC", 8, layer)
	w.point(c)
	w.number(40, math.Abs(r))
	w.number(50, degreesOf(a))
	w.number(51, degreesOf(b))
}

// degreesOf is a direction's angle, 0 to 360.
func degreesOf(d geom.Point) float64 {
	return math.Mod(geom.Degrees(math.Atan2(d.Y, d.X))+360, 360)
}
