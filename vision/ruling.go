package vision

import (
	"cmp"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// How a printed ruling is told from a drawing. Common practice, no source, but
// for the shares, which are measured on photographs of ruled and plain sheets.
const (
	lookSide      = 900   // px of the copy's longer side that is looked at: 3 px/mm of A4
	rulingDark    = 0.05  // share darker than the paper that a rule is at least
	rulingRidge   = 0.02  // share by which it is darker than what lies rulingBeside
	rulingBeside  = 2     // px to either side,
	rulingGrain   = 4     // times as much as the paper's grain makes
	grainShare    = 0.7   // of the places less than
	rulingPiece   = 0.12  // of the copy's longer side: the shortest stretch of a rule that is looked for
	rulingGap     = 12    // px that such a stretch may be interrupted, by strokes across it
	rulingTilt    = 4     // degrees between rules, which a tilted photograph lets converge
	rulingThick   = 2     // px between stretches that are one rule's,
	rulingBend    = 0.015 // px more for each px that lies between their ends: paper bends
	rulingSpan    = 0.3   // of the sheet that a rule's stretches cover at least
	marginSpan    = 0.4   // of the sheet that a margin's line covers at least
	rulingLeast   = 8     // rules, or it is no ruling
	rulingRegular = 0.6   // share of the distances that are whole multiples of the usual one,
	rulingStray   = 0.2   // to so much of it
	rulingMost    = 3     // times the usual distance: rules that were missed lie between
	combBetween   = 3     // lines to the next of the same side, where those of the back lie between
	rulingLevel   = 0.85  // quantile of the darkness along rules, which crossing strokes do not reach,
	rulingSpread  = 0.5   // times the way from the median to it further, where a rule ends,
	rulingClear   = 0.3   // quantile of that over the rules: strokes may run along, or over, most of them,
	rulingTimes   = 1.1   // times that of the usual rule, for others are darker
	rulingAbove   = 0.02  // share of the paper, the same for pale rules
	rulingInk     = 0.04  // share by which ink is darker than the rules at least
	rulingPaler   = 0.75  // of the ink's darkness that rules have at most
	rulingThrough = 0.67  // of the rules that run from edge to edge, and so are printed:
	printedPaler  = 0.9   // those may be nearly as dark as the ink
	rulingDrawing = 0.01  // of the rules' pixels that ink makes up at least, or the rules are the drawing
	rulingBare    = 0.3   // quantile of the darkness along a rule from edge to edge that shows the rule alone,
	throughBare   = 0.12  // quantile of the darkness along a line from edge to edge
	marginEven    = 0.6   // of how dark a margin is at most, that it is at least
	throughDark   = 0.5   // that is so much of its usual one at least
	inkOverRules  = 0.25  // of the way from the rules' darkness to the ink's, where the cut between them lies
)

// A Ruling is the lines or squares printed on a sheet.
type Ruling struct {
	Lines   int      // 0 for a plain sheet
	Spacing float64  // mm between neighbours
	Dark    float64  // how much darker than the paper the rules are at most, 0 to 1
	ink     float64  // how much darker the drawing is
	least   float64  // and at least
	step    float64  // px of the picture to one of the copy,
	rules   [][]rule // the stretches of each rule, in their order
	margins [][]rule // the same of single lines along or across them
}

// cut is the darkness that tells the drawing from the rules.
func (r Ruling) cut() float64 { return r.Dark + inkOverRules*(r.ink-r.Dark) }

// A rule is a stretch of a straight line, px of the copy.
type rule struct{ a, b geom.Point }

func (r rule) length() float64 { return r.a.Dist(r.b) }

// findRuling looks for at least rulingLeast straight lines across the sheet
// that lie evenly apart, and for ink darker than they are. Without such ink the
// lines are what is drawn, and there is no ruling. even is the evened picture,
// small its copy of lookSide, pxPerMm the picture's scale. Rules are looked for that are times as dark as
// usual ones at least: 1 but for faint ones.
func findRuling(even, small *Grey, pxPerMm, times float64) (Ruling, error) {
	ridges := ridgesOf(small, times)
	found, err := straightLines(ridges, rulingPiece*float64(max(small.W, small.H)), rulingGap)
	if err != nil {
		return Ruling{}, err
	}
	size := geom.Pt(float64(small.W), float64(small.H))
	lines, first, rest := evenlyApart(found, size, rulingLeast)
	if lines == nil {
		return Ruling{}, nil
	}
	across, second, rest := evenlyApart(rest, size, rulingLeast)
	k := float64(even.W) / float64(small.W)
	near, err := even.darkestWithin(int(rulingThick * k))
	if err != nil {
		return Ruling{}, err
	}
	r := Ruling{
		step:    k,
		least:   leastRuledCut * times,
		Lines:   len(lines) + len(across),
		Spacing: usualGap(lines) * k / pxPerMm,
		rules:   slices.Concat(first, second),
	}
	margins := longLines(rest, size, first[0][0])
	n := 0
	for _, rules := range [][][]rule{first, second} { // one may be darker
		dark, places := r.darkAlong(near, rules)
		r.Dark, n = max(r.Dark, dark), n+places
	}
	var ink []float64
	for i, v := range ridges.Pix {
		if v == 0 {
			continue
		}
		if d := near.darkness(r.of(geom.Pt(float64(i%small.W), float64(i/small.W)))); d > r.Dark+rulingInk {
			ink = append(ink, d)
		}
	}
	if float64(len(ink)) < rulingDrawing*float64(n) {
		return Ruling{}, nil
	}
	r.ink = median(ink)
	paler := rulingPaler
	if r.fromEdgeToEdge(near, size) >= rulingThrough {
		paler = printedPaler
	}
	if r.Dark > paler*r.ink {
		return Ruling{}, nil // a drawing's own lines, which differ a little
	}
	for _, line := range margins {
		// A line as dark as ink is drawn, unless it runs from edge to edge.
		_, _, through := r.plainly(near, drawnOn(line, size.X+size.Y))
		if through || r.along(near, line) <= rulingPaler*r.ink {
			r.margins = append(r.margins, line)
		}
	}
	return r, nil
}

// darkAlong is how dark rules are at most, 0 for none, and at how many places that was
// looked at. Strokes that cross a rule are few of its places; some rules bear none
// along them.
func (r Ruling) darkAlong(near *Grey, rules [][]rule) (dark float64, n int) {
	var levels []float64
	for _, s := range slices.Concat(rules...) {
		var at []float64
		dir := s.b.Sub(s.a).Unit()
		for d := 0.0; d < s.length(); d++ {
			at = append(at, near.darkness(r.of(s.a.Add(dir.Mul(d)))))
		}
		mid, high := median(at), quantile(at, rulingLevel)
		levels, n = append(levels, high+rulingSpread*(high-mid)), n+len(at)
	}
	if n == 0 {
		return 0, 0
	}
	return rulingAbove + rulingTimes*quantile(levels, rulingClear), n
}

// spanOf is the share of the sheet that the stretches of a line cover.
func spanOf(line []rule, size geom.Point) float64 {
	dir := line[0].b.Sub(line[0].a).Unit()
	return covered(line, dir) / (math.Abs(dir.X)*size.X + math.Abs(dir.Y)*size.Y)
}

// along is how dark the stretches of a line usually are.
func (r Ruling) along(near *Grey, line []rule) float64 {
	var at []float64
	for _, s := range line {
		for _, p := range (geom.Polyline{s.a, s.b}).Resampled(1) {
			at = append(at, near.darkness(r.of(p)))
		}
	}
	return median(at)
}

// fromEdgeToEdge is the share of the rules that run across all of a copy of that size.
func (r Ruling) fromEdgeToEdge(near *Grey, size geom.Point) float64 {
	n := 0
	for _, line := range r.rules {
		if _, _, ok := r.plainly(near, drawnOn(line, size.X+size.Y)); ok {
			n++
		}
	}
	return float64(n) / float64(len(r.rules))
}

// of is the pixel of the picture at a place of the copy.
func (r Ruling) of(p geom.Point) image.Point {
	return image.Pt(int((p.X+0.5)*r.step), int((p.Y+0.5)*r.step))
}

// darkness is how much darker than paper an evened picture is at a pixel, or at
// the nearest that it has, 0 to 1.
func (g *Grey) darkness(p image.Point) float64 {
	x, y := min(max(p.X, 0), g.W-1), min(max(p.Y, 0), g.H-1)
	return 1 - float64(g.Pix[y*g.W+x])/evenWhite
}

// drawnOn is the way along a rule's stretches, and on at both ends.
func drawnOn(line []rule, far float64) geom.Polyline {
	first := line[0]
	dir := first.b.Sub(first.a).Unit()
	way := geom.Polyline{first.a.Sub(dir.Mul(far)), first.a}
	for _, s := range line {
		for _, p := range []geom.Point{s.a, s.b} {
			if p.Sub(way[len(way)-1]).Dot(dir) > 0 { // a broad line has several side by side
				way = append(way, p)
			}
		}
	}
	return append(way, way[len(way)-1].Add(dir.Mul(far)))
}

// plainly is how dark the picture is on the way where nothing is drawn along
// it: at most places. A stroke along a rule may be half as long as the sheet. It is
// through if the way is about as dark from edge to edge, so that it is printed; most
// is how dark it is at most, but for strokes across it, if it is even.
func (r Ruling) plainly(near *Grey, way geom.Polyline) (dark, most float64, through bool) {
	var all []float64
	for _, p := range way.Resampled(1) {
		if q := r.of(p); q.In(image.Rect(0, 0, near.W, near.H)) {
			all = append(all, near.darkness(q))
		}
	}
	dark = quantile(all, rulingBare)
	least := quantile(all, throughBare)
	if most = quantile(all, rulingLevel); least < marginEven*most {
		most = dark // a stroke along part of it
	}
	return dark, most, least > throughDark*dark
}

// at is the picture at a scale, averaged where it shrinks.
func (g *Grey) at(scale float64) (*Grey, error) {
	w, h := max(int(float64(g.W)*scale), 1), max(int(float64(g.H)*scale), 1)
	src, m := g.mat(), gocv.NewMat()
	defer src.Close()
	defer m.Close()
	gocv.Resize(src, &m, image.Pt(w, h), 0, 0, gocv.InterpolationArea)
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	return &Grey{w, h, slices.Clone(pix)}, nil
}

// ridgesOf are the pixels darker than paper and than what lies to both sides of
// them, across or down, by times as much as a usual rule's.
func ridgesOf(g *Grey, times float64) *Bitmap {
	dark, ridge := evenWhite*(1-rulingDark*times), evenWhite*rulingRidge*times
	above := make([]uint8, len(g.Pix)) // what lies beside is lighter by
	var hist [256]int
	for y := rulingBeside; y < g.H-rulingBeside; y++ {
		for x := rulingBeside; x < g.W-rulingBeside; x++ {
			i := y*g.W + x
			across := min(g.Pix[i-rulingBeside], g.Pix[i+rulingBeside])
			down := min(g.Pix[i-rulingBeside*g.W], g.Pix[i+rulingBeside*g.W])
			above[i] = max(across, down, g.Pix[i]) - g.Pix[i]
			hist[above[i]]++
		}
	}
	ridge = max(ridge, rulingGrain*float64(levelBelow(hist[:], grainShare)))
	b := NewBitmap(g.W, g.H)
	for i, v := range g.Pix {
		if float64(v) < dark && float64(above[i]) > ridge {
			b.Pix[i] = 1
		}
	}
	return b
}

// straightLines are stretches of straight lines in b, at least so many px long
// and with gaps of so many, by the probabilistic Hough transform (Matas,
// Galambos, Kittler 2000; OpenCV's).
func straightLines(b *Bitmap, least, gap float64) ([]rule, error) {
	src, m := b.mat(), gocv.NewMat()
	defer src.Close()
	defer m.Close()
	gocv.HoughLinesPWithParams(src, &m, 1, math.Pi/360, int(least/2), float32(least), float32(gap))
	var out []rule
	for i := range m.Rows() {
		v := m.GetVeciAt(i, 0)
		out = append(out, rule{geom.Pt(float64(v[0]), float64(v[1])), geom.Pt(float64(v[2]), float64(v[3]))})
	}
	return out, nil
}

// evenlyApart returns the places, along their common normal, of the rules of
// the direction that has most line, the stretches they are made of in their
// order, and the other stretches. Places are nil where those rules are no ruling, of
// at least so many.
func evenlyApart(all []rule, size geom.Point, least int) (places []float64, of [][]rule, rest []rule) {
	dir := commonDirection(all)
	var along []rule
	for _, r := range all {
		if !alike(r, dir) {
			rest = append(rest, r)
			continue
		}
		if r.b.Sub(r.a).Dot(dir) < 0 {
			r.a, r.b = r.b, r.a
		}
		along = append(along, r)
	}
	span := rulingSpan * (math.Abs(dir.X)*size.X + math.Abs(dir.Y)*size.Y)
	var found []rulingLine
	for _, line := range collinear(along) {
		longest := slices.MaxFunc(line, func(p, q rule) int { return cmp.Compare(p.length(), q.length()) })
		if covered(line, dir) >= span {
			found = append(found, rulingLine{longest.crossing(size.Mul(0.5), dir), line})
		}
	}
	slices.SortFunc(found, func(a, b rulingLine) int { return cmp.Compare(a.place, b.place) })
	if places = placesOf(found); !regular(places) {
		on := comb(places)
		var kept []rulingLine
		for i, l := range found {
			if slices.Contains(on, i) {
				kept = append(kept, l)
			} else {
				rest = append(rest, l.stretches...)
			}
		}
		found, places = kept, placesOf(kept)
	}
	if len(places) < least || !regular(places) {
		return nil, nil, all
	}
	for _, l := range found {
		of = append(of, l.stretches)
	}
	return places, of, rest
}

// A rulingLine is a line that may be a rule, and where it lies along the rules' normal.
type rulingLine struct {
	place     float64
	stretches []rule
}

func placesOf(lines []rulingLine) (out []float64) {
	for _, l := range lines {
		out = append(out, l.place)
	}
	return out
}

// comb are those of sorted places that lie evenly apart where those of another ruling lie between
// them: that of the paper's back, which shines through.
func comb(places []float64) (best []int) {
	most := 1
	for apart := 1; apart <= combBetween && apart < len(places); apart++ {
		var gaps []float64
		for i := apart; i < len(places); i++ {
			gaps = append(gaps, places[i]-places[i-apart])
		}
		gap := median(gaps)
		for start := range min(combBetween, len(places)) {
			if teeth, n := teethFrom(places, start, gap); n > most {
				best, most = teeth, n
			}
		}
	}
	return best
}

// teethFrom are the places from one of them on that lie gap apart, but for some that were missed;
// and how many of them have a neighbour before them.
func teethFrom(places []float64, start int, gap float64) (teeth []int, n int) {
	teeth = []int{start}
	for times := 1.0; times <= rulingMost; {
		want := places[teeth[len(teeth)-1]] + times*gap
		i, _ := slices.BinarySearch(places, want)
		if i == len(places) || i > 0 && want-places[i-1] < places[i]-want {
			i--
		}
		if math.Abs(places[i]-want) < rulingStray*gap {
			if teeth = append(teeth, i); times == 1 {
				n++
			}
			times = 1
		} else {
			times++
		}
	}
	return teeth, n
}

// longLines are the lines along or across a ruling over much of the sheet: a
// margin's, or what is drawn.
func longLines(all []rule, size geom.Point, ruling rule) (out [][]rule) {
	along := ruling.b.Sub(ruling.a).Unit()
	for _, line := range collinear(all) {
		dir := line[0].b.Sub(line[0].a).Unit()
		if !alike(line[0], along) && !alike(line[0], along.Perp()) {
			continue
		}
		for i, r := range line {
			if r.b.Sub(r.a).Dot(dir) < 0 {
				line[i] = rule{r.b, r.a}
			}
		}
		if spanOf(line, size) >= marginSpan {
			out = append(out, line)
		}
	}
	return out
}

// covered puts the stretches of a line in their order along it, and returns how
// much of it they cover; a broad line has several side by side.
func covered(line []rule, dir geom.Point) (length float64) {
	slices.SortFunc(line, func(p, q rule) int { return cmp.Compare(p.a.Dot(dir), q.a.Dot(dir)) })
	end := math.Inf(-1)
	for _, r := range line {
		from, to := r.a.Dot(dir), r.b.Dot(dir)
		length += max(to-max(from, end), 0)
		end = max(end, to)
	}
	return length
}

// collinear gathers stretches of about one direction to lines.
func collinear(all []rule) [][]rule {
	set := geom.NewForest(len(all))
	for i, r := range all {
		for j, q := range all[:i] {
			if r.leadsTo(q) && q.leadsTo(r) {
				set.Join(j, i)
			}
		}
	}
	of, n := set.Numbers()
	lines := make([][]rule, n)
	for i, r := range all {
		lines[of[i]] = append(lines[of[i]], r)
	}
	return lines
}

// leadsTo reports whether the line of r, drawn on, meets the near end of q.
func (r rule) leadsTo(q rule) bool {
	dir := r.b.Sub(r.a).Unit()
	near := func(p geom.Point) (gap, off float64) {
		s := p.Sub(r.a).Dot(dir)
		return max(-s, s-r.length(), 0), math.Abs(p.Sub(r.a).Dot(dir.Perp()))
	}
	gap, off := near(q.a)
	if g, o := near(q.b); g < gap || g == gap && o < off {
		gap, off = g, o
	}
	return off < rulingThick+rulingBend*gap
}

// crossing is how far along the normal of dir, from the middle, the line of r
// crosses that normal.
func (r rule) crossing(middle, dir geom.Point) float64 {
	a, d := r.a.Sub(middle), r.b.Sub(r.a)
	return a.Add(d.Mul(-a.Dot(dir) / d.Dot(dir))).Dot(dir.Perp())
}

// commonDirection is that of the stretch with most length alongside it.
func commonDirection(all []rule) geom.Point {
	best, most := geom.Pt(1, 0), 0.0
	for _, r := range all {
		dir, sum := r.b.Sub(r.a).Unit(), 0.0
		for _, q := range all {
			if alike(q, dir) {
				sum += q.length()
			}
		}
		if sum > most {
			best, most = dir, sum
		}
	}
	return best
}

// alike reports whether a stretch runs in a direction, either way.
func alike(r rule, dir geom.Point) bool {
	return math.Abs(r.b.Sub(r.a).Unit().Dot(dir)) > math.Cos(geom.Radians(rulingTilt))
}

// usualGap is the median distance of neighbouring places.
func usualGap(places []float64) float64 {
	var gaps []float64
	for i := 1; i < len(places); i++ {
		gaps = append(gaps, places[i]-places[i-1])
	}
	return median(gaps)
}

// regular reports whether most neighbouring places lie the usual distance apart,
// or a small multiple of it.
func regular(places []float64) bool {
	if len(places) < 2 {
		return false
	}
	usual, good := usualGap(places), 0
	for i := 1; i < len(places); i++ {
		n := (places[i] - places[i-1]) / usual
		if whole := math.Round(n); whole >= 1 && whole <= rulingMost && math.Abs(n-whole) < rulingStray {
			good++
		}
	}
	return float64(good) >= rulingRegular*float64(len(places)-1)
}
