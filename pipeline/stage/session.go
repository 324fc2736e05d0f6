package stage

import (
	"context"
	"reflect"
	"slices"
)

// A Session is a run that is tuned step by step: when a setting changes, its stage
// and those that read what it found run again, and those only when they are asked
// for.
type Session struct {
	table    Table
	given    Results
	settings Settings
	first    int // the stage to start with; those before are given
	// kept holds for each stage what it last found; nil where that is out of date.
	kept []*finding
}

// A finding is what a stage found, and its report.
type finding struct {
	found any
	step  Step
}

// NewSession returns a session on what a run is given. Nothing has run yet.
func (t Table) NewSession(given Results, s Settings) *Session {
	return &Session{table: t, given: given, settings: s, kept: make([]*finding, len(t.stages))}
}

// NewSessionAfter returns a session that starts after a stage, whose result and all that later
// stages read are given. It returns an error for a stage that does not exist.
func (t Table) NewSessionAfter(given Results, s Settings, after string) (*Session, error) {
	i, err := t.Index(after)
	out := t.NewSession(given, s)
	out.first = i + 1
	return out, err
}

// Begin has the session begin anew with what it is given now.
func (s *Session) Begin(given Results, set Settings) {
	s.given, s.settings, s.kept = given, set, make([]*finding, len(s.table.stages))
}

// Try returns a session that starts from what this one has found and goes its own way: what is
// tried on it leaves this one as it is.
func (s *Session) Try() *Session {
	c := *s
	c.kept = slices.Clone(s.kept)
	return &c
}

// Take takes over what another session on the same has found and this one has not, if their settings
// are equal.
func (s *Session) Take(other *Session) {
	if !s.settings.Equal(other.settings) {
		return
	}
	for i, k := range other.kept {
		if s.kept[i] == nil {
			s.kept[i] = k
		}
	}
}

// Settings returns the session's settings.
func (s *Session) Settings() Settings { return s.settings }

// Use changes the settings. What a stage found is kept unless its own settings
// differ, or something that it reads is no longer kept.
func (s *Session) Use(next Settings) {
	old := s.settings
	s.settings = next
	stale := map[reflect.Type]bool{}
	for i, st := range s.table.stages {
		if i < s.first {
			continue
		}
		reads := slices.ContainsFunc(st.reads, func(r reflect.Type) bool { return stale[r] })
		if reads || !reflect.DeepEqual(old.of[st.Name], next.of[st.Name]) {
			s.kept[i] = nil
		}
		stale[st.finds] = s.kept[i] == nil
	}
}

// Run brings the session up to and with a stage, and returns what was found. It
// returns an *Error as Table.Run does, and then what was found up to there.
func (s *Session) Run(ctx context.Context, until string) (Results, error) {
	to, err := s.table.Index(until)
	if err != nil {
		return s.Latest(), err
	}
	r := s.given
	for i := s.first; i <= to; i++ {
		if s.kept[i] == nil {
			next, err := s.table.step(ctx, i, r, s.settings)
			if err != nil {
				return r, err
			}
			s.kept[i] = &finding{found: next.of[s.table.stages[i].finds], step: next.Steps[len(next.Steps)-1]}
		}
		r = s.add(r, i)
	}
	return r, nil
}

// add adds what stage i found.
func (s *Session) add(r Results, i int) Results {
	next := r.With(s.kept[i].found)
	next.Steps = append(slices.Clip(r.Steps), s.kept[i].step)
	return next
}

// At returns the results as they are after a stage, and whether it and all before
// it have run by the settings of now.
func (s *Session) At(name string) (Results, bool) {
	i, err := s.table.Index(name)
	if err != nil || i < s.first || i >= s.done() {
		return Results{}, false
	}
	return s.upTo(i + 1), true
}

// First is the name of the stage that the session starts with.
func (s *Session) First() string { return s.table.stages[s.first].Name }

// Latest returns the results of what has run so far by the settings of now.
func (s *Session) Latest() Results { return s.upTo(s.done()) }

// done is how many stages from the first on have run by the settings of now.
func (s *Session) done() int {
	if i := slices.Index(s.kept[s.first:], nil); i >= 0 {
		return s.first + i
	}
	return len(s.kept)
}

// upTo returns the results of the first n stages.
func (s *Session) upTo(n int) Results {
	r := s.given
	for i := s.first; i < n; i++ {
		r = s.add(r, i)
	}
	return r
}
