package pipeline

import (
	"fmt"
	"image"
	"image/color"

	"inkchannel/geom"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageJunctions decides which strip passes where lines meet.
const StageJunctions = "junctions"

// A StripRoom is the room that strip takes sideways, mm. It is the one place that
// has the strip's width.
type StripRoom struct {
	Width float64
	Loose float64 // added to the width for the slot
}

// Slot is the slot's width, mm.
func (s StripRoom) Slot() float64 { return s.Width + s.Loose }

// JunctionsFound is which strip passes where lines meet.
type JunctionsFound struct {
	Junctions []rules.Junction
	Strip     StripRoom
}

func junctionsStage() stage.Stage {
	type settings = StripRoom
	type in struct {
		Bends   BendsFound
		Colours ColoursFound
	}
	def := solid.DefaultChannel()
	return stage.Define(stage.Spec[settings, in, JunctionsFound]{
		Name: StageJunctions, Does: "decide which strip runs through where lines meet",
		Default: StripRoom{Width: def.Strip, Loose: def.Loose},
		Settings: []stage.Setting{
			stage.Number("strip-width", "mm", "width of the LED strip", 1, 50, func(s *settings) *float64 { return &s.Width }).Called("channel/strip-width"),
			stage.Number("strip-clearance", "mm", "room added to the strip's width; find it with the test piece", 0, 5, func(s *settings) *float64 { return &s.Loose }).Called("channel/strip-clearance"),
		},
		Run: func(set settings, in in) (JunctionsFound, stage.Report, error) {
			return decideJunctions(set, in.Bends, in.Colours)
		},
		Show: stage.Show{Picture: drawJunctions, OnSheet: true, Problems: junctionProblems},
	})
}

// sharpPass is the turn, degrees, beyond which the strip that passes a junction
// does not run straight on, so that another might have been meant to.
const sharpPass = 60

func decideJunctions(
	set StripRoom, mended BendsFound, colours ColoursFound,
) (f JunctionsFound, rep stage.Report, err error) {
	f.Strip = set
	if f.Junctions, err = rules.Junctions(mended.Line, rules.JunctionSettings{Strip: set.Slot()}); err != nil {
		return f, rep, err
	}
	cramped := 0
	for _, j := range f.Junctions {
		noteCrossing(&rep, mended.Line, j, colours)
		if len(j.Butts) > 0 && j.Passes.Turn > sharpPass && j.Passes.Turn < 180 {
			rep.Judge(0.6, "at one junction no line runs straight through")
		}
		if !j.Cramped {
			continue
		}
		if cramped++; cramped <= mostNotes {
			rep.Note("%s", crampedText(j))
		}
	}
	noteMore(&rep, cramped)
	rep.Found = fmt.Sprintf(
		"%s, %d too close to the next", stage.Count(len(f.Junctions), "junction", "junctions"), cramped,
	)
	return f, rep, nil
}

// noteCrossing tells, where colours meet, which one's strip passes.
func noteCrossing(rep *stage.Report, line geom.Centreline, j rules.Junction, colours ColoursFound) {
	mine := line.Curves[j.Passes.Curve].Ink
	for _, b := range j.Butts {
		if ink := line.Curves[b.Curve].Ink; ink != mine {
			rep.Note(
				"at x %.1f, y %.1f mm the %s strip runs through and the %s one is cut", j.At.X, j.At.Y,
				colours.PenName(mine), colours.PenName(ink),
			)
			return
		}
	}
}

func crampedText(j rules.Junction) string {
	return fmt.Sprintf(
		"the junction at x %.1f, y %.1f mm leaves only %.1f mm of strip before the next junction", j.At.X, j.At.Y,
		max(j.Room, 0),
	)
}

func junctionProblems(r stage.Results) (out []stage.Problem) {
	for _, j := range stage.Of[JunctionsFound](r).Junctions {
		if j.Cramped {
			out = append(out, stage.Problem{Text: crampedText(j), At: j.At, OnSheet: true, Flag: "pass-on", Rule: true})
		}
	}
	return out
}

// drawJunctions shows the strips as wide as they are: those that pass, and
// where others end at them.
func drawJunctions(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.7, text)
	if err != nil {
		return nil, err
	}
	f, line := stage.Of[JunctionsFound](r), stage.Of[BendsFound](r).Line
	c.SetLineCapButt()
	c.Curves(line, px, f.Strip.Width*px*c.K, color.NRGBA{0, 104, 173, 60})
	c.Curves(line, px, 2, picture.MarkMain)
	for _, j := range f.Junctions {
		for _, w := range j.Butts {
			c.SetColor(picture.MarkOther)
			c.SetLineWidth(5)
			c.Path(stretch(line, w), px, false)
			c.Stroke()
		}
	}
	for _, j := range f.Junctions { // what passes lies on top
		c.SetColor(picture.MarkThird)
		c.SetLineWidth(7)
		c.Path(stretch(line, j.Passes), px, false)
		c.Stroke()
		c.Spot(j.At, px, 4, picture.MarkThird)
	}
	for _, j := range f.Junctions {
		if j.Cramped {
			c.Label(j.At, px, fmt.Sprintf("only %.1f mm", max(j.Room, 0)), picture.MarkOther)
		}
	}
	return c.Image, nil
}

// stretch is the strip's way some mm to either side of a junction.
func stretch(line geom.Centreline, w rules.Way) geom.Polyline {
	const reach, step = 9.0, 0.5
	curve := line.Curves[w.Curve]
	k := geom.NewRuler(curve)
	var pts geom.Polyline
	for s := -reach; s <= reach; s += step {
		if a := w.Along + s; curve.Closed || a >= 0 && a <= k.Length() {
			pts = append(pts, k.At(a))
		}
	}
	return pts
}
