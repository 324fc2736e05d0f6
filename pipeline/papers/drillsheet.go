package papers

import (
	"fmt"

	"inkchannel/geom"
	"inkchannel/pipeline/stage"
)

// DrillSheet writes a PDF at true size to stick to the wall: where its screws go, seen from
// the front, with the sign's outline, level lines and the distances from one to the next, and
// where the wires leave. It is nil for a sign that no screws hold.
func DrillSheet(in RearSheetIn) ([]byte, error) {
	if len(in.Parts.Screws) == 0 {
		return nil, nil
	}
	frame := in.Dots.Frame
	screws := frame.PlanPath(in.Parts.Screws)
	return tiled("Drill sheet, seen from the front, this way up", planSheet(in.Dots.Page, frame.PlanLine(in.Strips.Line), screws...), func(w window) {
		w.outlines(in.Channel.Body)
		w.SetDrawColor(0, 0, 0)
		w.SetFont("Helvetica", "", 8)
		for i, s := range screws {
			w.SetLineWidth(0.25)
			w.line([]geom.Point{s.Sub(geom.Pt(drillCross, 0)), s.Add(geom.Pt(drillCross, 0))})
			w.line([]geom.Point{s.Sub(geom.Pt(0, drillCross)), s.Add(geom.Pt(0, drillCross))})
			at := w.on(s)
			w.Circle(at.X, at.Y, in.Parts.Screw/2, "D")
			w.beside(at.Sub(geom.Pt(0, 2)), drillCross, fmt.Sprintf("screw %d, of %g mm: drill for its plug", i+1, in.Parts.Screw))
			if i%2 == 0 {
				continue
			}
			last := screws[i-1]
			w.SetLineWidth(0.1)
			w.line([]geom.Point{last, s})
			// By the screws, as the middle may lie where one page ends.
			from, far := w.on(last), stage.Millimetres(last.Dist(s))
			w.beside(from.Add(geom.Pt(0, drillBelow)), drillCross, fmt.Sprintf("%s to screw %d, level", far, i+1))
			w.beside(at.Add(geom.Pt(0, drillBelow)), drillCross, fmt.Sprintf("%s to screw %d, level", far, i))
		}
		if len(in.Parts.Holes) > 0 {
			at := w.on(frame.Upend(in.Parts.Holes[0].At))
			w.Circle(at.X, at.Y, in.Parts.Holes[0].Diameter/2, "D")
			w.beside(at.Add(geom.Pt(0, 1)), 3, "the wires leave here")
		}
	})
}

const (
	drillCross = 6.0 // mm, the reach of a screw's cross
	drillBelow = 4.0 // mm below a level line where its length is written
)
