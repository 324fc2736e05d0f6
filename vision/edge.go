package vision

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// A thing's edge is as sharp as the photo is; that of a shadow fades, and uneven light has none. mm.
const (
	edgeReach = 6.0 // to either side of an edge that are looked at,
	edgeAlike = 2.0 // of which the outermost are what it parts
	edgeStep  = 0.2
	edgeSoft  = 1.5 // over which the light changes where nothing lies: usually,
	edgeUsual = 0.4 // by this quantile, for a thing has a shadow of its own on one side
	edgeFrom  = 0.2 // of the way from one side's light to the other's where the change begins, and as much before
	edgeLeast = 8   // px of a small copy's edge that tell something
)

// softEdged tells whether a piece of a small copy, at step px of the sheet to one of it, has an edge that
// fades: no thing's.
func softEdged(sheet *Colour, p *pieces, piece int, small *Bitmap, step int, pxPerMm float64) bool {
	var widths []float64
	for _, r := range p.runs {
		if r.piece != piece {
			continue
		}
		for x := r.x0; x < r.x1; x++ {
			if out := outward(small, x, r.y); out != (geom.Point{}) {
				at := geom.Pt(float64(x), float64(r.y)).Add(geom.Pt(0.5, 0.5)).Mul(float64(step))
				if w, ok := sheet.edgeWidth(at, out, pxPerMm); ok {
					widths = append(widths, w)
				}
			}
		}
	}
	return len(widths) >= edgeLeast && quantile(widths, edgeUsual) > edgeSoft
}

// outward is the direction out of a set at a pixel of its edge, none within it.
func outward(b *Bitmap, x, y int) (out geom.Point) {
	const near = 2
	if x < near || y < near || x >= b.W-near || y >= b.H-near {
		return out
	}
	edge := b.Pix[y*b.W+x-1]&b.Pix[y*b.W+x+1]&b.Pix[(y-1)*b.W+x]&b.Pix[(y+1)*b.W+x] == 0
	for dy := -near; dy <= near && edge; dy++ {
		for dx := -near; dx <= near; dx++ {
			if b.Pix[(y+dy)*b.W+x+dx] == 0 {
				out = out.Add(geom.Pt(float64(dx), float64(dy)))
			}
		}
	}
	return out.Unit()
}

// edgeWidth is over how many mm the light changes across an edge near a place, px; ok is false where there is
// none, or the picture ends.
func (c *Colour) edgeWidth(at, out geom.Point, pxPerMm float64) (width float64, ok bool) {
	var light []float64
	for d := -edgeReach; d <= edgeReach; d += edgeStep {
		p := at.Add(out.Mul(d * pxPerMm))
		x, y := int(math.Floor(p.X)), int(math.Floor(p.Y))
		if x < 0 || y < 0 || x >= c.W || y >= c.H {
			return 0, false
		}
		px := c.Pix[3*(y*c.W+x):]
		light = append(light, float64(px[0])+float64(px[1])+float64(px[2]))
	}
	n := int(edgeAlike / edgeStep)
	inside, outside := median(slices.Clone(light[:n])), median(slices.Clone(light[len(light)-n:]))
	if inside > outside*(1-thingDark/2) {
		return 0, false
	}
	between := 0
	for _, v := range light {
		if t := (v - inside) / (outside - inside); t > edgeFrom && t < 1-edgeFrom {
			between++
		}
	}
	return float64(between) * edgeStep, true
}
