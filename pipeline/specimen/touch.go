package specimen

import (
	"math"
	"math/rand"

	"inkchannel/geom"
)

// A Touch is how a pen lies on the paper; the zero value is a steady felt pen's.
type Touch struct {
	Uneven float64 // share by which a line's width varies along it, either way
	Dry    float64 // share of the ink that is missing where the pen runs dry, at most
	Blots  float64 // pen widths of the blots where a stroke starts, 0 for none
	Again  float64 // pen widths beside the first that each second stroke is drawn once more, 0 for once
	Layer  float64 // share of the light that one pass takes, the rest being the next pass's; 0 for all
	Grain  float64 // share of the ink that the paper's grain keeps off, as a pencil's
}

// UnevenPen is a felt pen pressed more and less, dry in places, with blots.
func UnevenPen() Touch { return Touch{Uneven: 0.3, Dry: 0.35, Blots: 1.35} }

// Retraced is a see-through felt pen that goes over every second stroke again.
func Retraced() Touch { return Touch{Uneven: 0.1, Again: 1.4, Layer: 0.75} }

// Pencilled is a pencil's touch.
func Pencilled() Touch { return Touch{Uneven: 0.15, Grain: 0.45} }

// A pass is once along a stroke.
type pass struct {
	line   geom.Polyline // mm
	radius []float64     // mm, at each of its points
	dry    []float64     // share of the ink missing, at each
}

// How far apart the places are at which a pass's width and ink are told, and over what
// length these change, mm.
const (
	passStep  = 0.7
	widthWave = 25
	dryWave   = 18
)

// passes are those of stroke i of d.
func (d Drawing) passes(i int, seed int64) []pass {
	rng := rand.New(rand.NewSource(seed*1000 + int64(i)))
	out := []pass{d.once(d.Strokes[i], rng)}
	if d.Touch.Again > 0 && i%2 == 0 {
		aside := d.Touch.Again * d.PenWidth
		out = append(out, d.once(beside(d.Strokes[i], aside, rng), rng))
	}
	if d.Touch.Blots > 0 {
		at := d.Strokes[i][0]
		out = append(out, pass{
			geom.Polyline{at, at}, []float64{d.Touch.Blots * d.PenWidth / 2, d.Touch.Blots * d.PenWidth / 2}, make([]float64, 2),
		})
	}
	return out
}

// once goes along a line.
func (d Drawing) once(line geom.Polyline, rng *rand.Rand) pass {
	line = dense(line, passStep)
	p := pass{line, make([]float64, len(line)), make([]float64, len(line))}
	wide, dry := wave(rng, widthWave), wave(rng, dryWave)
	along := 0.0
	for k := range line {
		if k > 0 {
			along += line[k-1].Dist(line[k])
		}
		p.radius[k] = d.PenWidth / 2 * (1 + d.Touch.Uneven*wide(along))
		p.dry[k] = d.Touch.Dry * max(dry(along), 0)
	}
	return p
}

// wave is a slow change between −1 and 1 along a line, of about that length, mm.
func wave(rng *rand.Rand, length float64) func(float64) float64 {
	a, b := 2*math.Pi*rng.Float64(), 2*math.Pi*rng.Float64()
	return func(s float64) float64 {
		return 0.6*math.Sin(2*math.Pi*s/length+a) + 0.4*math.Sin(2*math.Pi*s/(0.43*length)+b)
	}
}

// beside is a line once more by a hand that strays by up to aside mm, least at the ends.
func beside(line geom.Polyline, aside float64, rng *rand.Rand) geom.Polyline {
	line = dense(line, passStep)
	long := line.Length()
	stray := wave(rng, 40)
	out := make(geom.Polyline, len(line))
	along := 0.0
	for k, p := range line {
		a, b := line[max(k-1, 0)], line[min(k+1, len(line)-1)]
		if k > 0 {
			along += line[k-1].Dist(p)
		}
		near := min(along, long-along, 10) / 10 // the hand aims at the ends
		out[k] = p.Add(b.Sub(a).Unit().Perp().Mul(aside * stray(along) * near))
	}
	return out
}

// lay inks the passes of one stroke after another into cov: each takes its share of the
// light that is left. w is the row's length, px.
func (d Drawing) lay(cov []uint8, w, h int, pxPerMm float64, i int, seed int64, rough []float32) {
	layer := d.Touch.Layer
	if layer == 0 {
		layer = 1
	}
	for _, p := range d.passes(i, seed) {
		box := geom.Bounds(p.line)
		pad := 2*d.PenWidth + 1
		x0, y0 := max(int((box.Min.X-pad)*pxPerMm), 0), max(int((box.Min.Y-pad)*pxPerMm), 0)
		x1, y1 := min(int((box.Max.X+pad)*pxPerMm), w), min(int((box.Max.Y+pad)*pxPerMm), h)
		if x1 <= x0 || y1 <= y0 {
			continue
		}
		bw, bh := x1-x0, y1-y0
		own := make([]uint8, bw*bh)
		off := geom.Pt(float64(x0), float64(y0))
		for k := 1; k < len(p.line); k++ {
			a, b := p.line[k-1].Mul(pxPerMm).Sub(off), p.line[k].Mul(pxPerMm).Sub(off)
			stamp(own, nil, 0, bw, bh, a, b, p.radius[k]*pxPerMm, 1-p.dry[k], rough)
		}
		for y := range bh {
			for x := range bw {
				c := float64(own[y*bw+x]) / 255 * layer
				if c == 0 {
					continue
				}
				o := (y0+y)*w + x0 + x
				c *= 1 - d.Touch.Grain*d.grain(x0+x, y0+y, rough)
				cov[o] = uint8(255*(1-(1-float64(cov[o])/255)*(1-c)) + 0.5)
			}
		}
	}
}

// grain is how much ink the paper keeps off a pixel, 0 to 1: its tooth is about 0.3 mm.
func (d Drawing) grain(x, y int, rough []float32) float64 {
	n := float64(rough[(x/4*6151+y/4*92821)&0xffff])
	return min(max(0.5+0.5*n, 0), 1)
}
