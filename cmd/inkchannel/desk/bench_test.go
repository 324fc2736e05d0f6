package desk

import (
	"encoding/base64"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// drop is a script that drops a photo on the page.
func drop(name string, photo []byte) string {
	return fmt.Sprintf(`const bytes = Uint8Array.from(atob('%s'), (c) => c.charCodeAt(0)); const data = new DataTransfer();
		data.items.add(new File([bytes], '%s', {type: 'image/jpeg'}));
		document.dispatchEvent(new DragEvent('drop', {bubbles: true, cancelable: true, dataTransfer: data}))`, base64.StdEncoding.EncodeToString(photo), name)
}

// BenchmarkFirstPicture is the time from the drop of the demo's photo, of 12 megapixels, to the
// first picture on the page, and to the drawing with its lines.
func BenchmarkFirstPicture(b *testing.B) {
	photo := demoPhoto(b)
	var first, lines float64
	for range b.N {
		page := browse(b, waitingDesk(b))
		page.run(`window.seen = {}; const mark = () => {
			const image = document.getElementById('after');
			if (!window.seen.first && image.naturalWidth > 500 && image.complete) window.seen.first = performance.now();
			if (document.querySelectorAll('#over .lines path').length > 3 && image.src.includes('sheet.jpg') && image.complete) { window.seen.lines = performance.now(); return; }
			requestAnimationFrame(mark); }; mark()`)
		page.run(drop("tea.jpg", photo) + `; window.seen.start = performance.now()`)
		page.is(`window.seen.lines > 0`)
		first += valueOf[float64](page, `window.seen.first - window.seen.start`)
		lines += valueOf[float64](page, `window.seen.lines - window.seen.start`)
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(first/float64(b.N), "ms/first-picture")
	b.ReportMetric(lines/float64(b.N), "ms/drawing")
}

// BenchmarkDrag is the time from a move of the pointer, that drags a place on a line, to the lines
// as they would be, and how many times a second they are drawn anew in a drag without a rest.
func BenchmarkDrag(b *testing.B) {
	_, base := openDesk(b, demoPhoto(b))
	page := browse(b, base)
	page.drawing()
	from := page.middle(`document.querySelectorAll('#handles button')[0]`)
	page.mouse(pressed, from)
	page.mouse(moved, from.Add(geom.Pt(2, 2)))
	page.run(`window.times = []; window.moved = 0; window.drawn = 0;
		document.addEventListener('pointermove', () => { window.moved = performance.now(); }, true);
		new MutationObserver(() => { window.drawn += 1; if (window.moved) { window.times.push(performance.now() - window.moved); window.moved = 0; } }).observe(document.getElementById('over'), {childList: true})`)
	n := 0
	b.ResetTimer()
	for range b.N {
		for i := range 20 {
			n++
			page.mouse(moved, from.Add(geom.Pt(float64(3+i), float64(n%7))))
			page.is(fmt.Sprintf(`window.times.length >= %d`, n))
		}
	}
	b.StopTimer()
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(valueOf[float64](page, `window.times.reduce((a, v) => a + v, 0) / window.times.length`), "ms/draft")
	b.ReportMetric(valueOf[float64](page, `Math.max(...window.times)`), "ms/slowest-draft")
	page.mouse(released, from)
}

// BenchmarkSlide is the time from a move of a slider, of how dark ink is, to a picture of what it does,
// on the demo's photo of 12 megapixels; first that of the first move, 0.3 s after the slider was reached for.
func BenchmarkSlide(b *testing.B) {
	_, base := openDesk(b, demoPhoto(b))
	page := browse(b, base)
	page.stepShown("ink")
	page.run(`window.times = []; window.moved = 0;
		window.slide = (v) => { const s = document.querySelector('input[type=range][data-flag=ink-offset]'); s.value = v; window.moved = performance.now(); s.dispatchEvent(new Event('input', {bubbles: true})); };
		document.getElementById('after').addEventListener('load', () => { if (window.moved) { window.times.push(performance.now() - window.moved); window.moved = 0; } })`)
	page.run(`document.querySelector('input[type=range][data-flag=ink-offset]').focus()`) // as before any move: the small copy is made
	time.Sleep(300 * time.Millisecond)
	page.run(`slide(20)`)
	page.is(`window.times.length === 1`)
	n := 1
	b.ResetTimer()
	for range b.N {
		for i := range 20 {
			n++
			page.run(fmt.Sprintf(`slide(%d)`, 21+i))
			page.is(fmt.Sprintf(`window.times.length >= %d`, n))
		}
	}
	b.StopTimer()
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(valueOf[float64](page, `window.times[0]`), "ms/first")
	b.ReportMetric(valueOf[float64](page, `window.times.slice(1).reduce((a, v) => a + v, 0) / (window.times.length - 1)`), "ms/picture")
	b.ReportMetric(valueOf[float64](page, `Math.max(...window.times.slice(1))`), "ms/slowest")
}

// BenchmarkParts is the time from asking for the view in 3D to its parts, some seconds after the
// drawing came up.
func BenchmarkParts(b *testing.B) {
	photo := demoPhoto(b)
	total := 0.0
	for range b.N {
		d, base := openDesk(b, photo)
		d.WorkAhead()
		page := browse(b, base)
		page.is(`document.querySelectorAll('#over .lines path').length > 3`)
		page.settled()
		d.mu.Lock()
		under := d.ahead
		d.mu.Unlock()
		require.NotNil(b, under)
		<-under.done
		page.run(`window.asked = performance.now(); const look = () => { if (document.querySelectorAll('#bodies input').length > 4) { window.shown = performance.now(); return; } requestAnimationFrame(look); }; look();
			[...document.querySelectorAll('#steps button')].find((b) => b.textContent === 'In 3D').click()`)
		page.is(`window.shown > 0`)
		total += valueOf[float64](page, `window.shown - window.asked`)
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(total/float64(b.N), "ms/parts-in-3D")
}
