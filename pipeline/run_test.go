package pipeline_test

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"image/color"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/hschendel/stl"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
	"inkchannel/testdata/outside"
)

// assertTrue checks a result against what was drawn, by the project's goals.
func assertTrue(t *testing.T, p specimen.Photo, r outcome) {
	t.Helper()
	s := p.Truth.Compare(flat(r.Centreline), r.Strokes.Topology(), r.Size)
	assert.Equal(t, s.Want, s.Got, "parts, ends, junctions, loops")
	assert.LessOrEqual(t, s.Median, 0.15, "median error, mm")
	assert.LessOrEqual(t, s.P95, 0.4, "95th percentile, mm")
	assert.LessOrEqual(t, math.Abs(s.ScaleError), 0.003)
}

// A few of the plain set; make accuracy runs it all.
func TestPlainDrawings(t *testing.T) {
	t.Parallel()
	words, err := specimen.PlainWords()
	require.NoError(t, err, "make test installs hershey-fonts-data")
	// Outside check: glyphs of the Hershey fonts (Debian's
	// hershey-fonts-data) photographed and traced back.
	want := map[string]bool{"teapot": true, "cross": true, "house": true, "pentagram": true, "tree": true, "circle": true}
	n := 0
	for _, d := range specimen.Plain(words, 0) {
		if _, word := words[d.Name]; !word && !want[d.Name] {
			continue
		}
		n++
		t.Run(d.Name, func(t *testing.T) {
			t.Parallel()
			p := photo(t, d, specimen.White(), nil)
			assertTrue(t, p, mustRunTo(t, p.JPEG, pipeline.DefaultSettings(), pipeline.StageCentreline))
		})
	}
	assert.GreaterOrEqual(t, n, 12)
}

// Conditions beside the plain ones.
func TestConditions(t *testing.T) {
	t.Parallel()
	base := specimen.Demo()
	letter := base
	for _, c := range []struct {
		name   string
		d      func() specimen.Drawing
		paper  specimen.Paper
		view   func(*specimen.View)
		set    func(specimen.Truth) []string
		check  func(*testing.T, outcome)
		scale1 bool
	}{
		{name: "ruled", paper: specimen.Ruled()},
		{name: "squared", paper: specimen.SquaredPaper()},
		{name: "dim, warm and noisy", paper: specimen.White(), view: func(v *specimen.View) { v.Exposure, v.Warmth, v.Noise = 0.4, 0.3, 8 }},
		{name: "hard shadow", paper: specimen.White(), view: func(v *specimen.View) { v.Shadow, v.Penumbra = 0.55, 5 }},
		{name: "tilted by 35 degrees", paper: specimen.White(), view: func(v *specimen.View) { v.Tilt = 35 }},
		{name: "corners by hand", paper: specimen.White(), set: func(tr specimen.Truth) []string {
			return []string{"corners=" + placeList(tr.Corners[:]...)}
		}},
		{name: "dots by hand", paper: specimen.White(), set: func(tr specimen.Truth) []string {
			return []string{"dots=" + placeList(tr.DotsPx[1].Add(geom.Pt(9, -4)), tr.DotsPx[0])}
		}},
		{name: "US letter", paper: specimen.White(), d: func() specimen.Drawing {
			d := letter
			d.Sheet = geom.Pt(279.4, 215.9) // ANSI/ASME Y14.1, size A
			return d
		}, check: func(t *testing.T, r outcome) { assert.EqualValues(t, "letter", r.Dots.Page) }},
		{name: "A3 told by the dots", paper: specimen.White(), d: func() specimen.Drawing {
			d := base
			d.Sheet, d.PenWidth = geom.Pt(420, 297), 3 // ISO 216
			return d
		}, check: func(t *testing.T, r outcome) { assert.EqualValues(t, "A3", r.Dots.Page) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			d := base
			if c.d != nil {
				d = c.d()
			}
			p := photo(t, d, c.paper, c.view)
			s := pipeline.DefaultSettings()
			if c.set != nil {
				s = settings(t, c.set(p.Truth)...)
			}
			r := mustRunTo(t, p.JPEG, s, pipeline.StageCentreline)
			assertTrue(t, p, r)
			if c.check != nil {
				c.check(t, r)
			}
		})
	}
}

// When the dots and the page disagree the dots decide and the user is told.
func TestDotsAgainstPage(t *testing.T) {
	t.Parallel()
	d := specimen.Demo()
	d.Dots[1].X += 4 // 104 mm apart on A4
	p := photo(t, d, specimen.White(), nil)
	r := mustRunTo(t, p.JPEG, pipeline.DefaultSettings(), pipeline.StageDots)
	assert.InEpsilon(t, 297/1.04, r.Size.X, 0.002)
	note := strings.Join(r.Steps[3].Notes, " ")
	assert.InDelta(t, 1/1.04-1, r.Dots.PageOff, 0.001)
	assert.Contains(t, note, "% off its true size")
}

// Dots by hand are checked against the page, too; without dots the paper's size
// does; and dots above the drawing say that the picture may be upside down.
func TestScaleSaid(t *testing.T) {
	t.Parallel()
	p := demoPhoto(t)
	at := func(dx float64) string {
		a, b := p.Truth.DotsPx[0], p.Truth.DotsPx[1]
		return fmt.Sprintf("dots=%.1f,%.1f %.1f,%.1f", a.X, a.Y, b.X+dx, b.Y)
	}
	for _, c := range []struct {
		name    string
		set     []string
		unsure  bool
		scale   float64 // of the true one
		note    string
		because string
	}{
		{"dots by hand", []string{at(0)}, false, 1, "", "given by hand"},
		{"a dot dragged away", []string{at(60)}, true, 1.06, "", "off its true size"},
		{"by the paper", []string{"scale-from=paper"}, false, 1, "A3", "nothing checks it"},
		{"upside down", []string{"photo-turn=180"}, false, 1, "upside down", "agree"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := mustRunTo(t, p.JPEG, settings(t, c.set...), pipeline.StageDots)
			s := r.Steps[3]
			assert.Equal(t, c.unsure, s.Unsure(), s.Confidence.Why)
			assert.Contains(t, s.Confidence.Why, c.because)
			assert.Contains(t, strings.Join(s.Notes, " "), c.note)
			assert.InEpsilon(t, 297/c.scale, r.Size.X, 0.025)
		})
	}
}

// Two dots amid the lines may be full stops: where no page checks them, they are questioned.
func TestDotsAmidLines(t *testing.T) {
	t.Parallel()
	under := specimen.Demo()
	amid := specimen.Demo()
	amid.Strokes = append(amid.Strokes, geom.Polyline{geom.Pt(110, 200), geom.Pt(190, 200)})
	for name, c := range map[string]struct {
		drawing specimen.Drawing
		page    string
		unsure  bool
	}{
		"amid": {amid, "page=free", true}, "amid, on a page": {amid, "page=A4", false}, "under them": {under, "page=free", false},
	} {
		t.Run(name, func(t *testing.T) {
			r := mustRunTo(t, photo(t, c.drawing, specimen.White(), nil).JPEG, settings(t, c.page), pipeline.StageDots)
			s := r.Steps[3]
			assert.Equal(t, c.unsure, s.Unsure(), s.Confidence.Why)
			if c.unsure {
				assert.Contains(t, s.Confidence.Why, "amid the lines")
			}
		})
	}
}

// A line that runs off the sheet ends at its margin, which is said.
func TestLineRunsOff(t *testing.T) {
	t.Parallel()
	d := specimen.Demo()
	d.Strokes = append(d.Strokes, geom.Polyline{geom.Pt(40, 20), geom.Pt(-5, 30)})
	r := mustRunTo(t, photo(t, d, specimen.White(), nil).JPEG, pipeline.DefaultSettings(), pipeline.StageStrokes)
	assert.Contains(t, strings.Join(r.Steps[5].Notes, " "), "1 line ends at the sheet's edge")
	r = mustRunTo(t, demoPhoto(t).JPEG, pipeline.DefaultSettings(), pipeline.StageStrokes)
	assert.NotContains(t, strings.Join(r.Steps[5].Notes, " "), "sheet's edge")
}

// The pieces of a printed margin were told as a pen's of their own. On ruled paper they are
// left out and that is said; on plain paper they may be a drawing's, which is questioned.
func TestMarginIsNoPen(t *testing.T) {
	t.Parallel()
	d := specimen.OnA4("lines", []geom.Polyline{{geom.Pt(0, 0), geom.Pt(90, 60)}, {geom.Pt(0, 60), geom.Pt(90, 0)}}, 1, true)
	d.Pens = []color.RGBA{specimen.Black, specimen.Black, specimen.Red, specimen.Red}
	d.Strokes = append(d.Strokes,
		geom.Polyline{geom.Pt(12, 30), geom.Pt(12, 80)}, geom.Polyline{geom.Pt(12, 100), geom.Pt(12, 150)})
	for _, c := range []struct {
		name  string
		paper specimen.Paper
		pens  int
		said  string
	}{
		{"ruled", specimen.Ruled(), 1, "a printed margin, left out"},
		{"plain", specimen.White(), 2, "may be a printed margin"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := mustRunTo(t, photo(t, d, c.paper, nil).JPEG, pipeline.DefaultSettings(), pipeline.StageColours)
			f := stage.Of[pipeline.ColoursFound](r.Results)
			assert.Len(t, f.All, c.pens)
			require.Len(t, f.Strokes.Strokes, len(f.Of))
			s := r.Steps[6]
			assert.Contains(t, strings.Join(append(s.Notes, s.Confidence.Why), " "), c.said)
			for i, st := range f.Strokes.Strokes {
				red := st.Runs[0][0].X < 20
				assert.Equal(t, red, f.Of[i] == 1, "only the margin is red")
			}
		})
	}
}

// A pen of few lines may be the colour of the rules under another's, or on any paper of a blot: it is
// questioned.
func TestFewLinesAreQuestioned(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		black int     // lines of 108 mm
		red   float64 // mm of another pen's
		paper specimen.Paper
		doubt bool
	}{
		{"some, on ruled paper", 2, 19, specimen.Ruled(), true},
		{"some, on plain paper", 2, 19, specimen.White(), false},
		{"hardly any, on plain paper", 8, 12, specimen.White(), true},
	} {
		t.Run(c.name, func(t *testing.T) {
			var lines []geom.Polyline
			var pens []color.RGBA
			for i := range c.black {
				x := float64(12 * i)
				lines, pens = append(lines, geom.Polyline{geom.Pt(x, 0), geom.Pt(90+x, 60)}), append(pens, specimen.Black)
			}
			lines, pens = append(lines, geom.Polyline{geom.Pt(0, 70), geom.Pt(c.red, 70)}), append(pens, specimen.Red)
			d := specimen.OnA4("lines", lines, 1, true)
			d.Pens = pens
			r := mustRunTo(t, photo(t, d, c.paper, nil).JPEG, pipeline.DefaultSettings(), pipeline.StageColours)
			assert.Len(t, stage.Of[pipeline.ColoursFound](r.Results).All, 2)
			why := r.Steps[6].Confidence
			assert.Equal(t, c.doubt, r.Steps[6].Unsure(), why.Why)
			if c.doubt {
				assert.Regexp(t, `only \d+ mm are red`, why.Why)
			}
		})
	}
}

// A stage's error names the stage, what was seen, where, and what to do.
func TestRunRefuses(t *testing.T) {
	t.Parallel()
	none := specimen.Demo()
	none.DotSize = 0.05
	one := specimen.Demo()
	one.Dots[1] = one.Dots[0]
	for _, c := range []struct {
		name string
		d    specimen.Drawing
		want []string
	}{
		{"no dots", none, []string{"dots: no reference dot found where two are needed", "--scale-from paper", "--dots"}},
		{"one dot", one, []string{"dots: only one reference dot", "seen at ", "mm wide", "--dots"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := photo(t, c.d, specimen.White(), nil)
			_, err := run(p.JPEG, stage.Run{Settings: pipeline.DefaultSettings()})
			var se *stage.Error
			require.ErrorAs(t, err, &se)
			for _, w := range c.want {
				assert.ErrorContains(t, err, w)
			}
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

func TestRunStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	p := demoPhoto(t)
	src := pipeline.Source{Data: p.JPEG}
	r, err := pipeline.RunPhoto(ctx, src, stage.Run{Settings: pipeline.DefaultSettings(), Done: func(_ stage.Results, s stage.Step) {
		if s.Stage == pipeline.StageInk {
			cancel()
		}
	}})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Len(t, r.Steps, 3)
	r, err = run(p.JPEG, stage.Run{Settings: pipeline.DefaultSettings(), Until: pipeline.StageDots})
	require.NoError(t, err)
	assert.Len(t, r.Steps, 4)
	assert.False(t, r.Ran(pipeline.StageSkeleton))
}

// An R on the sheet is an R in the SVG and in the part: the stem on the left,
// the leg to the lower right.
func TestNotMirrored(t *testing.T) {
	t.Parallel()
	var r specimen.Drawing
	for _, d := range specimen.Plain(nil, 0) {
		if d.Name == "letter-r" {
			r = d
		}
	}
	p := photo(t, r, specimen.White(), nil)
	set := settings(t, "shape-tolerance=0", "tight-bends=join", "fit-ends=0", "fit-size=0") // lines left where they were drawn
	res := mustRunTo(t, p.JPEG, set, pipeline.StageChannel)
	lowerRight := func(w, h float64, at func(yield func(x, y float64))) (right, left int) {
		at(func(x, y float64) {
			if y > 0.6*h && x > 0.5*w {
				right++
			}
			if y < 0.4*h && x < 0.35*w {
				left++
			}
		})
		return
	}
	size := res.Size
	var lo, hi solid.Vertex
	lo, hi = res.Channel.Solid.Bounds()
	w, h := hi.X-lo.X, hi.Y-lo.Y
	right, left := lowerRight(w, h, func(yield func(x, y float64)) {
		for _, v := range res.Channel.Solid.Vertices {
			yield(v.X-lo.X, hi.Y-v.Y) // seen from the front
		}
	})
	assert.Positive(t, right, "the leg ends at the lower right")
	assert.Positive(t, left, "the stem is on the left")
	// The part lies where the drawing does on the sheet, upside up.
	var all []geom.Point
	for _, s := range p.Truth.Strokes {
		all = append(all, s...)
	}
	b := geom.Bounds(all)
	assert.InDelta(t, b.Min.X-3.5, lo.X, 0.4)
	assert.InDelta(t, size.Y-b.Min.Y+3.5, hi.Y, 0.4)
}

// The SVG is XML whose width, height and viewBox are the sheet in mm, and
// whose paths are moves and cubics within it that say what the curves say.
func TestSVG(t *testing.T) {
	t.Parallel()
	p := demoPhoto(t)
	r := mustRunTo(t, p.JPEG, pipeline.DefaultSettings(), pipeline.StageCentreline)
	var doc struct {
		Width   string `xml:"width,attr"`
		Height  string `xml:"height,attr"`
		ViewBox string `xml:"viewBox,attr"`
		G       struct {
			Path []struct {
				D string `xml:"d,attr"`
			} `xml:"path"`
		} `xml:"g"`
	}
	require.NoError(t, xml.Unmarshal(folder.SVG(r.Centreline, r.Size, nil), &doc))
	w, err := strconv.ParseFloat(strings.TrimSuffix(doc.Width, "mm"), 64)
	require.NoError(t, err)
	h, err := strconv.ParseFloat(strings.TrimSuffix(doc.Height, "mm"), 64)
	require.NoError(t, err)
	assert.InDelta(t, 297, w, 0.3, "ISO 216 A4")
	assert.InDelta(t, 210, h, 0.3)
	assert.Equal(t, fmt.Sprintf("0 0 %s %s", strings.TrimSuffix(doc.Width, "mm"), strings.TrimSuffix(doc.Height, "mm")), doc.ViewBox)
	require.Len(t, doc.G.Path, len(r.Centreline.Curves))
	form := regexp.MustCompile(`^M[-\d.]+ [-\d.]+( C([-\d.]+ ){5}[-\d.]+)+( Z)?$`)
	number := regexp.MustCompile(`-?\d+\.\d+`)
	for i, path := range doc.G.Path {
		require.Regexp(t, form, path.D)
		n := number.FindAllString(path.D, -1)
		assert.Len(t, n, 2+6*len(r.Centreline.Curves[i].Pieces))
		x, _ := strconv.ParseFloat(n[0], 64)
		assert.InDelta(t, r.Centreline.Curves[i].Pieces[0][0].X, x, 0.0006)
	}
}

// Outside check: admesh (Debian) finds nothing to mend in the STL, as many
// parts as the drawing has, and our volume. hschendel/stl reads it back.
func TestSTLAgainstAdmesh(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"teapot", "target", "hash", "letter-r", "flower"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var d specimen.Drawing
			for _, e := range specimen.Plain(nil, 0) {
				if e.Name == name {
					d = e
				}
			}
			r := mustRunTo(t, photo(t, d, specimen.White(), nil).JPEG, pipeline.DefaultSettings(), pipeline.StageChannel)
			data, err := folder.STL(r.Channel.Solid, "test")
			require.NoError(t, err)
			back, err := stl.ReadAll(bytes.NewReader(data))
			require.NoError(t, err)
			assert.False(t, back.IsAscii)
			assert.Len(t, back.Triangles, len(r.Channel.Solid.Triangles))
			file := filepath.Join(t.TempDir(), "channel.stl")
			require.NoError(t, os.WriteFile(file, data, 0o600))
			out, err := exec.Command(outside.Tool(t, "admesh"), file).CombinedOutput()
			require.NoError(t, err, "make test installs admesh")
			report := string(out)
			for _, zero := range []string{"Degenerate facets", "Edges fixed", "Facets removed", "Facets added", "Facets reversed", "Backwards edges", "Normals fixed"} {
				assert.Equal(t, 0.0, admeshNumber(t, report, zero), zero)
			}
			assert.Equal(t, float64(len(r.Channel.Body)), admeshNumber(t, report, "Number of parts"))
			assert.InEpsilon(t, r.Channel.Solid.Volume(), admeshNumber(t, report, "Volume"), 1e-3)
		})
	}
}

// admeshNumber reads the number after a name in admesh's report.
func admeshNumber(t *testing.T, report, name string) float64 {
	t.Helper()
	m := regexp.MustCompile(regexp.QuoteMeta(name) + `\s*:\s*(-?[\d.]+)`).FindStringSubmatch(report)
	require.NotNil(t, m, "%s in %s", name, report)
	v, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return v
}

// The same photo gives the same files, whatever the number of cores.
func TestRepeatable(t *testing.T) {
	p := demoPhoto(t)
	var first []byte
	var r outcome
	for _, cores := range []int{1, 2, 5} {
		withCores(cores, func() {
			r = mustRun(t, p.JPEG, pipeline.DefaultSettings())
			data, err := folder.STL(r.Channel.Solid, "x")
			require.NoError(t, err)
			sum, err := folder.Summarise(r.Results)
			require.NoError(t, err)
			data = append(data, sum...)
			data = append(data, folder.SVG(r.Line, r.Size, nil)...)
			data = append(data, r.file(t, folder.FileSign)...)
			if first == nil {
				first = data
			}
			assert.True(t, bytes.Equal(first, data), "%d cores", cores)
		})
	}
	var s folder.Summary
	sum, err := folder.Summarise(r.Results)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(sum, &s))
	assert.Len(t, s.Steps, len(pipeline.Table().Stages()))
	assert.InDelta(t, r.Channel.Solid.Volume(), s.Channel.Volume, 0.001)
	require.NotNil(t, s.Sign)
	require.Len(t, s.Sign.Prints, len(r.Prints))
	grams := 0.0
	for _, p := range s.Sign.Prints {
		grams += p.Grams
		assert.Positive(t, p.Volume)
	}
	assert.InDelta(t, grams, s.Sign.Grams, 0.01)
	assert.Len(t, s.Rules.Bends, len(r.Bends))
	assert.Len(t, s.Rules.Junctions, len(r.Junctions))
}

func placeList(pts ...geom.Point) string {
	var out []string
	for _, p := range pts {
		out = append(out, fmt.Sprintf("%g,%g", p.X, p.Y))
	}
	return strings.Join(out, " ")
}

// withCores runs f with Go's number of cores set to n.
func withCores(n int, f func()) {
	old := runtime.GOMAXPROCS(n)
	defer runtime.GOMAXPROCS(old)
	f()
}
