package vision

import (
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// Looking for the outline in the small copy; px are its px, shares those of its
// area or of its pixels. Found on the accuracy sets where no reason is given.
const (
	leastGlance   = 40   // px, the copy's shorter side: in less no outline can be told
	glanceBlur    = 5    // px, side of the kernel that takes off noise and fine texture
	areaSay       = 0.35 // power of the area in an outline's score: the less it is, the more the seen edges count
	cutTail       = 0.05 // share of the pixels that is darker than the least cut, and lighter than the greatest
	cutSteps      = 8    // steps from the dark to the light parts, with a cut between each two
	cannyLow      = 20   // step, grey levels times the kernel's weights, by which an edge goes on,
	cannyHigh     = 60   // and by which one starts
	edgeBroad     = 5    // px, side of the kernel that closes small gaps in edges
	leastFill     = 0.04 // share of the copy that a contour encloses at least,
	leastQuad     = 0.05 // and a sheet fills of it: less is too small for one
	cornerFit     = 0.01 // of a hull's girth: by so much tolerance grows until four corners are left,
	cornerFitMost = 0.08 // up to here, where other shapes would lose their corners too
	quadAngle     = 40   // degrees, the sharpest corner of a sheet seen askew; its bluntest is the rest of 180
	quadSpill     = 1.25 // times its hull's area that a quadrilateral may have: more is another shape
	frameEdge     = 4    // px from the picture's border that count as on it, as blur and broadened edges reach there
	frameCorners  = 3    // corners on the border's corners that make a quadrilateral the picture's own frame
)

// Whether a side shows an edge. Lengths are px of the small copy.
const (
	supportPlaces = 60   // places along a side that are looked at
	supportSkip   = 0.05 // of a side left out at each end, where a corner may be bent or a px off
)

// Moving the sides onto the edges seen in the full photo.
const (
	refineReach = 2.5  // px of the small copy by which a side may be off
	refineLeast = 4    // px of the photo that are looked through each way at least, at first
	closeIn     = 3    // times less far that a second look reaches
	closeLeast  = 3    // px of the photo that it reaches at least
	refineMove  = 4    // times that reach by which a corner may move: more is another edge
	edgePlaces  = 240  // places along a side where its edge is looked for
	edgeSkip    = 0.03 // of a side left out at each end, where the other side's edge is near
	slopeHalf   = 2    // px either way over which a slope is taken: noise does not fool it
	leastSlope  = 30.0 // least slope that is an edge: a sharp step of 10 levels, summed over channels (a float: a := starts from it)
	sideNear    = 1.5  // px off its line that an edge point lies on it
	leastOnSide = 20   // edge points that a line is put through at least
	lineRounds  = 8    // rounds of least squares, each with the weights of the last
	lineOutlier = 6    // times the middle distance from the line beyond which a point has no say
)

// Finding the sheet's outline. A sheet differs from what it lies on in
// brightness or in colour, but a shadow across it may make a larger step than
// its edge. So several maps of the photo are cut at several levels, each piece
// is asked for a quadrilateral, and the quadrilateral whose sides show a step
// all along wins.

// quadSide is the longer side, in px, of the small copy that is searched.
const quadSide = 900

// A glance is a small copy of a photo, softened, and the quadrilaterals in it
// that may be a sheet.
type glance struct {
	pic   *Colour
	quads [][4]geom.Point // px of pic, clockwise from the top left
}

// glanceAt looks at a photo, or a copy of it at any size.
func glanceAt(photo *Colour) (*glance, error) {
	k := min(float64(quadSide)/float64(max(photo.W, photo.H)), 1)
	w, h := int(float64(photo.W)*k), int(float64(photo.H)*k)
	if min(w, h) < leastGlance {
		return &glance{pic: photo}, nil
	}
	small, err := photo.Resized(w, h)
	if err != nil {
		return nil, err
	}
	pic, err := small.into(w, h, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.GaussianBlur(src, dst, image.Pt(glanceBlur, glanceBlur), 0, 0, gocv.BorderReplicate)
	})
	if err != nil {
		return nil, err
	}
	return &glance{pic, candidateQuads(pic)}, nil
}

// An outline is the sheet's in the photo.
type outline struct {
	corners [4]geom.Point // px of the photo, clockwise from the top left
	seen    float64       // share of the worst side along which an edge is seen
	cut     bool          // the paper goes on beyond a side
	framed  bool          // a drawn frame may be taken for it
	out     []Border      // where the sheet runs out of the picture: that side is not seen
}

// findOutline looks for a sheet of which each side shows an edge along that
// share; ok is false if there is none.
func findOutline(photo *Colour, support float64) (o outline, ok bool, err error) {
	g, err := photo.atAGlance()
	if err != nil {
		return o, false, err
	}
	o.corners, o.seen = g.best(g.quads, support)
	if o.seen == 0 && min(g.pic.W, g.pic.H) >= leastGlance {
		lines, err := edgeLines(g.pic)
		if err != nil {
			return o, false, err
		}
		o.corners, o.seen = g.best(lineQuads(g.pic, lines, support), support)
		if o.seen == 0 {
			o = bestOpen(g.pic, lines, support)
		}
	}
	if o.seen > 0 && o.out == nil {
		if err := g.whole(&o, support); err != nil {
			return o, false, err
		}
	}
	o.framed = o.seen > 0 && o.out == nil && isFramed(g.pic, o.corners)
	for i, p := range o.corners {
		o.corners[i] = geom.Pt(p.X*float64(photo.W)/float64(g.pic.W), p.Y*float64(photo.H)/float64(g.pic.H))
	}
	return o, o.seen > 0, nil
}

// atAGlance is the photo's small copy.
func (c *Colour) atAGlance() (*glance, error) {
	if c.glance != nil {
		return c.glance, nil
	}
	return glanceAt(c)
}

// best is the outline that most edge and area speak for (edges that are missing count, and so does how far the others
// lie off), and the share of its
// worst side along which an edge is seen, 0 if none is good enough.
func (g *glance) best(quads [][4]geom.Point, support float64) (best [4]geom.Point, seen float64) {
	most := 0.0
	for _, q := range quads {
		share, near := sideSupport(g.pic, q)
		if share < support {
			continue
		}
		if score := share * near * math.Pow(quadArea(q)/float64(g.pic.W*g.pic.H), areaSay); score > most && !isDark(g.pic, q) {
			best, most, seen = q, score, share
		}
	}
	return best, seen
}

// candidateQuads cuts maps of the picture at several levels.
func candidateQuads(pic *Colour) [][4]geom.Point {
	maps := paperMaps(pic)
	var out [][4]geom.Point
	for _, m := range maps {
		out = append(out, cutQuads(m)...)
	}
	return append(out, edgeQuads(maps[0])...)
}

// cutQuads cuts m at several levels.
func cutQuads(m *Grey) [][4]geom.Point {
	src, bin := m.mat(), gocv.NewMat()
	defer src.Close()
	defer bin.Close()
	var out [][4]geom.Point
	for _, level := range levels(m) {
		gocv.Threshold(src, &bin, float32(level), 255, gocv.ThresholdBinary)
		out = append(out, quadsIn(bin)...)
	}
	return out
}

// levels are grey levels to cut m at: Otsu's, and steps between the darker and
// the lighter parts.
func levels(m *Grey) []int {
	var hist [256]int
	for _, v := range m.Pix {
		hist[v]++
	}
	at := func(share float64) int {
		n := int(share * float64(len(m.Pix)))
		for v, c := range hist {
			if n -= c; n < 0 {
				return v
			}
		}
		return 255
	}
	src, dst := m.mat(), gocv.NewMat()
	defer src.Close()
	defer dst.Close()
	otsu := int(gocv.Threshold(src, &dst, 0, 255, gocv.ThresholdBinary|gocv.ThresholdOtsu))
	lo, hi := at(cutTail), at(1-cutTail)
	out := []int{otsu}
	for i := 1; i < cutSteps; i++ {
		out = append(out, lo+(hi-lo)*i/cutSteps)
	}
	return out
}

// edgeQuads looks along edges rather than in areas.
func edgeQuads(m *Grey) [][4]geom.Point {
	src, edges := m.mat(), gocv.NewMat()
	defer src.Close()
	defer edges.Close()
	gocv.Canny(src, &edges, cannyLow, cannyHigh)
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(edgeBroad, edgeBroad))
	defer kernel.Close()
	gocv.MorphologyEx(edges, &edges, gocv.MorphDilate, kernel)
	return quadsIn(edges)
}

// quadsIn returns the quadrilaterals that large pieces of bin fill.
func quadsIn(bin gocv.Mat) [][4]geom.Point {
	contours := gocv.FindContours(bin, gocv.RetrievalExternal, gocv.ChainApproxSimple)
	defer contours.Close()
	frame := float64(bin.Rows() * bin.Cols())
	var out [][4]geom.Point
	for i := range contours.Size() {
		c := contours.At(i)
		if gocv.ContourArea(c) < leastFill*frame {
			continue
		}
		if q, ok := quadOf(c); ok && quadArea(q) > leastQuad*frame && !isFrame(q, bin.Cols(), bin.Rows()) {
			out = append(out, q)
		}
	}
	return out
}

// quadOf simplifies a contour's hull to four corners, if it has that shape.
func quadOf(contour gocv.PointVector) ([4]geom.Point, bool) {
	m := gocv.NewMat()
	defer m.Close()
	gocv.ConvexHull(contour, &m, true, true)
	hv := gocv.NewPointVectorFromMat(m)
	defer hv.Close()
	girth := gocv.ArcLength(hv, true)
	for eps := cornerFit; eps < cornerFitMost; eps += cornerFit {
		ap := gocv.ApproxPolyDP(hv, eps*girth, true)
		pts := ap.ToPoints()
		ap.Close()
		if len(pts) != 4 {
			continue
		}
		var q [4]geom.Point
		for i, p := range pts {
			q[i] = geom.Pt(float64(p.X)+0.5, float64(p.Y)+0.5)
		}
		q = clockwise(q)
		for i := range q {
			a, b := q[(i+3)%4].Sub(q[i]), q[(i+1)%4].Sub(q[i])
			if t := a.Angle(b); t < quadAngle || t > 180-quadAngle {
				return q, false
			}
		}
		return q, quadArea(q) < quadSpill*gocv.ContourArea(hv)
	}
	return [4]geom.Point{}, false
}

// quadArea by the shoelace formula.
func quadArea(q [4]geom.Point) float64 {
	sum := 0.0
	for i := range q {
		sum += q[i].Cross(q[(i+1)%4])
	}
	return math.Abs(sum) / 2
}

// isFrame tells a quadrilateral that is the picture's own border.
func isFrame(q [4]geom.Point, w, h int) bool {
	on := 0
	for _, p := range q {
		if (p.X < frameEdge || p.X > float64(w)-frameEdge) && (p.Y < frameEdge || p.Y > float64(h)-frameEdge) {
			on++
		}
	}
	return on >= frameCorners
}

// refineQuad moves each side of q onto the edge seen in the full photo: at
// many places along it the sharpest step across it is found, and a line put
// through those by weighted least squares that gives outliers no say. It
// returns the corners, the edge points' distance from their lines, px rms, and
// the share of the worst side along which the edge lies on its line.
func refineQuad(photo *Colour, q [4]geom.Point) (corners [4]geom.Point, stray, on float64) {
	reach := refineReach * float64(max(photo.W, photo.H)) / quadSide
	for _, r := range []float64{max(reach, refineLeast), max(reach/closeIn, closeLeast)} {
		var lines [4]fitted
		sum := 0.0
		on = 1
		for i := range q {
			pts := edgePoints(photo, q[i], q[(i+1)%4], r)
			lines[i] = fitLine(pts, q[i], q[(i+1)%4])
			sum += lines[i].rms * lines[i].rms
			on = min(on, float64(lines[i].near(pts))/edgePlaces)
		}
		var next [4]geom.Point
		for i := range q {
			p, ok := lines[(i+3)%4].meet(lines[i])
			if !ok || p.Dist(q[i]) > refineMove*reach {
				return q, stray, on
			}
			next[i] = p
		}
		q, stray = next, math.Sqrt(sum/4)
	}
	return q, stray, on
}

// edgePoints finds the sharpest change across segment a–b at edgePlaces places.
func edgePoints(photo *Colour, a, b geom.Point, reach float64) []geom.Point {
	across := b.Sub(a).Unit().Perp()
	n := int(2*reach) + 1
	grey := make([]float64, n+2*slopeHalf)
	var out []geom.Point
	for k := range edgePlaces {
		p := a.Lerp(b, edgeSkip+(1-2*edgeSkip)*(float64(k)+0.5)/edgePlaces)
		ok := true
		for i := range grey {
			v, in := sample(photo, p.Add(across.Mul(float64(i)-float64(len(grey)-1)/2)))
			grey[i], ok = v, ok && in
		}
		if !ok {
			continue
		}
		// Slope over a span of 5, which noise does not fool.
		slope := make([]float64, n)
		best := 0
		for i := range slope {
			slope[i] = math.Abs(2*grey[i+4] + grey[i+3] - grey[i+1] - 2*grey[i])
			if slope[i] > slope[best] {
				best = i
			}
		}
		if slope[best] < leastSlope {
			continue
		}
		off := float64(best)
		if best > 0 && best < n-1 {
			l, m, r := slope[best-1], slope[best], slope[best+1]
			if d := l - 2*m + r; d < 0 {
				off += 0.5 * (l - r) / d
			}
		}
		out = append(out, p.Add(across.Mul(off+slopeHalf-float64(len(grey)-1)/2)))
	}
	return out
}

// sample returns the sum of the channels at p, between pixels.
func sample(c *Colour, p geom.Point) (float64, bool) {
	x, y := p.X-0.5, p.Y-0.5
	x0, y0 := int(math.Floor(x)), int(math.Floor(y))
	if x0 < 0 || y0 < 0 || x0+1 >= c.W || y0+1 >= c.H {
		return 0, false
	}
	at := func(x, y int) float64 {
		i := 3 * (y*c.W + x)
		return float64(c.Pix[i]) + float64(c.Pix[i+1]) + float64(c.Pix[i+2])
	}
	fx, fy := x-float64(x0), y-float64(y0)
	top := at(x0, y0)*(1-fx) + at(x0+1, y0)*fx
	return top*(1-fy) + (at(x0, y0+1)*(1-fx)+at(x0+1, y0+1)*fx)*fy, true
}

// A fitted line goes through p in direction d.
type fitted struct {
	p, d geom.Point
	rms  float64
}

// near is how many of pts lie on the line.
func (l fitted) near(pts []geom.Point) (n int) {
	for _, p := range pts {
		if math.Abs(l.d.Cross(p.Sub(l.p))) < sideNear {
			n++
		}
	}
	return n
}

// parallelSides is the sine of the angle under which two sides of a sheet meet
// nowhere near it.
const parallelSides = 1e-6

// meet returns the point where two lines cross.
func (l fitted) meet(m fitted) (geom.Point, bool) {
	u, _, sine := geom.Meet(l.p, l.d, m.p, m.d)
	if math.Abs(sine) < parallelSides {
		return geom.Point{}, false
	}
	return l.p.Add(l.d.Mul(u)), true
}

// fitLine fits a line to pts by least squares of the distances, reweighted by
// Tukey's biweight; with too few points it is the line a–b.
func fitLine(pts []geom.Point, a, b geom.Point) fitted {
	l := fitted{p: a, d: b.Sub(a).Unit()}
	if len(pts) < leastOnSide {
		return l
	}
	for range lineRounds {
		off := make([]float64, len(pts))
		for i, p := range pts {
			off[i] = math.Abs(l.d.Cross(p.Sub(l.p)))
		}
		scale := max(lineOutlier*median(slices.Clone(off)), 1)
		var sw, sx, sy, rr float64
		wt := make([]float64, len(pts))
		for i, p := range pts {
			if u := off[i] / scale; u < 1 {
				wt[i] = (1 - u*u) * (1 - u*u)
			}
			sw += wt[i]
			sx += wt[i] * p.X
			sy += wt[i] * p.Y
			rr += wt[i] * off[i] * off[i]
		}
		mid := geom.Pt(sx/sw, sy/sw)
		var xx, xy, yy float64
		for i, p := range pts {
			d := p.Sub(mid)
			xx += wt[i] * d.X * d.X
			xy += wt[i] * d.X * d.Y
			yy += wt[i] * d.Y * d.Y
		}
		l = fitted{p: mid, d: principalAxis(xx, xy, yy), rms: math.Sqrt(rr / sw)}
	}
	return l
}
