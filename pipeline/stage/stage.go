package stage

import (
	"fmt"
	"image"
	"reflect"

	"inkchannel/geom"
)

// A Spec says all about a stage with settings S, which reads In and finds an R.
// In is a struct whose fields are the results of earlier stages, or struct{} for
// none; R is a type that no other stage finds.
type Spec[S, In, R any] struct {
	Name string // one word in small letters
	Does string // in a few words
	// Default holds the settings' defaults, Settings their flags.
	Default  S
	Settings []Setting
	// Run finds the result. It must not change what it is handed, as a session
	// keeps that.
	Run func(set S, in In) (R, Report, error)
	Show
}

// Show is how a stage's findings are shown. A nil function shows nothing.
type Show struct {
	// Picture draws what the stage found, with a line of text below. r holds the
	// stage's own result and all before it.
	Picture func(r Results, text string) (*image.RGBA, error)
	// Drawn says that the picture has few colours (a PNG, not a JPEG), OnSheet
	// that it shows the whole sheet and nothing else.
	Drawn, OnSheet bool
	// Problems lists the places where strip or printer will not do as asked.
	Problems func(r Results) []Problem
	// Handles are the places it found that a setting could name by hand.
	Handles func(r Results) (flag string, handles []Handle)
}

// A Problem is a place of the drawing where strip or printer will not do as the
// lines ask.
type Problem struct {
	Stage string     // that found it; the table fills it in
	Text  string     // with place and distance
	At    geom.Point // mm of the sheet
	// OnSheet says that At can be shown on the sheet: the place is on what lies
	// along the lines, not on the stand and the like.
	OnSheet bool
	// Flag is the setting to change first, empty if drawing anew is the only cure.
	Flag string
	// Rule says that a rule is broken; else it is a thing to know.
	Rule bool
}

// A Handle is a place that a stage found.
type Handle struct {
	Place geom.Point // as the setting takes it
	Share geom.Point // on the stage's picture without its line of text, 0 to 1
	// Other is the verb of the entry that a drag with Shift held makes, in place of the setting's
	// first; empty for none.
	Other string
	// Moved are outlines, as Share has places, of what goes along with the place; nil for none.
	Moved []geom.Ring
}

// A Stage is one step of a chain.
type Stage struct {
	Name, Does string
	Settings   []Setting
	Show

	def   any
	reads []reflect.Type
	finds reflect.Type
	run   func(set any, r Results) (any, Report, error)
}

// Define makes a stage of what is said about it.
func Define[S, In, R any](s Spec[S, In, R]) Stage {
	st := Stage{
		Name:     s.Name,
		Does:     s.Does,
		Settings: s.Settings,
		Show:     s.Show,
		def:      s.Default,
		finds:    reflect.TypeFor[R](),
	}
	for f := range reflect.TypeFor[In]().Fields() {
		st.reads = append(st.reads, f.Type)
	}
	for i := range st.Settings {
		st.Settings[i].Stage = s.Name
	}
	st.run = func(set any, r Results) (any, Report, error) {
		in, ok := Inputs[In](r)
		if !ok {
			return nil, Report{}, fmt.Errorf("what it reads (%v) is not there", reflect.TypeFor[In]())
		}
		found, report, err := s.Run(set.(S), in)
		if err != nil {
			return nil, Report{}, err
		}
		return found, report, nil
	}
	return st
}

// An Error is an error of one stage.
type Error struct {
	Stage string
	Err   error
}

// Error is the stage's name and what was wrong.
func (e *Error) Error() string { return e.Stage + ": " + e.Err.Error() }

// Unwrap returns the stage's own error.
func (e *Error) Unwrap() error { return e.Err }
