package vision

import (
	"math"

	"inkchannel/geom"
	"inkchannel/geom/lsq"
)

// Following the edges of a sheet that curls. Found on real photographs and on
// those of our own making where no reason is given.
const (
	contourPlaces = 160   // places along a side where its edge is looked for
	contourReach  = 0.022 // of the photo's longer side that an edge may lie from the shape's
	contourGrain  = 2000  // steps of the search to the photo's longer side, none under a px
	contourTurn   = 0.5   // steps aside for each step along that an edge may turn by
	contourEnough = 0.6   // times a side's usual slope: a steeper one is no better an edge, but a shadow's
	contourStiff  = 0.1   // times that slope that a step aside costs
	contourInner  = 0.3   // times that slope that the innermost place is better by: shadows lie outside
	contourRounds = 3     // looks, each from where the last one left the edges
	contourSeen   = 0.5   // of a side's places where the edge must be seen
	contourFar    = 0.2   // of a side by its end that tells the corner at first,
	contourEnd    = 0.06  // and at last,
	contourTip    = 0.008 // but for so much, where the other side's edge is near
	contourSmooth = 0.016 // of a side: standard deviation of the weights that its places are averaged by
	contourTrim   = 5     // times the middle distance from its neighbours beyond which a place is no edge
	contourDeep   = 0.25  // of the sheet that a dent of its edge reaches inwards
	contourTerms  = 3     // terms of the polynomial that is the slow bend of a side
	curlFrom      = 0.12  // of a side from its corner to which a corner may curl;
	curlTo        = 0.35  // up to here it lies flat and tells where the corner would be
	curledMm      = 6     // mm of the sheet between that and the corner seen that tell a curl
	strayMm       = 0.7   // mm of it that a side is off the way to its corner where the curl begins
	contourMm     = 0.35  // mm of the sheet by which edges may lie off a shape that is left as it is
	contourQuant  = 0.9   // quantile of the distances that says so
)

// A patch is a shape of the sheet, drawn after the edges seen: it maps the unit
// square to the photo, px. Between edges it is moved as a Coons patch is (Coons
// 1967, "Surfaces for computer-aided design of space forms", from memory): by the
// slow bend of the sides right across, for a sheet bends as a whole, and by what
// is left of them, a curled corner or a dent, near the edge only.
type patch struct {
	base func(u geom.Point) geom.Point
	// by is how far each side lies off the base's, clockwise from the top, at
	// contourPlaces + 1 places from its corner to the next; slow the part of it
	// that bends slowly.
	by, slow [4][]geom.Point
}

func newPatch(base func(geom.Point) geom.Point) *patch {
	p := &patch{base: base}
	for i := range p.by {
		p.by[i], p.slow[i] = make([]geom.Point, contourPlaces+1), make([]geom.Point, contourPlaces+1)
	}
	return p
}

// onSide is the place at share t of a side of the unit square, clockwise.
func onSide(side int, t float64) geom.Point {
	c := [4]geom.Point{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}}
	return c[side].Lerp(c[(side+1)%4], t)
}

// along is the place at share t of a side's places, t between 0 and 1.
func along(side []geom.Point, t float64) geom.Point {
	t *= contourPlaces
	i := min(int(t), contourPlaces-1)
	return side[i].Lerp(side[i+1], t-float64(i))
}

// at maps a place of the unit square, or one near it, to the photo.
func (p *patch) at(q geom.Point) geom.Point {
	u, v := min(max(q.X, 0), 1), min(max(q.Y, 0), 1)
	share := [4]float64{u, v, 1 - u, 1 - v} // along each side
	inner := [4]float64{v, 1 - u, 1 - v, u} // and how far from it
	out := p.base(q)
	for i, t := range share {
		slow := along(p.slow[i], t)
		near, next := dies(inner[i]), dies(inner[(i+1)%4])
		out = out.Add(slow.Mul(1 - inner[i])).Add(along(p.by[i], t).Sub(slow).Mul(near))
		// Both sides that meet at a corner have moved by it.
		corner := p.slow[i][contourPlaces]
		out = out.Sub(corner.Mul((1 - inner[i]) * (1 - inner[(i+1)%4])))
		out = out.Sub(p.by[i][contourPlaces].Sub(corner).Mul(near * next))
	}
	return out
}

// dies is what is left of a dent of the edge so far from it, 1 on the edge.
func dies(inner float64) float64 {
	k := max(1-inner/contourDeep, 0)
	return k * k * (3 - 2*k)
}

// corners are where the patch has the sheet's.
func (p *patch) corners() (q [4]geom.Point) {
	for i := range q {
		q[i] = p.at(onSide(i, 0))
	}
	return q
}

// follow moves the patch's sides onto the edges seen in the photo, and returns how
// far those stray from them, px rms. It reports false where too little of one is
// seen, or corners would lie nowhere near.
func (p *patch) follow(photo *Colour) (stray float64, ok bool) {
	reach, end := contourReach*float64(max(photo.W, photo.H)), contourFar
	mm := longest(p.corners()) / usualLong // px of the photo to one of a usual sheet
	var curled [4]bool                     // corners: those of one look are so in the next, which reaches less far
	for range contourRounds {
		var sides [4]geom.Polyline
		sum := 0.0
		for i := range sides {
			var rest float64
			if sides[i], rest, ok = p.edgePath(photo, i, reach); !ok {
				return 0, false
			}
			sum += rest * rest
		}
		stray = math.Sqrt(sum / 4)
		var corner [4]geom.Point
		for i := range corner {
			before, after := sides[(i+3)%4], sides[i]
			at, ok := cornerOf(before, after, contourTip, end)
			flat, meet := cornerOf(before, after, curlFrom, curlTo)
			if curled[i] = curled[i] || ok && meet && flat.Dist(at) > curledMm*mm; curled[i] && meet {
				uncurl(before, after, flat, mm)
				at = flat
			}
			if !ok || at.Dist(p.at(onSide(i, 0))) > 2*reach {
				return 0, false
			}
			corner[i] = at
		}
		p.moveTo(sides, corner)
		reach, end = max(reach/2, refineLeast), contourEnd
	}
	return stray, true
}

// moveTo sets the sides to paths of contourPlaces + 1 places, and their ends to
// the corners.
func (p *patch) moveTo(sides [4]geom.Polyline, corner [4]geom.Point) {
	was := *p
	var by [4][]geom.Point
	for i, path := range sides {
		from, to := corner[i], corner[(i+1)%4]
		dir := was.at(onSide(i, 1)).Sub(was.at(onSide(i, 0))).Unit()
		// By how far the corners move along the side, its places do in proportion.
		s0 := from.Sub(path[0]).Dot(dir)
		s1 := to.Sub(path[len(path)-1]).Dot(dir)
		by[i] = make([]geom.Point, contourPlaces+1)
		for k := range by[i] {
			t := float64(k) / contourPlaces
			by[i][k] = path[k].Add(dir.Mul(s0 + t*(s1-s0))).Sub(p.base(onSide(i, t)))
		}
		by[i][0], by[i][contourPlaces] = from.Sub(p.base(onSide(i, 0))), to.Sub(p.base(onSide(i, 1)))
	}
	p.by = by
	p.slow = slowBends(by)
}

// slowBends are polynomials along the sides, least squares, made to meet at the
// corners.
func slowBends(by [4][]geom.Point) (slow [4][]geom.Point) {
	terms := func(t float64) []float64 {
		out := make([]float64, contourTerms)
		term := 1.0
		for i := range out {
			out[i] = term
			term *= 2*t - 1
		}
		return out
	}
	at := make([]int, contourTerms)
	for i := range at {
		at[i] = i
	}
	for i, side := range by {
		nx, ny := lsq.NewNormal(contourTerms), lsq.NewNormal(contourTerms)
		for k, d := range side {
			row := terms(float64(k) / contourPlaces)
			nx.Add(1, at, row, d.X)
			ny.Add(1, at, row, d.Y)
		}
		x, okX := nx.Solve(0, ridgeLeast)
		y, okY := ny.Solve(0, ridgeLeast)
		slow[i] = make([]geom.Point, len(side))
		for k := range side {
			for j, term := range terms(float64(k) / contourPlaces) {
				if okX && okY {
					slow[i][k] = slow[i][k].Add(geom.Pt(x[j]*term, y[j]*term))
				}
			}
		}
	}
	var shift [4][2]geom.Point // of a side's start and end
	for i := range slow {
		j := (i + 1) % 4
		end, start := slow[i][contourPlaces], slow[j][0]
		mid := end.Lerp(start, 0.5)
		shift[i][1], shift[j][0] = mid.Sub(end), mid.Sub(start)
	}
	for i := range slow {
		for k := range slow[i] {
			slow[i][k] = slow[i][k].Add(shift[i][0].Lerp(shift[i][1], float64(k)/contourPlaces))
		}
	}
	return slow
}

// edgePath is where the photo shows the edge along a side of the patch: at
// contourPlaces + 1 places the way on which the colour steps most, that turns
// little, by dynamic programming. It also returns how far what is seen strays from
// that way, smoothed, px rms.
func (p *patch) edgePath(photo *Colour, side int, reach float64) (way geom.Polyline, stray float64, ok bool) {
	grain := max(1, float64(max(photo.W, photo.H))/contourGrain)
	half := int(reach/grain) + 1
	at, n := make([]geom.Point, contourPlaces+1), make([]geom.Point, contourPlaces+1)
	slopes := make([][]float64, contourPlaces+1)
	for k := range slopes {
		t := float64(k) / contourPlaces
		at[k] = p.at(onSide(side, t))
		n[k] = p.at(onSide(side, t+tangentHalf)).Sub(p.at(onSide(side, t-tangentHalf))).Unit().Perp()
		slopes[k] = slopesAcross(photo, at[k], n[k], half, grain)
	}
	usual, ok := lighterInside(slopes)
	if !ok {
		return nil, 0, false
	}
	spacing := at[0].Dist(at[contourPlaces]) / contourPlaces / grain
	path := bestPath(slopes, usual, max(int(contourTurn*spacing), 1))
	off, seen := make([]float64, len(path)), make([]bool, len(path))
	count := 0
	for k, i := range path {
		i = summit(slopes[k], i)
		off[k] = (float64(i-half) + peakShift(slopes[k], i)) * grain
		if seen[k] = slopes[k][i] >= leastSlope; seen[k] {
			count++
		}
	}
	smooth, stray := smoothed(off, seen)
	way = make(geom.Polyline, len(off))
	for k := range way {
		way[k] = at[k].Add(n[k].Mul(smooth[k]))
	}
	return way, stray, float64(count) >= contourSeen*float64(len(path))
}

// slopesAcross is how much lighter the photo gets inwards along n, at places
// grain px apart from half of them outside of p to half of them inside. Places
// outside the photo have none.
func slopesAcross(photo *Colour, p, n geom.Point, half int, grain float64) []float64 {
	grey := make([]float64, 2*half+1+2*slopeHalf)
	in := make([]bool, len(grey))
	for i := range grey {
		grey[i], in[i] = sample(photo, p.Add(n.Mul(float64(i-half-slopeHalf)*grain)))
	}
	out := make([]float64, 2*half+1)
	for i := range out {
		if in[i] && in[i+2*slopeHalf] {
			out[i] = 2*grey[i+4] + grey[i+3] - grey[i+1] - 2*grey[i]
		}
	}
	return out
}

// lighterInside turns slopes so that the sheet's edge is positive, whichever
// side is lighter, and returns the usual slope of the edge.
func lighterInside(slopes [][]float64) (usual float64, ok bool) {
	var up, down []float64
	for _, s := range slopes {
		hi, lo := 0.0, 0.0
		for _, v := range s {
			hi, lo = max(hi, v), min(lo, v)
		}
		up, down = append(up, hi), append(down, -lo)
	}
	// The paper's edge is there at most places, other steps at some: their
	// lower quartiles tell which way it steps.
	if quantile(down, 0.25) > quantile(up, 0.25) {
		for _, s := range slopes {
			for i := range s {
				s[i] = -s[i]
			}
		}
		up = down
	}
	usual = median(up)
	return usual, usual >= leastSlope
}

// bestPath is the way through the slopes, one place of each, that gains most.
func bestPath(slopes [][]float64, usual float64, turn int) []int {
	width := len(slopes[0])
	enough := contourEnough * usual
	gain, from := make([]float64, width), make([][]int32, len(slopes))
	next := make([]float64, width)
	for k, s := range slopes {
		from[k] = make([]int32, width)
		for i := range next {
			best, at := math.Inf(-1), i
			for j := max(i-turn, 0); k > 0 && j <= min(i+turn, width-1); j++ {
				if g := gain[j] - contourStiff*enough*math.Abs(float64(i-j)); g > best {
					best, at = g, j
				}
			}
			if k == 0 {
				best = 0
			}
			if s[i] >= leastSlope {
				best += min(s[i], enough) + contourInner*enough*float64(i)/float64(width)
			}
			next[i], from[k][i] = best, int32(at)
		}
		gain, next = next, gain
	}
	at := 0
	for i, g := range gain {
		if g > gain[at] {
			at = i
		}
	}
	path := make([]int, len(slopes))
	for k := len(slopes) - 1; k >= 0; k-- {
		path[k] = at
		at = int(from[k][at])
	}
	return path
}

// summit is the place of the steepest slope that is reached uphill from i: edges
// as steep as enough count the same, so that the path keeps to their inner foot.
func summit(s []float64, i int) int {
	for {
		switch {
		case i > 0 && s[i-1] > s[i]:
			i--
		case i < len(s)-1 && s[i+1] > s[i]:
			i++
		default:
			return i
		}
	}
}

// peakShift is how far from place i the slope is steepest, by a parabola.
func peakShift(s []float64, i int) float64 {
	if i == 0 || i == len(s)-1 {
		return 0
	}
	l, m, r := s[i-1], s[i], s[i+1]
	if d := l - 2*m + r; d < 0 {
		return min(max(0.5*(l-r)/d, -1), 1)
	}
	return 0
}

// smoothed averages the places seen, and fills up those that are not. It also
// returns how far those averaged stray from it, root mean square.
func smoothed(off []float64, seen []bool) (out []float64, stray float64) {
	const sigma = contourSmooth * contourPlaces
	mean := func(k int, ok func(int) bool) float64 {
		// A line through the neighbours, so that ends are not pulled inwards.
		var s, sx, sy, sxx, sxy float64
		for j := range off {
			d := float64(j - k)
			if !ok(j) {
				continue
			}
			w := math.Exp(-d*d/(2*sigma*sigma)) + 1e-9
			s, sx, sy, sxx, sxy = s+w, sx+w*d, sy+w*off[j], sxx+w*d*d, sxy+w*d*off[j]
		}
		if det := s*sxx - sx*sx; det > 1e-9 {
			return (sxx*sy - sx*sxy) / det
		}
		return sy / max(s, 1e-9)
	}
	rest := make([]float64, len(off))
	for k := range off {
		rest[k] = math.Abs(off[k] - mean(k, func(j int) bool { return seen[j] && j != k }))
	}
	limit := max(contourTrim*median(append([]float64(nil), rest...)), 1)
	out = make([]float64, len(off))
	sum, n := 0.0, 0
	for k := range out {
		out[k] = mean(k, func(j int) bool { return seen[j] && rest[j] <= limit })
		if seen[k] && rest[k] <= limit {
			sum, n = sum+(off[k]-out[k])*(off[k]-out[k]), n+1
		}
	}
	return out, math.Sqrt(sum / float64(max(n, 1)))
}

// cornerOf is where the end of one side's path meets the start of the next's, by
// those shares of each from the corner.
func cornerOf(before, after geom.Polyline, from, to float64) (geom.Point, bool) {
	tip, end := int(math.Ceil(from*contourPlaces)), int(to*contourPlaces+0.5)
	n := len(before)
	l := fitLine(before[n-1-end:n-tip], before[n-1-end], before[n-1-tip])
	m := fitLine(after[tip:end+1], after[tip], after[end])
	return l.meet(m)
}

// uncurl lays the ends of two sides' paths straight towards the corner where they would meet if the sheet did not
// curl there, or its corner were not torn off: from where they stray from that way.
func uncurl(before, after geom.Polyline, corner geom.Point, mm float64) {
	lay := func(end func(k int) *geom.Point) {
		from := int(curlTo * contourPlaces)
		base := *end(from)
		d := corner.Sub(base).Unit()
		first := from
		for first > 0 && math.Abs(end(first-1).Sub(base).Cross(d)) < strayMm*mm {
			first--
		}
		start := *end(first)
		for k := range first {
			*end(k) = corner.Lerp(start, float64(k)/float64(first))
		}
	}
	lay(func(k int) *geom.Point { return &after[k] })
	lay(func(k int) *geom.Point { return &before[len(before)-1-k] })
}

// off is how far the patch's sides lie off the base's, px: a high quantile.
func (p *patch) off() float64 {
	var all []float64
	for i, side := range p.by {
		for k, d := range side {
			t := float64(k) / contourPlaces
			n := p.base(onSide(i, t+tangentHalf)).Sub(p.base(onSide(i, t-tangentHalf))).Unit().Perp()
			all = append(all, math.Abs(d.Dot(n)))
		}
	}
	worst := quantile(all, contourQuant)
	for i := range p.by { // corners are few places but matter most
		worst = max(worst, p.by[i][0].Norm())
	}
	return worst
}
