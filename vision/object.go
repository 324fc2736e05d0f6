package vision

import (
	"errors"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"
	"gonum.org/v1/gonum/mat"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// What is a thing that lies on the sheet, and how its outline is taken; mm but for shares. Found on
// photographs of our own making.
const (
	thingDark   = 0.2  // darker than the paper by this share, in one channel at least
	thingWide   = 18.0 // the widest disc within it: no pen is so broad
	thingPart   = 6.0  // of a thing that is known to be one: what is narrower is a drawn line or a dot
	thingBlur   = 0.3  // over which its edge is evened
	thingHole   = 40.0 // mm², less paper within it is no hole that matters
	outlineWide = 1.6  // width of the line that its outline becomes
)

// A Thing is something broad that lies on the sheet, in px of its picture.
type Thing struct {
	At   geom.Point // the middle of its box
	Size geom.Point // of its box
}

// FindThing looks for something broad and dark that lies on a sheet, away from its edges, and returns the
// largest; ok is false for none. It returns an error only where OpenCV fails.
func FindThing(sheet *Colour, pxPerMm float64, s InkSettings) (thing Thing, ok bool, err error) {
	step := max(sheet.W, sheet.H)/400 + 1
	small := sheet.sampled(step)
	k := 1 / float64(step)
	px := pxPerMm * k
	dark, err := darkOf(small, px)
	if errors.Is(err, errNoPaper) {
		return thing, false, nil
	}
	if err != nil {
		return thing, false, err
	}
	// A stain, or a shadow, is no thing: it is far paler than what is drawn on it.
	over := dark.over(max(thingDark, dark.darkest()/2))
	list, err := things(over, px, thingWide, s.Margin)
	if err != nil {
		return thing, false, err
	}
	best := 0
	for i, p := range list.list {
		if list.kind[i] == broad && p.area > best && !softEdged(sheet, list.pieces, i, over, step, pxPerMm) {
			best, ok = p.area, true
			box := geom.Rect{Min: geom.Pt(float64(p.x0), float64(p.y0)), Max: geom.Pt(float64(p.x1), float64(p.y1))}
			thing = Thing{box.Min.Lerp(box.Max, 0.5).Mul(1 / k), box.Size().Mul(1 / k)}
		}
	}
	return thing, ok, nil
}

// sampled is one pixel of each square of step by step.
func (c *Colour) sampled(step int) *Colour {
	out := NewColour((c.W+step-1)/step, (c.H+step-1)/step)
	for y := range out.H {
		for x := range out.W {
			copy(out.Pix[3*(y*out.W+x):][:3], c.Pix[3*(y*step*c.W+x*step):])
		}
	}
	return out
}

// FindOutlines takes what is dark on the sheet and broader than any pen as things that lie there, and
// returns their outlines, those of holes that matter too, as lines of ink along the edges; what is drawn
// beside them, as the dots, stays.
//
// It returns an error for a sheet with nothing broad on it, and where OpenCV fails.
func FindOutlines(sheet *Colour, pxPerMm float64, s InkSettings) (*Ink, error) {
	depth, err := darkOf(sheet, pxPerMm)
	if err != nil {
		return nil, err
	}
	dark := depth.over(thingDark)
	paper := dark // where it is 0: a highlight on a thing is paler than the thing, but no paper
	list, err := things(dark, pxPerMm, thingPart, s.Margin)
	if err != nil {
		return nil, err
	}
	ink := &Ink{Mask: NewBitmap(dark.W, dark.H), Level: NewGrey(dark.W, dark.H), Cut: thingDark}
	if ink.Darkness = depth.middle(list); ink.Darkness/2 > thingDark {
		// An edge is where it is half as dark as the things themselves.
		ink.Cut = ink.Darkness / 2
		dark = depth.over(ink.Cut)
		if list, err = things(dark, pxPerMm, thingPart, s.Margin); err != nil {
			return nil, err
		}
	}
	if !slices.Contains(list.kind, broad) {
		return nil, errors.New("nothing broad and dark lies on the sheet, of which the outline could be taken; lay the thing flat on white paper, or draw lines")
	}
	body := NewBitmap(dark.W, dark.H)
	list.set(body, 1, func(k int) bool { return list.kind[k] == broad })
	holes := piecesOf(body, 0, false)
	bare := make([]int, len(holes.list))
	for _, r := range holes.runs {
		for i := r.y*body.W + r.x0; i < r.y*body.W+r.x1; i++ {
			bare[r.piece] += int(1 - paper.Pix[i])
		}
	}
	holes.set(body, 1, func(k int) bool { return float64(bare[k]) < thingHole*pxPerMm*pxPerMm })
	if err := ink.along(body, pxPerMm); err != nil {
		return nil, err
	}
	for _, r := range list.runs {
		if list.kind[r.piece] != slim || float64(list.list[r.piece].area) < s.Speckle*pxPerMm*pxPerMm {
			continue
		}
		for i := r.y*dark.W + r.x0; i < r.y*dark.W+r.x1; i++ {
			ink.Mask.Pix[i], ink.Level.Pix[i] = 1, 255
		}
	}
	ink.Spots = len(piecesOf(ink.Mask, 1, true).list)
	return ink, nil
}

// along adds a line of ink along the edges of a body.
func (ink *Ink) along(body *Bitmap, pxPerMm float64) error {
	inside, err := depths(body)
	if err != nil {
		return err
	}
	around := NewBitmap(body.W, body.H)
	for i, v := range body.Pix {
		around.Pix[i] = 1 - v
	}
	outside, err := depths(around)
	if err != nil {
		return err
	}
	half := outlineWide * pxPerMm / 2
	parallel.Bands(body.H, func(y0, y1 int) {
		for i := y0 * body.W; i < y1*body.W; i++ {
			// An edge lies half way between the pixels on its sides.
			off := max(inside[i], outside[i]) - 0.5
			if level := float64(inkEdge) + 48*(half-float64(off)); level > 0 {
				ink.Level.Pix[i] = uint8(min(level, 255))
			}
			if float64(off) <= half {
				ink.Mask.Pix[i] = 1
			}
		}
	})
	return nil
}

// A kind tells what a dark piece is.
type kind int

const (
	slim  kind = iota // a drawn line or a dot
	broad             // a thing
	rim               // the table or a shadow from beside: it touches the sheet's margin
)

// darkPieces are the dark pieces and what they are.
type darkPieces struct {
	*pieces
	kind []kind
}

// things tells the dark pieces that hold a disc so wide, mm.
func things(dark *Bitmap, px, wide, margin float64) (out darkPieces, err error) {
	deep, err := depths(dark)
	if err != nil {
		return out, err
	}
	list := piecesOf(dark, 1, true)
	out = darkPieces{list, make([]kind, len(list.list))}
	for _, r := range list.runs {
		for x := r.x0; x < r.x1; x++ {
			if 2*float64(deep[r.y*dark.W+x]) >= wide*px {
				out.kind[r.piece] = broad
				break
			}
		}
	}
	near := int(margin*px) + 1
	for i, p := range list.list {
		if p.x0 <= near || p.y0 <= near || p.x1 >= dark.W-near || p.y1 >= dark.H-near {
			out.kind[i] = rim
		}
	}
	return out, nil
}

// A depth is by how much each pixel is darker than the paper, in one channel at least: 255 for black.
type depth struct{ *Grey }

// over is what is darker by a share.
func (d depth) over(share float64) *Bitmap {
	out := NewBitmap(d.W, d.H)
	for i, v := range d.Pix {
		if float64(v) > 255*share {
			out.Pix[i] = 1
		}
	}
	return out
}

// darkest is by what share the darkest tenth of what is dark is darker at least, 0 where nothing is.
func (d depth) darkest() float64 {
	var all []float64
	for _, v := range d.Pix {
		if float64(v) > 255*thingDark {
			all = append(all, float64(v))
		}
	}
	return quantile(all, 0.9) / 255
}

// middle is by what share things are darker in the middle, 0 for none.
func (d depth) middle(list darkPieces) float64 {
	var all []float64
	for _, r := range list.runs {
		if list.kind[r.piece] == broad {
			for x := r.x0; x < r.x1; x += 8 {
				all = append(all, float64(d.Pix[r.y*d.W+x]))
			}
		}
	}
	return median(all) / 255
}

// darkOf is how much darker than the paper's light each pixel is. That is fitted over the whole sheet, as
// a thing may take most of it.
func darkOf(sheet *Colour, pxPerMm float64) (out depth, err error) {
	light, err := fitLight(sheet)
	if err != nil {
		return out, err
	}
	soft, err := sheet.into(sheet.W, sheet.H, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.GaussianBlur(src, dst, image.Point{}, max(thingBlur*pxPerMm, 0.5), 0, gocv.BorderReplicate)
	})
	if err != nil {
		return out, err
	}
	out = depth{NewGrey(sheet.W, sheet.H)}
	parallel.Bands(sheet.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range sheet.W {
				at := light.at(x, y)
				px := soft.Pix[3*(y*sheet.W+x):]
				least := 1.0
				for c, v := range at {
					least = min(least, float64(px[c])/max(v, 1))
				}
				out.Pix[y*sheet.W+x] = uint8(255 * (1 - least))
			}
		}
	})
	return out, nil
}

// A light is the paper's, of each channel a polynomial of degree 2 over the sheet.
type light struct {
	w, h float64
	of   [3][6]float64
}

// terms are the polynomial's at a place.
func (l *light) terms(x, y int) [6]float64 {
	u, v := float64(x)/l.w-0.5, float64(y)/l.h-0.5
	return [6]float64{1, u, v, u * u, u * v, v * v}
}

func (l *light) at(x, y int) (out [3]float64) {
	t := l.terms(x, y)
	for c := range out {
		for i, k := range l.of[c] {
			out[c] += k * t[i]
		}
	}
	return out
}

// errNoPaper is that of a sheet whose light cannot be told.
var errNoPaper = errors.New("no paper can be told from what lies on it; photograph on white paper in even light")

// fitLight fits the paper's light by least squares to what is light, then again and again to what is as
// light as that.
func fitLight(sheet *Colour) (*light, error) {
	const each, rounds, near, lightest = 70, 5, 0.08, 0.75
	l := &light{w: float64(sheet.W), h: float64(sheet.H)}
	step := max(sheet.W, sheet.H)/each + 1
	var places [][2]int
	var sums []float64
	for y := step / 2; y < sheet.H; y += step {
		for x := step / 2; x < sheet.W; x += step {
			px := sheet.Pix[3*(y*sheet.W+x):]
			places = append(places, [2]int{x, y})
			sums = append(sums, float64(px[0])+float64(px[1])+float64(px[2]))
		}
	}
	most := quantile(slices.Clone(sums), 0.9)
	keep := func(i int) bool { return sums[i] >= lightest*most }
	for range rounds {
		var at [][2]int
		for i, p := range places {
			if keep(i) {
				at = append(at, p)
			}
		}
		if len(at) < 30 {
			return nil, errNoPaper
		}
		a, b := mat.NewDense(len(at), 6, nil), mat.NewDense(len(at), 3, nil)
		for i, p := range at {
			t := l.terms(p[0], p[1])
			a.SetRow(i, t[:])
			px := sheet.Pix[3*(p[1]*sheet.W+p[0]):]
			b.SetRow(i, []float64{float64(px[0]), float64(px[1]), float64(px[2])})
		}
		var k mat.Dense
		if err := k.Solve(a, b); err != nil {
			return nil, errNoPaper
		}
		for c := range 3 {
			for i := range 6 {
				l.of[c][i] = k.At(i, c)
			}
		}
		keep = func(i int) bool {
			at := l.at(places[i][0], places[i][1])
			return math.Abs(sums[i]/(at[0]+at[1]+at[2])-1) < near
		}
	}
	return l, nil
}
