package vision

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"inkchannel/geom"
)

// What a dot may look like and where it may be.
const (
	placeReach    = 3    // mm from a place by hand within which a dot is meant
	placesApart   = 2    // mm: places by hand nearer to each other are one
	sizeSlack     = 1.5  // times by which a dot's size may be off: a little over √2, one A size to the next,
	sizeSlackFree = 2.5  // or more where no sheet of known size gives a scale
	sizeBlur      = 1.15 // times by which blur and threshold may have its size off, at the true scale
	usualLeast    = 2.2  // mm: dots of 3 to 5 mm are asked for,
	usualMost     = 6.5  // and hands are not exact
	usualAlike    = 1.6  // times by which two drawn by one hand differ
	longDot       = 1.6  // times as long as wide: longer is a dash
	dotCore       = 0.35 // of a dot's diameter about its centre that must be filled: its rim may be ragged
	mostHollow    = 0.02 // of its area that may lack ink there: with more it is a ring
)

// A ScaleFrom is what tells the drawing's scale.
type ScaleFrom string

// What FindDots takes the scale from.
const (
	ScaleDots  ScaleFrom = "dots"
	ScalePaper ScaleFrom = "paper" // the size of the page; there need be no dots
	ScaleFile  ScaleFrom = "file"  // what the picture's file states; there need be no dots
	ScaleSize  ScaleFrom = "size"  // the size that is asked for; the scale is a guess until then
)

// DotSettings tune FindDots.
type DotSettings struct {
	From     ScaleFrom    // what tells the scale; if the paper, the rest does not count
	Distance float64      // mm between the two dots' centres
	Smallest float64      // mm, least diameter
	Largest  float64      // mm, greatest diameter
	Round    float64      // share of its circumscribed circle a dot fills, 0 to 1
	Clear    float64      // mm around a dot without other ink
	Places   []geom.Point // px in the sheet's picture: the two dots by hand; none to look for them
}

// DefaultDots returns the settings for dots 100 mm apart.
func DefaultDots() DotSettings {
	return DotSettings{From: ScaleDots, Distance: 100, Smallest: 1.2, Largest: 9, Round: 0.68, Clear: 2}
}

// A Spot is a round, filled, isolated piece of ink.
type Spot struct {
	Centre geom.Point // px in the sheet's picture
	Size   float64    // px, diameter of the disc of the same area
	Round  float64    // share of the circumscribed circle that is filled
	piece  int        // of the ink, counted from 1; 0 for a place given by hand
}

// A Dots is the pair of reference dots and the scale they give. Where the paper tells the
// scale there is no pair.
type Dots struct {
	Pair       [2]Spot
	PxPerMm    float64
	Candidates []Spot // all that looked like dots, the pair among them
	// PageOff is how far the page's own scale is from the dots' (+0.02: the
	// dots make the sheet 2 % larger); only where Page is known.
	PageOff float64
	Page    Page // the page that fits the dots best, of the sheet's shape
	Rest    *Ink // the ink without the two dots
}

// A DotError says why no pair of dots could be settled on.
type DotError struct {
	Reason     string
	Candidates []Spot // what was seen, in px of the sheet's picture
}

// Error is the reason.
func (e *DotError) Error() string { return e.Reason }

// pageFit is how far from 100 mm (as a share) the pair may be by the page's
// scale to be taken when other candidates are about, and pageMiss how far when
// there are none.
const pageFit, pageMiss = 0.03, 0.12

// FindDots finds the two reference dots, sets the scale, and returns the ink
// without them; ink itself is left as it is. pxPerMm is the scale by the page;
// page is the sheet's page, whose scale is only relied on when it is not
// PageFree.
//
// It returns a *DotError when there are too few candidates or when it cannot
// tell which two are meant, and an error for a scale from a page of unknown size.
func FindDots(ink *Ink, page Page, pxPerMm float64, s DotSettings) (Dots, error) {
	if s.From == ScalePaper {
		if _, _, ok := page.Size(); !ok {
			return Dots{}, errors.New(
				"the scale is to come from the paper, but no whole sheet of a known size was found; photograph the " +
					"whole sheet, give its corners by hand, or draw two dots",
			)
		}
		return Dots{PxPerMm: pxPerMm, Page: page, Rest: ink}, nil
	}
	if s.From == ScaleSize || s.From == ScaleFile {
		return Dots{PxPerMm: pxPerMm, Page: PageFree, Rest: ink}, nil
	}
	all := piecesOf(ink.Mask, 1, true)
	spots := roundSpots(all, ink.Mask, pxPerMm, page, s)
	d := Dots{Candidates: spots}
	if len(s.Places) == 2 {
		for i, p := range s.Places {
			d.Pair[i] = spotAt(spots, p, placeReach*pxPerMm)
		}
		if d.Pair[0].Centre.Dist(d.Pair[1].Centre) < placesApart*pxPerMm {
			return d, &DotError{"the two dots given by hand are in the same place", spots}
		}
	} else {
		var err error
		if d.Pair, err = choosePair(spots, page, geom.Pt(float64(ink.Mask.W), float64(ink.Mask.H)), pxPerMm, s.Distance); err != nil {
			return d, err
		}
	}
	if d.Pair[0].Centre.X > d.Pair[1].Centre.X {
		d.Pair[0], d.Pair[1] = d.Pair[1], d.Pair[0]
	}
	apart := d.Pair[0].Centre.Dist(d.Pair[1].Centre)
	d.PxPerMm = apart / s.Distance
	if len(s.Places) == 0 {
		if err := s.sizesFit(d); err != nil {
			return d, err
		}
	}
	d.Page, d.PageOff = bestPage(page, pxPerMm, apart, s.Distance)
	d.Rest = ink.without(all, func(k int) bool { return k+1 == d.Pair[0].piece || k+1 == d.Pair[1].piece })
	return d, nil
}

// sizesFit refuses a pair whose own distance makes them too small or too large for dots: full stops, or
// spots near each other.
func (s DotSettings) sizesFit(d Dots) error {
	for _, p := range d.Pair {
		if mm := p.Size / d.PxPerMm; mm < s.Smallest/sizeBlur || mm > s.Largest*sizeBlur {
			return &DotError{
				fmt.Sprintf(
					"the two round spots found are no dots: if they are %g mm apart, one is %.1f mm wide, not %g to %g mm", s.Distance, mm,
					s.Smallest, s.Largest,
				),
				d.Candidates,
			}
		}
	}
	return nil
}

// without is the ink less those of its pieces that which names; ink stays as it is.
func (ink *Ink) without(all *pieces, which func(piece int) bool) *Ink {
	rest := *ink
	rest.Mask = &Bitmap{ink.Mask.W, ink.Mask.H, slices.Clone(ink.Mask.Pix)}
	all.set(rest.Mask, 0, which)
	return &rest
}

// roundSpots lists the round, filled, isolated pieces of ink, from left to
// right.
func roundSpots(all *pieces, mask *Bitmap, pxPerMm float64, page Page, s DotSettings) []Spot {
	// The page's size may be off by the step from one A size to the next, a
	// sheet that was not found by more.
	slack := sizeSlack
	if page == PageFree {
		slack = sizeSlackFree
	}
	var spots []Spot
	for i, q := range all.list {
		area := float64(q.area)
		size := 2 * math.Sqrt(area/math.Pi)
		if size < s.Smallest*pxPerMm/slack || size > s.Largest*pxPerMm*slack {
			continue
		}
		sp := Spot{Centre: geom.Pt(q.sumX/area, q.sumY/area), Size: size, piece: i + 1}
		w, h := q.x1-q.x0, q.y1-q.y0
		if float64(max(w, h)) > longDot*float64(min(w, h)) {
			continue
		}
		if sp.Round = roundness(all, q, sp); sp.Round < s.Round {
			continue
		}
		if !isolated(all, mask, sp, s.Clear*pxPerMm/slack) {
			continue
		}
		spots = append(spots, sp)
	}
	sort.Slice(spots, func(i, j int) bool { return spots[i].Centre.X < spots[j].Centre.X })
	return spots
}

// roundness is the spot's share of its circumscribed circle about its centre,
// 0 if it is hollow.
func roundness(all *pieces, q piece, sp Spot) float64 {
	far, hollow := 0.0, 0
	for y := q.y0; y < q.y1; y++ {
		for x := q.x0; x < q.x1; x++ {
			d := sp.Centre.Dist(geom.Pt(float64(x)+0.5, float64(y)+0.5))
			switch {
			case all.at(x, y) == sp.piece-1:
				far = max(far, d)
			case d < dotCore*sp.Size:
				hollow++
			}
		}
	}
	area := math.Pi / 4 * sp.Size * sp.Size
	if float64(hollow) > mostHollow*area {
		return 0
	}
	return min(area/(math.Pi*far*far), 1)
}

// isolated reports whether no other ink lies within clear px of the spot.
func isolated(all *pieces, mask *Bitmap, sp Spot, clear float64) bool {
	r := int(sp.Size/2 + clear)
	cx, cy := int(sp.Centre.X), int(sp.Centre.Y)
	for y := max(cy-r, 0); y <= min(cy+r, mask.H-1); y++ {
		for x := max(cx-r, 0); x <= min(cx+r, mask.W-1); x++ {
			if mask.Pix[y*mask.W+x] != 0 && (x-cx)*(x-cx)+(y-cy)*(y-cy) <= r*r && all.at(x, y) != sp.piece-1 {
				return false
			}
		}
	}
	return true
}

// spotAt is the candidate nearest to p within reach px, else p itself.
func spotAt(spots []Spot, p geom.Point, reach float64) Spot {
	best := Spot{Centre: p}
	for _, sp := range spots {
		if d := sp.Centre.Dist(p); d < reach {
			best, reach = sp, d
		}
	}
	return best
}

// choosePair settles on two of the candidates on a sheet of that size, px.
func choosePair(spots []Spot, page Page, sheet geom.Point, pxPerMm, distance float64) ([2]Spot, error) {
	if len(spots) < 2 {
		return [2]Spot{}, &DotError{fmt.Sprintf("%s found where two are needed", count(len(spots), "reference dot")), spots}
	}
	if page == PageFree {
		if len(spots) > 2 {
			return [2]Spot{}, &DotError{
				fmt.Sprintf(
					"%d spots look like reference dots, and without a known page size it is not clear which two "+
						"are meant", len(spots),
				),
				spots,
			}
		}
		return [2]Spot{spots[0], spots[1]}, nil
	}
	// The page's own size first; the next A size only if no pair fits that.
	fits := pairsThatFit(spots, func(apart float64) float64 { return distance*pxPerMm/apart - 1 })
	if len(fits) == 0 {
		fits = pairsThatFit(spots, func(apart float64) float64 {
			_, off := bestPage(page, pxPerMm, apart, distance)
			return off
		})
	}
	if usual := slices.DeleteFunc(slices.Clone(fits), func(f [2]Spot) bool { return !usualPair(f, pxPerMm) }); len(usual) == 1 {
		return usual[0], nil // the others are full stops, or dots on letters
	}
	switch {
	case len(fits) == 1:
		return fits[0], nil
	case len(fits) > 1:
		return [2]Spot{}, &DotError{
			fmt.Sprintf("%d pairs of spots are %g mm apart and may be the reference dots", len(fits), distance),
			spots,
		}
	case len(spots) == 2 && punched(spots[0].Centre.Mul(1/pxPerMm), spots[1].Centre.Mul(1/pxPerMm), sheet.X/pxPerMm, sheet.Y/pxPerMm):
		return [2]Spot{}, &DotError{
			fmt.Sprintf("the two round spots found are %.0f mm apart along an edge, as punched holes are", spots[0].Centre.Dist(spots[1].Centre)/pxPerMm),
			spots,
		}
	case len(spots) == 2:
		apart := spots[0].Centre.Dist(spots[1].Centre)
		if _, off := bestPage(page, pxPerMm, apart, distance); math.Abs(off) > pageMiss {
			return [2]Spot{}, &DotError{
				fmt.Sprintf(
					"the two round spots found are %.0f mm apart on the %s sheet, not %g mm", apart/pxPerMm, page,
					distance,
				),
				spots,
			}
		}
		return [2]Spot{spots[0], spots[1]}, nil
	}
	return [2]Spot{}, &DotError{
		fmt.Sprintf(
			"%d spots look like reference dots, but no two are %g mm apart on the %s sheet", len(spots), distance,
			page,
		),
		spots,
	}
}

// Usual tells whether a spot is as large as dots are drawn; pxPerMm is the page's scale.
func (s Spot) Usual(pxPerMm float64) bool {
	return s.Size >= usualLeast*pxPerMm && s.Size <= usualMost*pxPerMm
}

// usualPair tells whether two spots are of the size that dots are drawn in, and alike.
func usualPair(p [2]Spot, pxPerMm float64) bool {
	return p[0].Usual(pxPerMm) && p[1].Usual(pxPerMm) &&
		max(p[0].Size, p[1].Size) <= usualAlike*min(p[0].Size, p[1].Size)
}

// pairsThatFit lists the pairs whose distance is near enough to what a page's
// scale makes of it; off tells by how much, as a share, it is not.
func pairsThatFit(spots []Spot, off func(apart float64) float64) [][2]Spot {
	var out [][2]Spot
	for i, a := range spots {
		for _, b := range spots[i+1:] {
			if math.Abs(off(a.Centre.Dist(b.Centre))) <= pageFit {
				out = append(out, [2]Spot{a, b})
			}
		}
	}
	return out
}

// bestPage tells, of the pages that share the sheet's shape, the one whose
// scale agrees best with two dots that are apart px and distance mm apart, and
// by how much the dots' sheet is larger than that page.
func bestPage(page Page, pxPerMm, apart, distance float64) (Page, float64) {
	if page == PageFree {
		return PageFree, 0
	}
	ratio := distance * pxPerMm / apart // the dots' sheet over the page
	best, off := page, ratio-1
	if page == PageA4 {
		if o := ratio/math.Sqrt2 - 1; math.Abs(o) < math.Abs(off) {
			best, off = PageA3, o
		}
	}
	return best, off
}

// count says n of a thing in words.
func count(n int, thing string) string {
	switch n {
	case 0:
		return "no " + thing
	case 1:
		return "only one " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
