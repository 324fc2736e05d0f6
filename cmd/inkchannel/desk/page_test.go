package desk

import (
	"bytes"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
)

// What is switched on over the lines is pale until it is theirs, and the picture stays where it is whatever
// is said or chosen.
func TestPageKeepsItsPlace(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	d.WorkAhead()
	b := browse(t, base)
	b.drawing()
	const top = `document.getElementById('pane').getBoundingClientRect().top`
	at := valueOf[float64](b, top)
	b.run(`document.getElementById('closer').click()`)
	assert.Equal(t, at, valueOf[float64](b, top), "its size is told beside the buttons")
	b.run(`document.getElementById('whole').click(); document.querySelector('[data-verb="freehand"]').click()`)
	b.settled()
	assert.Equal(t, at, valueOf[float64](b, top), "what a tool needs has room")
	b.run(`document.getElementById('leave').focus(); document.getElementById('leave').click()`)
	assert.Equal(t, "freehand", valueOf[string](b, `document.activeElement.dataset.verb`), "the button is seen no more")
	aside := valueOf[float64](b, `document.getElementById('undo').getBoundingClientRect().top`)
	b.run(`document.getElementById('told').textContent = 'Making the files …'`)
	assert.Equal(t, aside, valueOf[float64](b, `document.getElementById('undo').getBoundingClientRect().top`))
	b.run(`document.querySelector('[data-over="strip"]').click()`)
	b.is(`document.querySelectorAll('#over .strip path').length > 0 && document.getElementById('making').textContent === ''`)
	b.run(`window.least = 1; new MutationObserver(() => { window.least = Math.min(window.least, document.querySelectorAll('#over .strip').length); }).observe(document.getElementById('over'), {childList: true});
		document.querySelector('[data-verb="split"]').click()`)
	b.settled()
	line := valueOf[geom.Point](b, `(() => { const p = document.querySelector('#over .lines path'), box = document.getElementById('over').viewBox.baseVal, q = p.getPointAtLength(p.getTotalLength() / 3); return {X: q.x / box.width, Y: q.y / box.height}; })()`)
	b.click("after", line.X, line.Y)
	b.is(`document.querySelectorAll('ol.entries li').length === 1`)
	b.is(`document.querySelectorAll('#over .strip path').length > 0 && document.querySelectorAll('#over .pale').length === 0`)
	assert.Equal(t, 1, valueOf[int](b, `window.least`), "the strip of before is seen until it is known anew")
}

// Every problem that has a place is numbered on the picture, clear of handles and of others, and no text covers another or those.
func TestMarksHaveRoom(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	_, _ = post(t, base+"set", `{"View":"drawing","Flag":"tight-bends","Value":"join"}`)
	_, s := post(t, base+"set", `{"View":"drawing","Flag":"bend-radius","Value":"40"}`)
	require.Greater(t, len(s.Marks), 5)
	b := browse(t, base)
	b.drawing()
	b.is(`document.querySelectorAll('#marks button').length > 3`)
	const boxes = `[...document.querySelectorAll('#marks button, #handles button')].filter((e) => !e.hidden).map((e) => { const r = e.getBoundingClientRect(); return {X: r.left + r.width / 2, Y: r.top + r.height / 2}; })`
	b.is(`[...document.querySelectorAll('#marks button')].every((m) => !m.hidden)`)
	b.run(`document.querySelector('[data-over="strip"]').click()`)
	b.is(`document.querySelectorAll('#over .strip path').length > 0 && document.getElementById('making').textContent === ''`)
	const covers = `(() => {
		const texts = [...document.querySelectorAll('#over .words text')].filter((t) => !t.hasAttribute('hidden')).map((t) => t.getBoundingClientRect());
		const marks = [...document.querySelectorAll('#marks button, #handles button')].filter((e) => !e.hidden).map((e) => e.getBoundingClientRect());
		const meet = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1;
		return texts.length < 10 ? -1 : texts.filter((t, i) => texts.slice(0, i).concat(marks).some((o) => meet(t, o))).length;
	})()`
	assert.Zero(t, valueOf[int](b, covers), "texts cover nothing")
	all := valueOf[[]geom.Point](b, boxes)
	require.Greater(t, len(all), 10)
	for i, p := range all {
		for _, q := range all[:i] {
			assert.GreaterOrEqual(t, p.Dist(q), 33.0)
		}
	}
}

// A value that was refused holds the files back, until it is mended or put back.
func TestRefusedValueHoldsFiles(t *testing.T) {
	t.Parallel()
	_, _, b := openDrawing(t)
	b.run(`const w = document.getElementById('k-enlarge'); w.value = '99999'; w.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.is(`document.getElementById('k-enlarge').hasAttribute('aria-invalid')`)
	b.settled()
	b.run(`document.getElementById('get').click()`)
	b.is(`document.getElementById('told').textContent.includes('enlarge has a value that was not taken')`)
	assert.Equal(t, "k-enlarge", valueOf[string](b, `document.activeElement.id`))
	b.run(`document.activeElement.dispatchEvent(new KeyboardEvent('keydown', {key: 'Escape', bubbles: true}))`)
	assert.Equal(t, "100", valueOf[string](b, `document.getElementById('k-enlarge').value`))
	b.is(`document.getElementById('problem').textContent === '' && document.getElementById('told').textContent === ''`)
	b.run(`document.getElementById('get').click()`)
	b.is(`document.getElementById('told').textContent === 'The files are in sign.zip.'`)
}

// The keyboard alone draws a line of many places; what is stopped is as it was, with the focus where that was.
func TestKeysFinishALine(t *testing.T) {
	t.Parallel()
	_, _, b := openDrawing(t)
	b.run(`document.querySelector('[data-verb="freehand"]').click()`)
	b.settled()
	for i, key := range []string{"", "ArrowRight", "ArrowDown"} {
		b.run(fmt.Sprintf(`const box = document.getElementById('compare'), key = (k, set) => box.dispatchEvent(new KeyboardEvent('keydown', {key: k, bubbles: true, ...set}));
			if (%[1]q) { key(%[1]q, {shiftKey: true}); key(%[1]q, {shiftKey: true}); }
			key('Enter')`, key))
		b.settled()
		assert.Equal(t, i+1, valueOf[int](b, `document.querySelectorAll('#picks i').length`))
	}
	b.run(`document.getElementById('compare').dispatchEvent(new KeyboardEvent('keydown', {key: 'Enter', shiftKey: true, bubbles: true}))`)
	b.is(`document.getElementById('command').textContent.includes('freehand ')`)
	b.settled()
	assert.Empty(t, b.text("problem"))
	command := b.text("command")
	b.run(`document.querySelector('[data-over="photo"]').focus();
		const answer = window.fetch;
		window.fetch = (path, set) => answer(path, set && path === 'set' ? {...set, signal: AbortSignal.any([set.signal, AbortSignal.abort()])} : set);
		const e = document.getElementById('k-enlarge'); e.value = '120'; e.dispatchEvent(new Event('change', {bubbles: true}))`)
	b.settled()
	assert.Equal(t, "photo", valueOf[string](b, `document.activeElement.dataset.over`))
	assert.Equal(t, command, b.text("command"))
}

// A button that answers no more, or is seen no more, hands the focus to one beside it.
func TestFocusStaysNearby(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	_, _ = post(t, base+"set", `{"View":"drawing","Flag":"enlarge","Value":"110"}`)
	_, _ = post(t, base+"set", `{"View":"drawing","Flag":"edits","Value":"draw 20,30 50,30"}`)
	b := browse(t, base)
	b.drawing()
	for _, c := range []struct{ name, button, want string }{
		{"taken out", `document.querySelector('ol.entries button')`, `document.activeElement.closest('.knob') !== null`},
		{"undone", `document.getElementById('undo')`, `document.activeElement.id === 'undo'`},
		{"nothing more to undo", `document.getElementById('undo')`, `document.activeElement.id === 'undo' || document.activeElement.id === 'redo'`},
		{"nothing more to undo", `document.getElementById('undo')`, `document.activeElement.id === 'redo'`},
		{"whole", `(document.getElementById('closer').click(), document.getElementById('whole'))`, `document.activeElement.id === 'closer'`},
	} {
		b.run(fmt.Sprintf(`const e = %s; e.focus(); e.click()`, c.button))
		b.settled()
		b.is(c.want)
	}
}

// Dots that are missing are asked for again when the photo is gone back to.
func TestGoBackToAFailure(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	photo, _ := withoutDots(t)
	b := browse(t, base)
	b.run(drop("nodots.jpg", photo))
	const asks = `document.getElementById('problem').textContent.includes('no reference dot') && document.getElementById('found').textContent.includes('Click place 1 of 2') && document.getElementById('get').disabled`
	b.is(asks)
	b.run(`document.getElementById('another').click()`)
	b.is(`document.querySelector('#last button') !== null`)
	b.run(`document.querySelector('#last button').click()`)
	b.is(asks)
}

// A second finger enlarges the picture and lets go of what the first had taken.
func TestPinchOnAHandle(t *testing.T) {
	t.Parallel()
	_, _, b := openDrawing(t)
	b.do(chromedp.EmulateViewport(390, 844))
	b.settled()
	b.run(`document.getElementById('pane').scrollIntoView()`)
	command, wide := b.text("command"), valueOf[float64](b, `document.getElementById('after').clientWidth`)
	at := b.middle(`document.querySelector('#handles button:not([hidden])')`)
	other := at.Add(geom.Pt(60, 40))
	b.touch(input.DispatchTouchEventTypeTouchStart, at)
	b.touch(input.DispatchTouchEventTypeTouchMove, at.Add(geom.Pt(-6, -4)))
	b.touch(input.DispatchTouchEventTypeTouchStart, at.Add(geom.Pt(-6, -4)), other)
	for i := range 6 {
		off := geom.Pt(6, 4).Mul(float64(i + 1))
		b.touch(input.DispatchTouchEventTypeTouchMove, at.Sub(off), other.Add(off))
	}
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.is(fmt.Sprintf(`document.getElementById('after').clientWidth > 1.3 * %g`, wide))
	b.settled()
	time.Sleep(300 * time.Millisecond) // were a move asked for, it would be there
	assert.Equal(t, command, b.text("command"))
	// The next finger drags again.
	at = b.middle(`[...document.querySelectorAll('#handles button')].find((e) => { const r = e.getBoundingClientRect(), p = document.getElementById('pane').getBoundingClientRect(); return !e.hidden && r.left > p.left + 40 && r.right < p.right - 40 && r.top > p.top + 40 && r.bottom < p.bottom - 40; })`)
	b.touch(input.DispatchTouchEventTypeTouchStart, at)
	b.touch(input.DispatchTouchEventTypeTouchMove, at.Add(geom.Pt(10, 6)))
	b.touch(input.DispatchTouchEventTypeTouchMove, at.Add(geom.Pt(20, 12)))
	b.touch(input.DispatchTouchEventTypeTouchEnd)
	b.is(`document.getElementById('command').textContent.includes('--edits')`)
}

// A drag whose first place misses is refused for that.
func TestDragMissesAtItsStart(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	_, s := post(t, base+"view", `{"Stage":"drawing"}`)
	on := s.Handles[0]
	_, s = post(t, base+"pick", fmt.Sprintf(`{"View":"drawing","Stage":"drawing","Flag":"edits","Verb":"bend","Path":[{"X":0.03,"Y":0.03},{"X":%f,"Y":%f}]}`, on.X, on.Y))
	assert.Contains(t, s.Problem, "bend cannot begin at x ")
	assert.True(t, s.Refused)
	assert.Zero(t, s.Picked)
	_, s = post(t, base+"pick", fmt.Sprintf(`{"View":"drawing","Stage":"drawing","Flag":"edits","Verb":"move","Path":[{"X":%f,"Y":%f},{"X":%f,"Y":%f}]}`, on.X, on.Y, on.X+0.02, on.Y+0.02))
	assert.Empty(t, s.Problem)
	assert.Contains(t, s.Command, "move ")
}

// With the photo put away, the focus is where another is chosen.
func TestFocusFollowsAnotherPhoto(t *testing.T) {
	t.Parallel()
	base := waitingDesk(t)
	code, _ := postAs(t, base+"photo?name=tea.jpg", "image/jpeg", bytes.NewReader(demoPhoto(t)))
	require.Equal(t, http.StatusOK, code)
	b := browse(t, base)
	b.drawing()
	b.run(`document.getElementById('another').click()`)
	b.is(`document.activeElement.id === 'start-title'`)
}

// What a message says that would mend it can be done at once.
func TestNamedValue(t *testing.T) {
	t.Parallel()
	d := &Desk{table: pipeline.Table()}
	for _, c := range []struct{ text, flag, value string }{
		{"all is well", "", ""},
		{"not sure: no dots; give --dots by hand", "dots", ""},
		{"as lines by hand changed what was drawn; --width 176 would make it so", "width", "176"},
		{"it takes --spread 3.4, or draw them further apart", "spread", "3.4"},
		{"strip of a higher voltage (--strip-volts) loses less, --drop 12 takes it", "drop", "12"},
		{"--tea 3 is no setting", "", ""},
	} {
		k, value := d.named(c.text)
		assert.Equal(t, c.flag, k.Flag, c.text)
		assert.Equal(t, c.value, value, c.text)
	}
}

// A problem whose message says what would mend it is mended by one click, a failed step and a doubt alike.
func TestProblemIsMendedAtOnce(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, view, flag, value, mends, button string }{
		{"a step that cannot run", "spacing", "spread", "0.1", "spread", `#mend button`},
		{"a doubt", "power", "drop", "0.1", "drop", `#list button`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, base := openDesk(t, demoPhoto(t))
			_, _ = post(t, base+"set", `{"View":"spacing","Flag":"spacing","Value":"12"}`)
			_, _ = post(t, base+"set", `{"View":"spacing","Flag":"strip-volts","Value":"5"}`)
			_, _ = post(t, base+"set", fmt.Sprintf(`{"View":%q,"Flag":%q,"Value":%q}`, c.view, c.flag, c.value))
			b := browse(t, base)
			mends := fmt.Sprintf(`[...document.querySelectorAll(%q)].find((e) => e.textContent.startsWith('Set %s to '))`, c.button, c.mends)
			b.is(mends + ` !== undefined`)
			b.settled()
			b.accessible(c.name)
			b.run(mends + `.click()`)
			b.is(mends + ` === undefined`)
			b.settled()
			assert.NotContains(t, b.text("command"), "--"+c.flag+" "+c.value+" ")
			assert.Empty(t, b.text("problem"))
		})
	}
}

// A doubt that names a place is numbered there, on the paper as it was drawn or on the sign.
func TestDoubtsHaveTheirPlace(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text    string
		onSheet bool
		there   bool
		x, y    float64
	}{
		{"piece 2 lies on piece 1 for 3 mm at x 60.0, y 50.0 mm", true, true, 0.2, 0.25},
		{"no strip begins at x 60.0, y 50.0 mm on the paper: …", true, true, 0.4, 0.5},
		{"nothing holds the sign at x 60.0, y 50.0 mm and at x 1.0, y 2.0 mm on the paper", false, true, 0.4, 0.5},
		{"channel 1 at x 60.0, y 50.0 mm", false, false, 0, 0},
		{"the foot cannot come up at x 60.0 mm", true, false, 0, 0},
	} {
		m := mark{Text: c.text}
		m.place(geom.Pt(300, 200), 2, c.onSheet)
		assert.Equal(t, mark{Text: c.text, OnSheet: c.there, X: c.x, Y: c.y}, m)
	}
}

// The sign stays as large as was asked for when a line is drawn beyond it.
func TestDeskKeepsTheSizeAsked(t *testing.T) {
	t.Parallel()
	_, base := openDesk(t, demoPhoto(t))
	_, _ = post(t, base+"view", `{"Stage":"drawing"}`)
	_, _ = post(t, base+"set", `{"View":"drawing","Flag":"width","Value":"200"}`)
	for _, edits := range []string{"draw 240,60 290,60", "draw 240,60 280,60", "none"} {
		_, _ = post(t, base+"set", `{"View":"drawing","Flag":"edits","Value":"`+edits+`"}`)
		_, s := post(t, base+"view", `{"View":"drawing","Stage":"strips"}`)
		var wide, high float64
		_, err := fmt.Sscanf(s.Checked, "%f by %f mm over all.", &wide, &high)
		require.NoError(t, err, s.Checked)
		assert.InDelta(t, 200, wide, 1)
	}
}
