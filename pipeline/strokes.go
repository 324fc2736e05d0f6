package pipeline

import (
	"cmp"
	"fmt"
	"image"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageStrokes follows the lines as pen strokes.
const StageStrokes = "strokes"

// StrokesFound are the pen strokes.
type StrokesFound struct {
	Strokes  geom.Network         // mm of the sheet
	PenWidth float64              // mm
	Doubts   []vision.Doubt       // where lines could be read another way, mm of the sheet
	Set      vision.TraceSettings // its places in mm of the sheet
}

func strokesStage() stage.Stage {
	type settings = vision.TraceSettings
	type in struct {
		Sheet    SheetFound
		Ink      InkFound
		Dots     DotsFound
		Skeleton SkeletonFound
	}
	return stage.Define(stage.Spec[settings, in, StrokesFound]{
		Name: StageStrokes, Does: "follow the lines as pen strokes, centred on the ink",
		Default: vision.DefaultTrace(),
		Settings: []stage.Setting{
			stage.Number("spur", "pen widths", "remove dead ends that stick out less than this", 0, 10, func(s *settings) *float64 { return &s.Spur }),
			stage.PlaceGroups("drop-lines", stage.FrameSheet, "lines to remove, each by a place on it, as x,y x,y; a line goes from junction to junction", 1, func(s *settings) *[]geom.Point { return &s.Drop }),
			stage.PlaceGroups("join-ends", stage.FrameSheet, "free ends to join, in pairs, as x,y x,y", 2, func(s *settings) *[]geom.Point { return &s.Join }),
			stage.PlaceGroups("pass-on", stage.FrameSheet, "lines that continue into each other at a junction, in pairs: one place on each, near the junction, as x,y x,y", 2, func(s *settings) *[]geom.Point { return &s.Pass }),
			stage.Number("shortest", "mm", "remove separate strokes shorter than this; 0 follows the pen: three pen widths, at least 1.5 and at most 3 mm", 0, 100, func(s *settings) *float64 { return &s.Shortest }),
		},
		Run: func(set settings, in in) (StrokesFound, stage.Report, error) {
			return traceStrokes(set, in.Sheet.Finer, in.Ink, in.Dots, in.Skeleton)
		},
		Show: stage.Show{Picture: drawStrokes, OnSheet: true, Problems: strokeProblems},
	})
}

func traceStrokes(
	set vision.TraceSettings, finer float64, ink InkFound, dots DotsFound, skeleton SkeletonFound,
) (f StrokesFound, rep stage.Report, err error) {
	t, err := vision.TraceLarger(skeleton.Ink, skeleton.Skeleton, dots.PxPerMm, dots.times(), set)
	if err != nil {
		return f, rep, err
	}
	k := 1 / dots.PxPerMm
	t.Doubts = slices.Concat(t.Doubts, skeleton.Slivers, skeleton.Areas)
	f = StrokesFound{Strokes: t.Network.Scaled(k), PenWidth: t.PenWidth * k, Doubts: t.Doubts, Set: set}
	for i := range f.Doubts {
		f.Doubts[i].At, f.Doubts[i].Stake = dots.Frame.Mm(t.Doubts[i].At), t.Doubts[i].Stake*k
	}
	for _, list := range []*[]geom.Point{&f.Set.Drop, &f.Set.Join, &f.Set.Pass} {
		*list = dots.FromPaper(*list)
	}
	slices.SortStableFunc(f.Doubts, func(a, b vision.Doubt) int {
		return cmp.Or(cmp.Compare(weight(b), weight(a)), cmp.Compare(a.At.X, b.At.X))
	})
	top := f.Strokes.Topology()
	rep.Found = fmt.Sprintf(
		"%s, %.0f mm in all, pen %.2f mm wide; %s, %s, %s; %s removed",
		stage.Count(len(f.Strokes.Strokes), "stroke", "strokes"), geom.TotalLength(f.Strokes.Strokes), f.PenWidth,
		stage.Count(top.Ends, "free end", "free ends"), stage.Count(top.Junctions, "junction", "junctions"),
		stage.Count(top.Loops, "loop", "loops"), stage.Count(t.Spurs, "spur", "spurs"),
	)
	if said := handText(set); said != "" {
		rep.Note("%s", said)
	}
	if t.Short > 0 {
		rep.Note("%s shorter than %.1f mm removed", stage.Count(t.Short, "mark", "marks"), t.Shortest)
	}
	if n := f.runningOff(dots.Frame.Size, ink.Set.Margin); n > 0 {
		rep.Note(
			"%s at the sheet's edge, or at the margin along it; what lies beyond is not in the sign",
			stage.Count(n, "line ends", "lines end"),
		)
	}
	blur := skeleton.Ink.EdgeBlur(skeleton.Skeleton)
	if soft := blur / t.PenWidth; soft > softNote && blur > softLeast*finer {
		rep.Note(
			"the photo is out of focus: the ink's edges are blurred by %.1f px; lines that are fine or close together may be "+
				"lost; hold still, and let the camera focus on the paper", blur/finer,
		)
	}
	judgeStrokes(&rep, f, t.Spurs, dots, finer, ink.Ruling.Lines > 0)
	return f, rep, nil
}

// runningOff is how many lines end at the border of a sheet of that size, along which
// margin mm were not looked at.
func (f StrokesFound) runningOff(size geom.Point, margin float64) (n int) {
	least := margin + f.PenWidth
	for _, k := range f.Strokes.Knots {
		if k.Degree == 1 && min(k.At.X, k.At.Y, size.X-k.At.X, size.Y-k.At.Y) < least {
			n++
		}
	}
	return n
}

// weight is what a doubt is ranked by.
func weight(d vision.Doubt) float64 {
	if d.Weak {
		return d.Stake / 10
	}
	return d.Stake
}

// handText tells what was said by hand, nothing if nothing was.
func handText(s vision.TraceSettings) string {
	var did []string
	for _, h := range []struct {
		n                 int
		one, several, how string
	}{
		{n: len(s.Drop), one: "line", several: "lines", how: "removed"},
		{n: len(s.Join) / 2, one: "pair of ends", several: "pairs of ends", how: "joined"},
		{n: len(s.Pass) / 2, one: "pair of lines", several: "pairs of lines", how: "told to pass"},
	} {
		if h.n > 0 {
			did = append(did, stage.Count(h.n, h.one, h.several)+" "+h.how)
		}
	}
	if len(did) == 0 {
		return ""
	}
	return "by hand: " + strings.Join(did, ", ")
}

// When the strokes found are in doubt. In a drawing of a few strokes each place that
// could be read another way counts; in a page of many, how much line is at stake.
// Found on the wide accuracy set and on real photographs.
const (
	fewStrokes   = 20
	stakeShare   = 0.045 // of all line: more at stake is in doubt,
	stakeRuled   = 0.022 // and on ruled paper, where rules cut strokes short and are taken for some
	thinnest     = 4.0   // px of the sheet's picture: a line's width under which short ends are lost
	thinnestMany = 2.5   // px, where there are many strokes
	mostNamed    = 10    // places that are named and drawn, those with most at stake
)

// When a photo is out of focus: its blur's standard deviation, in pen widths, and px. Found
// on real photographs, of which sharp ones come to 0.4.
const (
	softNote  = 0.45
	softLeast = 3
)

func judgeStrokes(rep *stage.Report, f StrokesFound, spurs int, dots DotsFound, finer float64, ruled bool) {
	sure, why := 0.95, "no line could be read another way"
	few := len(f.Strokes.Strokes) <= fewStrokes
	if n := len(f.Doubts); n > 0 {
		why = doubtText(f.Doubts[0], dots)
		if n > 1 {
			why = "place 1, " + why + "; and " + stage.Count(n-1, "more place", "more places")
		}
		share := f.atStake() / geom.TotalLength(f.Strokes.Strokes)
		most := stakeShare
		if ruled {
			most = stakeRuled
		}
		if sure = max(0.95-0.45*share/most, 0.1); few {
			sure = min(sure, 0.4)
		} else {
			why = fmt.Sprintf("%.1f %% of the line could be read another way; %s", 100*share, why)
		}
	}
	least := thinnest
	if !few {
		least = thinnestMany
	}
	if px := f.PenWidth * dots.PxPerMm; px < least && sure > 0.4 {
		sure, why = 0.4, fmt.Sprintf(
			"the pen's lines are only %.1f px wide in the photo; photograph from closer, or draw with a broader pen",
			px/finer,
		)
	}
	if ruled && spurs > len(f.Strokes.Strokes) && sure > 0.4 {
		sure, why = 0.4, fmt.Sprintf(
			"%d stubs, more than there are strokes, were removed where printed rules meet the ink; short lines along "+
				"the rules may be lost", spurs,
		)
	}
	rep.Judge(sure, "%s", why)
	if sure >= 0.5 || len(f.Doubts) < 2 {
		return
	}
	for i, d := range f.named()[1:] {
		rep.Note("place %d: %s", i+2, doubtText(d, dots))
	}
}

// atStake is how much line, mm, could be read another way.
func (f StrokesFound) atStake() (sum float64) {
	for _, d := range f.Doubts {
		if !d.Weak {
			sum += d.Stake
		}
	}
	return sum
}

// named are the doubts to name and to draw: those with most at stake.
func (f StrokesFound) named() []vision.Doubt { return f.Doubts[:min(len(f.Doubts), mostNamed)] }

// doubtText names the place as settings take it: on the paper.
func doubtText(d vision.Doubt, dots DotsFound) string {
	at := dots.Paper(d.At)
	return fmt.Sprintf("at x %.1f, y %.1f mm %s", at.X, at.Y, d.Why)
}

func strokeProblems(r stage.Results) (out []stage.Problem) {
	dots := stage.Of[DotsFound](r)
	for _, d := range stage.Of[StrokesFound](r).named() {
		out = append(out, stage.Problem{Text: doubtText(d, dots), At: d.At, OnSheet: true, Flag: "drop-lines"})
	}
	return out
}

// drawStrokes draws each stroke in a colour of its own, with its ends and
// junctions.
func drawStrokes(r stage.Results, text string) (*image.RGBA, error) {
	c, err := stage.Of[SheetFound](r).Ground.Canvas(0.55, text)
	if err != nil {
		return nil, err
	}
	px, f := stage.Of[DotsFound](r).PxPerMm, stage.Of[StrokesFound](r)
	for i, s := range f.Strokes.Strokes {
		c.SetColor(picture.StrokeColour(i))
		c.SetLineWidth(3.5)
		for _, run := range s.Runs {
			c.Path(run, px, false)
		}
		c.Stroke()
	}
	drawKnots(c, f.Strokes.Knots, px)
	drawHand(c, f.Set, px)
	for i, d := range f.named() {
		c.Ring(d.At, px, 18, 3, picture.MarkOther)
		c.Label(d.At, px, fmt.Sprintf("%d?", i+1), picture.MarkOther)
	}
	return c.Image, nil
}

func drawKnots(c *picture.Canvas, knots []geom.Knot, px float64) {
	for _, k := range knots {
		switch {
		case k.Degree == 1:
			c.Spot(k.At, px, 5, picture.MarkThird)
		case k.Degree > 2:
			c.Spot(k.At, px, 7, picture.MarkOther)
		}
	}
}

// drawHand marks what was said by hand: a cross where a line was removed,
// rings where ends were joined or lines told to pass.
func drawHand(c *picture.Canvas, s vision.TraceSettings, px float64) {
	c.SetColor(picture.MarkOther)
	c.SetLineWidth(3)
	for _, p := range s.Drop {
		x, y, r := p.X*px*c.K, p.Y*px*c.K, 9.0
		c.DrawLine(x-r, y-r, x+r, y+r)
		c.DrawLine(x-r, y+r, x+r, y-r)
		c.Stroke()
		c.Label(p, px, "removed", picture.MarkOther)
	}
	for _, pairs := range []struct {
		what   string
		places []geom.Point
	}{{"joined", s.Join}, {"pass", s.Pass}} {
		for i, p := range pairs.places {
			c.Ring(p, px, 9, 3, picture.MarkThird)
			if i%2 == 1 {
				c.Label(pairs.places[i-1].Lerp(p, 0.5), px, pairs.what, picture.MarkThird)
			}
		}
	}
}
