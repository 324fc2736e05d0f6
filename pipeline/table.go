package pipeline

import (
	"context"
	"reflect"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/stage"
)

// An Own is what a maker brings along.
type Own struct {
	Foot     solid.Solid // in place of a foot and its stand; nil for none
	FootName string      // of its file
}

// stages lists the stages in the order they run.
func stages(own Own) []stage.Stage {
	return []stage.Stage{
		photoStage(),
		sheetStage(),
		inkStage(),
		dotsStage(),
		skeletonStage(),
		strokesStage(),
		coloursStage(),
		centrelineStage(),
		symmetryStage(),
		shapesStage(),
		handStage(),
		spacingStage(),
		bendsStage(),
		junctionsStage(),
		stripsStage(),
		channelStage(),
		partsStage(own),
		wallsStage(),
		bedsStage(),
		powerStage(),
	}
}

// Table returns all stages in order, and more behind them. It panics for stages
// that do not fit together, which a test rules out for its own.
func Table(more ...stage.Stage) stage.Table { return TableFor(Own{}, more...) }

// TableFor is Table for a maker who has something of his own.
func TableFor(own Own, more ...stage.Stage) stage.Table {
	t, err := stage.NewTable([]reflect.Type{stage.Given[Source]()}, slices.Concat(stages(own), more)...)
	if err != nil {
		panic("pipeline: " + err.Error())
	}
	return t
}

// DefaultSettings returns the settings that suit most photos.
func DefaultSettings() stage.Settings { return Table().Default() }

// Given is what a run on a photo starts with.
func Given(src Source) stage.Results { return stage.Results{}.With(src) }

// RunPhoto takes a photo through the stages. It returns a *stage.Error for a photo that
// a stage cannot work with, and ctx's error if that ends, both with what was found
// so far.
func RunPhoto(ctx context.Context, src Source, run stage.Run) (stage.Results, error) {
	return Table().Run(ctx, Given(src), run)
}

// RunLine takes a centreline, on a sheet of the given size in mm, through the
// stages after the one that smooths; the rest is as for RunPhoto.
func RunLine(ctx context.Context, line geom.Centreline, size geom.Point, run stage.Run) (stage.Results, error) {
	given := stage.Results{}.With(DotsFound{Frame: geom.Frame{Size: size}}).
		With(ColoursFound{}).
		With(CentrelineFound{line})
	run.After = StageCentreline
	return Table().Run(ctx, given, run)
}

// LineOf is the centreline as far as it has been mended for strip and printer, in
// mm of the sheet, and whether there is one yet. Parts are made on the last.
func LineOf(r stage.Results) (geom.Centreline, bool) {
	if f, ok := stage.Found[StripsFound](r); ok {
		return f.Line, true
	}
	if f, ok := stage.Found[BendsFound](r); ok {
		return f.Line, true
	}
	if f, ok := stage.Found[SpacingFound](r); ok {
		return f.Line, true
	}
	if f, ok := stage.Found[HandFound](r); ok {
		return f.Line, true
	}
	if f, ok := stage.Found[ShapesFound](r); ok {
		return f.Line, true
	}
	if f, ok := stage.Found[SymmetryFound](r); ok {
		return f.Line, true
	}
	f, ok := stage.Found[CentrelineFound](r)
	return f.Line, ok
}
