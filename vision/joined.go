package vision

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/geom/marks"
	"inkchannel/geom/parallel"
)

// How a picture of several photographs is put together; lengths are mm.
const (
	joinWindow = 14.0 // about a place that the paper's light is looked for
	joinRim    = 2.5  // along the drawing's edge that is left blank: the table may show there
	joinGap    = 1.0  // between taped sheets at most
	jointWide  = 2.0  // a joint between two sheets, its shadow with it, at most
	jointReach = 2.0  // from where it is looked for to either side
	blankRim   = 1.0  // about a mark's parts that is left blank with them
	joinEven   = 8    // power of how far a place lies inside a photograph that it counts by
)

// Joined puts photographs together to one picture of a drawing over several sheets of a size, seen
// square from above, on white: the marks and the joints between the sheets are taken out. pxPerMm is
// its scale, and its upper left corner that of plan.Bounds; the views of plan are those of the
// photographs.
//
// It returns an error for a photograph too dark to tell its paper.
func Joined(photos []*Colour, plan marks.Plan, size geom.Point, pxPerMm float64) (*Colour, error) {
	box := plan.Bounds(size)
	long := box.Size().Mul(pxPerMm)
	c := NewColour(int(math.Ceil(long.X)), int(math.Ceil(long.Y)))
	weight := make([]float32, c.W*c.H)
	for i, photo := range photos {
		scale := pxNear(plan.Views[i], photo)
		white, err := photo.onWhite(scale)
		if err != nil {
			return nil, err
		}
		toMm := geom.Homography{1 / pxPerMm, 0, box.Min.X, 0, 1 / pxPerMm, box.Min.Y, 0, 0, 1}
		toPhoto := toMm.Then(plan.Views[i].Inverse())
		part, err := warp(white, toPhoto, c.W, c.H)
		if err != nil {
			return nil, err
		}
		c.blend(part, weight, toPhoto, photo.W, photo.H)
	}
	place := func(p geom.Point) image.Point {
		q := p.Sub(box.Min).Mul(pxPerMm)
		return image.Pt(int(math.Round(q.X)), int(math.Round(q.Y)))
	}
	if err := c.closeJoints(plan, size, place, pxPerMm); err != nil {
		return nil, err
	}
	c.blankMarks(plan, size, place)
	return c, c.blankOutside(plan, size, place, pxPerMm)
}

// pxNear is how many px of a photograph show a mm of the drawing, in its middle.
func pxNear(v geom.Homography, photo *Colour) float64 {
	mid := geom.Pt(float64(photo.W)/2, float64(photo.H)/2)
	const step = 50
	return 2 * step / (v.Apply(mid.Add(geom.Pt(step, 0))).Dist(v.Apply(mid)) + v.Apply(mid.Add(geom.Pt(0, step))).Dist(v.Apply(mid)))
}

// PxNear is how many px of the photograph that is seen largest show a mm of the drawing.
func PxNear(photos []*Colour, plan marks.Plan) (most float64) {
	for i, p := range photos {
		most = max(most, pxNear(plan.Views[i], p))
	}
	return most
}

// onWhite is a picture at a scale, px per mm, with the paper's light made even and white.
func (c *Colour) onWhite(pxPerMm float64) (*Colour, error) {
	half, err := c.halved()
	if err != nil {
		return nil, err
	}
	paper, err := paperLight(c, half, pxPerMm, joinWindow)
	if err != nil {
		return nil, err
	}
	if err := checkLight(half, paper); err != nil {
		return nil, err
	}
	out := NewColour(c.W, c.H)
	l := newLighting(paper, c.W, c.H)
	parallel.Bands(c.H, func(y0, y1 int) {
		row := make([]float32, 3*paper.W)
		for y := y0; y < y1; y++ {
			l.row(row, y, stretch{x0: 0, x1: c.W})
			for x := range c.W {
				q, at := l.xs[x], 3*(y*c.W+x)
				for k := range 3 {
					light := row[3*q.i+k] + (row[3*q.j+k]-row[3*q.i+k])*q.t
					out.Pix[at+k] = uint8(min(float32(c.Pix[at+k])*light*white/evenWhite, 255))
				}
			}
		}
	})
	return out, nil
}

// white is what paper is in a picture put together.
const white = 250

// blend lays another picture over c, by how far each place lies within a photograph of w by h px, to
// which toPhoto leads; weight is what lies there by now.
func (c *Colour) blend(part *Colour, weight []float32, toPhoto geom.Homography, w, h int) {
	parallel.Bands(c.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range c.W {
				p := toPhoto.Apply(geom.Pt(float64(x)+0.5, float64(y)+0.5))
				in := min(p.X, float64(w)-p.X, p.Y, float64(h)-p.Y) / float64(min(w, h))
				if in <= 0 {
					continue
				}
				i := y*c.W + x
				own := float32(math.Pow(2*in, joinEven))
				share := own / (own + weight[i])
				weight[i] += own
				for k := 3 * i; k < 3*i+3; k++ {
					c.Pix[k] = uint8(float32(c.Pix[k])*(1-share) + float32(part.Pix[k])*share + 0.5)
				}
			}
		}
	})
}

// closeJoints takes out what runs along the sheets' edges and is no wider than a joint: a closing
// across it, which a line over the joint survives.
func (c *Colour) closeJoints(
	plan marks.Plan, size geom.Point, place func(geom.Point) image.Point, pxPerMm float64,
) error {
	m := c.mat()
	defer m.Close()
	wide := int(jointWide*pxPerMm) | 1
	for _, sheet := range plan.Order() {
		o := plan.Sheets[sheet].Outline(size, 0)
		for i := range o {
			a, b := o[i], o[(i+1)%4]
			kernel := image.Pt(1, wide)
			if math.Abs(b.Y-a.Y) > math.Abs(b.X-a.X) {
				kernel = image.Pt(wide, 1)
			}
			if err := closeAlong(m, place(a), place(b), kernel, int(jointReach*pxPerMm)); err != nil {
				return err
			}
		}
	}
	return nil
}

// closeAlong closes a picture by a kernel within reach px of the line from a to b.
func closeAlong(m gocv.Mat, a, b, kernel image.Point, reach int) error {
	box := image.Rectangle{Min: a, Max: b}.Canon().Inset(-2 * reach).Intersect(image.Rect(0, 0, m.Cols(), m.Rows()))
	if box.Empty() {
		return nil
	}
	part := m.Region(box)
	defer part.Close()
	closed := gocv.NewMat()
	defer closed.Close()
	k := gocv.GetStructuringElement(gocv.MorphRect, kernel)
	defer k.Close()
	gocv.MorphologyExWithParams(part, &closed, gocv.MorphClose, k, 1, gocv.BorderReplicate)
	mask := gocv.NewMatWithSize(box.Dy(), box.Dx(), gocv.MatTypeCV8U)
	defer mask.Close()
	mask.SetTo(gocv.Scalar{})
	gocv.Line(&mask, a.Sub(box.Min), b.Sub(box.Min), color.RGBA{B: 255}, 2*reach+1)
	closed.CopyToWithMask(&part, mask)
	return nil
}

// blankMarks makes paper of the marks.
func (c *Colour) blankMarks(plan marks.Plan, size geom.Point, place func(geom.Point) image.Point) {
	m := c.mat()
	defer m.Close()
	paper := color.RGBA{white, white, white, 0}
	for sheet, pose := range plan.Sheets {
		for _, mark := range marks.Of(sheet) {
			for _, s := range mark.Shapes(size) {
				at := place(pose.Apply(s.Middle))
				half := place(pose.Apply(s.Middle.Add(geom.Pt(s.Size.X/2+blankRim, 0)))).Sub(at)
				high := place(pose.Apply(s.Middle.Add(geom.Pt(0, s.Size.Y/2+blankRim)))).Sub(at)
				if s.Round {
					gocv.Circle(&m, at, int(math.Hypot(float64(half.X), float64(half.Y)))+1, paper, -1)
				} else {
					corners := [][]image.Point{{at.Sub(half).Sub(high), at.Add(half).Sub(high), at.Add(half).Add(high), at.Sub(half).Add(high)}}
					fill(&m, corners, paper)
				}
			}
		}
	}
}

func fill(m *gocv.Mat, outline [][]image.Point, with color.RGBA) {
	v := gocv.NewPointsVectorFromPoints(outline)
	defer v.Close()
	gocv.FillPoly(m, v, with)
}

// blankOutside makes paper of what lies beyond the sheets, or along the drawing's edge.
func (c *Colour) blankOutside(plan marks.Plan, size geom.Point, place func(geom.Point) image.Point, pxPerMm float64) error {
	on := NewBitmap(c.W, c.H)
	m := on.mat()
	defer m.Close()
	for _, pose := range plan.Sheets {
		var q []image.Point
		for _, p := range pose.Outline(size, joinGap) { // over the gaps between sheets
			q = append(q, place(p))
		}
		fill(&m, [][]image.Point{q}, color.RGBA{B: 1})
	}
	for x := range c.W { // beyond the picture there is nothing
		on.Pix[x], on.Pix[len(on.Pix)-1-x] = 0, 0
	}
	for y := range c.H {
		on.Pix[y*c.W], on.Pix[(y+1)*c.W-1] = 0, 0
	}
	side := 2*int((joinRim+joinGap)*pxPerMm) + 1
	k := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(side, side))
	defer k.Close()
	inner := gocv.NewMat()
	defer inner.Close()
	gocv.ErodeWithParams(m, &inner, k, image.Pt(-1, -1), 1, int(gocv.BorderConstant))
	pix, err := inner.DataPtrUint8()
	if err != nil {
		return err
	}
	for i, v := range pix {
		if v == 0 {
			c.Pix[3*i], c.Pix[3*i+1], c.Pix[3*i+2] = white, white, white
		}
	}
	return nil
}
