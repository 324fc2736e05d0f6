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
	"inkchannel/geom/bed"
	"inkchannel/geom/parts"
	"inkchannel/geom/regular"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/power"
	"inkchannel/vision"
)

// Settings are the settings of all stages.
type Settings struct {
	Load     vision.LoadSettings
	Sheet    vision.SheetSettings
	Ink      vision.InkSettings
	Dots     vision.DotSettings
	Trace    vision.TraceSettings
	Pens     vision.PenSettings
	Smooth   geom.SmoothSettings
	Symmetry regular.SymmetrySettings
	Shapes   regular.ShapeSettings
	Spacing  rules.SpacingSettings
	Bends    rules.BendSettings
	Walls    rules.WallSettings
	Channel  solid.ChannelSettings
	Parts    parts.Settings // its Channel is not used: the settings' own is
	Bed      bed.Settings
	Print    bed.PrintSettings
	Strip    power.Strip // its width and bend are the channel's and the bends'
	Turn     float64     // degrees that the strip takes at a junction
	Power    power.Settings
}

// Default returns the settings that suit most photos.
func Default() Settings {
	return Settings{
		vision.DefaultLoad(), vision.DefaultSheet(), vision.DefaultInk(), vision.DefaultDots(),
		vision.DefaultTrace(), vision.DefaultPens(), geom.DefaultSmooth(),
		regular.DefaultSymmetry(), regular.DefaultShapes(), rules.DefaultSpacing(), rules.DefaultBends(), rules.DefaultWalls(),
		solid.DefaultChannel(), parts.Default(), bed.Default(), bed.DefaultPrint(),
		power.DefaultStrip(), 20, power.Default(),
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
	StageColours    = "colours"
	StageCentreline = "centreline"
	StageSymmetry   = "symmetry"
	StageShapes     = "shapes"
	StageSpacing    = "spacing"
	StageBends      = "bends"
	StageJunctions  = "junctions"
	StageChannel    = "channel"
	StageParts      = "parts"
	StageWalls      = "walls"
	StageBeds       = "beds"
	StageStrips     = "strips"
	StagePower      = "power"
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
		{StageColours, "tell which pen drew each stroke"},
		{StageCentreline, "smooth the strokes to curves, keeping corners"},
		{StageSymmetry, "turn the drawing upright and make it symmetric, if asked"},
		{StageShapes, "make nearly straight and round strokes exactly so"},
		{StageSpacing, "measure how near the lines come, and spread them if asked"},
		{StageBends, "find where the strip cannot bend as the line does"},
		{StageJunctions, "decide which strip passes where lines meet"},
		{StageStrips, "cover the lines with pieces of strip, as few as can be"},
		{StageChannel, "widen the curves to a printable channel"},
		{StageParts, "add foot and stand, backboard, wire ways and the like"},
		{StageWalls, "look for what prints badly"},
		{StageBeds, "cut to the printer's bed, lay out, estimate the print"},
		{StagePower, "size wires, fuses and supply"},
	}
}

// A Knob is one setting with its flag.
type Knob struct {
	Stage, Flag, Unit, Help string
	// Least and Most bound a number; both are 0 for other settings. Whole tells
	// that it is a whole number. Choices lists what a choice may be.
	Least, Most float64
	Whole       bool
	Choices     []string
	places      int
	many        bool // any number of places that places divides
	get         func(*Settings) string
	set         func(*Settings, string) error
}

// Get returns the setting's value as text that Set takes.
func (k Knob) Get(s *Settings) string { return k.get(s) }

// IsDefault tells whether the setting is as Default has it.
func (k Knob) IsDefault(s *Settings) bool {
	def := Default()
	return k.get(s) == k.get(&def)
}

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
		places(StageStrokes, "drop-lines", "mm of the sheet", "lines that are none, each by a place on it, as x,y x,y; a line goes from junction to junction", 1, true, func(s *Settings) *[]geom.Point { return &s.Trace.Drop }),
		places(StageStrokes, "join-ends", "mm of the sheet", "free ends to join, two by two, as x,y x,y", 2, true, func(s *Settings) *[]geom.Point { return &s.Trace.Join }),
		places(StageStrokes, "pass-on", "mm of the sheet", "which lines run on into each other at a junction, two by two, each by a place on it near the junction, as x,y x,y", 2, true, func(s *Settings) *[]geom.Point { return &s.Trace.Pass }),
		number(StageStrokes, "shortest", "mm", "drop separate strokes shorter than this", 0, 100, func(s *Settings) *float64 { return &s.Trace.Shortest }),
		number(StageColours, "pen-apart", "Lab", "how different pens' colours are at least; 0 takes all strokes for one pen's", 0, 200, func(s *Settings) *float64 { return &s.Pens.Apart }),
		number(StageCentreline, "smooth", "mm", "how far a curve may stray from the traced line", 0.01, 5, func(s *Settings) *float64 { return &s.Smooth.Deviation }),
		number(StageCentreline, "corner-angle", "degrees", "sharper turns stay corners", 10, 180, func(s *Settings) *float64 { return &s.Smooth.Corner }),
		choice(StageSymmetry, "straighten", "turn the drawing upright by its axis of symmetry or its longest lines: no, axis or lines", []regular.Straighten{regular.StraightenNo, regular.StraightenAxis, regular.StraightenLines}, func(s *Settings) *regular.Straighten { return &s.Symmetry.Straighten }),
		number(StageSymmetry, "most-turn", "degrees", "refuse to turn the drawing further", 0.1, 45, func(s *Settings) *float64 { return &s.Symmetry.MostTurn }),
		choice(StageSymmetry, "mirror", "make the drawing symmetric: no, average (both halves give in), left or right (that half is copied)", []regular.Mirror{regular.MirrorNo, regular.MirrorAverage, regular.MirrorLeft, regular.MirrorRight}, func(s *Settings) *regular.Mirror { return &s.Symmetry.Mirror }),
		places(StageSymmetry, "mirror-axis", "mm of the sheet", "the axis of symmetry by hand, as two of its points x,y x,y", 2, false, func(s *Settings) *[]geom.Point { return &s.Symmetry.Axis }),
		number(StageSymmetry, "mirror-reach", "mm", "how far apart a line and its partner across the axis may be", 1, 100, func(s *Settings) *float64 { return &s.Symmetry.Reach }),
		number(StageShapes, "shape-tolerance", "mm", "strokes this near to a line, arc or circle become one; 0 leaves all as drawn", 0, 5, func(s *Settings) *float64 { return &s.Shapes.Tolerance }),
		number(StageShapes, "tangent-angle", "degrees", "shapes that meet at less become tangent", 0, 45, func(s *Settings) *float64 { return &s.Shapes.Tangent }),
		number(StageShapes, "parallel-angle", "degrees", "lines within this become parallel", 0, 20, func(s *Settings) *float64 { return &s.Shapes.Parallel }),
		number(StageShapes, "equal-radius", "%", "radii within this become equal", 0, 50, func(s *Settings) *float64 { return &s.Shapes.Radius }),
		number(StageSpacing, "spacing", "mm", "least distance between centrelines", 1, 100, func(s *Settings) *float64 { return &s.Spacing.Least }),
		number(StageSpacing, "spread", "mm", "move lines that are too near apart by at most this; 0 only measures", 0, 50, func(s *Settings) *float64 { return &s.Spacing.Spread }),
		number(StageBends, "bend-radius", "mm", "tightest bend of the strip, sideways", 0.5, 200, func(s *Settings) *float64 { return &s.Bends.Radius }),
		choice(StageBends, "tight-bends", "what to do where lines bend tighter: round them, or join (cut and join the strip there)", []rules.Corner{rules.CornerRound, rules.CornerJoin}, func(s *Settings) *rules.Corner { return &s.Bends.Corners }),
		number(StageBends, "round-limit", "mm", "furthest that rounding may move a line; tighter bends are cut and joined", 0, 100, func(s *Settings) *float64 { return &s.Bends.Most }),
		number(StageChannel, "strip-width", "mm", "width of the LED strip", 1, 50, func(s *Settings) *float64 { return &s.Channel.Strip }),
		number(StageChannel, "strip-clearance", "mm", "room added to the strip's width; the test piece finds it", 0, 5, func(s *Settings) *float64 { return &s.Channel.Loose }),
		number(StageChannel, "wall", "mm", "thickness of each side wall, at least", 0.2, 20, func(s *Settings) *float64 { return &s.Channel.Wall }),
		number(StageChannel, "depth", "mm", "depth of the body, floor and walls together", 1, 100, func(s *Settings) *float64 { return &s.Channel.Depth }),
		number(StageChannel, "floor", "mm", "thickness of the floor", 0.1, 20, func(s *Settings) *float64 { return &s.Channel.Floor }),
		number(StageChannel, "rear", "mm", "stiffening added behind the floor", 0, 20, func(s *Settings) *float64 { return &s.Channel.Rear }),
		number(StageChannel, "grid", "mm", "step of the grid the part's corners lie on", 0.0005, 0.01, func(s *Settings) *float64 { return &s.Channel.Grid }),
		number(StageChannel, "line-width", "mm", "width of one printed line; walls are whole numbers of it", 0.1, 2, func(s *Settings) *float64 { return &s.Walls.Line }),
		choice(StageParts, "hold", "how the sign is held: stand, keyhole, ears, pads or none", []parts.Hold{parts.HoldStand, parts.HoldKeyhole, parts.HoldEars, parts.HoldPads, parts.HoldNone}, func(s *Settings) *parts.Hold { return &s.Parts.Hold }),
		choice(StageParts, "backboard", "what joins strokes that do not touch: auto, bridges, ribs, solid or none", []parts.Board{parts.BoardAuto, parts.BoardBridges, parts.BoardRibs, parts.BoardSolid, parts.BoardNone}, func(s *Settings) *parts.Board { return &s.Parts.Board }),
		number(StageParts, "backboard-thickness", "mm", "thickness of the backboard", 1, 20, func(s *Settings) *float64 { return &s.Parts.BoardThick }),
		number(StageParts, "backboard-sink", "mm", "how deep the backboard lies in the channels' rear", 0, 10, func(s *Settings) *float64 { return &s.Parts.BoardSink }),
		number(StageParts, "bridge-width", "mm", "width of the backboard's bridges", 3, 60, func(s *Settings) *float64 { return &s.Parts.BridgeWidth }),
		choice(StageParts, "groove", "concealed wire groove behind: auto (only where needed), all (to every strip) or none", []parts.Groove{parts.GrooveAuto, parts.GrooveAll, parts.GrooveNone}, func(s *Settings) *parts.Groove { return &s.Parts.Groove }),
		number(StageParts, "groove-inset", "mm", "from the channel's outline to the wire groove", 0.4, 20, func(s *Settings) *float64 { return &s.Parts.GrooveInset }),
		number(StageParts, "groove-depth", "mm", "depth of the wire groove", 0.2, 10, func(s *Settings) *float64 { return &s.Parts.GrooveDepth }),
		number(StageParts, "foot-height", "mm", "from the lowest outline to the stand", 0, 100, func(s *Settings) *float64 { return &s.Parts.FootHeight }),
		number(StageParts, "foot-width", "mm", "least width of the foot", 12, 300, func(s *Settings) *float64 { return &s.Parts.FootWidth }),
		number(StageParts, "tenon", "mm", "length of the foot's tenon in the stand", 4, 60, func(s *Settings) *float64 { return &s.Parts.Tenon }),
		number(StageParts, "bore", "mm", "width of the wires' way up the foot", 1, 20, func(s *Settings) *float64 { return &s.Parts.Bore }),
		number(StageParts, "fit", "mm", "clearance all round between parts that go into each other", 0, 2, func(s *Settings) *float64 { return &s.Parts.Clearance }),
		box(StageParts, "controller", "room in the stand for the controller, wide x deep x high", 3, func(s *Settings) *parts.Size { return &s.Parts.Controller }),
		box(StageParts, "cable-exit", "opening in the stand's rear, wide x high", 2, func(s *Settings) *parts.Size { return &s.Parts.Connector }),
		number(StageParts, "tilt", "degrees", "the sign must bear being tilted this far; the stand grows for it", 0, 40, func(s *Settings) *float64 { return &s.Parts.Tilt }),
		number(StageParts, "screw", "mm", "metric screw for keyholes and ears, as 4 for M4", 2, 8, func(s *Settings) *float64 { return &s.Parts.Screw }),
		yes(StageParts, "cover", "make snap-in covers for plain strip", func(s *Settings) *bool { return &s.Parts.Cover }),
		yes(StageParts, "test-piece", "make a test piece to find the strip's clearance", func(s *Settings) *bool { return &s.Parts.Coupon }),
		number(StageWalls, "longest-bridge", "mm", "widest gap the printer spans without support", 1, 100, func(s *Settings) *float64 { return &s.Walls.Bridge }),
		number(StageBeds, "bed-width", "mm", "width of the printer's bed", 40, 2000, func(s *Settings) *float64 { return &s.Bed.Width }),
		number(StageBeds, "bed-depth", "mm", "depth of the printer's bed", 40, 2000, func(s *Settings) *float64 { return &s.Bed.Depth }),
		number(StageBeds, "bed-margin", "mm", "left free along the bed's edge", 0, 100, func(s *Settings) *float64 { return &s.Bed.Margin }),
		number(StageBeds, "bed-gap", "mm", "between parts on the bed", 0, 50, func(s *Settings) *float64 { return &s.Bed.Gap }),
		number(StageBeds, "joint-fit", "mm", "clearance all round in the keyed joints of cut channels", 0, 1, func(s *Settings) *float64 { return &s.Bed.Clearance }),
		number(StageBeds, "filament", "mm", "diameter of the filament", 0.5, 5, func(s *Settings) *float64 { return &s.Print.Filament }),
		number(StageBeds, "density", "g/cm3", "density of the plastic", 0.5, 10, func(s *Settings) *float64 { return &s.Print.Density }),
		number(StageBeds, "shell", "mm", "solid plastic inside every surface", 0.2, 20, func(s *Settings) *float64 { return &s.Print.Shell }),
		number(StageBeds, "infill", "%", "plastic in what lies deeper", 0, 100, func(s *Settings) *float64 { return &s.Print.Infill }),
		number(StageBeds, "flow", "mm3/s", "plastic that the printer lays down, stops included", 0.5, 100, func(s *Settings) *float64 { return &s.Print.Flow }),
		number(StageBeds, "layer", "mm", "height of a printed layer", 0.02, 2, func(s *Settings) *float64 { return &s.Print.Layer }),
		word(StageStrips, "strip-name", "what the parts list calls the strip", func(s *Settings) *string { return &s.Strip.Name }),
		number(StageStrips, "strip-cut", "mm", "distance between the strip's cut marks", 1, 1000, func(s *Settings) *float64 { return &s.Strip.Cut }),
		number(StageStrips, "strip-turn", "degrees", "sharpest turn that the strip takes at a junction", 1, 90, func(s *Settings) *float64 { return &s.Turn }),
		number(StagePower, "strip-volts", "V", "the strip's voltage", 1, 60, func(s *Settings) *float64 { return &s.Strip.Volts }),
		number(StagePower, "strip-watts", "W/m", "power of each metre of strip", 0.1, 60, func(s *Settings) *float64 { return &s.Strip.Watts }),
		number(StagePower, "strip-leds", "1/m", "LEDs on each metre of strip", 1, 5000, func(s *Settings) *float64 { return &s.Strip.LEDs }),
		number(StagePower, "strip-run", "m", "longest piece of strip fed at one end", 0.1, 100, func(s *Settings) *float64 { return &s.Strip.Run }),
		number(StagePower, "strip-ohms", "ohm/m", "resistance of each metre of strip, both tracks", 0, 10, func(s *Settings) *float64 { return &s.Strip.Ohms }),
		choice(StagePower, "strip-kind", "how the strip is driven: plain or addressable", []power.Kind{power.Plain, power.Addressable}, func(s *Settings) *power.Kind { return &s.Strip.Kind }),
		number(StagePower, "lead", "m", "wire from the supply to the sign", 0, 100, func(s *Settings) *float64 { return &s.Power.Lead }),
		number(StagePower, "drop", "%", "most that the voltage may fall on the wires, and again on the strip", 0.1, 20, func(s *Settings) *float64 { return &s.Power.Drop }),
		number(StagePower, "headroom", "%", "of the supply beyond the load", 0, 200, func(s *Settings) *float64 { return &s.Power.Headroom }),
		number(StagePower, "ambient", "C", "temperature around the sign", -40, 60, func(s *Settings) *float64 { return &s.Power.Ambient }),
		number(StagePower, "softens", "C", "temperature at which the plastic softens", 30, 300, func(s *Settings) *float64 { return &s.Power.Softens }),
	}
}

// UseStrip puts a strip of a library into the settings: its width into the
// channel's, its bend into the bends', and a spacing that leaves half a
// millimetre between channels.
func (s *Settings) UseStrip(t power.Strip) {
	s.Strip = t
	s.Channel.Strip, s.Bends.Radius = t.Width, t.Bend
	s.Spacing.Least = s.Channel.Slot() + 2*s.Channel.Wall + 0.5
}

// word is a short text of letters, digits and hyphens.
func word(stage, flag, help string, at func(*Settings) *string) Knob {
	return Knob{Stage: stage, Flag: flag, Help: help,
		get: func(s *Settings) string { return *at(s) },
		set: func(s *Settings, text string) error {
			ok := text != "" && len(text) <= 40 && strings.IndexFunc(text, func(r rune) bool {
				return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.')
			}) < 0
			if !ok {
				return fmt.Errorf("%q is not a name of up to 40 letters, digits, dots and hyphens", text)
			}
			*at(s) = text
			return nil
		}}
}

// yes is a setting that is on or off.
func yes(stage, flag, help string, at func(*Settings) *bool) Knob {
	return Knob{Stage: stage, Flag: flag, Unit: "yes or no", Help: help, Choices: []string{"yes", "no"},
		get: func(s *Settings) string {
			if *at(s) {
				return "yes"
			}
			return "no"
		},
		set: func(s *Settings, text string) error {
			switch strings.ToLower(text) {
			case "yes", "true":
				*at(s) = true
			case "no", "false":
				*at(s) = false
			default:
				return fmt.Errorf("%q is neither yes nor no", text)
			}
			return nil
		}}
}

// box is a size of two or three sides, as 60x35x18.
func box(stage, flag, help string, sides int, at func(*Settings) *parts.Size) Knob {
	list := func(z *parts.Size) []*float64 {
		if sides == 2 {
			return []*float64{&z.X, &z.Z}
		}
		return []*float64{&z.X, &z.Y, &z.Z}
	}
	return Knob{Stage: stage, Flag: flag, Unit: "mm", Help: help,
		get: func(s *Settings) string {
			var out []string
			for _, v := range list(at(s)) {
				out = append(out, strconv.FormatFloat(*v, 'g', -1, 64))
			}
			return strings.Join(out, "x")
		},
		set: func(s *Settings, text string) error {
			fields := strings.Split(strings.ToLower(text), "x")
			var z parts.Size
			to := list(&z)
			if len(fields) != len(to) {
				return fmt.Errorf("%q has %d sides, %d are needed, as %s", text, len(fields), len(to), strings.TrimSuffix(strings.Repeat("20x", len(to)), "x"))
			}
			for i, f := range fields {
				v, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
				if err != nil || !(v >= 1 && v <= 300) {
					return fmt.Errorf("%q is not a side from 1 to 300 mm", f)
				}
				*to[i] = v
			}
			*at(s) = z
			return nil
		}}
}

func number(stage, flag, unit, help string, least, most float64, at func(*Settings) *float64) Knob {
	return Knob{Stage: stage, Flag: flag, Unit: unit, Help: help, Least: least, Most: most,
		get: func(s *Settings) string { return strconv.FormatFloat(*at(s), 'g', -1, 64) },
		set: func(s *Settings, text string) error {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || math.IsNaN(v) || v < least || v > most {
				return fmt.Errorf("%q is not a number from %g to %g (%s)", text, least, most, unit)
			}
			*at(s) = v
			return nil
		}}
}

func whole(stage, flag, unit, help string, least, most int, at func(*Settings) *int) Knob {
	return Knob{Stage: stage, Flag: flag, Unit: unit, Help: help, Least: float64(least), Most: float64(most), Whole: true,
		get: func(s *Settings) string { return strconv.Itoa(*at(s)) },
		set: func(s *Settings, text string) error {
			v, err := strconv.Atoi(text)
			if err != nil || v < least || v > most {
				return fmt.Errorf("%q is not a whole number from %d to %d (%s)", text, least, most, unit)
			}
			*at(s) = v
			return nil
		}}
}

func choice[T ~string](stage, flag, help string, all []T, at func(*Settings) *T) Knob {
	var names []string
	for _, v := range all {
		names = append(names, string(v))
	}
	return Knob{Stage: stage, Flag: flag, Help: help, Choices: names,
		get: func(s *Settings) string { return string(*at(s)) },
		set: func(s *Settings, text string) error {
			if i := slices.IndexFunc(all, func(v T) bool { return strings.EqualFold(string(v), text) }); i >= 0 {
				*at(s) = all[i]
				return nil
			}
			return fmt.Errorf("%q is none of %s", text, strings.Join(names, ", "))
		}}
}

func points(stage, flag, help string, n int, at func(*Settings) *[]geom.Point) Knob {
	return places(stage, flag, "px of the upright photo", help, n, false, at)
}

// mostPlaces is how many places one setting may list.
const mostPlaces = 1000

func places(stage, flag, unit, help string, n int, many bool, at func(*Settings) *[]geom.Point) Knob {
	return Knob{Stage: stage, Flag: flag, Unit: unit, Help: help, places: n, many: many,
		get: func(s *Settings) string {
			if many && len(*at(s)) == 0 {
				return "none"
			}
			return pointText(*at(s))
		},
		set: func(s *Settings, text string) error {
			if text == "" || text == "auto" || text == "none" {
				*at(s) = nil
				return nil
			}
			var pts []geom.Point
			for _, f := range strings.Fields(text) {
				x, y, ok := strings.Cut(f, ",")
				px, err1 := strconv.ParseFloat(x, 64)
				py, err2 := strconv.ParseFloat(y, 64)
				if !ok || err1 != nil || err2 != nil || math.Abs(px) > 1e6 || math.Abs(py) > 1e6 {
					return fmt.Errorf("%q is not a place like 123,456 (%s)", f, unit)
				}
				pts = append(pts, geom.Pt(px, py))
			}
			switch {
			case many && len(pts) > mostPlaces:
				return fmt.Errorf("%d places given, at most %d are taken", len(pts), mostPlaces)
			case many && len(pts)%n != 0:
				return fmt.Errorf("%d places given, they go by %ds: write them as %s", len(pts), n, strings.TrimSpace(strings.Repeat("x,y ", n)))
			case !many && len(pts) != n:
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
