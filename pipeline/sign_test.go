package pipeline_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/letters"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
	"inkchannel/testdata/outside"
	"inkchannel/vision"
)

// Outside check: npm's manifold-3d takes every part for a manifold of the genus
// and volume that we count.
func assertManifold(t *testing.T, prints []pipeline.Print) {
	t.Helper()
	dir := t.TempDir()
	for i, p := range prints {
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("%03d.mesh", i)), specimen.MeshFile(p.Mesh), 0o600))
	}
	out, err := exec.Command(outside.Tool(t, "node"), "../testdata/outside/manifold.mjs", dir).Output()
	require.NoError(t, err, "make test installs manifold-3d")
	var got map[string]struct {
		Status    string
		Genus     int
		Volume    float64
		Triangles int
	}
	require.NoError(t, json.Unmarshal(out, &got))
	require.Len(t, got, len(prints))
	for i, p := range prints {
		v := got[fmt.Sprintf("%03d", i)]
		s := p.Mesh.Check()
		require.NoError(t, s.Err(), p.Name)
		assert.Equal(t, "NoError", v.Status, p.Name)
		assert.InEpsilon(t, s.Volume, v.Volume, 1e-4, p.Name)
		// Euler: vertices − edges + facets = 2 · (surfaces − handles).
		assert.Equal(t, s.Parts-s.Euler/2, v.Genus+s.Parts-1, p.Name)
	}
}

func TestDemoSign(t *testing.T) {
	t.Parallel()
	r := demoSign(t)
	var names []string
	for _, p := range r.Prints {
		names = append(names, p.Name)
	}
	assert.ElementsMatch(t, []string{"channel 1", "channel 2", "channel 3", "backboard", "stand", "lid"}, names)
	assert.Equal(t, 1, r.Layout.Beds)
	assert.Empty(t, r.Tight)
	assert.Empty(t, pipeline.Table().FailedRules(r.Results))
	require.NotNil(t, r.Sign.Balance)
	assert.GreaterOrEqual(t, r.Sign.Balance.Tilt, 10.0)
	assertManifold(t, r.Prints)
	for _, p := range r.Prints {
		data, err := folder.STL(p.Mesh, p.Name)
		require.NoError(t, err)
		name := filepath.Join(t.TempDir(), "part.stl")
		require.NoError(t, os.WriteFile(name, data, 0o600))
		report, err := exec.Command(outside.Tool(t, "admesh"), name).CombinedOutput()
		require.NoError(t, err, "make test installs admesh")
		// Outside check: admesh 0.98 has nothing to mend.
		for _, n := range []string{"Edges fixed", "Facets removed", "Facets added", "Facets reversed", "Backwards edges", "Degenerate facets"} {
			assert.Zero(t, admeshNumber(t, string(report), n), "%s: %s", p.Name, n)
		}
		assert.InEpsilon(t, p.Mesh.Volume(), admeshNumber(t, string(report), "Volume"), 1e-3, p.Name)
	}
	check3MF(t, r)
}

// Outside checks on the 3MF: it follows the rules of the core specification's
// schema (xmllint) and lib3mf, the 3MF Consortium's reader, opens it without a
// warning and takes every mesh for manifold and oriented.
func check3MF(t *testing.T, r outcome) {
	t.Helper()
	data := r.file(t, folder.FileSign)
	assert.True(t, bytes.Equal(data, r.file(t, folder.FileSign)), "the same to the byte")
	dir := t.TempDir()
	name := filepath.Join(dir, "sign.3mf")
	require.NoError(t, os.WriteFile(name, data, 0o600))
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	f, err := z.Open("3D/3dmodel.model")
	require.NoError(t, err)
	model, err := io.ReadAll(f)
	require.NoError(t, err)
	xml := filepath.Join(dir, "model.xml")
	require.NoError(t, os.WriteFile(xml, model, 0o600))
	out, err := exec.Command(outside.Tool(t, "xmllint"), "--noout", "--nonet", "--huge", "--schema", "../testdata/outside/3mf-core.xsd", xml).CombinedOutput()
	require.NoError(t, err, "%s", out)
	out, err = exec.Command(outside.Python(t), "../testdata/outside/read3mf.py", name).Output()
	require.NoError(t, err, "make test installs lib3mf1")
	var got struct {
		Warnings []string
		Unit     int
		Items    []struct {
			Name                string
			Vertices, Triangles int
			Manifold            bool
		}
	}
	require.NoError(t, json.Unmarshal(out, &got))
	assert.Empty(t, got.Warnings)
	assert.Equal(t, 1, got.Unit, "millimetre")
	require.Len(t, got.Items, len(r.Prints))
	for i, it := range got.Items {
		assert.Equal(t, r.Prints[i].Name, it.Name)
		assert.Equal(t, len(r.Prints[i].Mesh.Vertices), it.Vertices)
		assert.Equal(t, len(r.Prints[i].Mesh.Triangles), it.Triangles)
		assert.True(t, it.Manifold, it.Name)
	}
}

// On a small bed the channel is cut; all pieces fit, lie on beds and are solids.
func TestSmallBed(t *testing.T) {
	t.Parallel()
	r := demoSign(t, "bed-width=160", "bed-depth=150", "cover=yes")
	assert.NotEmpty(t, r.Cuts)
	assert.Greater(t, len(r.Prints), 10)
	assert.Greater(t, r.Layout.Beds, 1)
	room := solid.Box(5, 5, 155, 145).Grow(0.01)
	for i, p := range r.Prints {
		pl := r.Layout.Places[i]
		assert.True(t, room.Covers(p.Solid.Shadow().Moved(pl.Turn, pl.Move)), p.Name)
		assert.InDelta(t, p.Solid.Shadow().Size(), p.Shadow.Size(), 1e-9, p.Name)
	}
	assertManifold(t, r.Prints)
	check3MF(t, r)
}

// The largest part lies on the bed where it is put; where there is no room for it there, that is told, and its
// handle is where it lies.
func TestLaidByHand(t *testing.T) {
	t.Parallel()
	names, err := specimen.Icons(npm)
	require.NoError(t, err)
	line, err := specimen.Icon(iconNamed(names, "home"), 5)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		at   string
		want geom.Point
		sure bool
	}{
		"room":    {"150,140", geom.Pt(150, 140), true},
		"no room": {"0,0", geom.Pt(54, 68), false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := signOf(t, line, 5*specimen.IconSide, pipeline.StageBeds, settings(t, "lay-at="+c.at, "bed-width=250", "bed-depth=250"))
			st, err := pipeline.Table().Stage(pipeline.StageBeds)
			require.NoError(t, err)
			flag, handles := st.Handles(r.Results)
			require.Len(t, handles, 1)
			assert.Equal(t, "lay-at", flag)
			assert.Less(t, handles[0].Place.Dist(c.want), 3.0, "%v", handles[0].Place)
			k, err := pipeline.Table().Setting(flag)
			require.NoError(t, err)
			again, err := pipeline.Picked(r.Results, k, false, handles[0].Share)
			require.NoError(t, err)
			assert.Less(t, again.Dist(handles[0].Place), 1e-6, "to the picture and back")
			last := r.Steps[len(r.Steps)-1]
			assert.Equal(t, c.sure, !last.Unsure(), "%v", last.Confidence)
		})
	}
}

// A smooth line that is no shape stays smooth: lines and arcs that were within the tolerance of a piece
// of a round letter once put kinks of ten degrees into it.
func TestShapesKeepLettersSmooth(t *testing.T) {
	t.Parallel()
	const smooth, kink = 4.0, 8.0 // degrees
	turns := func(c geom.Centreline) (n int, worst float64) {
		for _, k := range c.Curves {
			for i := 1; i < len(k.Pieces); i++ {
				if a := k.Pieces[i-1].Heading(1).Angle(k.Pieces[i].Heading(0)); a > smooth {
					n++
					worst = max(worst, a)
				}
			}
		}
		return n, worst
	}
	for _, word := range []string{"C", "O", "Q", "S", "G", "D"} {
		t.Run(word, func(t *testing.T) {
			t.Parallel()
			set := letters.Default()
			set.Height = 60
			curves, size, err := letters.Words([]string{word}, set)
			require.NoError(t, err)
			line := geom.Join(curves, 0.05)
			corners, sharp := turns(line)
			r := signOf(t, line, max(size.X, size.Y), pipeline.StageShapes, pipeline.DefaultSettings())
			n, worst := turns(stage.Of[pipeline.ShapesFound](r.Results).Line)
			assert.Less(t, worst, max(sharp+2, kink))
			assert.LessOrEqual(t, n, corners+2, "corners")
		})
	}
}

// Where the wires leave a channel nothing to be glued by, that is told, with what helps.
func TestLittleGlueIsDoubted(t *testing.T) {
	t.Parallel()
	curves, size, err := letters.Words([]string{"TEA", "ROOM"}, letters.Default())
	require.NoError(t, err)
	line := geom.Join(curves, 0.05)
	for flags, sure := range map[string]bool{"rear=2": false, "rear=2.8 backboard=ribs": true, "rear=3 backboard=solid": true} {
		t.Run(flags, func(t *testing.T) {
			t.Parallel()
			flags += " strip-watts=9" // which takes thick wires
			r := signOf(t, line, max(size.X, size.Y), pipeline.StageParts, settings(t, strings.Fields(flags)...))
			f, last := stage.Of[pipeline.PartsFound](r.Results), r.Steps[len(r.Steps)-1]
			least := math.Inf(1)
			for _, p := range f.Parts {
				if p.Channel && !p.Pose.Flip {
					least = min(least, f.Glued(p))
				}
			}
			assert.Equal(t, sure, least >= parts.LeastGlue, "%g mm²", least)
			assert.Equal(t, sure, !last.Unsure())
			if !sure {
				assert.Contains(t, last.Confidence.Why, "--rear 2.8 gives the wires room beside it, and --backboard solid gives more to glue", "ribs leave the fewest loose")
				whole := signOf(t, line, max(size.X, size.Y), "", settings(t, strings.Fields(flags)...))
				assert.Regexp(t, `Too little of channel \d+ is glued onto the backboard`, string(whole.file(t, "assembly.html")))
			}
		})
	}
}

// Where the wires need a thicker rear it is made so, and no thicker than it may be; what holds is left
// as it is, and what came out so comes out again by the settings that it ended with.
func TestRearIsDeepenedForWires(t *testing.T) {
	t.Parallel()
	drawn := func(words ...string) lines.Drawing {
		curves, size, err := letters.Words(words, letters.Default())
		require.NoError(t, err)
		return lines.Drawing{Size: size, Curves: curves, Inks: []color.RGBA{{A: 255}}}
	}
	words, bar := drawn("TEA", "ROOM"), drawn("L")
	for name, c := range map[string]struct {
		d     lines.Drawing
		flags []string
		rear  float64
		holds bool
	}{
		"wires over the board":   {words, nil, 2.8, true},
		"no thicker than it may": {words, []string{"rear-most=2.5"}, 2, false},
		"left alone":             {words, []string{"rear-most=0"}, 2, false},
		"thick enough":           {words, []string{"rear=3"}, 3, true},
		"one line":               {bar, nil, 2, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			set := settings(t, append(c.flags, "strip-watts=9")...) // which takes thick wires
			run := func(set stage.Settings) (pipeline.PartsFound, stage.Settings, string) {
				given, err := pipeline.GivenLines(pipeline.Source{}, c.d, set)
				require.NoError(t, err)
				session, err := pipeline.Table().NewSessionAfter(given, set, pipeline.StageCentreline)
				require.NoError(t, err)
				did := pipeline.Deepen(context.Background(), session)
				r, err := session.Run(context.Background(), pipeline.StageParts)
				require.NoError(t, err)
				return stage.Of[pipeline.PartsFound](r), session.Settings(), did
			}
			f, after, did := run(set)
			assert.InDelta(t, c.rear, stage.SettingsOf[pipeline.ChannelSettings](after).Rear, 1e-9)
			assert.Equal(t, c.holds, len(f.Loose) == 0)
			assert.GreaterOrEqual(t, c.rear+1-f.Deep, 0.6-1e-9, "three layers of floor stay over the groove")
			assert.Equal(t, !after.Equal(set), did != "", did)
			for _, p := range f.Parts {
				if c.holds && p.Channel && f.Strokes > 1 {
					assert.GreaterOrEqual(t, f.Glued(p), parts.LeastGlue, p.Name)
				}
			}
			again, same, did := run(after)
			assert.Empty(t, did)
			assert.True(t, same.Equal(after))
			assert.Equal(t, f.Meshes, again.Meshes)
		})
	}
}

func TestWaysToHold(t *testing.T) {
	t.Parallel()
	for _, h := range []parts.Hold{parts.HoldKeyhole, parts.HoldEars, parts.HoldPads, parts.HoldNone} {
		t.Run(string(h), func(t *testing.T) {
			t.Parallel()
			r := demoSign(t, "hold="+string(h))
			assert.Nil(t, r.Sign.Balance)
			assertManifold(t, r.Prints)
		})
	}
}

// Outside check: a sample of npm's feather-icons, stroke art with known
// centrelines; make icons does all of them.
func TestIcons(t *testing.T) {
	t.Parallel()
	names, err := specimen.Icons(npm)
	require.NoError(t, err)
	const unit = 8
	// The library's triangulation fails on a face of these at first.
	sample := []string{iconNamed(names, "phone-missed"), iconNamed(names, "x-octagon")}
	for i := 5; i < len(names); i += 24 {
		sample = append(sample, names[i])
	}
	for _, name := range sample {
		t.Run(filepath.Base(name), func(t *testing.T) {
			t.Parallel()
			line, err := specimen.Icon(name, unit)
			require.NoError(t, err)
			side := float64(specimen.IconSide * unit)
			r := signOf(t, line, side, "", pipeline.DefaultSettings())
			assertManifold(t, r.Prints)
			for _, rule := range pipeline.Table().FailedRules(r.Results) {
				assert.Regexp(t, `x -?\d+\.\d, y -?\d+\.\d`, rule, "with its place")
				assert.Contains(t, rule, "mm")
			}
		})
	}
}

func iconNamed(names []string, want string) string {
	for _, n := range names {
		if filepath.Base(n) == want+".svg" {
			return n
		}
	}
	return want
}

func TestMirroredDemo(t *testing.T) {
	t.Parallel()
	r := demoSign(t, "mirror=average", "straighten=axis")
	require.NotNil(t, r.Symmetry.Axis)
	assert.Positive(t, r.Symmetry.Kept, "spout and handle have no partner")
	assert.Less(t, r.Symmetry.Moved, 3.0)
	assertManifold(t, r.Prints)
}

// Lines too near are measured and told; spread, they keep their distance; and
// refused with the list when they may not move so far.
func TestSpacingOfPhoto(t *testing.T) {
	t.Parallel()
	d := specimen.Drawing{
		Name: "rails", PenWidth: 2, Pen: specimen.Black, Sheet: geom.Pt(297, 210), DotSize: 4,
		Dots:    [2]geom.Point{{X: 98, Y: 190}, {X: 198, Y: 190}},
		Strokes: []geom.Polyline{{{X: 60, Y: 60}, {X: 200, Y: 60}}, {{X: 60, Y: 65.5}, {X: 200, Y: 65.5}}},
	}
	p := photo(t, d, specimen.White(), nil)
	r := mustRun(t, p.JPEG, pipeline.DefaultSettings())
	require.Len(t, r.Tight, 1)
	assert.InDelta(t, 5.5, r.Tight[0].Distance, 0.2)
	r = mustRun(t, p.JPEG, settings(t, "spread=3"))
	require.NotNil(t, r.Spread)
	assert.InDelta(t, 1.0, r.Spread.Moved, 0.3)
	assert.Equal(t, 2, r.Sign.Strokes)
	_, err := run(p.JPEG, stage.Run{Settings: settings(t, "spread=0.5")})
	require.ErrorContains(t, err, "cannot be spread")
	assert.Regexp(t, `lines \d and \d are 5\.\d\d mm apart at x \d+\.\d, y \d+\.\d mm`, err.Error())
	assert.NotContains(t, err.Error(), "\n")
	enough := regexp.MustCompile(`it takes --(spread \d+\.\d)`).FindStringSubmatch(err.Error())
	require.NotNil(t, enough, err.Error())
	_, err = run(p.JPEG, stage.Run{Settings: settings(t, strings.Replace(enough[1], " ", "=", 1))})
	assert.NoError(t, err, "so much is enough")
}

// The printed paper: page and dots measured on a raster of 254 dpi by poppler's
// pdftoppm (10 px a mm; ISO 216 for A4), and a line drawn on it is all that the
// pipeline finds.
func TestPaper(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		page vision.Page
		W, H float64
	}{{vision.PageAuto, 297, 210}, {vision.PageA3, 420, 297}, {vision.PageLetter, 279.4, 215.9}} {
		t.Run(string(c.page), func(t *testing.T) {
			t.Parallel()
			_, set := papers.PaperFor(pipeline.DefaultSettings())
			data, err := papers.Paper(c.page, set)
			require.NoError(t, err)
			again, err := papers.Paper(c.page, set)
			require.NoError(t, err)
			assert.True(t, bytes.Equal(data, again))
			img := rasterise(t, data)
			assert.InDelta(t, c.W*10, img.Bounds().Dx(), 1.5)
			assert.InDelta(t, c.H*10, img.Bounds().Dy(), 1.5)
			plan, err := papers.PlanPaper(c.page, set)
			require.NoError(t, err)
			// A wave drawn across the guides with a black pen of 2 mm.
			canvas := image.NewRGBA(img.Bounds())
			draw.Draw(canvas, img.Bounds(), img, img.Bounds().Min, draw.Src)
			mid := plan.Bed.Min.Lerp(plan.Bed.Max, 0.5)
			for x := -700; x <= 700; x++ {
				y := 200 * math.Sin(float64(x)/200)
				for dy := -10; dy <= 10; dy++ {
					for dx := -10; dx <= 10; dx++ {
						if dx*dx+dy*dy <= 100 {
							canvas.Set(int(mid.X*10)+x+dx, int(mid.Y*10+y)+dy, color.Black)
						}
					}
				}
			}
			var b bytes.Buffer
			for _, border := range []int{0, 200} { // as scanned, and on a dark table
				size := img.Bounds().Size()
				table := image.NewRGBA(image.Rect(0, 0, size.X+2*border, size.Y+2*border))
				draw.Draw(table, table.Bounds(), image.NewUniform(color.RGBA{70, 54, 40, 255}), image.Point{}, draw.Src)
				draw.Draw(table, image.Rectangle{Max: size}.Add(image.Pt(border, border)), canvas, img.Bounds().Min, draw.Src)
				b.Reset()
				require.NoError(t, jpeg.Encode(&b, table, &jpeg.Options{Quality: 92}))
				r := mustRunTo(t, b.Bytes(), pipeline.DefaultSettings(), pipeline.StageCentreline)
				assert.InDelta(t, 10, r.Dots.PxPerMm*float64(size.X)/float64(r.Sheet.Image.W), 0.03, "the dots are 100 mm apart")
				require.Len(t, r.Centreline.Curves, 1, "the tint is dropped")
				k := r.Centreline.Curves[0].Flatten(0.05)
				assert.InDelta(t, 140, k[0].Dist(k[len(k)-1]), 0.8)
			}
		})
	}
	_, set := papers.PaperFor(pipeline.DefaultSettings())
	_, err := papers.Paper(vision.PageFree, set)
	assert.ErrorContains(t, err, "A4, A3 or letter")
	set.Dots.Distance = 290
	_, err = papers.Paper(vision.PageA4, set)
	assert.ErrorContains(t, err, "do not fit")
}

func rasterise(t *testing.T, pdf []byte) image.Image {
	t.Helper()
	base := filepath.Join(t.TempDir(), "p")
	require.NoError(t, os.WriteFile(base+".pdf", pdf, 0o600))
	out, err := exec.Command(outside.Tool(t, "pdftoppm"), "-r", "254", "-png", "-singlefile", base+".pdf", base).CombinedOutput()
	require.NoError(t, err, "make test installs poppler-utils: %s", out)
	data, err := os.ReadFile(base + ".png")
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	return img
}

// Whatever is drawn and however it is held: random arcs, rings, free curves and
// corners, half of them on whole centimetres to provoke coincidences, become
// sound parts. 134 once gave a backboard that was no area.
func TestRandomSigns(t *testing.T) {
	t.Parallel()
	seeds := []int64{134}
	for s := range int64(15) {
		seeds = append(seeds, s)
	}
	for _, seed := range seeds {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewSource(seed))
			at := func() geom.Point {
				p := geom.Pt(180*rng.Float64(), 180*rng.Float64())
				if seed%2 == 0 {
					p = geom.Pt(math.Floor(p.X/10)*10, math.Floor(p.Y/10)*10)
				}
				return p
			}
			var cs []geom.Curve
			for range 1 + rng.Intn(7) {
				switch rng.Intn(4) {
				case 0:
					cs = append(cs, geom.Arc(at(), 5+40*rng.Float64(), 360*rng.Float64(), 360*rng.Float64()))
				case 1:
					cs = append(cs, geom.Arc(at(), 5+40*rng.Float64(), 0, 360))
				case 2:
					cs = append(cs, geom.Curve{Pieces: []geom.Cubic{{at(), at(), at(), at()}}})
				default:
					cs = append(cs, geom.Lines(at(), at(), at()))
				}
			}
			r := signOf(t, geom.Join(cs, 0.05), 200, "", settings(t,
				"hold="+[]string{"stand", "keyhole", "ears", "pads", "none"}[seed%5],
				"backboard="+[]string{"auto", "ribs", "solid", "none"}[seed%4],
				"groove="+[]string{"auto", "all", "none"}[seed%3],
				fmt.Sprintf("cover=%t", seed%7 == 0)))
			for _, p := range r.Prints {
				require.NoError(t, p.Mesh.Check().Err(), p.Name)
			}
			assert.GreaterOrEqual(t, len(r.Strips.Pieces), r.Strips.Bound)
			assert.NotEmpty(t, r.file(t, folder.FileSign))
		})
	}
}

// A foot placed in the middle of a sign comes up to the lowest line below that place, and that is said.
func TestFootPlacedOffLines(t *testing.T) {
	t.Parallel()
	names, err := specimen.Icons(npm)
	require.NoError(t, err)
	line, err := specimen.Icon(iconNamed(names, "square"), 8) // from 24 to 168 mm
	require.NoError(t, err)
	for place, told := range map[string]bool{"96,90": true, "96,168": false} {
		r := signOf(t, line, 8*specimen.IconSide, pipeline.StageStrips, settings(t, "foot-at="+place))
		said := strings.Join(r.Steps[len(r.Steps)-1].Notes, "\n")
		assert.Equal(t, told, regexp.MustCompile(`comes up to the lowest line there, at x 9[56]\.\d, y 168`).MatchString(said), said)
	}
}

// A sign that is heaviest at its top may be upside down; whoever places the foot has seen it.
func TestStandsOnLightestPart(t *testing.T) {
	t.Parallel()
	names, err := specimen.Icons(npm)
	require.NoError(t, err)
	const side = 8 * specimen.IconSide
	asDrawn := func(p geom.Point) geom.Point { return p }
	upsideDown := func(p geom.Point) geom.Point { return geom.Pt(side, side).Sub(p) }
	for name, c := range map[string]struct {
		icon string
		lie  func(geom.Point) geom.Point
		flag string
		told bool
	}{
		"the letter T":             {"type", asDrawn, "hold=stand", true},
		"the letter T upside down": {"type", upsideDown, "hold=stand", false},
		"hung":                     {"type", asDrawn, "hold=ears", false},
		"its foot by hand":         {"type", asDrawn, "foot-at=96,160", false},
		"a house":                  {"home", asDrawn, "hold=stand", false},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			line, err := specimen.Icon(iconNamed(names, c.icon), 8)
			require.NoError(t, err)
			r := signOf(t, line.Mapped(c.lie), side, pipeline.StageStrips, settings(t, c.flag))
			said := strings.Join(r.Steps[len(r.Steps)-1].Notes, "\n")
			assert.Equal(t, c.told, strings.Contains(said, "stands on its lightest part"), said)
		})
	}
}

// A cut near a line's end leaves a piece that is hardly glued, which is told; one in its middle does not.
func TestCutsLeaveGlue(t *testing.T) {
	t.Parallel()
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(20, 150), geom.Pt(200, 150)), geom.Lines(geom.Pt(20, 190), geom.Pt(200, 190))}, 0.05)
	for place, little := range map[string]bool{"36,150": true, "110,150": false} {
		r := signOf(t, line, 220, pipeline.StageBeds, settings(t, "backboard=ribs", "cut-at="+place))
		require.Len(t, r.Cuts, 1)
		step := r.Steps[len(r.Steps)-1]
		require.Equal(t, little, step.Unsure(), place)
		if little {
			assert.Contains(t, step.Confidence.Why, "too little of a cut channel is glued")
		}
	}
}

// A bed that cuts a board leaves bits that hold nothing and lead nowhere: they are not printed.
func TestNoScrapOfBoards(t *testing.T) {
	t.Parallel()
	curves, size, err := letters.Words([]string{"TEA", "ROOM"}, letters.Settings{Font: "plain", Height: 80, Pitch: 1.7})
	require.NoError(t, err)
	r := signOf(t, geom.Join(curves, 0.2), max(size.X, size.Y), pipeline.StageBeds, pipeline.DefaultSettings())
	boards := 0
	for _, p := range r.Prints {
		if strings.HasPrefix(p.Name, "backboard") {
			boards++
			assert.Greater(t, p.Solid.Shadow().Size(), 100.0, p.Name)
		}
	}
	assert.Greater(t, boards, 1, "or there is nothing to test")
}

// Bridges hold two long lines by their ends: of channels that the bed is too small for the pieces between
// would hang on their joints alone.
func TestBoardHoldsCutChannels(t *testing.T) {
	t.Parallel()
	d, err := lines.Read([]byte(`<svg width="600mm" height="120mm" viewBox="0 0 600 120">
		<path fill="none" stroke="black" d="M20 30 H580 M20 90 H580"/></svg>`))
	require.NoError(t, err)
	for _, c := range []struct {
		name  string
		flags []string
		board parts.Board
		loose bool
	}{
		{"by itself", nil, parts.BoardRibs, false},
		{"bridges all the same", []string{"backboard=bridges"}, parts.BoardBridges, true},
		{"a bed for the whole sign", []string{"bed-width=620", "bed-depth=300"}, parts.BoardBridges, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			set := settings(t, append(c.flags, "hold=none")...)
			given, err := pipeline.GivenLines(pipeline.Source{}, d, set)
			require.NoError(t, err)
			session, err := pipeline.Table().NewSessionAfter(given, set, pipeline.StageCentreline)
			require.NoError(t, err)
			pipeline.Deepen(context.Background(), session)
			r, err := session.Run(context.Background(), pipeline.StageBeds)
			require.NoError(t, err)
			assert.Equal(t, c.board, stage.Of[pipeline.PartsFound](r).Board)
			beds := r.Steps[len(r.Steps)-1]
			assert.Equal(t, c.loose, beds.Unsure(), "%v", beds.Confidence)
		})
	}
}
