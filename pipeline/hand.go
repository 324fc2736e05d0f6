package pipeline

import (
	"fmt"
	"image"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/hand"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageHand changes lines by hand.
const StageHand = "hand"

// HandSettings are the changes by hand.
type HandSettings struct{ Edits []stage.Entry }

// HandFound is the line with the changes made.
type HandFound struct {
	Line   geom.Centreline
	Missed []hand.Miss   // changes that found no line
	Edits  []stage.Entry // their places in mm of the sheet
}

func handStage() stage.Stage {
	type settings = HandSettings
	type in struct {
		Dots   DotsFound
		Shapes ShapesFound
	}
	verb := func(v hand.Verb, help string) stage.Verb {
		return stage.Verb{Name: string(v), Help: help, Places: v.Places(), More: v.More(), Unit: v.Unit(), OnStretch: v.OnStretch()}
	}
	return stage.Define(stage.Spec[settings, in, HandFound]{
		Name: StageHand, Does: "move, draw, rub out and join lines by hand",
		Settings: []stage.Setting{
			stage.Entries("edits", stage.FrameSheet, "changes by hand, one after another: move x,y x,y; bend x,y x,y; draw x,y x,y; bow x,y x,y x,y; ring x,y x,y; freehand x,y x,y ...; mirror x,y x,y x,y; rub-out x,y x,y; split x,y MM; meet x,y x,y; straighten x,y; round x,y; length x,y MM; angle x,y DEGREES; radius x,y MM; parallel x,y x,y; equal x,y x,y; tangent x,y", []stage.Verb{
				verb(hand.Move, "move a place on a line, an end or a junction: from, to"),
				verb(hand.Bend, "bend a stretch, its ends staying: a place on it, where that goes"),
				verb(hand.Draw, "draw a straight line: from, to"),
				verb(hand.Bow, "draw an arc: from, by way of, to"),
				verb(hand.Ring, "draw a circle: its middle, a place on it"),
				verb(hand.Freehand, "draw a line by hand, smoothed: press and draw, or pick its places"),
				verb(hand.Mirror, "keep one side of an axis and put its image on the other: two places of the axis, one on the side kept"),
				verb(hand.RubOut, "rub out a stretch of a line: from, to"),
				verb(hand.Split, "open a line at a place, so wide, mm on the paper"),
				verb(hand.Meet, "lead a free end to another end or line: the end, where to"),
				verb(hand.Straighten, "make a stretch straight: a place on it"),
				verb(hand.Round, "make a stretch an arc, or a closed line a circle: a place on it"),
				verb(hand.Length, "give a stretch a length, mm on the paper: a place on it, near the end that moves"),
				verb(hand.Angle, "turn a stretch to so many degrees from level: a place on it, near the end that moves"),
				verb(hand.Radius, "make a stretch an arc, or a closed line a circle, of a radius, mm on the paper: a place on it"),
				verb(hand.Parallel, "turn a stretch to run as another does: a place on it, near the end that moves, one on the other"),
				verb(hand.Equal, "make a stretch as long, or as round, as another: a place on it, near the end that moves, one on the other"),
				verb(hand.Tangent, "make a stretch an arc that runs on from the line it meets: a place on it, near where they meet"),
			}, func(s *settings) *[]stage.Entry { return &s.Edits }),
		},
		Run: func(set settings, in in) (HandFound, stage.Report, error) {
			return changeByHand(set, in.Dots, in.Shapes.Line)
		},
		Show: stage.Show{Picture: drawEdits, OnSheet: true, Problems: handProblems, Handles: handHandles},
	})
}

// meant is the line that a sign is to keep to: the one drawn, or with the changes by hand.
func (f HandFound) meant(drawn geom.Centreline) geom.Centreline {
	if len(f.Edits) > 0 {
		return f.Line
	}
	return drawn
}

func changeByHand(set HandSettings, dots DotsFound, line geom.Centreline) (f HandFound, rep stage.Report, err error) {
	// Changes are made at the size of the drawing, so that an end that goes on to a line does at any size of the sign.
	k := dots.times()
	var changes []hand.Change
	for _, e := range set.Edits {
		e.At = dots.FromPaper(e.At)
		f.Edits = append(f.Edits, e)
		changes = append(changes, hand.Change{Verb: hand.Verb(e.Verb), At: geom.Polyline(e.At).Scaled(1 / k), Value: e.Value})
	}
	if f.Line, f.Missed, err = hand.Apply(times(line, 1/k), changes); err != nil {
		return f, rep, err
	}
	f.Line = times(f.Line, k)
	for i := range f.Missed {
		f.Missed[i].At = f.Missed[i].At.Mul(k)
	}
	if len(set.Edits) == 0 {
		rep.Found = "nothing changed"
		return f, rep, nil
	}
	rep.Found = fmt.Sprintf(
		"%s made; %d lines, %.0f mm in all", stage.Count(len(changes)-len(f.Missed), "change", "changes"),
		len(f.Line.Curves), f.Line.Length(),
	)
	for _, m := range f.Missed {
		rep.Judge(0.3, "%s", f.missText(m, dots))
	}
	return f, rep, nil
}

// times is a line so many times as large.
func times(line geom.Centreline, k float64) geom.Centreline {
	return line.Mapped(func(p geom.Point) geom.Point { return p.Mul(k) })
}

func (f HandFound) missText(m hand.Miss, dots DotsFound) string {
	m.At = dots.Paper(m.At)
	return fmt.Sprintf(
		"edit %d, %s at x %.1f, y %.1f mm, was not made: %s", m.Change+1, f.Edits[m.Change].Verb, m.At.X, m.At.Y, m.Why,
	)
}

func handProblems(r stage.Results) (out []stage.Problem) {
	f := stage.Of[HandFound](r)
	for _, m := range f.Missed {
		out = append(out, stage.Problem{Text: f.missText(m, stage.Of[DotsFound](r)), At: m.At, OnSheet: true, Flag: "edits"})
	}
	return out
}

// handHandles are what can be dragged: ends, junctions, corners, and a place in the middle of each
// stretch between.
func handHandles(r stage.Results) (string, []stage.Handle) {
	f, dots := stage.Of[HandFound](r), stage.Of[DotsFound](r)
	size := dots.Frame.Size
	var out []stage.Handle
	room := max(size.X, size.Y) / handlesAcross / dots.times()
	add := func(p geom.Point, other hand.Verb) {
		near := slices.ContainsFunc(out, func(h stage.Handle) bool { return h.Place.Dist(dots.Paper(p)) < room })
		if len(out) < mostHandles && !near {
			out = append(out, stage.Handle{Place: dots.Paper(p), Share: geom.Pt(p.X/size.X, p.Y/size.Y), Other: string(other)})
		}
	}
	for _, p := range hand.Held(f.Line) {
		add(p, "")
	}
	for _, c := range f.Line.Curves {
		ruler := geom.NewRuler(c)
		for i := 1; i < len(c.Stops); i++ {
			a, b := ruler.Piece(c.Stops[i-1].Piece), ruler.Piece(c.Stops[i].Piece)
			n := max(int((b-a)/handleEvery), 1)
			for k := range n {
				add(ruler.At(a+(b-a)*(float64(k)+0.5)/float64(n)), hand.Bend)
			}
		}
	}
	return "edits", out
}

// handleEvery is how far apart, mm, places to drag lie along a line; mostHandles how many there are
// at most, and handlesAcross how many have room side by side on the sheet: a finger must not hit
// two. What has none is moved by picks.
const (
	handleEvery   = 30
	mostHandles   = 250
	handlesAcross = 22
)

// drawEdits draws the lines as they are now, and what was done to them.
func drawEdits(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.7, text)
	if err != nil {
		return nil, err
	}
	f := stage.Of[HandFound](r)
	c.Curves(stage.Of[ShapesFound](r).Line, px, 6, picture.InkTint)
	c.Curves(f.Line, px, 3, picture.MarkMain)
	missed := map[int]bool{}
	for _, m := range f.Missed {
		missed[m.Change] = true
	}
	for i, e := range f.Edits {
		col := picture.MarkThird
		what := fmt.Sprintf("%d %s", i+1, e.Verb)
		if missed[i] {
			col, what = picture.MarkOther, what+", not made"
		}
		c.SetColor(col)
		c.SetLineWidth(2)
		c.Path(e.At, px, false)
		c.Stroke()
		for _, p := range e.At {
			c.Spot(p, px, 4, col)
		}
		c.Label(e.At[0], px, what, col)
	}
	return c.Image, nil
}
