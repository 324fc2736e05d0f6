package papers

import (
	"fmt"
	"maps"
	"slices"

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
		w.outlines(in.Channel.Body.Mapped(behind))
		w.SetFont("Helvetica", "", 8)
		var ways []geom.Polyline
		for _, wire := range in.Parts.Harness {
			var way geom.Polyline
			for _, q := range frame.PlanPath(wire.Path) {
				way = append(way, behind(q))
			}
			ways = append(ways, way)
		}
		w.SetDrawColor(0, 0, 0)
		for _, h := range in.Parts.Holes { // which names keep off
			at, r := w.on(behind(frame.Upend(h.At))), geom.Pt(h.Diameter/2, h.Diameter/2)
			*w.named = append(*w.named, geom.Rect{Min: at.Sub(r), Max: at.Add(r)})
			w.marks = append(w.marks, at)
			w.SetLineWidth(0.2)
			w.Circle(at.X, at.Y, h.Diameter/2, "D")
		}
		branches := map[int]geom.Point{} // on the page, by number
		for number, at := range branchesOf(in.Parts.Harness) {
			branches[number] = w.on(behind(frame.Upend(at)))
		}
		numbers := slices.Sorted(maps.Keys(branches))
		for _, number := range numbers {
			at := branches[number]
			w.marks = append(w.marks, at)
			w.Circle(at.X, at.Y, branchDot, "F")
		}
		w.lines = ways
		w.SetLineWidth(0.35)
		dashes := circuitDashes()
		for i, way := range ways {
			w.SetDashPattern(dashes[in.Parts.Harness[i].Circuit%len(dashes)], 0)
			w.line(way)
		}
		w.SetDashPattern(nil, 0)
		for i := range in.Parts.Holes {
			w.beside(w.marks[i], wireAside, pipeline.HoleLabel(in.Parts, in.Strips, i))
		}
		for _, number := range numbers {
			w.beside(branches[number], wireAside, fmt.Sprintf("branch %d", number))
		}
		for i, way := range ways {
			name := fmt.Sprintf("wire %d", i+1)
			if len(in.Strips.Circuits) > 1 {
				name += fmt.Sprintf(", circuit %d", in.Parts.Harness[i].Circuit+1)
			}
			w.aside(w.spots(way, way.Length()), wireAside, ways, i, name)
		}
	})
}

// circuitDashes are how the wires of each circuit are drawn, mm of line and gap: told apart without colours.
func circuitDashes() [][]float64 {
	return [][]float64{nil, {2.4, 1}, {0.7, 0.8}, {3, 0.8, 0.7, 0.8}}
}

// Measures on the wire sheet, mm.
const (
	wireAside = 4.2 // of a name from what it names: beside the channel
	branchDot = 0.9
)
