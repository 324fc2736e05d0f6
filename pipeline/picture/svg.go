package picture

import (
	"bytes"
	"fmt"

	"inkchannel/geom"
)

// CurveData is a curve as SVG path data (W3C SVG 1.1): absolute moves and cubics, mm.
func CurveData(c geom.Curve) string {
	var b bytes.Buffer
	for i, p := range c.Pieces {
		if i == 0 {
			fmt.Fprintf(&b, "M%s %s", Mm(p[0].X), Mm(p[0].Y))
		}
		fmt.Fprintf(&b, " C%s %s %s %s %s %s", Mm(p[1].X), Mm(p[1].Y), Mm(p[2].X), Mm(p[2].Y), Mm(p[3].X), Mm(p[3].Y))
	}
	if c.Closed {
		b.WriteString(" Z")
	}
	return b.String()
}

// PathData is a polyline as SVG path data: absolute moves and lines, mm.
func PathData(line geom.Polyline, closed bool) string {
	var b bytes.Buffer
	for i, p := range line {
		verb := " L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&b, "%s%s %s", verb, Mm(p.X), Mm(p.Y))
	}
	if closed {
		b.WriteString(" Z")
	}
	return b.String()
}
