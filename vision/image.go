package vision

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"iter"
	"math"
	"math/bits"
	"sync/atomic"
	"unsafe"

	"gocv.io/x/gocv"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// A Colour is an 8-bit image of three interleaved channels in the order blue,
// green, red, row after row.
type Colour struct {
	W, H int
	Pix  []uint8 // 3·W·H

	glance *glance // of these pixels, which stay as they are; nil if nobody had a look yet
	facing facing  // by hand, since it was taken
}

// Resized returns the image at w by h px, averaging where it shrinks. Errors are OpenCV's.
func (c *Colour) Resized(w, h int) (*Colour, error) {
	return c.resized(w, h, gocv.InterpolationCubic)
}

// ToLookAt is Resized for what is only looked at, in a third of the time: what is enlarged runs straight
// from pixel to pixel, and what shrinks to less than half is halved first. Errors are OpenCV's.
func (c *Colour) ToLookAt(w, h int) (*Colour, error) {
	for 2*w <= c.W && 2*h <= c.H {
		half, err := c.halved()
		if err != nil {
			return nil, err
		}
		c = half
	}
	return c.resized(w, h, gocv.InterpolationLinear)
}

func (c *Colour) resized(w, h int, enlarging gocv.InterpolationFlags) (*Colour, error) {
	how := gocv.InterpolationArea
	if w > c.W {
		how = enlarging
	}
	return c.into(w, h, func(src gocv.Mat, dst *gocv.Mat) {
		gocv.Resize(src, dst, image.Pt(w, h), 0, 0, how)
	})
}

// Shrunk returns an image whose rows lie one after another at w by h px, both over 0, averaging.
func Shrunk(img *image.RGBA, w, h int) *image.RGBA { return shrunk(img, img.Rect.Size(), w, h) }

// Halved returns an image whose rows lie one after another at half its size, less an odd last column or
// row, which is far quicker than any other size. Both its sides are over 1.
func Halved(img *image.RGBA) *image.RGBA {
	half := img.Rect.Size().Div(2)
	return shrunk(img, half.Mul(2), half.X, half.Y)
}

// shrunk is the corner of a size of an image, at w by h px.
func shrunk(img *image.RGBA, corner image.Point, w, h int) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	all := view(img.Rect.Dx(), img.Rect.Dy(), gocv.MatTypeCV8UC4, img.Pix)
	defer all.Close()
	src := all.Region(image.Rectangle{Max: corner})
	defer src.Close()
	dst := view(w, h, gocv.MatTypeCV8UC4, out.Pix)
	defer dst.Close()
	gocv.Resize(src, &dst, image.Pt(w, h), 0, 0, gocv.InterpolationArea)
	return out
}

// into makes an image of w by h px by a function of OpenCV, which writes right
// into it; should it have taken other memory, that is copied.
func (c *Colour) into(w, h int, f func(src gocv.Mat, dst *gocv.Mat)) (*Colour, error) {
	out := NewColour(w, h)
	src, dst := c.mat(), out.mat()
	defer src.Close()
	defer dst.Close()
	f(src, &dst)
	pix, err := dst.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	if unsafe.SliceData(pix) == unsafe.SliceData(out.Pix) {
		return out, nil
	}
	return colourOf(&dst)
}

// NewColour returns a black image of w by h pixels.
func NewColour(w, h int) *Colour { return &Colour{W: w, H: h, Pix: make([]uint8, 3*w*h)} }

// A Grey is an 8-bit image of one channel, row after row.
type Grey struct {
	W, H int
	Pix  []uint8 // W·H
}

// NewGrey returns a black image of w by h pixels.
func NewGrey(w, h int) *Grey { return &Grey{w, h, make([]uint8, w*h)} }

// A Bitmap is a set of pixels: 1 where the set has the pixel, else 0.
type Bitmap struct {
	W, H int
	Pix  []uint8 // W·H
}

// NewBitmap returns an empty set of w by h pixels.
func NewBitmap(w, h int) *Bitmap { return &Bitmap{w, h, make([]uint8, w*h)} }

// all are the indices of the pixels in the set, row after row.
func (b *Bitmap) all() iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := 0; ; i++ {
			j := bytes.IndexByte(b.Pix[i:], 1)
			if j < 0 {
				return
			}
			if i += j; !yield(i) {
				return
			}
		}
	}
}

// Count returns how many pixels are in the set.
func (b *Bitmap) Count() int {
	var n atomic.Int64
	parallel.Bands(b.H, func(y0, y1 int) {
		pix, sum := b.Pix[y0*b.W:y1*b.W], 0
		for ; len(pix) >= 8; pix = pix[8:] { // each byte is 0 or 1
			sum += bits.OnesCount64(binary.LittleEndian.Uint64(pix))
		}
		for _, v := range pix {
			sum += int(v)
		}
		n.Add(int64(sum))
	})
	return int(n.Load())
}

// mat views the image's pixels as an OpenCV matrix; they share memory.
func (c *Colour) mat() gocv.Mat { return view(c.W, c.H, gocv.MatTypeCV8UC3, c.Pix) }
func (g *Grey) mat() gocv.Mat   { return view(g.W, g.H, gocv.MatTypeCV8U, g.Pix) }
func (b *Bitmap) mat() gocv.Mat { return view(b.W, b.H, gocv.MatTypeCV8U, b.Pix) }

func view(w, h int, t gocv.MatType, pix []uint8) gocv.Mat {
	m, err := gocv.NewMatFromBytes(h, w, t, pix)
	if err != nil { // only for an empty slice, which no image of ours has
		panic(fmt.Sprintf("vision: image of %d by %d px: %v", w, h, err))
	}
	return m
}

// colourOf copies an OpenCV matrix of three 8-bit channels.
func colourOf(m *gocv.Mat) (*Colour, error) {
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	out := NewColour(m.Cols(), m.Rows())
	parallel.Bands(out.H, func(y0, y1 int) { copy(out.Pix[3*y0*out.W:3*y1*out.W], pix[3*y0*out.W:]) })
	return out, nil
}

// LineExtent returns the width and the height, px, of the box about the middles of the lines
// that b shows, turned by so many degrees anticlockwise: of the box about its marks less the
// lines' width. That is twice their area by
// the length of their outline, of whose steps from pixel to pixel a line in any direction has
// 4/π times its length on average. Specks too short for a stroke do not count. It is 0 if there are none.
func (b *Bitmap) LineExtent(turn float64) geom.Point {
	sin, cos := math.Sincos(geom.Radians(turn))
	type box struct{ lo, hi geom.Point }
	all := piecesOf(b, 1, true)
	boxes := make([]box, len(all.list))
	for i := range boxes {
		boxes[i] = box{geom.Pt(math.Inf(1), math.Inf(1)), geom.Pt(math.Inf(-1), math.Inf(-1))}
	}
	area, edge := 0, 0
	at := func(x, y int) int {
		if x < 0 || y < 0 || x >= b.W || y >= b.H {
			return 0
		}
		return int(b.Pix[y*b.W+x])
	}
	for _, run := range all.runs {
		for x := run.x0; x < run.x1; x++ {
			area++
			rim := 4 - at(x-1, run.y) - at(x+1, run.y) - at(x, run.y-1) - at(x, run.y+1)
			if edge += rim; rim == 0 {
				continue
			}
			p := geom.Pt(float64(x)*cos+float64(run.y)*sin, float64(run.y)*cos-float64(x)*sin)
			o := &boxes[run.piece]
			o.lo, o.hi = geom.Pt(min(o.lo.X, p.X), min(o.lo.Y, p.Y)), geom.Pt(max(o.hi.X, p.X), max(o.hi.Y, p.Y))
		}
	}
	if edge == 0 {
		return geom.Point{}
	}
	pen := 2 * float64(area) / (math.Pi / 4 * float64(edge))
	lo, hi := geom.Pt(math.Inf(1), math.Inf(1)), geom.Pt(math.Inf(-1), math.Inf(-1))
	for i, o := range boxes {
		if q := all.list[i]; float64(max(q.x1-q.x0, q.y1-q.y0)) < markPens*pen {
			continue
		}
		lo, hi = geom.Pt(min(lo.X, o.lo.X), min(lo.Y, o.lo.Y)), geom.Pt(max(hi.X, o.hi.X), max(hi.Y, o.hi.Y))
	}
	if lo.X > hi.X {
		return geom.Point{}
	}
	dot := math.Abs(sin) + math.Abs(cos) // a pixel's own width
	return geom.Pt(max(hi.X-lo.X+dot-pen, 0), max(hi.Y-lo.Y+dot-pen, 0))
}
