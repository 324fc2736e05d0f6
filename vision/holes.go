package vision

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// Where paper for ring binders is punched, mm, and how far a scanned or photographed hole
// may be off: what is seen of one is the dark behind it, or a part of that. ISO 838: holes
// of 6 mm, 80 mm apart, their centres 12 mm from the edge (from memory). Three holes
// 108 mm apart, as on US Letter: common practice, no source.
const (
	holeSize   = 8.5 // at most
	holeLeast  = 2.5
	holeFromLo = 7 // of the hole's middle from the sheet's edge
	holeFromHi = 18
	holeStray  = 3    // across their row
	holeApart  = 0.06 // of their distance, for the scale may be a guess
	holeBroad  = 1.5  // times the pen's width that a hole is as thick at least: a letter's lines are no thicker than the pen
)

// holePitches are the distances of neighbouring holes, mm.
func holePitches() [2]float64 { return [2]float64{80, 108} }

// WithoutHoles returns the ink without the holes that the sheet is punched with, and their
// middles, px; the ink itself, and none, where there are not at least two in a row along
// an edge at a distance that punches have. ink is left as it is. pxPerMm is the scale.
//
// It returns an error only where OpenCV fails.
func WithoutHoles(ink *Ink, pxPerMm float64) (*Ink, []geom.Point, error) {
	all := piecesOf(ink.Mask, 1, true)
	var like []int // pieces by their size and place
	w, h := float64(ink.Mask.W)/pxPerMm, float64(ink.Mask.H)/pxPerMm
	for i, q := range all.list {
		size := float64(max(q.x1-q.x0, q.y1-q.y0)) / pxPerMm
		mid := q.middle().Mul(1 / pxPerMm)
		from := min(mid.X, mid.Y, w-mid.X, h-mid.Y)
		if size >= holeLeast && size <= holeSize && from >= holeFromLo && from <= holeFromHi {
			like = append(like, i)
		}
	}
	inRow := func(i int) bool { // with another that is like a hole
		return slices.ContainsFunc(like, func(j int) bool {
			return i != j && punched(all.list[i].middle().Mul(1/pxPerMm), all.list[j].middle().Mul(1/pxPerMm), w, h)
		})
	}
	if !slices.ContainsFunc(like, inRow) {
		return ink, nil, nil
	}
	deep, err := depths(ink.Mask)
	if err != nil {
		return nil, nil, err
	}
	broad := all.deepest(deep, ink.Mask.W)
	var others []float64
	for i, d := range broad {
		if !slices.Contains(like, i) {
			others = append(others, d)
		}
	}
	least := holeBroad * median(others)
	like = slices.DeleteFunc(like, func(i int) bool { return broad[i] < least })
	holes := map[int]bool{}
	for _, i := range like {
		if inRow(i) {
			holes[i] = true
		}
	}
	if len(holes) == 0 {
		return ink, nil, nil
	}
	var at []geom.Point
	for i, q := range all.list {
		if holes[i] {
			at = append(at, q.middle())
		}
	}
	return ink.without(all, func(i int) bool { return holes[i] }), at, nil
}

// middle is that of the pixels' box, px.
func (q piece) middle() geom.Point {
	return geom.Pt(float64(q.x0+q.x1)/2, float64(q.y0+q.y1)/2)
}

// punched tells whether two places of a sheet of w by h mm are as far apart, and as far from the
// same edge, as neighbouring holes.
func punched(p, q geom.Point, w, h float64) bool {
	along := q.Sub(p)
	from := [4][2]float64{{p.X, q.X}, {p.Y, q.Y}, {w - p.X, w - q.X}, {h - p.Y, h - q.Y}}
	for side, f := range from {
		across, apart := math.Abs(along.X), math.Abs(along.Y)
		if side%2 == 1 {
			across, apart = apart, across
		}
		if across > holeStray || max(f[0], f[1]) > holeFromHi {
			continue
		}
		for _, pitch := range holePitches() {
			if math.Abs(apart/pitch-1) < holeApart {
				return true
			}
		}
	}
	return false
}

// deepest is how far the innermost pixel of each piece is from its edge, px.
func (p *pieces) deepest(deep []float32, w int) []float64 {
	most := make([]float64, len(p.list))
	for _, r := range p.runs {
		for _, d := range deep[r.y*w+r.x0 : r.y*w+r.x1] {
			most[r.piece] = max(most[r.piece], float64(d))
		}
	}
	return most
}
