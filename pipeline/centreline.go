package pipeline

import (
	"fmt"
	"image"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageCentreline smooths the strokes.
const StageCentreline = "centreline"

// CentrelineFound is the centreline as traced and smoothed, mm of the sheet.
type CentrelineFound struct{ Line geom.Centreline }

func centrelineStage() stage.Stage {
	type settings = geom.SmoothSettings
	type in struct{ Colours ColoursFound }
	return stage.Define(stage.Spec[settings, in, CentrelineFound]{
		Name: StageCentreline, Does: "smooth the strokes to curves, keeping corners",
		Default: geom.DefaultSmooth(),
		Settings: []stage.Setting{
			stage.Number("smooth", "mm", "how far a curve may stray from the traced line", 0.01, 5, func(s *settings) *float64 { return &s.Deviation }),
			stage.Number("corner-angle", "degrees", "turns sharper than this stay corners", 10, 180, func(s *settings) *float64 { return &s.Corner }),
		},
		Run:  func(set settings, in in) (CentrelineFound, stage.Report, error) { return smooth(set, in.Colours) },
		Show: stage.Show{Picture: drawCentreline, OnSheet: true},
	})
}

func smooth(set geom.SmoothSettings, colours ColoursFound) (f CentrelineFound, rep stage.Report, err error) {
	if f.Line, err = geom.Smooth(colours.Strokes, set); err != nil {
		return f, rep, err
	}
	pieces, corners := 0, 0
	for _, c := range f.Line.Curves {
		pieces += len(c.Pieces)
		corners += c.Corners
	}
	rep.Found = fmt.Sprintf(
		"%s made of %s, %.0f mm, %s, at most %.3f mm from the traced lines",
		stage.Count(len(f.Line.Curves), "curve", "curves"), stage.Count(pieces, "segment", "segments"),
		f.Line.Length(), stage.Count(corners, "corner", "corners"), f.Line.Stray,
	)
	return f, rep, nil
}

// drawCentreline draws the curves with the joints of their pieces.
func drawCentreline(r stage.Results, text string) (*image.RGBA, error) {
	c, err := stage.Of[SheetFound](r).Ground.Canvas(0.55, text)
	if err != nil {
		return nil, err
	}
	px, line := stage.Of[DotsFound](r).PxPerMm, stage.Of[CentrelineFound](r).Line
	for _, k := range line.Curves {
		c.Path(k.Flatten(0.02), px, false)
		c.SetColor(picture.MarkMain)
		c.SetLineWidth(3.5)
		c.Stroke()
		for _, p := range k.Pieces {
			c.Ring(p[0], px, 3.5, 1.5, picture.BarBack)
		}
	}
	drawKnots(c, line.Knots, px)
	return c.Image, nil
}
