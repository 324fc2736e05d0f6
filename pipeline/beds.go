package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/bed"
	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageBeds cuts the parts to the printer's bed and lays them out.
const StageBeds = "beds"

// BedsSettings are the printer's bed and what the estimate needs to know of the
// printer.
type BedsSettings struct {
	Bed   bed.Settings
	Print bed.PrintSettings
	Cuts  []geom.Point // where channels are to be cut, by hand, mm of the sheet
	At    []geom.Point // where the middle of the largest part is to lie, by hand, mm of the bed
}

// A Print is one thing to print: a part, or a piece of a part that was cut to
// fit the bed.
type Print struct {
	Name     string
	Colour   string
	Solid    solid.Solid
	Shadow   solid.Plan // what it covers seen from above
	Mesh     *solid.Mesh
	Estimate bed.Estimate
	Extra    bool // no part of the sign
	ofCut    bool // a piece of a channel that is cut
}

// BedsFound is what is printed, and where on the beds.
type BedsFound struct {
	Prints []Print
	Extras []Print   // what is printed by itself, before the sign: on no bed of it
	Cuts   []bed.Cut // mm of the sign
	Layout bed.Layout
	Bed    bed.Settings
	Layer  float64 // mm, of each printed layer
}

// PiecesOf is into how many pieces the parts of a name, or those that start with it, are cut.
func (f BedsFound) PiecesOf(name string) (n int) {
	for _, p := range f.Prints {
		if strings.HasPrefix(p.Name, name) {
			n++
		}
	}
	return n
}

// CutOf is into how many pieces those parts are cut, of a name or that start with it, that do not
// fit the bed whole; 0 if all do.
func (f BedsFound) CutOf(sign PartsFound, name string) (n int) {
	whole := map[string]bool{}
	for _, p := range sign.Parts {
		whole[p.Name] = true
	}
	for _, p := range f.Prints {
		if strings.HasPrefix(p.Name, name) && !whole[p.Name] {
			n++
		}
	}
	return n
}

func bedsStage() stage.Stage {
	type settings = BedsSettings
	type in struct {
		Dots    DotsFound
		Strips  StripsFound
		Channel ChannelFound
		Parts   PartsFound
	}
	return stage.Define(stage.Spec[settings, in, BedsFound]{
		Name: StageBeds, Does: "cut parts to fit the printer's bed, lay them out, estimate the print",
		Default: BedsSettings{Bed: bed.Default(), Print: bed.DefaultPrint()},
		Settings: []stage.Setting{
			stage.Number("bed-width", "mm", "width of the printer's bed", 40, 2000, func(s *settings) *float64 { return &s.Bed.Width }),
			stage.Number("bed-depth", "mm", "depth of the printer's bed", 40, 2000, func(s *settings) *float64 { return &s.Bed.Depth }),
			stage.Number("bed-margin", "mm", "space left free along the edge of the bed", 0, 100, func(s *settings) *float64 { return &s.Bed.Margin }),
			stage.Number("bed-gap", "mm", "gap between parts on the bed", 0, 50, func(s *settings) *float64 { return &s.Bed.Gap }),
			stage.PlaceGroups("cut-at", stage.FrameSheet, "where a channel is to be cut in two, as x,y x,y; further cuts are made only as the bed needs them", 1, func(s *settings) *[]geom.Point { return &s.Cuts }),
			stage.Places("lay-at", stage.FrameBed, "where the middle of the largest part lies on the bed, as x,y from its front left corner, or as near as there is room; auto finds a place", 1, func(s *settings) *[]geom.Point { return &s.At }),
			stage.Number("joint-clearance", "mm", "clearance on every side in the dovetail joints of cut channels", 0, 1, func(s *settings) *float64 { return &s.Bed.Clearance }).Called("beds/joint-fit"),
			stage.Number("filament", "mm", "diameter of the filament", 0.5, 5, func(s *settings) *float64 { return &s.Print.Filament }),
			stage.Number("flow", "mm³/s", "rate at which the printer lays down plastic, pauses included", 0.5, 100, func(s *settings) *float64 { return &s.Print.Flow }),
			stage.Number("layer", "mm", "height of a printed layer", 0.02, 2, func(s *settings) *float64 { return &s.Print.Layer }),
			stage.Number("layer-change", "s", "time that each layer adds", 0, 600, func(s *settings) *float64 { return &s.Print.Change }),
		},
		Run: func(set settings, in in) (BedsFound, stage.Report, error) {
			return layBeds(
				set,
				in.Parts,
				cutter{
					set:     set.Bed,
					asked:   in.Dots.FromPaper(set.Cuts),
					frame:   in.Dots.Frame,
					line:    in.Strips.Line,
					channel: in.Channel.Built,
					sign:    in.Parts,
				},
			)
		},
		Show: stage.Show{Picture: drawBeds, Drawn: true, Problems: cutProblems, Handles: bedHandles},
	})
}

func layBeds(set BedsSettings, sign PartsFound, c cutter) (f BedsFound, rep stage.Report, err error) {
	f.Bed, f.Layer = set.Bed, set.Print.Layer
	all, cuts, err := c.divide()
	if err != nil {
		return f, rep, err
	}
	f.Cuts = cuts
	for _, p := range all {
		if p.Extra {
			f.Extras = append(f.Extras, p)
		} else {
			f.Prints = append(f.Prints, p)
		}
	}
	blocks := make([]bed.Block, len(f.Prints))
	err = parallel.Try(len(f.Prints), func(i int) (err error) {
		p := &f.Prints[i]
		if p.Mesh == nil {
			if p.Mesh, err = meshed(p.Name, p.Solid, c.channel.Grid); err != nil {
				return err
			}
		}
		if p.Shadow.Empty() {
			p.Shadow = p.Solid.Shadow()
		}
		p.Estimate = set.Print.Estimate(p.Mesh, sign.Plastic)
		blocks[i] = bed.Block{Name: p.Name, Solid: p.Solid, Shadow: p.Shadow}
		return nil
	})
	if err != nil {
		return f, rep, err
	}
	for i := range f.Extras { // whole, as the sign's parts have them
		f.Extras[i].Estimate = set.Print.Estimate(f.Extras[i].Mesh, sign.Plastic)
	}
	var where *geom.Point
	if len(set.At) > 0 {
		where = &set.At[0]
	}
	if f.Layout, err = bed.Lay(blocks, set.Bed, where); err != nil {
		return f, rep, err
	}
	if where != nil {
		f.judgePlace(&rep, *where)
	}
	var sum bed.Estimate
	for i, p := range f.Prints {
		sum = sum.Add(p.Estimate)
		if at := f.Layout.Places[i]; at.Askew() {
			rep.Note("%s fits the bed only when turned, best by %.1f degrees", p.Name, at.Best)
		}
	}
	rep.Found = fmt.Sprintf(
		"%s on %s of %g by %g mm; about %.0f g, %.1f m of filament, %.1f hours",
		stage.Count(len(f.Prints), "piece", "pieces"), stage.Count(f.Layout.Beds, "bed", "beds"), set.Bed.Width,
		set.Bed.Depth, sum.Grams, sum.Metres, sum.Seconds/3600,
	)
	if n := len(f.Cuts); n > 0 {
		why := ", as the channel is larger than the bed"
		if len(set.Cuts) > 0 {
			why = ""
		}
		rep.Note(
			"%s%s; the strip runs on through %s", stage.Count(n, "cut with a dovetail joint", "cuts with dovetail joints"), why,
			stage.Plural(n, "it", "them"),
		)
	}
	f.judgeCuts(&rep, set.Cuts, c)
	f.judgeGlue(&rep, sign, set.Bed)
	return f, rep, nil
}

// judgeGlue doubts a cut that leaves a piece too little to be glued onto the backboard by.
func (f BedsFound) judgeGlue(rep *stage.Report, sign PartsFound, b bed.Settings) {
	if loose := f.loose(sign); loose != nil {
		for _, p := range sign.Parts {
			b = bed.Grown(p.Solid, b)
		}
		rep.Judge(
			0.4, "too little of a cut channel is glued onto the backboard: %s; --cut-at makes the cut elsewhere, a bed of %g by %g mm needs none, "+
				"--backboard solid gives more to glue", facesText(loose), b.Width, b.Depth,
		)
	}
}

// loose are the pieces of cut channels that too little of is glued onto the backboard.
func (f BedsFound) loose(sign PartsFound) (out []parts.Loose) {
	if sign.Seat.Empty() {
		return nil
	}
	for _, p := range f.Prints {
		if !p.ofCut {
			continue
		}
		if face := sign.Glued(parts.Part{Solid: p.Solid}); face < parts.LeastGlue {
			out = append(out, parts.Loose{Name: p.Name, Face: face})
		}
	}
	return out
}

// middle is where the middle of the largest thing to print lies on its bed, mm.
func (f BedsFound) middle() geom.Point {
	box := f.shadow().Bounds()
	return box.Min.Lerp(box.Max, 0.5)
}

// shadow is what the largest thing to print covers of its bed.
func (f BedsFound) shadow() solid.Plan {
	at := f.Layout.Places[f.Layout.Largest]
	return f.Prints[f.Layout.Largest].Shadow.Moved(at.Turn, at.Move)
}

// layOff is how far from a place by hand, mm, it may lie: places are whole millimetres.
const layOff = 2

// judgePlace doubts a place by hand for which the bed has no room.
func (f BedsFound) judgePlace(rep *stage.Report, want geom.Point) {
	if at := f.middle(); at.Dist(want) > layOff {
		rep.Judge(
			0.4, "%s has no room about x %.0f, y %.0f mm of the bed; its middle lies at x %.0f, y %.0f mm, as near as it may", f.Prints[f.Layout.Largest].Name,
			want.X, want.Y, at.X, at.Y,
		)
	}
}

// cutOff is how far from a place by hand, mm, a cut may be.
const cutOff = 10

// judgeCuts doubts places by hand where no cut is; paper is where they were given.
func (f BedsFound) judgeCuts(rep *stage.Report, paper []geom.Point, c cutter) {
	var none []string
	for i, p := range c.frame.SignPath(c.asked) {
		if !slices.ContainsFunc(f.Cuts, func(k bed.Cut) bool { return k.At.Dist(p) < cutOff }) {
			none = append(none, fmt.Sprintf("%s: %s", placesText(paper[i:i+1]), c.refusal(p)))
		}
	}
	if len(none) > 0 {
		rep.Judge(0.4, "no cut was made at %s; pick a place farther along", strings.Join(none, "; "))
	}
}

// refusal is why no cut is made at a place, mm of the sign.
func (c cutter) refusal(p geom.Point) string {
	for _, part := range c.sign.Parts {
		if part.Channel && !part.Pose.Flip {
			if why, ok := bed.Refusal(c.body(part), p); ok {
				return why
			}
		}
	}
	return "no channel is there"
}

// A cutter cuts parts that are larger than the bed.
type cutter struct {
	set     bed.Settings
	asked   []geom.Point // mm of the sheet
	frame   geom.Frame
	line    geom.Centreline // mm of the sheet
	channel solid.ChannelSettings
	sign    PartsFound
}

// divide makes the prints: the parts, cut where they are larger than the bed.
func (c cutter) divide() (prints []Print, cuts []bed.Cut, err error) {
	pieces := make([][]solid.Solid, len(c.sign.Parts))
	for i, p := range c.sign.Parts {
		pieces[i] = []solid.Solid{p.Solid}
		if !p.Channel {
			continue
		}
		var at []bed.Cut
		if pieces[i], at, err = c.channelPieces(p); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", p.Name, err)
		}
		if !p.Pose.Flip {
			cuts = append(cuts, at...)
		}
	}
	for i, p := range c.sign.Parts {
		whole := c.sign.Meshes[i]
		if p.Flat {
			for _, k := range cuts {
				p = c.sign.NotchedAt(k.At, p)
			}
			if len(cuts) > 0 {
				whole = nil
			}
			if pieces[i], err = bed.DividePlate(p.Solid, c.set); err != nil {
				return nil, nil, fmt.Errorf("%s: %w", p.Name, err)
			}
			if p.Board() {
				pieces[i] = c.serving(pieces[i])
			}
		}
		prints = append(prints, printsOf(p, pieces[i], whole)...)
	}
	return prints, cuts, nil
}

// touching is how near, mm, pieces of a cut plate are that go into each other.
const touching = 0.5

// serving are the pieces of a cut backboard without those that hold no channel and join no two others.
func (c cutter) serving(pieces []solid.Solid) (out []solid.Solid) {
	if len(pieces) < 2 {
		return pieces
	}
	var behind []solid.Plan
	for _, p := range c.sign.Parts {
		if p.Channel && !p.Pose.Flip {
			behind = append(behind, p.Solid.At(c.channel.Rear))
		}
	}
	channels, areas := solid.Union(behind...), make([]solid.Plan, len(pieces))
	for i, p := range pieces {
		areas[i] = p.Shadow()
	}
	for i, p := range pieces {
		joins, near := 0, areas[i].Grow(touching)
		for j, o := range areas {
			if i != j && near.Shared(o) > 0 {
				joins++
			}
		}
		if joins > 1 || areas[i].Shared(channels) >= parts.LeastGlue {
			out = append(out, p)
		}
	}
	return out
}

// channelPieces cuts a channel, clear of the backboard's seats if that takes no more
// pieces: a cut there would leave a ceiling without a wall. At the cuts the wire groove is
// narrowed and the seat closed for the same reason.
func (c cutter) channelPieces(p parts.Part) ([]solid.Solid, []bed.Cut, error) {
	pieces, cuts, err := bed.Divide(c.body(p), c.set)
	if err != nil || len(pieces) < 2 || p.Pose.Flip {
		return pieces, cuts, err
	}
	clear := c.body(p)
	clear.Avoid = append(clear.Avoid, c.sign.Seats...)
	if better, at, err := bed.Divide(clear, c.set); err == nil && len(better) <= len(pieces) && askedOf(at) == askedOf(cuts) {
		pieces, cuts = better, at
	}
	floor := c.channel.Rear + c.channel.Floor
	for i := range pieces {
		for _, k := range cuts {
			pieces[i] = c.sign.WalledAt(k.At, pieces[i], floor)
		}
	}
	return pieces, cuts, nil
}

// askedOf counts the cuts that were asked for.
func askedOf(cuts []bed.Cut) (n int) {
	for _, c := range cuts {
		if c.Asked {
			n++
		}
	}
	return n
}

// body is what follows the centrelines: a channel, or its cover, which is printed
// face down and has no floor to key.
func (c cutter) body(p parts.Part) bed.Channel {
	s := c.channel
	avoid := c.sign.Feeds()
	if w := c.sign.Bore; w != nil {
		avoid = append(avoid, w.Top)
	}
	line := c.frame.SignLine(c.line)
	ch := bed.Channel{Solid: p.Solid, Line: line, Half: s.Slot()/2 + s.Wall, Floor: s.Rear + s.Floor, Relief: c.sign.Relief, Avoid: avoid}
	if ch.Asked = c.frame.SignPath(c.asked); p.Pose.Flip {
		ch.Line, ch.Floor, ch.Asked = line.Upended(0), 0, nil
	}
	return ch
}

// printsOf are a part's pieces; whole is the mesh of the part uncut.
func printsOf(p parts.Part, pieces []solid.Solid, whole *solid.Mesh) (out []Print) {
	for k, piece := range pieces {
		one := Print{Name: p.Name, Colour: p.Colour, Solid: piece, Extra: p.Extra}
		if len(pieces) == 1 {
			one.Mesh, one.Shadow = whole, p.Shadow
		} else {
			one.Name = fmt.Sprintf("%s, piece %d of %d", p.Name, k+1, len(pieces))
			one.ofCut = p.Channel && !p.Pose.Flip
		}
		out = append(out, one)
	}
	return out
}

func cutProblems(r stage.Results) (out []stage.Problem) {
	frame := stage.Of[DotsFound](r).Frame
	for _, c := range stage.Of[BedsFound](r).Cuts {
		if c.Asked {
			continue // it is meant
		}
		at := frame.Sheet(c.At)
		text := fmt.Sprintf("the channel is cut at x %.1f, y %.1f mm because it is larger than the bed", at.X, at.Y)
		out = append(out, stage.Problem{Text: text, At: at, OnSheet: true, Flag: "bed-width"})
	}
	return out
}

// A bedsView is how the beds lie side by side in their picture.
type bedsView struct {
	bed          bed.Settings
	across, down int
}

// betweenBeds is the room about each bed, mm of the picture.
const betweenBeds = 14

func (f BedsFound) view() bedsView {
	across := int(math.Ceil(math.Sqrt(float64(f.Layout.Beds))))
	return bedsView{f.Bed, across, (f.Layout.Beds + across - 1) / across}
}

// size is that of the picture, mm.
func (v bedsView) size() geom.Point {
	return geom.Pt(float64(v.across)*(v.bed.Width+betweenBeds)+betweenBeds, float64(v.down)*(v.bed.Depth+betweenBeds)+betweenBeds)
}

// on takes mm of bed b, y up, to the picture.
func (v bedsView) on(b int, q geom.Point) geom.Point {
	corner := geom.Pt(
		betweenBeds+float64(b%v.across)*(v.bed.Width+betweenBeds), betweenBeds+float64(b/v.across)*(v.bed.Depth+betweenBeds),
	)
	return corner.Add(geom.Upended(q, v.bed.Depth))
}

// first takes a place of the picture to mm of the first bed.
func (v bedsView) first(p geom.Point) geom.Point {
	return geom.Upended(p.Sub(geom.Pt(betweenBeds, betweenBeds)), v.bed.Depth)
}

// outlineStep is how far apart the places of outlines are, mm, that show where a part would lie.
const outlineStep = 1.5

// bedHandles is the middle of the largest part, where it lies on the first bed, with its outlines.
func bedHandles(r stage.Results) (string, []stage.Handle) {
	f := stage.Of[BedsFound](r)
	if len(f.Prints) == 0 || f.Layout.Places[f.Layout.Largest].Bed != 0 {
		return "", nil
	}
	v, at := f.view(), f.middle()
	share := func(q geom.Point) geom.Point { p := v.on(0, q); return geom.Pt(p.X/v.size().X, p.Y/v.size().Y) }
	h := stage.Handle{Place: at, Share: share(at)}
	for _, ring := range f.shadow().Region().Rings() {
		var out geom.Ring
		for _, q := range geom.Polyline(append(slices.Clone(ring), ring[0])).Resampled(outlineStep) {
			out = append(out, share(q))
		}
		h.Moved = append(h.Moved, out)
	}
	return "lay-at", []stage.Handle{h}
}

// drawBeds shows the beds side by side with what lies on them.
func drawBeds(r stage.Results, text string) (*image.RGBA, error) {
	f := stage.Of[BedsFound](r)
	s, n, view := f.Bed, f.Layout.Beds, f.view()
	size := view.size()
	c, err := picture.Blank(size.X, size.Y, text)
	if err != nil {
		return nil, err
	}
	on := view.on
	for b := range n {
		box := func(m float64) []geom.Point {
			return []geom.Point{
				on(b, geom.Pt(m, m)),
				on(b, geom.Pt(s.Width-m, m)),
				on(b, geom.Pt(s.Width-m, s.Depth-m)),
				on(b, geom.Pt(m, s.Depth-m)),
			}
		}
		c.SetColor(picture.GroundTint)
		c.Path(box(0), 1, true)
		c.Fill()
		c.SetColor(color.White)
		c.SetLineWidth(2)
		c.Path(box(s.Margin), 1, true)
		c.Stroke()
	}
	for i, p := range f.Prints {
		at := f.Layout.Places[i]
		col := picture.StrokeColour(i)
		to := func(q geom.Point) geom.Point { return on(at.Bed, q) }
		laid := p.Solid.Mapped(func(l solid.Plan) solid.Plan { return l.Moved(at.Turn, at.Move) })
		c.SetColor(color.NRGBA{col.R, col.G, col.B, 120})
		c.FillShadow(laid, 1, to)
		c.FillPlan(laid[len(laid)-1].Plan, 1, to)
	}
	for i, p := range f.Prints {
		at := f.Layout.Places[i]
		c.Label(on(at.Bed, p.Solid[0].Plan.Moved(at.Turn, at.Move).Inside()), 1, p.Name, picture.BarBack)
	}
	return c.Image, nil
}
