package pipeline_test

import (
	"fmt"
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// A lengthsFound is the result of a stage that only this test has.
type lengthsFound struct{ Rounded float64 }

// lengthsStage is all that a new stage takes, beside its line in the table.
func lengthsStage() stage.Stage {
	type settings struct{ Unit float64 }
	type in struct{ Bends pipeline.BendsFound }
	return stage.Define(stage.Spec[settings, in, lengthsFound]{
		Name: "lengths", Does: "round the lines' length",
		Default: settings{Unit: 10},
		Settings: []stage.Setting{
			stage.Number("length-unit", "mm", "round to whole numbers of this", 1, 100, func(s *settings) *float64 { return &s.Unit }),
		},
		Run: func(set settings, in in) (lengthsFound, stage.Report, error) {
			f := lengthsFound{set.Unit * float64(int(in.Bends.Line.Length()/set.Unit))}
			return f, stage.Report{Found: fmt.Sprintf("about %g mm", f.Rounded)}, nil
		},
		Show: stage.Show{Drawn: true, Picture: func(r stage.Results, text string) (*image.RGBA, error) {
			size := stage.Of[pipeline.DotsFound](r).Frame.Size
			return picture.ImageOf(picture.Blank(size.X, size.Y, text))
		}},
	})
}

// A stage of one's own runs, has its setting, its place in the settings file and
// its picture by being in the table.
func TestAddedStage(t *testing.T) {
	table := pipeline.Table(lengthsStage())
	set, err := table.Set(table.Default(), "length-unit", "25")
	require.NoError(t, err)
	given := stage.Results{}.With(pipeline.DotsFound{Frame: geom.Frame{Size: geom.Pt(200, 200)}}).
		With(pipeline.ColoursFound{}).With(pipeline.CentrelineFound{Line: twoLines()})
	r, err := table.Run(t.Context(), given, stage.Run{Settings: set, After: pipeline.StageCentreline})
	require.NoError(t, err)
	assert.Equal(t, 175.0, stage.Of[lengthsFound](r).Rounded)
	file := table.WriteSettings(set, "")
	assert.Contains(t, string(file), "lengths:\n  length-unit: 25 # mm\n")
	back, err := table.ReadSettings(table.Default(), file)
	require.NoError(t, err)
	assert.True(t, set.Equal(back))
	img, err := table.Picture(r, "lengths")
	require.NoError(t, err)
	assert.Positive(t, img.Bounds().Dx())
	name, err := table.PictureFile("lengths")
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%02d-lengths.png", len(table.Stages())), name)
	_, err = pipeline.Table().PictureFile("lengths")
	assert.ErrorContains(t, err, `there is no step "lengths"`)
}
