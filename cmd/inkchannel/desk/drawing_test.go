package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

const (
	pressed  = input.DispatchMouseEventTypeMousePressed
	moved    = input.DispatchMouseEventTypeMouseMoved
	released = input.DispatchMouseEventTypeMouseReleased
)

// mouse sends the browser an event of its left button at a place of the window.
func (b browserPage) mouse(kind input.DispatchMouseEventType, p geom.Point) {
	b.t.Helper()
	e := input.DispatchMouseEventParams{Type: kind, X: p.X, Y: p.Y, Button: input.MouseButtonLeft, ClickCount: 1}
	if kind != released {
		e.Buttons = 1
	}
	b.send(e)
}

// hover moves the mouse to a place of the window, no button pressed.
func (b browserPage) hover(p geom.Point) {
	b.t.Helper()
	b.send(input.DispatchMouseEventParams{Type: moved, X: p.X, Y: p.Y})
}

func (b browserPage) send(e input.DispatchMouseEventParams) {
	b.t.Helper()
	b.do(func(ctx context.Context, t *chromedp.Target) (v chromedp.Void, err error) {
		_, err = cdp.Call(ctx, t, input.DispatchMouseEvent, e)
		return v, err
	})
}

// middle is the middle of the element that an expression names, in px of the window.
func (b browserPage) middle(expression string) (p geom.Point) {
	b.t.Helper()
	return valueOf[geom.Point](b, `(() => { const r = (`+expression+`).getBoundingClientRect(); return {X: r.left + r.width / 2, Y: r.top + r.height / 2}; })()`)
}

// at is a place of a picture, as a share of it, with or without its bar of text, in px of the
// window.
func (b browserPage) at(image string, share geom.Point, bar bool) geom.Point {
	b.t.Helper()
	high := 0
	if bar {
		high = picture.BarHeight
	}
	return valueOf[geom.Point](b, fmt.Sprintf(`(() => { const a = %s; a.scrollIntoView({block: 'center'}); const r = a.getBoundingClientRect();
		return {X: r.left + %g * r.width, Y: r.top + %g * r.height * (a.naturalHeight - %d) / a.naturalHeight}; })()`, image, share.X, share.Y, high))
}

// press clicks with the mouse at a place of a picture.
func (b browserPage) press(image string, share geom.Point, bar bool) {
	b.t.Helper()
	p := b.at(image, share, bar)
	b.mouse(pressed, p)
	b.mouse(released, p)
}

const linesDrawn = `[...document.querySelectorAll('#over .lines path')].map((p) => p.getAttribute('d')).join()`

// drawing waits until the drawing is shown with its lines.
func (b browserPage) drawing() {
	b.t.Helper()
	b.is(`document.querySelectorAll('#over .lines path').length > 3`)
	b.settled()
	b.loaded("sheet.jpg")
}

// openDrawing serves the demo's photo and opens its drawing in a browser.
func openDrawing(t testing.TB) (d *Desk, base string, b browserPage) {
	t.Helper()
	d, base = openDesk(t, demoPhoto(t))
	b = browse(t, base)
	b.drawing()
	return d, base, b
}

// stepShown goes to a step and waits until its picture is shown.
func (b browserPage) stepShown(name string) {
	b.t.Helper()
	b.step(" " + name)
	b.settled()
	b.loaded(name)
}

// The drawing opens by itself, with lines over the sheet as vectors; what is dragged shows its
// effect before it is let go, and only then changes the job.
func TestDeskDrawing(t *testing.T) {
	t.Parallel()
	d, _, b := openDrawing(t)
	assert.Equal(t, "The drawing", b.text("title"))
	assert.Contains(t, b.text("found"), "too near")
	b.accessible("drawing")
	b.shot("drawing")
	edits := func() []stage.Entry {
		at, _ := d.session.At(pipeline.StageHand)
		return stage.Of[pipeline.HandFound](at).Edits
	}
	// A drag, looked at half way.
	was := valueOf[string](b, linesDrawn)
	from := b.middle(`document.querySelectorAll('#handles button')[0]`)
	b.mouse(pressed, from)
	for i := 1; i <= 6; i++ {
		b.mouse(moved, from.Add(geom.Pt(4, -3).Mul(float64(i))))
	}
	b.is(fmt.Sprintf(`%s !== %q`, linesDrawn, was))
	b.is(`!document.getElementById('lens').hidden`)
	b.is(`document.getElementById('lens').getBoundingClientRect().top >= document.getElementById('pane').getBoundingClientRect().top`)
	b.shot("drag")
	assert.Empty(t, edits(), "nothing is changed yet")
	b.mouse(released, from.Add(geom.Pt(24, -18)))
	b.is(`document.getElementById('command').textContent.includes('--edits')`)
	b.settled()
	require.Len(t, edits(), 1)
	b.is(`document.getElementById('lens').hidden`)
	b.is(`[...document.querySelectorAll('#handles button')].some((h) => !h.hidden)`)
	// Lengths in inches, as they are typed and shown.
	b.run(`const u = document.getElementById('unit'); u.value = 'in'; u.dispatchEvent(new Event('change'))`)
	b.is(`document.querySelector('label[for="k-width"]').textContent === 'width (in)'`)
	b.run(`const w = document.getElementById('k-width'); w.value = '8'; w.dispatchEvent(new Event('change'))`)
	b.settled()
	at, _ := d.session.At(pipeline.StageDots)
	assert.InDelta(t, 8*25.4, stage.Of[pipeline.DotsFound](at).Asked.X, 1e-9)
	b.is(`document.getElementById('k-width').value === '8in'`)
	b.shot("inches")
	b.run(`document.getElementById('undo').click(); const u = document.getElementById('unit'); u.value = 'mm'; u.dispatchEvent(new Event('change'))`)
	b.settled()
	b.is(`document.getElementById('k-width').value === '0'`)
	// A line drawn by hand.
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'freehand').click()`)
	box := b.middle(`document.getElementById('after')`)
	b.mouse(pressed, box)
	for i := 1; i <= 30; i++ {
		b.mouse(moved, box.Add(geom.Pt(3, 0).Mul(float64(i)).Add(geom.Pt(0, float64(i*(30-i))/12))))
	}
	b.is(`document.querySelector('#over .trail') !== null`)
	b.mouse(released, box.Add(geom.Pt(90, 0)))
	b.is(`document.getElementById('command').textContent.includes('freehand')`)
	b.settled()
	require.Len(t, edits(), 2)
	assert.Greater(t, len(edits()[1].At), 8)
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	// The same by picks: its places, then Done.
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'freehand').click()`)
	for i, p := range []geom.Point{geom.Pt(0.1, 0.1), geom.Pt(0.2, 0.15), geom.Pt(0.3, 0.1)} {
		b.press(`document.getElementById('after')`, p, false)
		b.settled()
		assert.Equal(t, i > 0, valueOf[bool](b, `!document.getElementById('done').classList.contains('off')`), "at least two places")
	}
	b.run(`document.getElementById('done').click()`)
	b.is(`document.querySelectorAll('ol.entries li').length === 3`)
	b.settled()
	assert.Len(t, edits()[2].At, 3)
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	b.run(`for (let i = 0; i < 2; i++) document.getElementById('undo').click()`)
	b.is(`document.querySelectorAll('ol.entries li').length === 1`)
	b.settled()
	// A stretch is given a length that is typed; a number that is none is refused, and leaves nothing.
	onLine := valueOf[geom.Point](b, `(() => { const p = document.querySelector('#over .lines path'), box = document.getElementById('over').viewBox.baseVal;
		const q = p.getPointAtLength(9); return {X: q.x / box.width, Y: q.y / box.height}; })()`)
	typed := func(number string) {
		b.run(fmt.Sprintf(`const n = document.querySelector('input[aria-label="length, mm"]'); n.value = %q; n.dispatchEvent(new Event('input'))`, number))
		b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'length').click()`)
		b.press(`document.getElementById('after')`, onLine, false)
	}
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'straighten').click()`)
	b.hover(b.at(`document.getElementById('after')`, onLine, false))
	b.is(`document.querySelectorAll('#over .stretches path.aim').length === 1`)
	b.shot("stretch")
	b.hover(b.at(`document.getElementById('after')`, geom.Pt(0.02, 0.98), false))
	b.is(`document.querySelectorAll('#over path.aim').length === 0`)
	typed("long")
	b.is(`document.getElementById('problem').textContent.includes('length needs a number')`)
	b.settled()
	require.Len(t, edits(), 1)
	typed("71.5")
	b.is(`document.querySelectorAll('ol.entries li').length === 2`)
	b.settled()
	require.Len(t, edits(), 2)
	assert.Equal(t, 71.5, edits()[1].Value)
	b.accessible("a typed length")
	b.shot("length")
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'})); document.getElementById('undo').click()`)
	b.is(`document.querySelectorAll('ol.entries li').length === 1`)
	b.settled()
	// What is switched on is worked out and drawn.
	assert.Zero(t, valueOf[int](b, `document.querySelectorAll('#over .strip path, #over .wires path').length`))
	for _, name := range []string{"strip", "wires", "bed"} {
		b.run(fmt.Sprintf(`document.querySelector('[data-over=%q]').click()`, name))
		b.settled()
		b.is(fmt.Sprintf(`document.querySelectorAll('#over .%s path').length > 0`, name))
	}
	b.accessible("drawing with all overlays")
	b.run(`document.querySelector('[data-over="grips"]').click()`)
	b.is(`document.getElementById('handles').hidden`)
	b.shot("overlays")
	b.run(`document.querySelector('[data-over="grips"]').click()`)
	b.run(`document.querySelector('[data-over="strip"]').click()`)
	b.settled()
	b.is(`document.querySelectorAll('#over .strip path').length === 0`)
	// The wheel enlarges what is under it, and a drag moves it along.
	b.run(`const p = document.getElementById('pane'), r = p.getBoundingClientRect(); p.dispatchEvent(new WheelEvent('wheel', {deltaY: -900, clientX: r.left + r.width / 2, clientY: r.top + r.height / 2, bubbles: true, cancelable: true}))`)
	b.is(`document.getElementById('after').clientWidth > 2 * document.getElementById('pane').clientWidth`)
	where := b.middle(`document.getElementById('pane')`)
	scrolled := valueOf[float64](b, `document.getElementById('pane').scrollLeft`)
	b.run(`document.querySelector('[data-over="grips"]').click()`)
	b.mouse(pressed, where)
	b.mouse(moved, where.Add(geom.Pt(-60, -20)))
	b.mouse(released, where.Add(geom.Pt(-60, -20)))
	assert.InDelta(t, scrolled+60, valueOf[float64](b, `document.getElementById('pane').scrollLeft`), 4)
	b.run(`document.querySelector('[data-over="grips"]').click(); document.getElementById('whole').click()`)
	// Steps are in the browser's history.
	b.step(" ink")
	b.loaded("ink")
	b.run(`history.back()`)
	b.is(`document.getElementById('title').textContent === 'The drawing'`)
	b.settled()
	// The links past what is at the top lead on in the page, and to no step.
	b.run(`document.querySelector('a[href="#settings"]').click()`)
	b.is(`document.activeElement.id === 'settings'`)
	b.settled()
	assert.Empty(t, b.text("problem"))
	assert.Equal(t, "The drawing", b.text("title"))
	// The list of keys.
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: '?', bubbles: true}))`)
	b.is(`document.getElementById('help').open`)
	b.accessible("keys")
	b.run(`document.getElementById('help-close').click()`)
	b.is(`!document.getElementById('help').open`)
}

// A handle bends its whole stretch by choice or with Shift held, and an axis is dragged.
func TestDeskBendsAndMirrors(t *testing.T) {
	t.Parallel()
	d, _, b := openDrawing(t)
	found := func() pipeline.HandFound {
		at, _ := d.session.At(pipeline.StageHand)
		return stage.Of[pipeline.HandFound](at)
	}
	_, handles := d.handles()
	along := slices.IndexFunc(handles, func(h stage.Handle) bool { return h.Other != "" })
	require.Positive(t, along)
	const shiftKey = 8 // of the protocol's bit field
	drag := func(keys int64) {
		t.Helper()
		e := func(kind input.DispatchMouseEventType, p geom.Point) {
			b.send(input.DispatchMouseEventParams{Type: kind, X: p.X, Y: p.Y, Button: input.MouseButtonLeft, Buttons: 1, ClickCount: 1, Modifiers: keys})
		}
		from := b.middle(fmt.Sprintf(`document.querySelectorAll('#handles button')[%d]`, along))
		e(pressed, from)
		for i := range 5 {
			e(moved, from.Add(geom.Pt(3, 2).Mul(float64(i))))
		}
		e(released, from.Add(geom.Pt(12, 8)))
		b.settled()
	}
	choose := func() { b.run(`document.querySelector('[data-over="bends"]').click()`) }
	took := func(verb string, n int) {
		t.Helper()
		b.is(fmt.Sprintf(`document.querySelectorAll('ol.entries li').length === %d`, n))
		b.settled()
		f := found()
		require.Len(t, f.Edits, n)
		assert.Equal(t, verb, f.Edits[n-1].Verb)
		assert.Empty(t, f.Missed)
	}
	undo := func() {
		b.run(`document.getElementById('undo').click()`)
		b.is(`document.querySelectorAll('ol.entries li').length === 0`)
		b.settled()
	}
	drag(0)
	took("move", 1)
	undo()
	drag(shiftKey)
	took("bend", 1)
	undo()
	choose()
	drag(0)
	took("bend", 1)
	b.shot("bent")
	undo()
	choose()
	before := found().Line
	b.run(`[...document.querySelectorAll('#knobs button')].find((b) => b.textContent === 'mirror').click()`)
	image := `document.getElementById('after')`
	b.mouse(pressed, b.at(image, geom.Pt(0.5, 0.1), false))
	b.mouse(moved, b.at(image, geom.Pt(0.5, 0.5), false))
	b.mouse(moved, b.at(image, geom.Pt(0.5, 0.9), false))
	b.is(`document.querySelector('#over .trail') !== null`)
	b.mouse(released, b.at(image, geom.Pt(0.5, 0.9), false))
	b.settled()
	b.press(image, geom.Pt(0.8, 0.2), false)
	took("mirror", 1)
	b.shot("mirrored")
	box := geom.BoundsOf(found().Line.Curves, 0.02)
	size := stage.Of[pipeline.DotsFound](d.session.Latest()).Frame.Size
	assert.InDelta(t, size.X/2, (box.Min.X+box.Max.X)/2, 0.5, "as wide on either side of the axis")
	assert.NotEqual(t, before, found().Line)
}

// Where no drawing can be made the page shows the step that failed, whose picture helps.
func TestDeskDrawingFails(t *testing.T) {
	t.Parallel()
	photo, _ := withoutDots(t)
	_, base := openDesk(t, photo)
	b := browse(t, base)
	b.is(`document.getElementById('title').textContent.includes(' dots: ')`)
	b.settled()
	assert.Contains(t, b.text("problem"), "no reference dot found")
	b.is(`document.getElementById('get').disabled && document.getElementById('get').textContent.includes('see the problem')`)
	b.is(`document.getElementById('before').complete && document.getElementById('before').naturalWidth > 500`)
	b.accessible("without dots")
	b.shot("nodots")
}

// A program that was stopped is told of before anything is asked of it, and forgotten once it answers.
func TestDeskTellsThatItIsGone(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	b := browse(t, base)
	b.settled()
	b.is(`!document.getElementById('get').disabled`)
	b.run(`window.answers = window.fetch; window.fetch = () => Promise.reject(new TypeError('no answer'))`)
	b.is(`document.getElementById('problem').textContent.includes('it was stopped')`)
	b.run(`window.fetch = window.answers`)
	b.is(`document.getElementById('problem').textContent === ''`)
}

// What takes long can be stopped: the page goes away from its request, and the next one goes on.
func TestDeskStops(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	ctx, stop := context.WithCancel(context.Background())
	stop()
	q := httptest.NewRequestWithContext(ctx, http.MethodPost, base+"view", strings.NewReader(`{"Stage":"strips"}`))
	d.Handler().ServeHTTP(httptest.NewRecorder(), q)
	res, err := http.Get(base + "state")
	require.NoError(t, err)
	defer res.Body.Close()
	var s state
	require.NoError(t, json.NewDecoder(res.Body).Decode(&s))
	assert.Empty(t, s.Problem)
	assert.Equal(t, "photo", s.View, "as before")
	assert.Empty(t, s.Failed, "no stage is to blame")
	_, s = post(t, base+"view", `{"Stage":"strips"}`)
	assert.Empty(t, s.Problem)
	assert.True(t, s.Stages[14].Ran)
}

// The requests of the drawing refuse what makes no sense.
func TestDeskDrawingRefuses(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	for _, c := range []struct {
		name, path, body string
		code             int
		problem          string
	}{
		{"no such overlay", "over", `{"Value":"tea"}`, 400, ""},
		{"not drawn by hand", "draw", `{"Flag":"edits","Verb":"move","Stage":"drawing","Path":[{"X":0.1,"Y":0.1},{"X":0.2,"Y":0.1}]}`, 400, ""},
		{"too short", "draw", `{"Flag":"edits","Verb":"freehand","Stage":"drawing","Path":[{"X":0.1,"Y":0.1},{"X":0.1001,"Y":0.1}]}`, 200, "must be 2 mm long"},
		{"off the sheet", "draw", `{"Flag":"edits","Verb":"freehand","Stage":"drawing","Path":[{"X":0.1,"Y":0.1},{"X":3,"Y":0.1}]}`, 200, "outside the picture"},
		{"first of two places, off all lines", "pick", `{"Flag":"edits","Verb":"rub-out","Stage":"drawing","X":0.02,"Y":0.02}`, 200, "cannot begin at"},
		{"far off the sheet", "pick", `{"Flag":"edits","Verb":"straighten","Stage":"drawing","X":-0.6,"Y":0.5}`, 200, "outside the picture"},
		{"no such setting", "draw", `{"Flag":"tea","Verb":"freehand"}`, 200, "tea"},
		{"too few places", "pick", `{"Flag":"edits","Verb":"freehand","Stage":"drawing","Finish":true}`, 200, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, s := post(t, base+"view", `{"Stage":"drawing"}`)
			assert.Empty(t, s.Problem)
			code, s := post(t, base+c.path, c.body)
			assert.Equal(t, c.code, code)
			assert.Contains(t, s.Problem, c.problem)
			if c.problem == "" {
				assert.Empty(t, s.Problem)
			}
		})
	}
}

// A phone sends one photo by a page that can do nothing else, and that closes after it.
func TestPhoneSendsPhoto(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	d, err := Waiting(pipeline.Table(), Empty{
		Settings: pipeline.DefaultSettings(), Limit: 16 << 20, Phone: true,
		Command: func(photo string) func(string) []string {
			return func(dir string) []string { return []string{"inkchannel", "make", photo, "-o", dir} }
		},
	}, "desk.test")
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() { done <- d.ServePhone(context.Background(), l) }()
	base := "http://" + l.Addr().String()
	send := func(path string, data []byte) (int, string) {
		var body bytes.Buffer
		form := multipart.NewWriter(&body)
		part, err := form.CreateFormFile("photo", "tea.jpg")
		require.NoError(t, err)
		_, err = part.Write(data)
		require.NoError(t, err)
		require.NoError(t, form.Close())
		res, err := http.Post(base+path, form.FormDataContentType(), &body)
		require.NoError(t, err)
		defer res.Body.Close()
		text, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		return res.StatusCode, string(text)
	}
	for _, path := range []string{d.Path(), d.PhonePath() + "state", d.PhonePath() + "lines", "/", "/x/"} {
		res, err := http.Get(base + path)
		require.NoError(t, err)
		res.Body.Close()
		assert.Equal(t, http.StatusNotFound, res.StatusCode, path)
	}
	b := browse(t, base+d.PhonePath())
	b.accessible("phone")
	b.shot("phone-page")
	code, text := send(d.PhonePath(), []byte("tea"))
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, text, "role=\"alert\"")
	code, _ = send(d.PhonePath(), make([]byte, 17<<20))
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	code, _ = send("/x/", demoPhoto(t))
	assert.Equal(t, http.StatusNotFound, code)
	assert.True(t, d.state().Waiting && d.state().Phone)
	code, text = send(d.PhonePath(), demoPhoto(t))
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, text, "The computer has it")
	assert.Equal(t, "tea.jpg", d.state().Photo)
	select {
	case err := <-done:
		assert.NoError(t, err)
	case <-time.After(5 * time.Second):
		t.Error("it does not close")
	}
}

// A file of lines is opened as a photo is, at the size asked for, and what of it is not used is told.
func TestDeskOpensLines(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	send := func(text string) (int, state) {
		return postAs(t, base+"photo?name=lines.svg", "image/svg+xml", strings.NewReader(text))
	}
	_, s := send("tea")
	assert.Contains(t, s.Problem, "no SVG drawing")
	code, s := send(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150">
		<text x="5" y="5">tea</text><circle cx="100" cy="60" r="40" fill="none" stroke="#000"/><path d="M40 130 H160" fill="none" stroke="#000"/></svg>`)
	require.Equal(t, 200, code)
	require.Empty(t, s.Problem)
	assert.True(t, s.Lines)
	assert.Equal(t, pipeline.StageSymmetry, s.Stages[0].Name)
	assert.Equal(t, 9, s.Stages[0].Number, "as the command line counts steps")
	assert.Contains(t, s.Unused, "1 × text")
	size := func() geom.Point {
		_, s := post(t, base+"view", `{"Stage":"drawing"}`)
		require.Empty(t, s.Problem)
		res, err := http.Get(base + "lines")
		require.NoError(t, err)
		defer res.Body.Close()
		var d drawn
		require.NoError(t, json.NewDecoder(res.Body).Decode(&d))
		assert.NotEmpty(t, d.Layers)
		return d.Size
	}
	was := size()
	assert.InDelta(t, 200, was.X, 0.01)
	_, s = post(t, base+"set", `{"Flag":"width","Value":"10in"}`)
	require.Empty(t, s.Problem)
	assert.InDelta(t, 200*(254-7)/120.0, size().X, 0.1)
	_, s = post(t, base+"undo", `{}`)
	require.Empty(t, s.Problem)
	assert.Equal(t, was, size())
	_, s = post(t, base+"set", `{"Flag":"width","Value":"3"}`)
	assert.Contains(t, s.Problem, "larger --width")
	assert.Equal(t, was, size(), "as it was")
	names := allFiles(t, base)
	assert.NotEmpty(t, names["sign.3mf"])
	_, s = post(t, base+"view", `{"Stage":"drawing"}`)
	require.Empty(t, s.Problem)
	headings := valueOf[[]string](browse(t, base), `[...document.querySelectorAll('#steps .group')].map((g) => g.textContent)`)
	assert.Equal(t, []string{"Lines", "Sign", "Print", "Electrics"}, headings)
	code, s = post(t, base+"another", `{"View":"drawing"}`)
	assert.Equal(t, 200, code)
	assert.True(t, s.Waiting)
	_, s = postAs(t, base+"photo?name=tea.jpg", "image/jpeg", bytes.NewReader(demoPhoto(t)))
	assert.False(t, s.Lines)
	assert.Equal(t, "tea.jpg", s.Photo)
}

// Earlier runs are offered, and no others are opened.
func TestDeskOffersRuns(t *testing.T) {
	t.Parallel()
	srv := httptest.NewUnstartedServer(nil)
	d, err := Waiting(pipeline.Table(), Empty{
		Settings: pipeline.DefaultSettings(), Limit: 16 << 20, Runs: []string{"my-sign", "gone"},
		Open: func(run string) (Job, error) {
			if run == "gone" {
				return Job{}, errors.New("its photo is gone")
			}
			return Job{
				Source: pipeline.Source{Name: "tea.jpg", Data: demoPhoto(t)}, Photo: "tea.jpg", Settings: pipeline.DefaultSettings(), Dir: run,
				Command: func(dir string) []string { return []string{"inkchannel", "make", "tea.jpg", "-o", dir} },
			}, nil
		},
	}, srv.Listener.Addr().String())
	require.NoError(t, err)
	srv.Config.Handler = d.Handler()
	srv.Start()
	defer srv.Close()
	base := srv.URL + "/" + d.token + "/"
	code, _ := post(t, base+"run", `{"Value":"../other"}`)
	assert.Equal(t, http.StatusConflict, code)
	b := browse(t, base)
	b.run(`[...document.querySelectorAll('#runs button')].find((b) => b.textContent === 'gone').click()`)
	b.is(`document.getElementById('start-problem').textContent === 'its photo is gone'`)
	b.accessible("start with runs")
	b.run(`[...document.querySelectorAll('#runs button')].find((b) => b.textContent === 'my-sign').click()`)
	b.is(`document.getElementById('title').textContent === 'The drawing'`)
	assert.Contains(t, b.text("write"), "my-sign")
}

// Two tabs show one job: each looks at what it looks at, and sees what the other changed.
func TestTwoTabs(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	kept := 0
	d.job.Keep, d.job.KeptIn = func(stage.Settings) error { kept++; return nil }, "photo.review.yaml"
	a := browse(t, base)
	a.step(" ink")
	b := browse(t, base)
	b.step(" strokes")
	assert.Contains(t, a.text("title"), " ink: ")
	a.run(`const k = document.getElementById('k-ink-offset'); k.value = '47'; k.dispatchEvent(new Event('change', {bubbles: true}))`)
	a.settled()
	assert.Contains(t, a.text("title"), " ink: ", "as it was, whatever the other tab looks at")
	command := a.text("command")
	assert.Contains(t, command, "--ink-offset 47")
	assert.Contains(t, a.text("photo"), "changes kept in photo.review.yaml")
	b.run(`document.dispatchEvent(new Event('visibilitychange'))`)
	b.is(fmt.Sprintf(`document.getElementById('command').textContent === %q`, command))
	assert.Contains(t, b.text("title"), " strokes: ")
	b.run(`document.getElementById('reset').click()`)
	b.settled()
	assert.NotContains(t, b.text("command"), "ink-offset")
	b.run(`document.getElementById('undo').click()`)
	b.settled()
	assert.Equal(t, command, b.text("command"), "it can be undone")
	assert.Equal(t, 3, kept)
}

// A size that is asked for in one way takes back what was asked for in another: both together are refused, and once
// threw the user out of the drawing, with the dots to be picked.
func TestSizeIsAskedOnce(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	value := func(s state, flag string) string {
		i := slices.IndexFunc(s.Settings, func(k settingState) bool { return k.Flag == flag })
		require.GreaterOrEqual(t, i, 0, flag)
		return s.Settings[i].Value
	}
	_, _ = post(t, base+"view", `{"Stage":"drawing"}`)
	_, s := post(t, base+"set", `{"View":"drawing","Flag":"enlarge","Value":"110"}`)
	require.Empty(t, s.Problem)
	_, s = post(t, base+"set", `{"View":"drawing","Flag":"width","Value":"8\""}`)
	assert.Empty(t, s.Problem)
	assert.Equal(t, []string{"100", "203.2"}, []string{value(s, "enlarge"), value(s, "width")})
	assert.Equal(t, "enlarge put back: width says the size now", s.Told)
	_, s = post(t, base+"set", `{"View":"drawing","Flag":"enlarge","Value":"90"}`)
	assert.Equal(t, []string{"90", "0"}, []string{value(s, "enlarge"), value(s, "width")})
	_, s = post(t, base+"set", `{"View":"drawing","Flag":"width","Value":"3"}`)
	assert.Contains(t, s.Problem, "cannot be 3 mm large")
	assert.Equal(t, "dots", s.Failed)
	assert.False(t, s.Asks, "no dots are missing")
}

// The page stands any key and size before there is a photo, and the picture is as large at any size of the sign.
func TestPictureKeepsItsSize(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	b := browse(t, base)
	b.run(`window.faults = []; window.addEventListener('error', (e) => window.faults.push(e.message))`)
	b.run(`window.dispatchEvent(new Event('resize')); for (const key of ['+', 'z']) document.body.dispatchEvent(new KeyboardEvent('keydown', {key, ctrlKey: key === 'z', bubbles: true}))`)
	assert.Empty(t, valueOf[[]string](b, `window.faults`))
	assert.Empty(t, b.text("start-problem"))
	_, s := postAs(t, base+"photo?name=tea.jpg", "image/jpeg", bytes.NewReader(demoPhoto(t)))
	require.False(t, s.Waiting)
	b = browse(t, base)
	b.drawing()
	wide := func() float64 { return valueOf[float64](b, `document.getElementById('after').clientWidth`) }
	first := wide()
	set := func(flag, value string) {
		b.run(fmt.Sprintf(`(() => { const k = document.getElementById('k-%s'); k.value = '%s'; k.dispatchEvent(new Event('change', {bubbles: true})); })()`, flag, value))
		b.settled()
	}
	for _, mm := range []string{"60", "420", "0"} {
		set("width", mm)
		assert.InDelta(t, first, wide(), 1, "%s mm, however large the bed is beside it", mm)
	}
	// What is refused is said where there was room, in the unit that the page shows.
	top := func() float64 {
		return valueOf[float64](b, `document.getElementById('pane').getBoundingClientRect().top`)
	}
	was := top()
	set("width", "9000")
	assert.Contains(t, b.text("problem"), "from 0 to 5000 mm")
	assert.InDelta(t, was, top(), 0.5)
	b.run(`const u = document.getElementById('unit'); u.value = 'in'; u.dispatchEvent(new Event('change'))`)
	set("width", "900")
	assert.Contains(t, b.text("problem"), "from 0 to 196.85″")
}

// What this tab shows of the drawing or not is the same after a reload.
func TestSwitchesAreKept(t *testing.T) {
	t.Parallel()
	_, _, b := openDrawing(t)
	for _, name := range []string{"photo", "words", "bends", "bed"} {
		b.run(fmt.Sprintf(`document.querySelector('[data-over=%q]').click()`, name))
	}
	b.settled()
	const on = `[...document.querySelectorAll('#switches input')].filter((c) => c.checked).map((c) => c.dataset.over)`
	before := valueOf[[]string](b, on)
	assert.Contains(t, before, "bed")
	assert.NotContains(t, before, "photo")
	b.do(chromedp.Reload())
	b.is(`document.querySelectorAll('#switches input').length > 10`)
	assert.Equal(t, before, valueOf[[]string](b, on))
	assert.True(t, valueOf[bool](b, `document.getElementById('second').classList.contains('bare')`), "no photo is seen")
}

// What was picked of a change that is given up is forgotten; a cut is picked on the drawing.
func TestPicksAreForgotten(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	_, s := post(t, base+"view", `{"Stage":"drawing"}`)
	require.Empty(t, s.Problem)
	line := s.Handles[0]
	pick := func(verb string, p geom.Point) state {
		_, s := post(t, base+"pick", fmt.Sprintf(`{"View":"drawing","Stage":"drawing","Flag":"edits","Verb":%q,"X":%f,"Y":%f}`, verb, p.X, p.Y))
		return s
	}
	s = pick("draw", line)
	assert.Equal(t, 1, s.Picked)
	_, s = post(t, base+"forget", `{"View":"drawing"}`)
	assert.Equal(t, 0, s.Picked)
	s = pick("draw", geom.Pt(0.2, 0.9))
	assert.Equal(t, 1, s.Picked)
	s = pick("draw", geom.Pt(0.2, 0.9))
	assert.Contains(t, s.Problem, "picked already", "a click too many")
	assert.Equal(t, 1, s.Picked)
	s = pick("draw", geom.Pt(0.4, 0.9))
	require.Empty(t, s.Problem)
	edits := func(s state) string {
		i := slices.IndexFunc(s.Settings, func(k settingState) bool { return k.Flag == "edits" })
		return s.Settings[i].Value
	}
	assert.Regexp(t, `^draw [\d.]+,(\d+\.\d) [\d.]+,(\d+\.\d)$`, edits(s))
	var x, y, u, v float64
	_, err := fmt.Sscanf(edits(s), "draw %f,%f %f,%f", &x, &y, &u, &v)
	require.NoError(t, err)
	assert.InDelta(t, y, v, 0.01, "the place that was given up is no part of it")

	pickOn := func(s state, flag string) string {
		i := slices.IndexFunc(s.Settings, func(k settingState) bool { return k.Flag == flag })
		require.GreaterOrEqual(t, i, 0, flag)
		return s.Settings[i].PickOn
	}
	assert.Empty(t, pickOn(s, "cut-at"))
	_, s = post(t, base+"view", `{"Stage":"beds"}`)
	assert.Equal(t, "drawing", pickOn(s, "cut-at"))
	assert.Empty(t, pickOn(s, "lay-at"))
	_, s = post(t, base+"set", `{"View":"beds","Flag":"cut-at","Value":"5,5"}`)
	assert.True(t, slices.ContainsFunc(s.Marks, func(m mark) bool {
		return m.Stage == "beds" && strings.HasPrefix(m.Text, "not sure: no cut was made")
	}), "what a step is not sure of is among the problems")
	_, s = post(t, base+"undo", `{"View":"beds"}`)
	require.Empty(t, s.Problem)

	res, err := http.Get(base + "files")
	require.NoError(t, err)
	defer res.Body.Close()
	var list []fileState
	require.NoError(t, json.NewDecoder(res.Body).Decode(&list))
	var names []string
	for _, f := range list {
		names = append(names, f.Name)
		got, err := http.Get(base + "file/" + f.Name)
		require.NoError(t, err)
		assert.Equal(t, 200, got.StatusCode, f.Name)
		require.NoError(t, got.Body.Close())
	}
	assert.Subset(t, names, []string{"sign.zip", "sign.3mf", "part-stand.stl", "outlines.dxf", "wiring.svg", "parts-list.csv", "assembly.html", "run.yaml"})
	assert.NotContains(t, names, "drill-sheet.pdf", "of a sign on a wall")
}

// A pick that misses is refused at once and leaves nothing behind.
func TestMissedPicks(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	_, s := post(t, base+"view", `{"Stage":"drawing"}`)
	require.Empty(t, s.Problem)
	command, on := s.Command, s.Handles[0]
	pick := func(flag, verb string, p geom.Point) state {
		_, s := post(t, base+"pick", fmt.Sprintf(`{"View":"drawing","Stage":"drawing","Flag":%q,"Verb":%q,"Value":"8","X":%f,"Y":%f}`, flag, verb, p.X, p.Y))
		return s
	}
	bare := geom.Pt(0.03, 0.03)
	for _, c := range []struct {
		flag, verb string
		want       string
	}{
		{"edits", "straighten", "straighten at x "},
		{"edits", "split", "split at x "},
		{"feed-at", "", "there is no line within 10 mm of x "},
		{"cut-at", "", "there is no line within 10 mm of x "},
	} {
		s := pick(c.flag, c.verb, bare)
		assert.Contains(t, s.Problem, c.want)
		assert.Equal(t, command, s.Command, "%s %s", c.flag, c.verb)
		assert.Zero(t, s.Picked)
	}
	s = pick("edits", "straighten", on)
	assert.Empty(t, s.Problem)
	assert.Contains(t, s.Command, "straighten")
}

// What a tool would do is shown before it is done: under the pointer, and while it is dragged. A button puts
// it away.
func TestToolsShowWhatTheyWouldDo(t *testing.T) {
	t.Parallel()
	d, _, b := openDrawing(t)
	const would = `document.querySelectorAll('#over .would path').length`
	tool := func(name string) {
		b.run(`document.querySelector('[data-verb="` + name + `"]').click()`)
		b.settled()
	}
	line := valueOf[geom.Point](b, `(() => { const l = document.querySelector('.lines path'); const q = l.getPointAtLength(l.getTotalLength() * 0.4).matrixTransform(l.getScreenCTM()); return {X: q.x, Y: q.y}; })()`)
	tool("length")
	b.hover(line.Add(geom.Pt(-60, 30)))
	b.hover(line)
	b.is(would + ` > 0`)
	b.is(`document.getElementById('here').textContent.startsWith('Here: ')`)
	b.shot("would")
	b.hover(line.Add(geom.Pt(150, 150)))
	b.is(would + ` === 0`)
	b.hover(line)
	b.is(would + ` > 0`)
	b.accessible("tool")
	b.run(`document.getElementById('leave').click()`)
	b.is(would + ` === 0 && document.getElementById('leave').classList.contains('off')`)
	tool("move")
	b.is(`!document.getElementById('leave').classList.contains('off')`)
	b.mouse(pressed, line)
	for i := 1; i <= 5; i++ {
		b.mouse(moved, line.Add(geom.Pt(6, -6).Mul(float64(i))))
	}
	b.is(would + ` > 0`)
	b.mouse(released, line.Add(geom.Pt(30, -30)))
	b.is(`document.getElementById('command').textContent.includes('move ')`)
	b.settled()
	b.is(would + ` === 0`)
	at, _ := d.session.At(pipeline.StageHand)
	require.Len(t, stage.Of[pipeline.HandFound](at).Edits, 1)
}

// touch puts fingers on places of the window, moves them there, or lifts them.
func (b browserPage) touch(kind input.DispatchTouchEventType, at ...geom.Point) {
	b.t.Helper()
	fingers := []*input.TouchPoint{}
	for i, p := range at {
		id := float64(i + 1)
		fingers = append(fingers, &input.TouchPoint{X: p.X, Y: p.Y, ID: &id})
	}
	b.do(func(ctx context.Context, t *chromedp.Target) (v chromedp.Void, err error) {
		_, err = cdp.Call(ctx, t, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: fingers})
		return v, err
	})
}

// A finger draws a line, and two enlarge the picture.
func TestTouch(t *testing.T) {
	t.Parallel()
	d, _, b := openDrawing(t)
	touch := b.touch
	mid := b.middle(`document.getElementById('after')`)
	wide := valueOf[float64](b, `document.getElementById('after').clientWidth`)
	touch(input.DispatchTouchEventTypeTouchStart, mid.Add(geom.Pt(-40, 0)), mid.Add(geom.Pt(40, 0)))
	for i := 1; i <= 5; i++ {
		out := 40 + 8*float64(i)
		touch(input.DispatchTouchEventTypeTouchMove, mid.Add(geom.Pt(-out, 0)), mid.Add(geom.Pt(out, 0)))
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
	b.is(fmt.Sprintf(`Math.abs(document.getElementById('after').clientWidth / %g - 2) < 0.1`, wide))
	b.run(`document.getElementById('whole').click()`)
	b.run(`document.querySelector('[data-verb="freehand"]').click()`)
	b.settled()
	mid = b.middle(`document.getElementById('after')`)
	touch(input.DispatchTouchEventTypeTouchStart, mid.Add(geom.Pt(-80, 0)))
	for i := 1; i <= 10; i++ {
		touch(input.DispatchTouchEventTypeTouchMove, mid.Add(geom.Pt(-80+16*float64(i), 12*math.Sin(float64(i)))))
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
	b.is(`document.getElementById('command').textContent.includes('freehand ')`)
	b.settled()
	at, _ := d.session.At(pipeline.StageHand)
	require.Len(t, stage.Of[pipeline.HandFound](at).Edits, 1)
	// A place follows the finger on a narrow page too, whatever is told meanwhile.
	b.run(`document.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape'}))`)
	b.do(chromedp.EmulateViewport(390, 844))
	b.settled()
	b.run(`document.getElementById('pane').scrollIntoView()`)
	top := `document.getElementById('over').getBoundingClientRect().top`
	high := valueOf[float64](b, top)
	b.run(`document.getElementById('found').textContent = 'much to tell '.repeat(40)`)
	require.InDelta(t, high, valueOf[float64](b, top), 1)
	at0 := b.middle(`document.querySelector('#handles button:not([hidden])')`)
	size := stage.Of[pipeline.DotsFound](at).Frame.Size
	perMm := valueOf[float64](b, `document.getElementById('after').clientWidth`) / size.X
	touch(input.DispatchTouchEventTypeTouchStart, at0)
	for i := 1; i <= 8; i++ {
		touch(input.DispatchTouchEventTypeTouchMove, at0.Add(geom.Pt(3, -2).Mul(float64(i))))
		time.Sleep(50 * time.Millisecond) // so that drafts are told between
		require.InDelta(t, high, valueOf[float64](b, top), 1, "step %d", i)
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
	b.is(`document.querySelectorAll('ol.entries li').length === 2`)
	b.settled()
	at, _ = d.session.At(pipeline.StageHand)
	moved := stage.Of[pipeline.HandFound](at).Edits[1]
	require.Equal(t, "move", moved.Verb)
	assert.InDelta(t, 24/perMm, moved.At[1].X-moved.At[0].X, 1/perMm)
	assert.InDelta(t, -16/perMm, moved.At[1].Y-moved.At[0].Y, 1/perMm)
}

// A photo that was put away for another is gone back to with all that was changed, by the button or by
// taking it again.
func TestGoBackToAPhoto(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	send := func() state {
		_, s := postAs(t, base+"photo?name=tea.jpg", "image/jpeg", bytes.NewReader(demoPhoto(t)))
		return s
	}
	require.False(t, send().Waiting)
	_, s := post(t, base+"set", `{"View":"ink","Flag":"ink-offset","Value":"31"}`)
	command := s.Command
	require.Contains(t, command, "--ink-offset 31")
	code, _ := post(t, base+"resume", `{}`)
	assert.Equal(t, http.StatusConflict, code, "it is there")
	_, s = post(t, base+"another", `{}`)
	require.True(t, s.Waiting)
	assert.Equal(t, []string{"tea.jpg"}, s.Last)
	b := browse(t, base)
	b.accessible("start with a photo to go back to")
	b.run(`document.querySelector('#last button').click()`)
	b.is(`!document.querySelector('.desk').hidden`)
	b.settled()
	assert.Equal(t, command, b.text("command"))
	_, _ = post(t, base+"another", `{}`)
	s = send()
	assert.Equal(t, command, s.Command)
	assert.True(t, s.Undo)
	_, _ = post(t, base+"another", `{}`)
	_, s = postAs(t, base+"photo?name=own.svg", "image/svg+xml", strings.NewReader(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150"><path d="M40 130 H160" fill="none" stroke="#000"/></svg>`))
	assert.NotContains(t, s.Command, "ink-offset", "another is another")
	_, _ = post(t, base+"another", `{}`)
	_ = send()
	_, s = post(t, base+"set", `{"View":"dots","Flag":"width","Value":"3"}`)
	require.Contains(t, s.Problem, "cannot be 3 mm large")
	_, s = post(t, base+"another", `{}`)
	assert.Empty(t, s.Problem, "of the photo that is put away")
}

// Of several photos that were put away each is gone back to with what was changed, whether it is picked or taken again.
func TestGoBackToAnyPhoto(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	send := func(name, ink string) {
		svg := `<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150"><path d="M40 ` + ink + `H160" fill="none" stroke="#000"/></svg>`
		_, s := postAs(t, base+"photo?name="+name, "image/svg+xml", strings.NewReader(svg))
		require.False(t, s.Waiting, s.Problem)
	}
	for i, name := range []string{"one.svg", "two.svg", "three.svg"} {
		send(name, fmt.Sprint(50+10*i))
		_, s := post(t, base+"set", fmt.Sprintf(`{"View":"drawing","Flag":"turn","Value":"%d"}`, i+1))
		require.Contains(t, s.Command, fmt.Sprintf("--turn %d", i+1))
		post(t, base+"another", `{}`)
	}
	_, s := post(t, base+"resume", `{"Value":"2"}`)
	assert.Equal(t, "one.svg", s.Photo)
	assert.Contains(t, s.Command, "--turn 1")
	_, s = post(t, base+"another", `{}`)
	assert.Equal(t, []string{"one.svg", "three.svg", "two.svg"}, s.Last)
	send("two-again.svg", "60")
	_, s = post(t, base+"set", `{"View":"drawing","Flag":"spacing","Value":"8"}`)
	assert.Contains(t, s.Command, "--turn 2", "the same drawing")
	code, _ := post(t, base+"resume", `{"Value":"9"}`)
	assert.Equal(t, http.StatusConflict, code)
}
