package pipeline

import (
	"bytes"
	"fmt"
	"strconv"

	"inkchannel/geom"
)

// SVG writes the centrelines as SVG 1.1 (W3C), one path a stroke. A unit is a
// millimetre and the frame is the sheet's.
func SVG(c geom.Centreline, size geom.Point) []byte {
	var b bytes.Buffer
	w, h := mm(size.X), mm(size.Y)
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n", w, h, w, h)
	b.WriteString("<title>Centrelines, in mm</title>\n")
	b.WriteString(`<g fill="none" stroke="#000" stroke-width="0.5" stroke-linecap="round" stroke-linejoin="round">` + "\n")
	for _, k := range c.Curves {
		fmt.Fprintf(&b, `<path d="%s"/>`+"\n", pathData(k))
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes()
}

// pathData is the curve in absolute moves and cubics.
func pathData(c geom.Curve) string {
	var b bytes.Buffer
	for i, p := range c.Pieces {
		if i == 0 {
			fmt.Fprintf(&b, "M%s %s", mm(p[0].X), mm(p[0].Y))
		}
		fmt.Fprintf(&b, " C%s %s %s %s %s %s", mm(p[1].X), mm(p[1].Y), mm(p[2].X), mm(p[2].Y), mm(p[3].X), mm(p[3].Y))
	}
	if c.Closed {
		b.WriteString(" Z")
	}
	return b.String()
}

// mm writes a length to a thousandth.
func mm(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	if s == "-0.000" {
		return "0.000"
	}
	return s
}
