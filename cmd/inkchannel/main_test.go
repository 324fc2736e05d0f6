package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
)

// try runs the command and returns its exit code and what it printed.
func try(ctx context.Context, args ...string) (code int, out, errOut string) {
	var o, e bytes.Buffer
	code = run(ctx, append([]string{"inkchannel"}, args...), &o, &e)
	return code, o.String(), e.String()
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	list, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := []string{}
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

func TestDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	code, out, errOut := try(context.Background(), "demo", "-o", dir)
	require.Zero(t, code, errOut)
	assert.Empty(t, errOut)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	told := 0
	for _, l := range lines {
		if told < len(pipeline.Table().Stages()) && strings.HasPrefix(l, pipeline.Table().Stages()[told].Name+" ") {
			assert.Regexp(t, `\(\d+\.\d\d s\)$`, l)
			told++
		}
	}
	assert.Len(t, pipeline.Table().Stages(), told, "a line for each stage, in their order")
	var want []string
	for _, s := range pipeline.Table().Stages() {
		name, err := pipeline.Table().PictureFile(s.Name)
		require.NoError(t, err)
		want = append(want, name)
	}
	want = append(
		want, "cut-sheet.pdf", "wire-sheet.pdf", "wiring.svg", "parts-list.csv", "assembly.md", "assembly.html", "review.html", "centreline.svg", "outlines.dxf", "dimensions.pdf", "outlines.svg", "sign.3mf",
		"contact-sheet.jpg", "run.yaml", "summary.json", "part-channel-1.stl", "part-channel-2.stl", "part-channel-3.stl",
		"part-backboard.stl", "part-stand.stl", "part-lid.stl", "test-piece.stl",
	)
	assert.ElementsMatch(t, want, names(t, dir))
	for _, n := range want {
		info, err := os.Stat(filepath.Join(dir, n))
		require.NoError(t, err)
		assert.Positive(t, info.Size(), n)
		if strings.HasSuffix(n, "jpg") || strings.HasSuffix(n, "png") {
			f, err := os.Open(filepath.Join(dir, n))
			require.NoError(t, err)
			cfg, _, err := image.DecodeConfig(f)
			f.Close()
			require.NoError(t, err, n)
			assert.Greater(t, cfg.Width, 1000, n)
		}
	}
}

// The settings a run writes repeat it to the byte; flags and photo may come
// in any order.
func TestMakeRepeats(t *testing.T) {
	base := t.TempDir()
	photo := filepath.Join(base, "photo.jpg")
	require.NoError(t, os.WriteFile(photo, demoPhoto, 0o600))
	a, b := filepath.Join(base, "a"), filepath.Join(base, "b")
	code, _, errOut := try(context.Background(), "make", photo, "-o", a, "--wall", "1.4", "--quiet", "--corner-angle=50")
	require.Zero(t, code, errOut)
	code, out, errOut := try(context.Background(), "make", "--settings", filepath.Join(a, "run.yaml"), "--quiet", "-o", b, photo)
	require.Zero(t, code, errOut)
	assert.Empty(t, out, "--quiet")
	for _, n := range names(t, a) {
		x, err := os.ReadFile(filepath.Join(a, n))
		require.NoError(t, err)
		y, err := os.ReadFile(filepath.Join(b, n))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(x, y), n)
	}
	yaml, err := os.ReadFile(filepath.Join(b, "run.yaml"))
	require.NoError(t, err)
	assert.Contains(t, string(yaml), "wall: 1.4 # mm")
	assert.Contains(t, string(yaml), "corner-angle: 50 # degrees")
}

func TestUntil(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	code, _, errOut := try(context.Background(), "demo", "--until", "ink", "-o", dir)
	require.Zero(t, code, errOut)
	assert.ElementsMatch(t, []string{"01-photo.jpg", "02-sheet.jpg", "03-ink.jpg", "contact-sheet.jpg", "review.html", "run.yaml", "summary.json"}, names(t, dir))
}

func TestPaper(t *testing.T) {
	file := filepath.Join(t.TempDir(), "paper.pdf")
	code, out, errOut := try(context.Background(), "paper", "--bed-width", "180", "-o", file)
	require.Zero(t, code, errOut)
	assert.Contains(t, out, "print it at 100 %")
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.True(t, bytes.HasPrefix(data, []byte("%PDF-")))
	for _, c := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"file is there", []string{"-o", file}, 1, "paper.pdf: file exists; give a new file"},
		{"no file", nil, 2, "-o FILE.pdf"},
		{"a picture", []string{"-o", "s.png"}, 2, "the paper is written as PDF, not to s.png; give -o FILE.pdf"},
		{"a photo", []string{"photo.jpg", "-o", file}, 2, "paper takes no photo"},
		{"free page", []string{"--page", "free", "-o", file + "2.pdf"}, 1, "A4, A3 or letter"},
		{"no room", []string{"--bed-width", "41", "--bed-margin", "15", "-o", file + "2.pdf"}, 1, "no room to draw"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, _, errOut := try(context.Background(), append([]string{"paper"}, c.args...)...)
			assert.Equal(t, c.code, code, errOut)
			assert.Contains(t, errOut, c.want)
			assert.Equal(t, 1, strings.Count(errOut, "\n"))
		})
	}
	assert.Equal(t, []string{"paper.pdf"}, names(t, filepath.Dir(file)), "nothing half-written")
}

// A strip of the library, one of the user's own, and what is wrong with others.
func TestStrips(t *testing.T) {
	code, out, _ := try(context.Background(), "strips")
	require.Zero(t, code)
	assert.Contains(t, out, "name: flex-5-12")
	base := t.TempDir()
	own := filepath.Join(base, "own.yaml")
	require.NoError(t, os.WriteFile(own, []byte(strings.Replace(out, "name: flex-5-12,", "name: mine, ", 1)), 0o600))
	bad := filepath.Join(base, "bad.yaml")
	require.NoError(t, os.WriteFile(bad, []byte(strings.Replace(out, "volts: 24", "volts: many", 1)), 0o600))
	for _, c := range []struct {
		name string
		args []string
		code int
		want string // in run.yaml or the error
	}{
		{"built in", []string{"--strip", "flex-8-12"}, 0, "strip-width: 8 # mm"},
		{"a flag goes before it", []string{"--strip", "flex-8-12", "--strip-cut", "33"}, 0, "strip-cut: 33 # mm"},
		{"own, first", []string{"--strips", own}, 0, "strip-name: \"mine\""},
		{"unknown", []string{"--strip", "gold"}, 2, "the library has flex-5-12, flex-5-24"},
		{"bad library", []string{"--strips", bad}, 1, `bad.yaml: line 14: volts "many"`},
		{"no library", []string{"--strips", filepath.Join(base, "none.yaml")}, 1, "none.yaml: no such file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "out")
			code, _, errOut := try(context.Background(), append([]string{"demo", "-o", dir, "--until", "photo"}, c.args...)...)
			assert.Equal(t, c.code, code, errOut)
			text := errOut
			if c.code == 0 {
				data, err := os.ReadFile(filepath.Join(dir, "run.yaml"))
				require.NoError(t, err)
				text = string(data)
			}
			assert.Contains(t, text, c.want)
		})
	}
}

// A maker's own foot comes from a file; what is wrong with that is said before any work.
func TestOwnFoot(t *testing.T) {
	base := t.TempDir()
	write := func(name string, data []byte) string {
		path := filepath.Join(base, name)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		return path
	}
	plan := solid.Box(-20, 0, 20, 6).Or(solid.Box(-8, 0, 8, 24))
	foot := func(z0, z1 float64) []byte {
		m, err := solid.Solid{{Z0: 0, Z1: 15, Plan: plan}}.Cut(z0, z1, solid.Box(-2, -1, 2, 25)).Mesh(0.001)
		require.NoError(t, err)
		data, err := folder.STL(m, "foot")
		require.NoError(t, err)
		return data
	}
	open := foot(3.2, 7.2)
	binary.LittleEndian.PutUint32(open[80:], binary.LittleEndian.Uint32(open[80:])-1) // one facet fewer
	for _, c := range []struct {
		name, file string
		want       string // of the error, or empty
	}{
		{"a bored foot", write("foot.stl", foot(3.2, 7.2)), ""},
		{"no file", filepath.Join(base, "none.stl"), "none.stl: no such file"},
		{"no STL", write("text.stl", []byte("a foot")), "text.stl: it is no STL file"},
		{"open", write("open.stl", open[:len(open)-50]), "not watertight: 3 open edges"},
		{"no bore", write("plain.stl", foot(0, 0)), "the foot has no bore"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "out")
			code, _, errOut := try(context.Background(), "demo", "-o", dir, "--foot", c.file)
			if c.want != "" {
				assert.Equal(t, 1, code)
				assert.Contains(t, errOut, c.want)
				assert.Equal(t, 1, strings.Count(errOut, "\n"), "in one line")
				assert.NoDirExists(t, dir)
				return
			}
			require.Zero(t, code, errOut)
			assert.NoFileExists(t, filepath.Join(dir, "part-stand.stl"))
			text, err := os.ReadFile(filepath.Join(dir, "summary.json"))
			require.NoError(t, err)
			assert.Contains(t, string(text), `"own_foot": "foot.stl"`)
		})
	}
}

func TestSteps(t *testing.T) {
	code, out, _ := try(context.Background(), "steps")
	require.Zero(t, code)
	for _, s := range pipeline.Table().Stages() {
		assert.Contains(t, out, s.Name+": "+s.Does)
	}
	for _, k := range pipeline.Table().Settings() {
		assert.Regexp(t, `--`+k.Flag+`\s`, out)
	}
	assert.Regexp(t, `--dot-distance\s+100\s+mm`, out)
}

// bad photos: each gets one clear line, a non-zero exit, and leaves the
// output folder as it was.
func TestBadPhotos(t *testing.T) {
	flat := func(v uint8, w, h int) []byte {
		m := gocv.NewMatWithSizeFromScalar(gocv.NewScalar(float64(v), float64(v), float64(v), 0), h, w, gocv.MatTypeCV8UC3)
		defer m.Close()
		buf, err := gocv.IMEncode(gocv.JPEGFileExt, m)
		require.NoError(t, err)
		defer buf.Close()
		return append([]byte(nil), buf.GetBytes()...)
	}
	var small bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, 8, 8))
	img.SetGray(3, 3, color.Gray{200})
	require.NoError(t, png.Encode(&small, img))
	enormous := append([]byte(nil), small.Bytes()...)
	binary.BigEndian.PutUint32(enormous[16:], 60000)
	binary.BigEndian.PutUint32(enormous[20:], 60000)
	binary.BigEndian.PutUint32(enormous[29:], crc32.ChecksumIEEE(enormous[12:29]))
	corrupt := append([]byte(nil), demoPhoto...)
	copy(corrupt[200:], bytes.Repeat([]byte{0xff, 0xc0, 0}, 40))
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"empty", nil, "empty"},
		{"text", []byte("not a photo at all"), "not a photo"},
		{"cut off", demoPhoto[:len(demoPhoto)/2], "cut off"},
		{"corrupt head", corrupt, "JPEG"},
		{"enormous", enormous, "3600 megapixels, over the limit"},
		{"8 by 8 px", small.Bytes(), "too small"},
		{"blank", flat(235, 1600, 1200), "no pen line found"},
		{"all black", flat(0, 1600, 1200), "too dark"},
		{"all white", flat(255, 1600, 1200), "no pen line found"},
		{"one row", flat(235, 1600, 1), "too small"},
	} {
		t.Run(c.name, func(t *testing.T) {
			base := t.TempDir()
			photo := filepath.Join(base, "photo.jpg")
			require.NoError(t, os.WriteFile(photo, c.data, 0o600))
			dir := filepath.Join(base, "out")
			require.NoError(t, folder.Write(pipeline.Table(), dir, []folder.File{{Name: "run.yaml", Data: []byte("earlier")}}))
			code, _, errOut := try(context.Background(), "make", photo, "-o", dir)
			assert.Equal(t, 1, code)
			assert.Equal(t, 1, strings.Count(errOut, "\n"), errOut)
			assert.Contains(t, errOut, c.want)
			assert.Contains(t, errOut, "photo.jpg")
			assert.Equal(t, []string{"run.yaml"}, names(t, dir))
			assert.ElementsMatch(t, []string{"out", "photo.jpg"}, names(t, base), "nothing half-written about")
		})
	}
}

// A file of lines takes a photo's place: its own centrelines, changed by somebody, at true size
// or another.
func TestLines(t *testing.T) {
	base := t.TempDir()
	file := filepath.Join(base, "lines.svg")
	write := func(text string) { require.NoError(t, os.WriteFile(file, []byte(text), 0o600)) }
	write(`<svg width="160mm" height="120mm" viewBox="0 0 160 120"><g stroke="red"><circle cx="80" cy="60" r="40"/></g><path stroke="blue" d="M20 20 h 120"/><text>tea</text></svg>`)
	dir := filepath.Join(base, "out")
	code, out, errOut := try(context.Background(), "make", file, "-o", dir, "--fit-size", "0")
	require.Zero(t, code, errOut)
	assert.Contains(t, errOut, "note: lines.svg: not used: 1 × text")
	assert.Contains(t, out, "2 circuits", "a circuit for each colour")
	var sum folder.Summary
	data, err := os.ReadFile(filepath.Join(dir, folder.FileSummary))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &sum))
	svg, err := os.ReadFile(filepath.Join(dir, folder.FileCentreline))
	require.NoError(t, err)
	assert.Contains(t, string(svg), `width="160.000mm"`)
	// What a run writes can be read again.
	require.NoError(t, os.WriteFile(file, svg, 0o600))
	code, out, errOut = try(context.Background(), "make", file, "-o", filepath.Join(base, "again"), "--until", "channel", "--width", "200")
	require.Zero(t, code, errOut)
	assert.Regexp(t, `channel +20[0-9.]+ by`, out)
	// A drawing of any size becomes a sign of the width that is asked for.
	write(`<svg width="4mm" height="4mm" viewBox="0 0 4 4"><path d="M1 1 h2 v2"/></svg>`)
	code, _, errOut = try(context.Background(), "make", file, "-o", filepath.Join(base, "tiny"), "--until", "channel", "--width", "200", "--quiet")
	require.Zero(t, code, errOut)
	for _, c := range []struct {
		name, text string
		flags      []string
		code       int
		want       string
	}{
		{"no lines", `<svg><text>tea</text></svg>`, nil, 1, "lines.svg: there is no line in it"},
		{"a photo by name of svg", "\xff\xd8\xff", nil, 1, "lines.svg: it is no SVG drawing"},
		{"tiny", `<svg width="9mm" viewBox="0 0 900 900"><path d="M1 1h90"/></svg>`, nil, 1, "a sign is 5 to 5000 mm"},
		{"a flag of a step that is skipped", string(svg), []string{"--ink-offset", "20"}, 2, "--ink-offset belongs to the step ink"},
		{"a step that is skipped", string(svg), []string{"--until", "dots"}, 2, "--until dots"},
	} {
		t.Run(c.name, func(t *testing.T) {
			write(c.text)
			code, _, errOut := try(context.Background(), append([]string{"make", file, "-o", filepath.Join(base, "bad")}, c.flags...)...)
			assert.Equal(t, c.code, code)
			assert.Equal(t, 1, strings.Count(errOut, "\n"), errOut)
			assert.Contains(t, errOut, c.want)
			assert.NoDirExists(t, filepath.Join(base, "bad"))
		})
	}
}

func TestBadCommands(t *testing.T) {
	base := t.TempDir()
	photo := filepath.Join(base, "photo.jpg")
	require.NoError(t, os.WriteFile(photo, demoPhoto, 0o600))
	settings := filepath.Join(base, "s.yaml")
	require.NoError(t, os.WriteFile(settings, []byte("ink:\n  hoel: 1\n"), 0o600))
	taken := filepath.Join(t.TempDir(), "w.png")
	require.NoError(t, os.WriteFile(taken, nil, 0o600))
	out := filepath.Join(base, "out")
	for _, c := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"unknown command", []string{"mkae"}, 2, `no command "mkae"`},
		{"help with no command", []string{"help", "mkae"}, 2, `no command "mkae"; see inkchannel help`},
		{"a text", []string{"make", settings, "-o", out}, 1, "s.yaml: photo: not a photo that can be read; give a JPEG, PNG, WebP, TIFF or HEIC file, a PDF of one page, or an SVG file of lines"},
		{"no photo", []string{"make", "-o", out}, 2, "takes one photo, 0 given"},
		{"two photos", []string{"make", photo, photo, "-o", out}, 2, "takes one photo, 2 given"},
		{"letters of no height", []string{"letters", "TEA", "-o", filepath.Join(base, "t.svg"), "--height", "tall"}, 2, `--height: "tall" is not a length`},
		{"no photo to join", []string{"join", "-o", filepath.Join(base, "w.png")}, 2, "join takes the photos of one drawing, none given"},
		{"joined to nowhere", []string{"join", photo, photo}, 2, "no output file given; add -o FILE.png"},
		{"joined to a JPEG", []string{"join", photo, photo, "-o", filepath.Join(base, "w.jpg")}, 2, "written as PNG"},
		{"no marks", []string{"join", photo, photo, "-o", filepath.Join(base, "w.png")}, 1, photo + ": no mark found"},
		{"sheets of no size", []string{"join", photo, photo, "-o", filepath.Join(base, "w.png"), "--page", "free"}, 2, "give the sheets' size"},
		{"joined onto a file", []string{"join", photo, photo, "-o", taken}, 1, "is there already"},
		{"no number of sheets", []string{"paper", "--sheets", "two", "-o", filepath.Join(base, "p.pdf")}, 2, "as 2x1"},
		{"too many sheets", []string{"paper", "--sheets", "5x2", "-o", filepath.Join(base, "p.pdf")}, 2, "give 2 to 9 in all"},
		{"batch into a foreign folder", []string{"batch", base, "-o", filepath.Dir(taken)}, 1, "contains w.png, which is not from an earlier batch"},
		{"prices of something", []string{"prices", "mine.yaml"}, 2, `prices only prints, "mine.yaml" given`},
		{"steps of something", []string{"steps", "ink"}, 2, `steps only prints, "ink" given`},
		{"demo with a photo", []string{"demo", photo, "-o", out}, 2, "takes no photo"},
		{"no output", []string{"make", photo}, 2, "-o DIR"},
		{"unknown flag", []string{"make", photo, "-o", out, "--wals", "2"}, 2, "wals"},
		{"long flag without value", []string{"make", photo, "--prices"}, 2, "needs an argument: --prices; "},
		{"flag without value", []string{"make", photo, "-o"}, 2, "needs an argument"},
		{"no number", []string{"make", photo, "-o", out, "--wall", "thick"}, 2, `--wall: "thick" is not a number from 0.2 to 20 mm`},
		{"out of range", []string{"make", photo, "-o", out, "--ink-window", "1e9"}, 2, "--ink-window"},
		{"NaN", []string{"make", photo, "-o", out, "--wall", "NaN"}, 2, "--wall"},
		{"bad size", []string{"make", photo, "-o", out, "--controller", "60x35"}, 2, "has 2 sides, 3 are needed"},
		{"bad switch", []string{"make", photo, "-o", out, "--cover", "perhaps"}, 2, "neither yes nor no"},
		{"bad holder", []string{"make", photo, "-o", out, "--hold", "string"}, 2, "is not one of stand, keyhole, ears, pads, none"},
		{"bore too wide", []string{"make", photo, "-o", out, "--bore", "9"}, 1, "parts: the wire bore is 9 mm wide"},
		{"bed too small", []string{"make", photo, "-o", out, "--bed-width", "40"}, 1, "beds: "},
		{"unknown stage", []string{"make", photo, "-o", out, "--until", "paint"}, 2, `no step "paint"`},
		{"three corners", []string{"make", photo, "-o", out, "--corners", "1,1 2,2 3,3"}, 2, "--corners: 4 places are needed, 3 given"},
		{"corners in one place", []string{"make", photo, "-o", out, "--corners", "1,1 1,1 900,900 1,900"}, 1, "do not outline a sheet"},
		{"missing photo", []string{"make", filepath.Join(base, "none.jpg"), "-o", out}, 1, "none.jpg: no such file"},
		{"photo is a folder", []string{"make", base, "-o", out}, 1, "not a file"},
		{"missing settings", []string{"make", photo, "-o", out, "--settings", "none.yaml"}, 1, "none.yaml: no such file"},
		{"wrong settings", []string{"make", photo, "-o", out, "--settings", settings}, 1, `s.yaml: line 2: step ink has no setting "hoel"`},
		{"output holds the photo", []string{"make", photo, "-o", base}, 1, "not from an earlier run"},
		{"output is the photo", []string{"make", photo, "-o", photo}, 1, "is a file"},
		{"floor fills the body", []string{"make", photo, "-o", out, "--floor", "9", "--depth", "5"}, 1, "channel: the floor of 9 mm fills the body of 5 mm"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, _, errOut := try(context.Background(), c.args...)
			assert.Equal(t, c.code, code)
			assert.Contains(t, errOut, c.want)
			assert.Equal(t, 1, strings.Count(errOut, "\n"), errOut)
			assert.ElementsMatch(t, []string{"photo.jpg", "s.yaml"}, names(t, base))
		})
	}
}

func TestStopped(t *testing.T) {
	base := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	code, _, errOut := try(ctx, "demo", "-o", filepath.Join(base, "out"))
	assert.Equal(t, 1, code)
	assert.Contains(t, errOut, "stopped; nothing was written")
	assert.Empty(t, names(t, base))
}

func TestFlagsFirst(t *testing.T) {
	for _, c := range []struct {
		name     string
		in, want []string
	}{
		{"photo first", []string{"x", "make", "p.jpg", "-o", "d"}, []string{"x", "make", "-o", "d", "--", "p.jpg"}},
		{"photo between", []string{"x", "make", "-o", "d", "p.jpg", "--quiet"}, []string{"x", "make", "-o", "d", "--quiet", "--", "p.jpg"}},
		{"on or off, before the photo", []string{"x", "batch", "--strict", "p"}, []string{"x", "batch", "--strict", "--", "p"}},
		{"with an equals sign", []string{"x", "make", "--wall=2", "p.jpg"}, []string{"x", "make", "--wall=2", "--", "p.jpg"}},
		{"photo named like a flag", []string{"x", "make", "-o", "d", "--", "-p.jpg"}, []string{"x", "make", "-o", "d", "--", "-p.jpg"}},
		{"nothing to move", []string{"x", "steps"}, []string{"x", "steps"}},
	} {
		app := newApp(pipeline.Table(), io.Discard, io.Discard)
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, flagsFirst(app, c.in)) })
	}
}

// A run without pictures writes all else as one with them does.
func TestNoPictures(t *testing.T) {
	base := t.TempDir()
	with, bare := filepath.Join(base, "with"), filepath.Join(base, "bare")
	for dir, flags := range map[string][]string{with: nil, bare: {"--no-pictures"}} {
		code, _, errOut := try(context.Background(), append([]string{"demo", "-o", dir, "--quiet"}, flags...)...)
		require.Zero(t, code, errOut)
	}
	left := names(t, bare)
	for _, name := range left {
		assert.NotRegexp(t, `\.(jpg|png|html)$`, name)
		a, err := os.ReadFile(filepath.Join(with, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(bare, name))
		require.NoError(t, err)
		assert.Equal(t, a, b, name)
	}
	for _, name := range names(t, with) {
		if !strings.HasSuffix(name, ".jpg") && !strings.HasSuffix(name, ".png") && !strings.HasSuffix(name, ".html") {
			assert.Contains(t, left, name)
		}
	}
}

// Only what was asked for is written, each file as a run of all writes it.
func TestOnly(t *testing.T) {
	base := t.TempDir()
	for _, c := range []struct {
		only string
		want []string
	}{
		{"lines", []string{"centreline.svg", "run.yaml", "summary.json"}},
		{"strip, wiring", []string{"cut-sheet.pdf", "run.yaml", "summary.json", "wire-sheet.pdf", "wiring.svg"}},
		{"page", []string{"review.html", "run.yaml", "summary.json"}},
	} {
		dir := filepath.Join(base, c.only)
		code, _, errOut := try(context.Background(), "demo", "-o", dir, "--quiet", "--only", c.only)
		require.Zero(t, code, errOut)
		assert.ElementsMatch(t, c.want, names(t, dir), c.only)
	}
	for _, c := range []struct {
		flags []string
		want  string
	}{
		{[]string{"--only", "parts,stl"}, `"stl" is none of pictures, lines, parts, cutting, strip, wiring, building, page`},
		{[]string{"--only", ""}, `"" is none of`},
		{[]string{"--only", "parts", "--no-pictures"}, "both say what is written"},
	} {
		code, _, errOut := try(context.Background(), append([]string{"demo", "-o", filepath.Join(base, "no")}, c.flags...)...)
		assert.Equal(t, 2, code)
		assert.Contains(t, errOut, c.want)
	}
	assert.NoDirExists(t, filepath.Join(base, "no"))
}

// What a package is made with: version, manual page, and completion that bash can read.
func TestPackaged(t *testing.T) {
	code, out, _ := try(context.Background(), "--version")
	require.Zero(t, code)
	assert.Regexp(t, `^inkchannel version \d+\.\d+\.\d+ \(commit .+; go.+, OpenCV \d.+, GEOS \d.+\)\n$`, out)
	code, out, _ = try(context.Background(), "manual")
	require.Zero(t, code)
	assert.Contains(t, out, ".TH inkchannel 1")
	assert.Contains(t, out, "--bed-width")
	code, script, _ := try(context.Background(), "completion")
	require.Zero(t, code)
	for _, c := range []struct{ typed, want string }{
		{"inkchannel ma", "make"}, {"inkchannel make --bed-w", "--bed-width"}, {"inkchannel review --pho", "--photo --photo-turn --phone"},
		{"inkchannel make te", ""},
	} {
		words := strings.Fields(c.typed)
		bash := exec.Command("bash", "-c", script+fmt.Sprintf("\nCOMP_WORDS=(%s); COMP_CWORD=%d; _inkchannel; echo \"${COMPREPLY[*]}\"", c.typed, len(words)-1))
		text, err := bash.CombinedOutput()
		require.NoError(t, err, "%s", text)
		assert.ElementsMatch(t, strings.Fields(c.want), strings.Fields(string(text)), c.typed)
	}
}

// Words are written as lines that a sign is made of; what cannot be is refused in one line.
func TestLetters(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "tea.svg")
	code, out, errOut := try(context.Background(), "letters", "TEA", "ROOM", "-o", file, "--height", "60")
	require.Zero(t, code, errOut)
	assert.Contains(t, out, "inkchannel make "+file)
	code, _, errOut = try(context.Background(), "make", file, "-o", filepath.Join(dir, "sign"), "--until", "strips", "--only", "lines", "--quiet")
	require.Zero(t, code, errOut)
	assert.FileExists(t, filepath.Join(dir, "sign", "centreline.svg"))
	fonts := filepath.Join(dir, "fonts.svg")
	code, _, errOut = try(context.Background(), "letters", "--fonts", "-o", fonts)
	require.Zero(t, code, errOut)
	assert.FileExists(t, fonts)
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"-o", "x.svg"}, "no words given"},
		{[]string{"TEA"}, "no output file given"},
		{[]string{"TEA", "-o", "x.pdf"}, "give -o FILE.svg"},
		{[]string{"TEA", "-o", file}, "file exists"},
		{[]string{"TEA", "-o", "x.svg", "--font", "serif"}, "there are cursive, plain"},
		{[]string{"TEA", "-o", "x.svg", "--height", "3"}, "10 to 2000 mm"},
		{[]string{"TEA", "--fonts", "-o", "x.svg"}, "takes no words"},
	} {
		code, _, errOut := try(context.Background(), append([]string{"letters"}, c.args...)...)
		assert.NotZero(t, code, c.args)
		assert.Contains(t, errOut, c.want)
		assert.Equal(t, 1, strings.Count(errOut, "\n"), errOut)
	}
	assert.NoFileExists(t, "x.svg")
}

// A price list of the user's own gives a price; one that is wrong is refused before anything is made.
func TestPrices(t *testing.T) {
	dir := t.TempDir()
	code, list, errOut := try(context.Background(), "prices")
	require.Zero(t, code, errOut)
	file := filepath.Join(dir, "prices.yaml")
	require.NoError(t, os.WriteFile(file, []byte(strings.Replace(list, "fuse: 2.5\n", "", 1)), 0o600))
	out := filepath.Join(dir, "sign")
	code, said, errOut := try(context.Background(), "demo", "-o", out, "--prices", file, "--only", "building")
	require.Zero(t, code, errOut)
	assert.Regexp(t, `costs about \d+\.\d\d EUR, without 1 thing that the list has no price for`, said)
	data, err := os.ReadFile(filepath.Join(out, "price.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(data), "\r\ntotal,without 1 that the price list has no price for,")
	code, _, errOut = try(context.Background(), "demo", "-o", filepath.Join(dir, "no"), "--prices", filepath.Join(dir, "none.yaml"))
	assert.Equal(t, 1, code)
	assert.Contains(t, errOut, "inkchannel prices > "+filepath.Join(dir, "none.yaml"))
	assert.NoDirExists(t, filepath.Join(dir, "no"))
}
