package pipeline

import (
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/bed"
	"inkchannel/geom/hand"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// An Overlay is one kind of thing that is shown over the sheet's picture as lines, which are
// sharp however large the picture is.
type Overlay struct {
	Name, Title string
	Stage       string // that finds it
	paths       func(r stage.Results) []OverlayPath
}

// An OverlayPath is one line of an overlay.
type OverlayPath struct {
	Data  string  // SVG path data (W3C SVG 1.1), mm of the sheet
	Width float64 // mm; 0 for a line that is thin at any size
	Pen   int     // which pen's, or which piece's: what tells it from its neighbours
	Text  string  // what it is
	At    geom.Point
}

// Overlays lists what can be shown over the sheet, from below to above.
func Overlays() []Overlay {
	return []Overlay{
		{"channels", "Channels", StageJunctions, channelPaths},
		{"outlines", "Foot and backboard", StageParts, outlinePaths},
		{"bed", "Printer's bed", StageBeds, bedPaths},
		{"wires", "Wires", StageBeds, wirePaths},
		{"strip", "Strip", StageStrips, stripPaths},
		{"lines", "Lines", StageBends, linePaths},
		{"tight", "Too near", StageSpacing, tightPaths},
	}
}

// Paths are the overlay's lines, nil while its stage has not run.
func (o Overlay) Paths(r stage.Results) []OverlayPath {
	for _, s := range r.Steps {
		if s.Stage == o.Stage {
			return append([]OverlayPath{}, o.paths(r)...)
		}
	}
	return nil
}

// OverAll is the width and height, mm, that channels on the lines have over all, as fitted to whole cuts of
// strip once that is known; zero while those are not there.
func OverAll(r stage.Results) geom.Point {
	if f, ok := stage.Found[StripsFound](r); ok {
		return channelsOn(f.Line, stage.Of[DotsFound](r).Frame)
	}
	f, ok := stage.Found[BendsFound](r)
	if !ok {
		return geom.Point{}
	}
	return channelsOn(f.Line, stage.Of[DotsFound](r).Frame)
}

// Times is how many times as large as the drawing the sign is; 1 while that is not known.
func Times(r stage.Results) float64 {
	if f, ok := stage.Found[DotsFound](r); ok {
		return f.times()
	}
	return 1
}

// Stretches are the stretches of the lines as changes by hand take them, each with its size in mm of
// the paper, as such changes give it; nil while those are not there.
func Stretches(r stage.Results) (out []OverlayPath) {
	f, ok := stage.Found[HandFound](r)
	if !ok {
		return nil
	}
	times := stage.Of[DotsFound](r).times()
	for _, s := range hand.Stretches(f.Line) {
		text := fmt.Sprintf("%.1f mm long%s", s.Length/times, whereOf(times, "on the paper"))
		switch {
		case math.IsInf(s.Radius, 1):
			text += fmt.Sprintf(", at %.1f degrees", math.Mod(math.Round(10*math.Mod(s.Angle+360, 180))/10, 180)) // either way along
		case s.Radius > 0:
			text += fmt.Sprintf(", of radius %.1f mm", s.Radius/times)
		}
		out = append(out, OverlayPath{Data: picture.CurveData(s.Curve), Text: text})
	}
	return out
}

func linePaths(r stage.Results) (out []OverlayPath) {
	colours, where := stage.Of[ColoursFound](r), whereOf(stage.Of[DotsFound](r).times(), "on the sign")
	for i, c := range stage.Of[BendsFound](r).Line.Curves {
		ruler := geom.NewRuler(c)
		out = append(out, OverlayPath{
			Data: picture.CurveData(c), Pen: c.Ink, At: ruler.At(ruler.Length() / 2),
			Text: fmt.Sprintf("line %d%s, %s%s", i+1, colours.InColour(c.Ink), stage.Millimetres(ruler.Length()), where),
		})
	}
	return out
}

// whereOf says where a length is so, if the sign is another times as large as the drawing.
func whereOf(times float64, where string) string {
	if times == 1 {
		return ""
	}
	return " " + where
}

// channelPaths are the lines as wide as the channels are.
func channelPaths(r stage.Results) (out []OverlayPath) {
	for _, c := range stage.Of[BendsFound](r).Line.Curves {
		out = append(out, OverlayPath{Data: picture.CurveData(c), Width: overAll(), Pen: c.Ink})
	}
	return out
}

// outlinePaths are the outlines of channels, with their foot, and of what joins them, seen from the
// front.
func outlinePaths(r stage.Results) (out []OverlayPath) {
	frame, on := stage.Of[DotsFound](r).Frame, onDrawing(r)
	for _, p := range stage.Of[PartsFound](r).Parts {
		if p.Extra || p.Pose.Stand || p.Pose.Flip || !p.Channel && !p.Board() {
			continue
		}
		pen := 0
		if p.Board() {
			pen = 1
		}
		for _, ring := range p.Shadow.Region().Rings() {
			out = append(out, OverlayPath{Data: picture.PathData(on(frame.SheetLine(ring)...), true), Pen: pen, Text: p.Name})
		}
	}
	return out
}

// onDrawing takes places on the lines as strip covers them to where those lines were before their
// size was fitted, so that all overlays lie over the same picture.
func onDrawing(r stage.Results) func(pts ...geom.Point) geom.Polyline {
	size, box := stage.Of[StripsFound](r).Fit.Size, boxOf(stage.Of[SpacingFound](r).Line)
	about := box.Min.Lerp(box.Max, 0.5)
	return func(pts ...geom.Point) geom.Polyline {
		return mapped(pts, func(p geom.Point) geom.Point {
			return geom.Pt(about.X+(p.X-about.X)/size.X, about.Y+(p.Y-about.Y)/size.Y)
		})
	}
}

// stripPaths are what each piece of strip covers, across it the marks where it may be cut, and
// what stays dark.
func stripPaths(r stage.Results) (out []OverlayPath) {
	f, room, on := stage.Of[StripsFound](r), stage.Of[JunctionsFound](r).Strip, onDrawing(r)
	half := room.Width / 2
	for i, p := range f.Pieces {
		way := Way(f.Line, p)
		marks := CutMarks(way, p, f.Cut)
		if len(marks) == 0 {
			continue
		}
		text := fmt.Sprintf("piece %d: %s", i+1, stage.Millimetres(p.Strip))
		out = append(out, OverlayPath{
			Data: picture.PathData(on(Covered(way, p)...), false), Width: room.Width, Pen: i, Text: text,
			At: on(way.At(p.Path / 2))[0],
		})
		for _, m := range marks {
			cut := on(m.At.Sub(m.Across.Mul(half)), m.At.Add(m.Across.Mul(half)))
			out = append(out, OverlayPath{Data: picture.PathData(cut, false), Pen: i})
		}
	}
	for _, d := range f.Dark {
		out = append(out, OverlayPath{
			Data: picture.PathData(on(d.At, d.At), false), Width: room.Width, Pen: -1,
			Text: "dark, " + stage.Millimetres(d.Length), At: on(d.At)[0],
		})
	}
	return out
}

// wirePaths are the wires behind the channels, and the holes that they come up through.
func wirePaths(r stage.Results) (out []OverlayPath) {
	f, frame, on := stage.Of[PartsFound](r), stage.Of[DotsFound](r).Frame, onDrawing(r)
	for _, w := range f.Harness {
		text := fmt.Sprintf("wire of circuit %d", w.Circuit+1)
		if w.Data {
			text = "data wire"
		}
		out = append(out, OverlayPath{
			Data: picture.PathData(on(frame.SheetLine(w.Path)...), false), Pen: w.Circuit, Text: text,
		})
	}
	for i, s := range f.Screws {
		at := on(frame.Sheet(s))[0]
		out = append(out, OverlayPath{
			Data: picture.PathData(geom.Polyline{at, at}, false), Width: f.Screw, Pen: -1, Text: fmt.Sprintf("screw %d", i+1), At: at,
		})
	}
	for i, h := range f.Holes {
		at := on(frame.Sheet(h.At))[0]
		out = append(out, OverlayPath{
			Data: picture.PathData(geom.Polyline{at, at}, false), Width: h.Diameter, Pen: -1,
			Text: HoleLabel(f, stage.Of[StripsFound](r), i), At: at,
		})
	}
	return out
}

// bedPaths are the printer's bed about the sign's middle, or as the largest channel lies on it where that fits
// only turned; and the cuts.
func bedPaths(r stage.Results) (out []OverlayPath) {
	f, frame, on := stage.Of[BedsFound](r), stage.Of[DotsFound](r).Frame, onDrawing(r)
	box := boxOf(frame.SignLine(stage.Of[StripsFound](r).Line))
	size := geom.Pt(f.Bed.Width, f.Bed.Depth)
	corners := geom.Polyline{{}, geom.Pt(size.X, 0), size, geom.Pt(0, size.Y)}
	middle := box.Min.Lerp(box.Max, 0.5).Sub(size.Mul(0.5))
	place := f.lies(stage.Of[PartsFound](r))
	for i, p := range corners {
		if corners[i] = p.Add(middle); place != nil {
			corners[i] = place.Before(p)
		}
	}
	text := fmt.Sprintf("a bed of %g by %g mm", f.Bed.Width, f.Bed.Depth)
	if place != nil {
		text += ", as " + f.Prints[f.Layout.Largest].Name + " lies on it"
	}
	out = append(out, OverlayPath{Data: picture.PathData(on(frame.SheetLine(corners)...), true), Text: text})
	for _, c := range f.Cuts {
		across := c.Heading.Perp().Mul(overAll())
		cut := on(frame.SheetLine([]geom.Point{c.At.Sub(across), c.At.Add(across)})...)
		out = append(out, OverlayPath{Data: picture.PathData(cut, false), Pen: -1, Text: "cut", At: cut[0].Lerp(cut[1], 0.5)})
	}
	return out
}

// lies is where the largest part lies on the bed if that is a channel in one piece which fits only turned, nil
// if not.
func (f BedsFound) lies(sign PartsFound) *bed.Place {
	if len(f.Prints) == 0 {
		return nil
	}
	largest := f.Prints[f.Layout.Largest]
	if p := sign.Named(largest.Name); p == nil || !p.Channel || p.Pose.Flip || largest.ofCut {
		return nil
	}
	if place := &f.Layout.Places[f.Layout.Largest]; place.Best != 0 {
		return place
	}
	return nil
}

// tightPaths are where lines are too near, from one to the other.
func tightPaths(r stage.Results) (out []OverlayPath) {
	f := stage.Of[SpacingFound](r)
	if f.Spread != nil {
		return nil
	}
	for _, t := range f.Tight {
		out = append(out, OverlayPath{
			Data: picture.PathData(geom.Polyline{t.At[0], t.At[1]}, false), Width: f.Least, Pen: -1,
			Text: fmt.Sprintf("%.1f mm apart", t.Distance), At: t.At[0].Lerp(t.At[1], 0.5),
		})
	}
	return out
}
