package vision

import (
	"slices"

	"gocv.io/x/gocv"
)

// Paper between two lighter places, as between a punched hole and the table beside the sheet,
// is darker than what is taken for the paper there. Found on real photographs.
const (
	betweenWide = 2   // mm that it is across at least, as its area and edge have it: hardly a pen is so broad
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
	broad := p.broad(ink.Mask, betweenWide*pxPerMm)
	if !slices.Contains(broad, true) {
		return 0, nil
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
	return p.drop(ink.Mask, func(i int) bool { return broad[i] && 2*light[i] > p.list[i].area }), nil
}

// broad tells which pieces of a mask are at least so wide on the whole, px, as thickness has it: a
// line that has one broad place is not.
func (p *pieces) broad(mask *Bitmap, wide float64) []bool {
	runs := make([]int, len(p.list))
	for _, r := range p.runs {
		runs[r.piece]++
	}
	broad := make([]bool, len(p.list))
	for i, q := range p.list { // its runs are as long as it is wide, or longer where they lie along it
		broad[i] = float64(q.area) >= wide*float64(runs[i]) && float64(q.y1-q.y0) >= wide
	}
	edge := make([]int, len(p.list))
	for _, r := range p.runs {
		if broad[r.piece] {
			edge[r.piece] += edgeOf(mask, r)
		}
	}
	for i, q := range p.list {
		broad[i] = broad[i] && thick(q.area, edge[i]) >= wide
	}
	return broad
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
