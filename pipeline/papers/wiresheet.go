package papers

import (
	"fmt"

	"inkchannel/geom"
	"inkchannel/pipeline"
)

// A RearSheetIn is what the wire sheet and the drill sheet show.
type RearSheetIn struct {
	Dots    pipeline.DotsFound
	Strips  pipeline.StripsFound
	Channel pipeline.ChannelFound
	Parts   pipeline.PartsFound
}

// WireSheet writes a PDF at true size of the sign from behind: the channels' outline, the
// wires in their groove and the holes, with the numbers that the assembly calls them by, on
// pages as the cut sheet's. It is nil for a sign without hidden wires.
func WireSheet(in RearSheetIn) ([]byte, error) {
	if len(in.Parts.Wires) == 0 {
		return nil, nil
	}
	frame := in.Dots.Frame
	p := planSheet(in.Dots.Page, frame.PlanLine(in.Strips.Line))
	// Behind, left is right: mirrored about the middle of what the pages cover.
	middle := 2*p.Origin.X + p.Window.X + float64(p.Across-1)*p.Step.X
	behind := func(q geom.Point) geom.Point { return geom.Pt(middle-q.X, q.Y) }
	return tiled("Wires, seen from behind", p, func(w window) {
		told := map[int]bool{}
		w.outlines(in.Channel.Body.Mapped(behind))
		w.SetFont("Helvetica", "", 8)
		for _, h := range in.Parts.Holes { // which names keep off
			at, r := w.on(behind(frame.Upend(h.At))), geom.Pt(h.Diameter/2, h.Diameter/2)
			*w.named = append(*w.named, geom.Rect{Min: at.Sub(r), Max: at.Add(r)})
		}
		for i, wire := range in.Parts.Harness {
			var way geom.Polyline
			for _, q := range frame.PlanPath(wire.Path) {
				way = append(way, behind(q))
			}
			w.SetDrawColor(0, 0, 0)
			w.SetLineWidth(0.35)
			w.line(way)
			mid := w.on(way.At(way.Length() / 2))
			w.beside(mid, wireAside, fmt.Sprintf("wire %d", i+1))
			for _, end := range []struct {
				number int
				at     geom.Point
			}{{wire.From, way[0]}, {wire.To, way[len(way)-1]}} {
				if end.number < 0 && !told[end.number] {
					told[end.number] = true
					at := w.on(end.at)
					w.Circle(at.X, at.Y, branchDot, "F")
					w.beside(at.Sub(geom.Pt(0, wireAside)), wireAside, fmt.Sprintf("branch %d", -end.number))
				}
			}
		}
		for i, h := range in.Parts.Holes {
			at := w.on(behind(frame.Upend(h.At)))
			w.SetLineWidth(0.2)
			w.Circle(at.X, at.Y, h.Diameter/2, "D")
			w.beside(at.Add(geom.Pt(0, wireAside)), wireAside, pipeline.HoleLabel(in.Parts, in.Strips, i))
		}
	})
}

// Measures on the wire sheet, mm.
const (
	wireAside = 4.2 // of a name from what it names: beside the channel
	branchDot = 0.9
)
