package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// A request is one change that the page asks for.
type request struct {
	View   string       // what the tab that asks looks at
	Stage  string       // to look at, or a look at the whole sign
	Flag   string       // to set
	Verb   string       // of the entry that places are picked for
	Value  string       // to set; or the number of such an entry
	X, Y   float64      // a place picked, as shares of the picture
	Index  int          // the handle to move there
	Other  bool         // by the other verb that it has, if it has one
	Drag   bool         // one of many while a slider moves: they are undone together
	Path   []geom.Point // of a line drawn by hand, or places picked at once, as shares of the picture
	Finish bool         // no more places come
}

// An action does what a request asks for. It reports whether the view must run
// again.
type action func(ctx context.Context, q request) (again bool, err error)

// A badRequest is something that the page never asks for.
type badRequest struct{ error }

// actions are what the page may ask for, by the last word of the path.
func (d *Desk) actions() map[string]action {
	return map[string]action{
		"view":    d.look,
		"over":    d.overlay,
		"set":     func(_ context.Context, q request) (bool, error) { return d.set(q) },
		"pick":    d.pick,
		"draw":    d.drawByHand,
		"forget":  func(context.Context, request) (bool, error) { d.picking = picking{}; return false, nil },
		"move":    func(_ context.Context, q request) (bool, error) { return d.move(q) },
		"undo":    func(context.Context, request) (bool, error) { return d.back((*history).undo) },
		"redo":    func(context.Context, request) (bool, error) { return d.back((*history).redo) },
		"reset":   func(context.Context, request) (bool, error) { return d.reset() },
		"another": func(context.Context, request) (bool, error) { return false, d.another() },
		"write":   d.write,
	}
}

// Looks at the whole sign, beside the steps.
const (
	viewLines = "drawing"
	viewLit   = "lit"
	viewSolid = "solid"
)

// needs is the last stage that a view shows.
func (d *Desk) needs(view string) string {
	switch view {
	case viewLines:
		return linesDone
	case viewLit:
		return pipeline.StagePower
	case viewSolid:
		return pipeline.StageParts
	}
	return view
}

// stageOf is the stage whose picture and places a view shows.
func stageOf(view string) string {
	if view == viewLines {
		return pipeline.StageHand
	}
	return view
}

func (d *Desk) look(_ context.Context, q request) (bool, error) {
	if _, err := d.table.Index(d.needs(q.Stage)); err != nil {
		return false, badRequest{err}
	}
	d.view = q.Stage
	return true, nil
}

func (d *Desk) set(q request) (bool, error) {
	now := d.session.Settings()
	asked := now
	if q.Flag != "rear" && q.Flag != "backboard" {
		asked = d.asAsked(now)
	}
	next, ok, err := d.useKit(asked, q.Flag, q.Value)
	if !ok {
		next, err = d.table.Set(asked, q.Flag, q.Value)
	}
	if err != nil {
		return false, err
	}
	of := ""
	if q.Drag {
		of = q.Flag
	}
	next, back := pipeline.SizeOnce(next, q.Flag)
	if err := d.use(next); err != nil {
		return false, err
	}
	if back != "" {
		d.told = fmt.Sprintf("%s put back: %s says the size now", back, q.Flag)
	}
	d.history.add(now, of)
	d.keep()
	return true, nil
}

// another puts the photo away, so that the page takes another one; it can be gone back to.
func (d *Desk) another() error {
	if d.empty.Command == nil {
		return badRequest{errors.New("this page is for one photo")}
	}
	d.stopAhead()
	d.glance.drop()
	d.kept = keptFiles{}
	for i := range d.away {
		d.away[i].session = nil
	}
	d.away = slices.Insert(d.away, 0, put{d.job, d.session.Settings(), d.session, d.history, d.view})
	d.session, d.byItself, d.job, d.history, d.picking, d.problem = nil, nil, Job{}, history{}, picking{}, ""
	return nil
}

// resume goes back to one of those that were put away.
func (d *Desk) resume(ctx context.Context, i int) error {
	p := d.away[i]
	if p.session == nil {
		session, err := d.sessionOf(p.job, p.settings)
		if err != nil {
			return err
		}
		if _, err = session.Run(ctx, session.First()); err != nil {
			return err
		}
		p.session = session
	}
	d.job, d.session, d.history, d.view, d.problem = p.job, p.session, p.history, p.view, ""
	d.away = slices.Delete(d.away, i, i+1)
	d.version++
	_, err := d.runTo(ctx, d.needs(d.view)) // what could not be made is told again
	d.say(err)
	return nil
}

// reset takes all settings back to what they are at first; it can be undone.
func (d *Desk) reset() (bool, error) {
	now := d.session.Settings()
	if err := d.use(d.table.Default()); err != nil {
		return false, err
	}
	d.history.add(now, "")
	d.keep()
	return true, nil
}

// keep has the settings kept for the next time, if the job has a way to.
func (d *Desk) keep() {
	if d.job.Keep == nil {
		return
	}
	if err := d.job.Keep(d.session.Settings()); err != nil {
		d.told = fmt.Sprintf("Not kept for the next time, in %s: %v", d.job.KeptIn, err)
	}
}

// A picking is a setting whose places are picked in the picture, and those picked
// so far.
type picking struct {
	flag, verb string
	places     []geom.Point
}

// pick adds a place picked in the picture; the last that a setting needs sets
// it, or adds to it if it takes many.
func (d *Desk) pick(ctx context.Context, q request) (bool, error) {
	k, err := d.table.Setting(q.Flag)
	if err != nil {
		return false, err
	}
	need, more := placesOf(k, q.Verb)
	if need == 0 {
		return false, fmt.Errorf("%s does not take places", strings.TrimSpace(q.Flag+" "+q.Verb))
	}
	if d.picking.flag != q.Flag || d.picking.verb != q.Verb {
		d.picking = picking{flag: q.Flag, verb: q.Verb}
	}
	if len(q.Path) > 0 { // dragged from the one to the other: the first one is refused for both
		for _, share := range q.Path {
			q.Path, q.X, q.Y = nil, share.X, share.Y
			if again, err := d.pick(ctx, q); err != nil || again {
				return again, err
			}
		}
		return false, nil
	}
	if !q.Finish {
		p, err := d.placeOf(k, stageOf(q.Stage), q)
		if err != nil {
			return false, err
		}
		if !more && slices.ContainsFunc(d.picking.places, func(was geom.Point) bool { return was.Dist(p) < samePlace }) {
			return false, errors.New("this place is picked already; pick another, or press Escape to begin anew")
		}
		if len(d.picking.places) == 0 && need > 1 {
			if why := pipeline.MissedFirst(d.session.Latest(), q.Flag, q.Verb, p); why != "" {
				return false, errors.New(why)
			}
		}
		d.picking.places = append(d.picking.places, p)
	}
	if len(d.picking.places) < need || more && !q.Finish {
		return false, nil // nothing to run yet
	}
	text, last := placeList(d.picking.places), d.picking.places[len(d.picking.places)-1]
	if k.Verb(q.Verb).Unit != "" {
		text += " " + strings.TrimSpace(q.Value)
	}
	d.picking = picking{}
	return d.setPicked(ctx, q.Flag, d.with(k, q.Verb, text), last)
}

// samePlace is within what distance, mm or px of the photo, a second click is one too many.
const samePlace = 1

// setPicked sets what places were picked for, the last of them at a place, unless they miss: then nothing
// is left of it.
func (d *Desk) setPicked(ctx context.Context, flag, value string, at geom.Point) (bool, error) {
	next, err := d.table.Set(d.session.Settings(), flag, value)
	if err != nil {
		return false, err
	}
	if why := pipeline.Missed(ctx, d.session, flag, next, at); why != "" {
		return false, errors.New(why)
	}
	return d.set(request{Flag: flag, Value: value})
}

// leastApart is how far apart, mm, the places of a line drawn by hand are that are kept.
const leastApart = 2

// drawByHand adds an entry of the places that a line was drawn by.
func (d *Desk) drawByHand(ctx context.Context, q request) (bool, error) {
	k, err := d.table.Setting(q.Flag)
	if err != nil {
		return false, err
	}
	if _, more := placesOf(k, q.Verb); !more {
		return false, badRequest{fmt.Errorf("%s is not drawn by hand", q.Flag)}
	}
	var line geom.Polyline
	for i, share := range q.Path {
		p, err := d.placeOf(k, stageOf(q.Stage), request{X: share.X, Y: share.Y})
		if err != nil {
			return false, err
		}
		if n := len(line); n == 0 || line[n-1].Dist(p) >= leastApart {
			line = append(line, p)
		} else if i == len(q.Path)-1 && n > 1 {
			line[n-1] = p
		}
	}
	if len(line) < 2 {
		return false, fmt.Errorf("a line drawn by hand must be %d mm long", leastApart)
	}
	d.picking = picking{}
	return d.setPicked(ctx, q.Flag, d.with(k, q.Verb, placeList(line)), line[len(line)-1])
}

// placesOf is how many places a setting takes at a time, or at least if it takes more; for an entry
// with a verb if it has such.
func placesOf(k stage.Setting, verb string) (n int, more bool) {
	if v := k.Verb(verb); v.Name != "" {
		return v.Places, v.More
	}
	return k.Places, false
}

// with is what a setting says once places are added, as an entry with a verb if it has such.
func (d *Desk) with(k stage.Setting, verb, places string) string {
	text, between := places, " "
	if len(k.Verbs) > 0 {
		text, between = verb+" "+places, "; "
	}
	if now := d.session.Settings(); k.Many && !d.table.IsDefault(k, now) {
		return k.Get(now) + between + text
	}
	return text
}

// placeOf is a request's place, on a stage's picture, as a setting takes it.
func (d *Desk) placeOf(k stage.Setting, on string, q request) (geom.Point, error) {
	st, err := d.table.Stage(on)
	if err != nil {
		return geom.Point{}, err
	}
	return pipeline.Picked(d.session.Latest(), k, st.OnSheet, geom.Pt(q.X, q.Y))
}

// move puts one of the places that the stage looked at found elsewhere.
func (d *Desk) move(q request) (bool, error) {
	flag, value, err := d.moved(q)
	if err != nil {
		return false, err
	}
	return d.set(request{Flag: flag, Value: value, Drag: q.Drag})
}

// moved is the setting, and what it says, that puts one of the places found elsewhere.
func (d *Desk) moved(q request) (flag, value string, err error) {
	flag, handles := d.handles()
	if q.Index < 0 || q.Index >= len(handles) {
		return "", "", errors.New("there is no such place to move")
	}
	k, err := d.table.Setting(flag)
	if err != nil {
		return "", "", err
	}
	p, err := d.placeOf(k, stageOf(d.view), q)
	if err != nil {
		return "", "", err
	}
	if len(k.Verbs) > 0 {
		verb := k.Verbs[0].Name
		if h := handles[q.Index]; q.Other && h.Other != "" {
			verb = h.Other
		}
		return flag, d.movedEntry(k, verb, handles[q.Index].Place, p), nil
	}
	var places []geom.Point
	for _, h := range handles {
		places = append(places, h.Place)
	}
	places[q.Index] = p
	return flag, placeList(places), nil
}

// goesOn is how near, mm, a move must start to where the last one ended to be one with it.
const goesOn = 0.6

// movedEntry is a setting with an entry that takes what is at from elsewhere; one that takes what the
// last one took goes on from there.
func (d *Desk) movedEntry(k stage.Setting, verb string, from, to geom.Point) string {
	now := d.session.Settings()
	if d.table.IsDefault(k, now) {
		return verb + " " + placeList([]geom.Point{from, to})
	}
	all := strings.Split(k.Get(now), ";")
	var x, y, u, v float64
	last := strings.TrimSpace(all[len(all)-1])
	if n, _ := fmt.Sscanf(last, verb+" %f,%f %f,%f", &x, &y, &u, &v); n == 4 && geom.Pt(u, v).Dist(from) < goesOn {
		all, from = all[:len(all)-1], geom.Pt(x, y)
	}
	all = append(all, " "+verb+" "+placeList([]geom.Point{from, to}))
	return strings.TrimSpace(strings.Join(all, ";"))
}

// handles are the places that the stage looked at found, and the flag of the
// setting that could name them.
func (d *Desk) handles() (string, []stage.Handle) {
	st, err := d.table.Stage(stageOf(d.view))
	if err != nil || st.Handles == nil {
		return "", nil
	}
	r, ok := d.session.At(st.Name)
	if !ok {
		return "", nil
	}
	return st.Handles(r)
}

// placeList writes places as a setting takes them.
func placeList(places []geom.Point) string {
	var text []string
	for _, p := range places {
		text = append(text, fmt.Sprintf("%.1f,%.1f", p.X, p.Y))
	}
	return strings.Join(text, " ")
}

// back takes the settings of before, or of after, where there are such.
func (d *Desk) back(step func(*history, stage.Settings) (stage.Settings, bool)) (bool, error) {
	if s, ok := step(&d.history, d.session.Settings()); ok {
		if err := d.use(s); err != nil {
			return true, err
		}
		d.keep()
	}
	return true, nil
}
