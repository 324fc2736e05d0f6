package pipeline

import (
	"fmt"
	"image"

	"inkchannel/geom"
	"inkchannel/geom/rules"
	"inkchannel/geom/strip"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageBends finds where the strip cannot bend as the line does.
const StageBends = "bends"

// BendsFound is the line that the parts are made on, and where the strip could not
// bend as it did.
type BendsFound struct {
	Line   geom.Centreline // mm of the sheet
	Bends  []rules.Bend
	Radius float64 // mm, the tightest that the strip bends

	set rules.BendSettings
}

func bendsStage() stage.Stage {
	type settings = rules.BendSettings
	type in struct{ Spacing SpacingFound }
	return stage.Define(stage.Spec[settings, in, BendsFound]{
		Name: StageBends, Does: "find bends too tight for the strip, and round or mark them",
		Default: rules.DefaultBends(),
		Settings: []stage.Setting{
			stage.Number("bend-radius", "mm", "tightest sideways bend that the strip can take", 0.5, 200, func(s *settings) *float64 { return &s.Radius }),
			stage.Choice("tight-bends", "what to do where a line bends tighter: round (round the line) or join (cut and join the strip there)", []rules.Corner{rules.CornerRound, rules.CornerJoin}, func(s *settings) *rules.Corner { return &s.Corners }),
			stage.Number("round-limit", "mm", "how far rounding may move a line; where that is not enough, the strip is cut and joined", 0, 100, func(s *settings) *float64 { return &s.Most }),
		},
		Run:  func(set settings, in in) (BendsFound, stage.Report, error) { return mendBends(set, in.Spacing) },
		Show: stage.Show{Picture: drawBends, OnSheet: true, Problems: bendProblems},
	})
}

func mendBends(set rules.BendSettings, spaced SpacingFound) (f BendsFound, rep stage.Report, err error) {
	f.Radius, f.set = set.Radius, set
	if f.Line, f.Bends, err = rules.Bends(spaced.Line, set); err != nil {
		return f, rep, err
	}
	rounded, moved := 0, 0.0
	var left []rules.Bend
	for _, b := range f.Bends {
		if b.Rounded {
			rounded++
			moved = max(moved, b.Moved)
			continue
		}
		left = append(left, b)
	}
	toCut := stage.Count(len(left), "place", "places")
	switch {
	case len(f.Bends) == 0:
		rep.Found = fmt.Sprintf("no bend tighter than %g mm", set.Radius)
	case rounded == 0:
		rep.Found = fmt.Sprintf("%s tighter than %g mm, to cut and join the strip", toCut, set.Radius)
	default:
		rep.Found = fmt.Sprintf(
			"%s rounded to %g mm, lines moved by at most %.2f mm; %s to cut and join the strip",
			stage.Count(rounded, "bend", "bends"), set.Radius, moved, toCut,
		)
	}
	for _, b := range firstOf(left) {
		rep.Note("%s", bendText(b))
	}
	noteMore(&rep, len(left))
	return f, rep, nil
}

func bendText(b rules.Bend) string {
	what := fmt.Sprintf("turns by %.0f degrees at a radius of %.1f mm", b.Turn, b.Radius)
	if b.Radius == 0 {
		what = fmt.Sprintf("has a corner of %.0f degrees", b.Turn)
	}
	text := fmt.Sprintf(
		"line %d %s at x %.1f, y %.1f mm: cut and join the strip there", b.Curve+1, what, b.At.X, b.At.Y,
	)
	if b.Why != "" {
		text += " (" + b.Why + ")"
	}
	return text
}

func bendProblems(r stage.Results) (out []stage.Problem) {
	for _, b := range stage.Of[BendsFound](r).Bends {
		if !b.Rounded {
			out = append(
				out, stage.Problem{Text: bendText(b), At: b.At, OnSheet: true, Flag: "bend-radius", Rule: true},
			)
		}
	}
	return out
}

// bendReach is how far, mm, the place of a bend may lie from where it is once the line has been fitted to whole cuts.
const bendReach = 6.0

// leastJump is by how many degrees the heading jumps, at least, in a corner.
const leastJump = 5.0

// cornersOn are the places where the strip is cut and joined, on the line.
func cornersOn(line geom.Centreline, bends []rules.Bend) []strip.Corner {
	var out []strip.Corner
	for _, b := range bends {
		if b.Rounded {
			continue
		}
		if s, d := bendOn(line.Curves[b.Curve], b.At); d < bendReach {
			out = append(out, strip.Corner{Curve: b.Curve, Along: s, Turn: b.Turn})
		}
	}
	return out
}

// bendOn is how far along a curve, mm, the bend is that was at a place, and its distance from there: the corner that is
// nearest, or where there is none near the place itself. A line that is fitted to whole cuts moves its corners along.
func bendOn(c geom.Curve, at geom.Point) (along, off float64) {
	r := geom.NewRuler(c)
	along, off = r.Nearest(at)
	far := bendReach
	for i, p := range c.Pieces {
		last := i - 1
		if i == 0 {
			if last = len(c.Pieces) - 1; !c.Closed {
				continue
			}
		}
		if d := p[0].Dist(at); d < far && c.Pieces[last].Heading(1).Angle(p.Heading(0)) > leastJump {
			along, off, far = r.Piece(i), d, d
		}
	}
	return along, off
}

// drawBends marks where the line bends too tight, and what was done.
func drawBends(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.7, text)
	if err != nil {
		return nil, err
	}
	f := stage.Of[BendsFound](r)
	c.Curves(f.Line, px, 3.5, picture.MarkMain)
	for _, b := range f.Bends {
		what := "corner"
		if b.Radius > 0 {
			what = fmt.Sprintf("radius %.1f mm", b.Radius)
		}
		if b.Rounded {
			c.Ring(b.At, px, f.Radius*px*c.K, 2, picture.MarkThird)
			c.Label(b.At, px, fmt.Sprintf("%s, rounded", what), picture.MarkThird)
			continue
		}
		c.Ring(b.At, px, 12, 3, picture.MarkOther)
		c.Label(b.At, px, fmt.Sprintf("%s, cut and join", what), picture.MarkOther)
	}
	return c.Image, nil
}
