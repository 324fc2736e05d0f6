package stage

import (
	"context"
	"errors"
	"fmt"
	"image"
	"reflect"
	"slices"
	"strings"
	"time"
)

// A Table is stages in the order they run.
type Table struct {
	stages []Stage
	given  []reflect.Type
}

// Given names a type of what a run is given before its first stage.
func Given[T any]() reflect.Type { return reflect.TypeFor[T]() }

// NewTable puts stages in order. It returns an error for stages or flags of one
// name, results of one type, a stage that reads what none before it finds, and a
// default that its own setting refuses.
func NewTable(given []reflect.Type, stages ...Stage) (Table, error) {
	t := Table{stages: stages, given: given}
	there := slices.Clone(given)
	names, flags := map[string]bool{}, map[string]bool{}
	for _, st := range stages {
		switch {
		case names[st.Name]:
			return Table{}, fmt.Errorf("two stages are called %q", st.Name)
		case slices.Contains(there, st.finds):
			return Table{}, fmt.Errorf("stage %s finds a %v, which is there already", st.Name, st.finds)
		}
		names[st.Name] = true
		for _, r := range st.reads {
			if !slices.Contains(there, r) {
				return Table{}, fmt.Errorf("stage %s reads a %v, which no stage before it finds", st.Name, r)
			}
		}
		there = append(there, st.finds)
		for _, k := range st.Settings {
			if flags[k.Flag] {
				return Table{}, fmt.Errorf("two settings are called %q", k.Flag)
			}
			flags[k.Flag] = true
			if _, err := k.set(st.def, k.get(st.def)); err != nil {
				return Table{}, fmt.Errorf("the default of %w", err)
			}
		}
	}
	return t, nil
}

// Stages returns the stages in order.
func (t Table) Stages() []Stage { return slices.Clone(t.stages) }

// Names returns the stages' names in order.
func (t Table) Names() []string {
	out := make([]string, len(t.stages))
	for i, s := range t.stages {
		out[i] = s.Name
	}
	return out
}

// Last is the last stage's name.
func (t Table) Last() string { return t.stages[len(t.stages)-1].Name }

// Index is a stage's place in the order, from 0. It returns an error that lists the
// stages if there is none of that name.
func (t Table) Index(name string) (int, error) {
	if i := slices.IndexFunc(t.stages, func(s Stage) bool { return s.Name == name }); i >= 0 {
		return i, nil
	}
	return 0, fmt.Errorf("there is no step %q; the steps are %s", name, strings.Join(t.Names(), ", "))
}

// Stage returns the stage of that name, or an error as Index does.
func (t Table) Stage(name string) (Stage, error) {
	i, err := t.Index(name)
	if err != nil {
		return Stage{}, err
	}
	return t.stages[i], nil
}

// A Run says what to run.
type Run struct {
	Settings Settings
	// After is the stage after which to start, whose result and all that later
	// stages read are given; empty starts with the first.
	After string
	// Until is the last stage to run; empty runs all.
	Until string
	// Done is told of each stage when it has run, with all results so far; nil for
	// nobody.
	Done func(Results, Step)
}

// Run takes what is given through the stages. It returns what was found so far
// with an *Error for what a stage cannot work with, with ctx's error if that ends,
// and with an error that lists the stages for one that does not exist.
func (t Table) Run(ctx context.Context, given Results, run Run) (Results, error) {
	from, to := 0, len(t.stages)
	for _, b := range []struct {
		name string
		at   *int
	}{{run.After, &from}, {run.Until, &to}} {
		if b.name == "" {
			continue
		}
		i, err := t.Index(b.name)
		if err != nil {
			return given, err
		}
		*b.at = i + 1
	}
	r := given
	for i := from; i < to; i++ {
		next, err := t.step(ctx, i, r, run.Settings)
		if err != nil {
			return r, err
		}
		r = next
		if run.Done != nil {
			run.Done(r, r.Steps[len(r.Steps)-1])
		}
	}
	return r, nil
}

// step runs stage i on r.
func (t Table) step(ctx context.Context, i int, r Results, s Settings) (Results, error) {
	if err := ctx.Err(); err != nil {
		return r, err
	}
	st := t.stages[i]
	start := time.Now()
	found, report, err := st.run(s.of[st.Name], r)
	if err != nil {
		return r, &Error{st.Name, err}
	}
	next := r.With(found)
	next.Steps = append(slices.Clip(r.Steps), Step{Stage: st.Name, Report: report, Took: time.Since(start)})
	return next, nil
}

// Picture draws a stage's picture of results in which it has run. It returns an
// error for a stage that does not exist, has not run or draws nothing.
func (t Table) Picture(r Results, name string) (*image.RGBA, error) {
	i, err := t.Index(name)
	if err != nil {
		return nil, err
	}
	for _, s := range r.Steps {
		if s.Stage != name {
			continue
		}
		if t.stages[i].Picture == nil {
			return nil, &Error{name, errors.New("draws no picture")}
		}
		return t.stages[i].Picture(r, fmt.Sprintf("%d %s: %s", i+1, name, s.Found))
	}
	return nil, &Error{name, errors.New("has not run")}
}

// PictureFile is the file name of a stage's picture: its number, name and form.
func (t Table) PictureFile(name string) (string, error) {
	i, err := t.Index(name)
	if err != nil {
		return "", err
	}
	ext := "jpg" // a picture of the photo
	if t.stages[i].Drawn {
		ext = "png"
	}
	return fmt.Sprintf("%02d-%s.%s", i+1, name, ext), nil
}

// Problems lists the problems of the stages that have run, stage by stage.
func (t Table) Problems(r Results) []Problem {
	var out []Problem
	for _, st := range t.stages {
		if st.Problems == nil || !r.Ran(st.Name) {
			continue
		}
		for _, p := range st.Problems(r) {
			p.Stage = st.Name
			out = append(out, p)
		}
	}
	return out
}

// FailedRules lists, in words with place and distance, every rule that the lines
// do not keep.
func (t Table) FailedRules(r Results) []string {
	var out []string
	for _, p := range t.Problems(r) {
		if p.Rule {
			out = append(out, p.Text)
		}
	}
	return out
}
