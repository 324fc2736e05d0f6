package pipeline

import (
	"context"
	"errors"
	"fmt"
	"image"

	"inkchannel/geom"
)

// A Session is a run that is tuned step by step: when a setting changes only
// its stage and those after it run again, and those only when they are asked
// for.
type Session struct {
	data     []byte
	settings Settings
	// before holds, for each stage that has run, the result as it was when the
	// stage began.
	before map[string]*Result
	last   *Result // after the last stage that ran
	done   int     // stages that have run
}

// NewSession returns a session on a photo's bytes. Nothing has run yet.
func NewSession(data []byte, s Settings) *Session {
	return &Session{data: data, settings: s, before: map[string]*Result{}, last: &Result{Settings: s}}
}

// Settings returns the session's settings.
func (s *Session) Settings() Settings { return s.settings }

// Use changes the settings. Stages before the first whose settings differ keep
// what they found.
func (s *Session) Use(next Settings) {
	first := firstChange(s.settings, next)
	s.settings = next
	if first < s.done {
		r := *s.before[Stages()[first].Name]
		s.last, s.done = &r, first
	}
}

// firstChange is the first stage whose settings differ, the number of stages if
// none does.
func firstChange(a, b Settings) int {
	first := len(Stages())
	for _, k := range Knobs() {
		if k.Get(&a) != k.Get(&b) {
			first = min(first, stageIndex(k.Stage))
			if k.shared() {
				first = min(first, stageIndex(StageSpacing))
			}
		}
	}
	return first
}

// shared tells whether stages before the knob's own read it too.
func (k Knob) shared() bool {
	return k.Stage == StageChannel || k.Stage == StageParts
}

// Run brings the session up to and with a stage, and returns what was found. It
// returns a *StageError as the package's Run does.
func (s *Session) Run(ctx context.Context, until string) (*Result, error) {
	stages := Stages()
	want := stageIndex(until) + 1
	for s.done < want {
		st := stages[s.done]
		was := *s.last
		s.before[st.Name] = &was
		next := *s.last
		next.Settings = s.settings
		next.Steps = append([]Step{}, s.last.Steps...)
		if err := next.run(ctx, s.data, stages[s.done:s.done+1], "", nil); err != nil {
			return s.last, err
		}
		s.last = &next
		s.done++
	}
	return s.last, nil
}

// At returns the result as it was after a stage that has run.
func (s *Session) At(stage string) (*Result, bool) {
	i := stageIndex(stage)
	switch {
	case i >= s.done:
		return nil, false
	case i == s.done-1:
		return s.last, true
	}
	return s.before[Stages()[i+1].Name], true
}

// Latest returns the result of what has run so far.
func (s *Session) Latest() *Result { return s.last }

// ReviewImage draws the review image of a stage of r, which has run.
func ReviewImage(r *Result, stage string) (image.Image, error) {
	for _, s := range r.Steps {
		if s.Stage == stage {
			return drawStage(r, s)
		}
	}
	return nil, &StageError{stage, errors.New("has not run")}
}

// PictureBar is the height of the line of text under a review image, px.
const PictureBar = barHeight

// Picked turns a place on a stage's review image, given as shares of the
// picture's width and height without its bar, into what the setting of a flag
// takes: px of the upright photo, or mm of the sheet. It returns an error for a
// flag that takes no places and for a stage before the sheet is known.
func (r *Result) Picked(flag, stage string, x, y float64) (geom.Point, error) {
	if !(x >= 0 && x <= 1 && y >= 0 && y <= 1) {
		return geom.Point{}, errors.New("the place lies outside the picture")
	}
	if r.Photo.Colour == nil {
		return geom.Point{}, errors.New("there is no photo yet")
	}
	onPhoto := stageIndex(stage) <= stageIndex(StageSheet)
	if !onPhoto && r.Sheet.Image == nil {
		return geom.Point{}, errors.New("the sheet is not known yet")
	}
	switch flag {
	case "corners", "dots":
		p := geom.Pt(x*float64(r.Photo.Colour.W), y*float64(r.Photo.Colour.H))
		if !onPhoto {
			p = r.Sheet.InPhoto(geom.Pt(x*float64(r.Sheet.Image.W), y*float64(r.Sheet.Image.H)))
		}
		return p.Mul(r.Photo.Shrink), nil
	case "mirror-axis", "drop-lines", "join-ends", "pass-on":
		if onPhoto || r.Size == (geom.Point{}) {
			return geom.Point{}, fmt.Errorf("%s is picked on the sheet, after the dots are found", flag)
		}
		return geom.Pt(x*r.Size.X, y*r.Size.Y), nil
	}
	return geom.Point{}, fmt.Errorf("%s takes no places", flag)
}

// Handles are the places that a stage found which a setting could name by hand:
// the setting's flag, the places as it takes them, and where each is on the
// stage's review image, as shares of its width and height without its bar.
func (r *Result) Handles(stage string) (flag string, places, shares []geom.Point) {
	add := func(at geom.Point, w, h int, onPhoto geom.Point) {
		places = append(places, onPhoto.Mul(r.Photo.Shrink))
		shares = append(shares, geom.Pt(at.X/float64(w), at.Y/float64(h)))
	}
	switch {
	case stage == StageSheet && r.Sheet.Found:
		for _, p := range r.Sheet.Corners {
			add(p, r.Photo.Colour.W, r.Photo.Colour.H, p)
		}
		return "corners", places, shares
	case stage == StageDots && r.Dots.PxPerMm > 0:
		for _, d := range r.Dots.Pair {
			add(d.Centre, r.Sheet.Image.W, r.Sheet.Image.H, r.Sheet.InPhoto(d.Centre))
		}
		return "dots", places, shares
	}
	return "", nil, nil
}

// Places is how many places the setting takes at a time, 0 if none.
func (k Knob) Places() int { return k.places }

// Many tells whether the setting takes any number of places that Places
// divides.
func (k Knob) Many() bool { return k.many }
