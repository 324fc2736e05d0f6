package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"sync"

	"github.com/disintegration/imaging"

	"inkchannel/geom"
	"inkchannel/vision"
)

// A Reviewer draws the stages' images as they are finished, beside the run.
type Reviewer struct {
	wg     sync.WaitGroup
	mu     sync.Mutex
	thumbs []image.Image // by stage
	pages  [][]byte      // JPEG for the page, by stage
	files  []File
	err    error
}

// NewReviewer returns a Reviewer with nothing drawn.
func NewReviewer() *Reviewer {
	n := len(Stages())
	return &Reviewer{thumbs: make([]image.Image, n), pages: make([][]byte, n), files: make([]File, n)}
}

// Draw starts drawing what a stage found over what it worked on. r may gain
// further stages' results meanwhile; those of this stage must not change.
func (v *Reviewer) Draw(r *Result, s Step) {
	i := stageIndex(s.Stage)
	snapshot := *r
	v.wg.Go(func() {
		img, err := drawStage(&snapshot, s)
		var data []byte
		var thumb image.Image
		var page []byte
		if err == nil {
			thumb = imaging.Fit(img, thumbW, thumbH, imaging.Box)
			data, err = encode(img, reviewName(i))
		}
		if err == nil {
			page, err = encodeJPEG(rgba(imaging.Fit(img, pageSide, pageSide, imaging.Box)))
		}
		v.mu.Lock()
		defer v.mu.Unlock()
		v.thumbs[i], v.pages[i], v.files[i] = thumb, page, File{reviewName(i), data}
		if err != nil && v.err == nil {
			v.err = fmt.Errorf("review image of stage %s: %w", s.Stage, err)
		}
	})
}

// Files waits for all images and returns them with the contact sheet.
func (v *Reviewer) Files() ([]File, error) {
	v.wg.Wait()
	if v.err != nil {
		return nil, v.err
	}
	var out []File
	for _, f := range v.files {
		if f.Name != "" {
			out = append(out, f)
		}
	}
	data, err := encode(contactSheet(v.thumbs), FileContact)
	return append(out, File{FileContact, data}), err
}

// Images waits for all images and returns them as JPEG for the page, by stage.
func (v *Reviewer) Images() [][]byte {
	v.wg.Wait()
	return v.pages
}

// pageSide is the longer side of a picture on the page, px.
const pageSide = 1000

// rgba is img as an RGBA image, which an opaque NRGBA image is but for its
// type.
func rgba(img *image.NRGBA) *image.RGBA {
	return &image.RGBA{Pix: img.Pix, Stride: img.Stride, Rect: img.Rect}
}

func stageIndex(name string) int {
	for i, s := range Stages() {
		if s.Name == name {
			return i
		}
	}
	panic("pipeline: no stage " + name)
}

// drawStage draws one stage's review image.
func drawStage(r *Result, s Step) (*image.RGBA, error) {
	text := fmt.Sprintf("%d %s: %s", stageIndex(s.Stage)+1, s.Stage, s.Found)
	switch s.Stage {
	case StagePhoto:
		c, err := newCanvas(r.Photo.Colour, 0, text)
		return imageOf(c, err)
	case StageSheet:
		return drawSheet(r, text)
	case StageInk:
		return drawInk(r, text)
	case StageDots:
		return drawDots(r, text)
	case StageSkeleton:
		return drawSkeleton(r, text)
	case StageStrokes:
		return drawStrokes(r, text)
	case StageColours:
		return drawColours(r, text)
	case StageCentreline:
		return drawCentreline(r, text)
	case StageSymmetry:
		return drawSymmetry(r, text)
	case StageShapes:
		return drawShapes(r, text)
	case StageSpacing:
		return drawSpacing(r, text)
	case StageBends:
		return drawBends(r, text)
	case StageJunctions:
		return drawJunctions(r, text)
	case StageChannel:
		return drawChannel(r, text)
	case StageParts:
		return drawParts(r, text)
	case StageWalls:
		return drawWalls(r, text)
	case StageBeds:
		return drawBeds(r, text)
	case StageStrips:
		return drawStrips(r, text)
	}
	return drawPower(r, text)
}

func imageOf(c *canvas, err error) (*image.RGBA, error) {
	if err != nil {
		return nil, err
	}
	return c.img, nil
}

// drawSheet outlines the paper in the photo.
func drawSheet(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Photo.Colour, 0, text)
	if err != nil || !r.Sheet.Found {
		return imageOf(c, err)
	}
	for _, pen := range []struct {
		col   color.Color
		width float64
	}{{color.White, 7}, {markMain, 4}} {
		c.path(r.Sheet.Corners[:], 1, true)
		c.SetColor(pen.col)
		c.SetLineWidth(pen.width)
		c.Stroke()
	}
	for i, p := range r.Sheet.Corners {
		c.spot(p, 1, 8, markOther)
		q := p.Mul(r.Photo.Shrink)
		c.label(p, 1, fmt.Sprintf("%d: %.0f,%.0f px", i+1, q.X, q.Y), barBack)
	}
	return c.img, nil
}

// drawInk tints what counts as ink on the rectified sheet.
func drawInk(r *Result, text string) (*image.RGBA, error) {
	pic := *r.Sheet.Image
	pic.Pix = append([]uint8(nil), pic.Pix...)
	m := r.Ink.Mask
	for i, v := range m.Pix {
		if v == 0 {
			continue
		}
		x := i % m.W
		edge := x == 0 || x == m.W-1 || i < m.W || i >= len(m.Pix)-m.W ||
			m.Pix[i-1]&m.Pix[i+1]&m.Pix[i-m.W]&m.Pix[i+m.W] == 0
		col := color.RGBA{120, 182, 226, 255}
		if edge {
			col = markMain
		}
		pic.Pix[3*i], pic.Pix[3*i+1], pic.Pix[3*i+2] = col.B, col.G, col.R
	}
	c, err := newCanvas(&pic, 0.1, text)
	return imageOf(c, err)
}

// drawDots rings the dots and whatever else looked like one.
func drawDots(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.35, text)
	if err != nil {
		return nil, err
	}
	a, b := r.Dots.Pair[0], r.Dots.Pair[1]
	for _, s := range r.Dots.Candidates {
		if s.Centre != a.Centre && s.Centre != b.Centre {
			c.ring(s.Centre, 1, s.Size/2*c.k+8, 3, markOther)
			c.label(s.Centre, 1, "not taken", markOther)
		}
	}
	c.SetColor(markMain)
	c.SetLineWidth(2.5)
	c.DrawLine(a.Centre.X*c.k, a.Centre.Y*c.k, b.Centre.X*c.k, b.Centre.Y*c.k)
	c.Stroke()
	for _, s := range []vision.Spot{a, b} {
		c.ring(s.Centre, 1, s.Size/2*c.k+5, 4, markMain)
		what := "dot, put by hand"
		if s.Size > 0 {
			what = fmt.Sprintf("dot, %.1f mm wide", s.Size/r.Dots.PxPerMm)
		}
		c.label(s.Centre, 1, what, barBack)
	}
	c.label(a.Centre.Lerp(b.Centre, 0.5), 1, fmt.Sprintf("%g mm", r.Settings.Dots.Distance), markMain)
	return c.img, nil
}

// drawSkeleton draws the one pixel wide lines, made thick enough to see, in
// the ink they came from.
func drawSkeleton(r *Result, text string) (*image.RGBA, error) {
	m := r.Dots.Rest.Mask
	pic := vision.NewColour(m.W, m.H)
	put := func(i int, c color.RGBA) { pic.Pix[3*i], pic.Pix[3*i+1], pic.Pix[3*i+2] = c.B, c.G, c.R }
	for i, v := range m.Pix {
		if v != 0 {
			put(i, inkTint)
		} else {
			put(i, paperTint)
		}
	}
	for i, v := range r.Skeleton.Pix {
		if v == 0 {
			continue
		}
		x, y := i%m.W, i/m.W
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if u, w := x+dx, y+dy; u >= 0 && w >= 0 && u < m.W && w < m.H {
					put(w*m.W+u, markMain)
				}
			}
		}
	}
	c, err := newCanvas(pic, 0, text)
	return imageOf(c, err)
}

// drawStrokes draws each stroke in a colour of its own, with its ends and
// junctions.
func drawStrokes(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.55, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	for i, s := range r.Strokes.Strokes {
		c.SetColor(strokeColours[i%len(strokeColours)])
		c.SetLineWidth(3.5)
		for _, run := range s.Runs {
			c.path(run, px, false)
		}
		c.Stroke()
	}
	drawKnots(c, r.Strokes.Knots, px)
	drawHand(c, r.Settings.Trace, px)
	for _, d := range r.LineDoubts {
		c.ring(d.At, px, 18, 3, markOther)
		c.label(d.At, px, "meant so?", markOther)
	}
	return c.img, nil
}

// drawHand marks what was said by hand: a cross where a line was dropped,
// rings where ends were joined or lines told to pass.
func drawHand(c *canvas, s vision.TraceSettings, px float64) {
	c.SetColor(markOther)
	c.SetLineWidth(3)
	for _, p := range s.Drop {
		x, y, r := p.X*px*c.k, p.Y*px*c.k, 9.0
		c.DrawLine(x-r, y-r, x+r, y+r)
		c.DrawLine(x-r, y+r, x+r, y-r)
		c.Stroke()
		c.label(p, px, "dropped", markOther)
	}
	for _, pairs := range []struct {
		what   string
		places []geom.Point
	}{{"joined", s.Join}, {"pass", s.Pass}} {
		for i, p := range pairs.places {
			c.ring(p, px, 9, 3, markThird)
			if i%2 == 1 {
				c.label(pairs.places[i-1].Lerp(p, 0.5), px, pairs.what, markThird)
			}
		}
	}
}

// drawColours draws each stroke in its pen's mark, with the pen's name.
func drawColours(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.55, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	for _, s := range r.Strokes.Strokes {
		c.SetColor(strokeColours[s.Ink%len(strokeColours)])
		c.SetLineWidth(4)
		for _, run := range s.Runs {
			c.path(run, px, false)
		}
		c.Stroke()
	}
	for _, s := range r.Strokes.Strokes {
		run := s.Runs[len(s.Runs)/2]
		c.label(run.At(run.Length()/2), px, r.penName(s.Ink), strokeColours[s.Ink%len(strokeColours)])
	}
	return c.img, nil
}

func drawKnots(c *canvas, knots []geom.Knot, px float64) {
	for _, k := range knots {
		switch {
		case k.Degree == 1:
			c.spot(k.At, px, 5, markThird)
		case k.Degree > 2:
			c.spot(k.At, px, 7, markOther)
		}
	}
}

// drawCentreline draws the curves with the joints of their pieces.
func drawCentreline(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.55, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	for _, k := range r.Centreline.Curves {
		c.path(k.Flatten(0.02), px, false)
		c.SetColor(markMain)
		c.SetLineWidth(3.5)
		c.Stroke()
		for _, p := range k.Pieces {
			c.ring(p[0], px, 3.5, 1.5, barBack)
		}
	}
	drawKnots(c, r.Centreline.Knots, px)
	return c.img, nil
}

// drawChannel shows the part from the front, a little from below and aside.
func drawChannel(r *Result, text string) (*image.RGBA, error) {
	size := r.Size
	c, err := blankCanvas(size.X, size.Y, text)
	if err != nil {
		return nil, err
	}
	pic := renderScene([]thing{{r.Channel.Solid, color.RGBA{226, 208, 182, 255}, r.walls.Rear + r.walls.Floor}}, c.w, c.h, frontView)
	draw.Draw(c.img, image.Rect(0, 0, c.w, c.h), pic, image.Point{}, draw.Src)
	return c.img, nil
}

// The most a picture on the contact sheet may take, px.
const thumbW, thumbH = 620, 470

// contactSheet lays the shrunk review images out in rows of four.
func contactSheet(thumbs []image.Image) *image.RGBA {
	const gap, across = 12, 4
	down := (len(thumbs) + across - 1) / across
	out := image.NewRGBA(image.Rect(0, 0, across*(thumbW+gap)+gap, down*(thumbH+gap)+gap))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.RGBA{232, 230, 224, 255}), image.Point{}, draw.Src)
	for i, img := range thumbs {
		if img == nil {
			continue
		}
		b := img.Bounds()
		at := image.Pt(gap+(i%across)*(thumbW+gap)+(thumbW-b.Dx())/2, gap+(i/across)*(thumbH+gap)+(thumbH-b.Dy())/2)
		draw.Draw(out, b.Add(at), img, b.Min, draw.Src)
	}
	return out
}
