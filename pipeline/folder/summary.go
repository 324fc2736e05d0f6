package folder

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// A Summary is what a run found, for other programs. Lengths are mm.
type Summary struct {
	Photo      *PhotoSummary `json:"photo,omitempty"`
	Steps      []StepSummary `json:"steps"`
	Sheet      *SheetSummary `json:"sheet,omitempty"`
	Strokes    *NetSummary   `json:"strokes,omitempty"`
	Centreline *LineSummary  `json:"centreline,omitempty"`
	Rules      *RuleSummary  `json:"fit,omitempty"`
	Channel    *SolidSummary `json:"channel,omitempty"`
	Sign       *SignSummary  `json:"sign,omitempty"`
	Strips     *StripSummary `json:"strips,omitempty"`
	Power      *PowerSummary `json:"power,omitempty"`
	Harness    *WireSummary  `json:"harness,omitempty"`
}

// A WireSummary tells of the wires behind the channels.
type WireSummary struct {
	Frame string        `json:"frame"` // of the places
	Wires []PairSummary `json:"wires"`
	Holes []HoleSummary `json:"holes"`
}

// A PairSummary tells of one stretch of a circuit's wires.
type PairSummary struct {
	Circuit    int          `json:"circuit"`
	Data       bool         `json:"data,omitempty"` // from the end of one strip to the start of the next
	Conductors int          `json:"conductors"`
	Area       float64      `json:"area_mm2"`
	Outside    float64      `json:"outside_mm"`
	Length     float64      `json:"length_mm"`
	From       int          `json:"from_hole"` // of the list; −1, −2, … for branches, 0 for where the wires come in
	To         int          `json:"to_hole"`
	Path       [][2]float64 `json:"path_mm"`
}

// A HoleSummary tells of a hole for wires.
type HoleSummary struct {
	At       [2]float64 `json:"at_mm"`
	Diameter float64    `json:"diameter_mm"`
	Strip    bool       `json:"up_to_strip"`
	Circuits []int      `json:"circuits"`
	Wires    int        `json:"conductors"`
}

// A PhotoSummary tells which photo it was.
type PhotoSummary struct {
	Name string `json:"name,omitempty"`
	Sum  string `json:"sha256"`
}

// A StripSummary tells how strip covers the lines.
type StripSummary struct {
	Pieces  []PieceSummary `json:"pieces"`
	Least   int            `json:"pieces_at_least"`
	Jumpers float64        `json:"jumpers_mm"` // 0: earlier versions had hidden jumpers
	Dark    []DarkSummary  `json:"dark"`
	// Size is the sign's width and height by the drawing's; Strays is how far its lines are from
	// the drawn ones where they are farthest.
	Size     [2]float64 `json:"size"`
	Strays   float64    `json:"strays_mm"`
	StraysAt [2]float64 `json:"strays_at_mm"`
}

// A DarkSummary is a stretch of line that no strip lights.
type DarkSummary struct {
	Piece  int        `json:"piece"`
	At     [2]float64 `json:"at_mm"`
	Length float64    `json:"length_mm"`
}

// A PieceSummary tells of one piece of strip.
type PieceSummary struct {
	Strip   float64    `json:"strip_mm"`
	Path    float64    `json:"path_mm"`
	Circuit int        `json:"circuit"`
	Chain   int        `json:"chain"` // of pieces soldered together
	Colour  string     `json:"colour"`
	Start   [2]float64 `json:"start_mm"`
	End     [2]float64 `json:"end_mm"`
}

// A PowerSummary tells what feeds the strip.
type PowerSummary struct {
	Volts    float64          `json:"volts"`
	Watts    float64          `json:"watts"`
	Supply   float64          `json:"supply_watts"`
	Circuits []CircuitSummary `json:"circuits"`
}

// A CircuitSummary tells of one circuit.
type CircuitSummary struct {
	Amps      float64 `json:"amps"`
	Fuse      float64 `json:"fuse_amps"`
	Wire      string  `json:"wire"`
	Gauge     string  `json:"gauge"`
	WireDrop  float64 `json:"lost_on_wires_volts"`
	StripDrop float64 `json:"lost_on_strip_volts"`
	Feeds     int     `json:"feeds"`
}

// A RuleSummary tells how the lines fit strip and printer. Places are mm in the
// sheet's frame, those of weak walls in the part's own.
type RuleSummary struct {
	Turned    float64           `json:"turned_degrees"`
	Mirrored  float64           `json:"mirrored_moved_mm"`
	Shapes    []ShapeSummary    `json:"shapes"`
	ShapeMove float64           `json:"shapes_moved_mm"`
	Tight     []TightSummary    `json:"too_near"`
	Spread    float64           `json:"spread_moved_mm"`
	Bends     []BendSummary     `json:"tight_bends"`
	Junctions []JunctionSummary `json:"junctions"`
	Weak      []WeakSummary     `json:"weak_walls"`
}

// A ShapeSummary tells of a line, arc or circle.
type ShapeSummary struct {
	Kind   string  `json:"kind"`
	Stroke int     `json:"stroke"`
	Radius float64 `json:"radius_mm,omitempty"`
	Moved  float64 `json:"moved_mm"`
}

// A TightSummary tells of a place where lines are too near.
type TightSummary struct {
	Strokes  [2]int        `json:"strokes"`
	At       [2][2]float64 `json:"at_mm"`
	Distance float64       `json:"distance_mm"`
	Length   float64       `json:"over_mm"`
}

// A BendSummary tells of a bend that is too tight for the strip.
type BendSummary struct {
	Stroke  int        `json:"stroke"`
	At      [2]float64 `json:"at_mm"`
	Radius  float64    `json:"radius_mm"`
	Turn    float64    `json:"turn_degrees"`
	Rounded bool       `json:"rounded"`
	Moved   float64    `json:"moved_mm"`
	Why     string     `json:"why,omitempty"`
}

// A JunctionSummary tells which strokes' strips pass and end at a junction.
type JunctionSummary struct {
	At      [2]float64 `json:"at_mm"`
	Passes  int        `json:"passes"`
	Butts   []int      `json:"butts"`
	Cramped bool       `json:"cramped"`
}

// A WeakSummary tells of a place of a part that prints badly.
type WeakSummary struct {
	Part string     `json:"part"`
	Kind string     `json:"kind"`
	At   [3]float64 `json:"at_mm"`
	Size float64    `json:"size"`
}

// A SignSummary tells of the printed pieces and the finished sign.
type SignSummary struct {
	Prints  []PrintSummary  `json:"prints"`
	Beds    int             `json:"beds"`
	Least   int             `json:"beds_at_least"`
	Cuts    int             `json:"cuts"`
	Grams   float64         `json:"grams"`
	Metres  float64         `json:"filament_m"`
	Hours   float64         `json:"hours"`
	Bridges float64         `json:"bridges_mm"`
	Wires   float64         `json:"groove_mm"`
	OwnFoot string          `json:"own_foot,omitempty"` // the file of the maker's own foot
	Balance *BalanceSummary `json:"balance,omitempty"`
}

// A PrintSummary tells of one printed piece.
type PrintSummary struct {
	Name   string     `json:"name"`
	File   string     `json:"file"`
	Size   [3]float64 `json:"size_mm"`
	Volume float64    `json:"volume_mm3"`
	Grams  float64    `json:"grams"`
	Bed    int        `json:"bed"`
	Turn   float64    `json:"turn_degrees"`
	At     [2]float64 `json:"at_mm"`
}

// A BalanceSummary tells how safely the sign stands.
type BalanceSummary struct {
	Grams  float64    `json:"grams_if_solid"`
	Height float64    `json:"centre_of_mass_mm"`
	Base   [2]float64 `json:"base_mm"`
	Tilt   float64    `json:"tips_at_degrees"`
}

// A StepSummary is one stage's report.
type StepSummary struct {
	Stage string   `json:"stage"`
	Found string   `json:"found"`
	Notes []string `json:"notes,omitempty"`
	// Sure is 0 to 1, Why its reason; neither where the stage only computed.
	Sure *float64 `json:"sure,omitempty"`
	Why  string   `json:"why,omitempty"`
}

// A SheetSummary tells of the sheet and the scale.
type SheetSummary struct {
	Found   bool    `json:"found"`
	Page    string  `json:"page"`
	Width   float64 `json:"width_mm"`
	Height  float64 `json:"height_mm"`
	PxPerMm float64 `json:"px_per_mm"`
	Turn    float64 `json:"sign_turned_degrees,omitempty"` // anticlockwise from the sheet; places of the sign and centreline.svg are turned
}

// A NetSummary tells of the traced strokes.
type NetSummary struct {
	Count     int     `json:"count"`
	Parts     int     `json:"parts"`
	Ends      int     `json:"ends"`
	Junctions int     `json:"junctions"`
	Loops     int     `json:"loops"`
	PenWidth  float64 `json:"pen_width_mm"`
}

// A LineSummary tells of the smoothed centrelines.
type LineSummary struct {
	Length  float64   `json:"length_mm"`
	Each    []float64 `json:"each_mm"`
	Corners int       `json:"corners"`
	Stray   float64   `json:"largest_deviation_mm"`
}

// A SolidSummary tells of the printable part.
type SolidSummary struct {
	Size   [3]float64 `json:"size_mm"`
	Volume float64    `json:"volume_mm3"`
	Facets int        `json:"facets"`
	Parts  int        `json:"parts"`
}

// Summarise returns the run's summary as JSON.
func Summarise(r stage.Results) ([]byte, error) {
	var s Summary
	for _, st := range r.Steps {
		sum := StepSummary{Stage: st.Stage, Found: st.Found, Notes: st.Notes}
		if c := st.Confidence; c != nil {
			sure := round(c.Sure)
			sum.Sure, sum.Why = &sure, c.Why
		}
		s.Steps = append(s.Steps, sum)
	}
	if f, ok := stage.Found[pipeline.PhotoFound](r); ok {
		s.Photo = &PhotoSummary{Name: f.Name, Sum: hex.EncodeToString(f.Sum[:])}
	} else if src, ok := stage.Found[pipeline.Source](r); ok { // lines from a file
		sum := sha256.Sum256(src.Data)
		s.Photo = &PhotoSummary{Name: src.Name, Sum: hex.EncodeToString(sum[:])}
	}
	s.Sheet = sheetSummary(r)
	if f, ok := stage.Found[pipeline.StrokesFound](r); ok {
		t := f.Strokes.Topology()
		s.Strokes = &NetSummary{
			Count: len(f.Strokes.Strokes), Parts: t.Parts, Ends: t.Ends, Junctions: t.Junctions, Loops: t.Loops,
			PenWidth: round(f.PenWidth),
		}
	}
	if f, ok := stage.Found[pipeline.CentrelineFound](r); ok {
		s.Centreline = lineSummary(f.Line)
	}
	if f, ok := stage.Found[pipeline.ChannelFound](r); ok {
		s.Channel = &SolidSummary{
			Size: sizeOf(f.Solid), Volume: round(f.Solid.Volume()), Facets: len(f.Solid.Triangles), Parts: len(f.Body),
		}
	}
	s.Rules = ruleSummary(r)
	s.Sign = signSummary(r)
	s.Strips = stripSummary(r)
	s.Power = powerSummary(r)
	s.Harness = wireSummary(r)
	data, err := json.MarshalIndent(s, "", "  ")
	return append(data, '\n'), err
}

func pair(p geom.Point) [2]float64 { return [2]float64{round(p.X), round(p.Y)} }

func sheetSummary(r stage.Results) *SheetSummary {
	type in struct {
		Sheet pipeline.SheetFound
		Dots  pipeline.DotsFound
	}
	f, ok := stage.Inputs[in](r)
	if !ok {
		return nil
	}
	size := f.Dots.Frame.Size
	return &SheetSummary{
		Found: f.Sheet.Found, Page: string(f.Dots.Page), Width: round(size.X), Height: round(size.Y),
		PxPerMm: round(f.Dots.PxPerMm), Turn: f.Dots.Frame.Turn,
	}
}

// ruleSummary tells how the lines fit strip and printer, as far as that was looked
// at: from the stage of spacing on.
func ruleSummary(r stage.Results) *RuleSummary {
	spacing, ok := stage.Found[pipeline.SpacingFound](r)
	if !ok {
		return nil
	}
	// Empty lists are written as such.
	f := &RuleSummary{
		Shapes: []ShapeSummary{}, Tight: []TightSummary{}, Bends: []BendSummary{},
		Junctions: []JunctionSummary{}, Weak: []WeakSummary{},
	}
	symmetry, _ := stage.Found[pipeline.SymmetryFound](r)
	f.Turned, f.Mirrored = round(symmetry.Turn), round(symmetry.Moved)
	shapes, _ := stage.Found[pipeline.ShapesFound](r)
	f.ShapeMove = round(shapes.Moved)
	for _, s := range shapes.Shapes {
		f.Shapes = append(
			f.Shapes,
			ShapeSummary{Kind: string(s.Kind), Stroke: s.Curve + 1, Radius: round(s.Radius), Moved: round(s.Moved)},
		)
	}
	for _, t := range spacing.Tight {
		f.Tight = append(f.Tight, TightSummary{
			Strokes: [2]int{t.Curves[0] + 1, t.Curves[1] + 1}, At: [2][2]float64{pair(t.At[0]), pair(t.At[1])},
			Distance: round(t.Distance), Length: round(t.Length),
		})
	}
	if spacing.Spread != nil {
		f.Spread = round(spacing.Spread.Moved)
	}
	bends, _ := stage.Found[pipeline.BendsFound](r)
	for _, b := range bends.Bends {
		f.Bends = append(f.Bends, BendSummary{
			Stroke: b.Curve + 1, At: pair(b.At), Radius: round(b.Radius), Turn: round(b.Turn),
			Rounded: b.Rounded, Moved: round(b.Moved), Why: b.Why,
		})
	}
	junctions, _ := stage.Found[pipeline.JunctionsFound](r)
	for _, j := range junctions.Junctions {
		s := JunctionSummary{At: pair(j.At), Passes: j.Passes.Curve + 1, Butts: []int{}, Cramped: j.Cramped}
		for _, b := range j.Butts {
			s.Butts = append(s.Butts, b.Curve+1)
		}
		f.Junctions = append(f.Junctions, s)
	}
	walls, _ := stage.Found[pipeline.WallsFound](r)
	for _, w := range walls.Weak {
		f.Weak = append(f.Weak, WeakSummary{
			Part: w.Part, Kind: string(w.Kind), At: [3]float64{round(w.At.X), round(w.At.Y), round(w.Z)},
			Size: round(w.Size),
		})
	}
	return f
}

func signSummary(r stage.Results) *SignSummary {
	type in struct {
		Parts pipeline.PartsFound
		Beds  pipeline.BedsFound
	}
	f, ok := stage.Inputs[in](r)
	if !ok {
		return nil
	}
	s := &SignSummary{
		Beds: f.Beds.Layout.Beds, Least: f.Beds.Layout.Least, Cuts: len(f.Beds.Cuts),
		Bridges: round(geom.TotalLength(f.Parts.Bridges)),
		Wires:   round(geom.TotalLength(f.Parts.Wires)),
	}
	for i, p := range f.Beds.Prints {
		pl := f.Beds.Layout.Places[i]
		s.Prints = append(s.Prints, PrintSummary{
			Name: p.Name, File: PartFile(p.Name), Size: sizeOf(p.Mesh), Volume: round(p.Mesh.Volume()),
			Grams: round(p.Estimate.Grams),
			Bed:   pl.Bed + 1, Turn: round(pl.Turn), At: pair(pl.Move),
		})
		s.Grams += p.Estimate.Grams
		s.Metres += p.Estimate.Metres
		s.Hours += p.Estimate.Seconds / 3600
	}
	s.Grams, s.Metres, s.Hours = round(s.Grams), round(s.Metres), round(s.Hours)
	s.OwnFoot = f.Parts.OwnFoot
	if b := f.Parts.Balance; b != nil {
		s.Balance = &BalanceSummary{
			Grams:  round(b.Mass),
			Height: round(b.Centre.Y),
			Base:   pair(b.Base.Size()),
			Tilt:   round(b.Tilt),
		}
	}
	return s
}

func stripSummary(r stage.Results) *StripSummary {
	type in struct {
		Colours pipeline.ColoursFound
		Strips  pipeline.StripsFound
	}
	f, ok := stage.Inputs[in](r)
	if !ok {
		return nil
	}
	s := &StripSummary{
		Pieces: []PieceSummary{}, Least: f.Strips.Bound, Dark: []DarkSummary{}, Size: pair(f.Strips.Fit.Size),
		Strays: round(f.Strips.Astray), StraysAt: pair(f.Strips.AstrayAt),
	}
	for _, d := range f.Strips.Dark {
		s.Dark = append(s.Dark, DarkSummary{Piece: d.Piece + 1, At: pair(d.At), Length: round(d.Length)})
	}
	for _, p := range f.Strips.Pieces {
		s.Pieces = append(s.Pieces, PieceSummary{
			Strip: round(p.Strip), Path: round(p.Path), Circuit: p.Circuit + 1, Chain: p.Chain + 1,
			Colour: f.Colours.PenName(p.Ink), Start: pair(p.Start.At), End: pair(p.End.At),
		})
	}
	return s
}

func wireSummary(r stage.Results) *WireSummary {
	type in struct {
		Parts pipeline.PartsFound
		Power pipeline.PowerFound
	}
	f, ok := stage.Inputs[in](r)
	if !ok || len(f.Parts.Holes) == 0 {
		return nil
	}
	s := &WireSummary{Frame: "mm of the sign and of its parts' files, y up"}
	for _, w := range f.Parts.Harness {
		p := PairSummary{
			Circuit: w.Circuit + 1, Data: w.Data, Conductors: w.Conductors(), Area: f.Power.Circuits[w.Circuit].Inside.Area, Outside: w.Outside,
			Length: round(w.Path.Length()), From: w.From, To: w.To,
		}
		if w.Data {
			p.Area = power.Signal().Area
		}
		for _, q := range w.Path {
			p.Path = append(p.Path, pair(q))
		}
		s.Wires = append(s.Wires, p)
	}
	for _, h := range f.Parts.Holes {
		q := HoleSummary{At: pair(h.At), Diameter: round(h.Diameter), Strip: h.Strip, Wires: h.Wires}
		for _, c := range h.Circuits {
			q.Circuits = append(q.Circuits, c+1)
		}
		s.Holes = append(s.Holes, q)
	}
	return s
}

func powerSummary(r stage.Results) *PowerSummary {
	f, ok := stage.Found[pipeline.PowerFound](r)
	if !ok {
		return nil
	}
	p := &PowerSummary{Volts: f.Strip.Volts, Watts: round(f.Watts), Supply: f.Supply, Circuits: []CircuitSummary{}}
	for _, c := range f.Circuits {
		p.Circuits = append(p.Circuits, CircuitSummary{
			Amps: round(c.Amps), Fuse: c.Fuse, Wire: c.Wire.Name, Gauge: c.Gauge.Name,
			WireDrop: round(c.WireDrop), StripDrop: round(c.StripDrop), Feeds: c.Feeds,
		})
	}
	return p
}

func sizeOf(m *solid.Mesh) [3]float64 {
	lo, hi := m.Bounds()
	return [3]float64{round(hi.X - lo.X), round(hi.Y - lo.Y), round(hi.Z - lo.Z)}
}

func lineSummary(c geom.Centreline) *LineSummary {
	l := &LineSummary{Stray: round(c.Stray), Length: round(c.Length())}
	for _, k := range c.Curves {
		l.Each = append(l.Each, round(k.Length()))
		l.Corners += k.Corners
	}
	return l
}

// round keeps thousandths.
func round(v float64) float64 { return math.Round(v*1000) / 1000 }
