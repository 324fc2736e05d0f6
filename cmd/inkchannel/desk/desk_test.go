package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"io"
	"maps"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/testdata/outside"
)

// demoPhoto is the photo that comes with the program.
func demoPhoto(t testing.TB) []byte {
	t.Helper()
	data, err := os.ReadFile("../demo.jpg")
	require.NoError(t, err)
	return data
}

// openDesk serves a photo's page and returns its address.
func openDesk(t testing.TB, photo []byte) (*Desk, string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	const name = "demo's photo.jpg"
	d, err := New(context.Background(), pipeline.Table(), Job{
		Source: pipeline.Source{Name: name, Data: photo}, Photo: name, Settings: pipeline.DefaultSettings(),
		Command: func(dir string) []string { return []string{"inkchannel", "make", name, "-o", dir} },
	}, l.Addr().String())
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.Serve(ctx, l) }()
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

// waitingDesk serves a page that takes a photo first, and returns its address.
func waitingDesk(t testing.TB) string {
	t.Helper()
	srv := httptest.NewUnstartedServer(nil)
	d, err := Waiting(pipeline.Table(), Empty{
		Settings: pipeline.DefaultSettings(), Limit: 16 << 20,
		Command: func(photo string) func(string) []string {
			return func(dir string) []string { return []string{"inkchannel", "make", photo, "-o", dir} }
		},
	}, srv.Listener.Addr().String())
	require.NoError(t, err)
	d.WorkAhead() // as the program does
	srv.Config.Handler = d.Handler()
	srv.Start()
	t.Cleanup(srv.Close)
	return srv.URL + "/" + d.token + "/"
}

// A desk without a photo takes one, once, and refuses what is none in one line.
func TestDeskStarts(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	send := func(name string, data []byte) (int, state) {
		return postAs(t, base+"photo?name="+url.QueryEscape(name), "application/octet-stream", bytes.NewReader(data))
	}
	code, _ := post(t, base+"view", `{"Stage":"ink"}`)
	assert.Equal(t, http.StatusConflict, code, "nothing to look at yet")
	_, s := send("notes.txt", []byte("tea"))
	assert.True(t, s.Waiting)
	assert.Contains(t, s.Problem, "notes.txt: ")
	_, s = send("large.jpg", make([]byte, 17<<20))
	assert.Contains(t, s.Problem, "too large for a photo")
	b := browse(t, base)
	b.accessible("start")
	b.shot("start")
	photo := demoPhoto(t)
	b.run(drop(`C:\\tea.jpg`, photo))
	b.is(`document.querySelectorAll('#steps button').length > 10`)
	b.loaded("sheet.jpg")
	assert.Contains(t, b.text("command"), "inkchannel make tea.jpg")
	code, _ = send("tea.jpg", photo)
	assert.Equal(t, http.StatusConflict, code, "one photo only")
	names := slices.Collect(maps.Keys(allFiles(t, base)))
	assert.Subset(t, names, []string{"sign.3mf", "part-stand.stl", "assembly.html", "run.yaml", "01-photo.jpg"})
}

func post(t testing.TB, url, body string) (int, state) {
	t.Helper()
	return postAs(t, url, "application/json", strings.NewReader(body))
}

// postAs posts a body of a kind and reads the state that answers.
func postAs(t testing.TB, url, kind string, body io.Reader) (int, state) {
	t.Helper()
	res, err := http.Post(url, kind, body)
	require.NoError(t, err)
	defer res.Body.Close()
	var s state
	if res.StatusCode == http.StatusOK {
		require.NoError(t, json.NewDecoder(res.Body).Decode(&s))
	}
	return res.StatusCode, s
}

func TestDesk(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
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
	d, base := openDesk(t, demoPhoto(t))
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

// The page writes all files to the folder that it was given, and only there.
func TestDeskWrites(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	_, s := post(t, base+"write", `{}`)
	assert.Contains(t, s.Problem, "no folder to write to")
	d.job.Dir = filepath.Join(t.TempDir(), "sign")
	_, s = post(t, base+"set", `{"Flag":"hold","Value":"pads"}`)
	assert.Empty(t, s.Problem)
	_, s = post(t, base+"write", `{}`)
	require.Empty(t, s.Problem)
	assert.Contains(t, s.Told, d.job.Dir)
	// The same as a run from the start writes.
	table, set := pipeline.Table(), d.session.Settings()
	pictures := folder.NewPictures(table)
	r, err := pipeline.RunPhoto(context.Background(), d.job.Source, stage.Run{Settings: set, Done: pictures.Draw})
	require.NoError(t, err)
	files, err := folder.Files(folder.Run{Table: table, Results: r, Settings: set, Pictures: pictures})
	require.NoError(t, err)
	assert.Greater(t, len(files), 25)
	for _, f := range files {
		got, err := os.ReadFile(filepath.Join(d.job.Dir, f.Name))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(f.Data, got), f.Name)
	}
}

// theBrowser is started by the first test that needs it, and serves all: to start costs more than most pages.
var theBrowser oneBrowser

type oneBrowser struct {
	start sync.Once
	ctx   context.Context
	err   error
	stop  func()
}

func (o *oneBrowser) of(t testing.TB) context.Context {
	t.Helper()
	chromium := outside.Tool(t, "chromium")
	o.start.Do(func() {
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.WindowSize(1300, 1000),
			chromedp.Flag("enable-unsafe-swiftshader", true), chromedp.Flag("use-angle", "swiftshader"))
		alloc, gone := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, cancel := chromedp.NewContext(alloc)
		o.stop = func() { cancel(); gone() }
		o.ctx = ctx
		_, o.err = chromedp.Run(ctx, chromedp.Navigate("about:blank"))
	})
	require.NoError(t, o.err)
	return o.ctx
}

func TestMain(m *testing.M) {
	code := m.Run()
	if theBrowser.stop != nil {
		theBrowser.stop()
	}
	os.Exit(code)
}

// A page in Debian's chromium.
type browserPage struct {
	t   testing.TB
	ctx context.Context
}

// Every page has a profile of its own.
func browse(t testing.TB, url string) browserPage {
	t.Helper()
	all := theBrowser.of(t)
	ctx, cancel := chromedp.NewContext(all, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 150*time.Second)
	t.Cleanup(cancel)
	b := browserPage{t, ctx}
	b.do(chromedp.Navigate(url))
	b.is(`!document.getElementById('start').hidden || document.querySelectorAll('#steps button').length > 10`)
	return b
}

func (b browserPage) do(a chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, a)
	require.NoError(b.t, err)
}

// is waits until a condition holds.
func (b browserPage) is(condition string) {
	b.t.Helper()
	// By the clock: by frames, as is the default, the browser would paint all the time it waits.
	ok, err := chromedp.Run(b.ctx, chromedp.Poll[bool](condition, chromedp.WithPollingInterval(30*time.Millisecond)))
	require.NoError(b.t, err, condition)
	require.True(b.t, ok)
}

func (b browserPage) run(script string) {
	b.t.Helper()
	b.is(`(() => { ` + script + `; return true; })()`)
}

func valueOf[T any](b browserPage, expression string) T {
	b.t.Helper()
	got, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	require.NoError(b.t, err, expression)
	return got
}

func (b browserPage) text(id string) string {
	b.t.Helper()
	return valueOf[string](b, `document.getElementById('`+id+`').textContent`)
}

// settled waits until no change is under way.
func (b browserPage) settled() {
	b.t.Helper()
	b.is(`!document.body.hasAttribute('aria-busy')`)
}

// step opens a step, or a look at the whole sign, by the end of its label.
func (b browserPage) step(label string) {
	b.t.Helper()
	b.run(`[...document.querySelectorAll('#steps button')].find((b) => b.textContent.endsWith('` + label + `')).click()`)
	b.is(`!document.body.hasAttribute('aria-busy') && document.querySelector('#steps [aria-current]').textContent.endsWith('` + label + `')`)
}

// loaded waits for the step's picture.
func (b browserPage) loaded(stage string) {
	b.t.Helper()
	b.is(`document.getElementById('after').complete && document.getElementById('after').naturalWidth > 500 && document.getElementById('after').src.includes('` + stage + `')`)
}

// click clicks in the picture at a place given as shares of its width and
// height without the bar.
func (b browserPage) click(image string, x, y float64) {
	b.t.Helper()
	b.run(fmt.Sprintf(`const a = document.getElementById('%s'), b = a.getBoundingClientRect();
		const high = b.height * (a.naturalHeight - %d) / a.naturalHeight;
		document.getElementById('compare').dispatchEvent(new MouseEvent('click', {bubbles: true, clientX: b.left + %g * b.width, clientY: b.top + %g * high}))`, image, picture.BarHeight, x, y))
}

// shot writes a picture of the page to the folder DESK_SHOTS, to look at.
func (b browserPage) shot(name string) {
	b.t.Helper()
	dir := os.Getenv("DESK_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o600))
}

// accessible asks npm's axe-core, an outside check, for what is amiss by WCAG
// 2.2 AA.
func (b browserPage) accessible(what string) {
	b.t.Helper()
	if !valueOf[bool](b, `'axe' in window`) {
		axe, err := os.ReadFile("../../../testdata/npm/node_modules/axe-core/axe.min.js")
		require.NoError(b.t, err, "make test installs axe-core")
		_, err = chromedp.Run(b.ctx, chromedp.Evaluate[any](string(axe)+"; null"))
		require.NoError(b.t, err)
	}
	b.run(`window.amiss = null; axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']}).then((r) => { window.amiss = r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.target.join(' ')).join(', ')); })`)
	b.is(`window.amiss !== null`)
	assert.Empty(b.t, valueOf[[]string](b, `window.amiss`), what)
}

// A step is chosen, a slider dragged, and the picture and the command change;
// undo by keyboard takes it back.
func TestDeskInBrowser(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.step(" ink")
	b.is(`document.getElementById('k-ink-offset') !== null`)
	b.loaded("ink")
	before, picture := b.text("found"), `document.getElementById('after').src`
	was := valueOf[string](b, picture)
	b.run(`const s = document.querySelector('input[type=range][data-flag=ink-offset]'); s.value = s.max; for (const e of ['input', 'change']) s.dispatchEvent(new Event(e, {bubbles: true}))`)
	b.is(`document.getElementById('command').textContent.includes('--ink-offset')`)
	b.settled()
	assert.NotEqual(t, before, b.text("found"))
	assert.Regexp(t, `--ink-offset [\d.]+`, b.text("command"))
	assert.Empty(t, b.text("problem"))
	assert.NotEqual(t, was, valueOf[string](b, picture), "a new picture")
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'z', ctrlKey: true}))`)
	b.is(`!document.getElementById('command').textContent.includes('--ink-offset')`)
	b.settled()
	b.run(`const f = document.getElementById('k-ink-offset'); f.value = '999'; f.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.is(`document.getElementById('k-ink-offset').getAttribute('aria-invalid') === 'true'`)
	b.run(`const f = document.getElementById('k-ink-offset'); f.value = '0'; f.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.is(`!document.getElementById('k-ink-offset').hasAttribute('aria-invalid') && document.getElementById('problem').textContent === ''`)
	b.settled()
	assert.Equal(t, before, b.text("found"), "undone")
	b.run(`const d = document.getElementById('divider'); d.value = 40; d.dispatchEvent(new Event('input', {bubbles: true}))`)
	b.is(`document.getElementById('first').style.clipPath.includes('60%')`)
	type box struct{ Left, Width, Y float64 }
	where := valueOf[box](b, `(() => { const r = document.getElementById('compare').getBoundingClientRect(); return {Left: r.left, Width: r.width, Y: r.top + r.height / 2}; })()`)
	b.do(chromedp.DragAndDropXY(where.Left+0.4*where.Width, where.Y, where.Left+0.7*where.Width, where.Y))
	b.is(`Math.abs(document.getElementById('divider').value - 70) <= 1`)
	b.shot("ink")
	b.run(`const d = document.getElementById('how'); d.value = 'side'; d.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.is(`document.getElementById('second').getBoundingClientRect().left >= document.getElementById('first').getBoundingClientRect().right - 1`)
	b.shot("side")
	b.accessible("ink, side by side")
	// The two dots by hand: picked where they are in the picture.
	b.step(" dots")
	b.loaded("dots")
	auto := b.text("found")
	b.run(`document.querySelector('[data-pick=dots]').click()`)
	at, ok := d.session.At(pipeline.StageDots)
	require.True(t, ok)
	for i, dot := range stage.Of[pipeline.DotsFound](at).Pair {
		sheet := stage.Of[pipeline.SheetFound](at).Image
		b.click("after", dot.Centre.X/float64(sheet.W), dot.Centre.Y/float64(sheet.H))
		if i == 0 {
			b.is(`document.getElementById('found').textContent.includes('Click ')`)
		}
	}
	b.is(`document.getElementById('command').textContent.includes('--dots')`)
	b.settled()
	assert.Empty(t, b.text("problem"))
	assert.Contains(t, auto, "8.75")
	assert.Regexp(t, `8\.7[456]\d* px per mm`, b.text("found"))
	for view, label := range map[string]string{"power": " power", "lit": "at night"} {
		b.step(label)
		b.loaded(view)
		b.accessible(view)
		b.shot(view)
	}
}

// A dot that the photo does not show is put where it was drawn, and the parts
// are fetched.
func TestDeskMendsMissingDot(t *testing.T) {
	t.Parallel()
	whole, err := pipeline.RunPhoto(context.Background(), pipeline.Source{Data: demoPhoto(t)}, stage.Run{Settings: pipeline.DefaultSettings(), Until: pipeline.StageDots})
	require.NoError(t, err)
	pair, wholeSheet := stage.Of[pipeline.DotsFound](whole).Pair, stage.Of[pipeline.SheetFound](whole)
	rubbed := stage.Of[pipeline.PhotoFound](whole).ToFile(wholeSheet.InPhoto(pair[1].Centre))
	d, base := openDesk(t, rubOut(t, demoPhoto(t), rubbed, 45))
	b := browse(t, base)
	b.is(`document.getElementById('title').textContent.includes(' dots: ')`)
	b.settled()
	assert.Contains(t, b.text("problem"), "reference dot")
	b.is(`document.getElementById('before').complete && document.getElementById('before').naturalWidth > 500`)
	b.shot("missing-dot")
	at, ok := d.session.At(pipeline.StageInk)
	require.True(t, ok)
	b.run(`document.querySelector('[data-pick=dots]').click()`)
	for _, p := range pair {
		sheet := stage.Of[pipeline.SheetFound](at)
		q := sheet.FromPhoto(wholeSheet.InPhoto(p.Centre))
		b.click("before", q.X/float64(sheet.Image.W), q.Y/float64(sheet.Image.H))
		b.settled()
		if p == pair[0] {
			b.is(`document.querySelector('[data-pick=dots]').getAttribute('aria-pressed') === 'true'`)
			b.is(`(() => { // what was picked is marked on the picture
				const pick = document.querySelector('#picks i'), cross = document.getElementById('cross');
				const i = pick.getBoundingClientRect(), r = document.getElementById('before').getBoundingClientRect();
				return cross.hidden && pick.style.left === cross.style.left && pick.style.top === cross.style.top && i.top > r.top && i.bottom < r.bottom;
			})()`)
		}
	}
	b.is(`document.getElementById('command').textContent.includes('--dots')`)
	b.settled()
	b.is(`document.getElementById('title').textContent === 'The drawing'`)
	b.step(" dots")
	require.Empty(t, b.text("problem"))
	assert.Regexp(t, `8\.7\d* px per mm`, b.text("found"))
	b.loaded("dots")
	b.shot("dot-by-hand")
	dir := t.TempDir()
	_, err = chromedp.Call(b.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllow, BrowserContextID: chromedp.FromContext(b.ctx).BrowserContextID, DownloadPath: dir,
	})
	require.NoError(t, err)
	b.run(`document.querySelector('#each summary').click()`)
	b.is(`document.querySelector('a[href="file/part-stand.stl"]') !== null`)
	b.run(`document.querySelector('a[href="file/sign.3mf"]').click()`)
	require.Eventually(t, func() bool {
		data, err := os.ReadFile(filepath.Join(dir, folder.FileSign))
		return err == nil && len(data) > 10000 && string(data[:2]) == "PK"
	}, 60*time.Second, 100*time.Millisecond)
}

// rubOut covers a place of a JPEG by the paper's colour beside it.
func rubOut(t testing.TB, photo []byte, at geom.Point, r int) []byte {
	t.Helper()
	img, err := jpeg.Decode(bytes.NewReader(photo))
	require.NoError(t, err)
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Rect, img, image.Point{}, draw.Src)
	x, y := int(at.X), int(at.Y)
	for dy := -r; dy <= r; dy++ {
		for dx := -r; dx <= r; dx++ {
			if dx*dx+dy*dy <= r*r {
				out.Set(x+dx, y+dy, img.At(x+dx, y-r-5))
			}
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, out, &jpeg.Options{Quality: 92}))
	return b.Bytes()
}

// Lines are dropped by click and by keyboard; problems are marked where they
// are, and lead to their settings.
func TestDeskEditsLines(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.step(" strokes")
	b.loaded("strokes")
	at, ok := d.session.At(pipeline.StageStrokes)
	require.True(t, ok)
	traced := stage.Of[pipeline.StrokesFound](at).Strokes.Strokes
	b.run(`document.querySelector('[data-pick=drop-lines]').click()`)
	// A stroke's middle, as a share of the picture.
	middle := func(i int) geom.Point {
		run := traced[i].Runs[0]
		p := run.At(run.Length() / 2)
		size := stage.Of[pipeline.DotsFound](at).Frame.Size
		return geom.Pt(p.X/size.X, p.Y/size.Y)
	}
	p := middle(0)
	b.click("after", p.X, p.Y)
	b.is(`document.getElementById('command').textContent.includes('--drop-lines')`)
	b.settled()
	require.Empty(t, b.text("problem"))
	require.Contains(t, b.text("notes"), "1 line removed")
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	b.loaded("strokes")
	b.shot("dropped")
	now, ok := d.session.At(pipeline.StageStrokes)
	require.True(t, ok)
	found := stage.Of[pipeline.StrokesFound](now)
	assert.NotEqual(t, len(traced), len(found.Strokes.Strokes))
	assert.Len(t, found.Set.Drop, 1)
	b.run(`document.getElementById('undo').click()`)
	b.is(`!document.getElementById('command').textContent.includes('--drop-lines')`)
	b.settled()
	b.loaded("strokes")
	// The same by keyboard alone: the cross starts in the middle.
	b.run(`document.querySelector('[data-pick=drop-lines]').click()`)
	b.is(`document.activeElement.id === 'compare' && !document.getElementById('cross').hidden`)
	b.run(fmt.Sprintf(`const key = (k, n) => { for (let i = 0; i < n; i++) document.getElementById('compare').dispatchEvent(new KeyboardEvent('keydown', {key: k, bubbles: true})); };
		const dx = Math.round((%g - 0.5) / 0.0025), dy = Math.round((%g - 0.5) / 0.0025);
		key(dx > 0 ? 'ArrowRight' : 'ArrowLeft', Math.abs(dx)); key(dy > 0 ? 'ArrowDown' : 'ArrowUp', Math.abs(dy)); key('Enter', 1)`, p.X, p.Y))
	b.is(`document.getElementById('command').textContent.includes('--drop-lines')`)
	b.settled()
	assert.Empty(t, b.text("problem"))
	b.run(`document.getElementById('undo').click()`)
	b.is(`!document.getElementById('command').textContent.includes('--drop-lines')`)
	b.settled()
	// Problems: the strip bends less than the lines do.
	b.step(" bends")
	b.run(`const s = document.getElementById('k-tight-bends'); s.value = 'join'; s.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.is(`document.querySelectorAll('#marks button').length > 1`)
	b.settled()
	b.loaded("bends")
	marks := valueOf[int](b, `document.querySelectorAll('#marks button').length`)
	assert.Equal(t, marks, valueOf[int](b, `document.querySelectorAll('#list li').length`))
	b.accessible("bends with marks")
	b.shot("marks")
	b.run(`document.querySelector('#marks button').click()`)
	b.is(`document.activeElement.id === 'm-0'`)
	b.run(`[...document.querySelectorAll('#list li:first-child button')].find((b) => b.textContent.startsWith('Change')).click()`)
	b.is(`document.activeElement.id === 'k-bend-radius'`)
}

// Lines are moved by drag and by keys, drawn by picks, and each change is an entry that the
// command line repeats and that can be taken out.
func TestDeskChangesByHand(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.step(" hand")
	b.loaded("hand")
	b.is(`document.querySelectorAll('#handles button').length > 20`)
	line := func() geom.Centreline {
		at, ok := d.session.At(pipeline.StageHand)
		require.True(t, ok)
		return stage.Of[pipeline.HandFound](at).Line
	}
	edits := func() []stage.Entry {
		at, _ := d.session.At(pipeline.StageHand)
		return stage.Of[pipeline.HandFound](at).Edits
	}
	at, _ := d.session.At(pipeline.StageHand)
	size := stage.Of[pipeline.DotsFound](at).Frame.Size
	was := line()
	type box struct{ X, Y, W float64 }
	where := valueOf[box](b, `(() => { const r = document.querySelectorAll('#handles button')[0].getBoundingClientRect(); return {X: r.left + r.width / 2, Y: r.top + r.height / 2, W: document.getElementById('after').getBoundingClientRect().width}; })()`)
	mm := size.X / where.W
	b.do(chromedp.DragAndDropXY(where.X, where.Y, where.X+16, where.Y-12))
	b.is(`document.getElementById('command').textContent.includes('--edits')`)
	b.settled()
	require.Empty(t, b.text("problem"))
	moved := line()
	require.Len(t, edits(), 1)
	e := edits()[0]
	assert.Equal(t, "move", e.Verb)
	assert.InDelta(t, 20*mm, e.At[0].Dist(e.At[1]), 3*mm)
	assert.NotEqual(t, was.Length(), moved.Length())
	b.loaded("hand")
	b.shot("hand")
	b.accessible("hand")
	// Larger: the picture scrolls in its frame, and handles go with it.
	handleAt := func() float64 {
		return valueOf[float64](b, `(() => { const r = document.querySelectorAll('#handles button')[5].getBoundingClientRect(), a = document.getElementById('after').getBoundingClientRect(); return (r.left + r.width / 2 - a.left) / a.width; })()`)
	}
	share := handleAt()
	b.run(`for (let i = 0; i < 2; i++) document.getElementById('closer').click()`)
	b.is(`document.getElementById('after').clientWidth > 2 * document.getElementById('pane').clientWidth`)
	assert.InDelta(t, share, handleAt(), 0.002)
	b.shot("larger")
	b.run(`document.getElementById('pane').dispatchEvent(new KeyboardEvent('keydown', {key: '0', bubbles: true}))`)
	b.is(`document.getElementById('after').clientWidth <= document.getElementById('pane').clientWidth`)
	// By keys: one entry goes on, however many keys.
	b.run(`const h = document.querySelectorAll('#handles button')[0]; h.focus(); for (let i = 0; i < 4; i++) h.dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', bubbles: true})); h.dispatchEvent(new KeyboardEvent('keydown', {key: 'Enter', bubbles: true}))`)
	b.settled()
	require.Len(t, edits(), 1, "the same place moved on")
	assert.InDelta(t, e.At[1].X+0.004*size.X, edits()[0].At[1].X, 0.2)
	// A line drawn by two picks.
	b.loaded("hand")
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'draw').click()`)
	b.click("after", 0.1, 0.9)
	b.settled()
	b.click("after", 0.3, 0.9)
	b.is(`document.getElementById('command').textContent.includes('draw ')`)
	b.settled()
	require.Len(t, edits(), 2)
	assert.Len(t, line().Curves, len(was.Curves)+1)
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	// Taken out again, the move first; then undone.
	b.run(`document.querySelector('ol.entries li button').click()`)
	b.settled()
	b.is(`document.querySelectorAll('ol.entries li').length === 1`)
	require.Len(t, edits(), 1)
	assert.Equal(t, "draw", edits()[0].Verb)
	b.run(`document.getElementById('undo').click()`)
	b.settled()
	b.is(`document.querySelectorAll('ol.entries li').length === 2`)
	// The same settings by themselves make the same lines.
	again := d.table.NewSession(pipeline.Given(d.job.Source), d.session.Settings())
	r, err := again.Run(context.Background(), pipeline.StageHand)
	require.NoError(t, err)
	assert.Equal(t, line(), stage.Of[pipeline.HandFound](r).Line)
	// One that finds no line is shown as such and kept.
	code, s := post(t, base+"set", `{"Flag":"edits","Value":"move 2,2 5,5"}`)
	assert.Equal(t, 200, code)
	assert.Empty(t, s.Problem)
	var texts []string
	for _, m := range s.Marks {
		texts = append(texts, m.Text)
	}
	assert.Contains(t, strings.Join(texts, " "), "edit 1, move at x 2.0, y 2.0 mm, was not made")
	code, s = post(t, base+"pick", `{"Flag":"edits","Verb":"paint","Stage":"hand","X":0.5,"Y":0.5}`)
	assert.Equal(t, 200, code)
	assert.Contains(t, s.Problem, "edits paint does not take places")
}

// A corner of the paper is dragged by the mouse, and moved by keyboard.
func TestDeskMovesCorners(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.step(" sheet")
	b.loaded("sheet")
	b.is(`document.querySelectorAll('#handles button').length === 4`)
	at, _ := d.session.At(pipeline.StageSheet)
	was := stage.Of[pipeline.SheetFound](at).Corners
	type box struct{ X, Y, W float64 }
	where := valueOf[box](b, `(() => { const r = document.querySelectorAll('#handles button')[0].getBoundingClientRect(); return {X: r.left + r.width / 2, Y: r.top + r.height / 2, W: document.getElementById('after').getBoundingClientRect().width}; })()`)
	b.do(chromedp.DragAndDropXY(where.X, where.Y, where.X+20, where.Y+10))
	b.is(`document.getElementById('command').textContent.includes('--corners')`)
	b.settled()
	require.Empty(t, b.text("problem"))
	at, _ = d.session.At(pipeline.StageSheet)
	corners := stage.Of[pipeline.SheetFound](at).Corners
	wide := float64(stage.Of[pipeline.PhotoFound](at).Colour.W)
	k := wide / where.W // px of the photo in one of the screen
	assert.InDelta(t, was[0].X+20*k, corners[0].X, 2*k)
	assert.InDelta(t, was[0].Y+10*k, corners[0].Y, 2*k)
	for i := 1; i < 4; i++ {
		assert.InDelta(t, 0, was[i].Dist(corners[i]), 0.2, "the others stay")
	}
	b.loaded("sheet")
	b.shot("corner")
	b.accessible("handles")
	b.run(`window.press = (key) => document.activeElement.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true}));
		document.querySelectorAll('#handles button')[2].focus(); press('ArrowUp')`)
	b.is(`document.querySelector('#ring path').getAttribute('d') !== ''`)
	b.shot("corner-keys")
	b.run(`press('Escape')`)
	b.is(`document.querySelector('#ring path').getAttribute('d') === ''`)
	b.run(`for (let i = 0; i < 3; i++) press('ArrowLeft')`) // and a pause lets it go
	b.is(`document.querySelector('#ring path').getAttribute('d') === ''`)
	b.settled()
	at, _ = d.session.At(pipeline.StageSheet)
	assert.InDelta(t, was[2].X-0.003*wide, stage.Of[pipeline.SheetFound](at).Corners[2].X, 2)
	code, s := post(t, base+"move", `{"Index":9,"X":0.5,"Y":0.5}`)
	assert.Equal(t, 200, code)
	assert.Contains(t, s.Problem, "no such place")
}

// While a slider moves, what it does is shown roughly, and nothing is changed; let go, the job is.
func TestDeskShowsWhatASliderDoes(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.stepShown("ink")
	move := func(flag string, v int, event string) {
		b.run(fmt.Sprintf(`const s = document.querySelector('input[type=range][data-flag=%s]'); s.value = %d; s.dispatchEvent(new Event('%s', {bubbles: true}))`, flag, v, event))
	}
	const rough = `document.getElementById('after').src.startsWith('blob:')`
	for _, v := range []int{20, 22, 24} {
		move("ink-offset", v, "input")
	}
	b.is(rough)
	b.is(`document.getElementById('after').naturalWidth > 500`)
	assert.NotContains(t, b.text("command"), "ink-offset")
	move("ink-offset", 24, "change")
	b.is(`document.getElementById('command').textContent.includes('--ink-offset')`)
	b.settled()
	b.loaded("ink")
	assert.Empty(t, b.text("problem"))
	// Beside the drawing the lines follow.
	b.run(`document.querySelector('#steps button').click()`)
	b.is(`document.querySelectorAll('#over .lines path').length > 3`)
	b.settled()
	b.run(`window.was = document.getElementById('over').innerHTML`)
	move("enlarge", 60, "input")
	b.is(`document.getElementById('over').innerHTML !== window.was`)
	assert.NotContains(t, b.text("command"), "enlarge")
	// What cannot be asked for.
	for body, want := range map[string]int{
		`{"View":"ink","Flag":"tea","Value":"1"}`:            http.StatusUnprocessableEntity,
		`{"View":"ink","Flag":"ink-offset","Value":"much"}`:  http.StatusUnprocessableEntity,
		`{"View":"drawing","Flag":"ink-offset","Value":"9"}`: http.StatusConflict,
		`{"View":`: http.StatusBadRequest,
	} {
		code, _ := post(t, base+"look", body)
		assert.Equal(t, want, code, body)
	}
}

// The sign is dragged on the printer's bed by the handle in the middle of its largest part.
func TestDeskLaysSign(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.stepShown("beds")
	value := func() string {
		k, err := d.table.Setting("lay-at")
		require.NoError(t, err)
		return k.Get(d.session.Settings())
	}
	require.Equal(t, "auto", value())
	const handle = `document.querySelector('#handles button')`
	from := b.middle(handle)
	// While it is dragged the sign's outline goes along.
	ring := func() geom.Point {
		return valueOf[geom.Point](b, `(() => { const r = document.querySelector('#ring path').getBoundingClientRect(); return {X: r.left + r.width / 2, Y: r.top + r.height / 2}; })()`)
	}
	b.mouse(pressed, from)
	b.mouse(moved, from.Add(geom.Pt(10, 4)))
	first := ring()
	assert.InDelta(t, 0, first.Dist(from.Add(geom.Pt(10, 4))), 2, "its middle is at the pointer")
	b.mouse(moved, from.Add(geom.Pt(-3, -6)))
	assert.InDelta(t, 0, ring().Sub(first).Dist(geom.Pt(-13, -10)), 0.5)
	b.shot("laying")
	b.mouse(released, from.Add(geom.Pt(-3, -6)))
	b.is(`document.getElementById('command').textContent.includes('--lay-at')`)
	b.settled()
	assert.Empty(t, b.text("problem"))
	assert.Regexp(t, `^\d+(\.\d)?,\d+(\.\d)?$`, value())
	b.loaded("beds")
	b.shot("laid")
}

// Nothing that is asked for is lost while something else is under way: all files
// are written, and the last value of each of two sliders holds.
func TestDeskLosesNothing(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	d.job.Dir = filepath.Join(t.TempDir(), "sign")
	b := browse(t, base)
	b.step(" dots")
	b.run(`const slide = (flag, v) => { const s = document.querySelector('input[type=range][data-flag=' + flag + ']'); s.value = v; for (const e of ['input', 'change']) s.dispatchEvent(new Event(e, {bubbles: true})); };
		document.getElementById('write').click();
		for (const v of [1.1, 1.2, 1.3]) slide('dot-clear', v);
		for (const v of [4, 5]) slide('dot-largest', v);`)
	b.settled()
	want := b.text("command")
	assert.Regexp(t, `--dot-largest 4\.9`, want)
	assert.Regexp(t, `--dot-clear 1\.[23]`, want)
	assert.FileExists(t, filepath.Join(d.job.Dir, folder.FileSign))
	undone := 0
	for valueOf[bool](b, `!document.getElementById('undo').disabled`) {
		b.run(`document.getElementById('undo').click()`)
		b.settled()
		undone++
	}
	assert.Equal(t, 2, undone, "what a slider passes through is one change")
}

// The parts in 3D: they are drawn, pulled apart, hidden.
func TestDeskSolid(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.step("In 3D")
	require.Empty(t, b.text("problem"))
	b.is(`document.querySelectorAll('#bodies input').length >= 5`)
	// How many pixels of the canvas are drawn on.
	const drawn = `(() => { const c = document.getElementById('solid'), g = document.createElement('canvas'); g.width = c.width; g.height = c.height;
		const x = g.getContext('2d'); x.drawImage(c, 0, 0); const d = x.getImageData(0, 0, g.width, g.height).data; let n = 0;
		for (let i = 3; i < d.length; i += 4) if (d[i] > 0) n++; return n; })()`
	all := valueOf[int](b, drawn)
	assert.Greater(t, all, 5000)
	b.shot("solid")
	b.run(`const s = document.getElementById('apart'); s.value = 2; s.dispatchEvent(new Event('input', {bubbles: true}))`)
	apart := valueOf[int](b, drawn)
	assert.NotEqual(t, all, apart)
	b.shot("solid-apart")
	// A part that is clicked is named.
	b.run(`document.getElementById('solid').scrollIntoView({block: 'center'})`)
	named := func() string {
		for _, at := range []geom.Point{geom.Pt(0.5, 0.5), geom.Pt(0.5, 0.75), geom.Pt(0.45, 0.7), geom.Pt(0.55, 0.8), geom.Pt(0.5, 0.9)} {
			p := valueOf[geom.Point](b, fmt.Sprintf(`(() => { const r = document.getElementById('solid').getBoundingClientRect();
				return {X: r.left + %g * r.width, Y: r.top + %g * r.height}; })()`, at.X, at.Y))
			b.mouse(pressed, p)
			b.mouse(released, p)
			if name := b.text("found"); name != "" {
				return name
			}
		}
		return ""
	}
	assert.Contains(t, []string{"stand", "lid", "channel 1", "backboard"}, named())
	assert.Equal(t, 1, valueOf[int](b, `document.querySelectorAll('#bodies .chosen').length`))
	// The steps of assembly, one after another, with what they are about.
	b.is(`document.getElementById('build').options.length > 6`)
	b.run(`document.getElementById('build-on').click()`)
	b.is(`document.getElementById('build-said').textContent.startsWith('1. Print the strip test piece')`)
	b.is(`document.querySelectorAll('#bodies input').length === 1`)
	assert.Positive(t, valueOf[int](b, drawn))
	assert.NotContains(t, b.text("build-said"), "--", "settings are named as on the page")
	top := valueOf[float64](b, `document.getElementById('solid').getBoundingClientRect().top`)
	behind := 0
	for i := 2; i < valueOf[int](b, `document.getElementById('build').options.length`); i++ { // those that put nothing together too
		b.run(`document.getElementById('build-on').click()`)
		b.is(fmt.Sprintf(`document.getElementById('build-said').textContent.startsWith('%d. ')`, i))
		b.is(`!document.body.hasAttribute('aria-busy')`)
		assert.Empty(t, b.text("found"))
		assert.InDelta(t, top, valueOf[float64](b, `document.getElementById('solid').getBoundingClientRect().top`), 0.5, "a longer text does not move the picture")
		if math.Abs(valueOf[float64](b, `Number(document.getElementById('turn').value)`)) > 90 {
			behind++
		}
	}
	assert.Positive(t, behind, "wires are seen from behind")
	assert.InDelta(t, -30, valueOf[float64](b, `Number(document.getElementById('turn').value)`), 0.5, "and the lid from the front")
	b.is(`document.getElementById('build-said').textContent.includes('lid')`)
	b.is(`document.getElementById('build-on').disabled`)
	b.accessible("a step of assembly")
	b.shot("solid-step")
	b.run(`const s = document.getElementById('build'); s.value = '0'; s.dispatchEvent(new Event('change'))`)
	b.is(`document.getElementById('build-said').textContent.startsWith('Next step')`)
	b.is(`document.querySelectorAll('#bodies input').length >= 5`)
	b.run(`for (const c of document.querySelectorAll('#bodies input')) { if (c.checked) c.click(); }`)
	assert.Zero(t, valueOf[int](b, drawn))
	b.accessible("solid")
}

// A phone's width: nothing is wider than the screen.
func TestDeskOnPhone(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.do(chromedp.EmulateViewport(375, 800))
	for _, label := range []string{" strokes", "In 3D"} {
		b.step(label)
		assert.LessOrEqual(t, valueOf[int](b, `document.documentElement.scrollWidth`), 375, label)
	}
	b.step("Drawing")
	b.loaded("sheet.jpg")
	assert.LessOrEqual(t, valueOf[int](b, `document.documentElement.scrollWidth`), 375)
	assert.Less(t, valueOf[float64](b, `document.getElementById('after').getBoundingClientRect().bottom`), 800.0, "the picture is in sight")
	b.accessible("on a phone")
	b.shot("phone")
}

// The bundle is what `+"`make web`"+` makes of its source and npm's three.js.
func TestSolidBundle(t *testing.T) {
	out := filepath.Join(t.TempDir(), "solid.js")
	cmd := exec.Command("make", "-s", "-C", "../../..", "web", "WEB_OUT="+out)
	text, err := cmd.CombinedOutput()
	require.NoError(t, err, string(text))
	want, err := os.ReadFile(out)
	require.NoError(t, err)
	got, err := web.ReadFile("web/solid.js")
	require.NoError(t, err)
	assert.True(t, bytes.Equal(want, got), "run make web")
}

// How long a changed setting takes with its new picture, on a photo of 12
// megapixels; 0.3 s is the goal up to the bends.
func BenchmarkDesk(b *testing.B) {
	for _, c := range []struct{ view, flag, one, other string }{
		{"sheet", "edge-share", "0.5", "0.6"},
		{"ink", "ink-offset", "40", "45"},
		{"dots", "dot-clear", "1.5", "2"},
		{"strokes", "spur", "0.6", "0.5"},
		{"centreline", "smooth", "0.15", "0.12"},
		{"shapes", "shape-tolerance", "0.4", "0.5"},
		{"spacing", "spacing", "8", "7.5"},
		{"bends", "bend-radius", "6", "5"},
		{"strips", "strip-cut", "20", "25"},
		{"parts", "foot-height", "12", "10"},
		{"lit", "strip-watts", "10", "7"},
	} {
		b.Run(c.view+"/"+c.flag, func(b *testing.B) {
			d, err := New(b.Context(), pipeline.Table(), Job{
				Source: pipeline.Source{Data: demoPhoto(b)}, Settings: pipeline.DefaultSettings(),
				Command: func(string) []string { return nil },
			}, "127.0.0.1")
			require.NoError(b, err)
			ask := func(method, path, body string) {
				q := httptest.NewRequest(method, "http://127.0.0.1/"+d.token+"/"+path, strings.NewReader(body))
				w := httptest.NewRecorder()
				d.Handler().ServeHTTP(w, q)
				require.Equal(b, 200, w.Code, path)
			}
			ask("POST", "view", `{"Stage":"`+c.view+`"}`)
			values := []string{c.one, c.other}
			for i := 0; b.Loop(); i++ {
				ask("POST", "set", `{"Flag":"`+c.flag+`","Value":"`+values[i%2]+`","Drag":true}`)
				ask("GET", "picture/"+c.view+".jpg", "")
			}
		})
	}
}
