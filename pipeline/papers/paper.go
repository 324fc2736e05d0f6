package papers

import (
	"fmt"
	"math"

	"github.com/go-pdf/fpdf"

	"inkchannel/geom"
	"inkchannel/geom/bed"
	"inkchannel/geom/parts"
	"inkchannel/geom/rules"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// A PaperRun is what paper to draw on must know of a run: how far its dots are
// apart, how wide its channels are, and what the bed takes.
type PaperRun struct {
	Dots    vision.DotSettings
	Spacing rules.SpacingSettings
	Slot    float64 // mm, the slot's width
	Wall    float64 // mm
	Bed     bed.Settings
	Hold    parts.Hold
	Parts   parts.Measures
}

// PaperFor is what the settings say of the paper.
func PaperFor(s stage.Settings) (vision.Page, PaperRun) {
	return stage.SettingsOf[vision.SheetSettings](s).Page, PaperRun{
		Dots: stage.SettingsOf[pipeline.DotsSettings](s).DotSettings, Spacing: stage.SettingsOf[rules.SpacingSettings](s),
		Slot: stage.SettingsOf[pipeline.StripRoom](s).Slot(), Wall: stage.SettingsOf[pipeline.ChannelSettings](s).Wall,
		Bed:  stage.SettingsOf[pipeline.BedsSettings](s).Bed,
		Hold: stage.SettingsOf[pipeline.StripsSettings](s).Hold, Parts: stage.SettingsOf[parts.Measures](s),
	}
}

// tint is the guides' colour: so pale that the ink stage takes it for paper,
// whose cut lies above pale rules.
var tint = [3]int{214, 226, 236}

// A PaperPlan is where things lie on the paper, mm from its upper left corner.
type PaperPlan struct {
	Width, Height float64
	Dots          [2]geom.Point // exactly the dots' distance apart
	DotSize       float64
	Bed           geom.Rect // the part of the bed that may be drawn on, as far as it is on the paper
	Foot          geom.Rect // the place of the foot, zero if the sign has none
	Ruler         geom.Point
	RulerLength   float64
}

// Room that the paper keeps free, mm: of the printer's own margin, and under
// the drawing for dots and ruler.
const (
	paperEdge  = 8.0
	paperStrip = 26.0
	rulerLong  = 150.0
)

// PlanPaper lays the paper out, on its side: A4, A3 or letter; auto is A4. It returns an error for a page
// without a size of its own and for a bed too small for a drawing.
func PlanPaper(page vision.Page, s PaperRun) (PaperPlan, error) {
	if page == vision.PageAuto {
		page = vision.PageA4
	}
	w, h, ok := page.Size()
	if !ok {
		return PaperPlan{}, fmt.Errorf("the paper needs a fixed size: A4, A3 or letter, not %q", page)
	}
	w, h = max(w, h), min(w, h)
	p := PaperPlan{Width: w, Height: h, DotSize: 4, RulerLength: rulerLong}
	// Dots at the bottom, out of the drawing's way.
	mid := w / 2
	y := h - paperEdge - 5
	d := s.Dots.Distance
	if d > w-2*paperEdge-20 {
		return PaperPlan{}, fmt.Errorf(
			"dots %g mm apart do not fit on %s; give a smaller --dot-distance or a larger page", d, page,
		)
	}
	p.Dots = [2]geom.Point{{X: mid - d/2, Y: y}, {X: mid + d/2, Y: y}}
	p.Ruler = geom.Pt(mid-rulerLong/2+30, y-8)
	// The sign's size on the bed: lines may go as far as the channel's outer
	// half leaves the bed's margin free.
	outer := s.Slot/2 + s.Wall
	b := s.Bed
	bw, bh := b.Width-2*b.Margin-2*outer, b.Depth-2*b.Margin-2*outer
	foot := s.Hold == parts.HoldStand
	under := 0.0
	if foot {
		under = s.Parts.FootHeight + s.Parts.Tenon
		bh -= under
	}
	if bw < 20 || bh < 20 {
		return PaperPlan{}, fmt.Errorf("a bed of %g by %g mm leaves no room to draw", b.Width, b.Depth)
	}
	roomW, roomH := w-2*paperEdge, h-2*paperEdge-paperStrip
	dw, dh := min(bw, roomW), min(bh, roomH)
	p.Bed = geom.Rect{Min: geom.Pt(mid-dw/2, paperEdge+(roomH-dh)/2), Max: geom.Pt(mid+dw/2, paperEdge+(roomH+dh)/2)}
	if foot {
		fw := s.Parts.FootWidth
		p.Foot = geom.Rect{
			Min: geom.Pt(mid-fw/2, p.Bed.Max.Y),
			Max: geom.Pt(mid+fw/2, math.Min(p.Bed.Max.Y+4, h-paperEdge)),
		}
	}
	return p, nil
}

// Paper writes a PDF to print and draw on, at true size: the two dots exactly
// the dots' distance apart, the bed's outline as far as lines may go, the place
// of the foot, guides as far apart as lines must be, and a ruler to check that
// the printer did not rescale. All but the dots is in a tint that the ink stage
// drops.
func Paper(page vision.Page, s PaperRun) ([]byte, error) {
	p, err := PlanPaper(page, s)
	if err != nil {
		return nil, err
	}
	f := newPDF("Drawing sheet for a line sign", p.Width, p.Height)
	f.AddPage()
	f.SetDrawColor(tint[0], tint[1], tint[2])
	f.SetTextColor(tint[0]-20, tint[1]-20, tint[2]-20)
	f.SetFont("Helvetica", "", 7)
	guides(f, p, s.Spacing.Least)
	bedCorners(f, p.Bed)
	f.Text(
		p.Bed.Min.X, p.Bed.Max.Y+4,
		fmt.Sprintf("draw inside these corners to fit a bed of %g by %g mm", s.Bed.Width, s.Bed.Depth),
	)
	f.Text(
		p.Bed.Min.X, p.Bed.Max.Y+8,
		fmt.Sprintf("crosses are %g mm apart: keep lines at least that far apart", s.Spacing.Least),
	)
	if p.Foot != (geom.Rect{}) {
		fs := p.Foot.Size()
		f.SetFillColor(tint[0], tint[1], tint[2])
		f.Rect(p.Foot.Min.X, p.Foot.Min.Y, fs.X, fs.Y, "F")
		f.Text(p.Foot.Max.X+2, p.Foot.Max.Y-1, "the foot goes here, under the lowest line")
	}
	paperRuler(f, p)
	f.SetFillColor(0, 0, 0)
	for _, d := range p.Dots {
		f.Circle(d.X, d.Y, p.DotSize/2, "F")
	}
	f.Text(p.Dots[1].X+8, p.Dots[1].Y+1, fmt.Sprintf("the dots are %g mm apart: print at 100 %%", s.Dots.Distance))
	return pdfBytes(f)
}

// guides draws crosses as far apart as lines must be. They are crosses and not
// lines, as the outline of a lattice would pass for the sheet's own edge.
func guides(f *fpdf.Fpdf, p PaperPlan, step float64) {
	const half = 0.8
	f.SetLineWidth(0.2)
	for x := p.Bed.Min.X + step; x < p.Bed.Max.X; x += step {
		for y := p.Bed.Min.Y + step; y < p.Bed.Max.Y; y += step {
			f.Line(x-half, y, x+half, y)
			f.Line(x, y-half, x, y+half)
		}
	}
}

// bedCorners draws the corners of a box.
func bedCorners(f *fpdf.Fpdf, r geom.Rect) {
	const arm = 12
	f.SetLineWidth(0.6)
	for _, c := range []struct{ at, in geom.Point }{
		{r.Min, geom.Pt(1, 1)}, {geom.Pt(r.Max.X, r.Min.Y), geom.Pt(-1, 1)},
		{r.Max, geom.Pt(-1, -1)}, {geom.Pt(r.Min.X, r.Max.Y), geom.Pt(1, -1)},
	} {
		f.Line(c.at.X, c.at.Y, c.at.X+arm*c.in.X, c.at.Y)
		f.Line(c.at.X, c.at.Y, c.at.X, c.at.Y+arm*c.in.Y)
	}
}

// paperRuler draws a ruler with a stroke for each mm.
func paperRuler(f *fpdf.Fpdf, p PaperPlan) {
	f.SetLineWidth(0.2)
	f.Line(p.Ruler.X, p.Ruler.Y, p.Ruler.X+p.RulerLength, p.Ruler.Y)
	for i := 0; i <= int(p.RulerLength); i++ {
		long := 1.5
		switch {
		case i%10 == 0:
			long = 4
		case i%5 == 0:
			long = 2.5
		}
		x := p.Ruler.X + float64(i)
		f.Line(x, p.Ruler.Y-long, x, p.Ruler.Y)
		if i%50 == 0 {
			f.Text(x+0.8, p.Ruler.Y-2, fmt.Sprintf("%d mm", i))
		}
	}
}
