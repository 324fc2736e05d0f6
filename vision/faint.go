package vision

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// Where no ink is much darker than the paper. Found on photographs that are out of
// focus, and of pale ballpoints.
const (
	faintInk     = 0.35  // darker than the paper, as a share: ink paler than this is faint, and
	faintOnRules = 0.25  // the same where rules are told from it
	faintRules   = 0.5   // times as dark as usual ones rules are at least where the ink is faint
	faintBlur    = 0.15  // mm, standard deviation of what then is averaged
	faintLeast   = 0.012 // darker than the paper: the least of a faint line's edge
	faintNear    = 2.0   // mm about a dark line within which a faint one
	faintShare   = 0.22  // is at least so much as dark: less is a rim of the dark one
	faintLong    = 8.0   // mm that a faint mark by itself is long at least,
	faintDark    = 0.5   // or it is so much as dark as the rest
	faintQuant   = 0.7   // quantile of the ink's darkness that is that of the rest
	lineWeak     = 3.5   // times the usual response of blank paper that a line goes on at,
	lineStrong   = 8.5   // and that one starts at
	weakShare    = 0.06  // of how dark what is plainly ink is, that a line has at least where it goes on,
	beginShare   = 0.15  // and where it starts: less is a stain or a crease
	faintRule    = 9     // px of the small copy that a faint rule is broad at most
	lineRim      = 2     // px about a line that are looked at closely
)

// isFaint tells whether a sheet most of whose marks are pale has no darker ink: a
// ruling, which it keeps, may outweigh what is drawn on it.
func (ink *Ink) isFaint(even *evened, pxPerMm float64) (bool, error) {
	whole := even.filled()
	small, err := whole.at(lookSide / float64(max(even.W, even.H)))
	if err != nil {
		return false, err
	}
	r, err := findRuling(whole, small, pxPerMm, 1)
	if r.ink < faintOnRules {
		return true, err
	}
	ink.Ruling = r
	return false, err
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

// dropFaint drops short pieces that are fainter than the rest: the paper's grain,
// and what a camera draws beside a line.
func (ink *Ink) dropFaint(p *pieces, pxPerMm float64) {
	most, all := make([]uint8, len(p.list)), []float64(nil)
	for _, r := range p.runs {
		for _, v := range ink.Level.Pix[r.y*ink.Level.W+r.x0 : r.y*ink.Level.W+r.x1] {
			most[r.piece] = max(most[r.piece], v)
			all = append(all, float64(v)-inkEdge)
		}
	}
	usual, long := quantile(all, faintQuant), faintLong*pxPerMm
	p.set(ink.Mask, 0, func(i int) bool {
		w, h := float64(p.list[i].x1-p.list[i].x0), float64(p.list[i].y1-p.list[i].y0)
		return math.Hypot(w, h) < long && float64(most[i])-inkEdge < faintDark*usual
	})
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
	return weak.grown(lineRim)
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
