package vision

import (
	"errors"
	"math"
	"slices"

	"inkchannel/geom"
)

// Where and how bright the paper beside a line is looked at.
const (
	penStep         = 1     // mm from one place along a stroke to the next
	besideInk       = 1.5   // mm, well clear of the ink's edge
	leastPaperLight = 0.003 // of 1, linear, in each channel: to darker paper no ink can be compared
)

// PenSettings tune FindPens.
type PenSettings struct {
	// Apart is how different two pens' colours are at least: the distance in
	// CIELAB (ΔE*ab, CIE 15). 0 takes all strokes for one pen's.
	Apart float64
}

// DefaultPens returns settings that tell felt pens apart.
func DefaultPens() PenSettings { return PenSettings{Apart: 25} }

// A Lab is a colour in CIELAB for daylight (D65): lightness 0 to 100, green to
// red, blue to yellow.
type Lab struct{ L, A, B float64 }

// Dist returns the distance ΔE*ab (CIE 1976).
func (c Lab) Dist(d Lab) float64 {
	return math.Sqrt((c.L-d.L)*(c.L-d.L) + (c.A-d.A)*(c.A-d.A) + (c.B-d.B)*(c.B-d.B))
}

// A Pen is one colour of the drawing.
type Pen struct {
	Name   string // of the colour in common words
	Colour Lab    // on white paper in daylight
	Length float64
}

// Pens are a drawing's pens, the one that drew most first.
type Pens struct {
	All []Pen
	Of  []int // pen of each stroke
}

// FindPens tells which pen drew each stroke of n, given in mm, from the sheet's
// picture: along a stroke's middle the ink is compared with the paper beside
// it, which takes the lamp's colour and shadows out, and strokes whose colours
// are near each other in CIELAB are one pen's.
//
// It returns an error for a distance under 0.
func FindPens(sheet *Colour, ink *Bitmap, n geom.Network, pxPerMm float64, s PenSettings) (Pens, error) {
	if s.Apart < 0 {
		return Pens{}, errors.New("the colour difference between pens must be 0 or more")
	}
	colours := make([]Lab, len(n.Strokes))
	lengths := make([]float64, len(n.Strokes))
	light := newLightTable()
	for i, st := range n.Strokes {
		colours[i] = strokeColour(sheet, light, ink, st, pxPerMm)
		lengths[i] = st.Length()
	}
	return gatherPens(colours, lengths, s.Apart), nil
}

// strokeColour is the median colour along a stroke.
func strokeColour(sheet *Colour, light *lightTable, ink *Bitmap, st geom.Stroke, pxPerMm float64) Lab {
	var r, g, b []float64
	beside := st.Width/2 + besideInk
	for _, run := range st.Runs {
		pts := run.Resampled(penStep)
		for i := 1; i+1 < len(pts); i++ {
			side := pts[i+1].Sub(pts[i-1]).Unit().Perp().Mul(beside)
			paper, ok := paperAt(sheet, light, ink, pts[i], side, pxPerMm)
			if !ok {
				continue
			}
			at, ok := linearAt(sheet, light, pts[i], pxPerMm)
			if !ok {
				continue
			}
			r, g, b = append(r, at[2]/paper[2]), append(g, at[1]/paper[1]), append(b, at[0]/paper[0])
		}
	}
	if len(r) == 0 {
		return Lab{}
	}
	return labOf(median(r), median(g), median(b))
}

// paperAt is the brighter of the paper on both sides of a stroke.
func paperAt(
	sheet *Colour, light *lightTable, ink *Bitmap, p, side geom.Point, pxPerMm float64,
) (best [3]float64, ok bool) {
	for _, q := range []geom.Point{p.Add(side), p.Sub(side)} {
		x, y := int(q.X*pxPerMm), int(q.Y*pxPerMm)
		if x < 0 || y < 0 || x >= ink.W || y >= ink.H || ink.Pix[y*ink.W+x] != 0 {
			continue
		}
		if c, in := linearAt(sheet, light, q, pxPerMm); in && c[0]+c[1]+c[2] > best[0]+best[1]+best[2] &&
			min(c[0], c[1], c[2]) > leastPaperLight {
			best, ok = c, true
		}
	}
	return best, ok
}

// linearAt is the mean of the 9 pixels about a place, in linear light, blue,
// green, red, 0 to 1.
func linearAt(sheet *Colour, light *lightTable, p geom.Point, pxPerMm float64) (sum [3]float64, ok bool) {
	x, y := int(p.X*pxPerMm), int(p.Y*pxPerMm)
	if x < 1 || y < 1 || x >= sheet.W-1 || y >= sheet.H-1 {
		return sum, false
	}
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			o := 3 * ((y+dy)*sheet.W + x + dx)
			for k := range 3 {
				sum[k] += light[sheet.Pix[o+k]] / 9
			}
		}
	}
	return sum, true
}

// A lightTable is the linear light of each value of a channel.
type lightTable [256]float64

func newLightTable() *lightTable {
	t := &lightTable{}
	for v := range t {
		t[v] = linear(float64(v) / 255)
	}
	return t
}

// linear undoes the sRGB transfer function (IEC 61966-2-1).
func linear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// labOf turns linear red, green and blue of sRGB's primaries to CIELAB for D65
// (IEC 61966-2-1; CIE 15).
func labOf(r, g, b float64) Lab {
	x := 0.4124564*r + 0.3575761*g + 0.1804375*b
	y := 0.2126729*r + 0.7151522*g + 0.0721750*b
	z := 0.0193339*r + 0.1191920*g + 0.9503041*b
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	fx, fy, fz := f(x/0.95047), f(y), f(z/1.08883)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

// gatherPens gathers strokes to pens: the longest stroke starts the first, and
// each next one joins the nearest pen or starts another.
func gatherPens(colours []Lab, lengths []float64, apart float64) Pens {
	order := make([]int, len(colours))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case lengths[a] > lengths[b]:
			return -1
		case lengths[a] < lengths[b]:
			return 1
		}
		return a - b
	})
	p := Pens{Of: make([]int, len(colours))}
	for _, i := range order {
		best, near := -1, math.Inf(1)
		for k, pen := range p.All {
			if d := pen.Colour.Dist(colours[i]); d < near {
				best, near = k, d
			}
		}
		if best < 0 || apart > 0 && near > apart {
			best = len(p.All)
			p.All = append(p.All, Pen{Colour: colours[i]})
		}
		p.Of[i] = best
		pen := &p.All[best]
		t := lengths[i] / (pen.Length + lengths[i])
		if pen.Length+lengths[i] == 0 {
			t = 0
		}
		pen.Colour = Lab{
			pen.Colour.L + t*(colours[i].L-pen.Colour.L),
			pen.Colour.A + t*(colours[i].A-pen.Colour.A),
			pen.Colour.B + t*(colours[i].B-pen.Colour.B),
		}
		pen.Length += lengths[i]
	}
	for i := range p.All {
		p.All[i].Name = colourName(p.All[i].Colour)
	}
	return p
}

// colourName is the common word whose typical ink is nearest; common practice,
// no source.
func colourName(c Lab) string {
	best, near := "", math.Inf(1)
	for _, n := range []struct {
		name string
		c    Lab
	}{
		{"black", Lab{15, 0, 0}}, {"grey", Lab{52, 0, 0}}, {"red", Lab{42, 58, 34}}, {"orange", Lab{62, 42, 60}}, {"yellow", Lab{82, 5, 70}},
		{"green", Lab{45, -42, 25}}, {"turquoise", Lab{58, -32, -12}}, {"blue", Lab{32, 20, -52}}, {"violet", Lab{35, 42, -40}}, {"pink", Lab{62, 48, 2}}, {"brown", Lab{34, 20, 28}},
	} {
		if d := c.Dist(n.c); d < near {
			best, near = n.name, d
		}
	}
	return best
}
