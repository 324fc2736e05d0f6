package stage

import (
	"fmt"
	"reflect"
	"slices"
	"time"
)

// Results are what stages have found so far, one value of a type of its own for
// each stage, and what was given before the first. They are never changed: With
// returns others. The zero Results are empty.
type Results struct {
	of    map[reflect.Type]any
	Steps []Step // the reports of the stages that ran, in order
}

// With returns the results and one more, in the place of an earlier one of its
// type.
func (r Results) With(found any) Results {
	of := make(map[reflect.Type]any, len(r.of)+1)
	for t, v := range r.of {
		of[t] = v
	}
	of[reflect.TypeOf(found)] = found
	return Results{of: of, Steps: r.Steps}
}

// Found returns the result of type R and whether there is one.
func Found[R any](r Results) (R, bool) {
	v, ok := r.of[reflect.TypeFor[R]()].(R)
	return v, ok
}

// Of returns the result of type R. It panics where no stage has found one: callers
// read only what they know to have run.
func Of[R any](r Results) R {
	v, ok := Found[R](r)
	if !ok {
		panic(fmt.Sprintf("stage: nothing of type %v has been found", reflect.TypeFor[R]()))
	}
	return v
}

// Inputs fills the fields of an In, a struct of result types, with the results of
// those types. It reports whether there are all of them.
func Inputs[In any](r Results) (in In, ok bool) {
	v := reflect.ValueOf(&in).Elem()
	for i := range v.NumField() {
		found, there := r.of[v.Field(i).Type()]
		if !there {
			return in, false
		}
		v.Field(i).Set(reflect.ValueOf(found))
	}
	return in, true
}

// Ran reports whether a stage of that name has run.
func (r Results) Ran(name string) bool {
	return slices.ContainsFunc(r.Steps, func(s Step) bool { return s.Stage == name })
}

// A Report is what a stage says of its run.
type Report struct {
	Found string   // one line, in mm where it can
	Notes []string // what the user should know
	// Confidence is how sure the stage is of what it found; nil where it only
	// computed it.
	Confidence *Confidence
	// Beside are its other doubts, which are notes too.
	Beside []Confidence
}

// Note adds a note.
func (r *Report) Note(format string, a ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, a...)) }

// Judge says how sure the stage is, 0 to 1, and why. Of several such the least sure counts, the first among
// equals; other doubts stay beside it.
func (r *Report) Judge(sure float64, format string, a ...any) {
	c, other := &Confidence{Sure: sure, Why: fmt.Sprintf(format, a...)}, r.Confidence
	if other != nil && other.Sure <= sure {
		c, other = other, c
	}
	if r.Confidence = c; other != nil && other.Sure <= leastSure {
		r.Beside = append(r.Beside, *other)
		r.Note("%s", other.Why)
	}
}

// A Confidence is how sure a stage is of what it found, 0 to 1, and why. The
// figures rank, they are no probabilities.
type Confidence struct {
	Sure float64
	Why  string
}

// leastSure is the confidence under which a stage is not sure.
const leastSure = 0.5

// String is a sentence on how sure the stage is, and why.
func (c Confidence) String() string { return fmt.Sprintf("Confidence %.2f: %s.", c.Sure, c.Why) }

// A Step is the report of one stage that ran.
type Step struct {
	Stage string
	Report
	Took time.Duration
}

// Unsure reports whether the stage is not sure of what it found.
func (r Report) Unsure() bool { return r.Confidence != nil && r.Confidence.Sure < leastSure }

// Doubts lists the steps that are not sure of what they found.
func (r Results) Doubts() []Step {
	var out []Step
	for _, s := range r.Steps {
		if s.Unsure() {
			out = append(out, s)
		}
	}
	return out
}
