package vision

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// Lines that lead on from dark ink, but are too pale to be ink by themselves: shares
// are darker than the paper, lengths px of the small copy. Found on photographs of a
// pencil that presses now more, now less.
const (
	attachedDark   = 0.06 // that they are at least: what shines through is paler
	attachedShare  = 0.7  // of that their response is
	attachedRules  = 3    // lines evenly apart that are rules
	attachedGrain  = 300  // pieces as pale that are the paper's grain, or the camera's noise
	attachedMost   = 0.02 // of all pixels, the same
	attachedGap    = 2    // by which both are broadened to meet
	attachedInk    = 20   // of ink that they lead on from, at least
	attachedReach  = 3    // within which they begin
	attachedNear   = 8    // to either side of it where dark ink is another line's
	attachedLeast  = 150  // of them in all, or there are none: 50 mm of A4
	attachedShort  = 6.0  // that a piece of such a line is long at least
	attachedBeside = 5    // to either side, where the paper is bare
)

// attachedLines are the places of the small copy, and attachedReach about them, of lines
// that are too pale to be ink by themselves but lead on from ink, darker than the
// paper by a share of pale: a pencil's that presses lightly. What shines through, or
// a shadow's edge, is paler, apart, or lighter on one side only. It is nil where
// there is none.
func attachedLines(even *Grey, pale float64) (*Bitmap, error) {
	dark, some := NewBitmap(even.W, even.H), NewBitmap(even.W, even.H)
	within(even, func(i int) {
		switch d := even.Pix[i]; {
		case float64(d) <= evenWhite*(1-pale):
			dark.Pix[i] = 1
		case d <= evenWhite*(1-attachedDark):
			some.Pix[i] = 1
		}
	})
	about, err := dark.grown(attachedReach)
	if err != nil {
		return nil, err
	}
	for i, v := range about.Pix {
		some.Pix[i] &^= v
	}
	parts := piecesOf(some, 1, true).list
	grain := len(parts) > attachedGrain || float64(some.Count()) > attachedMost*float64(len(some.Pix))
	if grain || !slices.ContainsFunc(parts, piece.long) {
		return nil, nil
	}
	if ruled, err := some.ruled(attachedRules); ruled > 0 || err != nil {
		return nil, err
	}
	r, err := lineResponse(even)
	if err != nil {
		return nil, err
	}
	usual, spread := r.usual()
	least := max(usual+lineStrong*spread, attachedDark*attachedShare)
	lines, both := NewBitmap(even.W, even.H), NewBitmap(even.W, even.H)
	within(even, func(i int) {
		if dark.Pix[i] == 0 && r.value[i] > least && r.twoSided(even, i) && !r.beside(dark, i) {
			lines.Pix[i] = 1
		}
	})
	lines.keepPieces(attachedShort)
	for i, v := range dark.Pix {
		both.Pix[i] = v | lines.Pix[i]
	}
	if both, err = both.grown(attachedGap); err != nil {
		return nil, err
	}
	p := piecesOf(both, 1, true)
	ink := make([]int, len(p.list))
	for i, v := range dark.Pix {
		if v > 0 {
			ink[p.at(i%even.W, i/even.W)]++
		}
	}
	for i, v := range lines.Pix {
		if v > 0 && ink[p.at(i%even.W, i/even.W)] < attachedInk {
			lines.Pix[i] = 0
		}
	}
	if lines.Count() < attachedLeast {
		return nil, nil
	}
	return lines.grown(attachedReach)
}

// beside reports whether dark ink runs beside a line at a pixel: a camera draws pale
// lines along dark ones.
func (r response) beside(dark *Bitmap, i int) bool {
	sin, cos := math.Sincos(turned(int(r.turn[i])))
	for d := -attachedNear; d <= attachedNear; d++ {
		x := min(max(i%dark.W-int(math.Round(float64(d)*sin)), 0), dark.W-1)
		y := min(max(i/dark.W+int(math.Round(float64(d)*cos)), 0), dark.H-1)
		if dark.Pix[y*dark.W+x] > 0 {
			return true
		}
	}
	return false
}

// twoSided reports whether a line at a pixel has lighter paper on both sides.
func (r response) twoSided(even *Grey, i int) bool {
	sin, cos := math.Sincos(turned(int(r.turn[i])))
	at := func(side float64) float64 {
		x, y := i%even.W-int(math.Round(side*sin)), i/even.W+int(math.Round(side*cos))
		return float64(even.Pix[y*even.W+x])
	}
	least := float64(even.Pix[i]) + r.value[i]*evenWhite/2
	return at(attachedBeside) > least && at(-attachedBeside) > least &&
		max(at(attachedBeside), at(-attachedBeside)) < evenWhite*(1+attachedDark)
}

// ruled is how many straight lines run evenly apart across the sheet, 0 for fewer than least.
func (b *Bitmap) ruled(least int) (int, error) {
	found, err := straightLines(b, rulingPiece*float64(max(b.W, b.H)), rulingGap)
	if err != nil || len(found) == 0 {
		return 0, err
	}
	places, _, _ := evenlyApart(found, geom.Pt(float64(b.W), float64(b.H)), least)
	return len(places), nil
}

// keepPieces keeps the pieces of so many px from corner to corner.
func (b *Bitmap) keepPieces(least float64) {
	p := piecesOf(b, 1, true)
	p.set(b, 0, func(i int) bool {
		return math.Hypot(float64(p.list[i].x1-p.list[i].x0), float64(p.list[i].y1-p.list[i].y0)) < least
	})
}
