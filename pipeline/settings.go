// Package pipeline runs the stages from a photograph to a printable channel in
// their order, keeps their settings, draws what each found, and writes the
// results. It alone knows of files, progress and the clock.
package pipeline

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom"
	"inkchannel/vision"
)

// Settings are the settings of all stages.
type Settings struct {
	Load    vision.LoadSettings
	Sheet   vision.SheetSettings
	Ink     vision.InkSettings
	Dots    vision.DotSettings
	Trace   vision.TraceSettings
	Smooth  geom.SmoothSettings
	Channel geom.ChannelSettings
}

// Default returns the settings that suit most photos.
func Default() Settings {
	return Settings{
		vision.DefaultLoad(), vision.DefaultSheet(), vision.DefaultInk(), vision.DefaultDots(),
		vision.DefaultTrace(), geom.DefaultSmooth(), geom.DefaultChannel(),
	}
}

// A Stage is one step of the pipeline.
type Stage struct {
	Name string
	Does string // in a few words
}

// The stages' names.
const (
	StagePhoto      = "photo"
	StageSheet      = "sheet"
	StageInk        = "ink"
	StageDots       = "dots"
	StageSkeleton   = "skeleton"
	StageStrokes    = "strokes"
	StageCentreline = "centreline"
	StageChannel    = "channel"
)

// Stages lists the stages in the order they run.
func Stages() []Stage {
	return []Stage{
		{StagePhoto, "decode the photo and turn it upright"},
		{StageSheet, "find the paper and undo the perspective"},
		{StageInk, "even out the light and tell ink from paper"},
		{StageDots, "find the two reference dots and set the scale"},
		{StageSkeleton, "thin the ink to lines one pixel wide"},
		{StageStrokes, "follow the lines as pen strokes, centred on the ink"},
		{StageCentreline, "smooth the strokes to curves, keeping corners"},
		{StageChannel, "widen the curves to a printable channel"},
	}
}

// A Knob is one setting with its flag.
type Knob struct {
	Stage, Flag, Unit, Help string
	get                     func(*Settings) string
	set                     func(*Settings, string) error
}

// Get returns the setting's value as text that Set takes.
func (k Knob) Get(s *Settings) string { return k.get(s) }

// Set parses text into the setting. It returns an error that names the flag
// and says what it takes.
func (k Knob) Set(s *Settings, text string) error {
	if err := k.set(s, strings.TrimSpace(text)); err != nil {
		return fmt.Errorf("%s: %w", k.Flag, err)
	}
	return nil
}

// Knobs lists all settings, stage by stage.
func Knobs() []Knob {
	return []Knob{
		number(StagePhoto, "max-megapixels", "megapixels", "refuse larger photos", 0.1, 400, func(s *Settings) *float64 { return &s.Load.MaxMegapixels }),
		number(StagePhoto, "work-megapixels", "megapixels", "shrink larger photos to this", 1, 200, func(s *Settings) *float64 { return &s.Load.WorkMegapixels }),
		choice(StageSheet, "page", "the paper's size: auto, A4, A3, letter or free", []vision.Page{vision.PageAuto, vision.PageA4, vision.PageA3, vision.PageLetter, vision.PageFree}, func(s *Settings) *vision.Page { return &s.Sheet.Page }),
		points(StageSheet, "corners", "the paper's four corners by hand, as x,y x,y x,y x,y", 4, func(s *Settings) *[]geom.Point { return &s.Sheet.Corners }),
		whole(StageSheet, "sheet-pixels", "px", "longer side of the rectified sheet", 200, 20000, func(s *Settings) *int { return &s.Sheet.Pixels }),
		number(StageSheet, "edge-share", "0 to 1", "share of each side of the paper that must show an edge", 0.1, 1, func(s *Settings) *float64 { return &s.Sheet.Support }),
		choice(StageInk, "ink-method", "what a pixel is compared with: the paper around it, the mean around it, or one level (otsu)", []vision.InkMethod{vision.InkPaper, vision.InkMean, vision.InkOtsu}, func(s *Settings) *vision.InkMethod { return &s.Ink.Method }),
		number(StageInk, "ink-window", "mm", "window over which paper is judged; wider than any pen line", 2, 60, func(s *Settings) *float64 { return &s.Ink.Window }),
		number(StageInk, "ink-offset", "%", "how much darker than paper ink is; 0 decides by the drawing", 0, 95, func(s *Settings) *float64 { return &s.Ink.Offset }),
		number(StageInk, "speckle", "mm2", "drop smaller spots", 0, 100, func(s *Settings) *float64 { return &s.Ink.Speckle }),
		number(StageInk, "hole", "mm2", "fill smaller gaps within ink", 0, 100, func(s *Settings) *float64 { return &s.Ink.Hole }),
		number(StageInk, "margin", "mm", "ignore this much along the paper's edge", 0, 50, func(s *Settings) *float64 { return &s.Ink.Margin }),
		points(StageDots, "dots", "the two reference dots by hand, as x,y x,y", 2, func(s *Settings) *[]geom.Point { return &s.Dots.Places }),
		number(StageDots, "dot-distance", "mm", "distance between the two dots' centres", 10, 1000, func(s *Settings) *float64 { return &s.Dots.Distance }),
		number(StageDots, "dot-smallest", "mm", "least diameter of a dot", 0.3, 30, func(s *Settings) *float64 { return &s.Dots.Smallest }),
		number(StageDots, "dot-largest", "mm", "greatest diameter of a dot", 0.5, 40, func(s *Settings) *float64 { return &s.Dots.Largest }),
		number(StageDots, "dot-round", "0 to 1", "share of its circle that a dot fills", 0.3, 1, func(s *Settings) *float64 { return &s.Dots.Round }),
		number(StageDots, "dot-clear", "mm", "room without ink around a dot", 0, 30, func(s *Settings) *float64 { return &s.Dots.Clear }),
		number(StageStrokes, "spur", "pen widths", "drop dead ends that stick out less", 0, 10, func(s *Settings) *float64 { return &s.Trace.Spur }),
		number(StageStrokes, "shortest", "mm", "drop separate strokes shorter than this", 0, 100, func(s *Settings) *float64 { return &s.Trace.Shortest }),
		number(StageCentreline, "smooth", "mm", "how far a curve may stray from the traced line", 0.01, 5, func(s *Settings) *float64 { return &s.Smooth.Deviation }),
		number(StageCentreline, "corner-angle", "degrees", "sharper turns stay corners", 10, 180, func(s *Settings) *float64 { return &s.Smooth.Corner }),
		number(StageChannel, "strip-width", "mm", "inner width of the channel", 1, 50, func(s *Settings) *float64 { return &s.Channel.Strip }),
		number(StageChannel, "wall", "mm", "thickness of each side wall", 0.2, 20, func(s *Settings) *float64 { return &s.Channel.Wall }),
		number(StageChannel, "depth", "mm", "depth of the body, floor and walls together", 1, 100, func(s *Settings) *float64 { return &s.Channel.Depth }),
		number(StageChannel, "floor", "mm", "thickness of the floor", 0.1, 20, func(s *Settings) *float64 { return &s.Channel.Floor }),
		number(StageChannel, "rear", "mm", "stiffening added behind the floor", 0, 20, func(s *Settings) *float64 { return &s.Channel.Rear }),
		number(StageChannel, "grid", "mm", "step of the grid the part's corners lie on", 0.0005, 0.01, func(s *Settings) *float64 { return &s.Channel.Grid }),
	}
}

func number(stage, flag, unit, help string, least, most float64, at func(*Settings) *float64) Knob {
	return Knob{stage, flag, unit, help,
		func(s *Settings) string { return strconv.FormatFloat(*at(s), 'g', -1, 64) },
		func(s *Settings, text string) error {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || math.IsNaN(v) || v < least || v > most {
				return fmt.Errorf("%q is not a number from %g to %g (%s)", text, least, most, unit)
			}
			*at(s) = v
			return nil
		}}
}

func whole(stage, flag, unit, help string, least, most int, at func(*Settings) *int) Knob {
	return Knob{stage, flag, unit, help,
		func(s *Settings) string { return strconv.Itoa(*at(s)) },
		func(s *Settings, text string) error {
			v, err := strconv.Atoi(text)
			if err != nil || v < least || v > most {
				return fmt.Errorf("%q is not a whole number from %d to %d (%s)", text, least, most, unit)
			}
			*at(s) = v
			return nil
		}}
}

func choice[T ~string](stage, flag, help string, all []T, at func(*Settings) *T) Knob {
	return Knob{stage, flag, "", help,
		func(s *Settings) string { return string(*at(s)) },
		func(s *Settings, text string) error {
			if i := slices.IndexFunc(all, func(v T) bool { return strings.EqualFold(string(v), text) }); i >= 0 {
				*at(s) = all[i]
				return nil
			}
			var names []string
			for _, v := range all {
				names = append(names, string(v))
			}
			return fmt.Errorf("%q is none of %s", text, strings.Join(names, ", "))
		}}
}

func points(stage, flag, help string, n int, at func(*Settings) *[]geom.Point) Knob {
	return Knob{stage, flag, "px of the upright photo", help,
		func(s *Settings) string { return pointText(*at(s)) },
		func(s *Settings, text string) error {
			if text == "" || text == "auto" {
				*at(s) = nil
				return nil
			}
			var pts []geom.Point
			for _, f := range strings.Fields(text) {
				x, y, ok := strings.Cut(f, ",")
				px, err1 := strconv.ParseFloat(x, 64)
				py, err2 := strconv.ParseFloat(y, 64)
				if !ok || err1 != nil || err2 != nil || math.Abs(px) > 1e6 || math.Abs(py) > 1e6 {
					return fmt.Errorf("%q is not a place like 1234,567 (px of the upright photo)", f)
				}
				pts = append(pts, geom.Pt(px, py))
			}
			if len(pts) != n {
				return fmt.Errorf("%d places given, %d are needed: write them as %s", len(pts), n, strings.TrimSpace(strings.Repeat("x,y ", n)))
			}
			*at(s) = pts
			return nil
		}}
}

func pointText(pts []geom.Point) string {
	if len(pts) == 0 {
		return "auto"
	}
	var out []string
	for _, p := range pts {
		out = append(out, fmt.Sprintf("%g,%g", p.X, p.Y))
	}
	return strings.Join(out, " ")
}
