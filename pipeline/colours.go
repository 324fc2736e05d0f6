package pipeline

import (
	"fmt"
	"image"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageColours tells pens apart.
const StageColours = "colours"

// ColoursFound tells which pen drew each stroke.
type ColoursFound struct {
	vision.Pens
	Strokes geom.Network // mm of the sheet, each with its pen
}

func coloursStage() stage.Stage {
	type settings = vision.PenSettings
	type in struct {
		Sheet   SheetFound
		Dots    DotsFound
		Ink     InkFound
		Strokes StrokesFound
	}
	return stage.Define(stage.Spec[settings, in, ColoursFound]{
		Name: StageColours, Does: "tell which pen drew each stroke",
		Default: vision.DefaultPens(),
		Settings: []stage.Setting{
			stage.Number("pen-apart", "Lab", "smallest colour difference between two pens; 0 treats all strokes as drawn with one pen", 0, 200, func(s *settings) *float64 { return &s.Apart }),
		},
		Run: func(set settings, in in) (ColoursFound, stage.Report, error) {
			return findPens(set, in.Sheet, in.Ink, in.Dots, in.Strokes)
		},
		Show: stage.Show{Picture: drawColours, OnSheet: true},
	})
}

// leastShown is the share of the line that shows its colour if one pen is no doubt.
// Found on real photographs.
const leastShown = 0.85

// marginShare is how much of the sheet's shorter side a printed margin is at least long.
const marginShare = 0.5

// fewOnRules is the share of the line up to which a pen on ruled paper may be the colour of the
// rules under another's line. Found on real photographs.
const fewOnRules = 0.2

// fewAnywhere is the same on any paper, where a blot, a stain or a shadow may have the colour. Found on real
// photographs, made darker.
const fewAnywhere = 0.02

func findPens(
	set vision.PenSettings, sheet SheetFound, ink InkFound, dots DotsFound, traced StrokesFound,
) (f ColoursFound, rep stage.Report, err error) {
	if f.Pens, err = vision.FindPens(sheet.Image, dots.Rest.Mask, traced.Strokes, dots.PxPerMm, set); err != nil {
		return f, rep, err
	}
	f.Strokes = traced.Strokes
	if ink.Ruling.Lines > 0 {
		f.leaveOutMargins(&rep, dots.Frame.Size)
	}
	f.Strokes.Strokes = slices.Clone(f.Strokes.Strokes)
	for i, pen := range f.Of {
		f.Strokes.Strokes[i].Ink = pen
	}
	var list []string
	for i, pen := range f.All {
		list = append(list, fmt.Sprintf("%s, %.0f mm", f.PenName(i), pen.Length))
	}
	rep.Found = fmt.Sprintf("%s: %s", stage.Count(len(list), "pen", "pens"), strings.Join(list, "; "))
	share := fewAnywhere
	if ink.Ruling.Lines > 0 {
		share = fewOnRules
	}
	few, scarce := f.scarce(share)
	switch n := len(f.All); {
	case n == 1 && set.Apart > 0 && f.Shown < leastShown:
		rep.Judge(
			0.45, "one pen, but %.0f %% of the line is too pale or too short to show its colour, and may be another's; if it is none, "+
				"say so with --pen-apart 0", 100*(1-f.Shown),
		)
	case n == 1:
		rep.Judge(1, "one pen")
	case f.Gap < vision.ClearGap*set.Apart:
		rep.Judge(0.45, "two of %d pens are hardly different in colour; --pen-apart 0 takes all for one", n)
	case f.margin(dots.Frame.Size) > 0:
		rep.Judge(
			0.45, "all that is %s lies along one straight line and may be a printed margin; --drop-lines takes lines "+
				"out", f.PenName(f.margin(dots.Frame.Size)),
		)
	case scarce && ink.Ruling.Lines > 0:
		rep.Judge(
			0.45, "only %.0f mm are %s: a rule under a line, or one that is left over, has a colour of its own; "+
				"--pen-apart 0 takes all for one", f.All[few].Length, f.PenName(few),
		)
	case scarce:
		rep.Judge(
			0.45, "only %.0f mm are %s, which may be no pen's: a blot, a stain or a shadow has a colour of its own; "+
				"--pen-apart 0 takes all for one", f.All[few].Length, f.PenName(few),
		)
	default:
		rep.Judge(0.8, "%d pens told apart by colour", n)
	}
	return f, rep, nil
}

// scarce is a pen that drew less than a share of the line, and whether there is one.
func (f ColoursFound) scarce(share float64) (pen int, ok bool) {
	all := 0.0
	for _, p := range f.All {
		all += p.Length
	}
	pen = slices.IndexFunc(f.All, func(p vision.Pen) bool { return p.Length < share*all })
	return pen, pen >= 0
}

// margin is the first pen beside the main one that may be a printed line across a sheet
// of the given size (mm), 0 if there is none.
func (f ColoursFound) margin(sheet geom.Point) int {
	for k := 1; k < len(f.All); k++ {
		if f.Lined(k, f.Strokes, marginShare*min(sheet.X, sheet.Y)) {
			return k
		}
	}
	return 0
}

// leaveOutMargins takes out the margins of a ruled sheet of the given size (mm): where rules
// are printed, a line across in a colour of its own is, too.
func (f *ColoursFound) leaveOutMargins(rep *stage.Report, sheet geom.Point) {
	for k := f.margin(sheet); k > 0; k = f.margin(sheet) {
		rep.Note(
			"all that is %s, %.0f mm, lies along one straight line of a ruled sheet: a printed margin, left out; "+
				"--pen-apart 0 keeps it", f.PenName(k), f.All[k].Length,
		)
		f.Pens, f.Strokes = f.Without(k, f.Strokes)
	}
}

// PenName is what pen i is called: its colour, numbered if there are several
// of that name.
func (f ColoursFound) PenName(i int) string {
	if i >= len(f.All) {
		return "the only colour"
	}
	name, same, before := f.All[i].Name, 0, 0
	for k, p := range f.All {
		if p.Name == name {
			same++
			if k < i {
				before++
			}
		}
	}
	if same > 1 {
		return fmt.Sprintf("%s %d", name, before+1)
	}
	return name
}

// InColour is " (red)" and the like, nothing if the drawing has one colour.
func (f ColoursFound) InColour(ink int) string {
	if len(f.All) < 2 {
		return ""
	}
	return " (" + f.PenName(ink) + ")"
}

// drawColours draws each stroke in its pen's mark, with the pen's name.
func drawColours(r stage.Results, text string) (*image.RGBA, error) {
	c, err := stage.Of[SheetFound](r).Ground.Canvas(0.55, text)
	if err != nil {
		return nil, err
	}
	px, f := stage.Of[DotsFound](r).PxPerMm, stage.Of[ColoursFound](r)
	for _, s := range f.Strokes.Strokes {
		c.SetColor(picture.StrokeColour(s.Ink))
		c.SetLineWidth(4)
		for _, run := range s.Runs {
			c.Path(run, px, false)
		}
		c.Stroke()
	}
	for _, s := range f.Strokes.Strokes {
		run := s.Runs[len(s.Runs)/2]
		c.Label(run.At(run.Length()/2), px, f.PenName(s.Ink), picture.StrokeColour(s.Ink))
	}
	return c.Image, nil
}
