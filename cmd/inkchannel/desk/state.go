package desk

import (
	"cmp"
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// What the page is told.
type (
	state struct {
		Photo, View, Problem, Told, Command, Folder string
		Version, Bar, Picked, Sheet                 int
		Undo, Redo                                  bool
		Waiting                                     bool // for a photo
		Phone                                       bool // may send it
		Runs                                        []string
		Another                                     bool     // may be opened in its place
		Last                                        []string // photos that were put away for others, the last first
		Lines                                       bool     // from a file, no photo
		Stages                                      []stageState
		Settings                                    []settingState
		Marks                                       []mark
		Handles                                     []geom.Point // shares of the picture
		Moved                                       string       // what goes along with a handle, as path data in 100ths of the picture
		Ring                                        bool         // an outline joins them
		Overlays                                    []overlayState
		Refused                                     bool    // what was asked for is the problem
		More                                        bool    // overlays that are on are still being made
		Untouched                                   bool    // nothing was asked for yet
		Unused                                      string  // of a file of lines, and what of it was guessed
		Kept                                        string  // where changes are kept, if there are any
		Lost                                        bool    // changes end with the program
		Run                                         bool    // changes end with it unless all files are written again
		Times                                       float64 // as large as the drawing the sign is
		Checked                                     string  // what the lines are measured to be
		Failed                                      string  // the stage that could not run, if there is a problem
		Asks                                        bool    // and places in the picture mend it
		Mend                                        mark    // the setting that would mend it, and its value, if the problem names them
	}
	overlayState struct {
		Name, Title string
		On          bool
	}
	stageState struct {
		Name, Does, Found, Sure string
		Number                  int
		Ran, OnSheet, Unsure    bool
		Notes                   []string
	}
	settingState struct {
		Flag, Unit, Help, Value, Default string
		Least, Most                      float64
		Whole, Many                      bool
		Places                           int
		Choices                          []string
		Verbs                            []stage.Verb
		PickOn                           string // the view whose picture takes its places, if this one's does not
	}
	// A mark is a problem: where it is on the sheet's picture, as shares of its
	// width and height, and which setting to change.
	mark struct {
		Stage, Text, Flag, FlagStage string
		Value                        string // of that setting, which would mend it, if the text names one
		OnSheet                      bool
		X, Y                         float64
	}
)

// tell answers with the state.
func (d *Desk) tell(w http.ResponseWriter) {
	send(w, d.state())
}

func (d *Desk) state() state {
	if d.session == nil {
		s := state{Waiting: true, Phone: d.empty.Phone, Runs: d.empty.Runs, Problem: d.problem}
		for _, p := range d.away {
			s.Last = append(s.Last, p.job.Photo)
		}
		return s
	}
	set, def, latest := d.session.Settings(), d.table.Default(), d.session.Latest()
	problems := d.table.Problems(latest)
	s := state{
		Photo: d.job.Photo, Lines: d.job.Lines != nil, Another: d.empty.Command != nil, View: d.view, Problem: cmp.Or(d.refused, d.problem), Told: d.told, Command: d.command(), Folder: d.job.Dir,
		Version: d.version, Sheet: d.sheetNumber(), Untouched: d.untouched, Bar: picture.BarHeight, Picked: len(d.picking.places),
		Undo: len(d.history.before) > 0, Redo: len(d.history.after) > 0,
		Marks: d.marks(latest, problems),
	}
	first, _ := d.table.Index(d.session.First())
	for i, st := range d.table.Stages()[first:] {
		state := d.stageState(st)
		state.Number = first + i + 1
		s.Stages = append(s.Stages, state)
	}
	for _, k := range d.shownSettings() {
		s.Settings = append(s.Settings, settingState{
			Flag: k.Flag, Unit: k.Unit, Help: k.Help, Value: k.Get(set), Default: k.Get(def),
			Least: k.Least, Most: k.Most, Whole: k.Whole, Many: k.Many, Places: k.Places, Choices: k.Choices, Verbs: k.Verbs,
			PickOn: d.pickOn(k),
		})
	}
	if d.view == viewLines {
		s.Settings = append(s.Settings, d.kitStates()...)
	}
	if d.job.Keep != nil && !reflect.DeepEqual(set, def) {
		s.Kept = d.job.KeptIn
	}
	s.Lost, s.Run = d.lost(), d.job.Run
	if d.job.Lines != nil {
		s.Unused = strings.Join(pipeline.LinesNotes(*d.job.Lines), "; ")
	}
	s.Times, s.Checked = pipeline.Times(latest), checked(latest, problems)
	s.More, s.Refused = d.lacksOverlays(), d.refused != ""
	if k, value := d.named(s.Problem); value != "" {
		s.Mend = mark{Flag: k.Flag, FlagStage: k.Stage, Value: value}
	}
	if i := len(latest.Steps); d.problem != "" && d.failed && i < len(s.Stages) {
		s.Failed, s.Asks = s.Stages[i].Name, d.lacksDots
	}
	for _, o := range pipeline.Overlays() {
		s.Overlays = append(s.Overlays, overlayState{o.Name, o.Title, d.shown[o.Name]})
	}
	flag, handles := d.handles()
	if k, err := d.table.Setting(flag); err == nil {
		s.Ring = k.Places > 1 && !k.Many
	}
	for _, h := range handles {
		s.Handles = append(s.Handles, h.Share)
		for _, ring := range h.Moved {
			s.Moved += picture.PathData(geom.Polyline(ring).Scaled(100), true)
		}
	}
	return s
}

// inFront are the settings that matter most, beside the drawing; each step has its own.
var inFront = []string{
	"edits", "enlarge", "width", "height", "turn", "spread", "hold", "foot-at", "screws-at", "feed-at", "cut-at", "backboard", "cover",
}

// shownSettings are the settings beside what is looked at.
func (d *Desk) shownSettings() (out []stage.Setting) {
	if d.view != viewLines {
		st, _ := d.table.Stage(d.view) // none for a look at the whole sign
		return st.Settings
	}
	for _, flag := range inFront {
		if k, err := d.table.Setting(flag); err == nil {
			out = append(out, k)
		}
	}
	return out
}

// pickOn is the view to pick a setting's places in, empty for the one that is shown.
func (d *Desk) pickOn(k stage.Setting) string {
	st, err := d.table.Stage(stageOf(d.view))
	switch {
	case err != nil || k.Frame == stage.FrameSheet && !st.OnSheet:
		return viewLines
	case k.Frame == stage.FrameBed && st.Name != pipeline.StageBeds:
		return pipeline.StageBeds
	}
	return ""
}

func (d *Desk) stageState(st stage.Stage) stageState {
	out := stageState{Name: st.Name, Does: st.Does, OnSheet: st.OnSheet}
	if r, ok := d.session.At(st.Name); ok {
		last := r.Steps[len(r.Steps)-1]
		out.Ran, out.Found, out.Notes, out.Unsure = true, last.Found, last.Notes, last.Unsure()
		if last.Confidence != nil {
			out.Sure = last.Confidence.String()
		}
	}
	return out
}

// marks are the problems of what has run.
func (d *Desk) marks(r stage.Results, problems []stage.Problem) []mark {
	dots, _ := stage.Found[pipeline.DotsFound](r)
	size := dots.Frame.Size
	var out []mark
	for _, p := range problems {
		m := mark{
			Stage:   p.Stage,
			Text:    p.Text,
			Flag:    p.Flag,
			OnSheet: p.OnSheet,
			X:       p.At.X / size.X,
			Y:       p.At.Y / size.Y,
		}
		if k, err := d.table.Setting(p.Flag); err == nil {
			m.FlagStage = k.Stage
		}
		out = append(out, m)
	}
	// What the photo itself is in doubt about goes for all that follows.
	last, _ := d.table.Index(pipeline.StageDots)
	var first, rest []mark
	for _, m := range d.doubts(r, problems) {
		if i, err := d.table.Index(m.Stage); err == nil && i <= last {
			first = append(first, m)
		} else {
			rest = append(rest, m)
		}
	}
	return slices.Concat(first, out, rest)
}

// doubts are what steps are not sure of beyond the problems that are told, each with the setting that its reason
// names first, and the place that it names.
func (d *Desk) doubts(r stage.Results, problems []stage.Problem) (out []mark) {
	dots, _ := stage.Found[pipeline.DotsFound](r)
	for _, s := range r.Doubts() {
		for _, c := range append([]stage.Confidence{*s.Confidence}, s.Beside...) {
			if slices.ContainsFunc(problems, func(p stage.Problem) bool { return p.Stage == s.Stage && p.Text == c.Why }) {
				continue
			}
			m := mark{Stage: s.Stage, Text: "not sure: " + c.Why}
			if k, value := d.named(m.Text); k.Flag != "" {
				m.Flag, m.FlagStage, m.Value = k.Flag, k.Stage, value
			}
			if st, err := d.table.Stage(s.Stage); err == nil {
				m.place(dots.Frame.Size, pipeline.Times(r), st.OnSheet)
			}
			out = append(out, m)
		}
	}
	return out
}

// placed is a place as messages tell it.
var placed = regexp.MustCompile(`at x (-?[0-9.]+), y (-?[0-9.]+) mm`)

// place puts a mark where its text says, on a sheet of a size, mm, at so many times the paper's: stages whose pictures
// show the sheet tell places on that, all tell those that are given by hand on the paper.
func (m *mark) place(size geom.Point, times float64, onSheet bool) {
	at := placed.FindStringSubmatch(m.Text)
	paper := strings.Contains(m.Text, pipeline.OnPaper)
	if at == nil || size.X <= 0 || size.Y <= 0 || !paper && !onSheet {
		return
	}
	x, _ := strconv.ParseFloat(at[1], 64) // digits
	y, _ := strconv.ParseFloat(at[2], 64)
	if !paper {
		times = 1
	}
	m.OnSheet, m.X, m.Y = true, times*x/size.X, times*y/size.Y
}

// named is the setting that a message names first, or first with a number to set it to.
func (d *Desk) named(text string) (first stage.Setting, value string) {
	words := strings.Fields(text)
	bare := func(word string) string { return strings.Trim(word, ",.;:()") }
	for i, word := range words {
		flag, ok := strings.CutPrefix(bare(word), "--")
		k, err := d.table.Setting(flag)
		if !ok || err != nil {
			continue
		}
		if i+1 < len(words) && bare(word) == word {
			if _, err := strconv.ParseFloat(bare(words[i+1]), 64); err == nil {
				return k, bare(words[i+1])
			}
		}
		if first.Flag == "" {
			first = k
		}
	}
	return first, ""
}

// command is the command line that repeats the settings.
func (d *Desk) command() string {
	dir := d.job.Dir
	if dir == "" {
		dir = "my-sign"
	}
	out := d.job.Command(dir)
	set := d.session.Settings()
	for _, k := range d.table.Settings() {
		if !d.table.IsDefault(k, set) {
			out = append(out, "--"+k.Flag, k.Get(set))
		}
	}
	for i, word := range out {
		out[i] = quoted(word)
	}
	return strings.Join(out, " ")
}

// quoted makes a word safe for a POSIX shell.
func quoted(word string) string {
	plain := word != "" && strings.IndexFunc(word, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./", r))
	}) < 0
	if plain {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
