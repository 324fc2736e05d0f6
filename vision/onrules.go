package vision

import (
	"cmp"
	"image"
	"image/color"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// How ink is told from the rules that it lies on. Common practice, no source, but for the shares, which are
// measured on photographs of ruled sheets.
const (
	bareTimes   = 1.2  // times the darkness that shows a rule alone is as dark as it gets
	bareAlike   = 1.8  // times the usual rule's darkness that a rule has at most
	bareInk     = 0.65 // or of the ink's, if that is more
	marginTimes = 1.1  // times how dark a margin is at most, but for strokes across it, is no ink
	aslantLeast = 1.5  // mm that a pale line off the rules runs across their direction at least,
	aslantShare = 0.25 // and of what it runs along it
	rulingBand  = 0.8  // mm about a rule's middle that are taken for it
	broadTimes  = 1.7  // times as much darkness across a rule as it has by itself there is with a stroke along it,
	broadFor    = 8    // mm of the rule, at least,
	broadGap    = 0.5  // mm of which may have less
	broadMost   = 6    // px of the copy to either side that count
	broadDark   = 0.5  // of the rules' darkness that is ink there,
	broadInk    = 0.65 // of the ink's that is as dark as it
)

// bands is how dark, of 255, a pixel of an evened picture at pxPerMm must be to
// be ink on or beside a rule; 0 elsewhere. Each rule is drawn on to the picture's
// edges. One darker than the others, as a margin's, asks for more.
func (r Ruling) bands(even *Grey, pxPerMm float64) (*Grey, error) {
	near, err := even.darkestWithin(int(r.step))
	if err != nil {
		return nil, err
	}
	b := NewGrey(even.W, even.H)
	m := b.mat()
	defer m.Close()
	far := float64(even.W+even.H) / r.step
	all := slices.Concat(r.rules, r.margins)
	ways, bare, through := make([]geom.Polyline, len(all)), make([]float64, len(all)), make([]bool, len(all))
	most := make([]float64, len(all))
	for i, line := range all {
		ways[i] = drawnOn(line, far)
		bare[i], most[i], through[i] = r.plainly(near, ways[i])
	}
	usual := median(slices.Clone(bare[:len(r.rules)]))
	type band struct {
		way        geom.Polyline
		need, wide float64
	}
	var drawn, broad []band
	for i, way := range ways {
		if i < len(r.rules) && !through[i] { // a stroke may run along most of one
			bare[i] = min(bare[i], max(bareAlike*usual, bareInk*r.ink))
		}
		need, wide := max(r.cut(), rulingAbove+bareTimes*bare[i]), rulingBand*pxPerMm
		if through[i] && (i >= len(r.rules) || bare[i] > bareAlike*usual) { // a margin, or a frame
			need = max(need, rulingAbove+marginTimes*most[i])
			wide += 2 * r.step // it was found to a pixel of the copy on either side
		}
		drawn = append(drawn, band{way, min(need, 1), wide})
	}
	for _, way := range r.broader(even, ways[:len(r.rules)], pxPerMm) {
		broad = append(broad, band{way, broadDark * r.Dark, rulingBand * pxPerMm})
	}
	// Where two cross the darker one decides.
	slices.SortStableFunc(drawn, func(a, b band) int { return cmp.Compare(a.need, b.need) })
	for _, d := range append(drawn, broad...) {
		mark := color.RGBA{B: uint8(255 * d.need)}
		for i := 1; i < len(d.way); i++ {
			gocv.Line(&m, r.of(d.way[i-1]), r.of(d.way[i]), mark, int(d.wide)|1)
		}
	}
	return b, nil
}

// broader are the stretches of rules that strokes as dark as they are run along: what is dark there is darker
// in all, across the rule, than it and the usual rule are by themselves.
func (r Ruling) broader(even *Grey, ways []geom.Polyline, pxPerMm float64) (out []geom.Polyline) {
	places, across, own := make([]geom.Polyline, len(ways)), make([][]float64, len(ways)), make([]float64, len(ways))
	for i, way := range ways {
		side := way[len(way)-1].Sub(way[0]).Unit().Perp()
		var all []float64
		for _, p := range way.Resampled(1) {
			if !r.of(p).In(image.Rect(0, 0, even.W, even.H)) {
				continue
			}
			sum, darkest := r.across(even, p, side)
			all = append(all, sum)
			if darkest < broadInk*r.ink {
				sum = 0
			}
			places[i], across[i] = append(places[i], p), append(across[i], sum)
		}
		own[i] = quantile(all, rulingBare)
	}
	usual := max(median(slices.Clone(own)), r.Dark*r.step) // at least of a line of one pixel of the copy
	gap, long := broadGap*pxPerMm/r.step, broadFor*pxPerMm/r.step
	for i := range ways {
		if own[i] > bareAlike*usual {
			continue // a frame
		}
		for _, run := range runsOver(across[i], broadTimes*max(own[i], usual), gap) {
			if float64(run[1]-run[0]) >= long {
				out = append(out, places[i][run[0]:run[1]])
			}
		}
	}
	return out
}

// runsOver are the stretches of a row that are over a least value, the first of each and the one behind its
// last, but for gaps of at most so many.
func runsOver(row []float64, least, gap float64) (runs [][2]int) {
	for i, v := range row {
		switch n := len(runs); {
		case v < least:
		case n > 0 && float64(i-runs[n-1][1]) <= gap:
			runs[n-1][1] = i + 1
		default:
			runs = append(runs, [2]int{i, i + 1})
		}
	}
	return runs
}

// across is how dark an evened picture is across a rule at a place: in all, the sum over the pixels that are no
// paper from the darkest near it on, and there.
func (r Ruling) across(even *Grey, at, side geom.Point) (sum, darkest float64) {
	dark := func(d float64) float64 { return even.darkness(r.of(at.Add(side.Mul(d / r.step)))) }
	best := 0.0
	for d := -rulingThick * r.step; d <= rulingThick*r.step; d++ {
		if dark(d) > dark(best) {
			best = d
		}
	}
	for d := best; d < best+broadMost*r.step && dark(d) > broadDark*r.Dark; d++ {
		sum += dark(d)
	}
	for d := best - 1; d > best-broadMost*r.step && dark(d) > broadDark*r.Dark; d-- {
		sum += dark(d)
	}
	return sum, dark(best)
}

// addAslant adds to what is plainly ink the pieces of what may be that run across the
// rules' directions, as no rule does that was not found.
func (r Ruling) addAslant(strong, weak *Bitmap, pxPerMm float64) {
	p := piecesOf(weak, 1, true)
	aslant := make([]bool, len(p.list))
	for i := range aslant {
		aslant[i] = true
	}
	for _, dir := range r.directions() {
		along, across := p.extents(dir), p.extents(dir.Perp())
		for i := range aslant {
			aslant[i] = aslant[i] && across[i] > max(aslantLeast*pxPerMm, aslantShare*along[i])
		}
	}
	p.set(strong, 1, func(i int) bool { return aslant[i] })
}

// directions are those that rules run in, one or two.
func (r Ruling) directions() (out []geom.Point) {
	var all []rule
	for _, line := range slices.Concat(r.rules, r.margins) {
		all = append(all, line...)
	}
	for len(all) > 0 {
		dir := commonDirection(all)
		out = append(out, dir)
		all = slices.DeleteFunc(all, func(q rule) bool { return alike(q, dir) })
	}
	return out
}
