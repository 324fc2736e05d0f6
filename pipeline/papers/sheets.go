package papers

import (
	"fmt"

	"github.com/go-pdf/fpdf"

	"inkchannel/geom"
	"inkchannel/geom/marks"
	"inkchannel/vision"
)

// A SheetsPlan is how many sheets lie beside and below each other.
type SheetsPlan struct{ Across, Down int }

// Sheets writes a PDF of sheets to lay side by side, on their side, and to draw over: each with its
// marks, by which photographs of them are put together, with guides as far apart as lines must be,
// and with a ruler. All but the marks is in a tint that the ink stage drops.
//
// It returns an error for a page without a size of its own, and for fewer than two sheets or more
// than there are marks for.
func Sheets(page vision.Page, s PaperRun, plan SheetsPlan) ([]byte, error) {
	if n := plan.Across * plan.Down; plan.Across < 1 || plan.Down < 1 || n < 2 || n > marks.Most {
		return nil, fmt.Errorf("%d by %d sheets: give 2 to %d in all, as 2x1", plan.Across, plan.Down, marks.Most)
	}
	if page == vision.PageAuto {
		page = vision.PageA4
	}
	short, long, ok := page.Size()
	if !ok {
		return nil, fmt.Errorf("sheets need a fixed size: A4, A3 or letter, not %q", page)
	}
	size := geom.Pt(long, short)
	f := newPDF("Drawing sheets for a large line sign", long, short)
	for sheet := 1; sheet <= plan.Across*plan.Down; sheet++ {
		f.AddPage()
		f.SetDrawColor(tint[0], tint[1], tint[2])
		f.SetTextColor(tint[0]-20, tint[1]-20, tint[2]-20)
		f.SetFont("Helvetica", "", 7)
		room := geom.Rect{Min: geom.Pt(paperEdge, 2*marks.Inset), Max: size.Sub(geom.Pt(paperEdge, 2*marks.Inset))}
		guides(f, PaperPlan{Bed: room}, s.Spacing.Least)
		row, column := (sheet-1)/plan.Across+1, (sheet-1)%plan.Across+1
		f.Text(long/2-70, paperEdge+3, fmt.Sprintf(
			"sheet %d of %d: row %d, column %d. Print at 100 %%, lay all edge to edge without a gap, tape them from behind, and keep off the marks",
			sheet, plan.Across*plan.Down, row, column,
		))
		paperRuler(f, PaperPlan{Ruler: geom.Pt(long/2-rulerLong/2, short-paperEdge-2), RulerLength: rulerLong})
		f.SetFillColor(0, 0, 0)
		for _, m := range marks.Of(sheet) {
			drawMark(f, m.Shapes(size))
		}
	}
	return pdfBytes(f)
}

func drawMark(f *fpdf.Fpdf, shapes []marks.Shape) {
	for _, s := range shapes {
		if s.Round {
			f.Circle(s.Middle.X, s.Middle.Y, s.Size.X/2, "F")
		} else {
			f.Rect(s.Middle.X-s.Size.X/2, s.Middle.Y-s.Size.Y/2, s.Size.X, s.Size.Y, "F")
		}
	}
}
