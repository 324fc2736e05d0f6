package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// A request is one change that the page asks for.
type request struct {
	Stage string // to look at, or a look at the whole sign
	Flag  string // to set
	Verb  string // of the entry that places are picked for
	Value string
	X, Y  float64 // a place picked, as shares of the picture
	Index int     // the handle to move there
	Drag  bool    // one of many while a slider moves: they are undone together
}

// An action does what a request asks for. It reports whether the view must run
// again.
type action func(ctx context.Context, q request) (again bool, err error)

// A badRequest is something that the page never asks for.
type badRequest struct{ error }

// actions are what the page may ask for, by the last word of the path.
func (d *Desk) actions() map[string]action {
	return map[string]action{
		"view":  d.look,
		"set":   func(_ context.Context, q request) (bool, error) { return d.set(q) },
		"pick":  func(_ context.Context, q request) (bool, error) { return d.pick(q) },
		"move":  func(_ context.Context, q request) (bool, error) { return d.move(q) },
		"undo":  func(context.Context, request) (bool, error) { return d.back((*history).undo) },
		"redo":  func(context.Context, request) (bool, error) { return d.back((*history).redo) },
		"write": d.write,
	}
}

// Looks at the whole sign, beside the steps.
const (
	viewLit   = "lit"
	viewSolid = "solid"
)

// needs is the last stage that a view shows.
func needs(view string) string {
	switch view {
	case viewLit:
		return pipeline.StagePower
	case viewSolid:
		return pipeline.StageParts
	}
	return view
}

func (d *Desk) look(_ context.Context, q request) (bool, error) {
	if _, err := d.table.Index(needs(q.Stage)); err != nil {
		return false, badRequest{err}
	}
	d.view = q.Stage
	return true, nil
}

func (d *Desk) set(q request) (bool, error) {
	next, err := d.table.Set(d.session.Settings(), q.Flag, q.Value)
	if err != nil {
		return false, err
	}
	of := ""
	if q.Drag {
		of = q.Flag
	}
	d.history.add(d.session.Settings(), of)
	d.session.Use(next)
	return true, nil
}

// A picking is a setting whose places are picked in the picture, and those picked
// so far.
type picking struct {
	flag, verb string
	places     []geom.Point
}

// pick adds a place picked in the picture; the last that a setting needs sets
// it, or adds to it if it takes many.
func (d *Desk) pick(q request) (bool, error) {
	k, err := d.table.Setting(q.Flag)
	if err != nil {
		return false, err
	}
	need := placesOf(k, q.Verb)
	if need == 0 {
		return false, fmt.Errorf("%s does not take places", strings.TrimSpace(q.Flag+" "+q.Verb))
	}
	p, err := d.placeOf(k, q.Stage, q)
	if err != nil {
		return false, err
	}
	if d.picking.flag != q.Flag || d.picking.verb != q.Verb {
		d.picking = picking{flag: q.Flag, verb: q.Verb}
	}
	if d.picking.places = append(d.picking.places, p); len(d.picking.places) < need {
		return false, nil // nothing to run yet
	}
	text := placeList(d.picking.places)
	d.picking = picking{}
	return d.set(request{Flag: q.Flag, Value: d.with(k, q.Verb, text)})
}

// placesOf is how many places a setting takes at a time, for an entry with a verb if it has such.
func placesOf(k stage.Setting, verb string) int {
	for _, v := range k.Verbs {
		if v.Name == verb {
			return v.Places
		}
	}
	return k.Places
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
	flag, handles := d.handles()
	if q.Index < 0 || q.Index >= len(handles) {
		return false, errors.New("there is no such place to move")
	}
	k, err := d.table.Setting(flag)
	if err != nil {
		return false, err
	}
	p, err := d.placeOf(k, d.view, q)
	if err != nil {
		return false, err
	}
	if len(k.Verbs) > 0 {
		return d.moveEntry(k, handles[q.Index].Place, p, q)
	}
	var places []geom.Point
	for _, h := range handles {
		places = append(places, h.Place)
	}
	places[q.Index] = p
	return d.set(request{Flag: flag, Value: placeList(places), Drag: q.Drag})
}

// goesOn is how near, mm, a move must start to where the last one ended to be one with it.
const goesOn = 0.6

// moveEntry adds an entry, of the setting's first verb, that moves what is at from; a move of what
// was moved last goes on from there.
func (d *Desk) moveEntry(k stage.Setting, from, to geom.Point, q request) (bool, error) {
	verb := k.Verbs[0].Name
	now := d.session.Settings()
	if d.table.IsDefault(k, now) {
		return d.set(request{Flag: k.Flag, Value: verb + " " + placeList([]geom.Point{from, to}), Drag: q.Drag})
	}
	all := strings.Split(k.Get(now), ";")
	var x, y, u, v float64
	last := strings.TrimSpace(all[len(all)-1])
	if n, _ := fmt.Sscanf(last, verb+" %f,%f %f,%f", &x, &y, &u, &v); n == 4 && geom.Pt(u, v).Dist(from) < goesOn {
		all, from = all[:len(all)-1], geom.Pt(x, y)
	}
	all = append(all, " "+verb+" "+placeList([]geom.Point{from, to}))
	return d.set(request{Flag: k.Flag, Value: strings.TrimSpace(strings.Join(all, ";")), Drag: q.Drag})
}

// handles are the places that the stage looked at found, and the flag of the
// setting that could name them.
func (d *Desk) handles() (string, []stage.Handle) {
	st, err := d.table.Stage(d.view)
	if err != nil || st.Handles == nil {
		return "", nil
	}
	r, ok := d.session.At(d.view)
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
		d.session.Use(s)
	}
	return true, nil
}
