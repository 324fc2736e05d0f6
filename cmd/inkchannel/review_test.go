package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/pipeline"
)

// openDesk serves the demo photo's page and returns its address.
func openDesk(t *testing.T) (*desk, string) {
	t.Helper()
	s := pipeline.NewSession(demoPhoto, pipeline.Default())
	_, err := s.Run(context.Background(), pipeline.StagePhoto)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	d, err := newDesk(s, "demo's photo.jpg", l.Addr().String())
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.serve(ctx, l) }()
	t.Cleanup(func() {
		stop()
		select {
		case err := <-done:
			assert.NoError(t, err, "it stops cleanly")
		case <-time.After(5 * time.Second):
			t.Error("it does not stop")
		}
	})
	return d, "http://" + l.Addr().String() + "/" + d.token + "/"
}

func post(t *testing.T, url, body string) (int, deskState) {
	t.Helper()
	res, err := http.Post(url, "application/json", strings.NewReader(body))
	require.NoError(t, err)
	defer res.Body.Close()
	var s deskState
	if res.StatusCode == http.StatusOK {
		require.NoError(t, json.NewDecoder(res.Body).Decode(&s))
	}
	return res.StatusCode, s
}

func TestDesk(t *testing.T) {
	_, base := openDesk(t)
	code, s := post(t, base+"view", `{"Stage":"bends"}`)
	require.Equal(t, 200, code)
	assert.Equal(t, "bends", s.View)
	assert.Empty(t, s.Problem)
	assert.True(t, s.Stages[2].Ran)
	assert.False(t, s.Undo)
	_, s = post(t, base+"set", `{"Flag":"bend-radius","Value":"9"}`)
	assert.True(t, s.Undo)
	assert.Equal(t, `inkchannel make 'demo'\''s photo.jpg' -o my-sign --bend-radius 9`, s.Command)
	// What a slider passes through is undone at once.
	for _, v := range []string{"8", "7", "6"} {
		_, s = post(t, base+"set", `{"Flag":"bend-radius","Value":"`+v+`","Drag":true}`)
	}
	assert.Contains(t, s.Command, "--bend-radius 6")
	_, s = post(t, base+"undo", `{}`)
	assert.Contains(t, s.Command, "--bend-radius 9")
	_, s = post(t, base+"set", `{"Flag":"bend-radius","Value":"wide"}`)
	assert.Contains(t, s.Problem, `bend-radius: "wide" is not a number`)
	_, s = post(t, base+"set", `{"Flag":"nothing","Value":"1"}`)
	assert.Contains(t, s.Problem, "no setting")
	_, s = post(t, base+"undo", `{}`)
	assert.False(t, s.Undo)
	assert.True(t, s.Redo)
	assert.NotContains(t, s.Command, "bend-radius")
	_, s = post(t, base+"redo", `{}`)
	assert.Contains(t, s.Command, "--bend-radius 9")
	// A setting that no run can work with is told, and can be undone.
	_, s = post(t, base+"set", `{"Flag":"dot-distance","Value":"60"}`)
	assert.Contains(t, s.Problem, "dots")
	_, s = post(t, base+"undo", `{}`)
	assert.Empty(t, s.Problem)
	res, err := http.Get(base + "file/run.yaml")
	require.NoError(t, err)
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	assert.Contains(t, string(data), "bend-radius: 9")
	var z *http.Response
	z, err = http.Get(base + "file/sign.3mf")
	require.NoError(t, err)
	defer z.Body.Close()
	data, err = io.ReadAll(z.Body)
	require.NoError(t, err)
	assert.Equal(t, "PK", string(data[:2]))
}

// Who may not ask, and what is not there.
func TestDeskRefuses(t *testing.T) {
	d, base := openDesk(t)
	host := d.host
	get := func(url string, change func(*http.Request)) int {
		q, err := http.NewRequest(http.MethodGet, url, nil)
		require.NoError(t, err)
		if change != nil {
			change(q)
		}
		res, err := http.DefaultClient.Do(q)
		require.NoError(t, err)
		res.Body.Close()
		assert.Contains(t, res.Header.Get("Content-Security-Policy"), "default-src 'none'")
		return res.StatusCode
	}
	assert.Equal(t, 200, get(base, nil))
	assert.Equal(t, 403, get(base, func(q *http.Request) { q.Host = "evil.example" }), "a name of somebody else's")
	assert.Equal(t, 403, get(base, func(q *http.Request) { q.Header.Set("Origin", "http://evil.example") }))
	assert.Equal(t, 200, get(base, func(q *http.Request) { q.Header.Set("Origin", "http://"+host) }))
	assert.Equal(t, 404, get("http://"+host+"/", nil), "no token")
	assert.Equal(t, 404, get("http://"+host+"/guess/state", nil))
	for _, p := range []string{"file/../../etc/passwd", "file/secret", "picture/none.jpg", "picture/parts.jpg", "web/desk.html", "other"} {
		assert.Equal(t, 404, get(base+p, nil), p)
	}
	code, _ := post(t, base+"set", `not json`)
	assert.Equal(t, 400, code)
	code, _ = post(t, base+"set", `{"Flag":"`+strings.Repeat("x", 1<<15)+`"}`)
	assert.Equal(t, 400, code, "too large")
	code, _ = post(t, base+"view", `{"Stage":"paint"}`)
	assert.Equal(t, 400, code)
	code, _ = post(t, base+"boil", `{}`)
	assert.Equal(t, 404, code)
}

func TestReviewCommand(t *testing.T) {
	code, _, errOut := try(context.Background(), "review")
	assert.Equal(t, 2, code)
	assert.Contains(t, errOut, "takes one photo")
	photo := filepath.Join(t.TempDir(), "photo.jpg")
	require.NoError(t, os.WriteFile(photo, []byte("no photo"), 0o600))
	code, _, errOut = try(context.Background(), "review", photo)
	assert.Equal(t, 1, code)
	assert.Contains(t, errOut, "not a photo")
}

// In Debian's chromium: a step is chosen, a slider dragged, and the picture and
// the command change; undo by keyboard takes it back.
func TestDeskInBrowser(t *testing.T) {
	const chromium = "/usr/bin/chromium"
	if _, err := os.Stat(chromium); err != nil {
		t.Fatal("make test installs chromium: ", err)
	}
	d, base := openDesk(t)
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.WindowSize(1300, 1000))
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	defer cancel()
	ctx, cancel := chromedp.NewContext(alloc)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 150*time.Second)
	defer cancel()
	do := func(a chromedp.Action[chromedp.Void]) {
		t.Helper()
		_, err := chromedp.Run(ctx, a)
		require.NoError(t, err)
	}
	is := func(condition string) {
		t.Helper()
		ok, err := chromedp.Run(ctx, chromedp.Poll[bool](condition))
		require.NoError(t, err, condition)
		require.True(t, ok)
	}
	text := func(id string) string {
		t.Helper()
		got, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.getElementById('`+id+`').textContent`))
		require.NoError(t, err)
		return got
	}
	run := func(script string) { is(`(() => { ` + script + `; return true; })()`) }
	do(chromedp.Navigate(base))
	is(`document.querySelectorAll('#steps button').length > 10`)
	run(`[...document.querySelectorAll('#steps button')].find((b) => b.textContent.includes(' ink')).click()`)
	is(`document.getElementById('k-ink-offset') !== null && document.getElementById('after').complete && document.getElementById('after').naturalWidth > 1000`)
	before, picture := text("found"), `document.getElementById('after').src`
	was, err := chromedp.Run(ctx, chromedp.Evaluate[string](picture))
	require.NoError(t, err)
	run(`const s = document.querySelector('input[type=range][data-flag=ink-offset]'); s.value = s.max; s.dispatchEvent(new Event('input', {bubbles: true}))`)
	is(`document.getElementById('command').textContent.includes('--ink-offset')`)
	is(`!document.body.hasAttribute('aria-busy')`)
	assert.NotEqual(t, before, text("found"))
	assert.Regexp(t, `--ink-offset [\d.]+`, text("command"))
	assert.Empty(t, text("problem"))
	now, err := chromedp.Run(ctx, chromedp.Evaluate[string](picture))
	require.NoError(t, err)
	assert.NotEqual(t, was, now, "a new picture")
	run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'z', ctrlKey: true}))`)
	is(`!document.getElementById('command').textContent.includes('--ink-offset')`)
	assert.Equal(t, before, text("found"), "undone")
	run(`const d = document.getElementById('divider'); d.value = 40; d.dispatchEvent(new Event('input', {bubbles: true}))`)
	is(`document.getElementById('before').style.clipPath.includes('60%')`)
	// The two dots by hand: picked where they are in the picture.
	run(`[...document.querySelectorAll('#steps button')].find((b) => b.textContent.includes(' dots')).click()`)
	is(`document.getElementById('k-dots') !== null && !document.body.hasAttribute('aria-busy') && document.getElementById('after').complete && document.getElementById('after').src.includes('dots')`)
	auto := text("found")
	run(`document.querySelector('[data-pick=dots]').click()`)
	at, ok := d.session.At(pipeline.StageDots)
	require.True(t, ok)
	for i, dot := range at.Dots.Pair {
		x, y := dot.Centre.X/float64(at.Sheet.Image.W), dot.Centre.Y/float64(at.Sheet.Image.H)
		run(fmt.Sprintf(`const a = document.getElementById('after'), b = a.getBoundingClientRect();
			const high = b.height * (a.naturalHeight - %d) / a.naturalHeight;
			document.getElementById('compare').dispatchEvent(new MouseEvent('click', {bubbles: true, clientX: b.left + %g * b.width, clientY: b.top + %g * high}))`, pipeline.PictureBar, x, y))
		if i == 0 {
			is(`document.getElementById('found').textContent.includes('Click 1 place')`)
		}
	}
	is(`document.getElementById('command').textContent.includes('--dots')`)
	is(`!document.body.hasAttribute('aria-busy')`)
	assert.Empty(t, text("problem"))
	assert.Contains(t, auto, "10.101 px per mm")
	assert.Regexp(t, `10\.(09|10|11)\d* px per mm`, text("found"))
	// Outside check: npm's axe-core finds nothing amiss by WCAG 2.2 AA.
	axe, err := os.ReadFile("../../testdata/npm/node_modules/axe-core/axe.min.js")
	require.NoError(t, err, "make test installs axe-core")
	_, err = chromedp.Run(ctx, chromedp.Evaluate[any](string(axe)+"; null"))
	require.NoError(t, err)
	for _, stage := range []string{" ink", " bends", " power"} {
		run(`[...document.querySelectorAll('#steps button')].find((b) => b.textContent.includes('` + stage + `')).click()`)
		is(`document.getElementById('title').textContent.includes('` + stage + `:') && !document.body.hasAttribute('aria-busy')`)
		run(`window.amiss = null; axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then((r) => { window.amiss = r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.target.join(' ')).join(', ')); })`)
		is(`window.amiss !== null`)
		found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](`window.amiss`))
		require.NoError(t, err)
		assert.Empty(t, found, stage)
	}
	if shot := os.Getenv("DESK_SHOT"); shot != "" {
		png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(shot, png, 0o600))
	}
}
