package vision

import (
	"math"

	"inkchannel/geom"
)

// The edge of a hard shadow is a pale line with lighter paper on one side of it.
// Found on the wide accuracy set.
const (
	shadowBeside = 3.0  // mm to either side of a pale mark where the paper's light is compared:
	shadowDark   = 0.3  // of its pixels that a pale mark has as dark as the drawing's ink at most
	shadowStep   = 0.12 // a share by which it differs is a shadow's edge
	shadowNear   = 3    // px of the small copy within which the lightest is bare paper
)

// dropShadows drops pale pieces along the edge of a shadow, and returns how many:
// paper is much lighter on one side of it than on the other. whole is the sheet's evened
// picture.
func (ink *Ink) dropShadows(
	p *pieces, sheet *Colour, whole *Grey, pxPerMm float64,
) (dropped int, err error) {
	dark := make([]int, len(p.list))
	for _, r := range p.runs {
		for _, v := range whole.Pix[r.y*whole.W+r.x0 : r.y*whole.W+r.x1] {
			if float64(v) <= evenWhite*(1-ink.Cut) {
				dark[r.piece]++
			}
		}
	}
	pale, some := make([]bool, len(p.list)), false
	for i, q := range p.list {
		pale[i] = float64(dark[i]) < shadowDark*float64(q.area)
		some = some || pale[i]
	}
	if !some {
		return 0, nil
	}
	light, err := paperAround(sheet)
	if err != nil {
		return 0, err
	}
	step := float64(light.W) / float64(sheet.W)
	reach := shadowBeside * pxPerMm * step
	at := func(x, y float64) float64 {
		return float64(light.Pix[min(max(int(y), 0), light.H-1)*light.W+min(max(int(x), 0), light.W-1)])
	}
	beside, all := make([]int, len(p.list)), make([]int, len(p.list))
	for _, r := range p.runs {
		if !pale[r.piece] {
			continue
		}
		x, y := float64(r.x0+r.x1)/2*step, float64(r.y)*step
		all[r.piece]++
		for _, d := range []geom.Point{{X: 1}, {X: 0.7, Y: 0.7}, {Y: 1}, {X: -0.7, Y: 0.7}} {
			a, b := at(x+d.X*reach, y+d.Y*reach), at(x-d.X*reach, y-d.Y*reach)
			if math.Abs(a-b) > shadowStep*max(a, b) {
				beside[r.piece]++
				break
			}
		}
	}
	return p.drop(ink.Mask, func(i int) bool { return pale[i] && 2*beside[i] > all[i] }), nil
}

// paperAround is how light the paper is on a small copy of the sheet, without what
// is drawn.
func paperAround(sheet *Colour) (*Grey, error) {
	k := lookSide / float64(max(sheet.W, sheet.H))
	small, err := sheet.Resized(max(int(float64(sheet.W)*k), 1), max(int(float64(sheet.H)*k), 1))
	if err != nil {
		return nil, err
	}
	return paperMaps(small)[0].lightestWithin(shadowNear)
}
