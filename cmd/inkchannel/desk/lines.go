package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// shownAtFirst are the overlays that are switched on at first.
func shownAtFirst() map[string]bool {
	return map[string]bool{"lines": true, "channels": true, "tight": true}
}

// linesDone is the stage after which the lines can be worked on; all up to it takes some hundredths of a second.
const linesDone = pipeline.StageJunctions

// deepest is the last stage that the drawing shows something of, by the overlays that are switched on.
func (d *Desk) deepest() string {
	last := linesDone
	at, _ := d.table.Index(last)
	for _, o := range pipeline.Overlays() {
		if i, err := d.table.Index(o.Stage); err == nil && d.shown[o.Name] && i > at {
			last, at = o.Stage, i
		}
	}
	return last
}

// overlay switches an overlay on or off.
func (d *Desk) overlay(_ context.Context, q request) (bool, error) {
	if !slices.ContainsFunc(pipeline.Overlays(), func(o pipeline.Overlay) bool { return o.Name == q.Value }) {
		return false, badRequest{errors.New("there is no overlay of that name")}
	}
	d.shown[q.Value] = !d.shown[q.Value]
	return true, nil
}

// What is drawn over the sheet: lengths and places in mm of it.
type (
	drawn struct {
		Size   geom.Point
		Layers []layer
		// Stretches are the stretches that changes by hand take.
		Stretches []pipeline.OverlayPath
		Problem   string
		Told      string // what the lines are measured to be
	}
	layer struct {
		Name  string
		Paths []pipeline.OverlayPath
	}
)

// drawnOf is what is drawn over the sheet as a session has it.
func (d *Desk) drawnOf(r stage.Results) drawn {
	dots, _ := stage.Found[pipeline.DotsFound](r)
	out := drawn{Size: dots.Frame.Size, Stretches: pipeline.Stretches(r)}
	for _, o := range pipeline.Overlays() {
		if paths := o.Paths(r); paths != nil && d.shown[o.Name] {
			out.Layers = append(out.Layers, layer{Name: o.Name, Paths: paths})
		}
	}
	out.Told = checked(r, d.table.Problems(r))
	return out
}

// checked tells which of the problems are lines that break a rule of strip and printer.
func checked(r stage.Results, problems []stage.Problem) string {
	var broken []string
	for _, p := range problems {
		if p.Rule {
			broken = append(broken, p.Text)
		}
	}
	bends, ok := stage.Found[pipeline.BendsFound](r)
	moved := 0.0
	for _, b := range bends.Bends {
		moved = max(moved, b.Moved)
	}
	size := sizeText(r)
	switch {
	case !ok:
		return ""
	case len(broken) == 0 && moved > tellMoved:
		return size + fmt.Sprintf("No line is too near another. Corners are rounded for the strip, by up to %.1f mm.", moved)
	case len(broken) == 0:
		return size + "No line is too near another, and none bends too tightly."
	case len(broken) == 1:
		return size + capital(broken[0]) + "."
	}
	return size + fmt.Sprintf("%s; and %d more.", capital(broken[0]), len(broken)-1)
}

// sizeText tells the sign's size, which is known once its lines fit the strip, and which one was asked for if
// it has another.
func sizeText(r stage.Results) string {
	over := pipeline.OverAll(r)
	if _, ok := stage.Found[pipeline.StripsFound](r); !ok {
		return fmt.Sprintf("About %.0f by %.0f mm over all. ", over.X, over.Y)
	}
	miss := ""
	if flag, length, missed := pipeline.SizeMissed(r); missed {
		miss = fmt.Sprintf(", not %s %.1f mm as asked: see the problems", flag, length)
	}
	return fmt.Sprintf("%.1f by %.1f mm over all%s. ", over.X, over.Y, miss)
}

// capital is a sentence with a capital letter.
func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// tellMoved is how far off a line rounding may take it, mm, before that is told.
const tellMoved = 1

// lines sends what is drawn over the sheet.
func (d *Desk) lines(w http.ResponseWriter, _ *http.Request) {
	d.mu.Lock()
	out := d.drawnOf(d.session.Latest())
	d.mu.Unlock()
	send(w, out)
}

// draft sends what would be drawn if a place were moved, while it is dragged, or a setting had a value,
// while its slider moves: lines and what is too near, which take a few milliseconds. The job stays as
// it is.
func (d *Desk) draft(w http.ResponseWriter, r *http.Request, q request) {
	d.turnTo(q.View)
	flag, value, err := q.Flag, q.Value, error(nil)
	switch {
	case q.Verb != "":
		value, err = d.entry(q)
	case value == "":
		flag, value, err = d.moved(q)
	}
	try := d.session.Try()
	if err == nil {
		var next stage.Settings
		if next, err = d.table.Set(try.Settings(), flag, value); err == nil {
			try.Use(next)
			_, err = try.Run(r.Context(), linesDone)
		}
	}
	out := d.drawnOf(try.Latest())
	if err != nil {
		out.Problem = err.Error()
	} else if q.Verb != "" {
		out.Problem = pipeline.MissedLast(try.Latest())
	}
	send(w, out)
}

// entry is what a setting says with an entry more, of the verb and the places that a request names.
func (d *Desk) entry(q request) (string, error) {
	k, err := d.table.Setting(q.Flag)
	if err != nil {
		return "", err
	}
	var places []geom.Point
	for _, share := range q.Path {
		p, err := d.placeOf(k, stageOf(d.view), request{X: share.X, Y: share.Y})
		if err != nil {
			return "", err
		}
		places = append(places, p)
	}
	text := placeList(places)
	if k.Verb(q.Verb).Unit != "" {
		text += " " + strings.TrimSpace(q.Value)
	}
	return d.with(k, q.Verb, text), nil
}

func send(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(v) // the browser may be gone
}

// sheetNumber changes whenever the sheet's picture does.
func (d *Desk) sheetNumber() int {
	if f, ok := stage.Found[pipeline.SheetFound](d.session.Latest()); ok && f.Image != d.sheetSeen {
		d.sheetSeen, d.sheets = f.Image, d.sheets+1
	}
	return d.sheets
}

// sheet sends the sheet's picture, squared up, with nothing drawn on it.
func (d *Desk) sheet(w http.ResponseWriter, _ *http.Request) {
	d.mu.Lock()
	f, ok := stage.Found[pipeline.SheetFound](d.session.Latest())
	d.mu.Unlock()
	if !ok {
		http.Error(w, "the sheet has not been found yet", http.StatusNotFound)
		return
	}
	img, err := picture.Plain(f.Image, sheetSide)
	sendPicture(w, img, err)
}

// sheetSide is the longer side, px, of the sheet's picture under the lines: it is enlarged up to
// eight times.
const sheetSide = 2400
