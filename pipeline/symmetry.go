package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/regular"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageSymmetry turns the drawing upright and makes it symmetric, if asked.
const StageSymmetry = "symmetry"

// SymmetryFound is the line turned upright and made symmetric, as far as asked.
type SymmetryFound struct{ regular.Symmetric }

func symmetryStage() stage.Stage {
	type settings = regular.SymmetrySettings
	type in struct {
		Dots       DotsFound
		Centreline CentrelineFound
	}
	return stage.Define(stage.Spec[settings, in, SymmetryFound]{
		Name: StageSymmetry, Does: "turn the drawing upright and make it symmetric, if asked",
		Default: regular.DefaultSymmetry(),
		Settings: []stage.Setting{
			stage.Choice("straighten", "turn the drawing upright: no, axis (by its axis of symmetry) or lines (by its longest lines)", []regular.Straighten{regular.StraightenNo, regular.StraightenAxis, regular.StraightenLines}, func(s *settings) *regular.Straighten { return &s.Straighten }),
			stage.Number("most-turn", "degrees", "refuse to turn the drawing by more than this", 0.1, 45, func(s *settings) *float64 { return &s.MostTurn }),
			stage.Choice("mirror", "make the drawing symmetric: no, average (both halves meet in the middle), left or right (copy that half)", []regular.Mirror{regular.MirrorNo, regular.MirrorAverage, regular.MirrorLeft, regular.MirrorRight}, func(s *settings) *regular.Mirror { return &s.Mirror }),
			stage.Places("mirror-axis", stage.FrameSheet, "the axis of symmetry by hand, as two points on it: x,y x,y", 2, func(s *settings) *[]geom.Point { return &s.Axis }),
			stage.Number("mirror-reach", "mm", "how far apart a line and its partner across the axis may be", 1, 100, func(s *settings) *float64 { return &s.Reach }),
		},
		Run: func(set settings, in in) (SymmetryFound, stage.Report, error) {
			return symmetrise(set, in.Dots, in.Centreline)
		},
		Show: stage.Show{Picture: drawSymmetry, OnSheet: true, Handles: axisHandles},
	})
}

// fewPartners is the share of the lines that need a partner across an axis that was
// not given by hand, or it is in doubt: a guess.
const fewPartners = 0.6

func symmetrise(
	set regular.SymmetrySettings, dots DotsFound, traced CentrelineFound,
) (f SymmetryFound, rep stage.Report, err error) {
	set.Axis = dots.FromPaper(set.Axis)
	if f.Symmetric, err = regular.Symmetrise(traced.Line, set); err != nil {
		return f, rep, err
	}
	if f.Axis == nil && set.Straighten == regular.StraightenNo {
		if rep.Found = "left as drawn"; set.Axis != nil {
			rep.Note("an axis is given, but nothing is done about it; --mirror says what")
		}
		return f, rep, nil
	}
	var did []string
	if set.Straighten != regular.StraightenNo {
		did = append(did, fmt.Sprintf("turned by %.2f degrees", f.Turn))
	}
	if a := f.Axis; a != nil {
		did = append(
			did,
			fmt.Sprintf(
				"axis through %.1f,%.1f mm; %.0f %% of the lines have a partner across it, %.2f mm off on average",
				dots.Paper(a.At).X, dots.Paper(a.At).Y, 100*a.Share, a.Off,
			),
		)
		if a.Share < fewPartners && set.Axis == nil {
			rep.Judge(0.4, "only %.0f %% of the lines have a partner across the axis", 100*a.Share)
		}
	}
	if set.Mirror != regular.MirrorNo {
		did = append(did, fmt.Sprintf("made symmetric, points moved by at most %.2f mm", f.Moved))
	}
	rep.Found = strings.Join(did, "; ")
	if f.Kept > 0 {
		rep.Note("%s without a partner left as drawn", stage.Count(f.Kept, "line", "lines"))
	}
	return f, rep, nil
}

// onSheet starts a picture over the sheet, paled, and returns the sheet's px in a
// mm.
func onSheet(r stage.Results, fade float64, text string) (*picture.Canvas, float64, error) {
	c, err := stage.Of[SheetFound](r).Ground.Canvas(fade, text)
	return c, stage.Of[DotsFound](r).PxPerMm, err
}

// drawSymmetry shows the line as it was, pale, as it is now, and the axis.
func drawSymmetry(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.7, text)
	if err != nil {
		return nil, err
	}
	f := stage.Of[SymmetryFound](r)
	c.Curves(stage.Of[CentrelineFound](r).Line, px, 5, color.NRGBA{214, 94, 0, 110})
	c.Curves(f.Line, px, 3, picture.MarkMain)
	if a := f.Axis; a != nil {
		reach := stage.Of[DotsFound](r).Frame.Size.Norm()
		c.SetColor(picture.MarkThird)
		c.SetLineWidth(2)
		c.SetDash(14, 8)
		c.Path([]geom.Point{a.At.Sub(a.Dir.Mul(reach)), a.At.Add(a.Dir.Mul(reach))}, px, false)
		c.Stroke()
		c.SetDash()
	}
	return c.Image, nil
}

// axisHandles are two places on the axis of symmetry.
func axisHandles(r stage.Results) (string, []stage.Handle) {
	f, dots := stage.Of[SymmetryFound](r), stage.Of[DotsFound](r)
	if f.Axis == nil {
		return "", nil
	}
	size, axis := dots.Frame.Size, f.Axis
	middle := axis.At.Add(axis.Dir.Mul(size.Mul(0.5).Sub(axis.At).Dot(axis.Dir)))
	var out []stage.Handle
	for _, way := range []float64{-axisReach, axisReach} {
		p := middle.Add(axis.Dir.Mul(way * min(size.X, size.Y)))
		if p.X < 0 || p.Y < 0 || p.X > size.X || p.Y > size.Y {
			return "", nil
		}
		out = append(out, stage.Handle{Place: dots.Paper(p), Share: geom.Pt(p.X/size.X, p.Y/size.Y)})
	}
	return "mirror-axis", out
}

// axisReach is how far from the middle of the axis its handles are, by the sheet's shorter side.
const axisReach = 0.3
