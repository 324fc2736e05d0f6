package pipeline

import (
	"fmt"
	"math"

	"inkchannel/geom/rules"
	"inkchannel/vision"
)

// A Doubt is where a stage is not sure of what it found, and why.
type Doubt struct {
	Stage string
	Sure  float64 // 0 to 1
	Why   string
}

// leastSure is the confidence under which a stage is not sure.
const leastSure = 0.5

// Doubts lists the stages that are not sure of what they found.
func (r *Result) Doubts() []Doubt {
	var out []Doubt
	for _, s := range r.Steps {
		if s.Unsure() {
			out = append(out, Doubt{s.Stage, s.Sure, s.Why})
		}
	}
	return out
}

// sure is how sure a stage that has just run is, and why. The limits were found
// on the wide accuracy set; the figures rank, they are no probabilities.
func (r *Result) sure(stage string) (float64, string) {
	switch stage {
	case StagePhoto:
		if m := float64(r.Photo.W*r.Photo.H) / 1e6; m < 1 {
			return 0.4, fmt.Sprintf("the photo has only %.1f megapixels", m)
		}
		return 1, "decoded whole"
	case StageSheet:
		return r.sureOfSheet()
	case StageInk:
		return r.sureOfInk()
	case StageDots:
		return r.sureOfDots()
	case StageStrokes:
		return r.sureOfStrokes()
	case StageColours:
		if n := len(r.Pens.All); n > 1 {
			return 0.8, fmt.Sprintf("%d pens told apart by colour", n)
		}
		return 1, "one pen"
	case StageSymmetry:
		if a := r.Symmetry.Axis; a != nil && a.Share < 0.6 && r.Settings.Symmetry.Axis == nil {
			return 0.4, fmt.Sprintf("only %.0f %% of the lines have a partner across the axis", 100*a.Share)
		}
	case StageJunctions:
		for _, j := range r.Junctions {
			if len(j.Butts) > 0 && j.Passes.Turn > 60 && j.Passes.Turn < 180 {
				return 0.6, "at a junction no line runs straight on"
			}
		}
	case StageWalls:
		for _, w := range r.Weak {
			if w.Kind == rules.WeakSliver {
				return 0.6, "some plastic is thinner than a printed line"
			}
		}
	}
	return 1, "computed from the step before"
}

func (r *Result) sureOfSheet() (float64, string) {
	sh := r.Sheet
	long := float64(max(r.Photo.Colour.W, r.Photo.Colour.H))
	switch {
	case !sh.Found:
		return 0.3, "no sheet was seen, so the perspective is not undone"
	case len(r.Settings.Sheet.Corners) > 0:
		return 1, "corners given by hand"
	case sh.Stray > max(0.0002*long, 0.45):
		return 0.4, fmt.Sprintf("the edges seen stray by %.2f px from a sheet's", sh.Stray)
	case sh.Bowed:
		return 0.7, fmt.Sprintf("the sheet is bowed; it was laid flat by its edges, fitted to %.2f px", sh.Stray)
	}
	return 0.95, fmt.Sprintf("edges seen along %.0f %% of each side at least, fitted to %.2f px", 100*sh.Support, sh.Stray)
}

func (r *Result) sureOfInk() (float64, string) {
	i := r.Ink
	switch {
	case i.Darkness < 0.25:
		return 0.3, fmt.Sprintf("the ink is only %.0f %% darker than the paper", 100*i.Darkness)
	case i.Slight > 0:
		return 0.4, fmt.Sprintf("%d %s hardly larger than what is dropped", i.Slight, plural(i.Slight, "spot or gap is", "spots or gaps are"))
	case i.Faint > 0:
		return 0.4, fmt.Sprintf("%d %s nearly large enough to stay", i.Faint, plural(i.Faint, "spot or gap that was dropped is", "spots or gaps that were dropped are"))
	}
	return 0.95, fmt.Sprintf("ink %.0f %% darker than the paper", 100*i.Darkness)
}

// pageOff is how far the dots may make a known page too large or small, as a
// share, before either is in doubt.
const pageOff = 0.005

func (r *Result) sureOfDots() (float64, string) {
	d := r.Dots
	known := d.Page != vision.PageFree && r.Sheet.Found
	switch {
	case len(r.Settings.Dots.Places) > 0:
		return 1, "dots given by hand"
	case known && math.Abs(d.PageOff) > pageOff:
		return 0.4, fmt.Sprintf("by the dots the %s sheet is %+.1f %% off its true size", d.Page, 100*d.PageOff)
	case known:
		return 0.95, fmt.Sprintf("the dots agree with the %s sheet to %.2f %%", d.Page, 100*math.Abs(d.PageOff))
	case len(d.Candidates) > 2:
		return 0.4, fmt.Sprintf("%d spots look like dots, and the sheet's size does not tell which are", len(d.Candidates))
	}
	return 0.8, "two dots seen, nothing to check them by"
}

// thinnest is the width of a line, px, under which short ends are lost.
const thinnest = 4

func (r *Result) sureOfStrokes() (float64, string) {
	sure, why := 0.95, "no line could be read otherwise"
	if px := r.PenWidth * r.Dots.PxPerMm; px < thinnest {
		sure, why = 0.4, fmt.Sprintf("the pen's lines are only %.1f px wide in the photo; photograph from nearer or with a broader pen", px)
	}
	for _, d := range r.LineDoubts {
		if d.Sure < sure {
			sure, why = d.Sure, fmt.Sprintf("at x %.1f, y %.1f mm %s", d.At.X, d.At.Y, d.Why)
		}
	}
	if n := len(r.LineDoubts); n > 1 {
		why += fmt.Sprintf("; and %d more places", n-1)
	}
	return sure, why
}
