package pipeline

import (
	"cmp"
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/geom/rules"
	"inkchannel/geom/strip"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// StageStrips covers the lines with pieces of strip.
const StageStrips = "strips"

// StripsSettings tune how strip covers the lines.
type StripsSettings struct {
	Name  string       // of the strip
	Cut   float64      // mm between its cut marks
	Turn  float64      // degrees, the sharpest that the strip takes at a junction
	Hold  parts.Hold   // how the sign is held
	Feeds []geom.Point // where wires are to come up, by hand, mm of the sheet
	Foot  []geom.Point // the foot's place by hand, mm of the sheet, if it is given
	// How far free ends may move, mm, and the size of lines change, %, so that strip
	// fills them.
	FitEnds, FitSize float64
	FitJoints        int     // how often more a piece may be cut for the same
	Accept           float64 // mm that the sign may stray from the drawing without a question
	// What says how much current the wires carry, and so how thick they are.
	Volts, Watts float64 // Watts for each metre
	Kind         power.Kind
}

// StripsFound is how strip covers the lines, mm of the sheet.
type StripsFound struct {
	strip.Plan
	StripsSettings
	Line geom.Centreline // what the strips cover and the parts are made on, mm of the sheet
	Fit  LengthsFit
	// Astray is how far the line is from the drawn one where it is farthest, mm: by
	// symmetry, shapes, spreading, bends and fitting; and AstrayAt where that is.
	Astray   float64
	AstrayAt geom.Point
	Feed     geom.Point   // where the wires come in
	Wires    []power.Wire // of each circuit, behind the channels
	Dark     []strip.Dark // stretches that no strip lights, longer than longDark

	joints int // that fitting added

	route strip.Settings
}

// A LengthsFit is how the line was changed so that strip, which is cut only at its marks, fills
// it.
type LengthsFit struct {
	Size    geom.Point // width and height by those that were drawn
	Changes []strip.Change
}

// longDark is the length, mm, beyond which a dark stretch of line is told; common
// practice, no source.
const longDark = 3

// defaultTurn is the sharpest turn, degrees, that strip takes at a junction;
// common practice, no source.
const defaultTurn = 20

func stripsStage() stage.Stage {
	type settings = StripsSettings
	type in struct {
		Dots      DotsFound
		Drawn     CentrelineFound
		Hand      HandFound
		Spacing   SpacingFound
		Bends     BendsFound
		Junctions JunctionsFound
	}
	def := power.DefaultStrip()
	return stage.Define(stage.Spec[settings, in, StripsFound]{
		Name: StageStrips, Does: "fit the lines to the strip's cut marks, and cover them with few pieces",
		Default: StripsSettings{Name: def.Name, Cut: def.Cut, Turn: defaultTurn, FitEnds: fitEnds, FitSize: fitSize, FitJoints: fitJoints, Accept: acceptChange, Hold: parts.HoldStand, Volts: def.Volts, Watts: def.Watts, Kind: def.Kind},
		Settings: []stage.Setting{
			stage.Name("strip-name", "the strip's name in the parts list", func(s *settings) *string { return &s.Name }),
			stage.Number("strip-cut", "mm", "distance between the strip's cut marks", 1, 1000, func(s *settings) *float64 { return &s.Cut }),
			stage.Number("strip-turn", "degrees", "sharpest turn that the strip can make at a junction", 1, 90, func(s *settings) *float64 { return &s.Turn }),
			stage.Number("fit-ends", "mm", "how far free ends may be moved along their lines so that whole cuts of strip fill them; 0 leaves them", 0, 50, func(s *settings) *float64 { return &s.FitEnds }),
			stage.Number("fit-size", "%", "how much the drawing, or a closed line by itself, may grow or shrink for the same; 0 leaves it", 0, 10, func(s *settings) *float64 { return &s.FitSize }),
			stage.Whole("fit-joints", "", "how often more a piece of strip may be cut and soldered so that no place stays dark for long; 0 never", 0, 3, func(s *settings) *int { return &s.FitJoints }),
			stage.Number("accept-change", "mm", "how far the sign may stray from the drawing at its worst place before that is asked about", 0, 1000, func(s *settings) *float64 { return &s.Accept }),
			stage.Number("strip-volts", "V", "the strip's voltage", 1, 60, func(s *settings) *float64 { return &s.Volts }).Called("power/strip-volts"),
			stage.Number("strip-watts", "W/m", "power of each metre of strip", 0.1, 60, func(s *settings) *float64 { return &s.Watts }).Called("power/strip-watts"),
			stage.Choice("strip-kind", "how the strip is driven: plain, or addressable by data wires that run from piece to piece", []power.Kind{power.Plain, power.Addressable}, func(s *settings) *power.Kind { return &s.Kind }).Called("power/strip-kind"),
			stage.Choice("hold", "how the sign is held: stand, keyhole, ears, pads or none", []parts.Hold{parts.HoldStand, parts.HoldKeyhole, parts.HoldEars, parts.HoldPads, parts.HoldNone}, func(s *settings) *parts.Hold { return &s.Hold }).Called("parts/hold"),
			stage.PlaceGroups("feed-at", stage.FrameSheet, "where wires come up to a strip, each on an end or on a closed line, as x,y x,y", 1, func(s *settings) *[]geom.Point { return &s.Feeds }),
			stage.Places("foot-at", stage.FrameSheet, "where the foot comes up to the lines, as x,y; auto is low, under the centre of mass", 1, func(s *settings) *[]geom.Point { return &s.Foot }),
		},
		Run: func(set settings, in in) (StripsFound, stage.Report, error) {
			return routeStrips(set, in.Dots, in.Hand.meant(in.Drawn.Line), in.Spacing, in.Bends, in.Junctions.Strip)
		},
		Show: stage.Show{Picture: drawStrips, OnSheet: true, Problems: darkProblems},
	})
}

// hiddenLost is the share of the voltage that may be lost on the wires behind the
// channels; the lead's own share is the power stage's.
const hiddenLost = 0.01

// How far lines may change, unless it is said; half a cut of common strip, and a size that no
// eye sees.
const (
	fitEnds = 6.3 // mm
	fitSize = 2   // %
)

// fitJoints is how often more a piece of strip may be cut, unless it is said.
const fitJoints = 3

// acceptChange is how far the sign may stray from the drawing, mm, unless it is said: what
// rounding may do, and fitting on top of it.
const acceptChange = 10

// footOff is how far from the place by hand, mm, the foot may stand before that is told.
const footOff = 2

// feedOff is how far from a place by hand, mm, a strip may begin: fitting moves ends.
const feedOff = 12

// leastAstray is how far, mm, it must stray for that to be told.
const leastAstray = 0.1

// routeStrips covers the lines with strip, fed from where the wires come in, once the lines
// are fitted to its cut marks.
func routeStrips(
	set StripsSettings, dots DotsFound, drawn geom.Centreline, spaced SpacingFound, mended BendsFound, room StripRoom,
) (f StripsFound, rep stage.Report, err error) {
	f.StripsSettings = set
	f.Foot, f.Feeds = dots.FromPaper(set.Foot), dots.FromPaper(set.Feeds)
	wires, err := wiresFor(set, mended.Line)
	if err != nil {
		return f, rep, err
	}
	hole, pass := 0.0, 2
	if set.Kind == power.Addressable {
		pass += 2 // data comes and goes
	}
	for _, w := range wires {
		hole = max(hole, parts.HoleFor(pass, w.Outside))
	}
	f.route = strip.Settings{
		Turn: set.Turn, Cut: set.Cut, Half: room.Width / 2, Hole: hole, Dark: longDark, Data: set.Kind == power.Addressable,
		Starts: f.Feeds, Joints: set.FitJoints,
		Fit: strip.Fit{End: f.FitEnds, Size: f.FitSize / 100, Apart: spaced.Least},
	}
	if err = f.fit(dots, spaced, mended); err != nil {
		return f, rep, err
	}
	for _, c := range f.Circuits {
		f.Wires = append(f.Wires, wires[c.Ink])
	}
	covered, path, dark := 0.0, 0.0, f.darkLength()
	for _, q := range f.Pieces {
		covered, path = covered+q.Strip, path+q.Path
	}
	rep.Found = fmt.Sprintf(
		"%s of strip, %.0f mm in all (at least %d needed to cover all); %s, fed at %s; %s longer than %d mm, %.0f mm in all (%.1f %%)",
		stage.Count(f.Laid(), "piece", "pieces"), covered, f.Bound,
		stage.Count(len(f.Circuits), "circuit", "circuits"), stage.Count(len(f.Chains), "place", "places"),
		stage.Count(len(f.Dark), "dark gap", "dark gaps"), longDark, dark, 100*dark/max(path, 1),
	)
	f.judgeSize(&rep, dots, spaced)
	f.tellFit(&rep, dots.Asked)
	if f.Hold == parts.HoldStand && len(f.Foot) > 0 && math.Abs(f.Feed.X-f.Foot[0].X) > footOff {
		rep.Judge(
			0.4, "the foot cannot come up at x %.1f mm: no line there is the lowest for %d mm to either side; it stands at x %.1f mm, the nearest place",
			set.Foot[0].X, parts.FootReach,
			dots.Paper(f.Feed).X,
		)
	} else if at := dots.Paper(f.Feed); f.Hold == parts.HoldStand && len(f.Foot) > 0 && f.Feed.Dist(f.Foot[0]) > footOff {
		rep.Note("the foot comes up to the lowest line there, at x %.1f, y %.1f mm", at.X, at.Y)
	}
	if up := centreHeight(dots.Frame.SignLine(mended.Line)); f.Hold == parts.HoldStand && len(f.Foot) == 0 && up > topHeavy {
		rep.Note(
			"the sign stands on its lightest part: the middle of its line lies at %.0f %% of its height; if the drawing is "+
				"upside down, turn it with --turn 180", 100*up,
		)
	}
	if f.Astray, f.AstrayAt = rules.Astray(drawn, f.Line); f.Astray > set.Accept {
		rep.Judge(
			0.5, "the sign strays from the drawing by %.1f mm at x %.1f, y %.1f mm; --accept-change %.0f takes that, "+
				"--round-limit and --fit-ends make it less", f.Astray, f.AstrayAt.X, f.AstrayAt.Y, math.Ceil(f.Astray),
		)
	} else if f.Astray > leastAstray {
		rep.Note(
			"the sign strays from the drawing by at most %.1f mm, at x %.1f, y %.1f mm", f.Astray, f.AstrayAt.X,
			f.AstrayAt.Y,
		)
	}
	f.judgeFeeds(&rep, set.Feeds)
	f.judgeOverlaps(&rep, dots)
	f.tellDark(&rep, set.Cut)
	if share := dark / max(path, 1); share > mostDarkShare && !rep.Unsure() {
		rep.Judge(
			0.45, "%.0f %% of the line stays dark, as no whole cut of %g mm fits there: a strip with shorter cuts lights more of it, "+
				"or a larger sign", 100*share, set.Cut,
		)
	}
	return f, rep, nil
}

// judgeOverlaps doubts strip that would lie on other strip.
func (f StripsFound) judgeOverlaps(rep *stage.Report, dots DotsFound) {
	all := f.Plan.Overlaps(f.Line, f.route.Half)
	if len(all) == 0 {
		return
	}
	o := all[0]
	who := fmt.Sprintf("piece %d lies on itself", o.Pieces[0]+1)
	if o.Pieces[0] != o.Pieces[1] {
		who = fmt.Sprintf("piece %d lies on piece %d", o.Pieces[1]+1, o.Pieces[0]+1)
	}
	more := ""
	if n := len(all) - 1; n > 0 {
		more = fmt.Sprintf(", and so at %s", stage.Count(n, "more place", "more places"))
	}
	at := dots.Paper(o.At)
	rep.Judge(
		0.4, "lines are nearer to each other than strip is wide, %g mm: %s for %.0f mm at x %.1f, y %.1f mm%s; --spread moves lines apart, "+
			"or draw them so", 2*f.route.Half, who, o.Length, at.X, at.Y, more,
	)
}

// mostDarkShare is the share of the line that may stay dark.
const mostDarkShare = 0.1

// mostDark is how many pieces that stay dark are told of one by one.
const mostDark = 8

// tellDark tells of pieces of line that get no strip, as less than a cut, mm, has room there.
func (f StripsFound) tellDark(rep *stage.Report, cut float64) {
	n := 0
	for i, q := range f.Pieces {
		if q.Strip > 0 {
			continue
		}
		if n++; n <= mostDark {
			rep.Note(
				"piece %d stays dark: of its %.0f mm less than one cut of %g mm is clear of other strips and of its wires", i+1,
				q.Path, cut,
			)
		}
	}
	if n > mostDark {
		rep.Note("%d more pieces stay dark; a larger sign has room for more strip", n-mostDark)
	}
}

// judgeFeeds doubts places by hand where no strip begins; paper is where they were given.
func (f StripsFound) judgeFeeds(rep *stage.Report, paper []geom.Point) {
	var none []geom.Point
	for i, p := range f.Feeds {
		if !f.begins(p) {
			none = append(none, paper[i])
		}
	}
	if len(none) > 0 {
		rep.Judge(
			0.4, "no strip begins at %s: %s", placesText(none), whereFed,
		)
	}
}

// whereFed says where wires can come up.
const whereFed = "wires come up at the end of a line, or anywhere on a closed line that meets no other"

// begins tells whether strip that wires come up to begins at a place, mm of the sheet.
func (f StripsFound) begins(p geom.Point) bool {
	return slices.ContainsFunc(f.Pieces, func(q strip.Piece) bool {
		return q.Strip > 0 && q.After < 0 && q.Start.At.Dist(p) < feedOff
	})
}

// fit covers the line with strip, changes it so that whole cuts fill it, and covers that.
func (f *StripsFound) fit(dots DotsFound, spaced SpacingFound, mended BendsFound) (err error) {
	frame := dots.Frame
	f.Line, f.Fit.Size = mended.Line, geom.Pt(1, 1)
	smallest, err := rules.Spacing(sized(spaced.Line, geom.Pt(1, 1).Mul(1-f.route.Fit.Size)), rules.SpacingSettings{Least: spaced.Least})
	if err != nil {
		return err
	}
	f.route.Fit.Grow = len(smallest) > 0
	f.Feed = f.entry(frame)
	if f.Plan, err = strip.Route(f.Line, cornersOn(f.Line, mended.Bends), f.Feed, f.route); err != nil {
		return err
	}
	first := f.Plan
	sizes := first.Sizes(f.route, sizesTried)
	if dots.Asked != (geom.Point{}) { // the size is not free then
		k := sizeFor(dots.Asked, boxOf(frame.SignLine(mended.Line)).Size())
		if f.route.Fit.Stay = true; k < leastSized || k > mostSized {
			k = 1
		}
		sizes = []geom.Point{geom.Pt(k, k)}
	}
	tried := sizing{best: *f, least: math.Inf(1), at: func(size geom.Point) (StripsFound, error) {
		t := *f
		err := t.fitAt(size, first, frame, spaced.Line, mended)
		return t, err
	}}
	if err = tried.all(sizes); err == nil && !f.route.Fit.Stay {
		err = tried.climb(f.route.Fit)
	}
	*f = tried.best
	return err
}

// A sizing tries sizes of the drawing on its lines themselves.
type sizing struct {
	at    func(size geom.Point) (StripsFound, error)
	best  StripsFound
	least float64      // mm that stay dark of the best, and what its joints are worth
	seen  []geom.Point // sizes tried
}

// all tries sizes that were not tried yet, until one leaves nothing dark.
func (z *sizing) all(sizes []geom.Point) error {
	sizes = slices.DeleteFunc(slices.Clone(sizes), func(p geom.Point) bool {
		return slices.ContainsFunc(z.seen, func(q geom.Point) bool { return p.Dist(q) < sameSize })
	})
	for some := range slices.Chunk(sizes, sizesAtOnce) {
		found := make([]StripsFound, len(some))
		err := parallel.Try(len(some), func(i int) (err error) {
			found[i], err = z.at(some[i])
			return err
		})
		if err != nil {
			return err
		}
		for i, t := range found {
			z.seen = append(z.seen, some[i])
			if cost := t.darkLength() + strip.JointCost*float64(t.joints); cost < z.least-1e-9 {
				z.best, z.least = t, cost
			}
		}
		if z.least == 0 {
			return nil
		}
	}
	return nil
}

// climb goes on from the best size to those about it, as long as something stays dark, and less by an amount that
// matters.
func (z *sizing) climb(fit strip.Fit) error {
	for was := math.Inf(1); len(z.best.Dark) > 0 && z.least < was-climbLeast; {
		was = z.least
		if err := z.all(fit.Around(z.best.Fit.Size)); err != nil {
			return err
		}
	}
	return nil
}

// sameSize is how far apart two sizes are that are the same but for rounding.
const sameSize = 1e-6

// climbLeast is how much less must stay dark, mm, that sizes still farther on are tried.
const climbLeast = 0.1

// entry is where the wires come in, mm of the sheet.
func (f StripsFound) entry(frame geom.Frame) geom.Point {
	return frame.Sheet(parts.Entry(frame.SignLine(f.Line), f.foot(frame)))
}

// foot is the foot's place by hand, mm of the sign, nil for none.
func (f StripsFound) foot(frame geom.Frame) *geom.Point {
	if len(f.Foot) == 0 {
		return nil
	}
	at := frame.Sign(f.Foot[0])
	return &at
}

// topHeavy is the share of a sign's height above which the middle of its line makes it look upside
// down. Of npm's 287 feather-icons, all the right way up, one has it higher: the letter T.
const topHeavy = 0.66

// centreHeight is how high the middle of a line lies, as a share of its height; line is in mm of the
// sign, 0.5 for a line of no height.
func centreHeight(line geom.Centreline) float64 {
	box := boxOf(line)
	if box.Size().Y == 0 {
		return 0.5
	}
	var lines []geom.Polyline
	for _, c := range line.Curves {
		lines = append(lines, c.Flatten(0.02))
	}
	return (geom.Middle(lines).Y - box.Min.Y) / box.Size().Y
}

// boxOf is the box about a line.
func boxOf(line geom.Centreline) geom.Rect { return geom.BoundsOf(line.Curves, 0.02) }

// sizesTried is how many sizes are tried on the lines themselves before those about the best of them, sizesAtOnce side
// by side: the first that leaves nothing dark is taken.
const sizesTried, sizesAtOnce = 12, 2

// fitAt covers the line at a size the way that a plan does, with ends and closed lines fitted.
func (f *StripsFound) fitAt(
	size geom.Point, plan strip.Plan, frame geom.Frame, spaced geom.Centreline, mended BendsFound,
) (err error) {
	bends := mended.Bends
	f.Line, f.Fit.Size = mended.Line, size
	if size != geom.Pt(1, 1) {
		if f.Line, bends, err = rules.Bends(sized(spaced, size), mended.set); err != nil {
			return err
		}
	}
	again := func() {
		f.Feed = f.entry(frame)
		f.Plan = plan.Again(f.Line, cornersOn(f.Line, bends), f.Feed, f.route)
	}
	again()
	if f.Line, f.Fit.Changes = f.Plan.Fitted(f.Line, f.route); len(f.Fit.Changes) > 0 {
		again()
	}
	pieces := len(f.Plan.Pieces)
	f.Plan = f.Plan.Settled(f.Line, f.route)
	f.joints = len(f.Plan.Pieces) - pieces
	f.Dark = f.Plan.Dark(f.Line, f.route.Half, longDark)
	return nil
}

// Laid is how many pieces of strip there are to cut: what stays dark has none.
func (f StripsFound) Laid() (n int) {
	for _, q := range f.Pieces {
		if q.Strip > 0 {
			n++
		}
	}
	return n
}

// How much lines may still be brought to the size asked for, once spacing and bends have been
// measured: rounding takes tips off, which makes a sign smaller. What is drawn by hand beyond the
// drawing would draw lines together.
const leastSized, mostSized = 0.98, 1.15

// channelsOn is the width and height, mm, that channels on lines have over all on the sign.
func channelsOn(line geom.Centreline, frame geom.Frame) geom.Point {
	return boxOf(frame.SignLine(line)).Size().Add(geom.Pt(overAll(), overAll()))
}

// judgeSize tells the size where one was asked for, and doubts a sign that has another, and lines
// that are too near at it.
func (f StripsFound) judgeSize(rep *stage.Report, dots DotsFound, spaced SpacingFound) {
	asked := dots.Asked
	if asked == (geom.Point{}) {
		return
	}
	over := channelsOn(f.Line, dots.Frame)
	rep.Note("the channels are %.1f by %.1f mm over all", over.X, over.Y)
	if flag, length, missed := f.sizeMissed(dots); missed {
		rep.Judge(
			0.4, "the sign is %.1f by %.1f mm over all, not --%s %g as asked: lines moved apart, rounded or left out changed it by more than "+
				"can be made up for", over.X, over.Y, flag, length,
		)
	}
	if f.Fit.Size.X >= 1 {
		return
	}
	tight, err := rules.Spacing(sized(spaced.Line, f.Fit.Size), rules.SpacingSettings{Least: spaced.Least})
	if err == nil && len(tight) > len(spaced.Tight) && spaced.Spread == nil {
		rep.Judge(0.4, "at the size asked for %s; a larger size mends that", tightText(tight[0], spaced.Least))
	}
}

// sizeOff is how far off the size asked for, as a share, is told.
const sizeOff = 0.005

// sizeMissed tells by which setting, width or height, a length in mm was asked for that the sign misses.
func (f StripsFound) sizeMissed(dots DotsFound) (flag string, length float64, missed bool) {
	if dots.Asked == (geom.Point{}) {
		return "", 0, false
	}
	if flag, length = "width", dots.Asked.X; length == 0 {
		flag, length = "height", dots.Asked.Y
	}
	times := sizeFor(dots.Asked, boxOf(dots.Frame.SignLine(f.Line)).Size())
	return flag, length, math.Abs(times-1) > sizeOff
}

// SizeMissed tells by which setting, width or height, a length in mm was asked for that the sign misses; ok is
// false if it misses none, or its lines are not fitted to the strip yet.
func SizeMissed(r stage.Results) (flag string, length float64, ok bool) {
	f, found := stage.Found[StripsFound](r)
	if !found {
		return "", 0, false
	}
	return f.sizeMissed(stage.Of[DotsFound](r))
}

// darkProblems are what stays dark.
func darkProblems(r stage.Results) (out []stage.Problem) {
	worst := slices.SortedStableFunc(slices.Values(stage.Of[StripsFound](r).Dark), func(a, b strip.Dark) int {
		return cmp.Compare(b.Length, a.Length)
	})
	for _, d := range worst {
		out = append(out, stage.Problem{
			Text: stage.Millimetres(d.Length) + " of the line stay dark: no whole cut of strip fits", At: d.At, OnSheet: true, Flag: "fit-ends",
		})
	}
	return out
}

// darkLength is the length of all dark stretches, mm.
func (f StripsFound) darkLength() (sum float64) {
	for _, d := range f.Dark {
		sum += d.Length
	}
	return sum
}

// sized is a line of another size, about its middle.
func sized(line geom.Centreline, k geom.Point) geom.Centreline {
	box := boxOf(line)
	about := box.Min.Lerp(box.Max, 0.5)
	return line.Mapped(func(p geom.Point) geom.Point {
		return geom.Pt(about.X+k.X*(p.X-about.X), about.Y+k.Y*(p.Y-about.Y))
	})
}

// tellFit notes how the line was changed.
func (f StripsFound) tellFit(rep *stage.Report, asked geom.Point) {
	if f.Fit.Size != geom.Pt(1, 1) && asked == (geom.Point{}) {
		rep.Note(
			"the sign is %.1f %% of the drawing's width and %.1f %% of its height, so that whole cuts of strip fill more "+
				"of its lines; --fit-size 0 leaves it", 100*f.Fit.Size.X, 100*f.Fit.Size.Y,
		)
	}
	ends, loops, most := 0, 0, strip.Change{}
	for _, c := range f.Fit.Changes {
		if c.Size != 1 {
			loops++
			continue
		}
		if ends++; math.Abs(c.By) > math.Abs(most.By) {
			most = c
		}
	}
	if ends > 0 {
		rep.Note(
			"%s moved so that whole cuts of strip fill their lines, by at most %.1f mm at x %.1f, y %.1f mm; --fit-ends 0 "+
				"leaves them", stage.Count(ends, "free end", "free ends"), math.Abs(most.By), most.At.X, most.At.Y,
		)
	}
	if loops > 0 {
		rep.Note("%s grew or shrank so that whole cuts of strip go around", stage.Count(loops, "closed line", "closed lines"))
	}
}

// wiresFor are the wires behind the channels for each pen's strip, by its pen.
func wiresFor(set StripsSettings, line geom.Centreline) (map[int]power.Wire, error) {
	length := map[int]float64{}
	for _, c := range line.Curves {
		length[c.Ink] += c.Length() / 1000
	}
	out := map[int]power.Wire{}
	for ink, m := range length {
		w, err := power.Inside(m*set.Watts/set.Volts, m, hiddenLost*set.Volts)
		if err != nil {
			return nil, err
		}
		out[ink] = w
	}
	return out, nil
}

// beyondEnd is how far beyond a line's free end wires come up to it, mm: the channel
// goes on around the end and leaves room there.
const beyondEnd = 0.6

// wirePlan is what is fed from behind the channels, in mm of the sign.
func (f StripsFound) wirePlan(frame geom.Frame) *parts.WirePlan {
	plan := &parts.WirePlan{}
	for _, w := range f.Wires {
		plan.Wire = append(plan.Wire, w.Outside)
	}
	for _, c := range f.Chains {
		at := c.Tap
		if first := f.Pieces[c.Pieces[0]]; first.Start.Free {
			at = f.beyond(at, first.Spans[0].Curve, first.Spans[0].From, first.Spans[0].To)
		}
		plan.Taps = append(plan.Taps, parts.Tap{At: frame.Sign(at), Circuit: c.Circuit})
	}
	if f.Kind != power.Addressable {
		return plan
	}
	plan.Signal = power.Signal().Outside
	from := -1
	for _, k := range f.DataOrder(f.Feed) {
		wire := parts.DataWire{From: from, To: k}
		if from >= 0 {
			wire.At = f.outOf(from, frame, plan.Taps[from].At)
		}
		plan.Data = append(plan.Data, wire)
		from = k
	}
	return plan
}

// outOf is where data leaves a chain, mm of the sign; tap is where that is fed.
func (f StripsFound) outOf(chain int, frame geom.Frame, tap geom.Point) geom.Point {
	c := f.Chains[chain]
	last := f.Pieces[c.Pieces[len(c.Pieces)-1]]
	at := c.Out
	switch s := last.Spans[len(last.Spans)-1]; {
	case last.Closed && len(c.Pieces) == 1:
		return tap
	case last.End.Free:
		at = f.beyond(at, s.Curve, s.To, s.From)
	}
	return frame.Sign(at)
}

// beyond is a place at a line's free end, along moved out of it; from there the line runs towards
// another place along it.
func (f StripsFound) beyond(at geom.Point, curve int, along, towards float64) geom.Point {
	dir := geom.NewRuler(f.Line.Curves[curve]).Heading(along)
	if along < towards {
		dir = dir.Mul(-1)
	}
	return at.Add(dir.Mul(beyondEnd))
}

// wayStep is how far apart, mm, the points of a piece's way are: fine enough for a
// drawing at true size.
const wayStep = 0.5

// Way is the way of a piece, from where it is fed to its far end, on the line that
// the strips cover.
func Way(line geom.Centreline, p strip.Piece) geom.Polyline {
	var out geom.Polyline
	for _, s := range p.Spans {
		k := geom.NewRuler(line.Curves[s.Curve])
		n := max(int(s.Length()/wayStep), 1)
		for i := 0; i <= n; i++ {
			q := k.At(s.From + (s.To-s.From)*float64(i)/float64(n))
			if len(out) == 0 || out[len(out)-1].Dist(q) > 1e-9 {
				out = append(out, q)
			}
		}
	}
	return out
}

// Covered is the part of a piece's way that its strip covers.
func Covered(way geom.Polyline, p strip.Piece) geom.Polyline {
	s := make([]float64, len(way))
	for i := 1; i < len(way); i++ {
		s[i] = s[i-1] + way[i-1].Dist(way[i])
	}
	n := max(int(p.Strip/wayStep), 1)
	out := make(geom.Polyline, 0, n+1)
	for i := 0; i <= n && p.Strip > 0; i++ {
		out = append(out, way.AtDistance(s, p.Gaps[0]+p.Strip*float64(i)/float64(n), false))
	}
	return out
}

// A CutMark is a place across a piece: a cut mark or an end of the strip.
type CutMark struct {
	At     geom.Point
	Across geom.Point // unit vector
}

// CutMarks are the marks along a piece's strip, cut mm apart, from its start to its
// end.
func CutMarks(way geom.Polyline, p strip.Piece, cut float64) []CutMark {
	var out []CutMark
	n := int(math.Round(p.Strip / cut))
	for i := 0; i <= n && p.Strip > 0; i++ {
		s := p.Gaps[0] + float64(i)*cut
		a, b := way.At(max(s-wayStep, 0)), way.At(s+wayStep)
		out = append(out, CutMark{way.At(s), b.Sub(a).Unit().Perp()})
	}
	return out
}

// oneLabel is how near, mm, a dark place is to where strip is fed for both to share a label.
const oneLabel = 8

// drawStrips draws each piece of strip in a colour of its own with its number,
// its cut marks, where it is fed, and what stays dark.
func drawStrips(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.8, text)
	if err != nil {
		return nil, err
	}
	f, line, room := stage.Of[StripsFound](r), stage.Of[StripsFound](r).Line, stage.Of[JunctionsFound](r).Strip
	c.Curves(line, px, room.Slot()*px*c.K, color.NRGBA{120, 120, 120, 60})
	half := room.Width / 2
	for i, p := range f.Pieces {
		way := Way(line, p)
		marks := CutMarks(way, p, f.Cut)
		if len(marks) == 0 {
			continue
		}
		c.SetColor(picture.StrokeColour(i))
		c.SetLineWidth(5)
		c.Path(Covered(way, p), px, false)
		c.Stroke()
		for _, m := range marks {
			c.SetLineWidth(1.5)
			c.Path([]geom.Point{m.At.Sub(m.Across.Mul(half)), m.At.Add(m.Across.Mul(half))}, px, false)
			c.Stroke()
		}
	}
	for i, p := range f.Pieces {
		if p.Strip == 0 {
			continue
		}
		way := Way(line, p)
		c.Spot(way.At(p.Gaps[0]), px, 6, picture.StrokeColour(i))
		c.Label(way.At(p.Path/2), px, fmt.Sprintf("%d: %s", i+1, stage.Millimetres(p.Strip)), picture.StrokeColour(i))
	}
	told := map[int]bool{}
	for _, ch := range f.Chains {
		c.Ring(ch.Tap, px, 9, 3, picture.BarBack)
		text := "fed here"
		for i, d := range f.Dark { // one label for both
			if !told[i] && d.At.Dist(ch.Tap) < oneLabel {
				told[i] = true
				text += ", dark " + stage.Millimetres(d.Length)
				break
			}
		}
		c.Label(ch.Tap, px, text, picture.BarBack)
	}
	for i, d := range f.Dark {
		if !told[i] {
			c.Label(d.At, px, "dark "+stage.Millimetres(d.Length), picture.MarkOther)
		}
	}
	return c.Image, nil
}
