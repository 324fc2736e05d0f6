package folder

import (
	"bytes"
	"fmt"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
)

// SVG writes the centrelines as SVG 1.1 (W3C), one path a stroke. A unit is a
// millimetre and the frame is the sheet's.
func SVG(c geom.Centreline, size geom.Point) []byte {
	var b bytes.Buffer
	w, h := picture.Mm(size.X), picture.Mm(size.Y)
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	fmt.Fprintf(
		&b,
		`<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n",
		w, h, w, h,
	)
	b.WriteString("<title>Centrelines, in mm</title>\n")
	b.WriteString(
		`<g fill="none" stroke="#000" stroke-width="0.5" stroke-linecap="round" stroke-linejoin="round">` + "\n",
	)
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
			fmt.Fprintf(&b, "M%s %s", picture.Mm(p[0].X), picture.Mm(p[0].Y))
		}
		fmt.Fprintf(
			&b, " C%s %s %s %s %s %s", picture.Mm(p[1].X), picture.Mm(p[1].Y), picture.Mm(p[2].X),
			picture.Mm(p[2].Y), picture.Mm(p[3].X), picture.Mm(p[3].Y),
		)
	}
	if c.Closed {
		b.WriteString(" Z")
	}
	return b.String()
}
