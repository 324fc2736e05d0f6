package vision

import (
	"errors"
	"image"
	"image/color"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// How pale a line by itself may be, and how that is told from what is no line.
// Measured on photographs of pencil, and of rough paper.
const (
	faintInk     = 0.35  // darker than the paper, as a share: ink paler than this is faint, and
	faintBlur    = 0.15  // mm, standard deviation of what then is averaged
	shadowBeside = 3.0   // mm to either side of a pale mark where the paper's light is compared:
	shadowDark   = 0.3   // of its pixels that a pale mark has as dark as the drawing's ink at most
	shadowStep   = 0.12  // a share by which it differs is a shadow's edge
	shadowKernel = 7     // px of the small copy, the square whose lightest is bare paper
	faintLeast   = 0.012 // darker than the paper: the least of a faint line's edge
	faintNear    = 2.0   // mm about a dark line within which a faint one
	faintShare   = 0.22  // is at least so much as dark: less is a rim of the dark one
	faintCuts    = 4     // of paleCuts are for faint ink only
	faintLong    = 8.0   // mm that a faint mark by itself is long at least,
	faintDark    = 0.5   // or it is so much as dark as the rest
	faintQuant   = 0.7   // quantile of the ink's darkness that is that of the rest
	lineTurns    = 12    // directions in which lines are looked for
	lineHalf     = 7     // px of the small copy from the middle of such a line's pattern to its ends
	lineSide     = 1.3   // px, standard deviation of the line's profile, as a pen's of 1 mm shows
	lineLong     = 4.5   // px, the same along it
	lineWeak     = 3.5   // times the usual response of blank paper that a line goes on at,
	lineStrong   = 8.5   // and that one starts at
	weakShare    = 0.06  // of how dark what is plainly ink is, that a line has at least where it goes on,
	beginShare   = 0.15  // and where it starts: less is a stain or a crease
	faintRule    = 9     // px of the small copy that a faint rule is broad at most
	// Of lines that lead on from ink, shares darker than the paper, and px.
	attachedDark   = 0.06  // that they are at least: what shines through is paler
	attachedShare  = 0.7   // of that their response is
	attachedRules  = 3     // lines evenly apart that are rules
	attachedGrain  = 300   // pieces as pale that are the paper's grain, or the camera's noise
	attachedMost   = 0.02  // of all pixels, the same
	attachedGap    = 2     // by which both are broadened to meet
	attachedInk    = 20    // of ink that they lead on from, at least
	attachedReach  = 3     // within which they begin
	attachedNear   = 8     // to either side of it where dark ink is another line's
	attachedLeast  = 150   // of them in all, or there are none: 50 mm of A4
	attachedShort  = 6.0   // that a piece of such a line is long at least
	attachedBeside = 5     // to either side, where the paper is bare
	usualEvery     = 13    // pixels, of which one tells what is usual
	lineRim        = 2     // px about a line that are looked at closely
	paleBorder     = 9     // px of the small copy along the sheet's edge that are not looked at
	paleLine       = 15    // px that a line is long at least, and a speck at most
	paleStrong     = 1.6   // times the cut that the darkest of a line drawn in earnest is at least
	paleSpecks     = 0.001 // of the lines' area that specks may make up in any case
	paleFall       = 1.5   // times the specks' share at the next cut: the paper's grain, and no broken lines
)

// paleCuts are the shares darker than the paper, least first, that are tried
// for pale lines; the first faintCuts of them only where nothing is dark.
func paleCuts() []float64 {
	return []float64{0.03, 0.04, 0.05, 0.065, 0.08, 0.10, 0.13, 0.16, leastCut}
}

// evenFaint is the evened picture of a sheet on which nothing is dark: all of it,
// and softened, for noise is nearly as dark as the ink.
func evenFaint(sheet *Colour, pxPerMm float64, s InkSettings) (*evened, error) {
	even, err := evenLight(sheet, pxPerMm, s, 0)
	if err != nil {
		return nil, err
	}
	m := even.mat()
	defer m.Close()
	gocv.GaussianBlur(m, &m, image.Point{}, faintBlur*pxPerMm, 0, gocv.BorderReplicate)
	return even, nil
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
		w, h := q.x1-q.x0, q.y1-q.y0
		if strong[i] || w*w+h*h >= paleLine*paleLine {
			lines += q.area
		} else {
			specks += q.area
		}
	}
	return float64(specks) / float64(lines)
}

// dropShadows drops pale pieces along the edge of a shadow, and returns how many:
// paper is much lighter on one side of it than on the other.
func (ink *Ink) dropShadows(p *pieces, sheet *Colour, pxPerMm float64) (dropped int, err error) {
	dark := make([]int, len(p.list))
	for _, r := range p.runs {
		for _, v := range ink.whole.Pix[r.y*ink.whole.W+r.x0 : r.y*ink.whole.W+r.x1] {
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
	shadow := func(i int) bool { return pale[i] && 2*beside[i] > all[i] }
	for i := range p.list {
		if shadow(i) {
			dropped++
		}
	}
	p.set(ink.Mask, 0, shadow)
	return dropped, nil
}

// paperAround is how light the paper is on a small copy of the sheet, without what
// is drawn.
func paperAround(sheet *Colour) (*Grey, error) {
	k := lookSide / float64(max(sheet.W, sheet.H))
	small, err := sheet.Resized(max(int(float64(sheet.W)*k), 1), max(int(float64(sheet.H)*k), 1))
	if err != nil {
		return nil, err
	}
	g := paperMaps(small)[0]
	m := g.mat()
	defer m.Close()
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(shadowKernel, shadowKernel))
	defer kernel.Close()
	gocv.Dilate(m, &m, kernel)
	return g, nil
}

// faintLines are the places of the small copy, and lineRim about them, where a line
// runs that is hardly darker than the paper's grain: it shows when what lies along it
// is added up, by matched filters in several directions (Chaudhuri et al. 1989,
// "Detection of blood vessels in retinal images using two-dimensional matched
// filters", IEEE Transactions on Medical Imaging 8, from memory). Where the response
// is strong a line starts, and it goes on while that is weak. pale is how much
// darker than the paper what is plainly ink is at least.
func faintLines(even *Grey, pale float64) (*Bitmap, error) {
	r, err := lineResponse(even)
	if err != nil {
		return nil, err
	}
	usual, spread := r.usual()
	ink := plainInk(even, pale)
	goesOn, starts := max(usual+lineWeak*spread, weakShare*ink), max(usual+lineStrong*spread, beginShare*ink)
	strong, weak := NewBitmap(even.W, even.H), NewBitmap(even.W, even.H)
	within(even, func(i int) {
		switch v := r.value[i]; {
		case v > starts:
			strong.Pix[i], weak.Pix[i] = 1, 1
		case v > goesOn:
			weak.Pix[i] = 1
		}
	})
	weak.keepLines(strong)
	if err := weak.withoutRules(); err != nil {
		return nil, err
	}
	return weak.grownIn(weak, 0, lineRim)
}

// within calls f for each pixel but for those along the border.
func within(g *Grey, f func(i int)) {
	for y := paleBorder; y < g.H-paleBorder; y++ {
		for i := y*g.W + paleBorder; i < (y+1)*g.W-paleBorder; i++ {
			f(i)
		}
	}
}

// usual is the response of blank paper, and its standard deviation, by some of the
// pixels.
func (r response) usual() (mean, spread float64) {
	var some []float64
	for i := 0; i < len(r.value); i += usualEvery {
		some = append(some, r.value[i])
	}
	mean = median(some)
	for i, v := range some {
		some[i] = math.Abs(v - mean)
	}
	return mean, madNormal * median(some)
}

// keepLines keeps the pieces that have a pixel of another set, and are as long as
// a line.
func (b *Bitmap) keepLines(with *Bitmap) {
	has := make(map[int]bool)
	p := piecesOf(b, 1, true)
	for i, v := range with.Pix {
		if v > 0 {
			has[p.at(i%b.W, i/b.W)] = true
		}
	}
	p.set(b, 0, func(i int) bool { return !has[i] || !p.list[i].long() })
}

// keepPieces keeps the pieces of so many px from corner to corner.
func (b *Bitmap) keepPieces(least float64) {
	p := piecesOf(b, 1, true)
	p.set(b, 0, func(i int) bool {
		return math.Hypot(float64(p.list[i].x1-p.list[i].x0), float64(p.list[i].y1-p.list[i].y0)) < least
	})
}

// long reports whether a piece is as long as a line, px of the small copy.
func (q piece) long() bool {
	w, h := q.x1-q.x0, q.y1-q.y0
	return w*w+h*h >= paleLine*paleLine
}

// attachedLines are the places of the small copy, and lineRim about them, of lines
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
	about, err := dark.grownIn(dark, 0, attachedReach)
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
	if ruled, err := some.ruled(attachedRules); ruled || err != nil {
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
	if both, err = both.grownIn(both, 0, attachedGap); err != nil {
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
	return lines.grownIn(lines, 0, attachedReach)
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

// ruled reports whether at least so many lines run evenly apart across the sheet.
func (b *Bitmap) ruled(least int) (bool, error) {
	found, err := straightLines(b, rulingPiece*float64(max(b.W, b.H)), rulingGap)
	if err != nil || len(found) == 0 {
		return false, err
	}
	places, _, _ := evenlyApart(found, geom.Pt(float64(b.W), float64(b.H)), least)
	return places != nil, nil
}

// withoutRules takes out of the places of faint lines those of lines evenly apart
// across the sheet: rules too pale for a ruling that dark ink lies on.
func (b *Bitmap) withoutRules() error {
	rest, err := straightLines(b, rulingPiece*float64(max(b.W, b.H)), rulingGap)
	if err != nil {
		return err
	}
	m := b.mat()
	defer m.Close()
	size := geom.Pt(float64(b.W), float64(b.H))
	for range 2 { // along, and across
		var rules [][]rule
		if _, rules, rest = evenlyApart(rest, size, rulingLeast); rules == nil {
			return nil
		}
		for _, line := range rules {
			way := drawnOn(line, size.X+size.Y)
			for i := 1; i < len(way); i++ {
				p, q := way[i-1], way[i]
				gocv.Line(&m, image.Pt(int(p.X), int(p.Y)), image.Pt(int(q.X), int(q.Y)), color.RGBA{}, faintRule)
			}
		}
	}
	return nil
}

// plainInk is how dark what is darker than the paper by a share of pale usually is,
// 0 where nothing is.
func plainInk(even *Grey, pale float64) float64 {
	var all []float64
	for y := paleBorder; y < even.H-paleBorder; y++ {
		for _, v := range even.Pix[y*even.W+paleBorder : (y+1)*even.W-paleBorder] {
			if dark := 1 - float64(v)/evenWhite; dark > pale {
				all = append(all, dark)
			}
		}
	}
	return quantile(all, faintQuant)
}

// madNormal times the median distance from the median is the standard deviation
// of values that are spread normally.
const madNormal = 1.4826

// A response is how much darker than what lies beside it a line through each pixel
// is, as a share of the paper, in the direction, of lineTurns, in which that is most.
type response struct {
	value []float64
	turn  []uint8
}

func lineResponse(even *Grey) (response, error) {
	src, dark := even.mat(), gocv.NewMat()
	defer src.Close()
	defer dark.Close()
	src.ConvertToWithParams(&dark, gocv.MatTypeCV32F, -1.0/evenWhite, 1)
	each, errs := make([][]float32, lineTurns), make([]error, lineTurns)
	parallel.Each(lineTurns, func(k int) {
		kernel, one := linePattern(turned(k)), gocv.NewMat()
		defer kernel.Close()
		defer one.Close()
		gocv.Filter2D(dark, &one, -1, kernel, image.Pt(-1, -1), 0, gocv.BorderReplicate)
		pix, err := one.DataPtrFloat32()
		each[k], errs[k] = slices.Clone(pix), err
	})
	r := response{make([]float64, len(even.Pix)), make([]uint8, len(even.Pix))}
	for k, pix := range each {
		for i, v := range pix {
			if k == 0 || float64(v) > r.value[i] {
				r.value[i], r.turn[i] = float64(v), uint8(k)
			}
		}
	}
	return r, errors.Join(errs...)
}

// turned is the angle of a direction, radians.
func turned(k int) float64 { return math.Pi * float64(k) / lineTurns }

// linePattern is the filter for lines at an angle, radians: the second derivative of
// a Gaussian across, a Gaussian along. Its positive weights add up to 1, its
// negative ones to -1.
func linePattern(angle float64) gocv.Mat {
	const side = 2*lineHalf + 1
	m := gocv.NewMatWithSize(side, side, gocv.MatTypeCV32F)
	sin, cos := math.Sincos(angle)
	var weights [side * side]float64
	sum := [2]float64{}
	for i := range weights {
		x, y := float64(i%side-lineHalf), float64(i/side-lineHalf)
		if math.Hypot(x, y) > lineHalf {
			continue
		}
		along, off := x*cos+y*sin, (y*cos-x*sin)/lineSide
		weights[i] = (1 - off*off) * math.Exp(-off*off/2-along*along/(2*lineLong*lineLong))
		if weights[i] > 0 {
			sum[0] += weights[i]
		} else {
			sum[1] -= weights[i]
		}
	}
	for i, w := range weights {
		if w > 0 {
			w /= sum[0]
		} else {
			w /= sum[1]
		}
		m.SetFloatAt(i/side, i%side, float32(w))
	}
	return m
}
