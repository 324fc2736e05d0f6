package stage

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom"
)

// Settings are the settings of all stages of a table. They are never changed:
// Set, With and ReadSettings return others.
type Settings struct{ of map[string]any }

// with returns the settings with another value for a stage's.
func (s Settings) with(stage string, v any) Settings {
	of := make(map[string]any, len(s.of))
	for k, w := range s.of {
		of[k] = w
	}
	of[stage] = v
	return Settings{of}
}

// SettingsOf returns the settings of the stage whose settings are of type S. It
// panics where no stage has such.
func SettingsOf[S any](s Settings) S {
	for _, v := range s.of {
		if v, ok := v.(S); ok {
			return v
		}
	}
	panic(fmt.Sprintf("stage: no stage has settings of type %v", reflect.TypeFor[S]()))
}

// With returns the settings with those of type S changed by change. It panics where
// no stage has such.
func With[S any](s Settings, change func(*S)) Settings {
	for name, v := range s.of {
		if v, ok := v.(S); ok {
			change(&v)
			return s.with(name, v)
		}
	}
	panic(fmt.Sprintf("stage: no stage has settings of type %v", reflect.TypeFor[S]()))
}

// Values returns the stages' settings by the stages' names.
func (s Settings) Values() map[string]any { return maps.Clone(s.of) }

// Equal reports whether all settings are the same.
func (s Settings) Equal(t Settings) bool { return reflect.DeepEqual(s, t) }

// Default returns the stages' defaults.
func (t Table) Default() Settings {
	of := map[string]any{}
	for _, st := range t.stages {
		of[st.Name] = st.def
	}
	return Settings{of}
}

// Settings lists all settings, stage by stage.
func (t Table) Settings() []Setting {
	var out []Setting
	for _, st := range t.stages {
		out = append(out, st.Settings...)
	}
	return out
}

// Setting returns the setting of a flag, or an error that says that there is none.
func (t Table) Setting(flag string) (Setting, error) {
	for _, st := range t.stages {
		for _, k := range st.Settings {
			if k.Flag == flag {
				return k, nil
			}
		}
	}
	return Setting{}, fmt.Errorf("there is no setting %q", flag)
}

// Set parses text into the setting of a flag. It returns an error for a flag that
// there is not, and as Setting.Set does.
func (t Table) Set(s Settings, flag, text string) (Settings, error) {
	k, err := t.Setting(flag)
	if err != nil {
		return s, err
	}
	return k.Set(s, text)
}

// IsDefault reports whether a setting is as Default has it.
func (t Table) IsDefault(k Setting, s Settings) bool { return k.Get(s) == k.Get(t.Default()) }

// A Frame says which frame a setting's places are in.
type Frame string

// The frames.
const (
	FrameNone  Frame = ""                        // the setting takes no places
	FramePhoto Frame = "px of the upright photo" // the file's own px
	FrameBed   Frame = "mm of the bed"           // from its front left corner
	FrameSheet Frame = "mm of the sheet"         // as it was drawn, from its upper left corner
)

// A Setting is one setting of a stage, with its flag.
type Setting struct {
	Stage, Flag, Unit, Help string
	// Least and Most bound a number; both are 0 for other settings. Whole says
	// that it is a whole number. Choices lists what a choice may be.
	Least, Most float64
	Whole       bool
	Choices     []string
	// Places is how many places the setting takes at a time, 0 if none, in Frame;
	// Many says that any number that Places divides will do.
	Places int
	Many   bool
	Frame  Frame
	// Verbs are what a setting's entries may say, each with how many places it takes; none for
	// other settings.
	Verbs []Verb
	// Was lists what settings files of earlier versions call it, as stage/flag.
	Was []string

	text bool // quoted in a settings file
	get  func(any) string
	set  func(any, string) (any, error)
}

// Called returns the setting with names that earlier versions' files have for it,
// as stage/flag.
func (k Setting) Called(was ...string) Setting {
	k.Was = was
	return k
}

// Get returns the setting's value as text that Set takes.
func (k Setting) Get(s Settings) string { return k.get(s.of[k.Stage]) }

// Set parses text into the setting. It returns an error that names the flag and
// says what it takes.
func (k Setting) Set(s Settings, text string) (Settings, error) {
	v, err := k.set(s.of[k.Stage], strings.TrimSpace(text))
	if err != nil {
		return s, err
	}
	return s.with(k.Stage, v), nil
}

// setting fills in how a value of type T within settings S is written and parsed.
func setting[S, T any](k Setting, at func(*S) *T, write func(T) string, parse func(string) (T, error)) Setting {
	k.get = func(v any) string {
		s := v.(S)
		return write(*at(&s))
	}
	k.set = func(v any, text string) (any, error) {
		s := v.(S)
		value, err := parse(text)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", k.Flag, err)
		}
		*at(&s) = value
		return s, nil
	}
	return k
}

// Number is a setting from least to most, in a unit.
func Number[S any](flag, unit, help string, least, most float64, at func(*S) *float64) Setting {
	k := Setting{Flag: flag, Unit: unit, Help: help, Least: least, Most: most}
	return setting(k, at, number, func(text string) (float64, error) {
		v, err := measure(text, unit)
		if err != nil || math.IsNaN(v) || v < least || v > most {
			return 0, fmt.Errorf("%q is not a number from %g to %g%s", text, least, most, behind(unit))
		}
		return v, nil
	})
}

// behind is a unit behind the bounds of a number: a length as all messages have it, so that who reads inches
// gets them.
func behind(unit string) string {
	switch unit {
	case "":
		return ""
	case "mm":
		return " mm"
	}
	return " (" + unit + ")"
}

// inch is a length, mm (ISO 80000-3, from memory).
const inch = 25.4

// measure reads a number of a unit. A length may be followed by mm or by in, for inches.
func measure(text, unit string) (float64, error) {
	k := 1.0
	if unit == "mm" {
		text = strings.TrimSuffix(text, "mm")
		text = strings.NewReplacer(`"`, "in", "\u2033", "in").Replace(text)
		if t, ok := strings.CutSuffix(text, "in"); ok {
			text, k = t, inch
		} else if t, ok := strings.CutSuffix(text, "cm"); ok {
			text, k = t, 10
		}
		text = strings.TrimSpace(text)
	}
	v, err := strconv.ParseFloat(text, 64)
	return v * k, err
}

// Length reads a length, mm, that may be followed by mm, cm, or in for inches. It returns an error for any
// other text.
func Length(text string) (float64, error) {
	v, err := measure(text, "mm")
	if err != nil || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a length, as 80 (mm) or 3in", text)
	}
	return v, nil
}

// number writes a number so that reading it gives the same one.
func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// Whole is a whole number from least to most, in a unit.
func Whole[S any](flag, unit, help string, least, most int, at func(*S) *int) Setting {
	k := Setting{Flag: flag, Unit: unit, Help: help, Least: float64(least), Most: float64(most), Whole: true}
	return setting(k, at, strconv.Itoa, func(text string) (int, error) {
		v, err := strconv.Atoi(text)
		if err != nil || v < least || v > most {
			return 0, fmt.Errorf("%q is not a whole number from %d to %d%s", text, least, most, behind(unit))
		}
		return v, nil
	})
}

// Choice is one of several words.
func Choice[S any, T ~string](flag, help string, all []T, at func(*S) *T) Setting {
	var names []string
	for _, v := range all {
		names = append(names, string(v))
	}
	k := Setting{Flag: flag, Help: help, Choices: names}
	return setting(k, at, func(v T) string { return string(v) }, func(text string) (T, error) {
		if i := slices.IndexFunc(all, func(v T) bool { return strings.EqualFold(string(v), text) }); i >= 0 {
			return all[i], nil
		}
		return "", fmt.Errorf("%q is not one of %s", text, strings.Join(names, ", "))
	})
}

// YesNo is a setting that is on or off.
func YesNo[S any](flag, help string, at func(*S) *bool) Setting {
	k := Setting{Flag: flag, Unit: "yes or no", Help: help, Choices: []string{"yes", "no"}}
	write := func(v bool) string {
		if v {
			return "yes"
		}
		return "no"
	}
	return setting(k, at, write, func(text string) (bool, error) {
		switch strings.ToLower(text) {
		case "yes", "true":
			return true, nil
		case "no", "false":
			return false, nil
		}
		return false, fmt.Errorf("%q is neither yes nor no", text)
	})
}

// longestName is how many letters a name may have.
const longestName = 40

// Name is a short text of letters, digits, dots and hyphens.
func Name[S any](flag, help string, at func(*S) *string) Setting {
	k := Setting{Flag: flag, Help: help, text: true}
	return setting(k, at, func(v string) string { return v }, func(text string) (string, error) {
		ok := text != "" && len(text) <= longestName && strings.IndexFunc(text, func(r rune) bool {
			return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.')
		}) < 0
		if !ok {
			return "", fmt.Errorf("%q is not a name of up to %d letters, digits, dots and hyphens", text, longestName)
		}
		return text, nil
	})
}

// Lengths of a box's sides, mm.
const (
	leastSide = 1
	mostSide  = 300
)

// Box is a size of several sides in mm, written as 60x35x18.
func Box[S any](flag, help string, at func(*S) []*float64) Setting {
	k := Setting{Flag: flag, Unit: "mm", Help: help, text: true}
	k.get = func(v any) string {
		s := v.(S)
		var out []string
		for _, side := range at(&s) {
			out = append(out, number(*side))
		}
		return strings.Join(out, "x")
	}
	k.set = func(v any, text string) (any, error) {
		s := v.(S)
		to := at(&s)
		fields := strings.Split(strings.ToLower(text), "x")
		if len(fields) != len(to) {
			form := strings.TrimSuffix(strings.Repeat("20x", len(to)), "x")
			return nil, fmt.Errorf("%s: %q has %d sides, %d are needed, as %s", flag, text, len(fields), len(to), form)
		}
		for i, f := range fields {
			side, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
			if err != nil || !(side >= leastSide && side <= mostSide) {
				return nil, fmt.Errorf("%s: %q is not a side from %d to %d mm", flag, f, leastSide, mostSide)
			}
			*to[i] = side
		}
		return s, nil
	}
	return k
}

// Places are n places in a frame, or none.
func Places[S any](flag string, frame Frame, help string, n int, at func(*S) *[]geom.Point) Setting {
	k := Setting{Flag: flag, Unit: string(frame), Help: help, Places: n, Frame: frame, text: true}
	return setting(k, at, func(v []geom.Point) string { return placeText(v, "auto") }, k.parsePlaces)
}

// PlaceGroups are any number of groups of n places in a frame.
func PlaceGroups[S any](flag string, frame Frame, help string, n int, at func(*S) *[]geom.Point) Setting {
	k := Setting{Flag: flag, Unit: string(frame), Help: help, Places: n, Many: true, Frame: frame, text: true}
	return setting(k, at, func(v []geom.Point) string { return placeText(v, "none") }, k.parsePlaces)
}

// How many places one setting may list, and how far off they may be.
const (
	mostPlaces   = 1000
	farthestOff  = 1e6
	placeExample = "x,y "
)

// A Verb is one thing that an entry may say, with how many places it takes.
type Verb struct {
	Name, Help string
	Places     int    // or at least so many,
	More       bool   // if it takes more
	Unit       string // of a number behind the places; empty for none
	OnStretch  bool   // if it changes the stretch of a line that its first place names
}

// Verb is the verb of a name, the zero Verb if the setting has none such.
func (k Setting) Verb(name string) Verb {
	for _, v := range k.Verbs {
		if v.Name == name {
			return v
		}
	}
	return Verb{}
}

// form is how an entry is written.
func (v Verb) form() string {
	form := v.Name + " " + strings.TrimSpace(strings.Repeat(placeExample, v.Places))
	if v.More {
		form += " ..."
	}
	if v.Unit != "" {
		form += " NUMBER"
	}
	return form
}

// An Entry is a verb with its places.
type Entry struct {
	Verb  string
	At    []geom.Point
	Value float64 // of a verb that has a unit
}

// Entries are any number of entries, in their order, each a verb with places in a frame, written
// as "verb x,y x,y; verb x,y 12".
func Entries[S any](flag string, frame Frame, help string, verbs []Verb, at func(*S) *[]Entry) Setting {
	k := Setting{Flag: flag, Unit: string(frame), Help: help, Many: true, Frame: frame, Verbs: verbs, text: true}
	return setting(k, at, k.entriesText, k.parseEntries)
}

func (k Setting) entriesText(all []Entry) string {
	if len(all) == 0 {
		return "none"
	}
	var out []string
	for _, e := range all {
		text := e.Verb + " " + placeText(e.At, "")
		if k.Verb(e.Verb).Unit != "" {
			text += fmt.Sprintf(" %g", e.Value)
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

func (k Setting) parseEntries(text string) (out []Entry, err error) {
	if text == "" || text == "none" {
		return nil, nil
	}
	var names []string
	for _, v := range k.Verbs {
		names = append(names, v.Name)
	}
	for i, part := range strings.Split(text, ";") {
		words := strings.Fields(part)
		if len(words) == 0 {
			return nil, fmt.Errorf("entry %d is empty; write entries as %s x,y x,y with ; between them", i+1, names[0])
		}
		n := slices.Index(names, words[0])
		if n < 0 {
			return nil, fmt.Errorf("entry %d: %q is none of %s", i+1, words[0], strings.Join(names, ", "))
		}
		e, v := Entry{Verb: words[0]}, k.Verbs[n]
		if last := len(words) - 1; v.Unit != "" {
			e.Value, err = strconv.ParseFloat(words[last], 64)
			if last == 0 || err != nil || !(math.Abs(e.Value) <= farthestOff) {
				return nil, fmt.Errorf("entry %d: %s needs a number (%s) behind its places: write it as %s", i+1, e.Verb, v.Unit, v.form())
			}
			words = words[:last]
		}
		if e.At, err = k.places(words[1:]); err != nil {
			return nil, fmt.Errorf("entry %d: %w", i+1, err)
		}
		if len(e.At) < v.Places || len(e.At) > v.Places && !v.More {
			least := ""
			if v.More {
				least = "at least "
			}
			return nil, fmt.Errorf(
				"entry %d: %s takes %s%d places, %d given: write it as %s", i+1, e.Verb, least, v.Places, len(e.At), v.form(),
			)
		}
		out = append(out, e)
	}
	if len(out) > mostPlaces {
		return nil, fmt.Errorf("too many entries: %d given, at most %d allowed", len(out), mostPlaces)
	}
	return out, nil
}

// places reads places, each as x,y.
func (k Setting) places(words []string) (pts []geom.Point, err error) {
	for _, f := range words {
		x, y, ok := strings.Cut(f, ",")
		px, err1 := strconv.ParseFloat(x, 64)
		py, err2 := strconv.ParseFloat(y, 64)
		if !ok || err1 != nil || err2 != nil || !(math.Abs(px) <= farthestOff && math.Abs(py) <= farthestOff) {
			return nil, fmt.Errorf("%q is not a place like 123,456 (%s)", f, k.Unit)
		}
		pts = append(pts, geom.Pt(px, py))
	}
	return pts, nil
}

func (k Setting) parsePlaces(text string) ([]geom.Point, error) {
	if text == "" || text == "auto" || text == "none" {
		return nil, nil
	}
	pts, err := k.places(strings.Fields(text))
	if err != nil {
		return nil, err
	}
	form := strings.TrimSpace(strings.Repeat(placeExample, k.Places))
	switch {
	case k.Many && len(pts) > mostPlaces:
		return nil, fmt.Errorf("too many places: %d given, at most %d allowed", len(pts), mostPlaces)
	case k.Many && len(pts)%k.Places != 0:
		return nil, fmt.Errorf("%d places given, they go in groups of %d: write them as %s", len(pts), k.Places, form)
	case !k.Many && len(pts) != k.Places:
		return nil, fmt.Errorf("%d places are needed, %d given: write them as %s", k.Places, len(pts), form)
	}
	return pts, nil
}

func placeText(pts []geom.Point, none string) string {
	if len(pts) == 0 {
		return none
	}
	var out []string
	for _, p := range pts {
		out = append(out, fmt.Sprintf("%g,%g", p.X, p.Y))
	}
	return strings.Join(out, " ")
}
