package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/strip"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// StageStrips covers the lines with pieces of strip.
const StageStrips = "strips"

// StripsSettings tune how strip covers the lines.
type StripsSettings struct {
	Name string     // of the strip
	Cut  float64    // mm between its cut marks
	Turn float64    // degrees, the sharpest that the strip takes at a junction
	Hold parts.Hold // how the sign is held
	// What says how much current the wires carry, and so how thick they are.
	Volts, Watts float64 // Watts for each metre
}

// StripsFound is how strip covers the lines, mm of the sheet.
type StripsFound struct {
	strip.Plan
	StripsSettings
	Feed  geom.Point   // where the wires come in
	Wires []power.Wire // of each circuit, behind the channels
	Dark  []strip.Dark // stretches that no strip lights, longer than longDark
}

// longDark is the length, mm, beyond which a dark stretch of line is told; common
// practice, no source.
const longDark = 3

// defaultTurn is the sharpest turn, degrees, that strip takes at a junction;
// common practice, no source.
const defaultTurn = 20

func stripsStage() stage.Stage {
	type settings = StripsSettings
	type in struct {
		Dots      DotsFound
		Bends     BendsFound
		Junctions JunctionsFound
	}
	def := power.DefaultStrip()
	return stage.Define(stage.Spec[settings, in, StripsFound]{
		Name: StageStrips, Does: "cover the lines with as few pieces of strip as possible",
		Default: StripsSettings{Name: def.Name, Cut: def.Cut, Turn: defaultTurn, Hold: parts.HoldStand, Volts: def.Volts, Watts: def.Watts},
		Settings: []stage.Setting{
			stage.Name("strip-name", "the strip's name in the parts list", func(s *settings) *string { return &s.Name }),
			stage.Number("strip-cut", "mm", "distance between the strip's cut marks", 1, 1000, func(s *settings) *float64 { return &s.Cut }),
			stage.Number("strip-turn", "degrees", "sharpest turn that the strip can make at a junction", 1, 90, func(s *settings) *float64 { return &s.Turn }),
			stage.Number("strip-volts", "V", "the strip's voltage", 1, 60, func(s *settings) *float64 { return &s.Volts }).Called("power/strip-volts"),
			stage.Number("strip-watts", "W/m", "power of each metre of strip", 0.1, 60, func(s *settings) *float64 { return &s.Watts }).Called("power/strip-watts"),
			stage.Choice("hold", "how the sign is held: stand, keyhole, ears, pads or none", []parts.Hold{parts.HoldStand, parts.HoldKeyhole, parts.HoldEars, parts.HoldPads, parts.HoldNone}, func(s *settings) *parts.Hold { return &s.Hold }).Called("parts/hold"),
		},
		Run: func(set settings, in in) (StripsFound, stage.Report, error) {
			return routeStrips(set, in.Dots.Frame, in.Bends, in.Junctions.Strip)
		},
		Show: stage.Show{Picture: drawStrips, OnSheet: true},
	})
}

// hiddenLost is the share of the voltage that may be lost on the wires behind the
// channels; the lead's own share is the power stage's.
const hiddenLost = 0.01

// routeStrips covers the lines with strip, fed from where the wires come in.
func routeStrips(
	set StripsSettings, frame geom.Frame, mended BendsFound, room StripRoom,
) (f StripsFound, rep stage.Report, err error) {
	f.StripsSettings = set
	f.Feed = frame.Sheet(parts.Entry(frame.SignLine(mended.Line)))
	wires, err := wiresFor(set, mended.Line)
	if err != nil {
		return f, rep, err
	}
	hole := 0.0
	for _, w := range wires {
		hole = max(hole, parts.HoleFor(w.Outside))
	}
	f.Plan, err = strip.Route(
		mended.Line, mended.corners(), f.Feed,
		strip.Settings{Turn: set.Turn, Cut: set.Cut, Half: room.Width / 2, Hole: hole},
	)
	if err != nil {
		return f, rep, err
	}
	for _, c := range f.Circuits {
		f.Wires = append(f.Wires, wires[c.Ink])
	}
	f.Dark = f.Plan.Dark(mended.Line, room.Width/2, longDark)
	covered, path, dark := 0.0, 0.0, 0.0
	for _, q := range f.Pieces {
		covered, path = covered+q.Strip, path+q.Path
	}
	for _, d := range f.Dark {
		dark += d.Length
	}
	rep.Found = fmt.Sprintf(
		"%s of strip, %.0f mm in all (at least %d needed); %s, fed at %s; %s longer than %d mm, %.0f mm in all (%.1f %%)",
		stage.Count(len(f.Pieces), "piece", "pieces"), covered, f.Bound,
		stage.Count(len(f.Circuits), "circuit", "circuits"), stage.Count(len(f.Chains), "place", "places"),
		stage.Count(len(f.Dark), "dark gap", "dark gaps"), longDark, dark, 100*dark/max(path, 1),
	)
	for i, q := range f.Pieces {
		if q.Strip == 0 {
			rep.Note(
				"piece %d stays dark: of its %.0f mm less than one cut of %g mm is clear of other strips and of its wires", i+1,
				q.Path, set.Cut,
			)
		}
	}
	return f, rep, nil
}

// wiresFor are the wires behind the channels for each pen's strip, by its pen.
func wiresFor(set StripsSettings, line geom.Centreline) (map[int]power.Wire, error) {
	length := map[int]float64{}
	for _, c := range line.Curves {
		length[c.Ink] += c.Length() / 1000
	}
	out := map[int]power.Wire{}
	for ink, m := range length {
		w, err := power.Inside(m*set.Watts/set.Volts, m, hiddenLost*set.Volts)
		if err != nil {
			return nil, err
		}
		out[ink] = w
	}
	return out, nil
}

// beyondEnd is how far beyond a line's free end wires come up to it, mm: the channel
// goes on around the end and leaves room there.
const beyondEnd = 0.6

// wirePlan is what is fed from behind the channels, in mm of the sign.
func (f StripsFound) wirePlan(frame geom.Frame, line geom.Centreline) *parts.WirePlan {
	plan := &parts.WirePlan{}
	for _, w := range f.Wires {
		plan.Wire = append(plan.Wire, w.Outside)
	}
	for _, c := range f.Chains {
		at := c.Tap
		if first := f.Pieces[c.Pieces[0]]; first.Start.Free {
			way := Way(line, first)
			at = at.Add(way[0].Sub(way[1]).Unit().Mul(beyondEnd))
		}
		plan.Taps = append(plan.Taps, parts.Tap{At: frame.Sign(at), Circuit: c.Circuit})
	}
	return plan
}

// wayStep is how far apart, mm, the points of a piece's way are: fine enough for a
// drawing at true size.
const wayStep = 0.5

// Way is the way of a piece, from where it is fed to its far end, on the line that
// the strips cover.
func Way(line geom.Centreline, p strip.Piece) geom.Polyline {
	var out geom.Polyline
	for _, s := range p.Spans {
		k := geom.NewRuler(line.Curves[s.Curve])
		n := max(int(s.Length()/wayStep), 1)
		for i := 0; i <= n; i++ {
			q := k.At(s.From + (s.To-s.From)*float64(i)/float64(n))
			if len(out) == 0 || out[len(out)-1].Dist(q) > 1e-9 {
				out = append(out, q)
			}
		}
	}
	return out
}

// Covered is the part of a piece's way that its strip covers.
func Covered(way geom.Polyline, p strip.Piece) geom.Polyline {
	s := make([]float64, len(way))
	for i := 1; i < len(way); i++ {
		s[i] = s[i-1] + way[i-1].Dist(way[i])
	}
	n := int(p.Strip / wayStep)
	out := make(geom.Polyline, 0, n+1)
	for i := 0; i <= n && p.Strip > 0; i++ {
		out = append(out, way.AtDistance(s, p.Gaps[0]+p.Strip*float64(i)/float64(n), false))
	}
	return out
}

// A CutMark is a place across a piece: a cut mark or an end of the strip.
type CutMark struct {
	At     geom.Point
	Across geom.Point // unit vector
}

// CutMarks are the marks along a piece's strip, cut mm apart, from its start to its
// end.
func CutMarks(way geom.Polyline, p strip.Piece, cut float64) []CutMark {
	var out []CutMark
	n := int(math.Round(p.Strip / cut))
	for i := 0; i <= n && p.Strip > 0; i++ {
		s := p.Gaps[0] + float64(i)*cut
		a, b := way.At(max(s-wayStep, 0)), way.At(s+wayStep)
		out = append(out, CutMark{way.At(s), b.Sub(a).Unit().Perp()})
	}
	return out
}

// drawStrips draws each piece of strip in a colour of its own with its number,
// its cut marks, an arrow from where it is fed, and the jumpers.
func drawStrips(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.8, text)
	if err != nil {
		return nil, err
	}
	f, line, room := stage.Of[StripsFound](r), stage.Of[BendsFound](r).Line, stage.Of[JunctionsFound](r).Strip
	c.Curves(line, px, room.Slot()*px*c.K, color.NRGBA{120, 120, 120, 60})
	half := room.Width / 2
	for i, p := range f.Pieces {
		way := Way(line, p)
		marks := CutMarks(way, p, f.Cut)
		if len(marks) == 0 {
			continue
		}
		c.SetColor(picture.StrokeColour(i))
		c.SetLineWidth(5)
		c.Path(Covered(way, p), px, false)
		c.Stroke()
		for _, m := range marks {
			c.SetLineWidth(1.5)
			c.Path([]geom.Point{m.At.Sub(m.Across.Mul(half)), m.At.Add(m.Across.Mul(half))}, px, false)
			c.Stroke()
		}
	}
	for i, p := range f.Pieces {
		if p.Strip == 0 {
			continue
		}
		way := Way(line, p)
		c.Spot(way.At(p.Gaps[0]), px, 6, picture.StrokeColour(i))
		c.Label(way.At(p.Path/2), px, fmt.Sprintf("%d: %s", i+1, stage.Millimetres(p.Strip)), picture.StrokeColour(i))
	}
	for _, d := range f.Dark {
		c.Label(d.At, px, "dark "+stage.Millimetres(d.Length), picture.MarkOther)
	}
	for _, ch := range f.Chains {
		c.Ring(ch.Tap, px, 9, 3, picture.BarBack)
		c.Label(ch.Tap, px, "fed here", picture.BarBack)
	}
	return c.Image, nil
}
