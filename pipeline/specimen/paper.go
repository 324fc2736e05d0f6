package specimen

import (
	"image/color"
	"math"
	"math/rand"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// A Paper is what the drawing is made on.
type Paper struct {
	Colour  color.RGBA
	Grain   float64    // standard deviation of the paper's texture, grey levels
	Rule    float64    // spacing of ruled lines, mm; 0 for none
	Squared bool       // lines both ways
	RuleInk color.RGBA // colour of the rules
}

// White is plain white office paper.
func White() Paper { return Paper{Colour: color.RGBA{246, 245, 241, 255}, Grain: 1.5} }

// Ruled is writing paper with pale blue lines 8 mm apart.
func Ruled() Paper {
	p := White()
	p.Rule, p.RuleInk = 8, color.RGBA{176, 196, 226, 255}
	return p
}

// SquaredPaper is exercise paper with pale grey-blue squares of 5 mm.
func SquaredPaper() Paper {
	p := Ruled()
	p.Rule, p.Squared, p.RuleInk = 5, true, color.RGBA{188, 200, 218, 255}
	return p
}

// bgr is an interleaved 8-bit picture.
type bgr struct {
	w, h int
	pix  []uint8
}

// Coloured is sugar paper in a pale green.
func Coloured() Paper { return Paper{Colour: color.RGBA{186, 214, 178, 255}, Grain: 2.5} }

// render draws d on p at the given px per mm, seen square from above.
func (p Paper) render(d Inking, pxPerMm float64, seed int64) bgr {
	w, h := int(d.Sheet.X*pxPerMm+0.5), int(d.Sheet.Y*pxPerMm+0.5)
	ink, who := d.ink, d.who
	grain := normals(seed)
	img := bgr{w, h, make([]uint8, 3*w*h)}
	on := p.rules(max(w, h), pxPerMm)
	parallel.Bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			rng := uint32(seed)*2654435761 + uint32(y)*40503 + 1
			for x := range w {
				rng = rng*1664525 + 1013904223
				g := p.Grain * float64(grain[rng>>16])
				base := p.Colour
				if p.Rule > 0 && (on[y] || p.Squared && on[x]) {
					base = p.RuleInk
				}
				c := float64(ink[y*w+x]) / 255
				o := 3 * (y*w + x)
				pen := d.Pen
				if who != nil && who[y*w+x] > 0 {
					pen = d.Pens[who[y*w+x]-1]
				}
				img.pix[o] = mix(base.B, pen.B, c, g)
				img.pix[o+1] = mix(base.G, pen.G, c, g)
				img.pix[o+2] = mix(base.R, pen.R, c, g)
			}
		}
	})
	return img
}

// rules tells which of n rows, or columns, a rule of 0.22 mm covers.
func (p Paper) rules(n int, pxPerMm float64) []bool {
	on := make([]bool, n)
	for i := range on {
		on[i] = math.Mod(float64(i), p.Rule*pxPerMm) < 0.22*pxPerMm
	}
	return on
}

func mix(paper, pen uint8, c, g float64) uint8 {
	return level(float64(paper)*(1-c) + float64(pen)*c + g)
}

// level is a number as a pixel has it, from 0 to 255. Go's min and max, which mind NaN, took a tenth of a photograph.
func level(v float64) uint8 {
	switch {
	case v < 0:
		return 0
	case v > 255:
		return 255
	}
	return uint8(v)
}

// normals is a table of normal deviates, cheap to look up in hot loops.
func normals(seed int64) []float32 {
	rng := rand.New(rand.NewSource(seed))
	out := make([]float32, 1<<16)
	for i := range out {
		out[i] = float32(rng.NormFloat64())
	}
	return out
}

// coverage is how much of each pixel is inked, 0 to 255: a round pen moved
// along each stroke, pressed a little unevenly, with a slightly rough edge. who
// is the stroke that inked it, counted from 1, nil if all have one pen. A pen of several
// colours has the steady touch.
func coverage(d Drawing, w, h int, pxPerMm float64, seed int64) (cov, who []uint8) {
	cov = make([]uint8, w*h)
	if d.Pens != nil {
		who = make([]uint8, w*h)
	}
	rough := normals(seed + 1)
	for i, s := range d.Strokes {
		if d.Touch != (Touch{}) {
			d.lay(cov, w, h, pxPerMm, i, seed, rough)
			continue
		}
		pressure := rand.New(rand.NewSource(seed+int64(i))).Float64() * 2 * math.Pi
		s = dense(s, 2)
		along := 0.0
		for k := 1; k < len(s); k++ {
			a, b := s[k-1], s[k]
			along += a.Dist(b)
			r := d.PenWidth / 2 * (1 + 0.04*math.Sin(along/9+pressure))
			stamp(cov, who, uint8(i+1), w, h, a.Mul(pxPerMm), b.Mul(pxPerMm), r*pxPerMm, 1, rough)
		}
	}
	for _, c := range d.Dots {
		q := c.Mul(pxPerMm)
		stamp(cov, nil, 0, w, h, q, q, d.DotSize/2*pxPerMm, 1, rough)
	}
	return cov, who
}

// stamp inks the points within r of segment a–b, all in px, with a share of the ink. Pixel (x, y) has
// its centre at (x+0.5, y+0.5).
func stamp(cov, who []uint8, mine uint8, w, h int, a, b geom.Point, r, ink float64, rough []float32) {
	x0, x1 := int(min(a.X, b.X)-r-2), int(max(a.X, b.X)+r+2)
	y0, y1 := int(min(a.Y, b.Y)-r-2), int(max(a.Y, b.Y)+r+2)
	x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, w-1), min(y1, h-1)
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			p := geom.Pt(float64(x)+0.5, float64(y)+0.5)
			f, _ := geom.Foot(a, b, p)
			// The fibres of the paper wick ink in patches of about 3 px.
			n := rough[(x/3*7919+y/3*104729)&0xffff]
			v := r - f.Dist(p) + 0.35*float64(n) + 0.5
			if v <= 0 {
				continue
			}
			if c := uint8(min(v, 1) * ink * 255); c > cov[y*w+x] {
				cov[y*w+x] = c
				if who != nil {
					who[y*w+x] = mine
				}
			}
		}
	}
}
