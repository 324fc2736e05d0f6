package cutting

import (
	"bytes"
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
)

// SVG writes layers as SVG 1.1 (W3C), a group each, at true size: a unit is a millimetre, and size the
// sheet's; what reaches beyond that is in view too.
func SVG(layers []Layer, size geom.Point) []byte {
	var b bytes.Buffer
	box := extent(layers, size)
	width, height := picture.Mm(box.Size().X), picture.Mm(box.Size().Y)
	fmt.Fprintf(&b, `<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%smm" height="%smm" viewBox="%s %s %s %s">
<title>Outlines to cut and holes to drill, in mm</title>
`, width, height, picture.Mm(box.Min.X), picture.Mm(size.Y-box.Max.Y), width, height)
	down := func(p geom.Point) string {
		return picture.Mm(p.X) + " " + picture.Mm(geom.Upended(p, size.Y).Y)
	}
	for _, l := range layers {
		fmt.Fprintf(&b, `<g id="%s" fill="none" stroke="%s" stroke-width="0.1">`+"\n", l.Name, colourOf(l.Colour))
		for _, p := range l.paths() {
			b.WriteString(`<path d="M` + down(p.vertices[0].at))
			for i, v := range p.vertices {
				if i == len(p.vertices)-1 && !p.closed {
					break
				}
				to := p.vertices[(i+1)%len(p.vertices)].at
				if v.bulge == 0 {
					b.WriteString(" L" + down(to))
					continue
				}
				_, r := circle(v.at, to, v.bulge)
				large, sweep := 0, 0
				if math.Abs(v.bulge) > 1 {
					large = 1
				}
				if v.bulge < 0 { // clockwise with y up, and so with y down the way of growing angles
					sweep = 1
				}
				fmt.Fprintf(&b, " A%s %s 0 %d %d %s", picture.Mm(math.Abs(r)), picture.Mm(math.Abs(r)), large, sweep, down(to))
			}
			if p.closed {
				b.WriteString(" Z")
			}
			b.WriteString(`"/>` + "\n")
		}
		for _, h := range l.Holes {
			at := geom.Upended(h.At, size.Y)
			fmt.Fprintf(&b, `<circle cx="%s" cy="%s" r="%s"/>`+"\n", picture.Mm(at.X), picture.Mm(at.Y), picture.Mm(h.Diameter/2))
		}
		b.WriteString("</g>\n")
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

// colourOf is the colour of a layer's number.
func colourOf(number int) string {
	switch number {
	case 1:
		return "#d00000"
	case 3:
		return "#008030"
	case 4:
		return "#0090a0"
	case 5:
		return "#0040c0"
	case 6:
		return "#a000a0"
	}
	return "#000000"
}
