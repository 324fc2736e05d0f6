package vision

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"inkchannel/geom"
)

// How a stroke's ink is looked at.
const (
	penStep         = 1     // mm from one place along a stroke to the next
	acrossStep      = 0.1   // mm from one place across a stroke to the next, where its core is sought
	besideInk       = 1.5   // mm, well clear of the ink's edge
	leastPaperLight = 0.003 // of 1, linear, in each channel: to darker paper no ink can be compared
)

// What tells pens apart. The weights and least values are measured on
// photographs of one-pen drawings, whose strokes must stay one pen's.
const (
	fullCover     = 0.92 // of the light a pen takes in its strongest channel where it covers the paper whole
	lightWeight   = 0.15 // of a difference in lightness: one pen presses hard and lightly, dries and blots
	leastTaken    = 0.2  // of the light: what takes less is too pale for a hue of its own,
	surelyTaken   = 0.32 // and what takes less than so much shows its hue less surely
	leastOwn      = 8    // mm of line that show a colour, for a pen of its own;
	hardlyAny     = 0.05 // of the line in all; so little of a hardly different colour, in short marks, is no pen's:
	hardlySeen    = 0.01 // or of one that differs somewhat more
	shortMark     = 0.02 // of the line in all, if that is more than the 8 mm
	leastPlaces   = 3    // places along a stroke, for a colour that can be trusted
	leastVivid    = 15   // of an ink's chroma, for a hue to go by
	lightestBlack = 50   // of an ink's lightness, up to which what has no hue is black,
	lightestBrown = 48   // and what has orange's hue brown,
	darkestYellow = 60   // and the least of what it is with the paper covered, to be yellow: no such ink is dark
	hueSpread     = 15   // degrees between hues that one pen shows, pressed more and less

	linedStray  = 0.02 // of its length, that a printed line strays from straight on paper that is not flat
	linedBits   = 0.05 // of all that such a pen drew, which may lie elsewhere
	withSecond  = 1.5  // times the least length that a printed line has that another may cross
	linedSquare = 8    // degrees that two margins are off square, seen askew
	likeWay     = 20   // degrees between pieces of one line

	unshownWeight = 1e-6 // in a pen's colour of a stroke that shows none: it only counts where no other does
)

// ClearGap is how many times the least difference two pens' colours differ at least if they are
// more than hardly different. Found on real photographs of one pen.
const ClearGap = 1.3

// PenSettings tune FindPens.
type PenSettings struct {
	// Apart is how different two pens' colours are at least: the distance in
	// CIELAB (ΔE*ab, CIE 15). 0 takes all strokes for one pen's.
	Apart float64
}

// DefaultPens returns settings that tell felt pens apart.
func DefaultPens() PenSettings { return PenSettings{Apart: 25} }

// A Lab is a colour in CIELAB for daylight (D65): lightness 0 to 100, green to
// red, blue to yellow.
type Lab struct{ L, A, B float64 }

// Dist returns the distance ΔE*ab (CIE 1976).
func (c Lab) Dist(d Lab) float64 {
	return math.Sqrt((c.L-d.L)*(c.L-d.L) + (c.A-d.A)*(c.A-d.A) + (c.B-d.B)*(c.B-d.B))
}

// A Pen is one colour of the drawing.
type Pen struct {
	Name   string // of the colour in common words
	Colour Lab    // on white paper in daylight
	Length float64
}

// Pens are a drawing's pens, the one that drew most first.
type Pens struct {
	All []Pen
	Of  []int // pen of each stroke
	// Gap is how different the two pens nearest in colour are, as FindPens
	// compares them; infinite for one pen.
	Gap float64
	// Shown is the share of the line that shows its colour; the rest is too pale
	// or too short.
	Shown float64
}

// Lined tells whether all that pen k drew, of at least two strokes of n, lies along one
// straight line of the given length or more, mm: so does what is left of a printed margin.
// Beside a line half as long again there may be another at right angles to it, as where
// margins cross, and bits of what the printed line passes.
func (p Pens) Lined(k int, n geom.Network, least float64) bool {
	var runs []geom.Polyline
	strokes, length := 0, 0.0
	for i, st := range n.Strokes {
		if p.Of[i] == k {
			strokes, length = strokes+1, length+st.Length()
			runs = append(runs, st.Runs...)
		}
	}
	if strokes < 2 {
		return false
	}
	bits := func(rest []geom.Polyline) bool {
		long := slices.ContainsFunc(rest, func(r geom.Polyline) bool { return r.Length() >= leastOwn })
		return !long && geom.TotalLength(rest) < linedBits*length
	}
	first, rest := lineOf(runs)
	if long := first.Length(); bits(rest) || long < withSecond*least {
		return bits(rest) && long >= least
	}
	second, rest := lineOf(rest)
	along, across := first[1].Sub(first[0]), second[1].Sub(second[0])
	return bits(rest) && math.Abs(along.Unit().Dot(across.Unit())) < math.Sin(geom.Radians(linedSquare))
}

// lineOf is the straight line that runs lie along, as far as they run like the longest of them, and
// the runs that do not lie along it.
func lineOf(runs []geom.Polyline) (line geom.Polyline, rest []geom.Polyline) {
	longest := slices.MaxFunc(runs, func(a, b geom.Polyline) int { return cmp.Compare(a.Length(), b.Length()) })
	way := longest[len(longest)-1].Sub(longest[0])
	var ends []geom.Point
	for _, r := range runs {
		if a := r[len(r)-1].Sub(r[0]).Angle(way); a < likeWay || a > 180-likeWay {
			ends = append(ends, r[0], r[len(r)-1])
		}
	}
	line = farthest(ends)
	for _, r := range runs {
		if slices.ContainsFunc(r, func(q geom.Point) bool { return line.DistanceTo(q) > linedStray*line.Length() }) {
			rest = append(rest, r)
		}
	}
	return line, rest
}

// Without is p and n without pen k and what it drew; Gap stays what it was if two pens
// or more remain.
func (p Pens) Without(k int, n geom.Network) (Pens, geom.Network) {
	out := n
	out.Strokes = nil
	of := p.Of
	p.Of = nil
	for i, st := range n.Strokes {
		if of[i] == k {
			continue
		}
		out.Strokes = append(out.Strokes, st)
		if of[i] > k {
			p.Of = append(p.Of, of[i]-1)
		} else {
			p.Of = append(p.Of, of[i])
		}
	}
	if p.All = slices.Delete(slices.Clone(p.All), k, k+1); len(p.All) < 2 {
		p.Gap = math.Inf(1)
	}
	return p, out
}

// farthest is the line between the two of the points that are farthest apart.
func farthest(pts []geom.Point) geom.Polyline {
	var out geom.Polyline
	for i, a := range pts {
		for _, b := range pts[:i] {
			if a.Dist(b) > out.Length() {
				out = geom.Polyline{a, b}
			}
		}
	}
	return out
}

// FindPens tells which pen drew each stroke of n, given in mm, from the sheet's
// picture: along a stroke the darkest of the ink is compared with the paper
// beside it, which takes the lamp's colour and shadows out, and strokes whose
// colours are near each other in CIELAB are one pen's. Colours are compared as
// if each ink covered the paper whole, since a thin or dry line lets paper
// through, and with little weight on lightness. A stroke too short or too pale
// to show a colour joins the strokes it touches or lies next to.
//
// It returns an error for a distance under 0.
func FindPens(sheet *Colour, ink *Bitmap, n geom.Network, pxPerMm float64, s PenSettings) (Pens, error) {
	if s.Apart < 0 {
		return Pens{}, errors.New("the colour difference between pens must be 0 or more")
	}
	seen := make([]strokeInk, len(n.Strokes))
	light := newLightTable()
	for i, st := range n.Strokes {
		seen[i] = inkOf(sheet, light, ink, st, pxPerMm)
	}
	p := gatherPens(seen, n, s.Apart)
	shown, all := 0.0, 0.0
	for _, k := range seen {
		if all += k.length; k.shows() {
			shown += k.length
		}
	}
	p.Shown = shown / max(all, 1)
	return p, nil
}

// A strokeInk is what a stroke shows of its pen: the share of red, green and
// blue light that is left on it, and at how many places that was seen.
type strokeInk struct {
	left   [3]float64
	places int
	length float64 // mm
}

// taken is the share of light that the ink takes in its strongest channel.
func (k strokeInk) taken() float64 { return 1 - min(k.left[0], k.left[1], k.left[2]) }

// shows tells whether the colour can be trusted.
func (k strokeInk) shows() bool { return k.places >= leastPlaces && k.taken() >= leastTaken }

// weight is how much a stroke's colour says: one of a pale stroke is read from little.
func (k strokeInk) weight() float64 { return k.length * k.taken() }

// doubtful is how many times as far off as a dark stroke's colour that of a stroke may be which takes so
// much of the light: a pale one's is what little it takes, many times over, with the camera's noise.
func doubtful(taken float64) float64 { return max(surelyTaken/max(taken, leastTaken), 1) }

// covering is the ink's colour if it covered the paper whole. Where it covers
// a part, light mixes linearly, so that the shares taken keep their ratio.
func (k strokeInk) covering() Lab {
	t := 1.0
	if v := k.taken(); v > 0 {
		t = fullCover / v
	}
	return labOf(1-t*(1-k.left[0]), 1-t*(1-k.left[1]), 1-t*(1-k.left[2]))
}

// inkOf is the median along a stroke of what is left of the paper's light.
func inkOf(sheet *Colour, light *lightTable, ink *Bitmap, st geom.Stroke, pxPerMm float64) strokeInk {
	var left [3][]float64
	beside := st.Width/2 + besideInk
	for _, run := range st.Runs {
		pts := run.Resampled(penStep)
		for i := 1; i+1 < len(pts); i++ {
			across := pts[i+1].Sub(pts[i-1]).Unit().Perp()
			paper, ok := paperAt(sheet, light, ink, pts[i], across.Mul(beside), pxPerMm)
			if !ok {
				continue
			}
			core, ok := coreAt(sheet, light, pts[i], across, st.Width/2, pxPerMm)
			if !ok {
				continue
			}
			for k := range left {
				left[k] = append(left[k], min(core[2-k]/paper[2-k], 1))
			}
		}
	}
	seen := strokeInk{left: [3]float64{1, 1, 1}, places: len(left[0]), length: st.Length()}
	if seen.places > 0 {
		for k := range left {
			seen.left[k] = median(left[k])
		}
	}
	return seen
}

// coreAt is the darkest of the ink on the cut across a stroke: the centreline
// is smoothed and may run beside a thin line's middle.
func coreAt(
	sheet *Colour, light *lightTable, p, across geom.Point, reach, pxPerMm float64,
) (best [3]float64, ok bool) {
	for d := -reach; d <= reach; d += acrossStep {
		c, in := linearAt(sheet, light, p.Add(across.Mul(d)), pxPerMm)
		if in && (!ok || c[0]+c[1]+c[2] < best[0]+best[1]+best[2]) {
			best, ok = c, true
		}
	}
	return best, ok
}

// paperAt is the brighter of the paper on both sides of a stroke.
func paperAt(
	sheet *Colour, light *lightTable, ink *Bitmap, p, side geom.Point, pxPerMm float64,
) (best [3]float64, ok bool) {
	for _, q := range []geom.Point{p.Add(side), p.Sub(side)} {
		x, y := int(q.X*pxPerMm), int(q.Y*pxPerMm)
		if x < 0 || y < 0 || x >= ink.W || y >= ink.H || ink.Pix[y*ink.W+x] != 0 {
			continue
		}
		if c, in := linearAt(sheet, light, q, pxPerMm); in && c[0]+c[1]+c[2] > best[0]+best[1]+best[2] &&
			min(c[0], c[1], c[2]) > leastPaperLight {
			best, ok = c, true
		}
	}
	return best, ok
}

// linearAt is the mean of the 9 pixels about a place, in linear light, blue,
// green, red, 0 to 1.
func linearAt(sheet *Colour, light *lightTable, p geom.Point, pxPerMm float64) (sum [3]float64, ok bool) {
	x, y := int(p.X*pxPerMm), int(p.Y*pxPerMm)
	if x < 1 || y < 1 || x >= sheet.W-1 || y >= sheet.H-1 {
		return sum, false
	}
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			o := 3 * ((y+dy)*sheet.W + x + dx)
			for k := range 3 {
				sum[k] += light[sheet.Pix[o+k]] / 9
			}
		}
	}
	return sum, true
}

// A lightTable is the linear light of each value of a channel.
type lightTable [256]float64

func newLightTable() *lightTable {
	t := &lightTable{}
	for v := range t {
		t[v] = linear(float64(v) / 255)
	}
	return t
}

// linear undoes the sRGB transfer function (IEC 61966-2-1).
func linear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// encoded is the value of sRGB, 0 to 1, for a linear one: what linear takes back.
func encoded(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// labOf turns linear red, green and blue of sRGB's primaries to CIELAB for D65
// (IEC 61966-2-1; CIE 15).
func labOf(r, g, b float64) Lab {
	x := 0.4124564*r + 0.3575761*g + 0.1804375*b
	y := 0.2126729*r + 0.7151522*g + 0.0721750*b
	z := 0.0193339*r + 0.1191920*g + 0.9503041*b
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	fx, fy, fz := f(x/0.95047), f(y), f(z/1.08883)
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz)}
}

// SRGB is the colour in sRGB, as near as that has it (IEC 61966-2-1; CIE 15).
func (c Lab) SRGB() (red, green, blue uint8) {
	fy := (c.L + 16) / 116
	f := func(t float64) float64 {
		if t*t*t > 216.0/24389 {
			return t * t * t
		}
		return (116*t - 16) * 27 / 24389
	}
	x, y, z := 0.95047*f(fy+c.A/500), f(fy), 1.08883*f(fy-c.B/200)
	part := func(v float64) uint8 { return uint8(math.Round(255 * encoded(min(max(v, 0), 1)))) }
	return part(3.2404542*x - 1.5371385*y - 0.4985314*z), part(-0.9692660*x + 1.8760108*y + 0.0415560*z), part(0.0556434*x - 0.2040259*y + 1.0572252*z)
}

// PenOf is a pen that draws in a colour of sRGB, over the paper whole.
func PenOf(red, green, blue uint8) Pen {
	k := strokeInk{left: [3]float64{linear(float64(red) / 255), linear(float64(green) / 255), linear(float64(blue) / 255)}}
	seen := labOf(k.left[0], k.left[1], k.left[2])
	return Pen{Name: colourName(seen, k.covering()), Colour: seen}
}

// penDist is how different two inks that cover the paper whole look, with
// little weight on lightness.
func penDist(a, b Lab) float64 {
	return Lab{lightWeight * a.L, a.A, a.B}.Dist(Lab{lightWeight * b.L, b.A, b.B})
}

// gatherPens gathers the strokes of n to pens: of those that show a colour the
// longest and darkest starts the first pen, and each next one joins the nearest pen or
// starts another. A pen with too little line to be one is given up, and its
// strokes join the nearest in colour; the strokes that show none join the
// nearest in place.
func gatherPens(seen []strokeInk, n geom.Network, apart float64) Pens {
	order := make([]int, len(seen))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(seen[b].weight(), seen[a].weight()) })
	sure := slices.DeleteFunc(slices.Clone(order), func(i int) bool { return !seen[i].shows() })
	if len(sure) == 0 {
		sure = order
	}
	cover := make([]Lab, len(seen))
	for i, k := range seen {
		cover[i] = k.covering()
	}
	found := startPens(seen, cover, sure, apart)
	of := make([]int, len(seen))
	for i := range of {
		of[i] = -1
	}
	for _, i := range sure {
		of[i], _ = nearestPen(found, cover[i])
	}
	joinNeighbours(of, n)
	p := tellPens(seen, of, len(found))
	p.Gap = math.Inf(1)
	for k, c := range found {
		if _, gap := nearestPen(found[:k], c); gap < p.Gap {
			p.Gap = gap
		}
	}
	return p
}

// startPens returns the colours of the pens that drew the strokes named, those that say most
// first.
func startPens(seen []strokeInk, cover []Lab, sure []int, apart float64) []Lab {
	var colours []Lab
	var lengths, weights, longest []float64
	all := 0.0
	for _, i := range sure {
		best, near := nearestPen(colours, cover[i])
		if best < 0 || apart > 0 && near > apart*doubtful(seen[i].taken()) {
			best = len(colours)
			colours, lengths = append(colours, cover[i]), append(lengths, 0)
			weights, longest = append(weights, 0), append(longest, 0)
		}
		all += seen[i].length
		lengths[best] += seen[i].length
		longest[best] = max(longest[best], seen[i].length)
		if weights[best] += seen[i].weight(); weights[best] > 0 {
			colours[best] = colours[best].towards(cover[i], seen[i].weight()/weights[best])
		}
	}
	var found []Lab
	for k, c := range colours {
		_, near := nearestPen(found, c)
		clear := ClearGap * apart * doubtful(weights[k]/lengths[k])
		if lengths[k] < hardlySeen*all {
			clear *= ClearGap
		}
		specks := longest[k] < max(leastOwn, shortMark*all) && lengths[k] < hardlyAny*all && near < clear
		if k == 0 || lengths[k] >= leastOwn && !specks && !slices.ContainsFunc(found, c.sameHue) {
			found = append(found, c)
		}
	}
	return found
}

// sameHue tells whether two inks are vivid and of one hue. A pen's line is the more
// vivid the more paper shows through, so that one pen gives several such colours.
func (c Lab) sameHue(d Lab) bool {
	if min(math.Hypot(c.A, c.B), math.Hypot(d.A, d.B)) < leastVivid {
		return false
	}
	return geom.Pt(c.A, c.B).Angle(geom.Pt(d.A, d.B)) < hueSpread
}

// towards is the colour the share t of the way from c to d.
func (c Lab) towards(d Lab, t float64) Lab {
	return Lab{c.L + t*(d.L-c.L), c.A + t*(d.A-c.A), c.B + t*(d.B-c.B)}
}

// nearestPen returns which of the pens' colours is nearest, -1 if there is
// none, and how far off it is.
func nearestPen(pens []Lab, c Lab) (best int, near float64) {
	best, near = -1, math.Inf(1)
	for k, pen := range pens {
		if d := penDist(pen, c); d < near {
			best, near = k, d
		}
	}
	return best, near
}

// joinNeighbours gives each stroke without a pen, -1, that of the nearest
// stroke that has one.
func joinNeighbours(of []int, n geom.Network) {
	had := slices.Clone(of)
	for i := range of {
		if had[i] >= 0 {
			continue
		}
		of[i] = 0
		near := math.Inf(1)
		for k := range of {
			if had[k] < 0 {
				continue
			}
			if d := strokeGap(n.Strokes[i], n.Strokes[k]); d < near {
				of[i], near = had[k], d
			}
		}
	}
}

// strokeGap is how near a short stroke's ends and middle come to b, mm.
func strokeGap(short, b geom.Stroke) float64 {
	near := math.Inf(1)
	for _, r := range short.Runs {
		for _, p := range []geom.Point{r[0], r[len(r)/2], r[len(r)-1]} {
			for _, q := range b.Runs {
				near = min(near, q.DistanceTo(p))
			}
		}
	}
	return near
}

// tellPens sums up the pens that have strokes, the one that drew most first.
func tellPens(seen []strokeInk, of []int, n int) Pens {
	lengths, shown := make([]float64, n), make([]float64, n)
	colours, covers := make([]Lab, n), make([]Lab, n)
	for i, k := range of {
		lengths[k] += seen[i].length
		weight := seen[i].weight()
		if !seen[i].shows() {
			weight *= unshownWeight
		}
		if shown[k] += weight; shown[k] > 0 {
			c := labOf(seen[i].left[0], seen[i].left[1], seen[i].left[2])
			colours[k] = colours[k].towards(c, weight/shown[k])
			covers[k] = covers[k].towards(seen[i].covering(), weight/shown[k])
		}
	}
	rank := make([]int, n)
	for k := range rank {
		rank[k] = k
	}
	slices.SortStableFunc(rank, func(a, b int) int { return cmp.Compare(lengths[b], lengths[a]) })
	p := Pens{Of: make([]int, len(of))}
	place := make([]int, n)
	for _, k := range rank {
		if !slices.Contains(of, k) {
			continue
		}
		place[k] = len(p.All)
		p.All = append(p.All, Pen{Name: colourName(colours[k], covers[k]), Colour: colours[k], Length: lengths[k]})
	}
	for i, k := range of {
		p.Of[i] = place[k]
	}
	return p
}

// colourName is the common word for an ink: by lightness if it has no hue to go by, else by
// the hue of what it would be if it covered the paper whole; common practice, no source.
func colourName(seen, cover Lab) string {
	none := "grey"
	if seen.L < lightestBlack {
		none = "black"
	}
	if math.Hypot(cover.A, cover.B) < leastVivid {
		return none
	}
	hue := math.Mod(geom.Degrees(math.Atan2(cover.B, cover.A))+360, 360)
	name, near := "", math.Inf(1)
	for _, n := range []struct {
		name string
		hue  float64 // degrees in CIELAB
	}{
		{"pink", 0}, {"red", 30}, {"orange", 56}, {"yellow", 86}, {"green", 150}, {"turquoise", 201}, {"blue", 290},
		{"violet", 317}, {"pink", 360},
	} {
		if d := math.Abs(hue - n.hue); d < near {
			name, near = n.name, d
		}
	}
	if name == "yellow" && cover.L < darkestYellow {
		return none // grey with the paper's or the lamp's warmth
	}
	if name == "orange" && seen.L < lightestBrown {
		return "brown"
	}
	return name
}
