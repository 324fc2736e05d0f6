package vision

// How pale a line by itself may be, and how that is told from what is no line.
// Measured on photographs of pencil, and of rough paper.
const (
	faintCuts  = 4     // of paleCuts are for faint ink only
	paleBorder = 9     // px of the small copy along the sheet's edge that are not looked at
	paleLine   = 15    // px that a line is long at least, and a speck at most
	paleStrong = 1.6   // times the cut that the darkest of a line drawn in earnest is at least
	paleSpecks = 0.001 // of the lines' area that specks may make up in any case
	paleFall   = 1.5   // times the specks' share at the next cut: the paper's grain, and no broken lines
)

// paleCuts are the shares darker than the paper, least first, that are tried
// for pale lines; the first faintCuts of them only where nothing is dark.
func paleCuts() []float64 {
	return []float64{0.03, 0.04, 0.05, 0.065, 0.08, 0.10, 0.13, 0.16, leastCut}
}

// findPale returns the least cut at which the paper's grain does not show. A
// cut within the grain gives specks, and the next far fewer for its lines;
// where a cut goes through pale lines, the next breaks them to more. even is the
// copy of lookSide.
func findPale(even *Grey, allFaint bool) float64 {
	cuts := paleCuts()
	if !allFaint {
		cuts = cuts[faintCuts:]
	}
	share := specksAt(even, cuts[0])
	for i := range cuts[1:] {
		next := specksAt(even, cuts[i+1])
		if share <= paleSpecks || share <= paleFall*next {
			return cuts[i]
		}
		share = next
	}
	return leastCut
}

// specksAt returns the area of the specks darker than the paper by a share, as
// a share of the area of the lines.
func specksAt(even *Grey, cut float64) float64 {
	b := NewBitmap(even.W, even.H)
	level := uint8(evenWhite * (1 - cut))
	for y := paleBorder; y < b.H-paleBorder; y++ {
		for x := paleBorder; x < b.W-paleBorder; x++ {
			if even.Pix[y*b.W+x] <= level {
				b.Pix[y*b.W+x] = 1
			}
		}
	}
	p := piecesOf(b, 1, true)
	strong := make([]bool, len(p.list))
	for _, r := range p.runs {
		for _, v := range even.Pix[r.y*b.W+r.x0 : r.y*b.W+r.x1] {
			if float64(v) <= evenWhite*(1-paleStrong*cut) {
				strong[r.piece] = true
			}
		}
	}
	lines, specks := 1, 0
	for i, q := range p.list {
		if strong[i] || q.long() {
			lines += q.area
		} else {
			specks += q.area
		}
	}
	return float64(specks) / float64(lines)
}

// long reports whether a piece is as long as a line, px of the small copy.
func (q piece) long() bool {
	w, h := q.x1-q.x0, q.y1-q.y0
	return w*w+h*h >= paleLine*paleLine
}
