package vision

import (
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/geom/lsq"
	"inkchannel/geom/parallel"
)

// Fitting a bow. Found on the accuracy sets where no reason is given.
const (
	bowBeyond    = 0.1   // of the sheet's length beyond its ends up to where the height goes on as it is
	bowReach     = 0.022 // of the photo's longer side that an edge may lie from a straight side at first
	bowClose     = 6     // px that it may lie from the fit at last
	bowBetter    = 0.6   // of the stray before: what a flat sheet's edges must stray less than to be the better fit
	bowRest      = 0.25  // of the sag: what a bow must leave less of to explain it
	lensLike     = 1.3   // times the stray of the best bow that a lens's distortion, which has fewer terms, may leave
	lensBoth     = 0.6   // and times that of the better of these that both together must leave less than
	lensRest     = 1e-4  // of the photo's longer side that either may leave: a curled sheet's edges are no lens's
	lensTerm     = cornerTerms + bowTerms
	cornerTerms  = 8     // coordinates of the four corners, before the height's terms
	bowPlaces    = 120   // places along a side where its edge is looked for
	bowSeen      = 40    // of them at which it must be seen, on each side
	tangentHalf  = 0.01  // of a side either way over which its direction is taken
	bowSteps     = 3     // Gauss–Newton steps on the edge points of one look
	bowOutlier   = 5     // times the middle distance from the fit beyond which an edge point has no say,
	bowOutlierPx = 1.5   // px, or this if that is less
	cornerNudge  = 0.5   // px by which a corner is moved to see the edges' slopes by it,
	heightNudge  = 0.001 // and, of the sheet's length, a term of the height
	ridge        = 1e-6  // share added to the normal equations' diagonal, and
	ridgeLeast   = 1e-9  // what is added in any case, so that they can be solved
	bowRare      = 1e5   // times what the edges stray, squared, that a height of the sheet's length weighs, squared
)

// A sheet that was folded or rolled does not lie flat: along one of its
// directions it bows. Its edges then look bent in the photo, and tell how high
// each part of it lies; what is drawn there is seen shifted away from the point
// under the camera. A bow is that shape: over a picture of the sheet (px), the
// height along x or y as a polynomial that is 0 at both ends.

// bowTerms is the number of the polynomial's terms.
const bowTerms = 3

// bowWidth is the width, px, of the sheet's picture while a bow is fitted.
const bowWidth = 1000

// A bow maps the bowed sheet's picture to the photo.
type bow struct {
	cols   [4][3]float64 // images of the unit vectors along x, y and up, and of the corner: homogeneous px of the photo
	alongY bool
	length float64 // px of the picture along the direction that bows
	height [bowTerms]float64
	// The lens's radial distortion, k1 of Brown's model (Brown 1966, "Decentering
	// distortion of lenses", from memory), over the focal length's square, about the
	// photo's middle.
	lens float64
	mid  geom.Point
}

// newBow is a flat sheet of w by h px whose corners are seen at q, by a lens of
// focal length f px in the middle of a photo of pw by ph px.
func newBow(q [4]geom.Point, w, h, f float64, pw, ph int, alongY bool) bow {
	m := fourPoint([4]geom.Point{{}, {X: w}, {X: w, Y: h}, {Y: h}}, q)
	b := bow{alongY: alongY, length: w, mid: geom.Pt(float64(pw)/2, float64(ph)/2)}
	if alongY {
		b.length = h
	}
	cx, cy := float64(pw)/2, float64(ph)/2
	// The columns without the lens: directions in the camera's frame.
	var d [3][3]float64
	for k := range 3 {
		d[k] = [3]float64{(m[k] - cx*m[6+k]) / f, (m[3+k] - cy*m[6+k]) / f, m[6+k]}
		b.cols[[3]int{0, 1, 3}[k]] = [3]float64{m[k], m[3+k], m[6+k]}
	}
	n := [3]float64{
		d[0][1]*d[1][2] - d[0][2]*d[1][1],
		d[0][2]*d[1][0] - d[0][0]*d[1][2],
		d[0][0]*d[1][1] - d[0][1]*d[1][0],
	}
	k := 1 / math.Sqrt(norm3(d[0])*norm3(d[1]))
	b.cols[2] = [3]float64{k * (f*n[0] + cx*n[2]), k * (f*n[1] + cy*n[2]), k * n[2]}
	return b
}

func norm3(v [3]float64) float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }

// lift is the height at p, px.
func (b *bow) lift(p geom.Point) float64 {
	t := p.X / b.length
	if b.alongY {
		t = p.Y / b.length
	}
	t = min(max(t, -bowBeyond), 1+bowBeyond)
	sum, term := 0.0, 4*t*(1-t)
	for _, a := range b.height {
		sum += a * term
		term *= 2*t - 1
	}
	return sum
}

// apply maps a place of the picture to the photo.
func (b *bow) apply(p geom.Point) geom.Point {
	z := b.lift(p)
	at := func(k int) float64 {
		return b.cols[0][k]*p.X + b.cols[1][k]*p.Y + b.cols[2][k]*z + b.cols[3][k]
	}
	w := at(2)
	d := geom.Pt(at(0)/w, at(1)/w).Sub(b.mid)
	return b.mid.Add(d.Mul(1 + b.lens*d.Dot(d)))
}

// bowLeast is the sag of an edge, as a share of the photo's longer side, from
// which on a sheet is taken for bowed: less is the lens's own, or the paper's
// cut.
const bowLeast = 0.0012

// lensLeast is the same for the lens's distortion.
const lensLeast = 0.0004

// findBow fits a sheet, bowed or flat, to the edges seen in the photo near the
// sides of q, looking further than refineQuad, from whose lines they stray by
// so many px rms. It returns the sheet's shape, a map of the unit square to the
// photo, nil if it is flat, its corners, and how far the edges stray from it; ok
// is false if that is no better.
func findBow(
	photo *Colour, q [4]geom.Point, before float64, want Page,
) (shape func(geom.Point) geom.Point, corners [4]geom.Point, stray float64, ok bool) {
	long := float64(max(photo.W, photo.H))
	reach := bowReach * long
	fit := func(f bowFit) *bowFit {
		f.photo, f.want, f.rms, f.cost = photo, want, math.Inf(1), math.Inf(1)
		for i, p := range q {
			f.v[2*i], f.v[2*i+1] = p.X, p.Y
		}
		for _, r := range []float64{reach, reach, reach / closeIn, bowClose, bowClose} {
			if !f.improve(r) {
				return &f
			}
		}
		// How closely the edges fit tells how far a height can be trusted.
		f.rare = bowRare * f.rms * f.rms
		if f.improve(bowClose) {
			f.improve(bowClose)
		}
		return &f
	}
	kinds := []bowFit{{bowed: true}, {bowed: true, alongY: true}, {lens: true}}
	fits := make([]*bowFit, len(kinds))
	parallel.Each(len(kinds), func(i int) { fits[i] = fit(kinds[i]) })
	best := fits[0]
	if fits[1].cost < best.cost {
		best = fits[1]
	}
	if lens := fits[2]; lens.rms < min(lensLike*best.rms, lensRest*long) {
		best = lens
	}
	if both := fit(bowFit{bowed: true, alongY: best.alongY, lens: true}); both.rms < min(lensBoth*best.rms, lensRest*long) {
		best = both
	}
	b := best.shape()
	sag := 0.0
	for _, t := range []float64{0.25, 0.5, 0.75} {
		for _, side := range [][2]geom.Point{{{}, {X: 1}}, {{X: 1}, {X: 1, Y: 1}}, {{Y: 1}, {X: 1, Y: 1}}, {{}, {Y: 1}}} {
			on := func(u geom.Point) geom.Point { return b.apply(geom.Pt(u.X*best.w, u.Y*best.h)) }
			a, c := on(side[0]), on(side[1])
			mid := on(side[0].Lerp(side[1], t))
			sag = max(sag, math.Abs(c.Sub(a).Unit().Cross(mid.Sub(a))))
		}
	}
	least := bowLeast
	if best.lens { // all four edges say so
		least = lensLeast
	}
	if sag < least*long {
		flat := &bowFit{photo: photo, want: want, rms: math.Inf(1)}
		copy(flat.v[:cornerTerms], best.v[:cornerTerms])
		seen := flat.improve(reach/closeIn) && flat.improve(bowClose) && flat.improve(bowClose)
		return nil, flat.corners(), flat.rms, seen && flat.rms < bowBetter*before
	}
	unit := func(u geom.Point) geom.Point { return b.apply(geom.Pt(u.X*best.w, u.Y*best.h)) }
	return unit, best.seenCorners(), best.rms, best.rms < bowRest*sag
}

// A bowFit is a least squares fit of a bow: the corners' coordinates, then the
// height's terms as shares of the sheet's length, then the lens's k1.
type bowFit struct {
	photo       *Colour
	alongY      bool
	bowed, lens bool // what is sought beside the corners
	want        Page
	v           [cornerTerms + bowTerms + 1]float64
	w, h        float64 // px of the picture
	rms         float64 // px that the edges stray from it
	rare        float64 // px², what the square of a height of the sheet's length weighs
	cost        float64 // px, rms with what its height weighs
}

// corners are where a lens without distortion would see them.
func (b *bowFit) corners() (q [4]geom.Point) {
	for i := range q {
		q[i] = geom.Pt(b.v[2*i], b.v[2*i+1])
	}
	return q
}

// seenCorners are where they are seen.
func (b *bowFit) seenCorners() (q [4]geom.Point) {
	s := b.shape()
	for i := range q {
		q[i] = b.edge(s, i, 0)
	}
	return q
}

// shape is the bow that the values say.
func (b *bowFit) shape() *bow {
	q := b.corners()
	f := focalOf(q, b.photo.W, b.photo.H)
	out := newBow(q, b.w, b.h, f, b.photo.W, b.photo.H, b.alongY)
	out.lens = b.v[lensTerm] / (f * f)
	for i := range out.height {
		out.height[i] = b.v[cornerTerms+i] * out.length
	}
	return &out
}

// edge is the place on the bow at share t along side i.
func (b *bowFit) edge(s *bow, i int, t float64) geom.Point {
	c := [4]geom.Point{{}, {X: b.w}, {X: b.w, Y: b.h}, {Y: b.h}}
	return s.apply(c[i].Lerp(c[(i+1)%4], t))
}

// A seenEdge is a place of the sheet's edge as it is seen in the photo.
type seenEdge struct {
	side  int
	t     float64    // share along the side
	at, n geom.Point // px of the photo; across the edge
}

// improve looks for edges within reach px of where the fit has them and moves
// the fit to them, by some steps of Gauss and Newton's method with outliers weighed
// down. It reports false where too little of an edge is seen.
func (b *bowFit) improve(reach float64) bool {
	_, aspect := pageOf(b.corners(), b.photo.W, b.photo.H, b.want)
	b.w, b.h = bowWidth, bowWidth/aspect
	all, ok := b.look(reach)
	if !ok {
		return false
	}
	for range bowSteps {
		if !b.step(all) {
			return false
		}
	}
	return true
}

// look finds the edges within reach px of where the fit has them. It reports false
// where too little of one is seen.
func (b *bowFit) look(reach float64) (all []seenEdge, ok bool) {
	s := b.shape()
	for side := range 4 {
		count := 0
		for k := range bowPlaces {
			t := edgeSkip + (1-2*edgeSkip)*(float64(k)+0.5)/bowPlaces
			p := b.edge(s, side, t)
			n := b.edge(s, side, t+tangentHalf).Sub(b.edge(s, side, t-tangentHalf)).Unit().Perp()
			if at, ok := edgeAcross(b.photo, p, n, reach); ok {
				all = append(all, seenEdge{side: side, t: t, at: at, n: n})
				count++
			}
		}
		if count < bowSeen {
			return nil, false
		}
	}
	return all, true
}

// sought are the values that are sought.
func (b *bowFit) sought() (at []int) {
	for k := range b.v {
		if k < cornerTerms || k < lensTerm && b.bowed || k == lensTerm && b.lens {
			at = append(at, k)
		}
	}
	return at
}

// step moves the fit to the edges seen once. It reports false where they do not say
// where to.
func (b *bowFit) step(all []seenEdge) bool {
	s := b.shape()
	off, sizes := make([]float64, len(all)), make([]float64, len(all))
	for i, e := range all {
		off[i] = e.at.Sub(b.edge(s, e.side, e.t)).Dot(e.n)
		sizes[i] = math.Abs(off[i])
	}
	scale := max(bowOutlier*median(sizes), bowOutlierPx)
	sought := b.sought()
	slopes := b.slopes(s, all, sought)
	normal, at := lsq.NewNormal(len(sought)), make([]int, len(sought))
	for k := range at {
		at[k] = k
	}
	sum, weights := 0.0, 0.0
	for i := range all {
		u := off[i] / scale
		if math.Abs(u) >= 1 {
			continue
		}
		w := (1 - u*u) * (1 - u*u)
		sum, weights = sum+w*off[i]*off[i], weights+w
		normal.Add(w, at, slopes[i], off[i])
	}
	b.rms = math.Sqrt(sum / weights)
	// Where a sheet bows along an edge only its corners tell, so that a bow which
	// explains next to nothing would move the lines by millimetres.
	for k, i := range sought {
		if i >= cornerTerms && i < lensTerm {
			normal.Add(b.rare, at[k:k+1], []float64{1}, -b.v[i])
			sum += b.rare * b.v[i] * b.v[i]
		}
	}
	b.cost = math.Sqrt(sum / weights)
	move, ok := normal.Solve(ridge, ridgeLeast)
	if !ok {
		return false
	}
	for k, i := range sought {
		b.v[i] += move[k]
	}
	return true
}

// slopes are how far each edge of shape s moves across itself as each value grows.
func (b *bowFit) slopes(s *bow, all []seenEdge, sought []int) [][]float64 {
	out := make([][]float64, len(all))
	for i := range out {
		out[i] = make([]float64, len(sought))
	}
	for k, at := range sought {
		moved := *b
		step := cornerNudge
		if at >= cornerTerms {
			step = heightNudge
		}
		moved.v[at] += step
		t := moved.shape()
		for i, e := range all {
			out[i][k] = b.edge(t, e.side, e.t).Sub(b.edge(s, e.side, e.t)).Dot(e.n) / step
		}
	}
	return out
}

// edgeAcross finds the sharpest change along the unit vector n within reach of p.
func edgeAcross(photo *Colour, p, n geom.Point, reach float64) (geom.Point, bool) {
	half := int(reach) + slopeHalf + 1
	grey := make([]float64, 2*half+1)
	for i := range grey {
		v, in := sample(photo, p.Add(n.Mul(float64(i-half))))
		if !in {
			return geom.Point{}, false
		}
		grey[i] = v
	}
	best, top := -1, leastSlope
	slope := func(i int) float64 {
		return math.Abs(2*grey[i+2] + grey[i+1] - grey[i-1] - 2*grey[i-2])
	}
	for i := slopeHalf + 1; i+slopeHalf+1 < len(grey); i++ {
		if s := slope(i); s > top {
			best, top = i, s
		}
	}
	if best < 0 {
		return geom.Point{}, false
	}
	at := float64(best - half)
	if l, m, r := slope(best-1), top, slope(best+1); l-2*m+r < 0 {
		at += 0.5 * (l - r) / (l - 2*m + r)
	}
	return p.Add(n.Mul(at)), true
}

// bendEvery is the distance, px, of the places of a picture that are mapped to the
// photo one by one; those between follow in proportion.
const bendEvery = 8

// unbend samples the photo at toPhoto of each pixel of a picture of w by h px.
func unbend(photo *Colour, toPhoto func(geom.Point) geom.Point, w, h int) (*Colour, error) {
	mx, my := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F), gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer mx.Close()
	defer my.Close()
	px, err := mx.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	py, err := my.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	cols, rows := (w+bendEvery-1)/bendEvery+1, (h+bendEvery-1)/bendEvery+1
	grid := make([]geom.Point, cols*rows)
	for i := range grid {
		p := toPhoto(geom.Pt(float64(i%cols*bendEvery)+0.5, float64(i/cols*bendEvery)+0.5))
		grid[i] = p.Sub(geom.Pt(0.5, 0.5)) // OpenCV counts from pixel centres
	}
	parallel.Bands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			i, t := y/bendEvery*cols, float64(y%bendEvery)/bendEvery
			for x := range w {
				j := i + x/bendEvery
				p := grid[j].Lerp(grid[j+cols], t).Lerp(grid[j+1].Lerp(grid[j+1+cols], t), float64(x%bendEvery)/bendEvery)
				px[y*w+x], py[y*w+x] = float32(p.X), float32(p.Y)
			}
		}
	})
	return photo.into(w, h, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.Remap(src, dst, &mx, &my, gocv.InterpolationLinear, gocv.BorderReplicate, color.RGBA{})
	})
}
