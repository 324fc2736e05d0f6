package pipeline_test

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/pipeline"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
	"inkchannel/testdata/outside"
)

// The outlines of a sign whose areas geometry gives, as a second reader (ezdxf) finds them: a channel
// about a straight line is a rectangle with round ends, its slot another, its screws' holes as wide as
// ISO 273 (medium) has them.
func TestOutlines(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(40, 60), geom.Pt(160, 60)), geom.Lines(geom.Pt(40, 120), geom.Pt(160, 120))}, 0.05)
	r := signOf(t, line, 200, "", settings(t, "hold=ears", "backboard=bridges", "fit-ends=0"))
	got := outside.ReadDXF(t, r.file(t, "outlines.dxf"))
	assert.Empty(t, got.Faults)
	each := r.Strips.Line.Curves[0].Length() // fitted to whole cuts of strip
	assert.InDelta(t, 2*each, got.Layers["centrelines"].Length, 1e-3)
	for name, wide := range map[string]float64{"channels": 2 * (r.Channel.Built.Slot()/2 + r.Channel.Built.Wall), "slots": r.Channel.Built.Slot()} {
		assert.InEpsilon(t, 2*(each*wide+math.Pi*wide*wide/4), got.Layers[name].Area, 2e-3, name)
	}
	assert.Positive(t, got.Layers["backboard"].Area)
	holes := got.Layers["screws"].Circles
	require.Len(t, holes, len(r.Sign.Screws))
	for i, s := range r.Sign.Screws {
		assert.InDelta(t, s.X, holes[i][0], 1e-5)
		assert.InDelta(t, s.Y, holes[i][1], 1e-5)
		assert.InDelta(t, 4.5, holes[i][2], 1e-9, "M4")
	}
	assert.Len(t, got.Layers["wires"].Circles, len(r.Sign.Holes))
}

// Ears on a channel touch it along their sides: there is nothing to cut between them, and their holes are cut once.
func TestOutlinesOfEars(t *testing.T) {
	t.Parallel()
	names, err := specimen.Icons(npm)
	require.NoError(t, err)
	line, err := specimen.Icon(iconNamed(names, "home"), 5)
	require.NoError(t, err)
	r := signOf(t, line, 150, "", settings(t, "hold=ears"))
	require.NotEmpty(t, r.Sign.Screws)
	got := outside.ReadDXF(t, r.file(t, "outlines.dxf"))
	assert.Len(t, got.Layers["screws"].Circles, len(r.Sign.Screws))
	assert.Greater(t, got.Layers["channels"].Least, 2*math.Pi*4.5*4.5/4, "no slit, no screw's hole")
}

// A keyhole's opening is a disc for an M4 head with a slot to where its shank rests: areas by geometry, heads of
// 8 mm as ISO 7045 has them (from memory), which the program gives room.
func TestKeyholeOutlines(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(40, 60), geom.Pt(160, 60))}, 0.05)
	r := signOf(t, line, 200, "", settings(t, "hold=keyhole", "fit-ends=0"))
	require.NotEmpty(t, r.Sign.Screws)
	got := outside.ReadDXF(t, r.file(t, "outlines.dxf"))
	assert.Empty(t, got.Faults)
	holes := got.Layers["screws"]
	assert.Empty(t, holes.Circles, "a round hole would be cut into the slot's end")
	const slot, shank = 2.25, 4.5
	each := holes.Area / float64(len(r.Sign.Screws))
	assert.Greater(t, each, math.Pi*8*8/4, "the head passes")
	assert.Less(t, each, math.Pi*10*10/4+10*shank+math.Pi*slot*slot/2, "and no more")
}

// Each piece of strip has its name on the cut sheet, however many pages it runs over.
func TestCutSheetNamesLongPiece(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(40, 60), geom.Pt(1640, 60))}, 0.05)
	r := signOf(t, line, 1700, pipeline.StageChannel, settings(t, "hold=none"))
	in, ok := stage.Inputs[papers.CutSheetIn](r.Results)
	require.True(t, ok)
	require.Greater(t, papers.PlanCutSheet(in).Across, 5, "or there is nothing to test")
	pdf, err := papers.CutSheet(in)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "a.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	text, err := exec.Command(outside.Tool(t, "pdftotext"), "-layout", file, "-").Output()
	require.NoError(t, err)
	require.Len(t, in.Strips.Pieces, 1)
	assert.Contains(t, string(text), "1: "+stage.Millimetres(in.Strips.Pieces[0].Strip))
}

// The drawing names the sizes that the parts have as they stand, at a scale of ISO 5455.
func TestDimensions(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(40, 60), geom.Pt(160, 60))}, 0.05)
	r := signOf(t, line, 200, "", settings(t, "hold=ears", "fit-ends=0"))
	file := filepath.Join(t.TempDir(), "a.pdf")
	require.NoError(t, os.WriteFile(file, r.file(t, "dimensions.pdf"), 0o600))
	text, err := exec.Command(outside.Tool(t, "pdftotext"), "-layout", file, "-").Output()
	require.NoError(t, err)
	wide := 2 * (r.Channel.Built.Slot()/2 + r.Channel.Built.Wall)
	require.Len(t, r.Sign.Screws, 4)
	lower := math.Abs(r.Sign.Screws[2].X - r.Sign.Screws[3].X)
	higher := (math.Abs(r.Sign.Screws[0].X-r.Sign.Screws[1].X) - lower) / 2
	for _, want := range []float64{r.Strips.Line.Curves[0].Length() + wide, wide, r.Channel.Built.Height(), lower, higher} {
		assert.Contains(t, string(text), fmt.Sprintf("%.1f", want))
	}
	assert.Contains(t, string(text), "scale 1:1;")
	long := geom.Join([]geom.Curve{geom.Lines(geom.Pt(40, 60), geom.Pt(1160, 60))}, 0.05)
	r = signOf(t, long, 1200, "", settings(t, "hold=none", "fit-ends=0", "strip-volts=24"))
	require.NoError(t, os.WriteFile(file, r.file(t, "dimensions.pdf"), 0o600))
	text, err = exec.Command(outside.Tool(t, "pdftotext"), "-layout", file, "-").Output()
	require.NoError(t, err)
	assert.Contains(t, string(text), "scale 1:10;")
	r = signOf(t, line, 200, "", settings(t, "hold=stand", "fit-ends=0"))
	require.NoError(t, os.WriteFile(file, r.file(t, "dimensions.pdf"), 0o600))
	text, err = exec.Command(outside.Tool(t, "pdftotext"), "-layout", file, "-").Output()
	require.NoError(t, err)
	i := slices.IndexFunc(r.Sign.Parts, func(p parts.Part) bool { return p.Name == parts.NameStand })
	require.GreaterOrEqual(t, i, 0)
	lo, hi := r.Sign.Meshes[i].Bounds()
	assert.Contains(t, string(text), fmt.Sprintf("%.1f", hi.X-lo.X), "the stand's width")
}
