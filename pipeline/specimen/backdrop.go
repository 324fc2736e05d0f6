package specimen

import (
	"bytes"
	"image"
	"math"
	"slices"

	"github.com/disintegration/imaging"
	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// How a photograph's own ink is found and taken out.
const (
	ownWindow = 7.0  // mm that a pen line is at most broad
	ownDark   = 0.06 // of the paper's light, that ink takes at least
	ownRim    = 0.8  // mm about ink that goes with it
	grainTile = 48   // px, the side of the piece of bare paper that stands for the rest's grain
	blurLeast = 0.5  // px, bounds of what an edge of ink tells of the photo's blur
	blurMost  = 4.0
)

// A Backdrop is a photograph of a sheet whose own ink is taken out, for known lines to be
// drawn on: its light, blur and noise are real.
type Backdrop struct {
	Name    string
	Sheet   geom.Point    // mm
	Corners [4]geom.Point // px in the upright photo: top left, then clockwise
	Blur    float64       // px, standard deviation, as the edges of its own ink tell
	Scale   float64       // px of the photo per mm of the sheet, about the middle
	paper   bgr
	toPx    homography
}

// NewBackdrop makes a backdrop of a photograph with an A4 sheet (ISO 216) whose corners are
// known, px of the upright photo, top left and then clockwise.
//
// It returns an error for a picture that cannot be decoded.
func NewBackdrop(name string, data []byte, corners [4]geom.Point) (*Backdrop, error) {
	img, err := imaging.Decode(bytes.NewReader(data), imaging.AutoOrientation(true))
	if err != nil {
		return nil, err
	}
	rgb := imaging.Clone(img)
	w, h := rgb.Rect.Dx(), rgb.Rect.Dy()
	b := &Backdrop{Name: name, paper: bgr{w, h, make([]uint8, 3*w*h)}}
	for i := range w * h {
		b.paper.pix[3*i], b.paper.pix[3*i+1], b.paper.pix[3*i+2] = rgb.Pix[4*i+2], rgb.Pix[4*i+1], rgb.Pix[4*i]
	}
	b.lay(corners)
	return b, b.wipe()
}

// lay tells where the sheet lies in the photo.
func (b *Backdrop) lay(c [4]geom.Point) {
	b.Corners = c
	b.Sheet = geom.Pt(210, 297)
	if across, down := c[0].Dist(c[1])+c[3].Dist(c[2]), c[0].Dist(c[3])+c[1].Dist(c[2]); across > down {
		b.Sheet = geom.Pt(297, 210)
	}
	b.Scale = min(c[0].Dist(c[1])/b.Sheet.X, c[0].Dist(c[3])/b.Sheet.Y)
	b.toPx = mapping([4]geom.Point{{}, {X: b.Sheet.X}, b.Sheet, {Y: b.Sheet.Y}}, b.Corners)
}

// mapping is the homography that takes four places to four others.
func mapping(from, to [4]geom.Point) homography {
	points := func(p [4]geom.Point) gocv.Point2fVector {
		var v []gocv.Point2f
		for _, q := range p {
			v = append(v, gocv.Point2f{X: float32(q.X), Y: float32(q.Y)})
		}
		return gocv.NewPoint2fVectorFromPoints(v)
	}
	a, b := points(from), points(to)
	defer a.Close()
	defer b.Close()
	m := gocv.GetPerspectiveTransform2f(a, b)
	defer m.Close()
	var out homography
	for i := range out {
		out[i] = m.GetDoubleAt(i/3, i%3)
	}
	return out
}

// wipe takes the photo's own ink off the sheet.
func (b *Backdrop) wipe() error {
	src, err := gocv.NewMatFromBytes(b.paper.h, b.paper.w, gocv.MatTypeCV8UC3, b.paper.pix)
	if err != nil {
		return err
	}
	defer src.Close()
	bare, soft := gocv.NewMat(), gocv.NewMat()
	defer bare.Close()
	defer soft.Close()
	side := max(int(ownWindow*b.Scale)|1, 3)
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(side, side))
	defer kernel.Close()
	gocv.MorphologyEx(src, &bare, gocv.MorphClose, kernel)
	gocv.GaussianBlur(bare, &bare, image.Pt(0, 0), b.Scale, b.Scale, gocv.BorderReplicate)
	gocv.GaussianBlur(src, &soft, image.Pt(0, 0), 2, 2, gocv.BorderReplicate)
	light, err := bare.DataPtrUint8()
	if err != nil {
		return err
	}
	smooth, err := soft.DataPtrUint8()
	if err != nil {
		return err
	}
	b.Blur = b.edgeBlur(light)
	ink, err := b.ownInk(light)
	if err != nil {
		return err
	}
	at := b.bareTile(ink)
	grain := make([]int, 3*grainTile*grainTile)
	for y := range grainTile {
		for x := range 3 * grainTile {
			o := 3*((at.Y+y)*b.paper.w+at.X) + x
			grain[y*3*grainTile+x] = int(b.paper.pix[o]) - int(smooth[o])
		}
	}
	around, err := b.lightAround(ink)
	if err != nil {
		return err
	}
	for i, on := range ink {
		if on == 0 {
			continue
		}
		x, y := i%b.paper.w, i/b.paper.w
		for k := range 3 {
			v := int(around[3*i+k]) + grain[(y%grainTile)*3*grainTile+3*(x%grainTile)+k]
			b.paper.pix[3*i+k] = uint8(min(max(v, 0), 255))
		}
	}
	return nil
}

// ownInk is where the photo's own ink lies on the sheet, 255 there.
func (b *Backdrop) ownInk(light []uint8) ([]uint8, error) {
	w, h := b.paper.w, b.paper.h
	ink := make([]uint8, w*h)
	back := b.toPx.inverse()
	for i := range ink {
		dark := 0.0
		for k := range 3 {
			l := float64(light[3*i+k])
			dark = max(dark, (l-float64(b.paper.pix[3*i+k]))/max(l, 1))
		}
		p := back.apply(geom.Pt(float64(i%w)+0.5, float64(i/w)+0.5))
		if dark > ownDark && p.X >= 0 && p.Y >= 0 && p.X < b.Sheet.X && p.Y < b.Sheet.Y {
			ink[i] = 255
		}
	}
	m, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8U, ink)
	if err != nil {
		return nil, err
	}
	defer m.Close()
	side := int(2*ownRim*b.Scale) | 1
	kernel := gocv.GetStructuringElement(gocv.MorphEllipse, image.Pt(side, side))
	defer kernel.Close()
	gocv.Dilate(m, &m, kernel)
	out, err := m.DataPtrUint8()
	return slices.Clone(out), err
}

// lightAround is the mean of the bare paper about each pixel, weighed by its distance.
func (b *Backdrop) lightAround(ink []uint8) ([]float32, error) {
	w, h := b.paper.w, b.paper.h
	sum, weight := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32FC3), gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer sum.Close()
	defer weight.Close()
	s, err := sum.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	n, err := weight.DataPtrFloat32()
	if err != nil {
		return nil, err
	}
	for i, on := range ink {
		if n[i] = 1; on != 0 {
			n[i] = 0
		}
		for k := range 3 {
			s[3*i+k] = n[i] * float32(b.paper.pix[3*i+k])
		}
	}
	for _, m := range []*gocv.Mat{&sum, &weight} {
		spread(m, b.Scale)
	}
	if s, err = sum.DataPtrFloat32(); err != nil {
		return nil, err
	}
	if n, err = weight.DataPtrFloat32(); err != nil {
		return nil, err
	}
	out := slices.Clone(s)
	for i := range out {
		out[i] /= max(n[i/3], 1e-12)
	}
	return out, nil
}

// spread blurs a picture of so many px per mm over 1.5 mm, and faintly over far more: where
// nothing is near, what is far counts.
func spread(m *gocv.Mat, scale float64) {
	const coarse = 8 // times smaller, where blurs over many px cost little
	w, h := m.Cols(), m.Rows()
	small, part := gocv.NewMat(), gocv.NewMat()
	defer small.Close()
	defer part.Close()
	gocv.Resize(*m, &small, image.Pt(max(w/coarse, 1), max(h/coarse, 1)), 0, 0, gocv.InterpolationArea)
	all := gocv.NewMatWithSize(small.Rows(), small.Cols(), small.Type())
	defer all.Close()
	for share, far := 1.0, 1.5; far < 50; share, far = share/1000, 4*far {
		s := far * scale / coarse
		gocv.GaussianBlur(small, &part, image.Pt(0, 0), s, s, gocv.BorderReplicate)
		gocv.AddWeighted(all, 1, part, share, 0, &all)
	}
	gocv.Resize(all, m, image.Pt(w, h), 0, 0, gocv.InterpolationLinear)
}

// bareTile is the corner of a tile without ink near the middle of the sheet; where there is
// none, that with least.
func (b *Backdrop) bareTile(ink []uint8) image.Point {
	mid := b.toPx.apply(b.Sheet.Mul(0.5))
	best, least := image.Point{}, math.Inf(1)
	for y := 0; y+grainTile <= b.paper.h; y += grainTile {
		for x := 0; x+grainTile <= b.paper.w; x += grainTile {
			n := 0.0
			for v := range grainTile {
				for u := range grainTile {
					n += float64(ink[(y+v)*b.paper.w+x+u]) / 255
				}
			}
			if cost := 1000*n + geom.Pt(float64(x), float64(y)).Dist(mid); cost < least {
				best, least = image.Pt(x, y), cost
			}
		}
	}
	return best
}

// edgeBlur is the standard deviation of the blur that the photo's own ink shows, px: an edge
// of height a blurred by s has the slope a/(s√2π).
func (b *Backdrop) edgeBlur(light []uint8) float64 {
	const reach, least = 6, 0.35 // px from the darkest of a line; share of light taken
	left := func(i int) float64 { return float64(b.paper.pix[3*i+1]) / max(float64(light[3*i+1]), 1) }
	var all []float64
	for y := range b.paper.h - 1 {
		for x := reach; x+reach+1 < b.paper.w; x++ {
			i := y*b.paper.w + x
			v := left(i)
			if 1-v < least || left(i-1) < v || left(i+1) <= v {
				continue
			}
			steep := 0.0
			for d := -reach; d < reach; d++ {
				j := i + d
				steep = max(steep, math.Hypot(left(j+1)-left(j), left(j+b.paper.w)-left(j)))
			}
			all = append(all, (1-v)/(steep*math.Sqrt(2*math.Pi)))
		}
	}
	if len(all) == 0 {
		return 1
	}
	slices.Sort(all)
	return min(max(all[len(all)/2], blurLeast), blurMost)
}

// Onto is the drawing moved to the middle of a sheet of that size, mm, at its own size
// unless it does not fit; so are the dots.
func (d Drawing) Onto(sheet geom.Point) Drawing {
	k := min(1, sheet.X/d.Sheet.X, sheet.Y/d.Sheet.Y)
	at := func(p geom.Point) geom.Point { return p.Sub(d.Sheet.Mul(0.5)).Mul(k).Add(sheet.Mul(0.5)) }
	out := d
	out.Sheet, out.Strokes = sheet, nil
	for _, s := range d.Strokes {
		var moved geom.Polyline
		for _, p := range s {
			moved = append(moved, at(p))
		}
		out.Strokes = append(out.Strokes, moved)
	}
	mid := at(d.Dots[0].Lerp(d.Dots[1], 0.5))
	out.Dots = [2]geom.Point{mid.Sub(geom.Pt(50, 0)), mid.Add(geom.Pt(50, 0))}
	return out
}

// Draw photographs d, of the backdrop's sheet, as if it had been drawn there.
func (b *Backdrop) Draw(d Drawing, seed int64) (Photo, error) {
	inked := Ink(d, seed)
	sw, sh := int(d.Sheet.X*sheetRes+0.5), int(d.Sheet.Y*sheetRes+0.5)
	src, err := gocv.NewMatFromBytes(sh, sw, gocv.MatTypeCV8U, inked.ink)
	if err != nil {
		return Photo{}, err
	}
	defer src.Close()
	if s := 0.4 * sheetRes / b.Scale; s > 0.4 { // what one pixel of the photo takes in
		gocv.GaussianBlur(src, &src, image.Pt(0, 0), s, s, gocv.BorderReplicate)
	}
	cover := gocv.NewMat()
	defer cover.Close()
	m := sheetToPhoto(b.toPx)
	defer m.Close()
	gocv.WarpPerspective(src, &cover, m, image.Pt(b.paper.w, b.paper.h))
	gocv.GaussianBlur(cover, &cover, image.Pt(0, 0), b.Blur, b.Blur, gocv.BorderReplicate)
	c, err := cover.DataPtrUint8()
	if err != nil {
		return Photo{}, err
	}
	img := bgr{b.paper.w, b.paper.h, slices.Clone(b.paper.pix)}
	white := White().Colour
	for i, v := range c {
		if v == 0 {
			continue
		}
		for k, of := range [3]float64{left(d.Pen.B, white.B), left(d.Pen.G, white.G), left(d.Pen.R, white.R)} {
			img.pix[3*i+k] = uint8(float64(img.pix[3*i+k])*(1-float64(v)/255*(1-of)) + 0.5)
		}
	}
	data, err := View{Quality: 92}.encode(img)
	t := Truth{
		Drawing: d.Name, View: b.Name, Sheet: d.Sheet, Corners: b.Corners, Dots: d.Dots,
		Strokes: d.Strokes, Pen: d.PenWidth, Want: inked.want,
	}
	for i, p := range d.Dots {
		t.DotsPx[i] = b.toPx.apply(p)
	}
	return Photo{data, t}, err
}

// left is the share of the paper's value that ink leaves.
func left(pen, paper uint8) float64 { return float64(pen) / float64(paper) }
