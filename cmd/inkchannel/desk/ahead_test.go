package desk

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom/parts"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// While the drawing is looked at the parts are made; what is asked for then is taken over, unless
// something changed meanwhile.
func TestWorksAhead(t *testing.T) {
	t.Parallel()
	d, err := New(t.Context(), pipeline.Table(), Job{
		Source: pipeline.Source{Data: demoPhoto(t)}, Settings: pipeline.DefaultSettings(),
		Command: func(string) []string { return nil },
	}, "127.0.0.1")
	require.NoError(t, err)
	d.WorkAhead()
	answered := func(method, path, body string) {
		q := httptest.NewRequest(method, "http://127.0.0.1/"+d.token+"/"+path, strings.NewReader(body))
		w := httptest.NewRecorder()
		d.Handler().ServeHTTP(w, q)
		require.Equal(t, 200, w.Code, w.Body)
	}
	ask := func(path, body string) { answered("POST", path, body) }
	parts := func(s *stage.Session) any {
		r, ok := s.At(pipeline.StageParts)
		require.True(t, ok)
		return stage.Of[pipeline.PartsFound](r).Meshes[0]
	}
	ask("view", `{"Stage":"drawing"}`)
	first := d.ahead
	require.NotNil(t, first)
	<-first.done
	_, ok := d.session.At(pipeline.StageParts)
	assert.False(t, ok, "nothing shows before it is asked for")
	ask("view", `{"Stage":"drawing"}`)
	assert.Same(t, first, d.ahead, "nothing changed")
	ask("set", `{"View":"drawing","Flag":"foot-height","Value":"12"}`)
	second := d.ahead
	require.NotSame(t, first, second)
	ask("view", `{"View":"drawing","Stage":"solid"}`)
	<-second.done
	assert.Same(t, parts(second.try), parts(d.session), "taken over, not made again")
	assert.NotSame(t, parts(first.try), parts(d.session))
	assert.Nil(t, d.ahead)
	ask("view", `{"Stage":"drawing"}`)
	assert.Nil(t, d.ahead, "all is made")
	ask("set", `{"View":"drawing","Flag":"foot-height","Value":"14"}`)
	third := d.ahead
	require.NotNil(t, third, "and goes on")
	<-third.done
	version := d.version
	answered("GET", "state?view=drawing", "")
	_, ok = d.session.At(d.table.Last())
	assert.True(t, ok, "what is done shows once the page looks again")
	assert.Equal(t, version, d.version, "and nothing that is shown is another")
}

// What is switched on over the lines follows them: a change is answered before that, and what was under way for
// the settings of before is not shown.
func TestOverlaysFollow(t *testing.T) {
	t.Parallel()
	d, base := openDesk(t, demoPhoto(t))
	d.WorkAhead()
	more := func() (s state) {
		res, err := http.Get(base + "more?view=drawing")
		require.NoError(t, err)
		defer res.Body.Close()
		require.NoError(t, json.NewDecoder(res.Body).Decode(&s))
		return s
	}
	_, s := post(t, base+"view", `{"Stage":"drawing"}`)
	assert.False(t, s.More, "the lines are all that is shown")
	version := more().Version
	assert.Equal(t, s.Version, version, "so that nothing is another")
	_, s = post(t, base+"over", `{"View":"drawing","Value":"wires"}`)
	require.True(t, s.More)
	_, made := d.session.At(pipeline.StageParts)
	assert.False(t, made, "nobody waits for the parts")
	_, s = post(t, base+"set", `{"View":"drawing","Flag":"foot-height","Value":"12"}`)
	require.True(t, s.More)
	was := s.Version
	s = more()
	assert.False(t, s.More)
	assert.Greater(t, s.Version, was)
	at, made := d.session.At(pipeline.StageBeds)
	require.True(t, made)
	assert.Equal(t, 12.0, stage.SettingsOf[parts.Measures](d.session.Settings()).FootHeight)
	assert.NotEmpty(t, d.drawnOf(at).Layers)
	// What cannot be made is told once it was tried.
	_, s = post(t, base+"set", `{"View":"drawing","Flag":"bed-width","Value":"40"}`)
	require.True(t, s.More)
	assert.Empty(t, s.Failed)
	s = more()
	assert.False(t, s.More)
	assert.NotEmpty(t, s.Problem)
	assert.Equal(t, pipeline.StageBeds, s.Failed)
}

// What came out by itself is not asked for: once something else changes, rear and board are what they were asked to be; what
// was changed since stays.
func TestWhatCameByItselfIsNotAsked(t *testing.T) {
	with := func(rear float64, board parts.Board) stage.Settings {
		s := stage.With(pipeline.DefaultSettings(), func(c *pipeline.ChannelSettings) { c.Rear = rear })
		return stage.With(s, func(m *parts.Measures) { m.Board = board })
	}
	before, after := with(2, parts.BoardAuto), with(2.8, parts.BoardRibs)
	for _, c := range []struct {
		name      string
		now, want stage.Settings
	}{
		{"as it came out", after, before},
		{"another rear since", with(4, parts.BoardRibs), with(4, parts.BoardAuto)},
		{"another board since", with(2.8, parts.BoardSolid), with(2, parts.BoardSolid)},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := &Desk{byItself: &deepened{before, after}}
			assert.True(t, d.asAsked(c.now).Equal(c.want))
		})
	}
	assert.True(t, (&Desk{}).asAsked(after).Equal(after), "nothing came out by itself")
}
