package pipeline_test

import (
	"fmt"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom/parts"
	"inkchannel/geom/rules"
	"inkchannel/pipeline"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// other is a value of a setting that differs from its default.
func other(k stage.Setting, def stage.Settings) string {
	was := k.Get(def)
	switch {
	case len(k.Choices) > 0:
		for _, c := range k.Choices {
			if c != was {
				return c
			}
		}
	case k.Frame == stage.FramePhoto && k.Places == 4:
		return "110.5,120 1290,131 1300,800.25 90,790"
	case len(k.Verbs) > 0:
		return "move 100.5,60 120,80; round 40,30.5"
	case k.Places == 1 && !k.Many:
		return "100.5,60"
	case k.Places > 0:
		return "100.5,60 120,80"
	case k.Whole:
		return fmt.Sprintf("%.0f", (k.Least+k.Most)/2)
	case k.Most > k.Least:
		var v float64
		_, _ = fmt.Sscan(was, &v) // a number's own text
		if next := v*1.25 + 0.011; next <= k.Most {
			return fmt.Sprintf("%g", next)
		}
		return fmt.Sprintf("%g", (k.Least+v)/2)
	case k.Flag == "strip-name":
		return "007"
	case k.Flag == "cable-exit":
		return "14x10.5"
	}
	return "50x30x20"
}

// leaves calls f for each value within v that has no parts of its own, by its path.
func leaves(path string, v reflect.Value, f func(path string, v reflect.Value)) {
	if v.Kind() != reflect.Struct {
		f(path, v)
		return
	}
	for i := range v.NumField() {
		if !v.Type().Field(i).IsExported() {
			continue // worked out, not asked for
		}
		leaves(path+"."+v.Type().Field(i).Name, v.Field(i), f)
	}
}

// Every leaf of the settings has a flag, and every setting survives its file.
func TestSettingsRoundTrip(t *testing.T) {
	table := pipeline.Table()
	def := table.Default()
	s := def
	for _, k := range table.Settings() {
		var err error
		s, err = k.Set(s, other(k, def))
		require.NoError(t, err)
		assert.False(t, table.IsDefault(k, s), k.Flag)
	}
	was := map[string]any{}
	for name, v := range def.Values() {
		leaves(name, reflect.ValueOf(v), func(path string, v reflect.Value) { was[path] = v.Interface() })
	}
	for name, v := range s.Values() {
		leaves(name, reflect.ValueOf(v), func(path string, v reflect.Value) {
			assert.NotEqual(t, was[path], v.Interface(), "%s has no flag", path)
		})
	}
	got, err := table.ReadSettings(def, table.WriteSettings(s, "all others"))
	require.NoError(t, err)
	assert.Equal(t, s, got)
	got, err = table.ReadSettings(s, table.WriteSettings(def, "as they were"))
	require.NoError(t, err)
	assert.True(t, def.Equal(got))
}

// A name that looks like something else stays the name that it is.
func TestSettingsKeepText(t *testing.T) {
	table := pipeline.Table()
	for _, name := range []string{"007", "0x10", "1.50", "null", "true", "1e3", "-", "...", "~", "no", "2026-11-26", "0o17", "1_000"} {
		s, err := table.Set(table.Default(), "strip-name", name)
		if name == "~" || name == "1_000" { // not of letters, digits, dots and hyphens
			require.Error(t, err)
			continue
		}
		require.NoError(t, err)
		for _, file := range [][]byte{table.WriteSettings(s, ""), []byte("strips:\n  strip-name: " + name + "\n")} {
			if (name == "-" || name == "...") && len(file) < 50 {
				continue // needs its quotes in YAML
			}
			got, err := table.ReadSettings(table.Default(), file)
			require.NoError(t, err, name)
			assert.Equal(t, name, stage.SettingsOf[pipeline.StripsSettings](got).Name)
		}
	}
}

func TestReadSettingsPart(t *testing.T) {
	table := pipeline.Table()
	s, err := table.ReadSettings(table.Default(), []byte("# mine\nchannel:\n  wall: 1.2 # mm\nink:\n"))
	require.NoError(t, err)
	assert.Equal(t, 1.2, stage.SettingsOf[pipeline.ChannelSettings](s).Wall)
	assert.Equal(t, vision.DefaultInk(), stage.SettingsOf[vision.InkSettings](s))
	_, err = table.ReadSettings(s, nil)
	require.NoError(t, err)
}

// Files of earlier versions have some settings under another stage or name.
func TestReadSettingsOfEarlierVersions(t *testing.T) {
	table := pipeline.Table()
	s, err := table.ReadSettings(table.Default(), []byte("channel:\n  strip-width: 8\n  strip-clearance: 0.4\nparts:\n  hold: ears\n  fit: 0.3\nbeds:\n  density: 1.1\n  joint-fit: 0.2\n"))
	require.NoError(t, err)
	assert.Equal(t, pipeline.StripRoom{Width: 8, Loose: 0.4}, stage.SettingsOf[pipeline.StripRoom](s))
	assert.Equal(t, parts.HoldEars, stage.SettingsOf[pipeline.StripsSettings](s).Hold)
	assert.Equal(t, 0.3, stage.SettingsOf[parts.Measures](s).Clearance)
	assert.Equal(t, 1.1, stage.SettingsOf[parts.Measures](s).Density)
	assert.Equal(t, 0.2, stage.SettingsOf[pipeline.BedsSettings](s).Bed.Clearance)
}

func TestReadSettingsErrors(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no YAML", "ink: [", "not valid YAML"},
		{"a list", "- ink\n- dots\n", "line 1: expected settings"},
		{"unknown stage", "ink:\n  hole: 1\nchanel:\n  wall: 1\n", `line 3: there is no step "chanel"`},
		{"unknown setting", "ink:\n  hole: 1\n  hoel: 2\n", `line 3: step ink has no setting "hoel"`},
		{"setting of another stage", "ink:\n  wall: 1\n", `line 2: step ink has no setting "wall"`},
		{"no number", "channel:\n  wall: thick\n", `line 2: wall: "thick" is not a number from 0.2 to 20 mm`},
		{"out of range", "channel:\n\n  wall: 99\n", "line 3: wall"},
		{"nested", "channel:\n  wall:\n    a: 1\n", "line 2: wall takes one value"},
		{"scalar stage", "channel: 3\n", "line 1: expected settings"},
		{"not a choice", "sheet:\n  page: A5\n", `"A5" is not one of auto, A4, A3, letter, free`},
		{"too few places", "dots:\n  dots: \"1,2\"\n", "2 places are needed, 1 given"},
		{"no place", "dots:\n  dots: \"1,2 3;4\"\n", `"3;4" is not a place`},
		{"not a number at all", "channel:\n  wall: NaN\n", "line 2: wall"},
	} {
		t.Run(c.name, func(t *testing.T) {
			table := pipeline.Table()
			s, err := table.ReadSettings(table.Default(), []byte(c.text))
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
			assert.True(t, table.Default().Equal(s), "what is refused changes nothing")
		})
	}
}

// Each setting takes its own default and refuses nonsense.
func TestSettings(t *testing.T) {
	table := pipeline.Table()
	def := table.Default()
	for _, k := range table.Settings() {
		assert.NotEmpty(t, k.Help)
		s, err := k.Set(def, k.Get(def))
		assert.NoError(t, err, k.Flag)
		assert.True(t, def.Equal(s), k.Flag)
		_, err = k.Set(def, "no such value")
		assert.ErrorContains(t, err, k.Flag+": ")
	}
}

// Entries with a number behind their places are read, written and refused as such.
func TestEntriesWithNumbers(t *testing.T) {
	table := pipeline.Table()
	for _, c := range []struct {
		name, text, want, err string
	}{
		{"a length", "length 30,40 120", "length 30,40 120", ""},
		{"among others", "draw 1,2 30,4;  angle 5,6 -45.5 ; parallel 1,2 3,4", "draw 1,2 30,4; angle 5,6 -45.5; parallel 1,2 3,4", ""},
		{"no number", "radius 30,40", "", "entry 1: radius needs a number (mm) behind its places: write it as radius x,y NUMBER"},
		{"no word", "length", "", "length needs a number"},
		{"no place", "length 120", "", "length takes 1 places, 0 given"},
		{"not a number", "angle 30,40 steep", "", "angle needs a number (degrees)"},
		{"beyond all", "length 30,40 1e9", "", "length needs a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := table.Set(table.Default(), "edits", c.text)
			if c.err != "" {
				require.ErrorContains(t, err, c.err)
				return
			}
			require.NoError(t, err)
			k, err := table.Setting("edits")
			require.NoError(t, err)
			assert.Equal(t, c.want, k.Get(s))
			again, err := table.ReadSettings(table.Default(), table.WriteSettings(s, ""))
			require.NoError(t, err)
			assert.True(t, s.Equal(again))
		})
	}
}

// There is one strip width: lists, files and a run from its own settings file agree
// on it.
func TestOneStripWidth(t *testing.T) {
	lib, err := power.Library()
	require.NoError(t, err)
	wide := lib[0]
	for _, s := range lib {
		if s.Width > wide.Width {
			wide = s
		}
	}
	table := pipeline.Table()
	for _, c := range []struct {
		name string
		set  stage.Settings
		want string
	}{
		{"by width", settings(t, "strip-width=8", "hold=none"), "8 mm wide"},
		{"by the library", pipeline.UseStrip(settings(t, "hold=none"), wide), fmt.Sprintf("%g mm wide", wide.Width)},
	} {
		t.Run(c.name, func(t *testing.T) {
			again, err := table.ReadSettings(table.Default(), table.WriteSettings(c.set, ""))
			require.NoError(t, err)
			first := signOf(t, twoLines(), 200, "", c.set)
			assert.Contains(t, string(first.file(t, "parts-list.csv")), c.want)
			assert.Equal(t, first.files(t), signOf(t, twoLines(), 200, "", again).files(t))
		})
	}
	s := pipeline.UseStrip(pipeline.DefaultSettings(), wide)
	assert.Equal(t, wide.Bend, stage.SettingsOf[rules.BendSettings](s).Radius)
}

// Lengths may be given in cm and in inches, of 25.4 mm (ISO 80000-3, from memory); nothing else may.
func TestInches(t *testing.T) {
	for _, c := range []struct {
		name, flag, text, want string
	}{
		{"mm", "width", "203.2", "203.2"},
		{"mm said", "width", "203.2mm", "203.2"},
		{"inches", "width", "8in", "203.2"},
		{"inches apart", "width", "0.5 in", "12.7"},
		{"cm", "width", "20 cm", "200"},
		{"too many", "width", "1000in", `"1000in" is not a number from 0 to 5000 mm`},
		{"no number", "width", "in", `"in" is not a number`},
		{"degrees", "tilt", "8in", `"8in" is not a number`},
	} {
		t.Run(c.name, func(t *testing.T) {
			k, err := pipeline.Table().Setting(c.flag)
			require.NoError(t, err)
			s, err := k.Set(pipeline.DefaultSettings(), c.text)
			if err != nil {
				assert.ErrorContains(t, err, c.want)
				return
			}
			assert.Equal(t, c.want, k.Get(s))
		})
	}
}

// A size that is said in one way puts back what says it in another.
func TestSizeOnce(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, changed string
		set           []string
		want          [3]float64 // enlarge, width, height
		back          string
	}{
		{"enlarged after a width", "enlarge", []string{"enlarge=110", "width=200", "height=90"}, [3]float64{110, 0, 0}, "width and height"},
		{"a width after it was enlarged", "width", []string{"enlarge=110", "width=200"}, [3]float64{100, 200, 0}, "enlarge"},
		{"a height, the same", "height", []string{"enlarge=110", "height=90"}, [3]float64{100, 0, 90}, "enlarge"},
		{"one size only", "width", []string{"width=200"}, [3]float64{100, 200, 0}, ""},
		{"another setting", "turn", []string{"enlarge=110", "width=200"}, [3]float64{110, 200, 0}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, back := pipeline.SizeOnce(settings(t, c.set...), c.changed)
			got := stage.SettingsOf[pipeline.DotsSettings](out)
			assert.Equal(t, c.want, [3]float64{got.Enlarge, got.Width, got.Height})
			assert.Equal(t, c.back, back)
		})
	}
}
