package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/regular"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
)

// curves draws lines given in mm, of a width in review px.
func (c *canvas) curves(line geom.Centreline, px, width float64, col color.Color) {
	c.SetColor(col)
	c.SetLineWidth(width)
	for _, k := range line.Curves {
		c.path(k.Flatten(0.02), px, false)
		c.Stroke()
	}
}

// drawSymmetry shows the line as it was, pale, as it is now, and the axis.
func drawSymmetry(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.7, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	c.curves(r.Centreline, px, 5, color.NRGBA{214, 94, 0, 110})
	c.curves(r.Line, px, 3, markMain)
	if a := r.Symmetry.Axis; a != nil {
		reach := r.Size.Norm()
		c.SetColor(markThird)
		c.SetLineWidth(2)
		c.SetDash(14, 8)
		c.path([]geom.Point{a.At.Sub(a.Dir.Mul(reach)), a.At.Add(a.Dir.Mul(reach))}, px, false)
		c.Stroke()
		c.SetDash()
	}
	return c.img, nil
}

// drawShapes shows what became a line, an arc or a circle.
func drawShapes(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.7, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	c.curves(r.Line, px, 3, inkTint)
	for _, s := range r.Shapes.Shapes {
		switch s.Kind {
		case regular.Line:
			c.SetColor(markMain)
			c.SetLineWidth(4)
			c.path([]geom.Point{s.From, s.To}, px, false)
			c.Stroke()
			c.spot(s.From, px, 4, markMain)
			c.spot(s.To, px, 4, markMain)
		default:
			c.SetColor(markOther)
			c.SetLineWidth(4)
			c.path(s.Flatten(), px, false)
			c.Stroke()
			c.label(s.Flatten().At(s.Flatten().Length()/2), px, fmt.Sprintf("%s, radius %.1f mm", s.Kind, s.Radius), markOther)
		}
	}
	return c.img, nil
}

// drawSpacing draws each line as wide as its spacing asks, so that those too
// near overlap, and the distance where they are nearest.
func drawSpacing(r *Result, text string) (*image.RGBA, error) {
	px := r.Dots.PxPerMm
	c, err := newCanvas(r.Sheet.Image, 0.7, text)
	if err != nil {
		return nil, err
	}
	c.curves(r.Line, px, r.Settings.Spacing.Least*px*c.k, color.NRGBA{0, 104, 173, 46})
	c.curves(r.Line, px, 3, markMain)
	if r.Spread != nil { // the places found are mended
		return c.img, nil
	}
	for _, t := range r.Tight {
		c.SetColor(markOther)
		c.SetLineWidth(4)
		c.path([]geom.Point{t.At[0], t.At[1]}, px, false)
		c.Stroke()
		c.spot(t.At[0], px, 5, markOther)
		c.spot(t.At[1], px, 5, markOther)
	}
	for _, t := range r.Tight {
		c.label(t.At[0].Lerp(t.At[1], 0.5), px, fmt.Sprintf("%.2f mm", t.Distance), markOther)
	}
	return c.img, nil
}

// drawBends marks where the line bends too tight, and what was done.
func drawBends(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.7, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	c.curves(r.Line, px, 3.5, markMain)
	for _, b := range r.Bends {
		what := "corner"
		if b.Radius > 0 {
			what = fmt.Sprintf("radius %.1f mm", b.Radius)
		}
		if b.Rounded {
			c.ring(b.At, px, r.Settings.Bends.Radius*px*c.k, 2, markThird)
			c.label(b.At, px, fmt.Sprintf("%s, rounded", what), markThird)
			continue
		}
		c.ring(b.At, px, 12, 3, markOther)
		c.label(b.At, px, fmt.Sprintf("%s, cut and join", what), markOther)
	}
	return c.img, nil
}

// drawJunctions shows the strips as wide as they are: those that pass, and
// where others end at them.
func drawJunctions(r *Result, text string) (*image.RGBA, error) {
	px := r.Dots.PxPerMm
	c, err := newCanvas(r.Sheet.Image, 0.7, text)
	if err != nil {
		return nil, err
	}
	c.SetLineCapButt()
	c.curves(r.Line, px, r.Settings.Channel.Strip*px*c.k, color.NRGBA{0, 104, 173, 60})
	c.curves(r.Line, px, 2, markMain)
	const reach = 9.0 // mm of strip to either side
	stretch := func(w rules.Way, width float64, col color.Color) {
		k := geom.NewRuler(r.Line.Curves[w.Curve])
		var pts geom.Polyline
		for s := -reach; s <= reach; s += 0.5 {
			if a := w.Along + s; r.Line.Curves[w.Curve].Closed || a >= 0 && a <= k.Length() {
				pts = append(pts, k.At(a))
			}
		}
		c.SetColor(col)
		c.SetLineWidth(width)
		c.path(pts, px, false)
		c.Stroke()
	}
	for _, j := range r.Junctions {
		for _, w := range j.Butts {
			stretch(w, 5, markOther)
		}
	}
	for _, j := range r.Junctions { // what passes lies on top
		stretch(j.Passes, 7, markThird)
		c.spot(j.At, px, 4, markThird)
	}
	for _, j := range r.Junctions {
		if j.Cramped {
			c.label(j.At, px, fmt.Sprintf("%.1f mm only", max(j.Room, 0)), markOther)
		}
	}
	return c.img, nil
}

// drawParts shows the parts together as the finished sign, pulled apart from
// front to rear.
func drawParts(r *Result, text string) (*image.RGBA, error) {
	size := r.Size
	c, err := blankCanvas(size.X, size.Y, text)
	if err != nil {
		return nil, err
	}
	var scene []thing
	for _, b := range Bodies(r) {
		col, err := parseColour(b.Colour)
		if err != nil {
			return nil, err
		}
		th := thing{mesh: posed(b.Mesh, parts.Pose{}, b.Apart), colour: col}
		if b.channel {
			th.floor = r.walls.Rear + r.walls.Floor
		}
		scene = append(scene, th)
	}
	draw.Draw(c.img, image.Rect(0, 0, c.w, c.h), renderScene(scene, c.w, c.h, partsView), image.Point{}, draw.Src)
	return c.img, nil
}

// drawWalls shows the rear of the sign in plan, where grooves, seats and holes
// are, with what prints badly.
func drawWalls(r *Result, text string) (*image.RGBA, error) {
	px, h := r.Dots.PxPerMm, r.Size.Y
	c, err := newCanvas(r.Sheet.Image, 0.85, text)
	if err != nil {
		return nil, err
	}
	fill := func(p solid.Plan, col color.Color) {
		c.SetColor(col)
		c.SetFillRuleEvenOdd()
		for _, a := range p.Region() {
			for _, ring := range append([]geom.Ring{a.Outline}, a.Holes...) {
				pts := make([]geom.Point, len(ring))
				for i, q := range ring {
					pts[i] = geom.Pt(q.X, h-q.Y)
				}
				c.path(pts, px, true)
			}
		}
		c.Fill()
	}
	for _, p := range r.Sign.Parts {
		switch {
		case p.Pose.Stand || p.Extra || p.Pose.Flip:
		case p.Channel:
			fill(p.Solid.Shadow(), color.NRGBA{0, 104, 173, 70})
			for _, l := range p.Solid { // darker where there is more
				fill(l.Plan, color.NRGBA{0, 60, 110, 36})
			}
		default:
			fill(p.Solid.Shadow(), color.NRGBA{90, 90, 90, 70})
		}
	}
	for _, w := range r.Sign.Wires {
		var pts []geom.Point
		for _, q := range w {
			pts = append(pts, geom.Pt(q.X, h-q.Y))
		}
		c.SetColor(markThird)
		c.SetLineWidth(3)
		c.path(pts, px, false)
		c.Stroke()
	}
	for _, f := range r.Sign.Feeds {
		c.spot(geom.Pt(f.X, h-f.Y), px, 6, markThird)
	}
	for _, w := range r.Weak {
		if p := r.partNamed(w.Part); p != nil && !p.Pose.Stand && !p.Extra && !p.Pose.Flip {
			c.ring(geom.Pt(w.At.X, h-w.At.Y), px, 12, 3, markOther)
		}
	}
	return c.img, nil
}

func (r *Result) partNamed(name string) *parts.Part {
	for i := range r.Sign.Parts {
		if r.Sign.Parts[i].Name == name {
			return &r.Sign.Parts[i]
		}
	}
	return nil
}

// drawBeds shows the beds side by side with what lies on them.
func drawBeds(r *Result, text string) (*image.RGBA, error) {
	s := r.Settings.Bed
	n := r.Layout.Beds
	across := int(math.Ceil(math.Sqrt(float64(n))))
	down := (n + across - 1) / across
	const gap = 14
	w, h := float64(across)*(s.Width+gap)+gap, float64(down)*(s.Depth+gap)+gap
	c, err := blankCanvas(w, h, text)
	if err != nil {
		return nil, err
	}
	corner := func(b int) geom.Point {
		return geom.Pt(gap+float64(b%across)*(s.Width+gap), gap+float64(b/across)*(s.Depth+gap))
	}
	on := func(b int, q geom.Point) geom.Point { // y up on the bed, down on the picture
		return corner(b).Add(geom.Pt(q.X, s.Depth-q.Y))
	}
	for b := range n {
		box := func(m float64) []geom.Point {
			return []geom.Point{on(b, geom.Pt(m, m)), on(b, geom.Pt(s.Width-m, m)), on(b, geom.Pt(s.Width-m, s.Depth-m)), on(b, geom.Pt(m, s.Depth-m))}
		}
		c.SetColor(groundTint)
		c.path(box(0), 1, true)
		c.Fill()
		c.SetColor(color.White)
		c.SetLineWidth(2)
		c.path(box(s.Margin), 1, true)
		c.Stroke()
	}
	for i, p := range r.Prints {
		at := r.Layout.Places[i]
		col := strokeColours[i%len(strokeColours)]
		c.SetFillRuleEvenOdd()
		for _, l := range []solid.Plan{p.Solid.Shadow(), p.Solid[len(p.Solid)-1].Plan} {
			for _, a := range l.Moved(at.Turn, at.Move).Region() {
				for _, ring := range append([]geom.Ring{a.Outline}, a.Holes...) {
					pts := make([]geom.Point, len(ring))
					for k, q := range ring {
						pts[k] = on(at.Bed, q)
					}
					c.path(pts, 1, true)
				}
			}
			c.SetColor(color.NRGBA{col.R, col.G, col.B, 120})
			c.Fill()
		}
	}
	for i, p := range r.Prints {
		at := r.Layout.Places[i]
		mid := p.Solid.Shadow().Moved(at.Turn, at.Move).Inside()
		c.label(on(at.Bed, mid), 1, p.Name, barBack)
	}
	return c.img, nil
}

// drawStrips draws each piece of strip in a colour of its own with its number,
// its cut marks, an arrow from where it is fed, and the jumpers.
func drawStrips(r *Result, text string) (*image.RGBA, error) {
	c, err := newCanvas(r.Sheet.Image, 0.8, text)
	if err != nil {
		return nil, err
	}
	px := r.Dots.PxPerMm
	c.curves(r.Line, px, r.Settings.Channel.Slot()*px*c.k, color.NRGBA{120, 120, 120, 60})
	for _, ch := range r.Strips.Chains {
		for _, j := range ch.Jumpers {
			c.SetDash(8, 6)
			c.SetColor(barBack)
			c.SetLineWidth(2)
			c.path(j.Path, px, false)
			c.Stroke()
			c.SetDash()
		}
	}
	for i, p := range r.Strips.Pieces {
		col := strokeColours[i%len(strokeColours)]
		marks := r.cutMarks(p)
		if len(marks) == 0 {
			continue
		}
		c.SetColor(col)
		c.SetLineWidth(5)
		c.path(r.stripOf(p), px, false)
		c.Stroke()
		half := r.Settings.Channel.Strip / 2
		for _, m := range marks {
			c.SetLineWidth(1.5)
			c.path([]geom.Point{m.at.Sub(m.across.Mul(half)), m.at.Add(m.across.Mul(half))}, px, false)
			c.Stroke()
		}
	}
	for i, p := range r.Strips.Pieces {
		if p.Strip == 0 {
			continue
		}
		way := r.wayOf(p)
		c.spot(way.At(p.Gaps[0]), px, 6, strokeColours[i%len(strokeColours)])
		c.label(way.At(p.Path/2), px, fmt.Sprintf("%d: %.0f mm", i+1, p.Strip), strokeColours[i%len(strokeColours)])
	}
	for i, ch := range r.Strips.Chains {
		c.ring(ch.Feed, px, 11, 3, barBack)
		c.label(ch.Feed, px, fmt.Sprintf("chain %d fed here", i+1), barBack)
	}
	return c.img, nil
}

// drawPower draws the wiring diagram.
func drawPower(r *Result, text string) (*image.RGBA, error) {
	d := wiringDiagram(r)
	c, err := blankCanvas(d.w, d.h, text)
	if err != nil {
		return nil, err
	}
	return c.img, d.draw(c)
}
