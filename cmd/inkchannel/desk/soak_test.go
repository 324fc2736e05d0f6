package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"runtime"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/stage"
)

// linesDesk serves the page of a small drawing made of lines, which runs in no time.
func linesDesk(t testing.TB) *Desk {
	t.Helper()
	data := []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90" fill="none">` +
		`<path d="M20 30H100M30 50L60 70L90 50" stroke="#00f"/></svg>`)
	d, err := lines.Read(data)
	require.NoError(t, err)
	set := pipeline.DefaultSettings()
	src := pipeline.Source{Name: "two.svg", Data: data}
	desk, err := New(context.Background(), pipeline.Table(), Job{
		Source: src, Photo: src.Name, Settings: set, Lines: &d,
		Command: func(dir string) []string { return []string{"inkchannel", "make", src.Name, "-o", dir} },
	}, "desk.test")
	require.NoError(t, err)
	return desk
}

// One in so many requests is stopped after a while.
const (
	stopped      = 16
	stoppedAfter = 20 * time.Millisecond
)

// ask sends a request past the guard's door and fails on an answer that no page should get.
func ask(t testing.TB, d *Desk, h http.Handler, method, path string, body []byte) {
	t.Helper()
	r, err := http.NewRequest(method, "http://desk.test/"+d.token+"/"+path, bytes.NewReader(body))
	if err != nil {
		return // no browser sends it
	}
	r.Header.Set("Content-Type", "application/json")
	if len(body)%stopped == 1 { // as Stop does
		ctx, stop := context.WithTimeout(t.Context(), stoppedAfter)
		defer stop()
		r = r.WithContext(ctx)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code >= 500 {
		t.Errorf("%s %s %s: %d %s", method, path, body, w.Code, w.Body)
	}
}

// Nothing that a page could ask for, sound or not, stops the desk.
func FuzzRequests(f *testing.F) {
	for _, c := range []struct{ path, body string }{
		{"view", `{"Stage":"bends"}`},
		{"over", `{"Stage":"strip"}`},
		{"set", `{"Flag":"wall","Value":"1.4"}`},
		{"set", `{"Flag":"edits","Value":"move 60,40 54,46; length 60,30 70"}`},
		{"pick", `{"Flag":"foot-at","X":0.5,"Y":0.4}`},
		{"pick", `{"Flag":"edits","Verb":"length","Value":"70","X":0.5,"Y":0.33}`},
		{"move", `{"Flag":"foot-at","Index":0,"X":0.2,"Y":0.8,"Drag":true}`},
		{"draw", `{"View":"drawing","Verb":"freehand","Path":[{"X":0.1,"Y":0.1},{"X":0.4,"Y":0.5}],"Finish":true}`},
		{"draft", `{"Flag":"edits","Verb":"move","X":0.1,"Y":0.2,"Index":1}`},
		{"undo", `{}`},
		{"assembly/2", ``},
		{"file/sign.3mf", ``},
		{"picture/bends", ``},
	} {
		f.Add(c.path, []byte(c.body))
	}
	d := linesDesk(f)
	h := d.Handler()
	f.Fuzz(func(t *testing.T, path string, body []byte) {
		method := "POST"
		if len(body) == 0 {
			method = "GET"
		}
		ask(t, d, h, method, path, body)
	})
}

// random is a request such as a page sends, often with a value that none would.
func random(rng *rand.Rand, table stage.Table) (method, path string, body []byte) {
	pick := func(of ...string) string { return of[rng.IntN(len(of))] }
	settings, names := table.Settings(), append(table.Names(), viewLines, viewLit, viewSolid, "nowhere")
	switch rng.IntN(12) {
	case 0:
		return "GET", "picture/" + pick(names...), nil
	case 1:
		return "GET", pick("state", "sheet.jpg", "lines", "more?view=drawing", "more?view=ink", "bodies", "assembly", "assembly/"+strconv.Itoa(rng.IntN(12)-1)), nil
	case 2:
		return "GET", "file/" + pick("sign.3mf", "cut-sheet.pdf", "run.yaml", "../run.yaml", "all.zip"), nil
	}
	k := settings[rng.IntN(len(settings))]
	number := strconv.FormatFloat(rng.NormFloat64()*20, 'g', 3, 64)
	q := request{
		View: pick(names...), Stage: pick(names...), Flag: k.Flag, Verb: pick("move", "length", "rub-out", "freehand", "circle", "x"),
		Value: pick(k.Get(table.Default()), number, number+","+number, "auto", "yes", "1e300", "NaN", "", "strip", "wires"),
		X:     rng.Float64()*1.2 - 0.1, Y: rng.Float64()*1.2 - 0.1, Index: rng.IntN(5) - 1, Drag: rng.IntN(3) == 0, Finish: rng.IntN(3) == 0,
	}
	if rng.IntN(2) == 0 {
		q.Flag = pick("edits", "foot-at", "feed-at", "cut-at", "axis", "dot-places")
	}
	for range rng.IntN(4) {
		q.Path = append(q.Path, geom.Pt(rng.Float64(), rng.Float64()))
	}
	body, _ = json.Marshal(q) // of finite numbers
	return "POST", pick("view", "over", "set", "pick", "draw", "move", "undo", "redo", "reset", "draft"), body
}

// SOAK random requests one after another: no answer of a fault, and no growth of memory. Without
// SOAK a few, to see that it works.
func TestSoakRequests(t *testing.T) {
	n := 60
	if s := os.Getenv("SOAK"); s != "" {
		var err error
		n, err = strconv.Atoi(s)
		require.NoError(t, err)
	}
	d := linesDesk(t)
	h := d.Handler()
	rng := rand.New(rand.NewPCG(16, 5000))
	live := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc >> 20
	}
	for i := range n {
		method, path, body := random(rng, d.table)
		ask(t, d, h, method, path, body)
		if t.Failed() {
			t.Fatalf("request %d", i)
		}
		if i%10 == 9 { // back to a sign that can be made
			ask(t, d, h, "POST", "reset", []byte("{}"))
		}
		if n > 60 && i%(n/10) == 0 {
			fmt.Printf("%d requests: %d MB live\n", i, live())
		}
	}
	ask(t, d, h, "GET", "state", nil)
}

// Tabs that ask at once, while the desk works ahead, do not get in each other's way.
func TestRequestsAtOnce(t *testing.T) {
	t.Parallel()
	d := linesDesk(t)
	d.WorkAhead()
	h := d.Handler()
	ask(t, d, h, "POST", "over", []byte(`{"View":"drawing","Value":"wires"}`))
	var tabs sync.WaitGroup
	for tab := range uint64(3) {
		tabs.Go(func() {
			rng := rand.New(rand.NewPCG(15, tab))
			for range 25 {
				method, path, body := random(rng, d.table)
				if ask(t, d, h, method, path, body); rng.IntN(4) == 0 {
					ask(t, d, h, "GET", "more?view=drawing", nil)
				}
			}
		})
	}
	tabs.Wait()
	d.mu.Lock()
	defer d.mu.Unlock()
	d.stopAhead()
}
