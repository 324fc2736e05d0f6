package vision

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// What is taken for a sheet, and how its shape is told from its corners.
const (
	backSteps      = 10        // steps from the photo back to a bowed sheet: each mends most of what is left
	usualLong      = 297       // mm, the longer side taken where the page's size is not known: A4's
	leastCornerGap = 20        // px of the photo: corners by hand nearer to each other are slips, no sheet
	leastPicture   = 64        // px, the rectified picture's longer side at least, so that it never is empty
	coarsePhoto    = 1300      // px: of a photo whose longer side is shorter the sheet is drawn larger, for a thin pen's lines need some px,
	coarseSheet    = 900       // px: the same of a sheet that shows smaller, A4 at 3 px to a mm
	coarseTimes    = 2         // by so much
	pageSlack      = 0.045     // |ln| of the shape over a page's: about half of what A4 and Letter differ by (0.089)
	leastConverge  = 0.08      // share by which the depths of neighbouring corners must differ to tell the focal length
	leastFocal2    = 0.2       // squares of the photo's longer side: a focal length whose square
	mostFocal2     = 4         // is less or more than these is no lens's, but an error of the corners
	usualFocal     = 26.0 / 36 // longer sides of the photo: 26 mm on a frame 36 mm wide, see focal2
)

// A Page is a kind of paper.
type Page string

// The pages Rectify knows. Sizes are those of ISO 216 (A series) and
// ANSI/ASME Y14.1 size A (US Letter).
const (
	PageAuto   Page = "auto"   // told by its shape
	PageA4     Page = "A4"     // 210 × 297 mm
	PageA3     Page = "A3"     // 297 × 420 mm
	PageLetter Page = "letter" // 8.5 × 11 in, 215.9 × 279.4 mm
	PageFree   Page = "free"   // any rectangle; its shape is worked out from the perspective
)

// Size returns the page's shorter and longer side in mm, or false for auto
// and free.
func (p Page) Size() (short, long float64, ok bool) {
	switch p {
	case PageA4:
		return 210, 297, true
	case PageA3:
		return 297, 420, true
	case PageLetter:
		return 215.9, 279.4, true
	}
	return 0, 0, false
}

// scanSlack is how far, as a share, a picture's shape may be off a page's that it shows all of.
const scanSlack = 0.01

// PageOf returns the page whose shape a picture of w by h px has, the one that is wanted, or of PageAuto A4 or
// Letter, and the px to a mm if it shows all of it; ok is false for other shapes.
func PageOf(w, h int, want Page) (p Page, pxPerMm float64, ok bool) {
	long, short := float64(max(w, h)), float64(min(w, h))
	pages := []Page{want}
	if want == PageAuto {
		pages = []Page{PageA4, PageLetter}
	}
	for _, p := range pages {
		if s, l, known := p.Size(); known && math.Abs(long/short/(l/s)-1) <= scanSlack {
			return p, long / l, true
		}
	}
	return PageFree, 0, false
}

// SheetSettings tune Rectify.
type SheetSettings struct {
	Page    Page
	Corners []geom.Point // the paper's four corners in px of the photo, in any order; none to look for them
	Pixels  int          // longer side of the rectified picture, px
	Support float64      // share of each side that must show an edge, 0 to 1
}

// DefaultSheet returns the settings that suit a sheet on a table.
func DefaultSheet() SheetSettings {
	return SheetSettings{Page: PageAuto, Pixels: 2600, Support: 0.6}
}

// A Sheet is the paper seen square from above.
type Sheet struct {
	Image *Colour
	Found bool // false: no sheet was seen, Image is the photo as it is
	// Out are the sides of the photo where the paper runs out of it. If Found, the
	// sheet's side there is not seen; if not, a table lies beside the paper, and
	// Image has paper in its place.
	Out     []Border
	Corners [4]geom.Point // px in the photo: top left, then clockwise
	// Bowed tells that the sheet does not lie flat; Image is as if it did.
	Bowed bool
	// Page is the page whose shape the sheet has. A3 has the shape of A4 and
	// comes back as A4; only the reference dots tell them apart.
	Page    Page
	Aspect  float64  // width over height
	Seen    float64  // the same as the perspective tells it, whatever page was asked for
	Finer   float64  // px of Image to one of the photo's where the photo is coarse; 1 if it is not
	PxPerMm float64  // by the page's size; a guess if no page is known
	Fills   bool     // no sheet was seen, but nothing else than paper either
	Beside  []Border // sides of the photo where, if it Fills, something else than paper shows all the same
	Framed  bool     // beyond a darker band all around it is as light as the sheet: a drawn frame may be taken for it
	Cut     bool     // edges go on beyond a side, as they do where a shadow's edge is taken for the sheet's
	Share   float64  // of the photo that is paper, if a table was seen beside it
	// Support is the share of its outline along which the sheet's edge was
	// seen, 0 to 1, on the worst side; Stray how far the edge points lie from
	// the straight sides, px, root mean square.
	Support, Stray float64

	flat geom.Homography               // from px of Image to px of the photo, if the sheet is flat
	bent func(p geom.Point) geom.Point // the same if it is not
}

// InPhoto maps a place of the sheet's picture to the photo, px.
func (s *Sheet) InPhoto(p geom.Point) geom.Point {
	if s.bent != nil {
		return s.bent(p)
	}
	return s.flat.Apply(p)
}

// FromPhoto maps a place of the photo to the sheet's picture, px.
func (s *Sheet) FromPhoto(p geom.Point) geom.Point {
	back := s.flat.Inverse()
	q := back.Apply(p)
	if s.bent == nil {
		return q
	}
	for range backSteps { // the flat sheet's slopes are near enough to step by
		q = q.Add(back.Apply(p).Sub(back.Apply(s.bent(q))))
	}
	return q
}

// MmInPhoto is how many mm of the sheet, by its page's size, a distance in px of
// the photo is where the sheet is seen largest.
func (s *Sheet) MmInPhoto(px float64) float64 {
	return px * s.longSide() / longest(s.Corners)
}

// longSide is the longer side of the sheet's page, mm; a guess if it is unknown.
func (s *Sheet) longSide() float64 {
	if _, long, ok := s.Page.Size(); ok {
		return long
	}
	return usualLong
}

// Only where the edges of a sheet lie off straight lines another shape is looked
// for. Found on the accuracy sets.
const (
	straight   = 0.3  // px rms that those of a flat sheet stray by
	onStraight = 0.95 // share of each side, but for its ends, that lies on the line
)

// Rectify finds the paper in a photo and undoes the perspective, the paper's bend and
// the lens's distortion. When it sees no sheet it returns the photo, with Found false
// and with paper in place of a table that was seen beside it. It returns an error for
// corners given by hand that span no area, and where the pictures cannot be worked out.
func Rectify(photo *Colour, s SheetSettings) (Sheet, error) {
	var q [4]geom.Point
	var unit func(geom.Point) geom.Point // from the unit square to the photo
	sh := Sheet{Support: 1}
	switch {
	case len(s.Corners) == 4:
		q = photo.facing.along(clockwise([4]geom.Point(s.Corners)))
		if err := checkQuad(q, photo); err != nil {
			return Sheet{}, err
		}
		g, err := photo.atAGlance()
		if err != nil {
			return Sheet{}, err
		}
		k := float64(g.pic.W) / float64(photo.W)
		sh.Support, _ = sideSupport(g.pic, [4]geom.Point{q[0].Mul(k), q[1].Mul(k), q[2].Mul(k), q[3].Mul(k)})
	default:
		o, ok, err := findOutline(photo, s.Support)
		if err != nil {
			return Sheet{}, err
		}
		if !ok {
			return unrectified(photo, s)
		}
		sh.Support, sh.Out, sh.Framed, sh.Cut = o.seen, o.out, o.framed, o.cut
		if o.out != nil {
			q, sh.Stray = refineOpen(photo, o.corners, o.out[0])
			break
		}
		var on float64
		q, sh.Stray, on = refineQuad(photo, photo.facing.along(o.corners))
		if sh.Stray > straight || on < onStraight {
			q, sh.Stray, unit = bend(photo, q, sh.Stray, s.Page)
		}
	}
	sh.Found, sh.Corners = true, q
	sh.Page, sh.Aspect = pageOf(q, photo.W, photo.H, s.Page)
	if sh.Out != nil && s.Page == PageAuto { // of one side nobody knows how long it is
		sh.Page, sh.Aspect = pageOf(q, photo.W, photo.H, PageFree)
	}
	sh.Seen = aspectOf(q, photo.W, photo.H)
	w, h := 0, 0
	w, h, sh.Finer = rectifiedSize(q, sh.Aspect, s.Pixels, finerBy(photo))
	sh.PxPerMm = float64(max(w, h)) / sh.longSide()
	to := [4]geom.Point{{}, {X: float64(w)}, {X: float64(w), Y: float64(h)}, {Y: float64(h)}}
	sh.flat = fourPoint(to, q)
	var err error
	if unit == nil {
		sh.Image, err = warp(photo, sh.flat, w, h)
		return sh, err
	}
	sh.Bowed = true
	sh.bent = func(p geom.Point) geom.Point { return unit(geom.Pt(p.X/float64(w), p.Y/float64(h))) }
	sh.Image, err = unbend(photo, sh.bent, w, h)
	return sh, err
}

// bend looks for the shape of a sheet whose edges stray from the straight sides
// of q: flat after all, bowed, or as its edges are seen. It returns the corners,
// how far the edges stray from the shape, px rms, and the shape, from the unit
// square to the photo; nil if it is flat.
func bend(
	photo *Colour, q [4]geom.Point, stray float64, want Page,
) (corners [4]geom.Point, rest float64, shape func(geom.Point) geom.Point) {
	if bowed, at, left, ok := findBow(photo, q, stray, want); ok {
		q, stray, shape = at, left, bowed
	}
	base := shape
	if base == nil {
		base = fourPoint([4]geom.Point{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}}, q).Apply
	}
	p := newPatch(base)
	if rest, ok := p.follow(photo); ok && p.off() > contourMm*longest(q)/usualLong {
		return p.corners(), rest, p.at
	}
	return q, stray, shape
}

// longest is the length of an outline's longest side.
func longest(q [4]geom.Point) float64 {
	return max(q[0].Dist(q[1]), q[1].Dist(q[2]), q[2].Dist(q[3]), q[3].Dist(q[0]))
}

// unrectified stands in for a sheet that was not seen.
func unrectified(photo *Colour, s SheetSettings) (Sheet, error) {
	k := min(float64(s.Pixels)/float64(max(photo.W, photo.H)), finerBy(photo))
	sh := Sheet{
		Page: PageFree, Aspect: float64(photo.W) / float64(photo.H),
		flat: scaling(1 / k), Image: photo, Finer: max(k, 1),
		PxPerMm: k * float64(max(photo.W, photo.H)) / usualLong,
	}
	g, err := photo.atAGlance()
	if err != nil {
		return sh, err
	}
	if min(g.pic.W, g.pic.H) >= leastGlance {
		r, ok, err := paperRegion(g.pic)
		if err != nil {
			return sh, err
		}
		if !ok {
			if sh.Fills, sh.Beside, err = paperFills(g.pic); err != nil {
				return sh, err
			}
		} else {
			sh.Out, sh.Share = r.out, r.share
			if sh.Image, err = r.onlyPaper(photo, g.pic); err != nil {
				return sh, err
			}
		}
	}
	if k == 1 {
		return sh, nil
	}
	sh.Image, err = sh.Image.Resized(max(int(float64(photo.W)*k), 1), max(int(float64(photo.H)*k), 1))
	return sh, err
}

// warp samples the photo at toPhoto of each pixel of a picture of w by h px.
func warp(photo *Colour, toPhoto geom.Homography, w, h int) (*Colour, error) {
	m := gocv.NewMatWithSize(3, 3, gocv.MatTypeCV64F)
	defer m.Close()
	// OpenCV counts from pixel centres, we from corners: shift by half a pixel
	// on both sides.
	half := geom.Homography{1, 0, 0.5, 0, 1, 0.5, 0, 0, 1}
	back := geom.Homography{1, 0, -0.5, 0, 1, -0.5, 0, 0, 1}
	for i, v := range half.Then(toPhoto).Then(back) {
		m.SetDoubleAt(i/3, i%3, v)
	}
	return photo.into(w, h, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.WarpPerspectiveWithParams(src, dst, m, image.Pt(w, h),
			gocv.InterpolationLinear|gocv.WarpInverseMap, gocv.BorderReplicate, color.RGBA{})
	})
}

// clockwise orders corners clockwise from the top left one, so that the side
// that faces up in the photo is the top.
func clockwise(q [4]geom.Point) [4]geom.Point {
	mid := q[0].Add(q[1]).Add(q[2]).Add(q[3]).Mul(0.25)
	angle := func(p geom.Point) float64 { return math.Atan2(p.Y-mid.Y, p.X-mid.X) }
	for i := range q {
		for j := i + 1; j < 4; j++ {
			if angle(q[j]) < angle(q[i]) {
				q[i], q[j] = q[j], q[i]
			}
		}
	}
	// The top side is the one whose outward normal points most upwards: its
	// direction, going clockwise, is most to the right.
	return from(q, sideAlong(q, geom.Pt(1, 0)))
}

// from are corners in the same order from one of them on.
func from(q [4]geom.Point, i int) [4]geom.Point {
	return [4]geom.Point{q[i%4], q[(i+1)%4], q[(i+2)%4], q[(i+3)%4]}
}

// sideAlong is the side, by its first corner, that runs most in a direction.
func sideAlong(q [4]geom.Point, way geom.Point) int {
	best := 0
	for i := range q {
		if q[(i+1)%4].Sub(q[i]).Unit().Dot(way) > q[(best+1)%4].Sub(q[best]).Unit().Dot(way) {
			best = i
		}
	}
	return best
}

// A facing is how a photo was turned, and mirrored after that, since it was taken.
type facing struct {
	by      Turn
	flipped bool
}

// along orders corners that are clockwise from the top left one as the photo was turned: the side that
// faced up before is turned with it. In a photo of a sheet that lies askew, near to 45 degrees, that need not
// be the one that faces up now.
func (t facing) along(q [4]geom.Point) [4]geom.Point {
	quarters := map[Turn]int{TurnQuarter: 1, TurnHalf: 2, TurnBack: 3}[t.by]
	sin, cos := math.Sincos(float64(quarters) * math.Pi / 2)
	top := geom.Pt(cos, sin) // the way that the side runs now that was the top
	if t.flipped {
		top.Y, quarters = -top.Y, -quarters // its way is reversed, to be clockwise again
	}
	return from(q, sideAlong(q, top)-quarters+4)
}

// checkQuad refuses corners that make no convex sheet of some size.
func checkQuad(q [4]geom.Point, photo *Colour) error {
	for i, p := range q {
		a, b := q[(i+3)%4], q[(i+1)%4]
		switch size := fmt.Sprintf("in px of the photo (%d by %d px)", photo.W, photo.H); {
		case p.Dist(b) < leastCornerGap || p.Dist(q[(i+2)%4]) < leastCornerGap:
			return fmt.Errorf(
				"corners %s do not outline a sheet: give its four different corners, %s", pointList(q[:]), size,
			)
		case p.Sub(a).Cross(b.Sub(p)) <= 0:
			return fmt.Errorf(
				"corners %s do not outline a sheet: the one at %s lies within the others or on the line between two; "+
					"give the places of all four, %s", pointList(q[:]), pointList(q[i:i+1]), size,
			)
		}
		if m := float64(max(photo.W, photo.H)); p.X < -m || p.Y < -m || p.X > 2*m || p.Y > 2*m {
			return fmt.Errorf(
				"corner %s lies far outside the photo of %d by %d px; give its place in px of the upright photo", pointList(q[i:i+1]), photo.W, photo.H,
			)
		}
	}
	return nil
}

func pointList(pts []geom.Point) string {
	var s []string
	for _, p := range pts {
		s = append(s, fmt.Sprintf("%.0f,%.0f", p.X, p.Y))
	}
	return strings.Join(s, " ")
}

// finerBy is how many times larger than in the photo the sheet is drawn.
func finerBy(photo *Colour) float64 {
	if max(photo.W, photo.H) < coarsePhoto {
		return coarseTimes
	}
	return 1
}

// rectifiedSize is the size in px of the rectified picture: no finer than the
// photo shows the sheet, or by so many times, and at most limit along the longer side. finer is
// by how many times it is.
func rectifiedSize(q [4]geom.Point, aspect float64, limit int, by float64) (w, h int, finer float64) {
	across := max(q[0].Dist(q[1]), q[3].Dist(q[2]))
	down := max(q[0].Dist(q[3]), q[1].Dist(q[2]))
	seen := max(across, down)
	if seen < coarseSheet {
		by = coarseTimes
	}
	long := max(by*seen, leastPicture)
	if limit > 0 {
		long = min(long, float64(limit))
	}
	finer = max(long/seen, 1)
	if aspect >= 1 {
		return int(long + 0.5), max(int(long/aspect+0.5), 1), finer
	}
	return max(int(long*aspect+0.5), 1), int(long + 0.5), finer
}

// pageOf tells the page and its width over height. With PageAuto the shape
// worked out from the perspective decides between the A series, US Letter and
// any other rectangle.
func pageOf(q [4]geom.Point, w, h int, want Page) (Page, float64) {
	seen := aspectOf(q, w, h)
	if short, long, ok := want.Size(); ok {
		if seen >= 1 {
			return want, long / short
		}
		return want, short / long
	}
	if want == PageFree {
		return PageFree, seen
	}
	best, bestAspect, bestOff := PageFree, seen, pageSlack
	for _, p := range []Page{PageA4, PageLetter} {
		short, long, _ := p.Size()
		for _, a := range []float64{long / short, short / long} {
			if off := math.Abs(math.Log(seen / a)); off < bestOff {
				best, bestAspect, bestOff = p, a, off
			}
		}
	}
	return best, bestAspect
}

// aspectOf works out the true width over height of a rectangle from its
// corners in a photo of w by h px taken by a camera with square pixels and the
// principal point in the middle: Z. Zhang and L.-W. He, "Whiteboard scanning
// and image enhancement", Digital Signal Processing 17 (2007), equations 11,
// 12, 14, 16 and 20 (from memory).
func aspectOf(q [4]geom.Point, w, h int) float64 {
	n2, n3 := sides(q, w, h)
	f2 := focal2(n2, n3, w, h)
	size := func(n [3]float64) float64 { return (n[0]*n[0]+n[1]*n[1])/f2 + n[2]*n[2] }
	return math.Sqrt(size(n2) / size(n3))
}

// focalOf is the lens's focal length, px.
func focalOf(q [4]geom.Point, w, h int) float64 {
	n2, n3 := sides(q, w, h)
	return math.Sqrt(focal2(n2, n3, w, h))
}

// focal2 is the square of the lens's focal length, px². A phone's main lens sees
// like 26 mm on full frame (common practice, no source). That is used where the
// perspective is too weak to tell.
func focal2(n2, n3 [3]float64, w, h int) float64 {
	long := float64(max(w, h))
	if z := n2[2] * n3[2]; math.Abs(n2[2]) > leastConverge && math.Abs(n3[2]) > leastConverge {
		if e := -(n2[0]*n3[0] + n2[1]*n3[1]) / z; e > leastFocal2*long*long && e < mostFocal2*long*long {
			return e
		}
	}
	return math.Pow(usualFocal*long, 2)
}

// sides are the directions of the rectangle's sides, n2 and n3 of the paper.
func sides(q [4]geom.Point, w, h int) (n2, n3 [3]float64) {
	mid := geom.Pt(float64(w)/2, float64(h)/2)
	type vec [3]float64
	v := func(p geom.Point) vec { return vec{p.X - mid.X, p.Y - mid.Y, 1} }
	cross := func(a, b vec) vec {
		return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
	}
	dot := func(a, b vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
	m1, m2, m4, m3 := v(q[0]), v(q[1]), v(q[2]), v(q[3]) // the paper's numbering: m3 bottom left
	k2 := dot(cross(m1, m4), m3) / dot(cross(m2, m4), m3)
	k3 := dot(cross(m1, m4), m2) / dot(cross(m3, m4), m2)
	for i := range 3 {
		n2[i] = k2*m2[i] - m1[i]
		n3[i] = k3*m3[i] - m1[i]
	}
	return n2, n3
}
