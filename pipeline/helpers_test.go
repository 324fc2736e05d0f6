package pipeline_test

import (
	"context"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/bed"
	"inkchannel/geom/rules"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
)

// npm is where make test-deps installs the reference libraries from npm.
const npm = "../testdata/npm"

// An outcome is what a run found, as far as it went, spread out for tests.
type outcome struct {
	stage.Results
	set stage.Settings

	Sheet      pipeline.SheetFound
	Dots       pipeline.DotsFound
	Size       geom.Point
	Strokes    geom.Network
	Pens       pipeline.ColoursFound
	Centreline geom.Centreline
	Line       geom.Centreline
	Symmetry   pipeline.SymmetryFound
	Tight      []rules.Tight
	Spread     *rules.Spreading
	Bends      []rules.Bend
	Junctions  []rules.Junction
	Strips     pipeline.StripsFound
	Channel    pipeline.ChannelFound
	Sign       pipeline.PartsFound
	Prints     []pipeline.Print
	Cuts       []bed.Cut
	Layout     bed.Layout
	Power      pipeline.PowerFound
}

func outcomeOf(r stage.Results, set stage.Settings) outcome {
	o := outcome{Results: r, set: set}
	o.Sheet, _ = stage.Found[pipeline.SheetFound](r)
	o.Dots, _ = stage.Found[pipeline.DotsFound](r)
	o.Size = o.Dots.Frame.Size
	strokes, _ := stage.Found[pipeline.StrokesFound](r)
	o.Strokes = strokes.Strokes
	o.Pens, _ = stage.Found[pipeline.ColoursFound](r)
	centre, _ := stage.Found[pipeline.CentrelineFound](r)
	o.Centreline = centre.Line
	o.Line, _ = pipeline.LineOf(r)
	o.Symmetry, _ = stage.Found[pipeline.SymmetryFound](r)
	spacing, _ := stage.Found[pipeline.SpacingFound](r)
	o.Tight, o.Spread = spacing.Tight, spacing.Spread
	bends, _ := stage.Found[pipeline.BendsFound](r)
	o.Bends = bends.Bends
	junctions, _ := stage.Found[pipeline.JunctionsFound](r)
	o.Junctions = junctions.Junctions
	o.Strips, _ = stage.Found[pipeline.StripsFound](r)
	o.Channel, _ = stage.Found[pipeline.ChannelFound](r)
	o.Sign, _ = stage.Found[pipeline.PartsFound](r)
	beds, _ := stage.Found[pipeline.BedsFound](r)
	o.Prints, o.Cuts, o.Layout = beds.Prints, beds.Cuts, beds.Layout
	o.Power, _ = stage.Found[pipeline.PowerFound](r)
	return o
}

// file is one of the files that the run writes, stages' pictures left out.
func (o outcome) file(t *testing.T, name string) []byte {
	t.Helper()
	files := o.wanted(t, func(k folder.Kind) bool { return k.Name == name })
	require.Len(t, files, 1, "no file %s", name)
	return files[0].Data
}

// files are the files that the run writes, without pictures and the pages of them.
func (o outcome) files(t *testing.T) []folder.File { return o.wanted(t, folder.Bare) }

func (o outcome) wanted(t *testing.T, w folder.Wanted) []folder.File {
	t.Helper()
	files, err := folder.Files(folder.Run{Table: pipeline.Table(), Results: o.Results, Settings: o.set, Wanted: w})
	require.NoError(t, err)
	return files
}

// settings are the defaults changed by flags, as "hold=none".
func settings(t testing.TB, flags ...string) stage.Settings {
	t.Helper()
	s := pipeline.DefaultSettings()
	for _, f := range flags {
		flag, value, _ := strings.Cut(f, "=")
		var err error
		s, err = pipeline.Table().Set(s, flag, value)
		require.NoError(t, err)
	}
	return s
}

// smallView is a view at 6 megapixels, to save time.
func smallView() specimen.View {
	v := specimen.PlainViews()[1]
	v.Width = 2828
	return v
}

// photo takes a photograph of strokes on A4, at 6 megapixels if change does not say else.
func photo(t *testing.T, d specimen.Drawing, p specimen.Paper, change func(*specimen.View)) specimen.Photo {
	t.Helper()
	v := smallView()
	if change != nil {
		change(&v)
	}
	ph, err := specimen.Take(d, p, v)
	require.NoError(t, err)
	return ph
}

// run is Run on a photo's bytes.
func run(data []byte, r stage.Run) (stage.Results, error) {
	return pipeline.RunPhoto(context.Background(), pipeline.Source{Data: data}, r)
}

func mustRun(t *testing.T, data []byte, s stage.Settings) outcome {
	t.Helper()
	return mustRunTo(t, data, s, "")
}

func mustRunTo(t *testing.T, data []byte, s stage.Settings, until string) outcome {
	t.Helper()
	r, err := run(data, stage.Run{Settings: s, Until: until})
	require.NoError(t, err)
	return outcomeOf(r, s)
}

// takeDemo photographs the demo's drawing small, once for all tests.
var takeDemo = sync.OnceValues(func() (specimen.Photo, error) {
	return specimen.Take(specimen.Demo(), specimen.White(), smallView())
})

func demoPhoto(t *testing.T) specimen.Photo {
	t.Helper()
	p, err := takeDemo()
	require.NoError(t, err)
	return p
}

// demoSign is the whole run on the demo's drawing, photographed small.
func demoSign(t *testing.T, flags ...string) outcome {
	t.Helper()
	return mustRun(t, demoPhoto(t).JPEG, settings(t, flags...))
}

// signOf is the run from a centreline, on a square sheet, up to a stage or to the
// end.
func signOf(t *testing.T, line geom.Centreline, side float64, until string, s stage.Settings) outcome {
	t.Helper()
	r, err := pipeline.RunLine(context.Background(), line, geom.Pt(side, side), stage.Run{Settings: s, Until: until})
	require.NoError(t, err)
	return outcomeOf(r, s)
}

func flat(c geom.Centreline) []geom.Polyline {
	var out []geom.Polyline
	for _, k := range c.Curves {
		out = append(out, k.Flatten(0.01))
	}
	return out
}
