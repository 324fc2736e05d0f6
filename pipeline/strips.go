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
	Hold parts.Hold // how the sign is held: it says where the wires come in
}

// StripsFound is how strip covers the lines, mm of the sheet.
type StripsFound struct {
	strip.Plan
	StripsSettings
	Feed geom.Point // where the wires come in
}

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
		Default: StripsSettings{Name: def.Name, Cut: def.Cut, Turn: defaultTurn, Hold: parts.HoldStand},
		Settings: []stage.Setting{
			stage.Name("strip-name", "the strip's name in the parts list", func(s *settings) *string { return &s.Name }),
			stage.Number("strip-cut", "mm", "distance between the strip's cut marks", 1, 1000, func(s *settings) *float64 { return &s.Cut }),
			stage.Number("strip-turn", "degrees", "sharpest turn that the strip can make at a junction", 1, 90, func(s *settings) *float64 { return &s.Turn }),
			stage.Choice("hold", "how the sign is held: stand, keyhole, ears, pads or none", []parts.Hold{parts.HoldStand, parts.HoldKeyhole, parts.HoldEars, parts.HoldPads, parts.HoldNone}, func(s *settings) *parts.Hold { return &s.Hold }).Called("parts/hold"),
		},
		Run: func(set settings, in in) (StripsFound, stage.Report, error) {
			return routeStrips(set, in.Dots.Frame, in.Bends, in.Junctions.Strip)
		},
		Show: stage.Show{Picture: drawStrips, OnSheet: true},
	})
}

// routeStrips covers the lines with strip, fed from where the wires come in.
func routeStrips(
	set StripsSettings, frame geom.Frame, mended BendsFound, room StripRoom,
) (f StripsFound, rep stage.Report, err error) {
	f.StripsSettings = set
	f.Feed = frame.Sheet(parts.Entry(frame.SignLine(mended.Line), set.Hold))
	f.Plan, err = strip.Route(
		mended.Line, mended.corners(), f.Feed, strip.Settings{Turn: set.Turn, Cut: set.Cut, Half: room.Width / 2},
	)
	if err != nil {
		return f, rep, err
	}
	covered, bare, jumpers := 0.0, 0.0, 0.0
	for _, q := range f.Pieces {
		covered, bare = covered+q.Strip, bare+q.Path-q.Strip
	}
	for _, c := range f.Circuits {
		jumpers += JumperLength(c.Jumpers)
	}
	rep.Found = fmt.Sprintf(
		"%s of strip, %.0f mm in all (at least %d needed); %s; %.0f mm of jumper wire; %.0f mm left bare beyond "+
			"the cut marks", stage.Count(len(f.Pieces), "piece", "pieces"), covered, f.Bound,
		stage.Count(len(f.Circuits), "circuit", "circuits"), jumpers, bare,
	)
	for i, q := range f.Pieces {
		if q.Strip == 0 {
			rep.Note(
				"piece %d would be %.0f mm long, shorter than one cut of %g mm: that stretch stays dark", i+1,
				q.Path, set.Cut,
			)
		}
	}
	return f, rep, nil
}

// wirePlan is what the strip plan hides, in mm of the sign.
func (f StripsFound) wirePlan(frame geom.Frame) *parts.WirePlan {
	plan := &parts.WirePlan{}
	for _, c := range f.Circuits {
		plan.Feeds = append(plan.Feeds, frame.Sign(c.Feed))
		for _, j := range c.Jumpers {
			plan.Jumpers = append(plan.Jumpers, frame.SignPath(j.Path))
		}
	}
	return plan
}

// JumperLength is the length of jumpers together, mm.
func JumperLength(js []strip.Jumper) float64 {
	sum := 0.0
	for _, j := range js {
		sum += j.Length
	}
	return sum
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
	for _, ch := range f.Circuits {
		for _, j := range ch.Jumpers {
			c.SetDash(8, 6)
			c.SetColor(picture.BarBack)
			c.SetLineWidth(2)
			c.Path(j.Path, px, false)
			c.Stroke()
			c.SetDash()
		}
	}
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
		c.Label(way.At(p.Path/2), px, fmt.Sprintf("%d: %.0f mm", i+1, p.Strip), picture.StrokeColour(i))
	}
	for i, ch := range f.Circuits {
		c.Ring(ch.Feed, px, 11, 3, picture.BarBack)
		c.Label(ch.Feed, px, fmt.Sprintf("circuit %d is fed here", i+1), picture.BarBack)
	}
	return c.Image, nil
}
