package vision

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"sync"

	"gocv.io/x/gocv"

	"inkchannel/geom/parallel"
)

// What counts as a mark, and the bounds of the cut.
const (
	// markBelow is of the evened picture: a quarter darker than paper, which
	// pale rules are not, or hardly.
	markBelow     = evenWhite * 3 / 4
	blankCut      = 0.3  // share darker than paper that is ink on a sheet without a mark
	mostCut       = 0.5  // share darker than paper that is ink in any case, however dark the rest
	leastRuledCut = 0.1  // share darker than paper that is ink at least where rules are known
	nearInk       = 0.8  // mm within which a line's darkest is looked for, from its edge
	nearRules     = 0.6  // mm, the same on ruled paper, where the line's edge lies among rules
	holeMost      = 0.25 // mm² of paper that are a gap in a line at most, and
	holePen       = 0.25 // squares of the pen's width, of which less paper is a gap in its line
	rimOnRule     = 0.35 // mm, the same on a rule, which leads on from the line
	alongWeak     = 3    // mm that a line on ruled paper may be as pale as the rules
	// besideRules is of the darkness that is ink on a rule, what is ink off the
	// rules: some are not found.
	besideRules = 0.85
	// What is paler than palest times what the ink is darker than palestInk
	// shines through, or is the edge of a hard shadow. Pencils and tired pens are
	// hardly darker than palestInk, and followed further.
	palest    = 0.5
	palestInk = 0.3
	// mostSpecks are too many to be dust.
	mostSpecks = 1000
	mostSheet  = 0.5 // of the sheet that is ink at most, or it is none
	// slightHalves is halves of what is wanted: pieces of less than so many are
	// hardly large enough.
	slightHalves = 3
)

// MostInk is the share of the picture that lines may cover: no real photograph of a drawing comes to it.
const MostInk = 0.25

// An InkMethod is a way to decide what is ink.
type InkMethod string

// The methods FindInk knows.
const (
	// InkPaper compares each pixel with the paper around it, whose brightness
	// is found by a grey closing that wipes out every pen line.
	InkPaper InkMethod = "paper"
	// InkMean compares each pixel of the evened picture with the mean over
	// the window around it.
	InkMean InkMethod = "mean"
	// InkOtsu cuts the evened picture at one level, chosen by Otsu's method.
	InkOtsu InkMethod = "otsu"
)

// InkSettings tune FindInk.
type InkSettings struct {
	Method  InkMethod
	Window  float64 // mm, must be wider than the widest pen line
	Offset  float64 // % darker than the paper that counts as ink; 0 picks half way to the ink's own darkness
	Speckle float64 // mm², smaller spots are dropped
	Hole    float64 // mm², smaller gaps within ink are filled; 0 follows the pen
	Margin  float64 // mm along the sheet's edge that are ignored
	Lines   LinesOf // what becomes lines; FindInk looks for pen lines whatever it says
}

// LinesOf tells what on the sheet becomes lines.
type LinesOf string

// What becomes lines.
const (
	LinesAuto    LinesOf = "auto"    // outlines if something broad lies there, else pen lines
	LinesPen     LinesOf = "pen"     // what is drawn
	LinesOutline LinesOf = "outline" // the outlines of things that lie there
)

// DefaultInk returns the settings that suit felt pens and ballpoints.
func DefaultInk() InkSettings {
	return InkSettings{Method: InkPaper, Window: 12, Offset: 0, Speckle: 0.6, Margin: 3, Lines: LinesAuto}
}

// An Ink is what of the sheet is drawn on.
type Ink struct {
	Mask *Bitmap // 1 where there is ink
	// Level is the evened picture less its threshold: inkEdge at ink's edge,
	// more inside. It places the edge between pixels. Far from anything dark it
	// is 0.
	Level *Grey
	// Darkness is how much darker than the paper the ink is, and Cut how much
	// darker a pixel must be to count, both 0 to 1.
	Darkness, Cut float64
	// Pale is how much darker than the paper a line by itself must be at its
	// darkest; 0 where Cut alone decides.
	Pale   float64
	Ruling Ruling // what is printed on the sheet and left out
	// faint is where faint lines run, on the small copy, nil for nowhere; attached
	// whether they lead on from dark ink.
	faint    *Bitmap
	attached bool
	Spots    int  // pieces of ink kept
	Noisy    bool // noise is as dark as pale lines, because of which those were not looked for
	Dropped  int  // speckles dropped
	AtEdge   int  // marks dropped that run off the sheet
	Shadows  int  // pale marks dropped that lie along the edge of a shadow
	Between  int  // broad marks dropped that are paper between lighter places
	// Faint is how many pieces were dropped, or gaps within ink filled, that
	// were nearly large enough to stay, and Slight how many stayed that are
	// hardly larger.
	Faint, Slight int
}

// inkEdge is the Level at which ink starts.
const inkEdge = 128

// evenWhite is the value of blank paper in the evened picture.
const evenWhite = 200

// FindInk evens out the lighting and tells ink from paper. pxPerMm is the
// picture's scale. The three channels are evened each by itself, which takes
// out the lamp's colour, and the darkest of them decides, so that red, green
// and blue pens are as dark as black ones.
//
// It returns an error for a picture too dark to tell ink from paper, and when
// nothing, or half the sheet, counts as ink.
func FindInk(sheet *Colour, pxPerMm float64, s InkSettings) (*Ink, error) {
	ink, err := findInk(sheet, pxPerMm, s, s.byItself())
	if err == nil && s.byItself() && (ink.Dropped > mostSpecks || ink.Share() > MostInk) {
		// The camera's noise is as dark as pale lines would be, in specks or all over.
		if ink, err = findInk(sheet, pxPerMm, s, false); err == nil {
			ink.Noisy = true
		}
	}
	if err != nil {
		return nil, err
	}
	share := ink.Share()
	if share == 0 {
		return nil, errors.New("no pen line found; draw darker, or photograph in better light")
	}
	if share > mostSheet {
		return nil, fmt.Errorf(
			"%.0f %% of the sheet counts as ink; photograph in better light, with the paper alone in view", 100*share,
		)
	}
	return ink, nil
}

// Share is how much of the sheet is ink, 0 to 1.
func (ink *Ink) Share() float64 { return float64(ink.Mask.Count()) / float64(len(ink.Mask.Pix)) }

// findInk is FindInk before its result is judged. Lines paler than the drawing's
// cut count only if pale.
func findInk(sheet *Colour, pxPerMm float64, s InkSettings, pale bool) (*Ink, error) {
	dark := 0.0 // other methods weigh ink against the whole picture
	if s.Method == InkPaper {
		dark = blank * leastDark(s)
	}
	even, err := evenLight(sheet, pxPerMm, s, dark)
	if err != nil {
		return nil, err
	}
	ink := &Ink{}
	margin := int(s.Margin*pxPerMm + 0.5)
	ink.Darkness, ink.Cut = chooseCut(even, margin, s)
	faint := false
	if pale && ink.Darkness < faintInk {
		if faint, err = ink.isFaint(even, pxPerMm); err != nil {
			return nil, err
		}
	}
	if faint {
		if even, err = evenFaint(sheet, pxPerMm, s); err != nil {
			return nil, err
		}
	}
	var whole *Grey // even with paper where nothing was worked out
	if s.byItself() {
		whole = even.filled()
	}
	level, err := ink.levelling(even, whole, pxPerMm, s, pale, faint)
	if err != nil {
		return nil, err
	}
	ink.cut(even, margin, level)
	area := pxPerMm * pxPerMm
	parts, err := ink.paleSifted(sheet, whole, pxPerMm, faint)
	if err != nil {
		return nil, err
	}
	if ink.Between, err = ink.dropBetween(parts, sheet, pxPerMm); err != nil {
		return nil, err
	}
	if ink.Between > 0 {
		parts = piecesOf(ink.Mask, 1, true)
	}
	atEdge := func(q piece) bool { return offSheet(q, ink.Mask, margin, int(s.Window*pxPerMm)) }
	spots := parts.dropSmall(ink.Mask, 1, int(s.Speckle*area), atEdge)
	least := s.Hole * area
	if s.Hole == 0 { // a fine pen's loops are small
		pen := ink.Mask.thickness()
		least = min(holeMost*area, holePen*pen*pen)
	}
	holes := piecesOf(ink.Mask, 0, false).dropSmall(ink.Mask, 0, int(least), nil)
	ink.Spots, ink.Dropped, ink.AtEdge = spots.kept, spots.dropped, spots.refused
	ink.Faint, ink.Slight = spots.faint+holes.faint, spots.slight+holes.slight
	return ink, nil
}

// paleSifted are the pieces of the mask once those are dropped that are pale but
// no line.
func (ink *Ink) paleSifted(sheet *Colour, whole *Grey, pxPerMm float64, faint bool) (p *pieces, err error) {
	p = piecesOf(ink.Mask, 1, true)
	if whole == nil || ink.Ruling.Lines > 0 || ink.Pale == ink.Cut {
		return p, nil
	}
	if faint {
		ink.dropFaint(p, pxPerMm)
		p = piecesOf(ink.Mask, 1, true)
	}
	light := sync.OnceValues(func() (paperLook, error) { return aroundPaper(sheet, pxPerMm) })
	shade, err := ink.clearShade(light, whole, pxPerMm)
	if err != nil {
		return p, err
	}
	if shade {
		p = piecesOf(ink.Mask, 1, true)
	}
	ink.Shadows, err = ink.dropShadows(p, light, whole)
	if ink.Shadows > 0 {
		p = piecesOf(ink.Mask, 1, true)
	}
	return p, err
}

// look finds what else is on the sheet: rules, which are to be left out, and
// pale lines, which are not.
func (ink *Ink) look(even *Grey, pxPerMm float64, pale, faint bool) error {
	small, err := even.at(lookSide / float64(max(even.W, even.H)))
	if err != nil {
		return err
	}
	if ink.Ruling.Lines == 0 {
		times := 1.0
		if faint { // so are the rules
			times = faintRules
		}
		if ink.Ruling, err = findRuling(even, small, pxPerMm, times); err != nil {
			return err
		}
	}
	if ink.Ruling.Lines > 0 {
		ink.Darkness = ink.Ruling.ink
		ink.Cut = cutFor(ink.Darkness, ink.Ruling.least)
		ink.Pale = ink.Ruling.cut()
		return nil
	}
	if ink.Pale = ink.Cut; !pale {
		return nil
	}
	ink.Pale = max(palest*(ink.Darkness-palestInk), 0)
	if ink.Pale < leastCut { // beyond, what findPale finds does not count
		ink.Pale = max(ink.Pale, findPale(small, ink.Darkness == 0))
	}
	ink.Pale = min(ink.Pale, ink.Cut)
	switch {
	case faint:
		if ink.Darkness == 0 {
			ink.Darkness = plainInk(small, ink.Pale)
		}
		ink.faint, err = faintLines(small, ink.Pale)
	case ink.Pale > attachedDark:
		ink.attached = true
		ink.faint, err = attachedLines(small, ink.Pale)
	}
	return err
}

// darkest is the least brightness, of 255, at which paper can be told from
// ink: below it a camera's noise is as large as the ink's contrast.
const darkest = 20

// A picture too dark for paper of which more than a share is so bright, of 255, is of light lines.
const (
	brightLine = 128
	mostBright = 0.002
)

// checkLight refuses a picture, small, whose paper is all but black.
func checkLight(small, paper *Colour) error {
	var hist [256]int
	for i := 0; i < len(paper.Pix); i += 3 {
		hist[max(paper.Pix[i], paper.Pix[i+1], paper.Pix[i+2])]++
	}
	usual := levelBelow(hist[:], 0.5)
	switch {
	case usual >= darkest:
		return nil
	case small.brightShare() > mostBright:
		return errors.New("light lines on a dark ground: turn the picture's colours round, so that the lines are dark on white")
	}
	return fmt.Errorf(
		"the picture is too dark to tell ink from paper (brightness %d of 255); photograph in better light", usual,
	)
}

// levelBelow is the level that a share of what a histogram counts lies at or below, the number of its levels if
// it counts nothing.
func levelBelow(hist []int, share float64) int {
	n := 0
	for _, c := range hist {
		n += c
	}
	left := int(share * float64(n))
	for v, c := range hist {
		if left -= c; left < 0 {
			return v
		}
	}
	return len(hist)
}

// brightShare is the share of pixels that are at least brightLine.
func (c *Colour) brightShare() float64 {
	n := 0
	for i := 0; i < len(c.Pix); i += 3 {
		if max(c.Pix[i], c.Pix[i+1], c.Pix[i+2]) >= brightLine {
			n++
		}
	}
	return float64(n) / float64(len(c.Pix)/3)
}

// leastCut is how much darker than the paper, as a share, a pixel must be at
// least to be ink, if the offset does not say otherwise.
const leastCut = 0.18

// leastDark is how much darker than the paper, as a share, a pixel must be at
// least to be ink by the settings.
func leastDark(s InkSettings) float64 {
	if s.Offset > 0 {
		return s.Offset / 100
	}
	return leastCut
}

// chooseCut finds how dark the ink is and how dark a pixel must be to be ink.
func chooseCut(even *evened, margin int, s InkSettings) (darkness, cut float64) {
	var hist [256]int
	for y := margin; y < even.H-margin; y += 2 {
		row := even.Pix[y*even.W : (y+1)*even.W]
		for _, r := range even.marked(y) {
			for x := max(r.x0, margin); x < min(r.x1, even.W-margin); x++ {
				hist[row[x]]++
			}
		}
	}
	// Marks are a quarter darker than paper, which pale rules are not, or
	// hardly; ink is the darker half of them.
	marks := 0
	for _, c := range hist[:markBelow] {
		marks += c
	}
	darkness = 1 - float64(levelBelow(hist[:markBelow], 0.5))/evenWhite
	if s.Offset > 0 {
		return darkness, leastDark(s)
	}
	if marks == 0 {
		return 0, blankCut
	}
	return darkness, cutFor(darkness, leastCut)
}

// cutFor is how dark a pixel must be to be ink, half as dark as the ink is
// where its edge lies, and least in any case.
func cutFor(darkness, least float64) float64 { return min(max(darkness/2, least), mostCut) }

// byItself reports whether the cut follows what is drawn.
func (s InkSettings) byItself() bool { return s.Method == InkPaper && s.Offset == 0 }

// A leveller fills in the Level of neighbouring pixels, from pixel at on.
type leveller func(to []uint8, at int)

// cut subtracts the threshold from the evened picture, in its own memory, and
// takes for ink what is over it, but for the margin.
func (ink *Ink) cut(even *evened, margin int, level leveller) {
	w, h := even.W, even.H
	ink.Level, ink.Mask = even.Grey, NewBitmap(w, h)
	parallel.Bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for _, r := range even.marked(y) {
				from, to := y*w+r.x0, y*w+r.x1
				level(ink.Level.Pix[from:to], from)
				if y < margin || y >= h-margin {
					continue
				}
				mask := ink.Mask.Pix[from:to]
				for i, v := range ink.Level.Pix[from:to] {
					if x := r.x0 + i; v >= inkEdge && x >= margin && x < w-margin {
						mask[i] = 1
					}
				}
			}
		}
	})
}

// levelling is how the settings' method levels the evened picture.
func (ink *Ink) levelling(
	even *evened, whole *Grey, pxPerMm float64, s InkSettings, pale, faint bool,
) (leveller, error) {
	if s.byItself() {
		if err := ink.look(whole, pxPerMm, pale, faint); err != nil {
			return nil, err
		}
		if ink.Ruling.Lines > 0 {
			return ink.ruledLevelling(even, whole, pxPerMm)
		}
		return ink.localLevelling(even, whole, pxPerMm)
	}
	cut := ink.Cut
	src, m := even.mat(), gocv.NewMat()
	defer src.Close()
	defer m.Close()
	flat := evenWhite * (1 - cut)
	switch s.Method {
	case InkMean:
		side := int(s.Window*pxPerMm) | 1
		gocv.Blur(src, &m, image.Pt(side, side))
		pix, err := m.DataPtrUint8()
		if err != nil {
			return nil, err
		}
		mean := slices.Clone(pix)
		return func(to []uint8, at int) {
			for i := range to {
				to[i] = uint8(min(max(inkEdge+float64(mean[at+i])*(1-cut)-float64(even.Pix[at+i]), 0), 255))
			}
		}, nil
	case InkOtsu:
		flat = float64(gocv.Threshold(src, &m, 0, 255, gocv.ThresholdBinary|gocv.ThresholdOtsu))
	}
	var table [256]uint8
	for v := range table {
		table[v] = levelOf(inkEdge+int(math.Round(flat)), uint8(v))
	}
	return func(to []uint8, at int) {
		for i, v := range even.Pix[at : at+len(to)] {
			to[i] = table[v]
		}
	}, nil
}

// localLevelling is levelling by how dark the darkest ink near each pixel is:
// beside a dark line the cut is the drawing's, so that its edge lies half way
// to the paper; a pale line by itself is cut half way to its own darkness. whole
// is even with paper where nothing was worked out.
func (ink *Ink) localLevelling(even *evened, whole *Grey, pxPerMm float64) (leveller, error) {
	near, err := whole.darkestWithin(int(nearInk*pxPerMm + 0.5))
	if err != nil {
		return nil, err
	}
	cuts := ink.cutsFrom(ink.Pale)
	if ink.faint == nil {
		return func(to []uint8, at int) {
			for i, v := range even.Pix[at : at+len(to)] {
				to[i] = levelOf(cuts[near.Pix[at+i]], v)
			}
		}, nil
	}
	return ink.faintLevelling(even, whole, near, cuts, pxPerMm)
}

// faintLevelling is localLevelling where faint lines run: they are cut half way to
// their own darkness however pale they are, but not so near a dark one that its
// rim would count.
func (ink *Ink) faintLevelling(
	even *evened, whole, near *Grey, cuts [256]int, pxPerMm float64,
) (leveller, error) {
	about, err := whole.darkestWithin(int(faintNear*pxPerMm + 0.5))
	if err != nil {
		return nil, err
	}
	dark := func(g *Grey, i int) float64 { return 1 - float64(g.Pix[i])/evenWhite }
	least, rim := faintLeast, faintShare
	if ink.attached { // nor is grain as dark as such a line, nor the rim of a dark one
		least, rim = attachedDark*attachedShare, 0
	}
	step := float64(ink.faint.W) / float64(even.W)
	return func(to []uint8, at int) {
		row := min(int(float64(at/even.W)*step), ink.faint.H-1) * ink.faint.W
		for i, v := range even.Pix[at : at+len(to)] {
			over := cuts[near.Pix[at+i]]
			if x := int(float64(at%even.W+i) * step); ink.faint.Pix[row+min(x, ink.faint.W-1)] > 0 {
				over = levelOver(min(max(dark(near, at+i)/2, rim*dark(about, at+i), least), ink.Cut))
			}
			to[i] = levelOf(over, v)
		}
	}, nil
}

// levelOver is what a pixel's value in the evened picture is taken from for
// its Level.
func levelOver(cut float64) int { return inkEdge + int(math.Round(evenWhite*(1-cut))) }

// levelOf is the Level of a pixel of the evened picture.
func levelOf(over int, v uint8) uint8 { return uint8(min(max(over-int(v), 0), 255)) }

// ruledLevelling is levelling on ruled paper: what is darker than rules is ink,
// and what leads on from there, for a few mm, off the rules. whole is as for
// localLevelling.
func (ink *Ink) ruledLevelling(even *evened, whole *Grey, pxPerMm float64) (leveller, error) {
	strong, weak := NewBitmap(even.W, even.H), NewBitmap(even.W, even.H)
	rules, err := ink.Ruling.bands(whole, pxPerMm)
	if err != nil {
		return nil, err
	}
	weakest := ink.weakest()
	dark, pale := uint8(evenWhite*(1-besideRules*ink.Pale)), uint8(evenWhite*(1-weakest))
	for y := range even.H {
		for _, r := range even.marked(y) {
			for i := y*even.W + r.x0; i < y*even.W+r.x1; i++ {
				switch v, need := even.Pix[i], rules.Pix[i]; {
				case need == 0 && v <= dark || need > 0 && float64(v) <= evenWhite*(1-float64(need)/255):
					strong.Pix[i], weak.Pix[i] = 1, 1
				case need == 0 && v <= pale:
					weak.Pix[i] = 1
				}
			}
		}
	}
	ink.Ruling.addAslant(strong, weak, pxPerMm)
	ways, err := strong.grownIn(weak, int(alongWeak*pxPerMm))
	if err != nil {
		return nil, err
	}
	near, err := ways.grown(int(nearRules*pxPerMm + 0.5))
	if err != nil {
		return nil, err
	}
	onRule, err := ways.grown(int(rimOnRule*pxPerMm + 0.5))
	if err != nil {
		return nil, err
	}
	darkest, err := whole.darkestWithin(int(nearRules*pxPerMm + 0.5))
	if err != nil {
		return nil, err
	}
	cuts := ink.cutsFrom(weakest)
	return func(to []uint8, at int) {
		for i, v := range even.Pix[at : at+len(to)] {
			within := near
			if rules.Pix[at+i] > 0 {
				within = onRule
			}
			if to[i] = 0; within.Pix[at+i] != 0 {
				to[i] = levelOf(cuts[darkest.Pix[at+i]], v)
			}
		}
	}, nil
}

// weakest is how dark a line off the rules is at least: as dark as they are, and
// darker than what shines through.
func (ink *Ink) weakest() float64 {
	return min(max(ink.Ruling.least, ink.Ruling.Dark, palest*(ink.Darkness-palestInk)), ink.Cut)
}

// cutsFrom are what is taken from a pixel for its Level, by the darkest of the
// evened picture near it: half as dark as that, but at least pale.
func (ink *Ink) cutsFrom(pale float64) (cuts [256]int) {
	for v := range cuts {
		dark := 1 - float64(v)/evenWhite
		cuts[v] = levelOver(min(max(dark/2, pale), ink.Cut))
	}
	return cuts
}

// grownIn is the set grown within another by so many px.
func (b *Bitmap) grownIn(within *Bitmap, steps int) (*Bitmap, error) {
	out := NewBitmap(b.W, b.H)
	src, in, dst := b.mat(), within.mat(), out.mat()
	defer src.Close()
	defer in.Close()
	defer dst.Close()
	one := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(3, 3))
	defer one.Close()
	src.CopyTo(&dst)
	for range steps {
		gocv.Dilate(dst, &dst, one)
		gocv.BitwiseAnd(dst, in, &dst)
	}
	return out, nil
}

// grown is the set and all within rim px of it, across and down.
func (b *Bitmap) grown(rim int) (*Bitmap, error) {
	out := NewBitmap(b.W, b.H)
	src, dst := b.mat(), out.mat()
	defer src.Close()
	defer dst.Close()
	dilate(src, &dst, rim)
	return out, nil
}

// dilate makes each pixel the greatest within reach px, across and down.
func dilate(src gocv.Mat, dst *gocv.Mat, reach int) {
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(2*reach+1, 2*reach+1))
	defer kernel.Close()
	gocv.Dilate(src, dst, kernel)
}

// filled is the evened picture with blank paper where nothing was worked out.
func (e *evened) filled() *Grey {
	g := NewGrey(e.W, e.H)
	for i := range g.Pix {
		g.Pix[i] = evenWhite
	}
	parallel.Bands(e.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for _, r := range e.marked(y) {
				copy(g.Pix[y*e.W+r.x0:y*e.W+r.x1], e.Pix[y*e.W+r.x0:])
			}
		}
	})
	return g
}

// darkestWithin is the darkest within reach px of each pixel, across and down.
func (g *Grey) darkestWithin(reach int) (*Grey, error) {
	out := NewGrey(g.W, g.H)
	src, dst := g.mat(), out.mat()
	defer src.Close()
	defer dst.Close()
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(2*reach+1, 2*reach+1))
	defer kernel.Close()
	gocv.Erode(src, &dst, kernel)
	return out, nil
}

// lightestWithin is the lightest within reach px of each pixel, across and down.
func (g *Grey) lightestWithin(reach int) (*Grey, error) {
	out := NewGrey(g.W, g.H)
	src, dst := g.mat(), out.mat()
	defer src.Close()
	defer dst.Close()
	dilate(src, &dst, reach)
	return out, nil
}

// offSheet tells what touches the margin and stays within reach of it: the tip
// of a shadow that ends at the sheet's edge is narrower than the window, and so
// darker than the paper it is compared with; a table may show beside a sheet
// that is cut askew.
func offSheet(q piece, b *Bitmap, margin, reach int) bool {
	low, right, bottom := margin+reach, b.W-margin-reach, b.H-margin-reach
	return q.x0 <= margin && q.x1 < low || q.y0 <= margin && q.y1 < low || q.x1 >= b.W-margin && q.x0 > right ||
		q.y1 >= b.H-margin && q.y0 > bottom
}

// thickness is how thick lines are that have the set's area and edge, px.
func (b *Bitmap) thickness() float64 {
	area, edge := 0, 0
	for y := range b.H {
		for _, r := range runsOf(b.Pix[y*b.W:(y+1)*b.W], y, 1) {
			area += r.x1 - r.x0
			edge += edgeOf(b, r)
		}
	}
	return thick(area, edge)
}

// edgeOf is how many sides of a run's pixels lie at the edge of its set.
func edgeOf(b *Bitmap, r stretch) int {
	edge := 2
	for x := r.x0; x < r.x1; x++ {
		if r.y > 0 && b.Pix[(r.y-1)*b.W+x] == 0 {
			edge++
		}
		if r.y+1 < b.H && b.Pix[(r.y+1)*b.W+x] == 0 {
			edge++
		}
	}
	return edge
}

// thick is how thick a line is by its area and edge, px and sides of them. Counted so, its edge is
// longer than it is by 4/π on average over all directions.
func thick(area, edge int) float64 {
	return 2 * float64(area) / (float64(max(edge, 1)) * math.Pi / 4)
}

// dropSmall flips the pieces of value v that have fewer than least pixels, and
// those that refuse names.
func (p *pieces) dropSmall(b *Bitmap, v uint8, least int, refuse func(piece) bool) (out sifted) {
	flip := make([]bool, len(p.list))
	for i, q := range p.list {
		switch {
		case q.area < least:
			flip[i] = true
			out.dropped++
			if 2*q.area > least {
				out.faint++
			}
		case refuse != nil && refuse(q):
			flip[i] = true
			out.refused++
		default:
			out.kept++
			if 2*q.area < slightHalves*least {
				out.slight++
			}
		}
	}
	p.set(b, 1-v, func(i int) bool { return flip[i] })
	return out
}

// A sifted tells what dropSmall did: pieces kept, dropped and refused; faint is
// how many of the dropped have more than half of what is wanted, slight how
// many of the kept hardly more than it.
type sifted struct{ kept, dropped, refused, faint, slight int }
