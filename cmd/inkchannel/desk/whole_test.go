package desk

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
	"inkchannel/testdata/outside"
)

// The page's modules are tested by node's own runner.
func TestModules(t *testing.T) {
	t.Parallel()
	out, err := exec.Command(outside.Tool(t, "node"), "--test", "web/").CombinedOutput()
	assert.NoError(t, err, string(out))
}

// The whole job in the browser, from an empty page to the files: a photo whose dots are rubbed
// out, a spout drawn anew by hand, a fifth larger, and the foot elsewhere. The command makes the
// same files from the run.yaml among them.
func TestFromEmptyPageToFiles(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	program := filepath.Join(dir, "inkchannel")
	out, err := exec.Command("go", "build", "-o", program, "..").CombinedOutput()
	require.NoError(t, err, string(out))
	photo, dots := withoutDots(t)
	ctx, stop := context.WithCancel(context.Background())
	serve := exec.CommandContext(ctx, program, "review")
	said, err := serve.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, serve.Start())
	t.Cleanup(func() { stop(); _ = serve.Wait() })
	line, err := bufio.NewReader(said).ReadString('\n')
	require.NoError(t, err)
	base := strings.Fields(strings.TrimPrefix(line, "open "))[0]
	b := browse(t, base)
	b.run(drop("teapot.jpg", photo))
	// The dots are asked for, on the picture.
	b.is(`document.getElementById('found').textContent.includes('Click place 1 of 2')`)
	b.is(`document.getElementById('before').complete && document.getElementById('before').naturalWidth > 500`)
	for _, dot := range dots {
		b.press(`document.getElementById('before')`, dot, true)
		b.settled()
	}
	b.is(`document.getElementById('title').textContent === 'The drawing' && document.querySelectorAll('#over .lines path').length > 3`)
	b.settled()
	b.loaded("sheet.jpg")
	// The spout's lower line is rubbed out and drawn anew.
	lower := []geom.Point{geom.Pt(0.199, 0.449), geom.Pt(0.251, 0.598)}
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'rub-out').click()`)
	for _, p := range lower {
		b.press(`document.getElementById('after')`, p, false)
		b.settled()
	}
	b.is(`document.querySelectorAll('ol.entries li').length === 1`)
	require.Empty(t, b.text("problem"))
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'freehand').click()`)
	at := func(s float64) geom.Point {
		p := lower[0].Lerp(lower[1], s)
		return b.at(`document.getElementById('after')`, geom.Pt(p.X-0.12*s*(1-s), p.Y), false)
	}
	b.mouse(pressed, at(0))
	for i := 1; i <= 20; i++ {
		b.mouse(moved, at(float64(i)/20))
	}
	b.mouse(released, at(1))
	b.is(`document.querySelectorAll('ol.entries li').length === 2`)
	b.settled()
	require.Empty(t, b.text("problem"))
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	b.run(`const k = document.getElementById('k-enlarge'); k.value = '120'; k.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.is(`document.getElementById('command').textContent.includes('--enlarge 120')`)
	b.settled()
	b.run(`document.querySelector('[data-pick="foot-at"]').click()`)
	b.press(`document.getElementById('after')`, geom.Pt(0.6, 0.8), false)
	b.is(`document.getElementById('command').textContent.includes('--foot-at')`)
	b.settled()
	require.Empty(t, b.text("problem"))
	assert.NotContains(t, b.text("list"), "was not made", "changes by hand hold at another size")
	b.shot("whole")
	files := allFiles(t, base)
	for _, name := range []string{"run.yaml", "sign.3mf", "part-stand.stl", "assembly.html", "summary.json"} {
		assert.NotEmpty(t, files[name], name)
	}
	assert.Contains(t, string(files["run.yaml"]), "freehand")
	// The same by command, of the photo that the page took.
	assert.True(t, bytes.Equal(photo, files["photo/teapot.jpg"]))
	delete(files, "photo/teapot.jpg")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "teapot.jpg"), photo, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "kept.yaml"), files["run.yaml"], 0o600))
	run := exec.Command(program, "make", "teapot.jpg", "-o", "made", "--settings", "kept.yaml", "--quiet")
	run.Dir = dir
	out, err = run.CombinedOutput()
	require.NoError(t, err, string(out))
	made, err := os.ReadDir(filepath.Join(dir, "made"))
	require.NoError(t, err)
	assert.Len(t, files, len(made))
	for _, f := range made {
		want, err := os.ReadFile(filepath.Join(dir, "made", f.Name()))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(want, files[f.Name()]), "%s is not the same", f.Name())
	}
}

// allFiles are the files of the archive that a page offers.
func allFiles(t *testing.T, base string) map[string][]byte {
	t.Helper()
	res, err := http.Get(base + "file/sign.zip")
	require.NoError(t, err)
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	files := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		files[f.Name], err = io.ReadAll(r)
		require.NoError(t, err)
	}
	return files
}

// withoutDots is the demo's photo with its dots rubbed out, and where they were, as shares of the
// sheet.
func withoutDots(t testing.TB) (photo []byte, dots []geom.Point) {
	t.Helper()
	photo = demoPhoto(t)
	r, err := pipeline.RunPhoto(context.Background(), pipeline.Source{Data: photo}, stage.Run{Settings: pipeline.DefaultSettings(), Until: pipeline.StageDots})
	require.NoError(t, err)
	sheet := stage.Of[pipeline.SheetFound](r)
	for _, dot := range stage.Of[pipeline.DotsFound](r).Pair {
		photo = rubOut(t, photo, stage.Of[pipeline.PhotoFound](r).ToFile(sheet.InPhoto(dot.Centre)), 45)
		dots = append(dots, geom.Pt(dot.Centre.X/float64(sheet.Image.W), dot.Centre.Y/float64(sheet.Image.H)))
	}
	return photo, dots
}
