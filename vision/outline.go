package vision

import (
	"cmp"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// What an edge of paper is, and how long straight ones make an outline. Lengths
// are px of the small copy. Found on photographs of our own making and on real
// ones: a sheet's worst side has at least 0.75 of its places, a drawn frame's
// at most 0.32.
const (
	edgeSlack   = 8    // px that an edge may lie from the straight side: paper bows and curls
	edgeSpan    = 3    // px in and out where colours are compared: beyond the blur of the edge
	leastStep   = 24   // levels, summed over the three channels, that make an edge: 8 a channel
	bandFrom    = 5    // px in and out of an edge where a band begins that
	bandTo      = 20   // ends here, beyond any pen's line: paper is on one side of its edge only
	leastBand   = 8    // levels of one channel by which the bands' middles differ,
	mostBand    = 60   // and levels beyond which a greater difference says no more
	edgeNear    = 4.0  // px off a straight side at which an edge speaks half as much for it
	pieceLeast  = 0.07 // of the copy's longer side: the shortest straight piece of an edge that is looked for
	pieceGap    = 8    // px that such a piece may be interrupted
	lineAlike   = 2    // degrees between lines that are one, if they lie
	lineSame    = 5    // px apart at most
	linesMost   = 22   // lines out of which outlines are put together: those along which most edge is seen
	lineEvery   = 4    // px between places of a line where an edge is looked for
	beyond      = 0.03 // of the copy's longer side that a corner may lie outside of it,
	farBeyond   = 0.25 // and that one of the four may
	insideLeast = 0.3  // of a side that lies in the picture at least
	frameFar    = 0.07 // of the copy's longer side that is looked through for the end of a frame
	frameDark   = 0.8  // of the light within that a frame has at most,
	frameBack   = 0.88 // and the least beyond it,
	framedLeast = 0.7  // at this share of each side's places
	darkThing   = 0.45 // of the light around it: what has less is no paper; brown paper on white has some 0.6, from memory
)

// A band compares the colours on both sides of places that may be an edge.
type bands struct {
	pic     *Colour
	in, out [3][bandTo - bandFrom + 1]uint8
}

// edge is how much lighter, in levels, the side that n points to is than the
// other, where the colour steps within edgeSlack px of p across the unit vector
// n and differs for as far as no pen's line reaches; 0 where it does not. It
// also returns how far from p.
func (b *bands) edge(p, n geom.Point) (lighter int, off float64) {
	most := leastStep
	for d := -edgeSlack; d <= edgeSlack; d++ {
		at := p.Add(n.Mul(float64(d)))
		// Of equal steps the nearest: an edge that is blurred has several.
		s := step(b.pic, at.Add(n.Mul(edgeSpan)), at.Sub(n.Mul(edgeSpan)))
		if s > most || s == most && math.Abs(float64(d)) < math.Abs(off) {
			most, off = s, float64(d)
		}
	}
	if most == leastStep {
		return 0, 0
	}
	return b.differ(p.Add(n.Mul(off)), n), off
}

// differ is the largest difference of a channel between the bands on both sides
// of an edge, 0 if it is small.
func (b *bands) differ(p, n geom.Point) int {
	for i := range bandTo - bandFrom + 1 {
		d := n.Mul(float64(bandFrom + i))
		in, ok1 := b.pic.offset(p.Add(d))
		out, ok2 := b.pic.offset(p.Sub(d))
		if !ok1 || !ok2 { // by the picture's border half a band must do
			if i < (bandTo-bandFrom)/2 {
				return 0
			}
			return b.apart(i)
		}
		for c := range 3 {
			b.in[c][i], b.out[c][i] = b.pic.Pix[in+c], b.pic.Pix[out+c]
		}
	}
	return b.apart(bandTo - bandFrom + 1)
}

// apart is differ of the first n px of the bands, by their middle values.
func (b *bands) apart(n int) (most int) {
	for c := range 3 {
		slices.Sort(b.in[c][:n])
		slices.Sort(b.out[c][:n])
		d := int(b.in[c][n/2]) - int(b.out[c][n/2])
		if max(d, -d) >= max(leastBand, most, -most) {
			most = d
		}
	}
	return most
}

// offset is where p's pixel begins in Pix, false outside the picture.
func (c *Colour) offset(p geom.Point) (int, bool) {
	if p.X < 0 || p.Y < 0 || p.X >= float64(c.W) || p.Y >= float64(c.H) {
		return 0, false
	}
	return 3 * (int(p.Y)*c.W + int(p.X)), true
}

// step is how much the colours at two places differ, summed over channels.
// Outside the picture there is no paper edge to see, so no step.
func step(pic *Colour, in, out geom.Point) int {
	i, ok1 := pic.offset(in)
	o, ok2 := pic.offset(out)
	if !ok1 || !ok2 {
		return 0
	}
	sum := 0
	for c := range 3 {
		d := int(pic.Pix[i+c]) - int(pic.Pix[o+c])
		sum += max(d, -d)
	}
	return sum
}

// lookedAt is one of the supportPlaces along a side.
func lookedAt(from, to geom.Point, k int) geom.Point {
	return from.Lerp(to, supportSkip+(1-2*supportSkip)*(float64(k)+0.5)/supportPlaces)
}

// sideSupport is the share of q's worst side along which paper ends, and the
// same where an edge counts the less the further it lies off the straight side.
// Only edges with the lighter side the same as at most places count: a table's
// grain has its lighter side now here, now there.
func sideSupport(pic *Colour, q [4]geom.Point) (share, near float64) {
	share, near = 1, 1
	b := &bands{pic: pic}
	for i := range q {
		from, to := q[i], q[(i+1)%4]
		n := to.Sub(from).Unit().Perp()
		var hits, close [2]float64
		in := 0.0
		for k := range supportPlaces {
			p := lookedAt(from, to, k)
			if outsideBy(pic, p) > 0 {
				continue
			}
			in++
			lighter, off := b.edge(p, n)
			if lighter == 0 {
				continue
			}
			way := 0
			if lighter < 0 {
				way = 1
			}
			hits[way]++
			close[way] += 1 / (1 + off*off/(edgeNear*edgeNear))
		}
		in = max(in, insideLeast*supportPlaces)
		share = min(share, max(hits[0], hits[1])/in)
		near = min(near, max(close[0], close[1])/in)
	}
	return share, near
}

// isDark reports whether q is at one of its sides so much darker than what lies beyond that it is no sheet on which
// a pen shows but a thing on paper or under it, a tray, a book, a telephone, or a drawn frame with what it frames.
func isDark(pic *Colour, q [4]geom.Point) bool {
	for i := range q {
		from, to := q[i], q[(i+1)%4]
		n := to.Sub(from).Unit().Perp()
		var in, out []float64
		for k := range supportPlaces {
			p := lookedAt(from, to, k)
			for d := bandFrom; d <= bandTo; d++ {
				within, ok1 := sample(pic, p.Add(n.Mul(float64(d))))
				beyond, ok2 := sample(pic, p.Sub(n.Mul(float64(d))))
				if ok1 && ok2 {
					in, out = append(in, within), append(out, beyond)
				}
			}
		}
		if len(in) > 0 && median(in) < darkThing*median(out) {
			return true
		}
	}
	return false
}

// isFramed reports whether a darker band runs along all sides of q beyond which it is as light as within: a frame
// that was drawn on the paper, or a thing that lies on as pale a table. Of sides where the band runs out of the
// picture there may be two.
func isFramed(pic *Colour, q [4]geom.Point) bool {
	framed := 0
	for i := range q {
		band, none := bandBeyond(pic, q[i], q[(i+1)%4])
		if none > (1-framedLeast)*supportPlaces {
			return false
		}
		if band > framedLeast*supportPlaces {
			framed++
		}
	}
	return framed >= 2
}

// bandBeyond is at how many of a side's places there is a dark band beyond it and the light of within after that, and
// at how many there is none; the others cannot be told, as the picture ends before.
func bandBeyond(pic *Colour, from, to geom.Point) (band, none float64) {
	far := int(frameFar * float64(max(pic.W, pic.H)))
	n := to.Sub(from).Unit().Perp()
	for k := range supportPlaces {
		p := lookedAt(from, to, k)
		within, ok := sample(pic, p.Add(n.Mul((bandFrom+bandTo)/2)))
		dark, back := false, false
		for d := bandFrom; d <= far && ok && !back; d++ {
			var v float64
			v, ok = sample(pic, p.Sub(n.Mul(float64(d))))
			dark = dark || ok && v < frameDark*within
			back = ok && dark && v > frameBack*within
		}
		switch {
		case back:
			band++
		case ok || !dark:
			none++
		}
	}
	return band, none
}

// An edgeLine is a straight line across the copy and where along it an edge of
// paper is seen: sums are how many of the first places, lineEvery px apart,
// have their lighter side to the right of d, and to the left.
type edgeLine struct {
	p, d geom.Point // where it enters the picture, and the direction
	sums [2][]int
	step float64 // levels by which one side is lighter, summed along it
}

// seen is the share of the way from a to b, two places of the line, along which
// an edge is seen with the lighter side to the right, or with it to the left.
func (l edgeLine) seen(a, b geom.Point) (right, left float64) {
	at := func(p geom.Point) int {
		return min(max(int(p.Sub(l.p).Dot(l.d)/lineEvery+0.5), 0), len(l.sums[0])-1)
	}
	i, j := at(a), at(b)
	if i > j {
		i, j = j, i
	}
	// What lies outside the picture cannot be seen, but some must.
	all := max(float64(j-i), insideLeast*a.Dist(b)/lineEvery, 1)
	return float64(l.sums[0][j]-l.sums[0][i]) / all, float64(l.sums[1][j]-l.sums[1][i]) / all
}

// around is seen with the side of a place inside the outline lighter, or darker.
func (l edgeLine) around(a, b, inside geom.Point) (lighter, darker float64) {
	right, left := l.seen(a, b)
	if inside.Sub(l.p).Dot(l.d.Perp()) < 0 {
		return left, right
	}
	return right, left
}

// lineQuads puts outlines together from straight edges: a sheet with a curled or
// torn corner, or next to something as light as it is, makes no piece of its
// shape. Each side of those returned shows an edge along at least that share.
func lineQuads(pic *Colour, lines []edgeLine, support float64) (out [][4]geom.Point) {
	for a := range lines {
		for b := range a {
			for c := range a {
				for d := range c {
					if b == c || b == d {
						continue
					}
					if q, ok := quadOfLines(pic, lines[a], lines[b], lines[c], lines[d], support); ok {
						out = append(out, q)
					}
				}
			}
		}
	}
	return out
}

// quadOfLines is the outline with a opposite b and c opposite d.
func quadOfLines(pic *Colour, a, b, c, d edgeLine, support float64) (q [4]geom.Point, ok bool) {
	sides := [4]edgeLine{a, c, b, d}
	out := 0
	for i, l := range sides {
		m := sides[(i+1)%4]
		u, _, sine := geom.Meet(l.p, l.d, m.p, m.d)
		if math.Abs(sine) < math.Sin(geom.Radians(quadAngle)) {
			return q, false
		}
		q[i] = l.p.Add(l.d.Mul(u))
		long := float64(max(pic.W, pic.H))
		if off := outsideBy(pic, q[i]); off > farBeyond*long {
			return q, false
		} else if off > beyond*long {
			out++
		}
	}
	if out > 1 {
		return q, false
	}
	for i, l := range sides {
		if right, left := l.seen(q[(i+3)%4], q[i]); max(right, left) < support {
			return q, false
		}
	}
	q = clockwise(q)
	return q, convex(q) && quadArea(q) > leastQuad*float64(pic.W*pic.H)
}

// outsideBy is how far a place lies outside a picture, 0 if it does not.
func outsideBy(pic *Colour, p geom.Point) float64 {
	return max(-p.X, -p.Y, p.X-float64(pic.W), p.Y-float64(pic.H), 0)
}

// convex reports whether a clockwise outline turns the same way at each corner.
func convex(q [4]geom.Point) bool {
	for i, p := range q {
		if p.Sub(q[(i+3)%4]).Cross(q[(i+1)%4].Sub(p)) <= 0 {
			return false
		}
	}
	return true
}

// edgeLines are the lines along which most edge of paper is seen.
func edgeLines(pic *Colour) ([]edgeLine, error) {
	edges := NewBitmap(pic.W, pic.H)
	for _, m := range paperMaps(pic) {
		if err := m.edgesInto(edges); err != nil {
			return nil, err
		}
	}
	pieces, err := straightLines(edges, pieceLeast*float64(max(pic.W, pic.H)), pieceGap)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(pieces, func(p, q rule) int { return cmp.Compare(q.length(), p.length()) })
	var lines []edgeLine
	for _, p := range pieces {
		if slices.ContainsFunc(lines, p.alongLine) {
			continue
		}
		lines = append(lines, across(pic, p))
	}
	slices.SortStableFunc(lines, func(l, m edgeLine) int { return cmp.Compare(math.Abs(m.step), math.Abs(l.step)) })
	return lines[:min(len(lines), linesMost)], nil
}

// alongLine reports whether a piece lies on l.
func (r rule) alongLine(l edgeLine) bool {
	near := func(p geom.Point) bool { return math.Abs(p.Sub(l.p).Cross(l.d)) < lineSame }
	return near(r.a) && near(r.b) &&
		math.Abs(r.b.Sub(r.a).Unit().Cross(l.d)) < math.Sin(geom.Radians(lineAlike))
}

// across is the line of a piece through the whole picture.
func across(pic *Colour, piece rule) edgeLine {
	d := piece.b.Sub(piece.a).Unit()
	l := edgeLine{p: piece.a, d: d, sums: [2][]int{{0}, {0}}}
	far := float64(pic.W + pic.H)
	for back := 0.0; back < far; back += lineEvery {
		if _, in := pic.offset(piece.a.Sub(d.Mul(back))); !in {
			break
		}
		l.p = piece.a.Sub(d.Mul(back))
	}
	b := &bands{pic: pic}
	for at := l.p; ; at = at.Add(d.Mul(lineEvery)) {
		if _, in := pic.offset(at); !in {
			return l
		}
		lighter, _ := b.edge(at, d.Perp())
		l.step += float64(min(max(lighter, -mostBand), mostBand))
		for i, way := range []bool{lighter > 0, lighter < 0} {
			n := l.sums[i][len(l.sums[i])-1]
			if way {
				n++
			}
			l.sums[i] = append(l.sums[i], n)
		}
	}
}

// edgesInto marks the edges of a map of a picture.
func (g *Grey) edgesInto(b *Bitmap) error {
	src, edges := g.mat(), gocv.NewMat()
	defer src.Close()
	defer edges.Close()
	gocv.Canny(src, &edges, cannyLow, cannyHigh)
	pix, err := edges.DataPtrUint8()
	if err != nil {
		return err
	}
	for i, v := range pix {
		if v > 0 {
			b.Pix[i] = 1
		}
	}
	return nil
}

// paperMaps are maps of a picture in which paper differs from what it lies on:
// its brightness, its darkest channel, and how colourless it is.
func paperMaps(pic *Colour) [3]*Grey {
	maps := [3]*Grey{NewGrey(pic.W, pic.H), NewGrey(pic.W, pic.H), NewGrey(pic.W, pic.H)}
	for i := range maps[0].Pix {
		b, g, r := int(pic.Pix[3*i]), int(pic.Pix[3*i+1]), int(pic.Pix[3*i+2])
		hi, lo := max(b, g, r), min(b, g, r)
		maps[0].Pix[i] = uint8((b + 2*g + r) / 4)
		maps[1].Pix[i] = uint8(lo)
		// Colourless is paper: 255 less the saturation.
		maps[2].Pix[i] = uint8(255 - 255*(hi-lo)/max(hi, 1))
	}
	return maps
}
