package vision

import (
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
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
	if min(w, h) < 40 {
		return &glance{pic: photo}, nil
	}
	small, err := photo.Resized(w, h)
	if err != nil {
		return nil, err
	}
	pic, err := small.into(w, h, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.GaussianBlur(src, dst, image.Pt(5, 5), 0, 0, gocv.BorderReplicate)
	})
	if err != nil {
		return nil, err
	}
	return &glance{pic, candidateQuads(pic)}, nil
}

// findQuad returns the sheet's corners in px of the photo, clockwise from the
// top left, and the share of its worst side along which an edge is seen.
func findQuad(photo *Colour, support float64) ([4]geom.Point, float64, bool) {
	g := photo.glance
	if g == nil {
		var err error
		if g, err = glanceAt(photo); err != nil {
			return [4]geom.Point{}, 0, false
		}
	}
	pic := g.pic
	best, bestScore, bestSupport := [4]geom.Point{}, 0.0, 0.0
	for _, q := range g.quads {
		s := sideSupport(pic, q)
		if s < support {
			continue
		}
		if score := s * math.Pow(quadArea(q)/float64(pic.W*pic.H), 0.35); score > bestScore {
			best, bestScore, bestSupport = q, score, s
		}
	}
	if bestScore == 0 {
		return best, 0, false
	}
	for i := range best {
		best[i] = geom.Pt(best[i].X*float64(photo.W)/float64(pic.W), best[i].Y*float64(photo.H)/float64(pic.H))
	}
	return best, bestSupport, true
}

// candidateQuads cuts maps of the picture at several levels.
func candidateQuads(pic *Colour) [][4]geom.Point {
	maps := []*Grey{NewGrey(pic.W, pic.H), NewGrey(pic.W, pic.H), NewGrey(pic.W, pic.H)}
	for i := range maps[0].Pix {
		b, g, r := int(pic.Pix[3*i]), int(pic.Pix[3*i+1]), int(pic.Pix[3*i+2])
		hi, lo := max(b, g, r), min(b, g, r)
		maps[0].Pix[i] = uint8((b + 2*g + r) / 4)
		maps[1].Pix[i] = uint8(lo)
		// Colourless is paper: 255 less the saturation.
		maps[2].Pix[i] = uint8(255 - 255*(hi-lo)/max(hi, 1))
	}
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
	lo, hi := at(0.05), at(0.95)
	out := []int{otsu}
	for i := 1; i < 8; i++ {
		out = append(out, lo+(hi-lo)*i/8)
	}
	return out
}

// edgeQuads looks along edges rather than in areas.
func edgeQuads(m *Grey) [][4]geom.Point {
	src, edges := m.mat(), gocv.NewMat()
	defer src.Close()
	defer edges.Close()
	gocv.Canny(src, &edges, 20, 60)
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(5, 5))
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
		if gocv.ContourArea(c) < 0.08*frame {
			continue
		}
		if q, ok := quadOf(c); ok && quadArea(q) > 0.1*frame && !isFrame(q, bin.Cols(), bin.Rows()) {
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
	for eps := 0.01; eps < 0.08; eps += 0.01 {
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
			if t := a.Angle(b); t < 40 || t > 140 {
				return q, false
			}
		}
		return q, quadArea(q) < 1.25*gocv.ContourArea(hv)
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
		if (p.X < 4 || p.X > float64(w)-4) && (p.Y < 4 || p.Y > float64(h)-4) {
			on++
		}
	}
	return on >= 3
}

// sideSupport is the share of q's worst side along which the colour steps
// from inside to out.
func sideSupport(pic *Colour, q [4]geom.Point) float64 {
	worst := 1.0
	for i := range q {
		a, b := q[i], q[(i+1)%4]
		in := b.Sub(a).Unit().Perp() // clockwise outline, y down: inside is to the right
		hits, n := 0, 60
		for k := range n {
			p := a.Lerp(b, 0.05+0.9*(float64(k)+0.5)/float64(n))
			for off := -2.0; off <= 2; off++ {
				if step(pic, p.Add(in.Mul(off+3)), p.Add(in.Mul(off-3))) > 24 {
					hits++
					break
				}
			}
		}
		worst = min(worst, float64(hits)/float64(n))
	}
	return worst
}

// step is how much the colours at two places differ, summed over channels.
// Outside the picture there is no paper edge to see, so no step.
func step(pic *Colour, in, out geom.Point) int {
	inside := func(p geom.Point) (int, bool) {
		x, y := int(p.X), int(p.Y)
		if p.X < 0 || p.Y < 0 || x >= pic.W || y >= pic.H {
			return 0, false
		}
		return 3 * (y*pic.W + x), true
	}
	i, ok1 := inside(in)
	o, ok2 := inside(out)
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

// refineQuad moves each side of q onto the edge seen in the full photo: at
// many places along it the sharpest step across it is found, and a line put
// through those by weighted least squares that gives outliers no say. It
// returns the corners and the edge points' distance from their lines, px rms.
func refineQuad(photo *Colour, q [4]geom.Point) ([4]geom.Point, float64) {
	reach := 2.5 * float64(max(photo.W, photo.H)) / quadSide
	stray := 0.0
	for _, r := range []float64{max(reach, 4), max(reach/3, 3)} {
		var lines [4]fitted
		sum := 0.0
		for i := range q {
			pts := edgePoints(photo, q[i], q[(i+1)%4], r)
			lines[i] = fitLine(pts, q[i], q[(i+1)%4])
			sum += lines[i].rms * lines[i].rms
		}
		var next [4]geom.Point
		for i := range q {
			p, ok := lines[(i+3)%4].meet(lines[i])
			if !ok || p.Dist(q[i]) > 4*reach {
				return q, stray
			}
			next[i] = p
		}
		q, stray = next, math.Sqrt(sum/4)
	}
	return q, stray
}

// edgePoints finds the sharpest change across segment a–b at 240 places.
func edgePoints(photo *Colour, a, b geom.Point, reach float64) []geom.Point {
	across := b.Sub(a).Unit().Perp()
	n := int(2*reach) + 1
	grey := make([]float64, n+4)
	var out []geom.Point
	for k := range 240 {
		p := a.Lerp(b, 0.03+0.94*(float64(k)+0.5)/240)
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
		if slope[best] < 30 {
			continue
		}
		off := float64(best)
		if best > 0 && best < n-1 {
			l, m, r := slope[best-1], slope[best], slope[best+1]
			if d := l - 2*m + r; d < 0 {
				off += 0.5 * (l - r) / d
			}
		}
		out = append(out, p.Add(across.Mul(off+2-float64(len(grey)-1)/2)))
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
	if len(pts) < 20 {
		return l
	}
	for range 8 {
		off := make([]float64, len(pts))
		for i, p := range pts {
			off[i] = math.Abs(l.d.Cross(p.Sub(l.p)))
		}
		scale := max(6*median(slices.Clone(off)), 1)
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
