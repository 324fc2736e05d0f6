package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/rules"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageSpacing measures how near the lines come to each other.
const StageSpacing = "spacing"

// SpacingFound is where lines are too near each other, and the line spread where
// that was asked.
type SpacingFound struct {
	Line   geom.Centreline
	Tight  []rules.Tight // as measured, before any spreading
	Spread *rules.Spreading
	Least  float64 // mm from centreline to centreline
}

func spacingStage() stage.Stage {
	type settings = rules.SpacingSettings
	type in struct{ Hand HandFound }
	return stage.Define(stage.Spec[settings, in, SpacingFound]{
		Name: StageSpacing, Does: "measure how close the lines are, and spread them if asked",
		Default: rules.DefaultSpacing(),
		Settings: []stage.Setting{
			stage.Number("spacing", "mm", "minimum distance between centrelines", 1, 100, func(s *settings) *float64 { return &s.Least }),
			stage.Number("spread", "mm", "spread lines that are too close, moving them at most this far; 0 only measures", 0, mostSpread, func(s *settings) *float64 { return &s.Spread }),
		},
		Run: func(set settings, in in) (SpacingFound, stage.Report, error) {
			return measureSpacing(set, in.Hand.Line)
		},
		Show: stage.Show{Picture: drawSpacing, OnSheet: true, Problems: tightProblems},
	})
}

func measureSpacing(set rules.SpacingSettings, line geom.Centreline) (f SpacingFound, rep stage.Report, err error) {
	f.Line, f.Least = line, set.Least
	if f.Tight, err = rules.Spacing(f.Line, set); err != nil {
		return f, rep, err
	}
	rep.Found = fmt.Sprintf("all lines at least %g mm apart", set.Least)
	if n := len(f.Tight); n > 0 {
		rep.Found = fmt.Sprintf(
			"%s closer than %g mm, the closest %.2f mm", stage.Count(n, "place", "places"), set.Least,
			f.Tight[0].Distance,
		)
	}
	if set.Spread > 0 && len(f.Tight) > 0 {
		return spreadLines(f, rep, set)
	}
	for _, t := range firstOf(f.Tight) {
		rep.Note("%s", tightText(t, set.Least))
	}
	noteMore(&rep, len(f.Tight))
	return f, rep, nil
}

func spreadLines(f SpacingFound, rep stage.Report, set rules.SpacingSettings) (SpacingFound, stage.Report, error) {
	s, err := rules.Spread(f.Line, set)
	if err != nil {
		return f, rep, err
	}
	if len(s.Left) > 0 {
		var list []string
		for _, t := range s.Left {
			list = append(list, tightText(t, set.Least))
		}
		return f, rep, fmt.Errorf(
			"lines cannot be spread to %g mm by moving them at most %g mm: %s; %s", set.Least, set.Spread, strings.Join(list, "; "),
			enoughSpread(f.Line, set),
		)
	}
	f.Spread, f.Line = &s, s.Line
	rep.Found = fmt.Sprintf("lines spread to %g mm, moved by at most %.2f mm; before: %s", set.Least, s.Moved, rep.Found)
	return f, rep, nil
}

// mostSpread is how far, mm, lines may be moved at most.
const mostSpread = 50

// enoughSpread says how far lines must move for all of them to be as far apart as is asked.
func enoughSpread(line geom.Centreline, set rules.SpacingSettings) string {
	set.Spread = mostSpread
	if s, err := rules.Spread(line, set); err == nil && len(s.Left) == 0 {
		return fmt.Sprintf("it takes --spread %.1f, or draw them further apart", math.Ceil(10*s.Moved)/10)
	}
	return "draw them further apart, or make the sign larger with --width"
}

// FileSummary is the file that names what the notes leave out.
const FileSummary = "summary.json"

// mostNotes is how many places of a kind a stage's notes name; the summary
// names all.
const mostNotes = 8

func firstOf[T any](list []T) []T { return list[:min(len(list), mostNotes)] }

// noteMore notes how many of n places the notes do not name.
func noteMore(rep *stage.Report, n int) {
	if n > mostNotes {
		rep.Note("and %d more, see %s", n-mostNotes, FileSummary)
	}
}

// tightText says where two lines are nearer than the least spacing, mm.
func tightText(t rules.Tight, least float64) string {
	m := t.At[0].Lerp(t.At[1], 0.5)
	who := fmt.Sprintf("lines %d and %d are", t.Curves[0]+1, t.Curves[1]+1)
	if t.Curves[0] == t.Curves[1] {
		who = fmt.Sprintf("two parts of line %d are", t.Curves[0]+1)
	}
	along := ""
	if t.Length >= 1 {
		along = fmt.Sprintf(", for %.0f mm along the line", t.Length)
	}
	return fmt.Sprintf("%s %.2f mm apart at x %.1f, y %.1f mm%s; --spacing asks for %g mm", who, t.Distance, m.X, m.Y, along, least)
}

func tightProblems(r stage.Results) (out []stage.Problem) {
	f := stage.Of[SpacingFound](r)
	if f.Spread != nil { // the places found are mended
		return nil
	}
	for _, t := range f.Tight {
		out = append(
			out,
			stage.Problem{
				Text:    tightText(t, f.Least),
				At:      t.At[0].Lerp(t.At[1], 0.5),
				OnSheet: true,
				Flag:    "spread",
				Rule:    true,
			},
		)
	}
	return out
}

// drawSpacing draws each line as wide as its spacing asks, so that those too
// near overlap, and the distance where they are nearest.
func drawSpacing(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.7, text)
	if err != nil {
		return nil, err
	}
	f := stage.Of[SpacingFound](r)
	c.Curves(f.Line, px, f.Least*px*c.K, color.NRGBA{0, 104, 173, 46})
	c.Curves(f.Line, px, 3, picture.MarkMain)
	if f.Spread != nil { // the places found are mended
		return c.Image, nil
	}
	for _, t := range f.Tight {
		c.SetColor(picture.MarkOther)
		c.SetLineWidth(4)
		c.Path([]geom.Point{t.At[0], t.At[1]}, px, false)
		c.Stroke()
		c.Spot(t.At[0], px, 5, picture.MarkOther)
		c.Spot(t.At[1], px, 5, picture.MarkOther)
	}
	for _, t := range f.Tight {
		c.Label(t.At[0].Lerp(t.At[1], 0.5), px, fmt.Sprintf("%.2f mm", t.Distance), picture.MarkOther)
	}
	return c.Image, nil
}
