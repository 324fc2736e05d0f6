package picture

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/fogleman/gg"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/geom/solid"
	"inkchannel/vision"
	"inkchannel/vision/turbo"
)

// reviewSide is the longer side of a review image, px.
const reviewSide = 1800

// BarHeight is the height of the line of text under a review image, px.
const BarHeight = 44

// barInset is how far from either side the text in it keeps, px.
const barInset = 12

// The colours of marks on review images: told apart by people with the common
// kinds of colour blindness, and on both paper and wood.
var (
	MarkMain   = color.RGBA{0, 104, 173, 255} // what was found
	MarkOther  = color.RGBA{214, 94, 0, 255}  // what else deserves a look
	MarkThird  = color.RGBA{0, 133, 96, 255}  // joints, ends
	BarBack    = color.RGBA{38, 42, 48, 255}  // text bar
	barText    = color.RGBA{244, 242, 236, 255}
	PaperTint  = color.RGBA{250, 249, 246, 255}
	GroundTint = color.RGBA{198, 206, 214, 255} // behind the part
	InkTint    = color.RGBA{186, 190, 196, 255}
)

// strokeColours tell neighbouring strokes apart.
var strokeColours = []color.RGBA{
	MarkMain, MarkOther, MarkThird, {160, 60, 140, 255}, {120, 92, 0, 255}, {70, 70, 190, 255},
}

// StrokeColour is the i-th of the colours that tell neighbouring strokes apart,
// over and over.
func StrokeColour(i int) color.RGBA { return strokeColours[i%len(strokeColours)] }

// A Canvas is a review image under way: a picture, marks over it in the
// picture's own units, and a bar with a line of text.
type Canvas struct {
	*gg.Context
	Image *image.RGBA
	K     float64 // review px for one unit of the picture
	W, H  int     // of the picture's part, review px

	labels []geom.Rect // written so far
}

// face returns the font at a size in px.
func face(size float64) (font.Face, error) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	return opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
}

// fitSide returns the size of a picture of w by h once its longer side is
// reviewSide, and the factor.
func fitSide(w, h float64) (int, int, float64) {
	k := reviewSide / max(w, h)
	return max(int(w*k+0.5), 1), max(int(h*k+0.5), 1), k
}

// A Ground is what review images are drawn over: a picture at their size, made once, when it is
// first asked for. Many may ask at once.
type Ground struct {
	small func() (*vision.Colour, error)
	k     float64
}

// NewGround returns the ground that a picture makes.
func NewGround(pic *vision.Colour) *Ground {
	w, h, k := fitSide(float64(pic.W), float64(pic.H))
	return &Ground{sync.OnceValues(func() (*vision.Colour, error) { return pic.ToLookAt(w, h) }), k}
}

// Canvas starts a review image over the ground, paled towards white by fade (0 to 1), with
// a line of text below. The image's unit is a pixel of the ground's picture. It returns an error
// only where OpenCV or the font does.
func (g *Ground) Canvas(fade float64, text string) (*Canvas, error) {
	small, err := g.small()
	if err != nil {
		return nil, err
	}
	img := image.NewRGBA(image.Rect(0, 0, small.W, small.H+BarHeight))
	copyPaled(img.Pix, small, fade)
	return finishCanvas(img, g.k, text)
}

// New starts a review image over pic; it is as Canvas of its ground.
func New(pic *vision.Colour, fade float64, text string) (*Canvas, error) {
	return NewGround(pic).Canvas(fade, text)
}

// Plain is a picture by itself, its longer side at most so many px.
func Plain(pic *vision.Colour, side int) (*image.RGBA, error) {
	k := min(float64(side)/float64(max(pic.W, pic.H)), 1)
	small, err := pic.Resized(max(int(float64(pic.W)*k), 1), max(int(float64(pic.H)*k), 1))
	if err != nil {
		return nil, err
	}
	img := image.NewRGBA(image.Rect(0, 0, small.W, small.H))
	copyPaled(img.Pix, small, 0)
	return img, nil
}

// Fit returns an image shrunk to at most w by h px, its shape kept; one that fits as it is.
func Fit(img *image.RGBA, w, h int) *image.RGBA {
	b := img.Rect
	k := min(float64(w)/float64(b.Dx()), float64(h)/float64(b.Dy()))
	if k >= 1 {
		return img
	}
	return vision.Shrunk(img, max(int(float64(b.Dx())*k+0.5), 1), max(int(float64(b.Dy())*k+0.5), 1))
}

// copyPaled copies a picture to one of red, green, blue and alpha of its width, faded to white.
func copyPaled(to []uint8, pic *vision.Colour, fade float64) {
	var pale [256]uint8
	for v := range pale {
		pale[v] = uint8(float64(v)*(1-fade) + 255*fade)
	}
	parallel.Bands(pic.W*pic.H, func(from, end int) {
		for i := from; i < end; i++ {
			px, bgr := to[4*i:4*i+4], pic.Pix[3*i:3*i+3]
			px[0], px[1], px[2], px[3] = pale[bgr[2]], pale[bgr[1]], pale[bgr[0]], 255
		}
	})
}

// Blank starts a review image on plain paper for a picture of w by h units, with
// a line of text below. Its errors are as New's.
func Blank(w, h float64, text string) (*Canvas, error) {
	pw, ph, k := fitSide(w, h)
	img := image.NewRGBA(image.Rect(0, 0, pw, ph+BarHeight))
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = PaperTint.R, PaperTint.G, PaperTint.B, 255
	}
	return finishCanvas(img, k, text)
}

func finishCanvas(img *image.RGBA, k float64, text string) (*Canvas, error) {
	c := &Canvas{Context: gg.NewContextForRGBA(img), Image: img, K: k, W: img.Rect.Dx(), H: img.Rect.Dy() - BarHeight}
	wide := float64(c.W) - 2*barInset
	for size := 22.0; size >= 9; {
		f, err := face(size)
		if err != nil {
			return nil, err
		}
		c.SetFontFace(f)
		w, _ := c.MeasureString(text)
		if w <= wide {
			break
		}
		size = min(size-1, math.Floor(size*wide/w)+1) // letters do not shrink evenly
	}
	c.SetColor(BarBack)
	c.DrawRectangle(0, float64(c.H), float64(c.W), BarHeight)
	c.Fill()
	c.SetColor(barText)
	c.DrawStringAnchored(c.fitting(text, wide), barInset, float64(c.H)+BarHeight/2-2, 0, 0.4)
	f, err := face(20)
	if err != nil {
		return nil, err
	}
	c.SetFontFace(f)
	return c, nil
}

// fitting is a text, or as many of its first words as are no wider than so many px, and an ellipsis.
func (c *Canvas) fitting(text string, wide float64) string {
	words := strings.Fields(text)
	out := text
	for n := len(words) - 1; n > 0; n-- {
		if w, _ := c.MeasureString(out); w <= wide {
			break
		}
		out = strings.TrimRight(strings.Join(words[:n], " "), ",;:") + " …"
	}
	return out
}

// Over starts marks over an image as it is, a unit a pixel. It returns an error only where
// the font does.
func Over(img *image.RGBA) (*Canvas, error) {
	c := &Canvas{Context: gg.NewContextForRGBA(img), Image: img, K: 1, W: img.Rect.Dx(), H: img.Rect.Dy()}
	f, err := face(badgeText)
	if err != nil {
		return nil, err
	}
	c.SetFontFace(f)
	return c, nil
}

// badgeText is the size of a badge's text, px, badgeRadius its disc's for one or two letters.
const badgeText, badgeRadius = 17, 14

// A Badge is a short text on a disc that belongs to a place, px.
type Badge struct {
	At     geom.Point
	Text   string
	Colour color.Color
}

// Badges writes badges about their places, or where one would cover another, or what Keep keeps free,
// beside its place with a line to it.
func (c *Canvas) Badges(list []Badge) {
	boxes := make([]geom.Rect, len(list))
	for i, b := range list {
		size := c.badgeSize(b.Text)
		box := c.within(geom.Rect{Min: b.At.Sub(size.Mul(0.5)), Max: b.At.Add(size.Mul(0.5))})
		if slices.ContainsFunc(c.labels, func(l geom.Rect) bool { return l.Shared(box) > 0 }) {
			box = c.roomFor(b.At, size)
		}
		c.labels, boxes[i] = append(c.labels, box), box
	}
	c.SetLineWidth(2)
	for i, b := range list { // all of them below the badges
		if near := boxes[i].Nearest(b.At); near != b.At {
			c.SetColor(b.Colour)
			c.DrawLine(b.At.X, b.At.Y, near.X, near.Y)
			c.Stroke()
		}
	}
	for i, b := range list {
		box := boxes[i]
		c.SetColor(color.White)
		c.DrawRoundedRectangle(box.Min.X, box.Min.Y, box.Size().X, box.Size().Y, badgeRadius+badgeRim)
		c.Fill()
		c.SetColor(b.Colour)
		c.DrawRoundedRectangle(box.Min.X+badgeRim, box.Min.Y+badgeRim, box.Size().X-2*badgeRim, 2*badgeRadius, badgeRadius)
		c.Fill()
		middle := box.Min.Lerp(box.Max, 0.5)
		c.SetColor(color.White)
		c.DrawStringAnchored(b.Text, middle.X, middle.Y, 0.5, 0.35)
	}
}

// Keep keeps a disc about a place, px, free of labels and badges.
func (c *Canvas) Keep(p geom.Point, r float64) {
	c.labels = append(c.labels, geom.Rect{Min: p.Sub(geom.Pt(r, r)), Max: p.Add(geom.Pt(r, r))})
}

// badgeSize is how much room a badge takes, with its rim.
func (c *Canvas) badgeSize(text string) geom.Point {
	w, _ := c.MeasureString(text)
	return geom.Pt(2*(max(badgeRadius, w/2+6)+badgeRim), 2*(badgeRadius+badgeRim))
}

// badgeRim is how broad the pale rim of a badge is, px.
const badgeRim = 1.5

// within moves a box so that it lies in the picture.
func (c *Canvas) within(b geom.Rect) geom.Rect {
	size := b.Size()
	from := geom.Pt(max(min(b.Min.X, float64(c.W)-size.X-labelEdge), labelEdge), max(min(b.Min.Y, float64(c.H)-size.Y-labelEdge), labelEdge))
	return geom.Rect{Min: from, Max: from.Add(size)}
}

// Path adds a chain of points, which scale takes to the picture's units, to what
// is drawn next.
func (c *Canvas) Path(p []geom.Point, scale float64, closed bool) {
	for i, q := range p {
		if i == 0 {
			c.MoveTo(q.X*scale*c.K, q.Y*scale*c.K)
		} else {
			c.LineTo(q.X*scale*c.K, q.Y*scale*c.K)
		}
	}
	if closed {
		c.ClosePath()
	}
}

// Ring draws a circle of r review px, a line width of them wide, about p, which
// scale takes to the picture's units.
func (c *Canvas) Ring(p geom.Point, scale, r, width float64, col color.Color) {
	c.SetColor(col)
	c.SetLineWidth(width)
	c.DrawCircle(p.X*scale*c.K, p.Y*scale*c.K, r)
	c.Stroke()
}

// Spot draws a filled disc of r review px at p, which scale takes to the picture's
// units, with a pale rim.
func (c *Canvas) Spot(p geom.Point, scale, r float64, col color.Color) {
	c.SetColor(color.White)
	c.DrawCircle(p.X*scale*c.K, p.Y*scale*c.K, r+1.5)
	c.Fill()
	c.SetColor(col)
	c.DrawCircle(p.X*scale*c.K, p.Y*scale*c.K, r)
	c.Fill()
}

// Label writes text beside p, which scale takes to the picture's units, on a pale
// ground: where it covers no other label, and as little as may be of what is drawn.
func (c *Canvas) Label(p geom.Point, scale float64, text string, col color.Color) {
	w, h := c.MeasureString(text)
	at := p.Mul(scale * c.K)
	box := c.roomFor(at, geom.Pt(w+10, h+10))
	c.labels = append(c.labels, box)
	if near := box.Nearest(at); near.Dist(at) > labelFar {
		c.SetColor(col)
		c.SetLineWidth(1)
		c.DrawLine(at.X, at.Y, near.X, near.Y)
		c.Stroke()
	}
	c.SetColor(color.NRGBA{255, 255, 255, 225})
	c.DrawRoundedRectangle(box.Min.X, box.Min.Y, w+10, h+10, 4)
	c.Fill()
	c.SetColor(col)
	c.DrawString(text, box.Min.X+5, box.Min.Y+h+3)
}

// Where a label may be, review px.
const (
	labelOff  = 9.0            // from its place to its nearest corner, then twice, four and eight times that
	labelFar  = 1.5 * labelOff // from where on a line leads to its place
	labelEdge = 3              // from the picture's edges at least
	labelGrid = 4              // px between places at which what lies under it is looked at
	labelDark = 150            // level of a channel below which something is drawn there, on a pale ground
)

// roomFor is the best of some boxes of a size about a place, within the picture: to the right and above it, if that
// is free.
func (c *Canvas) roomFor(at, size geom.Point) (best geom.Rect) {
	least := math.Inf(1)
	ways := []geom.Point{{X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: -1}, {X: -1, Y: 1}, {X: 1}, {X: -1}, {Y: -1}, {Y: 1}}
	for far, off := range []float64{labelOff, 2 * labelOff, 4 * labelOff, 8 * labelOff} {
		for i, way := range ways {
			from := at.Add(way.Mul(off)).Add(geom.Pt((way.X-1)/2*size.X, (way.Y-1)/2*size.Y))
			box := c.within(geom.Rect{Min: from, Max: from.Add(size)})
			cost := c.covers(box) + 0.03*float64(i) + 0.15*float64(far)
			for _, other := range c.labels {
				if common := box.Shared(other); common > 0 {
					cost += 1 + 4*common/(size.X*size.Y)
				}
			}
			if cost < least {
				best, least = box, cost
			}
		}
	}
	return best
}

// covers is the share of a box where something is drawn.
func (c *Canvas) covers(b geom.Rect) float64 {
	n, drawn := 0, 0
	for y := int(b.Min.Y); y < int(b.Max.Y); y += labelGrid {
		for x := int(b.Min.X); x < int(b.Max.X); x += labelGrid {
			if !image.Pt(x, y).In(c.Image.Rect) {
				continue
			}
			n++
			if p := c.Image.RGBAAt(x, y); min(p.R, p.G, p.B) < labelDark {
				drawn++
			}
		}
	}
	return float64(drawn) / float64(max(n, 1))
}

// FillPlan fills a plane area, each of its corners put where to says, in the
// picture's units times scale.
func (c *Canvas) FillPlan(p solid.Plan, scale float64, to func(geom.Point) geom.Point) {
	c.SetFillRuleEvenOdd()
	c.addPlan(p, scale, to)
	c.Fill()
}

// addPlan adds a plan's outlines, anticlockwise, and holes, clockwise, to the path.
func (c *Canvas) addPlan(p solid.Plan, scale float64, to func(geom.Point) geom.Point) {
	for _, a := range p.Region() {
		for i, ring := range append([]geom.Ring{a.Outline}, a.Holes...) {
			pts := make([]geom.Point, len(ring))
			for k, q := range ring {
				pts[k] = to(q)
			}
			if (ring.Area() > 0) != (i == 0) {
				slices.Reverse(pts)
			}
			c.Path(pts, scale, true)
		}
	}
}

// FillShadow fills the area that a solid covers seen from above; the rest is as FillPlan's.
func (c *Canvas) FillShadow(s solid.Solid, scale float64, to func(geom.Point) geom.Point) {
	c.SetFillRuleWinding() // outlines turn one way and holes the other, so no layer opens another
	for i, l := range s {
		if i == 0 || !s.SamePlan(i, i-1) {
			c.addPlan(l.Plan, scale, to)
		}
	}
	c.Fill()
}

// Encode returns the image as PNG if its file is to be called so, else as JPEG. It
// returns an error where the encoder does.
func Encode(img *image.RGBA, name string) ([]byte, error) {
	if !strings.HasSuffix(name, ".png") {
		return EncodeJPEG(img)
	}
	var b bytes.Buffer
	err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, img)
	return b.Bytes(), err
}

// EncodeJPEG returns the image as JPEG. It goes through libjpeg-turbo, which is
// some times faster than Go's encoder; most of a run's pictures are JPEGs. It returns an
// error where the encoder does.
func EncodeJPEG(img *image.RGBA) ([]byte, error) {
	return turbo.Encode(img.Pix, img.Rect.Dx(), img.Rect.Dy(), img.Stride, turbo.RGBA, 88)
}

// DataURL is a JPEG as a page holds it in itself (RFC 2397).
func DataURL(jpeg []byte) string {
	return "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(jpeg)
}

// Curves draws lines given in mm, px of the picture's units to each, of a width in
// review px.
func (c *Canvas) Curves(line geom.Centreline, px, width float64, col color.Color) {
	c.SetColor(col)
	c.SetLineWidth(width)
	for _, k := range line.Curves {
		c.Path(k.Flatten(0.02), px, false)
		c.Stroke()
	}
}

// ImageOf is the image of a canvas that is done, or the error that it met.
func ImageOf(c *Canvas, err error) (*image.RGBA, error) {
	if err != nil {
		return nil, err
	}
	return c.Image, nil
}
