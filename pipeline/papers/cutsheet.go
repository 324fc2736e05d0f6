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
			draw(window{
				Fpdf: f, at: p.Origin.Add(geom.Pt(float64(col)*p.Step.X, float64(row)*p.Step.Y)), size: p.Window, named: &[]geom.Rect{},
			})
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
	named *[]geom.Rect    // what names on the page take so far, mm of it
	marks []geom.Point    // what else has a name: a name is nearer to its own place than to these
	lines []geom.Polyline // mm of the sheet, which names keep off
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

// beside writes a text to the right of a place on the page and so far off, or to its left, or higher or lower:
// where the page has room, no other name is, and no other mark is nearer; nothing of a place that another page
// shows.
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
			if w.clear(box, w.lines, besideClear) < besideClear {
				cost += 8
			}
			for _, other := range w.marks {
				if other.Dist(at) > 1e-6 && away(box, other) < away(box, at) {
					cost += 20
				}
			}
			if cost < least {
				best, least = box, cost
			}
		}
	}
	*w.named = append(*w.named, best)
	w.Text(best.Min.X, best.Max.Y, text)
}

// besideClear is how far from lines, mm, a name beside a place is.
const besideClear = 0.8

// away is how far a place is from a box, 0 within it.
func away(box geom.Rect, at geom.Point) float64 {
	return geom.Pt(max(box.Min.X-at.X, at.X-box.Max.X, 0), max(box.Min.Y-at.Y, at.Y-box.Max.Y, 0)).Norm()
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
	for i, piece := range in.Strips.Pieces {
		ways[i] = pipeline.Way(line, piece)
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
		w.polarity(start.Add(side), true)
		w.polarity(start.Sub(side), false)
	}
	namePieces(w, in, ways, half+2)
}

// namePieces writes the pieces' names and lengths beside their ways, so far off, once all else is drawn.
func namePieces(w window, in CutSheetIn, ways []geom.Polyline, off float64) {
	strips := make([]geom.Polyline, len(ways)) // the parts of them that strip lies on
	for i, piece := range in.Strips.Pieces {
		strips[i] = pipeline.Covered(ways[i], piece)
	}
	for i, piece := range in.Strips.Pieces {
		if len(strips[i]) < 2 {
			continue
		}
		spots := w.spots(ways[i], piece.Path)
		if len(spots) < spotsLeast && !w.shows(w.on(ways[i].At(piece.Path/2))) {
			continue // another page shows more of it
		}
		w.aside(spots, off, strips, i, fmt.Sprintf("%d: %s", i+1, stage.Millimetres(piece.Strip)))
	}
}

// spotsLeast is how many of a piece's spots, of seven, a page must show to tell its name, unless it shows the
// middle, as some page does.
const spotsLeast = 3

// A spot is a place on the page that a line passes, and the direction across it.
type spot struct{ at, across geom.Point }

// spots are where a piece's name may stand beside its way: at its middle, or else along it.
func (w window) spots(way geom.Polyline, length float64) (out []spot) {
	for _, share := range []float64{0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8} {
		at := way.At(share * length)
		if p := w.on(at); w.shows(p) {
			out = append(out, spot{p, way.At(share*length + 0.5).Sub(at).Unit().Perp()})
		}
	}
	return out
}

// asideClear is how far from lines, mm, is far enough for a text.
const asideClear = 2

// aside writes a text beside one of some lines, its own, that passes some spots of the page, so far off: where
// it is on the page, covers nothing and is far from lines and nearer to its own than to others, at the first
// such spot; nothing beside a line that the page does not show.
func (w window) aside(spots []spot, off float64, lines []geom.Polyline, own int, text string) {
	others := slices.Delete(slices.Clone(lines), own, own+1)
	page, high := w.GetPageSize()
	_, tall := w.GetFontSize()
	wide := w.GetStringWidth(text)
	sheet := geom.Rect{Min: geom.Pt(cutEdge, cutEdge), Max: geom.Pt(page-cutEdge, high-cutFoot)}
	best, most := geom.Rect{}, math.Inf(-1)
	for i, s := range spots {
		for side := range 12 { // either, and farther off
			n, more := s.across.Mul(float64(1-2*(side%2))), float64(side/2)
			// The box of the text touches the place so far off with the side or corner that faces the line.
			from := s.at.Add(n.Mul(off + more*tall)).Sub(geom.Pt(wide*(1-n.X)/2, tall*(1-n.Y)/2))
			box := geom.Rect{Min: from, Max: from.Add(geom.Pt(wide, tall))}
			lost := 0.1*float64(i) + 0.5*more + 10*(wide*tall-box.Shared(sheet))
			for _, other := range *w.named {
				lost += 10 * box.Shared(other)
			}
			if asideClear-lost <= most+1e-9 {
				continue // however clear of lines it is
			}
			near := w.clear(box, lines[own:own+1], math.Inf(1))
			far := w.clear(box, others, max(asideClear, near+0.5)) // what is farther off makes no difference
			if good := min(near, far, asideClear) - 4*max(near+0.5-far, 0) - lost; good > most+1e-9 {
				best, most = box, good
			}
		}
	}
	if len(spots) > 0 {
		*w.named = append(*w.named, best)
		w.Text(best.Min.X, best.Max.Y, text)
	}
}

// clear is how far a text's box on the page is from lines, mm, or so far at most.
func (w window) clear(box geom.Rect, lines []geom.Polyline, most float64) float64 {
	on := w.at.Sub(geom.Pt(cutEdge, cutEdge))
	box = geom.Rect{Min: box.Min.Add(on), Max: box.Max.Add(on)}
	room := most
	for _, l := range lines {
		about := geom.Pt(room, room)
		near := geom.Rect{Min: box.Min.Sub(about), Max: box.Max.Add(about)}
		if len(l) < 2 || !near.Overlaps(geom.Bounds(l)) {
			continue
		}
		for x := range 9 {
			for y := range 3 {
				at := box.Min.Add(geom.Pt(float64(x)/8*box.Size().X, float64(y)/2*box.Size().Y))
				room = min(room, l.DistanceTo(at))
			}
		}
	}
	return room
}

// polarity draws a plus or a minus at a place.
func (w window) polarity(place geom.Point, plus bool) {
	const arm = 1.1
	at := w.on(place)
	*w.named = append(*w.named, geom.Rect{Min: at.Sub(geom.Pt(arm, arm)), Max: at.Add(geom.Pt(arm, arm))})
	w.SetLineWidth(0.3)
	w.Line(at.X-arm, at.Y, at.X+arm, at.Y)
	if plus {
		w.Line(at.X, at.Y-arm, at.X, at.Y+arm)
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
	text := "this ruler is 100 mm; print at 100 %"
	if p.Across*p.Down > 1 {
		text += "; lay cross on cross, and tape"
	}
	f.Text(cutEdge+103, y, text)
}
