package folder

import (
	"bytes"
	"fmt"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/vision"
)

// SVG writes the centrelines as SVG 1.1 (W3C), one path a stroke, in the colours of the pens if there are
// several; without any they are black. A unit is a millimetre, y points down.
func SVG(c geom.Centreline, size geom.Point, pens []vision.Pen) []byte {
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
		colour := ""
		if len(pens) > 1 && k.Ink < len(pens) {
			red, green, blue := pens[k.Ink].Colour.SRGB()
			colour = fmt.Sprintf(` stroke="#%02x%02x%02x"`, red, green, blue)
		}
		// The data first, in several colours as in one: who reads the file line by line finds it so.
		fmt.Fprintf(&b, `<path d="%s"%s/>`+"\n", picture.CurveData(k), colour)
	}
	b.WriteString("</g>\n</svg>\n")
	return b.Bytes()
}
