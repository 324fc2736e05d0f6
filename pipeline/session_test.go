package pipeline_test

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/rules"
	"inkchannel/pipeline"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
)

// twoLines is an arc and, apart from it, a corner: enough for every kind of part.
func twoLines() geom.Centreline {
	return geom.Join([]geom.Curve{
		geom.Arc(geom.Pt(90, 80), 45, 200, 340),
		geom.Lines(geom.Pt(60, 110), geom.Pt(90, 140), geom.Pt(120, 110)),
	}, 0.05)
}

// smallDrawing is a line and, apart from it, a corner on a sheet, photographed small,
// to be run often.
func smallDrawing(t *testing.T) []byte {
	t.Helper()
	d := specimen.Drawing{
		Name: "two lines", PenWidth: 3, Pen: specimen.Blue, Sheet: geom.Pt(297, 210), DotSize: 5,
		Dots: [2]geom.Point{{X: 98, Y: 190}, {X: 198, Y: 190}}, Strokes: []geom.Polyline{
			{geom.Pt(70, 80), geom.Pt(120, 80)}, {geom.Pt(70, 100), geom.Pt(95, 125), geom.Pt(120, 100)},
		},
	}
	return photo(t, d, specimen.White(), func(v *specimen.View) { v.Width = 1400 }).JPEG
}

// A session that changes a setting finds and writes what a fresh run with it does,
// for every setting there is, and draws the same picture.
func TestSessionEqualsRun(t *testing.T) {
	data := smallDrawing(t)
	table := pipeline.Table()
	full := settings(t, "bed-width=120", "bed-depth=120", "tight-bends=join", "spacing=9", "test-piece=no", "sheet-pixels=1200")
	// Stages whose settings say nothing of stand and board are tried without, to save
	// time.
	bare := full
	for flag, v := range map[string]string{"hold": "none", "backboard": "none", "groove": "none"} {
		var err error
		bare, err = table.Set(bare, flag, v)
		require.NoError(t, err)
	}
	for _, first := range table.Stages() {
		t.Run(first.Name, func(t *testing.T) {
			t.Parallel()
			def := bare
			if slices.Contains([]string{pipeline.StageStrips, pipeline.StageParts, pipeline.StageWalls, pipeline.StageBeds}, first.Name) {
				def = full
			}
			session := table.NewSession(pipeline.Given(pipeline.Source{Data: data}), def)
			_, err := session.Run(context.Background(), table.Last())
			require.NoError(t, err)
			for _, k := range first.Settings {
				set, err := k.Set(def, other(k, def))
				require.NoError(t, err)
				session.Use(set)
				got, gotErr := session.Run(context.Background(), table.Last())
				want, wantErr := run(data, stage.Run{Settings: set})
				if wantErr != nil {
					require.Error(t, gotErr, k.Flag)
					assert.Equal(t, wantErr.Error(), gotErr.Error(), k.Flag)
				} else {
					require.NoError(t, gotErr, k.Flag)
				}
				assertSameFiles(t, k, outcomeOf(got, set), outcomeOf(want, set))
				session.Use(def)
			}
		})
	}
}

func assertSameFiles(t *testing.T, k stage.Setting, got, want outcome) {
	t.Helper()
	g, w := got.files(t), want.files(t)
	require.Len(t, g, len(w), k.Flag)
	for i := range w {
		require.Equal(t, w[i].Name, g[i].Name, k.Flag)
		assert.True(t, bytes.Equal(w[i].Data, g[i].Data), "%s: %s differs", k.Flag, w[i].Name)
	}
	if !want.Ran(k.Stage) || k.Stage == pipeline.StageParts { // the parts' picture shows what their files hold
		return
	}
	a, err := pipeline.Table().Picture(got.Results, k.Stage)
	require.NoError(t, err)
	b, err := pipeline.Table().Picture(want.Results, k.Stage)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(b.Pix, a.Pix), "%s: the picture differs", k.Flag)
}

// Only what reads the change runs again; an error leaves what was found before.
func TestSessionKeeps(t *testing.T) {
	table := pipeline.Table()
	s := table.NewSession(pipeline.Given(pipeline.Source{Data: smallDrawing(t)}), pipeline.DefaultSettings())
	first, err := s.Run(context.Background(), pipeline.StageBends)
	require.NoError(t, err)
	s.Use(stage.With(s.Settings(), func(b *rules.BendSettings) { b.Radius = 9 }))
	_, ok := s.At(pipeline.StageBends)
	assert.False(t, ok)
	again, err := s.Run(context.Background(), pipeline.StageBends)
	require.NoError(t, err)
	assert.Same(t, stage.Of[pipeline.InkFound](first).Ink, stage.Of[pipeline.InkFound](again).Ink, "the ink was not looked for again")
	assert.NotEqual(t, stage.Of[pipeline.BendsFound](first), stage.Of[pipeline.BendsFound](again))
	at, ok := s.At(pipeline.StageSpacing)
	require.True(t, ok)
	assert.Equal(t, pipeline.StageSpacing, at.Steps[len(at.Steps)-1].Stage)
	img, err := table.Picture(at, pipeline.StageSpacing)
	require.NoError(t, err)
	assert.Greater(t, img.Bounds().Dx(), 1000)
	_, err = table.Picture(at, pipeline.StageBends)
	assert.ErrorContains(t, err, "has not run")
	_, err = table.Picture(at, "paint")
	assert.ErrorContains(t, err, `no step "paint"`)
	s.Use(stage.With(s.Settings(), func(d *pipeline.DotsSettings) { d.Distance = 60 }))
	_, err = s.Run(context.Background(), pipeline.StageBends)
	require.Error(t, err)
	_, ok = s.At(pipeline.StageInk)
	assert.True(t, ok)
	s.Use(stage.With(s.Settings(), func(d *pipeline.DotsSettings) { d.Distance = 100 }))
	_, err = s.Run(context.Background(), pipeline.StageBends)
	require.NoError(t, err)
}

// The density that the sign is balanced by is the one it is weighed by, also when
// it changes within a session.
func TestSessionDensity(t *testing.T) {
	table := pipeline.Table()
	given := stage.Results{}.With(pipeline.Source{Data: smallDrawing(t)})
	s := table.NewSession(given, pipeline.DefaultSettings())
	grams := func() float64 {
		r, err := s.Run(context.Background(), pipeline.StageBeds)
		require.NoError(t, err)
		return stage.Of[pipeline.PartsFound](r).Balance.Mass
	}
	light := grams()
	s.Use(settings(t, "density=2.48", "tilt=0", "strip-mass=0"))
	heavy := grams()
	s.Use(settings(t, "tilt=0", "strip-mass=0"))
	assert.InEpsilon(t, 2*grams(), heavy, 0.05)
	assert.Less(t, grams(), light, "less the strip")
}

// Places by hand are on the paper: they name the same ink whatever size the sign is to have.
// Changes by hand were lost, or made elsewhere, once the sign was enlarged.
func TestPlacesHoldWhenEnlarged(t *testing.T) {
	table := pipeline.Table()
	s := table.NewSession(stage.Results{}.With(pipeline.Source{Data: demoPhoto(t).JPEG}), pipeline.DefaultSettings())
	run := func(flags ...string) (pipeline.HandFound, stage.Results) {
		s.Use(settings(t, flags...))
		r, err := s.Run(context.Background(), pipeline.StageHand)
		require.NoError(t, err)
		return stage.Of[pipeline.HandFound](r), r
	}
	_, r := run()
	ends := stage.Of[pipeline.StrokesFound](r).Strokes.Knots
	i := slices.IndexFunc(ends, func(k geom.Knot) bool { return k.Degree == 1 })
	require.GreaterOrEqual(t, i, 0)
	end := ends[i].At
	edits := fmt.Sprintf("edits=move %.1f,%.1f %.1f,%.1f", end.X, end.Y, end.X+6, end.Y-8)
	drop := fmt.Sprintf("drop-lines=%.1f,%.1f", end.X, end.Y)
	moved, _ := run(edits)
	large, r := run(edits, "enlarge=130")
	assert.Empty(t, large.Missed)
	assert.InEpsilon(t, 1.3*moved.Line.Length(), large.Line.Length(), 0.01)
	st, err := table.Stage(pipeline.StageHand)
	require.NoError(t, err)
	_, handles := st.Handles(r)
	near := slices.ContainsFunc(handles, func(h stage.Handle) bool { return h.Place.Dist(end.Add(geom.Pt(6, -8))) < 1 })
	assert.True(t, near, "handles are told on the paper")
	bow := []string{"edits=ring 40,40 55,40; radius 55,40 20"}
	ring, _ := run(bow...)
	wide, _ := run(append(bow, "enlarge=130")...)
	assert.Empty(t, ring.Missed)
	assert.InEpsilon(t, 1.3*ring.Line.Length(), wide.Line.Length(), 0.01, "a radius is on the paper too")
	// An end 2 mm from a line goes on to it whatever the sign's size.
	off := fmt.Sprintf("edits=draw %.1f,%.1f %.1f,%.1f", end.X, end.Y+2, end.X-25, end.Y+30)
	led, _ := run(off)
	for _, k := range []float64{60, 130, 200} {
		at, _ := run(off, fmt.Sprintf("enlarge=%g", k))
		assert.Len(t, at.Line.Knots, len(led.Line.Knots), "%g %%", k)
		assert.InEpsilon(t, k/100*led.Line.Length(), at.Line.Length(), 0.01)
	}
	missed, _ := run("edits=move 2,2 5,5", "enlarge=130")
	require.Len(t, missed.Missed, 1)
	one, _ := run(drop)
	same, _ := run(drop, "enlarge=130")
	assert.InEpsilon(t, 1.3*one.Line.Length(), same.Line.Length(), 0.01)
	assert.Less(t, one.Line.Length(), moved.Line.Length()-20)
	s.Use(settings(t, "drop-lines=3,4", "enlarge=130"))
	_, err = s.Run(context.Background(), pipeline.StageStrokes)
	assert.ErrorContains(t, err, "x 3.0, y 4.0 mm", "as it was given")
}

// A sign is as large as asked also where lines by hand reach beyond the drawing, marks are left out, or lines are read
// from a file; whatever was tried before, the same settings give the same sign.
func TestSizeAskedWithLinesByHand(t *testing.T) {
	table := pipeline.Table()
	width := func(s *stage.Session) (float64, string) {
		r, err := s.Run(context.Background(), pipeline.StageStrips)
		require.NoError(t, err)
		return pipeline.OverAll(r).X, fmt.Sprint(r.Steps[len(r.Steps)-1].Confidence)
	}
	photo := stage.Results{}.With(pipeline.Source{Data: smallDrawing(t)})
	drawing, err := lines.Read([]byte(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm" viewBox="0 0 200 150"><path d="M40 130 H160 V60" fill="none" stroke="#000"/></svg>`))
	require.NoError(t, err)
	fromFile, err := pipeline.NewSession(table, pipeline.Source{}, &drawing, settings(t, "width=200"))
	require.NoError(t, err)
	onPhoto := table.NewSession(photo, settings(t, "width=200"))
	for _, c := range []struct {
		name  string
		s     *stage.Session
		flags []string
	}{
		{"as drawn", onPhoto, nil},
		{"farther out", onPhoto, []string{"edits=draw 20,30 50,30"}},
		{"farther still", onPhoto, []string{"edits=draw 20,30 50,30; draw 5,60 40,60"}},
		{"as drawn again", onPhoto, nil},
		{"of a file", fromFile, nil},
		{"of a file, farther out", fromFile, []string{"edits=draw 160,130 190,130"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.s.Use(settings(t, append(c.flags, "width=200")...))
			pipeline.Resize(t.Context(), c.s)
			x, sure := width(c.s)
			assert.InDelta(t, 200, x, 1)
			assert.NotContains(t, sure, "as asked")
		})
	}
	onPhoto.Use(settings(t, "width=200", "edits=draw 20,30 50,30"))
	pipeline.Resize(t.Context(), onPhoto)
	alone := table.NewSession(photo, settings(t, "width=200", "edits=draw 20,30 50,30"))
	pipeline.Resize(t.Context(), alone)
	assert.True(t, alone.Settings().Equal(onPhoto.Settings()))
	was := onPhoto.Latest()
	pipeline.Resize(t.Context(), onPhoto)
	assert.Len(t, onPhoto.Latest().Steps, len(was.Steps), "what was found stays")
	free := table.NewSession(photo, settings(t, "edits=draw 20,30 50,30"))
	pipeline.Resize(t.Context(), free)
	assert.Empty(t, free.Latest().Steps, "no size is asked for")
}

// Wires come up to a strip where they are asked for, and it is told where none can.
func TestFeedAt(t *testing.T) {
	strips := func(flags ...string) (pipeline.StripsFound, stage.Step) {
		r := signOf(t, twoLines(), 200, pipeline.StageStrips, settings(t, flags...))
		return stage.Of[pipeline.StripsFound](r.Results), r.Steps[len(r.Steps)-1]
	}
	f, _ := strips()
	start, end := f.Pieces[0].Start.At, f.Pieces[0].End.At
	g, step := strips(fmt.Sprintf("feed-at=%.1f,%.1f", end.X, end.Y))
	assert.Less(t, g.Pieces[0].Start.At.Dist(end), 7.0)
	assert.Less(t, g.Pieces[0].End.At.Dist(start), 7.0)
	assert.Nil(t, step.Confidence, "no doubt")
	_, step = strips("feed-at=10,10")
	assert.Contains(t, step.Confidence.Why, "no strip begins at x 10.0, y 10.0 mm")
}

// A sign of another size than the drawing: its lines grow, its channels do not.
func TestEnlarge(t *testing.T) {
	table := pipeline.Table()
	given := stage.Results{}.With(pipeline.Source{Data: smallDrawing(t)})
	s := table.NewSession(given, pipeline.DefaultSettings())
	run := func(flags ...string) (length, width float64) {
		s.Use(settings(t, flags...))
		r, err := s.Run(context.Background(), pipeline.StageParts)
		require.NoError(t, err)
		ch := stage.Of[pipeline.ChannelFound](r).Built
		return stage.Of[pipeline.BendsFound](r).Line.Length(), ch.Slot() + 2*ch.Wall
	}
	length, width := run()
	larger, same := run("enlarge=150", "tilt=0")
	assert.InEpsilon(t, 1.5*length, larger, 0.02)
	assert.Equal(t, width, same)
	size := func(flags ...string) geom.Point {
		s.Use(settings(t, append(flags, "tilt=0")...))
		r, err := s.Run(context.Background(), pipeline.StageChannel)
		require.NoError(t, err)
		lo, hi := stage.Of[pipeline.ChannelFound](r).Solid.Bounds()
		return geom.Pt(hi.X-lo.X, hi.Y-lo.Y)
	}
	was := size()
	assert.InDelta(t, 160, size("width=160").X, 0.4)
	assert.InDelta(t, 130, size("height=130").Y, 0.4)
	both := size("width=160", "height=130")
	assert.LessOrEqual(t, both.X, 160.4)
	assert.LessOrEqual(t, both.Y, 130.4)
	assert.InDelta(t, (was.X-7)/(was.Y-7), (both.X-7)/(both.Y-7), 0.06, "as wide by its height as it was")
	turned := size("turn=90", "width=130")
	assert.InDelta(t, 130, turned.X, 0.4, "the turned sign's")
	assert.InDelta(t, (was.Y-7)/(was.X-7), (turned.X-7)/(turned.Y-7), 0.06)
	for flags, want := range map[string]string{
		"width=160 enlarge=120": "given twice", "width=6": "larger --width", "height=7": "larger --height",
	} {
		s.Use(settings(t, strings.Fields(flags)...))
		_, err := s.Run(context.Background(), pipeline.StageDots)
		assert.ErrorContains(t, err, want)
	}
}

// Addressable strip gets data wires, one after the other, which every list names.
func TestAddressable(t *testing.T) {
	plain := signOf(t, twoLines(), 200, "", settings(t, "tilt=0"))
	r := signOf(t, twoLines(), 200, "", settings(t, "tilt=0", "strip-kind=addressable"))
	assert.Nil(t, r.Steps[len(r.Steps)-1].Confidence)
	data := func(r stage.Results) (out []parts.Wire) {
		for _, w := range stage.Of[pipeline.PartsFound](r).Harness {
			if w.Data {
				out = append(out, w)
			}
		}
		return out
	}
	assert.Empty(t, data(plain.Results))
	sign, strips := stage.Of[pipeline.PartsFound](r.Results), stage.Of[pipeline.StripsFound](r.Results)
	wires := data(r.Results)
	require.Len(t, wires, len(strips.Chains))
	assert.Zero(t, wires[0].From, "from the controller")
	for i := 1; i < len(wires); i++ {
		from, last := sign.Holes[wires[i].From], sign.Holes[wires[i-1].To]
		assert.Equal(t, last.Tap, from.Tap, "from the strip that the last one led to")
		assert.True(t, from.Out)
	}
	in, _ := stage.Inputs[papers.ListIn](r.Results)
	var text strings.Builder
	for _, s := range papers.Steps(in, papers.FileNames{Part: func(s string) string { return s }}) {
		text.WriteString(s.Text)
	}
	assert.Contains(t, text.String(), "Solder the data wire that comes from the controller (wire ")
	assert.Contains(t, text.String(), "the last of all")
	item := func(detail string) bool {
		return slices.ContainsFunc(papers.PartsList(in, func(s string) string { return s }), func(i papers.Item) bool {
			return strings.Contains(i.Detail, detail)
		})
	}
	assert.True(t, item("for data"))
	assert.True(t, item("for the protocol of"), "a controller")
}

// What a step found can be dragged; where no sheet was found there are four places to drag onto its
// corners, and the axis of symmetry has two.
func TestHandles(t *testing.T) {
	table := pipeline.Table()
	handles := func(name string, data []byte, flags ...string) (string, []stage.Handle) {
		s := table.NewSession(stage.Results{}.With(pipeline.Source{Data: data}), settings(t, flags...))
		r, err := s.Run(context.Background(), name)
		require.NoError(t, err)
		st, err := table.Stage(name)
		require.NoError(t, err)
		return st.Handles(r)
	}
	demo := demoPhoto(t).JPEG
	for _, c := range []struct {
		name, stage string
		data        []byte
		flags       []string
		flag        string
		n           int
	}{
		{"a sheet found", pipeline.StageSheet, demo, nil, "corners", 4},
		{"none found", pipeline.StageSheet, smallDrawing(t), nil, "corners", 4},
		{"an axis", pipeline.StageSymmetry, demo, []string{"mirror-axis=150,20 150,180", "mirror=average"}, "mirror-axis", 2},
		{"no axis", pipeline.StageSymmetry, demo, nil, "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			flag, list := handles(c.stage, c.data, c.flags...)
			assert.Equal(t, c.flag, flag)
			require.Len(t, list, c.n)
			if c.n == 0 {
				return
			}
			// Named by hand, the same places are found again.
			var text []string
			for _, h := range list {
				text = append(text, fmt.Sprintf("%.2f,%.2f", h.Place.X, h.Place.Y))
			}
			_, again := handles(c.stage, c.data, append(c.flags, flag+"="+strings.Join(text, " "))...)
			for i, h := range again {
				assert.InDelta(t, 0, h.Share.Dist(list[i].Share), 0.02)
			}
		})
	}
}

// A JPEG whose coded data is damaged decodes all the same, grey or shifted from there on, which is told.
func TestDamagedPhoto(t *testing.T) {
	load := func(data []byte) (pipeline.PhotoFound, stage.Step) {
		s := pipeline.Table().NewSession(pipeline.Given(pipeline.Source{Data: data}), pipeline.DefaultSettings())
		r, err := s.Run(context.Background(), pipeline.StagePhoto)
		require.NoError(t, err)
		return stage.Of[pipeline.PhotoFound](r), r.Steps[0]
	}
	data := smallDrawing(t)
	f, step := load(data)
	assert.Empty(t, f.Damage)
	assert.NotContains(t, step.Confidence.Why, "damaged")
	broken := bytes.Clone(data)
	for i := len(broken) / 2; i < len(broken)/2+60; i++ {
		broken[i] = byte(i*37) & 0x7f // no markers
	}
	f, step = load(broken)
	assert.NotEmpty(t, f.Damage)
	assert.Contains(t, step.Confidence.Why, "the file is damaged inside")
}
