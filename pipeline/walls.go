package pipeline

import (
	"fmt"
	"image"
	"image/color"

	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageWalls looks for what prints badly.
const StageWalls = "walls"

// WallsSettings tell what the printer can do.
type WallsSettings struct {
	Bridge float64 // mm, the widest gap it spans without support
}

// A WeakPart is a weak place of a part.
type WeakPart struct {
	Part string
	rules.Weak
}

// WallsFound are the places that print badly, by the limits.
type WallsFound struct {
	Weak   []WeakPart
	Limits rules.WallSettings
}

func wallsStage() stage.Stage {
	type settings = WallsSettings
	type in struct {
		Channel ChannelFound
		Parts   PartsFound
	}
	return stage.Define(stage.Spec[settings, in, WallsFound]{
		Name: StageWalls, Does: "look for places that print badly",
		Default: WallsSettings{Bridge: rules.DefaultWalls().Bridge},
		Settings: []stage.Setting{
			stage.Number("longest-bridge", "mm", "widest gap the printer spans without support", 1, 100, func(s *settings) *float64 { return &s.Bridge }),
		},
		Run: func(set settings, in in) (WallsFound, stage.Report, error) {
			return checkWalls(rules.WallSettings{Line: in.Channel.Line, Bridge: set.Bridge}, in.Parts)
		},
		Show: stage.Show{Picture: drawWalls, OnSheet: true, Problems: wallProblems},
	})
}

func checkWalls(set rules.WallSettings, sign PartsFound) (f WallsFound, rep stage.Report, err error) {
	f.Limits = set
	found := make([][]rules.Weak, len(sign.Parts))
	err = parallel.Try(len(found), func(i int) (err error) {
		found[i], err = rules.Walls(sign.Parts[i].Solid, set)
		return err
	})
	if err != nil {
		return f, rep, err
	}
	count := map[rules.WeakKind]int{}
	for i, ws := range found {
		for _, w := range ws {
			f.Weak = append(f.Weak, WeakPart{sign.Parts[i].Name, w})
			count[w.Kind]++
		}
	}
	for _, w := range firstOf(f.Weak) {
		rep.Note("%s", weakText(w, set))
	}
	noteMore(&rep, len(f.Weak))
	if count[rules.WeakSliver] > 0 {
		rep.Judge(0.6, "some plastic is thinner than a printed line")
	}
	rep.Found = fmt.Sprintf(
		"%s thinner than %g mm, %s wider than %g mm", stage.Count(count[rules.WeakSliver], "sliver", "slivers"),
		set.Line, stage.Count(count[rules.WeakCeiling], "unsupported span", "unsupported spans"), set.Bridge,
	)
	return f, rep, nil
}

func weakText(w WeakPart, s rules.WallSettings) string {
	at := fmt.Sprintf("%s at x %.1f, y %.1f, z %.1f mm", w.Part, w.At.X, w.At.Y, w.Z)
	if w.Kind == rules.WeakSliver {
		return fmt.Sprintf("%s: %.2f mm² is thinner than one printed line (%g mm)", at, w.Size, s.Line)
	}
	return fmt.Sprintf("%s: a ceiling here is %.1f mm from its nearest support; print supports there", at, w.Size)
}

// inPlan reports whether a part lies in the sign's plan as it is printed.
func inPlan(p parts.Part) bool { return !p.Pose.Stand && !p.Extra && !p.Pose.Flip }

func wallProblems(r stage.Results) (out []stage.Problem) {
	f, sign, frame := stage.Of[WallsFound](r), stage.Of[PartsFound](r), stage.Of[DotsFound](r).Frame
	for _, w := range f.Weak {
		p := sign.Named(w.Part)
		out = append(
			out,
			stage.Problem{
				Text:    weakText(w, f.Limits),
				At:      frame.Sheet(w.At),
				OnSheet: p != nil && inPlan(*p),
				Flag:    "wall",
				Rule:    true,
			},
		)
	}
	return out
}

// drawWalls shows the rear of the sign in plan, where grooves, seats and holes
// are, with what prints badly.
func drawWalls(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.85, text)
	if err != nil {
		return nil, err
	}
	f, sign, frame := stage.Of[WallsFound](r), stage.Of[PartsFound](r), stage.Of[DotsFound](r).Frame
	fill := func(p solid.Plan, col color.Color) {
		c.SetColor(col)
		c.FillPlan(p, px, frame.Sheet)
	}
	for _, p := range sign.Parts {
		switch {
		case !inPlan(p):
		case p.Channel:
			c.SetColor(color.NRGBA{0, 104, 173, 70})
			c.FillShadow(p.Solid, px, frame.Sheet)
			for _, l := range p.Solid { // darker where there is more
				fill(l.Plan, color.NRGBA{0, 60, 110, 36})
			}
		default:
			c.SetColor(color.NRGBA{90, 90, 90, 70})
			c.FillShadow(p.Solid, px, frame.Sheet)
		}
	}
	for _, w := range sign.Wires {
		c.SetColor(picture.MarkThird)
		c.SetLineWidth(3)
		c.Path(frame.SheetLine(w), px, false)
		c.Stroke()
	}
	for i, h := range sign.Holes {
		c.Spot(frame.Sheet(h.At), px, 6, picture.MarkThird)
		c.Label(frame.Sheet(h.At), px, HoleLabel(sign, stage.Of[StripsFound](r), i), picture.MarkThird)
	}
	for _, w := range f.Weak {
		if p := sign.Named(w.Part); p != nil && inPlan(*p) {
			c.Ring(frame.Sheet(w.At), px, 12, 3, picture.MarkOther)
		}
	}
	return c.Image, nil
}

// HoleLabel is what hole n is called where it is drawn: with the piece that starts there.
func HoleLabel(sign PartsFound, strips StripsFound, n int) string {
	h := sign.Holes[n]
	if !h.Strip {
		return "wires come in"
	}
	chain := strips.Chains[h.Tap].Pieces
	piece := chain[0] + 1
	if h.Out {
		return fmt.Sprintf("hole %d: data from piece %d", n, chain[len(chain)-1]+1)
	}
	if h.Bore {
		return fmt.Sprintf("bore's mouth: piece %d", piece)
	}
	return fmt.Sprintf("hole %d: piece %d", n, piece)
}
