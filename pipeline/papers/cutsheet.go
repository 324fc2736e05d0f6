package papers

import (
	"fmt"
	"math"
	"slices"

	"github.com/go-pdf/fpdf"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// Room that the cut sheet's pages keep, mm: their edge, ruler and name at the
// foot, and how far neighbouring pages overlap.
const (
	cutEdge    = 12.0
	cutFoot    = 24.0
	cutOverlap = 10.0
	cutRoom    = 8.0 // around the lines, for the channel and the labels
)

// A CutPlan is how the sign is spread over the cut sheet's pages.
type CutPlan struct {
	Page         geom.Point // width and height, mm
	Across, Down int
	Origin       geom.Point // of the first page's window, mm in the sheet's frame
	Step         geom.Point // from one window to the next
	Window       geom.Point // the size of a window
}

// A CutSheetIn is what the cut sheet shows.
type CutSheetIn struct {
	Dots      pipeline.DotsFound
	Junctions pipeline.JunctionsFound
	Strips    pipeline.StripsFound
	Channel   pipeline.ChannelFound
}

// PlanCutSheet spreads what the lines take over as few pages as it needs: A4
// (ISO 216), or US Letter if the drawing is on that, upright or on its side.
func PlanCutSheet(in CutSheetIn) CutPlan {
	return planSheet(in.Dots.Page, in.Dots.Frame.PlanLine(in.Strips.Line))
}

// planSheet is PlanCutSheet for lines drawn on a page, and more places to show.
func planSheet(drawnOn vision.Page, line geom.Centreline, more ...geom.Point) CutPlan {
	short, long := printedOn(drawnOn)
	up, side := planPages(line, geom.Pt(short, long), more), planPages(line, geom.Pt(long, short), more)
	if side.Across*side.Down < up.Across*up.Down {
		return side
	}
	return up
}

// printedOn is the size, mm, of the pages for a drawing on a page: US Letter for that, else A4 (ISO 216).
func printedOn(drawnOn vision.Page) (short, long float64) {
	page := vision.PageA4
	if drawnOn == vision.PageLetter {
		page = vision.PageLetter
	}
	short, long, _ = page.Size()
	return short, long
}

func planPages(line geom.Centreline, page geom.Point, more []geom.Point) CutPlan {
	pts := slices.Clone(more)
	for _, k := range line.Curves {
		pts = append(pts, k.Flatten(0.1)...)
	}
	b := geom.Bounds(pts)
	room := geom.Pt(cutRoom, cutRoom)
	lo, hi := b.Min.Sub(room), b.Max.Add(room)
	p := CutPlan{Page: page, Window: geom.Pt(page.X-2*cutEdge, page.Y-cutEdge-cutFoot)}
	p.Step = p.Window.Sub(geom.Pt(cutOverlap, cutOverlap))
	pages := func(size, window, step float64) int {
		return 1 + int(math.Ceil(max(size-window, 0)/step-1e-9))
	}
	size := hi.Sub(lo)
	p.Across, p.Down = pages(size.X, p.Window.X, p.Step.X), pages(size.Y, p.Window.Y, p.Step.Y)
	// In the middle of what the pages cover.
	cover := geom.Pt(p.Window.X+float64(p.Across-1)*p.Step.X, p.Window.Y+float64(p.Down-1)*p.Step.Y)
	p.Origin = lo.Sub(cover.Sub(size).Mul(0.5))
	return p
}

// CutSheet writes a PDF at true size: the channel's outline, each piece of
// strip with its number, length, cut marks and polarity, tiled onto A4 or
// Letter with crosses to align the pages by and a ruler of 100 mm on each.
func CutSheet(in CutSheetIn) ([]byte, error) {
	return tiled("Cut sheet", PlanCutSheet(in), func(w window) {
		w.outlines(in.Channel.Body)
		cutPieces(w, in)
	})
}

// tiled writes a PDF of a plan's pages; draw draws what the window of one shows.
func tiled(title string, p CutPlan, draw func(w window)) ([]byte, error) {
	f := newPDF(title, p.Page.X, p.Page.Y)
	for row := range p.Down {
		for col := range p.Across {
			f.AddPage()
			f.ClipRect(cutEdge, cutEdge, p.Window.X, p.Window.Y, false)
			draw(window{f, p.Origin.Add(geom.Pt(float64(col)*p.Step.X, float64(row)*p.Step.Y)), p.Window, &[]geom.Rect{}})
			f.ClipEnd()
			cutPageMarks(f, title, p, row, col)
		}
	}
	return pdfBytes(f)
}

// A window is the part of the sign that a page shows, from a place on, mm of the sheet.
type window struct {
	*fpdf.Fpdf
	at    geom.Point
	size  geom.Point
	named *[]geom.Rect // what names on the page take so far, mm of it
}

// shows tells whether a place on the page is in the window.
func (w window) shows(at geom.Point) bool {
	return at.X >= cutEdge && at.Y >= cutEdge && at.X <= cutEdge+w.size.X && at.Y <= cutEdge+w.size.Y
}

// on is where the page shows a place.
func (w window) on(q geom.Point) geom.Point { return q.Sub(w.at).Add(geom.Pt(cutEdge, cutEdge)) }

// line draws a line through points.
func (w window) line(pts []geom.Point) {
	for i, q := range pts {
		if q = w.on(q); i == 0 {
			w.MoveTo(q.X, q.Y)
		} else {
			w.LineTo(q.X, q.Y)
		}
	}
	w.DrawPath("D")
}

// beside writes a text to the right of a place on the page and so far off, or to its left, or a little higher or
// lower: where the page has room, and no other name is; nothing of a place that another page shows.
func (w window) beside(at geom.Point, off float64, text string) {
	if !w.shows(at) {
		return
	}
	page, _ := w.GetPageSize()
	wide := w.GetStringWidth(text)
	_, high := w.GetFontSize() // mm
	best, least := geom.Rect{}, math.Inf(1)
	for i, up := range []float64{0, 1, -1, 2, -2, 3, -3} {
		for j, x := range []float64{at.X + off, at.X - off - wide} {
			from := geom.Pt(x, at.Y-high+up*high)
			box := geom.Rect{Min: from, Max: from.Add(geom.Pt(wide, high))}
			cost := float64(2*i + j)
			if x < cutEdge || x+wide > page-cutEdge {
				cost += 1e6
			}
			for _, other := range *w.named {
				cost += 1e3 * box.Shared(other)
			}
			if cost < least {
				best, least = box, cost
			}
		}
	}
	*w.named = append(*w.named, best)
	w.Text(best.Min.X, best.Max.Y, text)
}

// outlines draws a region's outlines, pale.
func (w window) outlines(r geom.Region) {
	w.SetDrawColor(170, 170, 170)
	w.SetLineWidth(0.15)
	for _, ring := range r.Rings() {
		w.line(append(append([]geom.Point{}, ring...), ring[0]))
	}
}

// cutPieces draws the pieces of strip.
func cutPieces(w window, in CutSheetIn) {
	w.SetFont("Helvetica", "", 8)
	half, line := in.Junctions.Strip.Width/2, in.Dots.Frame.PlanLine(in.Strips.Line)
	plus := in.Strips.Plan.PlusLeft()
	ways := make([]geom.Polyline, len(in.Strips.Pieces))
	var strips []geom.Polyline // the parts of them that strip lies on
	for i, piece := range in.Strips.Pieces {
		ways[i] = pipeline.Way(line, piece)
		if covered := pipeline.Covered(ways[i], piece); len(covered) > 1 {
			strips = append(strips, covered)
		}
	}
	for i, piece := range in.Strips.Pieces {
		way := ways[i]
		marks := pipeline.CutMarks(way, piece, in.Strips.Cut)
		if len(marks) == 0 {
			continue
		}
		w.SetDrawColor(0, 0, 0)
		w.SetLineWidth(0.35)
		w.line(pipeline.Covered(way, piece))
		w.SetLineWidth(0.2)
		for k, m := range marks {
			reach := half
			if k == 0 || k == len(marks)-1 {
				reach = half + 1.5 // where to cut
			}
			w.line([]geom.Point{m.At.Sub(m.Across.Mul(reach)), m.At.Add(m.Across.Mul(reach))})
		}
		side := marks[0].Across.Mul(half + 2.6)
		if !plus[i] {
			side = side.Mul(-1)
		}
		start := way.At(piece.Gaps[0] + 4)
		polarity(w.Fpdf, w.on(start.Add(side)), true)
		polarity(w.Fpdf, w.on(start.Sub(side)), false)
		a := way.At(piece.Path / 2)
		across := way.At(piece.Path/2 + 0.5).Sub(a).Unit().Perp()
		w.aside(w.on(a), across, half+2, strips, fmt.Sprintf("%d: %s", i+1, stage.Millimetres(piece.Strip)))
	}
}

// aside writes a text beside a line that passes a place on the page, so far off, on the side where it
// is on the page and farther from all lines; nothing beside one that another page shows.
func (w window) aside(at, across geom.Point, off float64, lines []geom.Polyline, text string) {
	if !w.shows(at) {
		return
	}
	page, high := w.GetPageSize()
	_, tall := w.GetFontSize()
	wide := w.GetStringWidth(text)
	best, clear := geom.Point{}, math.Inf(-1)
	for _, n := range []geom.Point{across, across.Mul(-1)} {
		// The box of the text touches the place so far off with the side or corner that faces the line.
		left, low := at.X+n.X*off-wide*(1-n.X)/2, at.Y+n.Y*off+tall*(1+n.Y)/2
		room := math.Inf(1)
		if left < cutEdge || left+wide > page-cutEdge || low-tall < cutEdge || low > high-cutEdge {
			room = -1
		}
		for x := 0.0; x <= 1; x += 0.25 {
			for _, y := range []float64{low, low - tall} {
				for _, l := range lines {
					room = min(room, l.DistanceTo(geom.Pt(left+x*wide, y).Sub(geom.Pt(cutEdge, cutEdge)).Add(w.at)))
				}
			}
		}
		if room > clear+0.1 {
			best, clear = geom.Pt(left, low), room
		}
	}
	w.Text(best.X, best.Y, text)
}

// polarity draws a plus or a minus.
func polarity(f *fpdf.Fpdf, at geom.Point, plus bool) {
	const arm = 1.1
	f.SetLineWidth(0.3)
	f.Line(at.X-arm, at.Y, at.X+arm, at.Y)
	if plus {
		f.Line(at.X, at.Y-arm, at.X, at.Y+arm)
	}
}

// cutPageMarks draws the crosses in the overlaps, the ruler and the page's
// name.
func cutPageMarks(f *fpdf.Fpdf, title string, p CutPlan, row, col int) {
	f.SetDrawColor(0, 0, 0)
	f.SetLineWidth(0.15)
	cross := func(x, y float64) {
		f.Line(x-3, y, x+3, y)
		f.Line(x, y-3, x, y+3)
		f.Circle(x, y, 1.5, "D")
	}
	// A cross lies in the middle of the overlap, so two or four pages show it.
	for _, x := range []float64{cutEdge + cutOverlap/2, cutEdge + p.Window.X - cutOverlap/2} {
		for _, y := range []float64{cutEdge + cutOverlap/2, cutEdge + p.Window.Y - cutOverlap/2} {
			cross(x, y)
		}
	}
	y := p.Page.Y - 10
	f.SetLineWidth(0.2)
	f.Line(cutEdge, y, cutEdge+100, y)
	for i := 0; i <= 100; i++ {
		long := 1.5
		if i%10 == 0 {
			long = 4
		}
		f.Line(cutEdge+float64(i), y-long, cutEdge+float64(i), y)
	}
	f.SetFont("Helvetica", "", 8)
	f.Text(cutEdge+103, y-4, fmt.Sprintf("%s, row %d, column %d; %d of %d", title, row+1, col+1, row*p.Across+col+1, p.Across*p.Down))
	f.Text(cutEdge+103, y, "this ruler is 100 mm; print at 100 %")
}
