package pipeline

import (
	"encoding/hex"
	"encoding/json"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// A Summary is what a run found, for other programs. Lengths are mm.
type Summary struct {
	Photo      *PhotoSummary `json:"photo,omitempty"`
	Steps      []StepSummary `json:"steps"`
	Sheet      *SheetSummary `json:"sheet,omitempty"`
	Strokes    *NetSummary   `json:"strokes,omitempty"`
	Centreline *LineSummary  `json:"centreline,omitempty"`
	Fit        *FitSummary   `json:"fit,omitempty"`
	Channel    *SolidSummary `json:"channel,omitempty"`
	Sign       *SignSummary  `json:"sign,omitempty"`
	Strips     *StripSummary `json:"strips,omitempty"`
	Power      *PowerSummary `json:"power,omitempty"`
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
	Jumpers float64        `json:"jumpers_mm"`
}

// A PieceSummary tells of one piece of strip.
type PieceSummary struct {
	Strip  float64    `json:"strip_mm"`
	Path   float64    `json:"path_mm"`
	Chain  int        `json:"chain"`
	Colour string     `json:"colour"`
	Start  [2]float64 `json:"start_mm"`
	End    [2]float64 `json:"end_mm"`
}

// A PowerSummary tells what feeds the strip.
type PowerSummary struct {
	Volts    float64          `json:"volts"`
	Watts    float64          `json:"watts"`
	Supply   float64          `json:"supply_watts"`
	Circuits []CircuitSummary `json:"circuits"`
}

// A CircuitSummary tells of one chain.
type CircuitSummary struct {
	Amps      float64 `json:"amps"`
	Fuse      float64 `json:"fuse_amps"`
	Wire      string  `json:"wire"`
	Gauge     string  `json:"gauge"`
	WireDrop  float64 `json:"lost_on_wires_volts"`
	StripDrop float64 `json:"lost_on_strip_volts"`
	Feeds     int     `json:"feeds"`
}

// A FitSummary tells how the lines fit strip and printer. Places are mm in the
// sheet's frame, those of weak walls in the part's own.
type FitSummary struct {
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
	Sure  float64  `json:"sure"` // 0 to 1
	Why   string   `json:"why"`
}

// A SheetSummary tells of the sheet and the scale.
type SheetSummary struct {
	Found   bool    `json:"found"`
	Page    string  `json:"page"`
	Width   float64 `json:"width_mm"`
	Height  float64 `json:"height_mm"`
	PxPerMm float64 `json:"px_per_mm"`
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
func Summarise(r *Result) ([]byte, error) {
	var s Summary
	ran := map[string]bool{}
	for _, st := range r.Steps {
		ran[st.Stage] = true
		s.Steps = append(s.Steps, StepSummary{st.Stage, st.Found, st.Notes, round(st.Sure), st.Why})
	}
	if ran[StagePhoto] {
		s.Photo = &PhotoSummary{r.Source, hex.EncodeToString(r.Sum[:])}
	}
	if ran[StageDots] {
		size := r.Size
		s.Sheet = &SheetSummary{r.Sheet.Found, string(r.Dots.Page), round(size.X), round(size.Y), round(r.Dots.PxPerMm)}
	}
	if ran[StageStrokes] {
		t := r.Strokes.Topology()
		s.Strokes = &NetSummary{len(r.Strokes.Strokes), t.Parts, t.Ends, t.Junctions, t.Loops, round(r.PenWidth)}
	}
	if ran[StageCentreline] {
		s.Centreline = lineSummary(r.Centreline)
	}
	if ran[StageChannel] {
		m := r.Channel.Solid
		s.Channel = &SolidSummary{
			sizeOf(m), round(m.Volume()), len(m.Triangles), len(r.Channel.Body),
		}
	}
	if ran[StageJunctions] || len(r.Line.Curves) > 0 && ran[StageSpacing] {
		s.Fit = fitSummary(r)
	}
	if ran[StageBeds] {
		s.Sign = signSummary(r)
	}
	if ran[StageStrips] {
		s.Strips = stripSummary(r)
	}
	if ran[StagePower] {
		s.Power = powerSummary(r)
	}
	data, err := json.MarshalIndent(s, "", "  ")
	return append(data, '\n'), err
}

func pair(p geom.Point) [2]float64 { return [2]float64{round(p.X), round(p.Y)} }

func fitSummary(r *Result) *FitSummary {
	// Empty lists are written as such.
	f := &FitSummary{
		Turned: round(r.Symmetry.Turn), Mirrored: round(r.Symmetry.Moved), ShapeMove: round(r.Shapes.Moved),
		Shapes: []ShapeSummary{}, Tight: []TightSummary{}, Bends: []BendSummary{}, Junctions: []JunctionSummary{}, Weak: []WeakSummary{},
	}
	for _, s := range r.Shapes.Shapes {
		f.Shapes = append(f.Shapes, ShapeSummary{string(s.Kind), s.Curve + 1, round(s.Radius), round(s.Moved)})
	}
	for _, t := range r.Tight {
		f.Tight = append(f.Tight, TightSummary{[2]int{t.Curves[0] + 1, t.Curves[1] + 1}, [2][2]float64{pair(t.At[0]), pair(t.At[1])}, round(t.Distance), round(t.Length)})
	}
	if r.Spread != nil {
		f.Spread = round(r.Spread.Moved)
	}
	for _, b := range r.Bends {
		f.Bends = append(f.Bends, BendSummary{b.Curve + 1, pair(b.At), round(b.Radius), round(b.Turn), b.Rounded, round(b.Moved), b.Why})
	}
	for _, j := range r.Junctions {
		s := JunctionSummary{At: pair(j.At), Passes: j.Passes.Curve + 1, Butts: []int{}, Cramped: j.Cramped}
		for _, b := range j.Butts {
			s.Butts = append(s.Butts, b.Curve+1)
		}
		f.Junctions = append(f.Junctions, s)
	}
	for _, w := range r.Weak {
		f.Weak = append(f.Weak, WeakSummary{w.Part, string(w.Kind), [3]float64{round(w.At.X), round(w.At.Y), round(w.Z)}, round(w.Size)})
	}
	return f
}

func signSummary(r *Result) *SignSummary {
	s := &SignSummary{Beds: r.Layout.Beds, Least: r.Layout.Least, Cuts: len(r.Cuts), Bridges: round(lengthOf(r.Sign.Bridges)), Wires: round(lengthOf(r.Sign.Wires))}
	for i, p := range r.Prints {
		pl := r.Layout.Places[i]
		s.Prints = append(s.Prints, PrintSummary{
			Name: p.Name, File: PartFile(p.Name), Size: sizeOf(p.Mesh), Volume: round(p.Mesh.Volume()), Grams: round(p.Estimate.Grams),
			Bed: pl.Bed + 1, Turn: round(pl.Turn), At: pair(pl.Move),
		})
		s.Grams, s.Metres, s.Hours = s.Grams+p.Estimate.Grams, s.Metres+p.Estimate.Metres, s.Hours+p.Estimate.Seconds/3600
	}
	s.Grams, s.Metres, s.Hours = round(s.Grams), round(s.Metres), round(s.Hours)
	if b := r.Sign.Balance; b != nil {
		s.Balance = &BalanceSummary{round(b.Mass), round(b.Centre.Y), pair(b.Base.Size()), round(b.Tilt)}
	}
	return s
}

func stripSummary(r *Result) *StripSummary {
	s := &StripSummary{Pieces: []PieceSummary{}, Least: r.Strips.Bound}
	for _, p := range r.Strips.Pieces {
		s.Pieces = append(s.Pieces, PieceSummary{round(p.Strip), round(p.Path), p.Chain + 1, r.penName(p.Ink), pair(p.Start.At), pair(p.End.At)})
	}
	for _, c := range r.Strips.Chains {
		s.Jumpers = round(s.Jumpers + jumperLength(c.Jumpers))
	}
	return s
}

func powerSummary(r *Result) *PowerSummary {
	f := r.Feeding
	p := &PowerSummary{r.Settings.Strip.Volts, round(f.Watts), f.Supply, []CircuitSummary{}}
	for _, c := range f.Circuits {
		p.Circuits = append(p.Circuits, CircuitSummary{round(c.Amps), c.Fuse, c.Wire.Name, c.Gauge.Name, round(c.WireDrop), round(c.StripDrop), c.Feeds})
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
