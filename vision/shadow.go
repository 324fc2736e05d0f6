package vision

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// The edge of a hard shadow is a pale line with lighter paper on one side of it.
// Found on the wide accuracy set.
const (
	shadowBeside = 3.0  // mm to either side of a pale mark where the paper's light is compared:
	shadowDark   = 0.3  // of its pixels that a pale mark has as dark as the drawing's ink at most
	shadowStep   = 0.12 // a share by which it differs is a shadow's edge
	shadowBroad  = 1.2  // mm: what is as broad and pale there is no line
	broadLeast   = 3    // px that it is broad at least
	shadowNear   = 3    // px of the small copy within which the lightest is bare paper
)

// dropShadows drops pale pieces along the edge of a shadow, and returns how many:
// paper is much lighter on one side of it than on the other. whole is the sheet's evened
// picture.
func (ink *Ink) dropShadows(p *pieces, look func() (paperLook, error), whole *Grey) (dropped int, err error) {
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
	light, err := look()
	if err != nil {
		return 0, err
	}
	beside, all := make([]int, len(p.list)), make([]int, len(p.list))
	for _, r := range p.runs {
		if !pale[r.piece] {
			continue
		}
		all[r.piece]++
		if light.steps(float64(r.x0+r.x1)/2, float64(r.y)) {
			beside[r.piece]++
		}
	}
	return p.drop(ink.Mask, func(i int) bool { return pale[i] && 2*beside[i] > all[i] }), nil
}

// clearShade clears what is pale, broader than a pen's line and along the edge of a shadow, in pieces that reach into it:
// lines cross a shadow's edge. whole is the sheet's evened picture. It reports whether there was any.
func (ink *Ink) clearShade(look func() (paperLook, error), whole *Grey, pxPerMm float64) (some bool, err error) {
	broad := max(int(shadowBroad*pxPerMm), broadLeast)
	m, some, err := ink.paleAlong(look, whole, broad)
	if err != nil || !some {
		return false, err
	}
	src, dst := m.mat(), gocv.NewMat()
	defer src.Close()
	defer dst.Close()
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(broad, broad))
	defer kernel.Close()
	gocv.MorphologyEx(src, &dst, gocv.MorphOpen, kernel)
	pix, err := dst.DataPtrUint8()
	if err != nil {
		return false, err
	}
	some = false
	for i, v := range pix {
		if v != 0 {
			ink.Mask.Pix[i], some = 0, true
		}
	}
	return some, nil
}

// paleAlong marks what is pale of the ink in rows of so many px and more, piece by piece where it lies along the edge of a
// shadow; some tells whether anything does.
func (ink *Ink) paleAlong(look func() (paperLook, error), whole *Grey, broad int) (m *Bitmap, some bool, err error) {
	m = NewBitmap(ink.Mask.W, ink.Mask.H)
	cut := evenWhite * (1 - ink.Cut)
	var light paperLook
	for y := range m.H {
		row := m.Pix[y*m.W : (y+1)*m.W]
		from := 0
		for x := range m.W + 1 {
			if i := y*m.W + x; x < m.W && ink.Mask.Pix[i] != 0 && float64(whole.Pix[i]) > cut {
				continue
			}
			if x-from >= broad {
				if light, err = look(); err != nil {
					return nil, false, err
				}
				some = light.markSteps(row, from, x, y, broad) || some
			}
			from = x + 1
		}
	}
	return m, some, nil
}

// markSteps marks the pieces, so many px long, of a stretch of row y at which the paper steps, and tells whether any does.
func (l paperLook) markSteps(row []uint8, from, end, y, piece int) (some bool) {
	for at := from; at < end; at += piece {
		to := min(at+piece, end)
		if !l.steps(float64(at+to)/2, float64(y)) {
			continue
		}
		some = true
		for k := at; k < to; k++ {
			row[k] = 1
		}
	}
	return some
}

// A paperLook is how light the paper is on a small copy of a sheet.
type paperLook struct {
	*Grey
	k, reach float64 // px of it to one of the sheet, and px of it to either side that are compared
}

func aroundPaper(sheet *Colour, pxPerMm float64) (paperLook, error) {
	g, err := paperAround(sheet)
	if err != nil {
		return paperLook{}, err
	}
	k := float64(g.W) / float64(sheet.W)
	return paperLook{g, k, shadowBeside * pxPerMm * k}, nil
}

// steps tells whether the paper is much lighter on one side of a place, px of the sheet, than on the other.
func (l paperLook) steps(x, y float64) bool {
	at := func(x, y float64) float64 {
		return float64(l.Pix[min(max(int(y), 0), l.H-1)*l.W+min(max(int(x), 0), l.W-1)])
	}
	x, y = x*l.k, y*l.k
	for _, d := range []geom.Point{{X: 1}, {X: 0.7, Y: 0.7}, {Y: 1}, {X: -0.7, Y: 0.7}} {
		a, b := at(x+d.X*l.reach, y+d.Y*l.reach), at(x-d.X*l.reach, y-d.Y*l.reach)
		if math.Abs(a-b) > shadowStep*max(a, b) {
			return true
		}
	}
	return false
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
