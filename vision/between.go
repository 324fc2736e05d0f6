package vision

import (
	"slices"

	"gocv.io/x/gocv"
)

// Paper between two lighter places, as between a punched hole and the table beside the sheet,
// is darker than what is taken for the paper there. Found on real photographs.
const (
	betweenWide = 3   // mm that it is across at least: no pen is so broad
	betweenFar  = 30  // mm across which the paper is looked at, far more than such a place is wide
	betweenStep = 2.0 // mm of a pixel of the copy that is looked at
	betweenDark = 0.5 // of what is ink at its palest that it is darker at most than the paper farther off
)

// dropBetween drops broad pieces as light as the paper farther off, and returns how many.
// It returns an error only where OpenCV fails.
func (ink *Ink) dropBetween(p *pieces, sheet *Colour, pxPerMm float64) (dropped int, err error) {
	if ink.Pale == 0 { // the threshold is the user's own
		return 0, nil
	}
	broad, err := p.broad(ink.Mask, betweenWide*pxPerMm)
	if err != nil || !slices.Contains(broad, true) {
		return 0, err
	}
	far, err := paperFarOff(sheet, pxPerMm)
	if err != nil {
		return 0, err
	}
	least := 1 - betweenDark*min(ink.Cut, ink.Pale)
	light := make([]int, len(p.list))
	kx, ky := float64(far.W)/float64(sheet.W), float64(far.H)/float64(sheet.H)
	for _, r := range p.runs {
		if !broad[r.piece] {
			continue
		}
		row := min(int(float64(r.y)*ky), far.H-1) * far.W
		for x := r.x0; x < r.x1; x++ {
			at, paper := sheet.Pix[3*(r.y*sheet.W+x):], far.Pix[3*(row+min(int(float64(x)*kx), far.W-1)):]
			if float64(at[0]) >= least*float64(paper[0]) && float64(at[1]) >= least*float64(paper[1]) &&
				float64(at[2]) >= least*float64(paper[2]) {
				light[r.piece]++
			}
		}
	}
	between := func(i int) bool { return broad[i] && 2*light[i] > p.list[i].area }
	for i := range p.list {
		if between(i) {
			dropped++
		}
	}
	p.set(ink.Mask, 0, between)
	return dropped, nil
}

// broad tells which pieces of a mask are at least so wide on the whole, px: a band's pixels are
// a quarter of its width from its edge on average, a line's that has one broad place are not.
func (p *pieces) broad(mask *Bitmap, wide float64) ([]bool, error) {
	broad := make([]bool, len(p.list))
	for i, q := range p.list {
		broad[i] = float64(min(q.x1-q.x0, q.y1-q.y0)) >= wide
	}
	if !slices.Contains(broad, true) {
		return broad, nil
	}
	deep, err := depths(mask)
	if err != nil {
		return nil, err
	}
	sum := make([]float64, len(p.list))
	for _, r := range p.runs {
		for _, d := range deep[r.y*mask.W+r.x0 : r.y*mask.W+r.x1] {
			sum[r.piece] += float64(d)
		}
	}
	for i, q := range p.list {
		broad[i] = broad[i] && sum[i] >= wide/4*float64(q.area)
	}
	return broad, nil
}

// paperFarOff is the usual colour around each place of a small copy of the sheet, which is the
// paper's unless more is drawn than left bare.
func paperFarOff(sheet *Colour, pxPerMm float64) (*Colour, error) {
	w, h := max(int(float64(sheet.W)/pxPerMm/betweenStep), 1), max(int(float64(sheet.H)/pxPerMm/betweenStep), 1)
	small, err := sheet.Resized(w, h)
	if err != nil {
		return nil, err
	}
	return small.into(w, h, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.MedianBlur(src, dst, int(betweenFar/betweenStep)|1)
	})
}
