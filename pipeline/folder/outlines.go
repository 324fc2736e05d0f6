package folder

import (
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/cutting"
)

// outlinesIn is what the outlines are drawn of.
type outlinesIn struct {
	Dots    pipeline.DotsFound
	Strips  pipeline.StripsFound
	Channel pipeline.ChannelFound
	Parts   pipeline.PartsFound
}

// holeOff is how far off, mm, an outline of chords may lie that is a hole's.
const holeOff = 0.2

// leastOutline is the area, mm², of the least closed outline that is one: the smallest hole has 3.
const leastOutline = 0.5

// isHole tells whether an outline is a hole's.
func isHole(r geom.Ring, hole cutting.Circle) bool {
	for _, p := range r {
		if math.Abs(p.Dist(hole.At)-hole.Diameter/2) > holeOff {
			return false
		}
	}
	return len(r) > 0
}

// toCut leaves out what nobody can cut, the slits between parts that touch, and holes that are cut by themselves.
func toCut(rings []geom.Ring, holes []cutting.Circle) []geom.Ring {
	return slices.DeleteFunc(rings, func(r geom.Ring) bool {
		return math.Abs(r.Area()) < leastOutline || slices.ContainsFunc(holes, func(h cutting.Circle) bool { return isHole(r, h) })
	})
}

// layers are the sign's outlines as seen from the front, mm of the sign.
func (in outlinesIn) layers() []cutting.Layer {
	frame := in.Dots.Frame
	line := frame.SignLine(in.Strips.Line)
	var ways []geom.Polyline
	for _, c := range line.Curves {
		ways = append(ways, c.Flatten(0.01))
	}
	channels := []solid.Plan{solid.PlanOf(in.Channel.Body.Mapped(frame.Upend))}
	for _, p := range in.Parts.Parts { // with the foot
		if p.Channel {
			channels = append(channels, p.Shadow)
		}
	}
	var board []geom.Ring
	for _, p := range in.Parts.Parts {
		if p.Board() {
			board = append(board, p.Shadow.Region().Rings()...)
		}
	}
	screws := cutting.Layer{Name: "screws", Colour: 6} // of keyholes the openings
	for _, s := range in.Parts.Screws {
		if in.Strips.Hold == parts.HoldKeyhole {
			screws.Rings = append(screws.Rings, parts.Keyhole(s, in.Parts.Screw).Region().Rings()...)
			continue
		}
		screws.Holes = append(screws.Holes, cutting.Circle{At: s, Diameter: parts.ClearanceHole(in.Parts.Screw)})
	}
	out := []cutting.Layer{
		{Name: "centrelines", Colour: 1, Curves: line.Curves},
		{Name: "channels", Colour: 7, Rings: toCut(solid.Union(channels...).Region().Rings(), screws.Holes)},
		{Name: "slots", Colour: 5, Rings: solid.Ribbon(ways, in.Channel.Built.Slot()/2).Region().Rings()},
	}
	if board = toCut(board, screws.Holes); len(board) > 0 {
		out = append(out, cutting.Layer{Name: "backboard", Colour: 3, Rings: board})
	}
	wires := cutting.Layer{Name: "wires", Colour: 4}
	for _, h := range in.Parts.Holes {
		wires.Holes = append(wires.Holes, cutting.Circle{At: h.At, Diameter: h.Diameter})
	}
	for _, l := range []cutting.Layer{screws, wires} {
		if len(l.Holes)+len(l.Rings) > 0 {
			out = append(out, l)
		}
	}
	return out
}
