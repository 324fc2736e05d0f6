package pipeline

import (
	"fmt"

	"inkchannel/geom"
)

// A Problem is a place of the drawing where strip or printer will not do as the
// lines ask.
type Problem struct {
	Stage string     // that found it
	Text  string     // with place and distance
	At    geom.Point // mm of the sheet
	// OnSheet tells that At can be shown on the sheet: the place is on what lies
	// along the lines, not on the stand and the like.
	OnSheet bool
	// Flag is the setting to turn first, none if drawing anew is the only cure.
	Flag string
	// Rule tells that a fit rule is broken; else it is a thing to know.
	Rule bool
}

// Problems lists what the stages that ran found, stage by stage.
func Problems(r *Result) []Problem {
	var out []Problem
	for _, d := range r.LineDoubts {
		out = append(out, Problem{StageStrokes, fmt.Sprintf("at x %.1f, y %.1f mm %s", d.At.X, d.At.Y, d.Why), d.At, true, "drop-lines", false})
	}
	for _, t := range r.Tight {
		if r.Spread == nil {
			out = append(out, Problem{StageSpacing, tightText(t), t.At[0].Lerp(t.At[1], 0.5), true, "spread", true})
		}
	}
	for _, b := range r.Bends {
		if !b.Rounded {
			out = append(out, Problem{StageBends, bendText(b), b.At, true, "bend-radius", true})
		}
	}
	for _, j := range r.Junctions {
		if j.Cramped {
			out = append(out, Problem{StageJunctions, crampedText(j), j.At, true, "pass-on", true})
		}
	}
	up := func(p geom.Point) geom.Point { return geom.Pt(p.X, r.Size.Y-p.Y) }
	for _, w := range r.Weak {
		p := r.partNamed(w.Part)
		flat := p != nil && !p.Pose.Stand && !p.Extra && !p.Pose.Flip
		out = append(out, Problem{StageWalls, weakText(w, r.Settings.Walls), up(w.At), flat, "wall", true})
	}
	for _, c := range r.Cuts {
		text := fmt.Sprintf("the channel is cut at x %.1f, y %.1f mm, as it is larger than the bed", c.At.X, r.Size.Y-c.At.Y)
		out = append(out, Problem{StageBeds, text, up(c.At), true, "bed-width", false})
	}
	return out
}

// FailedRules lists, in words with place and distance, every fit rule that the
// lines do not keep: spacing, bends left for the maker to cut and join,
// cramped junctions, weak walls.
func FailedRules(r *Result) []string {
	var out []string
	for _, p := range Problems(r) {
		if p.Rule {
			out = append(out, p.Text)
		}
	}
	return out
}

// OnSheet tells whether a stage's review image shows the sheet, all of it.
func OnSheet(stage string) bool {
	switch stage {
	case StagePhoto, StageSheet, StageChannel, StageParts, StageBeds, StagePower:
		return false
	}
	return true
}
