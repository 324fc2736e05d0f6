package pipeline

import (
	"encoding/json"
	"math"

	"inkchannel/geom"
)

// A Summary is what a run found, for other programs. Lengths are mm.
type Summary struct {
	Steps      []StepSummary `json:"steps"`
	Sheet      *SheetSummary `json:"sheet,omitempty"`
	Strokes    *NetSummary   `json:"strokes,omitempty"`
	Centreline *LineSummary  `json:"centreline,omitempty"`
	Channel    *SolidSummary `json:"channel,omitempty"`
}

// A StepSummary is one stage's report.
type StepSummary struct {
	Stage string   `json:"stage"`
	Found string   `json:"found"`
	Notes []string `json:"notes,omitempty"`
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
		s.Steps = append(s.Steps, StepSummary{st.Stage, st.Found, st.Notes})
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
		lo, hi := m.Bounds()
		s.Channel = &SolidSummary{
			[3]float64{round(hi.X - lo.X), round(hi.Y - lo.Y), round(hi.Z - lo.Z)},
			round(m.Volume()), len(m.Triangles), len(r.Channel.Body),
		}
	}
	data, err := json.MarshalIndent(s, "", "  ")
	return append(data, '\n'), err
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
