package stage

import (
	"context"
	"errors"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A chain of three: a word, its length, and whether that is over a limit; the last
// does not read the word.
type (
	word   struct{ Text string }
	length struct{ N int }
	long   struct{ Yes bool }
	limits struct{ Most float64 }
	times  struct{ N float64 }
)

func lengthStage(ran *int) Stage {
	type in struct{ Word word }
	return Define(Spec[times, in, length]{
		Name: "length", Default: times{1},
		Settings: []Setting{Number("times", "", "how often", 1, 9, func(s *times) *float64 { return &s.N })},
		Run: func(s times, in in) (length, Report, error) {
			*ran++
			if in.Word.Text == "" {
				return length{}, Report{}, errors.New("an empty word; give one")
			}
			return length{len(in.Word.Text) * int(s.N)}, Report{Found: "a length"}, nil
		},
	})
}

func longStage(ran *int) Stage {
	type in struct{ Length length }
	return Define(Spec[limits, in, long]{
		Name: "long", Default: limits{3},
		Settings: []Setting{Number("most", "letters", "limit", 1, 9, func(s *limits) *float64 { return &s.Most }).Called("old/limit")},
		Run: func(s limits, in in) (long, Report, error) {
			*ran++
			var rep Report
			rep.Judge(0.2, "only a guess")
			return long{float64(in.Length.N) > s.Most}, rep, nil
		},
	})
}

func TestTableRefuses(t *testing.T) {
	n := 0
	given := []reflect.Type{Given[word]()}
	twice := lengthStage(&n)
	other := Define(Spec[struct{}, struct{}, length]{Name: "other", Run: func(struct{}, struct{}) (length, Report, error) { return length{}, Report{}, nil }})
	sameFlag := Define(Spec[times, struct{}, long]{Name: "same", Default: times{1}, Settings: []Setting{Number("times", "", "again", 1, 9, func(s *times) *float64 { return &s.N })}})
	badDefault := Define(Spec[times, struct{}, long]{Name: "bad", Settings: []Setting{Number("few", "", "too few", 1, 9, func(s *times) *float64 { return &s.N })}})
	for _, c := range []struct {
		name   string
		stages []Stage
		want   string
	}{
		{"reads what comes later", []Stage{longStage(&n), lengthStage(&n)}, "stage long reads a stage.length, which no stage before it finds"},
		{"one name twice", []Stage{lengthStage(&n), twice}, `two stages are called "length"`},
		{"one result twice", []Stage{lengthStage(&n), other}, "which is there already"},
		{"one flag twice", []Stage{lengthStage(&n), sameFlag}, `two settings are called "times"`},
		{"a default out of bounds", []Stage{badDefault}, "the default of few"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewTable(given, c.stages...)
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// Only stages that read a change run again.
func TestSessionRunsOnlyWhatReadsAChange(t *testing.T) {
	lengths, longs := 0, 0
	table, err := NewTable([]reflect.Type{Given[word]()}, lengthStage(&lengths), longStage(&longs))
	require.NoError(t, err)
	s := table.NewSession(Results{}.With(word{"tea"}), table.Default())
	r, err := s.Run(context.Background(), "long")
	require.NoError(t, err)
	assert.False(t, Of[long](r).Yes)
	assert.Equal(t, []string{"long"}, stepNames(r.Doubts()))
	s.Use(With(s.Settings(), func(l *limits) { l.Most = 2 }))
	r, err = s.Run(context.Background(), "long")
	require.NoError(t, err)
	assert.True(t, Of[long](r).Yes)
	assert.Equal(t, []int{1, 2}, []int{lengths, longs})
	s.Use(With(s.Settings(), func(n *times) { n.N = 2 }))
	_, ok := s.At("long")
	assert.False(t, ok, "what it reads changed")
	_, err = s.Run(context.Background(), "long")
	require.NoError(t, err)
	assert.Equal(t, []int{2, 3}, []int{lengths, longs})
	_, err = s.Run(context.Background(), "width")
	assert.EqualError(t, err, `there is no step "width"; the steps are length, long`)
}

func stepNames(steps []Step) (out []string) {
	for _, s := range steps {
		out = append(out, s.Stage)
	}
	return out
}

// An error names its stage and leaves what was found.
func TestRunErrors(t *testing.T) {
	n := 0
	table, err := NewTable([]reflect.Type{Given[word]()}, lengthStage(&n), longStage(&n))
	require.NoError(t, err)
	_, err = table.Run(context.Background(), Results{}.With(word{}), Run{Settings: table.Default()})
	var e *Error
	require.ErrorAs(t, err, &e)
	assert.Equal(t, "length", e.Stage)
	assert.EqualError(t, err, "length: an empty word; give one")
	ctx, cancel := context.WithCancel(context.Background())
	r, err := table.Run(ctx, Results{}.With(word{"tea"}), Run{Settings: table.Default(), Done: func(Results, Step) { cancel() }})
	assert.ErrorIs(t, err, context.Canceled)
	assert.True(t, r.Ran("length"))
	assert.False(t, r.Ran("long"))
	_, err = table.Run(context.Background(), Results{}, Run{Settings: table.Default(), Until: "width"})
	assert.ErrorContains(t, err, `there is no step "width"`)
}

func TestSettingsOfEarlierNames(t *testing.T) {
	n := 0
	table, err := NewTable([]reflect.Type{Given[word]()}, lengthStage(&n), longStage(&n))
	require.NoError(t, err)
	s, err := table.ReadSettings(table.Default(), []byte("old:\n  limit: 5\n"))
	require.NoError(t, err)
	assert.Equal(t, 5.0, SettingsOf[limits](s).Most)
	assert.Equal(t, 3.0, SettingsOf[limits](table.Default()).Most, "settings are never changed in place")
}

// Of several judgements the least sure counts, the first among equals; no other doubt is lost.
func TestJudge(t *testing.T) {
	type judged struct {
		sure float64
		why  string
	}
	for _, c := range []struct {
		name   string
		said   []judged
		want   string
		beside []string
	}{
		{"one", []judged{{0.9, "fine"}}, "fine", nil},
		{"surer first", []judged{{0.9, "fine"}, {0.4, "a doubt"}}, "a doubt", nil},
		{"surer last", []judged{{0.4, "a doubt"}, {0.9, "fine"}}, "a doubt", nil},
		{"two doubts", []judged{{0.4, "first"}, {0.3, "worse"}}, "worse", []string{"first"}},
		{"equals", []judged{{0.4, "first"}, {0.4, "second"}, {0.4, "third"}}, "first", []string{"second", "third"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var r Report
			for _, j := range c.said {
				r.Judge(j.sure, "%s", j.why)
			}
			assert.Equal(t, c.want, r.Confidence.Why)
			assert.Equal(t, c.beside, r.Notes)
			var beside []string
			for _, b := range r.Beside {
				beside = append(beside, b.Why)
			}
			assert.Equal(t, c.beside, beside)
		})
	}
}
