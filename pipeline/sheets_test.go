package pipeline_test

import (
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/fogleman/gg"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
)

// assertStrip checks that every millimetre of every stroke is covered once, by no fewer
// pieces than are needed.
func assertStrip(t *testing.T, r outcome) {
	t.Helper()
	covered := make([]float64, len(r.Line.Curves))
	for _, p := range r.Strips.Pieces {
		for _, s := range p.Spans {
			covered[s.Curve] += s.Length()
		}
		assert.LessOrEqual(t, p.Strip, p.Path+1e-6)
		assert.InDelta(t, p.Path, p.Strip+p.Gaps[0]+p.Gaps[1], 1e-6)
	}
	for i, k := range r.Line.Curves {
		assert.InDelta(t, geom.NewRuler(k).Length(), covered[i], 1e-6, "stroke %d", i+1)
	}
	assert.GreaterOrEqual(t, len(r.Strips.Pieces), r.Strips.Bound, "where ending lights more than passing there are more than the fewest")
}

func TestStripsOfIcons(t *testing.T) {
	t.Parallel()
	names, err := specimen.Icons(npm)
	require.NoError(t, err)
	const unit = 8
	for i := 0; i < len(names); i += 5 {
		t.Run(filepath.Base(names[i]), func(t *testing.T) {
			t.Parallel()
			line, err := specimen.Icon(names[i], unit)
			require.NoError(t, err)
			assertStrip(t, signOf(t, line, specimen.IconSide*unit, pipeline.StageStrips, settings(t, "hold=none")))
		})
	}
}

// The cut sheet on a raster of 254 dpi (10 px a mm) by poppler's pdftoppm: the
// page's size (ISO 216 A4), the ruler of 100 mm, and a line of the sign at its
// true length.
func TestCutSheet(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		length float64
		pages  int
		W, H   float64
	}{{"fits upright", 120, 1, 210, 297}, {"on its side", 240, 1, 297, 210}, {"four pages", 700, 3, 297, 210}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := signOf(t, geom.Join([]geom.Curve{geom.Lines(geom.Pt(20, 60), geom.Pt(20+c.length, 60))}, 0.1), 800, "", settings(t, "hold=none"))
			in, ok := stage.Inputs[papers.CutSheetIn](r.Results)
			require.True(t, ok)
			p := papers.PlanCutSheet(in)
			assert.Equal(t, c.pages, p.Across*p.Down)
			img := rasterise(t, r.file(t, folder.FileCutSheet))
			assert.InDelta(t, c.W*10, img.Bounds().Dx(), 1.5)
			assert.InDelta(t, c.H*10, img.Bounds().Dy(), 1.5)
			ruler := darkRun(img, int((c.H-10)*10))
			assert.InDelta(t, 1000, ruler, 3, "the ruler is 100 mm long")
			if c.pages > 1 {
				return
			}
			// The strip's own line, on the row of the centreline.
			y := int((60 - p.Origin.Y + (p.Page.X-p.Window.X)/2) * 10)
			want := r.Strips.Pieces[0].Strip * 10
			assert.InDelta(t, want, darkRun(img, y), 6, "true to size")
		})
	}
}

// darkRun is the length in px of the longest dark run about a row.
func darkRun(img image.Image, y int) int {
	best := 0
	b := img.Bounds()
	for dy := -4; dy <= 4; dy++ {
		run := 0
		for x := b.Min.X; x < b.Max.X; x++ {
			v, _, _, _ := img.At(x, y+dy).RGBA()
			if v < 0x9000 {
				run++
				best = max(best, run)
			} else {
				run = 0
			}
		}
	}
	return best
}

func TestSheetsOfDemo(t *testing.T) {
	t.Parallel()
	r := demoSign(t)
	assertStrip(t, r)
	require.Len(t, r.Power.Circuits, len(r.Strips.Circuits))
	var doc struct {
		Width string `xml:"width,attr"`
	}
	svg := r.file(t, "wiring.svg")
	require.NoError(t, xml.Unmarshal(svg, &doc))
	assert.NotEmpty(t, doc.Width)
	for i := range r.Strips.Pieces {
		assert.Contains(t, string(svg), fmt.Sprintf(">piece %d<", i+1))
	}
	list := r.file(t, "parts-list.csv")
	rows, err := csv.NewReader(strings.NewReader(string(list))).ReadAll()
	require.NoError(t, err)
	text := string(list)
	for _, want := range []string{"LED strip flex-5-12", "fuse with holder", "supply", "print: stand"} {
		assert.Contains(t, text, want)
	}
	in, ok := stage.Inputs[papers.ListIn](r.Results)
	require.True(t, ok)
	assert.Len(t, rows, 1+len(papers.PartsList(in, folder.PartFile)))
	guide := string(r.file(t, folder.FileAssembly))
	for _, want := range []string{"low-voltage side only", "licensed electrician", "local codes", "fuse", "cut-sheet.pdf"} {
		assert.Contains(t, guide, want)
	}
	again := string(r.file(t, folder.FileAssembly))
	assert.Equal(t, guide, again)
}

// The page of assembly says what the text says, with a picture of every step but those that
// another shows: the wires' from behind in the wires' colours, the strip's in the strip's.
func TestAssemblyPage(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{
		geom.Lines(geom.Pt(20, 160), geom.Pt(160, 160)), geom.Lines(geom.Pt(20, 100), geom.Pt(160, 100)),
	}, 0.1)
	r := signOf(t, line, 180, "", settings(t))
	page := string(r.file(t, folder.FileAssemblyPage))
	assert.NotContains(t, page, "<script")
	text := html.UnescapeString(page)
	in, ok := stage.Inputs[papers.ListIn](r.Results)
	require.True(t, ok)
	steps := papers.Steps(in, papers.FileNames{Part: folder.PartFile})
	for _, s := range steps {
		for _, say := range append(slices.Clone(s.Need), s.Check, s.Caution) {
			assert.Contains(t, text, say)
		}
	}
	for _, row := range strings.Split(string(r.file(t, folder.FileAssembly)), "\n") {
		if cells := strings.Split(strings.Trim(row, "| "), " | "); strings.HasPrefix(row, "|") && !strings.HasPrefix(row, "|--") {
			for _, c := range cells {
				assert.Contains(t, text, c)
			}
		}
	}
	for _, p := range in.Beds.Prints {
		assert.Contains(t, text, "<td>"+p.Name+"</td>")
	}
	var shown []image.Image
	for _, part := range strings.Split(text, "data:image/jpeg;base64,")[1:] {
		data, err := base64.StdEncoding.DecodeString(part[:strings.Index(part, "\"")])
		require.NoError(t, err)
		img, err := jpeg.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		shown = append(shown, img)
	}
	assert.Len(t, shown, len(steps), "a picture for each step")
	count := func(img image.Image, like func(r, g, b int) bool) (n int) {
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if r, g, b, _ := img.At(x, y).RGBA(); like(int(r>>8), int(g>>8), int(b>>8)) {
					n++
				}
			}
		}
		return n
	}
	blue := func(r, g, b int) bool { return b > r+60 && b > g+20 }
	yellow := func(r, g, b int) bool { return r > 150 && g > 110 && b < 100 }
	assert.Greater(t, count(shown[3], blue), 800, "wires and their numbers")
	assert.Greater(t, count(shown[4], yellow), 5000, "strip")
	assert.Less(t, count(shown[3], yellow), 300, "no strip yet")
}

// A strip of more volts needs thinner wires; a long sign is fed at more points.
func TestPowerOfSign(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Arc(geom.Pt(700, 700), 600, 0, 360)}, 0.1)
	lib, err := power.Library()
	require.NoError(t, err)
	amps := map[float64]float64{}
	for _, s := range lib[:2] {
		r := signOf(t, line, 1400, "", pipeline.UseStrip(settings(t, "hold=none", "bed-width=400", "bed-depth=400"), s))
		require.Len(t, r.Power.Circuits, 1)
		c := r.Power.Circuits[0]
		amps[s.Volts] = c.Amps
		assert.Greater(t, c.Feeds, 1, "3.77 m")
		assert.InDelta(t, math.Floor(2*math.Pi*600/s.Cut)*s.Cut/1000*s.Watts, r.Power.Watts, 1e-6)
	}
	assert.Less(t, amps[24], amps[12])
}

// Two pens: each stroke gets its own colour also in warm shade, each colour its
// own circuits, and where they cross it is told which strip passes.
func TestTwoPens(t *testing.T) {
	t.Parallel()
	d := specimen.Drawing{
		Name: "two pens", PenWidth: 2.5, Pen: specimen.Black, Sheet: geom.Pt(297, 210), DotSize: 4,
		Dots: [2]geom.Point{{X: 98, Y: 190}, {X: 198, Y: 190}},
		Strokes: []geom.Polyline{
			{{X: 50, Y: 100}, {X: 240, Y: 100}}, {{X: 100, Y: 40}, {X: 100, Y: 160}}, {{X: 180, Y: 30}, {X: 220, Y: 70}},
		},
		Pens: []color.RGBA{specimen.Black, specimen.Red, specimen.Blue},
	}
	for _, v := range specimen.PlainViews() {
		t.Run(v.Name, func(t *testing.T) {
			t.Parallel()
			v.Width = 2828
			p, err := specimen.Take(d, specimen.White(), v)
			require.NoError(t, err)
			r := mustRun(t, p.JPEG, pipeline.DefaultSettings())
			require.Len(t, r.Pens.All, 3)
			for i, k := range r.Line.Curves {
				a, b := k.Pieces[0][0], k.Pieces[len(k.Pieces)-1][3]
				want := "blue"
				switch {
				case math.Abs(a.Y-b.Y) < 10:
					want = "black"
				case math.Abs(a.X-b.X) < 10:
					want = "red"
				}
				assert.Equal(t, want, r.Pens.PenName(k.Ink), "stroke %d", i+1)
			}
			assertStrip(t, r)
			assert.Len(t, r.Strips.Circuits, 3, "a circuit for each colour")
			notes := ""
			for _, s := range r.Steps {
				notes += strings.Join(s.Notes, "\n") + "\n"
			}
			assert.Regexp(t, `the black strip runs through and the red one is cut`, notes)
			list := r.file(t, "parts-list.csv")
			assert.Contains(t, string(list), "LED strip flex-5-12 (red)")
		})
	}
}

// The page stands alone: no script, nothing fetched, every stage and every part
// on it; the lit picture is brighter on the lines than beside them, and dark
// far off.
func TestPage(t *testing.T) {
	t.Parallel()
	p := demoPhoto(t)
	table := pipeline.Table()
	pictures := folder.NewPictures(table)
	set := pipeline.DefaultSettings()
	res, err := run(p.JPEG, stage.Run{Settings: set, Done: pictures.Draw})
	require.NoError(t, err)
	r := outcomeOf(res, set)
	data, err := folder.Page(folder.Run{Table: table, Results: res, Settings: set, Pictures: pictures})
	require.NoError(t, err)
	text := html.UnescapeString(string(data))
	has := func(want string) { assert.True(t, strings.Contains(text, want), want) } // the page is too long to print
	for _, s := range table.Stages() {
		has(`id="` + s.Name + `"`)
		has(s.Does)
	}
	for _, q := range r.Prints {
		has("print: " + q.Name)
	}
	assert.False(t, strings.Contains(text, "<script"))
	for _, m := range regexp.MustCompile(`(?:src|href)="([^"]{0,12})`).FindAllStringSubmatch(text, -1) {
		assert.True(t, strings.HasPrefix(m[1], "data:image/j") || strings.HasPrefix(m[1], "#"), m[1])
	}
	assert.Equal(t, len(table.Stages())+1, strings.Count(text, "<img "))
	assert.Equal(t, len(table.Stages())+1, strings.Count(text, ` alt="`))
	in, ok := stage.Inputs[pipeline.LitIn](res)
	require.True(t, ok)
	img := pipeline.Lit(in, 800)
	light := func(q geom.Point) int {
		k := 800 / max(r.Size.X, r.Size.Y)
		c := img.RGBAAt(int(q.X*k), int(q.Y*k))
		return int(c.R) + int(c.G) + int(c.B)
	}
	way := pipeline.Way(r.Line, r.Strips.Pieces[len(r.Strips.Pieces)-1])
	on := way.At(way.Length() / 3)
	assert.Greater(t, light(on), 600)
	assert.Greater(t, light(on), light(on.Add(geom.Pt(0, 12)))+100)
	assert.Less(t, light(geom.Pt(3, 3)), 160)
}

// What a user writes cannot become markup.
func TestPageEscapes(t *testing.T) {
	r := stage.Results{Steps: []stage.Step{{Stage: pipeline.StagePhoto, Report: stage.Report{
		Found: `<img src=x onerror="alert(1)">`, Notes: []string{"a & b <script>"},
	}}}}
	data, err := folder.Page(folder.Run{Table: pipeline.Table(), Results: r})
	require.NoError(t, err)
	assert.NotContains(t, string(data), "<script>")
	assert.NotContains(t, string(data), "<img src=x")
}

// The wire sheet on a raster of poppler's: the page's size and ruler, and a wire of the
// sign at its true length, mirrored: the hole at the line's left end lies right.
func TestWireSheet(t *testing.T) {
	t.Parallel()
	r := signOf(t, geom.Join([]geom.Curve{geom.Lines(geom.Pt(20, 60), geom.Pt(140, 60))}, 0.1), 300, "", settings(t, "hold=none"))
	sign := stage.Of[pipeline.PartsFound](r.Results)
	require.Len(t, sign.Harness, 1)
	way := sign.Harness[0].Path
	img := rasterise(t, r.file(t, folder.FileWireSheet))
	assert.InDelta(t, 2100, img.Bounds().Dx(), 1.5)
	assert.InDelta(t, 1000, darkRun(img, 2870), 3, "the ruler is 100 mm long")
	in, ok := stage.Inputs[papers.CutSheetIn](r.Results)
	require.True(t, ok)
	p := papers.PlanCutSheet(in)
	y := int((60 - p.Origin.Y + (p.Page.X-p.Window.X)/2) * 10)
	along := math.Abs(way[len(way)-1].X-way[0].X) * 10
	assert.Greater(t, along, 300.0)
	assert.InDelta(t, along, darkRun(img, y), 10, "true to size, but for half a hole")
	frame := stage.Of[pipeline.DotsFound](r.Results).Frame
	hole := frame.Sheet(sign.Holes[1].At)
	mid := p.Origin.X + p.Window.X/2
	want := (p.Page.X - p.Window.X) / 2 * 10
	assert.InDelta(t, want+10*(mid+(mid-hole.X)-p.Origin.X), darkEnd(img, y), 20, "behind, left is right")
}

// darkEnd is where the longest dark run in a row ends, px.
func darkEnd(img image.Image, y int) int {
	b := img.Bounds()
	best, at := 0, 0
	run := 0
	for x := b.Min.X; x < b.Max.X; x++ {
		if v, _, _, _ := img.At(x, y).RGBA(); v < 0x9000 {
			if run++; run > best {
				best, at = run, x
			}
		} else {
			run = 0
		}
	}
	return at
}

// The drill sheet on a raster of poppler's: the level line between two screws at its true
// length. The screws are level and on either side of the centre of mass; pads need none.
func TestDrillSheet(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Arc(geom.Pt(80, 80), 50, 0, 360), geom.Lines(geom.Pt(80, 30), geom.Pt(80, 130))}, 0.1)
	for _, hold := range []string{"keyhole", "ears"} {
		r := signOf(t, line, 160, "", settings(t, "hold="+hold))
		in, ok := stage.Inputs[papers.RearSheetIn](r.Results)
		require.True(t, ok)
		s := in.Parts.Screws
		require.GreaterOrEqual(t, len(s), 2)
		for i := 1; i < len(s); i += 2 {
			assert.InDelta(t, s[i-1].Y, s[i].Y, 1e-6, "level")
			assert.Less(t, s[i-1].X, 80.0, "the drawing is symmetrical about x = 80")
			assert.Greater(t, s[i].X, 80.0)
		}
		img := rasterise(t, r.file(t, folder.FileDrillSheet))
		long := 0
		for y := 50; y < img.Bounds().Dy()*9/10; y++ {
			long = max(long, darkRun(img, y))
		}
		want := 0.0
		for i := 1; i < len(s); i += 2 {
			want = max(want, s[i].X-s[i-1].X)
		}
		assert.InDelta(t, 10*(want+2*6), long, 8, "from the one cross to the other, 6 mm beyond at each end")
	}
	pads := signOf(t, line, 160, "", settings(t, "hold=pads"))
	for _, f := range pads.files(t) {
		assert.NotEqual(t, folder.FileDrillSheet, f.Name)
	}
}

// A clean picture has no dots and no paper: the size asked for sets its scale, and a scan has the paper's.
func TestLineArt(t *testing.T) {
	t.Parallel()
	art := func(w, h int, line func(c *gg.Context)) []byte {
		c := gg.NewContext(w, h)
		c.SetRGB(1, 1, 1)
		c.Clear()
		c.SetRGB(0.1, 0.1, 0.1)
		line(c)
		c.Stroke()
		var b bytes.Buffer
		require.NoError(t, c.EncodePNG(&b))
		return b.Bytes()
	}
	oval := func(c *gg.Context) {
		c.SetLineWidth(8)
		c.DrawEllipse(500, 400, 300, 200)
	}
	scan := func(c *gg.Context) { // A4 at 200 px to the inch
		c.SetLineWidth(10)
		c.DrawCircle(800, 1000, 50/25.4*200)
	}
	silhouette := func(c *gg.Context) { // the same filled: its outline is the line
		scan(c)
		c.Fill()
	}
	for _, c := range []struct {
		name  string
		data  []byte
		flags []string
		size  geom.Point // of the line, mm
	}{
		{"by its width", art(1000, 800, oval), []string{"width=200"}, geom.Pt(193, 193*2.0/3)},
		{"by its height, said", art(1000, 800, oval), []string{"scale-from=size", "height=107"}, geom.Pt(150, 100)},
		{"a scan", art(1654, 2339, scan), []string{"scale-from=paper"}, geom.Pt(100, 100)},
		{"a scan of a silhouette", art(1654, 2339, silhouette), []string{"scale-from=paper"}, geom.Pt(100, 100)},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := run(c.data, stage.Run{Settings: settings(t, c.flags...), Until: pipeline.StageCentreline})
			require.NoError(t, err)
			got := geom.BoundsOf(stage.Of[pipeline.CentrelineFound](r).Line.Curves, 0.01).Size()
			assert.InDelta(t, c.size.X, got.X, 0.5)
			assert.InDelta(t, c.size.Y, got.Y, 0.5)
		})
	}
	_, err := run(art(1000, 800, oval), stage.Run{Settings: settings(t, "scale-from=paper", "page=A4")})
	assert.ErrorContains(t, err, "or give the scale by --width or --height")
	_, err = run(art(1000, 800, oval), stage.Run{Settings: settings(t, "scale-from=paper", "page=A4", "width=150")})
	assert.ErrorContains(t, err, "or leave out --scale-from, as the size asked for gives the scale")
	_, err = run(art(1000, 800, oval), stage.Run{Settings: settings(t, "scale-from=size")})
	assert.ErrorContains(t, err, "--width or --height")
	_, err = run(art(1000, 800, oval), stage.Run{Settings: settings(t)})
	assert.ErrorContains(t, err, "say how large the sign is with --width")
}
