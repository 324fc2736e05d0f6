package lines

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"inkchannel/geom"
)

// shape is the lines of an element; known is false for one that has none.
func shape(name string, attr map[string]string) (out []geom.Curve, known bool, err error) {
	num := func(key string) float64 {
		v, bad := inUnits(attr, key)
		if err == nil {
			err = bad
		}
		return v
	}
	switch name {
	case "line":
		out = []geom.Curve{geom.Lines(geom.Pt(num("x1"), num("y1")), geom.Pt(num("x2"), num("y2")))}
	case "circle":
		out = ellipse(num("cx"), num("cy"), num("r"), num("r"))
	case "ellipse":
		out = ellipse(num("cx"), num("cy"), num("rx"), num("ry"))
	case "rect":
		out, err = rect(num("x"), num("y"), num("width"), num("height"), num("rx"), num("ry"))
	case "polyline", "polygon":
		text := attr["points"]
		if strings.TrimSpace(text) == "" {
			return nil, true, nil
		}
		text = "M" + text
		if name == "polygon" {
			text += "z"
		}
		out, err = path(text)
	case "path":
		out, err = path(attr["d"])
	default:
		return nil, false, nil
	}
	return out, true, err
}

func ellipse(x, y, rx, ry float64) []geom.Curve {
	if !(rx > 0 && ry > 0) {
		return nil
	}
	c := geom.Arc(geom.Pt(0, 0), 1, 0, 360)
	for i := range c.Pieces {
		for k, q := range c.Pieces[i] {
			c.Pieces[i][k] = geom.Pt(x+q.X*rx, y+q.Y*ry)
		}
	}
	return []geom.Curve{c}
}

func rect(x, y, w, h, rx, ry float64) ([]geom.Curve, error) {
	if !(w > 0 && h > 0) {
		return nil, nil
	}
	if rx == 0 {
		rx = ry
	} else if ry == 0 {
		ry = rx
	}
	rx, ry = math.Min(rx, w/2), math.Min(ry, h/2)
	return path(fmt.Sprintf(
		"M%g %gh%ga%g %g 0 0 1 %g %gv%ga%g %g 0 0 1 %g %gh%ga%g %g 0 0 1 %g %gv%ga%g %g 0 0 1 %g %gz", x+rx, y,
		w-2*rx, rx, ry, rx, ry, h-2*ry, rx, ry, -rx, ry, 2*rx-w, rx, ry, -rx, -ry, 2*ry-h, rx, ry, rx, -ry,
	))
}

// inUnits is a number of an element, or a length in a unit, in the drawing's units; 0 if it gives none.
func inUnits(attr map[string]string, key string) (float64, error) {
	text := attr[key]
	if text == "" {
		return 0, nil
	}
	unit := strings.TrimLeft(text, "+-.0123456789eE")
	if _, ok := lengths()[unit]; !ok { // as the e of 1e3, or of em
		unit = ""
	}
	v, err := strconv.ParseFloat(strings.TrimSuffix(text, unit), 64)
	if err != nil {
		return 0, fmt.Errorf("%s %q is not a number; give it in the drawing's units, without a %% or a unit of fonts", key, text)
	}
	return v * lengths()[unit] / perPx, nil
}
