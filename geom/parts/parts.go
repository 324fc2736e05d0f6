package parts

import (
	"errors"
	"fmt"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/geom/solid"
)

// Hold says how the finished sign is held.
type Hold string

// The ways to hold a sign.
const (
	HoldStand   Hold = "stand"   // a foot with a tenon, and a stand that takes it
	HoldKeyhole Hold = "keyhole" // hung on two screw heads
	HoldEars    Hold = "ears"    // screwed to the wall through tabs
	HoldPads    Hold = "pads"    // stuck to the wall
	HoldNone    Hold = "none"
)

// Board says what joins strokes that do not touch.
type Board string

// The kinds of backboard.
const (
	BoardAuto    Board = "auto"    // bridges if there is anything to join
	BoardBridges Board = "bridges" // as little as joins all
	BoardRibs    Board = "ribs"    // the outline and crossed ribs
	BoardSolid   Board = "solid"   // all of the outline
	BoardNone    Board = "none"
)

// Groove says where wires run concealed behind the channels.
type Groove string

// The kinds of wire groove.
const (
	GrooveAuto Groove = "auto" // to the parts that the bore does not reach
	GrooveAll  Groove = "all"  // to the start of every strip
	GrooveNone Groove = "none"
)

// Settings say what parts to make.
type Settings struct {
	Channel solid.ChannelSettings
	Hold    Hold
	Foot    *geom.Point // where the foot meets the lines, by hand, mm of the sign; nil for by itself
	// Own is the maker's own foot, in place of one and its stand: its flat rear below, its top along
	// y; nil for none.
	Own solid.Solid
	Measures
}

// Measures are the measures of a sign's parts, mm unless they say otherwise. The
// defaults are common practice, no source, where nothing else is said.
type Measures struct {
	Board Board

	Groove      Groove
	GrooveInset float64 // of the groove from the channel's outline
	GrooveDepth float64

	BoardThick  float64
	BoardSink   float64 // how deep the board lies in the channels' rear
	BridgeWidth float64
	Clearance   float64 // all round, between parts that go into each other
	Relief      float64 // by which their edges on the printer's bed are drawn in

	FootHeight float64 // from the lowest outline to the stand
	FootWidth  float64 // the least
	Tenon      float64 // length of the tenon
	// TenonWidth and TenonThick are those of a stand that there is already; 0 for as the foot and
	// the channel give them.
	TenonWidth, TenonThick float64
	Bore                   float64 // width of the way for the wires

	Controller Size    // room for the controller in the stand
	Exit       Opening // for cable or connector, in the stand's rear
	Tilt       float64 // degrees, the least tilt at which the sign tips
	StripMass  float64 // g for each metre of strip with its wires
	solid.Plastic

	Screw float64 // nominal diameter of the metric screw for mounting
	// Screws are where keyholes, ears or pads are to be, by hand, mm of the sign: a keyhole's where
	// its screw rests. None for by themselves.
	Screws []geom.Point
	Cover  bool // make the snap-in cover
	Coupon bool // make the strip-fit test piece
}

// A Size is the room that a box takes: X wide, Y deep, Z high.
type Size struct{ X, Y, Z float64 }

// An Opening is a hole in a wall.
type Opening struct{ Wide, High float64 }

// Default returns a sign on a stand.
func Default() Settings {
	return Settings{Channel: solid.DefaultChannel(), Hold: HoldStand, Measures: DefaultMeasures()}
}

// DefaultMeasures returns the measures of a sign on a stand.
func DefaultMeasures() Measures {
	return Measures{
		Board:  BoardAuto,
		Groove: GrooveAuto, GrooveInset: 1.5, GrooveDepth: 1.5,
		BoardThick: 3, BoardSink: 1.5, BridgeWidth: 8, Clearance: 0.2, Relief: 0.3,
		FootHeight: 8, FootWidth: 30, Tenon: 12, Bore: 4,
		Controller: Size{X: 60, Y: 35, Z: 18}, Exit: Opening{Wide: 12, High: 9}, Tilt: 10,
		StripMass: 60, Plastic: solid.Plastic{Density: 1.24, Shell: 1, Infill: 20},
		Screw: 4, Coupon: true,
	}
}

func (s Settings) check() error {
	ch := s.Channel
	switch {
	case s.GrooveDepth < 0 || s.BoardSink < 0 || max(s.GrooveDepth, s.BoardSink) > ch.Rear+ch.Floor-leastFloor:
		return fmt.Errorf(
			"groove or backboard goes %g mm deep into rear and floor, which are %g mm thick together; leave at least %g mm, or make the rear "+
				"thicker", max(s.GrooveDepth, s.BoardSink), ch.Rear+ch.Floor, leastFloor,
		)
	case s.GrooveInset < 0.4 || s.outer()-s.GrooveInset < 0.5:
		return fmt.Errorf("a groove inset by %g mm leaves no room in a channel %g mm wide", s.GrooveInset, 2*s.outer())
	case s.BoardThick < s.BoardSink+0.8:
		return fmt.Errorf(
			"the backboard of %g mm sinks %g mm into the channels; make it at least 0.8 mm thicker than that",
			s.BoardThick, s.BoardSink,
		)
	case s.Bore > ch.Slot() || s.Bore < 1:
		return fmt.Errorf(
			"the wire bore is %g mm wide; it must be between 1 mm and the slot's %g mm", s.Bore, ch.Slot(),
		)
	case s.Bore+2 > ch.Height()-ch.Rear-ch.Floor:
		return fmt.Errorf("there is no room for a wire bore of %g mm in a channel %g mm deep", s.Bore, ch.Depth)
	case s.Clearance < 0 || s.Tenon < 4 || s.FootHeight < 0 || s.FootWidth < s.Bore+12:
		return errors.New(
			"these measures make no foot: the tenon must be at least 4 mm long, the foot at least 12 mm wider than " +
				"the bore, its height and clearance 0 mm or more",
		)
	case s.TenonWidth != 0 && s.TenonWidth < s.Bore+4 || s.TenonThick != 0 && (s.TenonThick < s.Channel.Rear+s.Channel.Floor+s.Bore+2 || s.TenonThick > s.Channel.Height()):
		return fmt.Errorf(
			"a tenon of %g by %g mm has no room for the bore: make it at least %g mm wide and from %g to %g mm thick",
			s.TenonWidth, s.TenonThick, s.Bore+4, s.Channel.Rear+s.Channel.Floor+s.Bore+2, s.Channel.Height(),
		)
	case s.Density <= 0 || s.Tilt < 0 || s.Tilt > 40:
		return errors.New("the density must be over 0 g/cm3 and the tilt from 0 to 40 degrees")
	case s.Shell <= 0 || s.Infill < 0 || s.Infill > 100 || s.StripMass < 0:
		return errors.New("the shell must be over 0 mm, the infill from 0 to 100 %, and strip must weigh something")
	}
	return nil
}

// leastFloor is what stays of the channels' rear over groove and backboard, mm.
const leastFloor = 0.6

// outer is half a channel's width over all.
func (s Settings) outer() float64 { return s.Channel.Slot()/2 + s.Channel.Wall }

// Names of parts that there is one of.
const (
	NameBackboard = "backboard"
	NameStand     = "stand"
	NameLid       = "lid"
	NameTestPiece = "strip test piece"
)

// A Part is one thing to print.
type Part struct {
	Name   string
	Colour string // as #RRGGBB or #RRGGBBAA
	// Solid is the part as it is printed, on z = 0.
	Solid solid.Solid
	// Shadow is what Solid covers seen from above, of channels and plates alone.
	Shadow solid.Plan
	// Pose takes the part from how it is printed to its place in the sign.
	Pose Pose
	// Channel tells that the part follows the centrelines, Flat that it is a
	// plate: how it may be cut if the bed is too small.
	Channel, Flat bool
	// Extra parts, as the test piece, are not in the sign.
	Extra bool
}

// A Pose turns a part over and shifts it: first upside down if Flip (about the
// x axis), then upright if Stand (its z becomes the sign's y), then by Move.
type Pose struct {
	Flip, Stand bool
	Move        solid.Vertex
}

// Apply returns where v goes.
func (p Pose) Apply(v solid.Vertex) solid.Vertex {
	if p.Flip {
		v = solid.Vertex{X: v.X, Y: -v.Y, Z: -v.Z}
	}
	if p.Stand {
		v = solid.Vertex{X: v.X, Y: v.Z, Z: -v.Y}
	}
	return solid.Vertex{X: v.X + p.Move.X, Y: v.Y + p.Move.Y, Z: v.Z + p.Move.Z}
}

// A Sign is all of a sign's parts and what was computed of them.
type Sign struct {
	Parts []Part
	// Strokes counts the separate channels; Bridges are the lines that the
	// backboard joins them by, Saved what Steiner points saved of them.
	Strokes int
	Bridges []geom.Polyline
	Saved   float64
	Bore    *Bore
	Seats   []geom.Point // along where the board is sunk into the channels
	// Seat is where it is, with SeatRoom mm of clearance, and Sink how deep, mm.
	Seat           solid.Plan
	SeatRoom, Sink float64
	Wires          []geom.Polyline // concealed, behind the channels and in the board
	Deep           float64         // mm, of the wire groove
	// Rear is how thick, mm, the rear would have to be for the wires to fit into it and leave something to
	// glue; 0 where it is. Cramped tells that they do not fit.
	Rear      float64
	Cramped   bool
	Board     Board      // what joins the channels, as it was chosen
	Loose     []Loose    // channels that too little holds
	Narrow    solid.Plan // what the wires themselves take, where the groove goes through a wall
	Holes     []Hole     // the first is where the wires come in
	Harness   []Wire
	Mounts    int          // ears, keyholes or pads that hold it on a wall
	Screws    []geom.Point // of ears and keyholes, where they are in the wall as the sign hangs
	NoRoom    []geom.Point // places by hand for them where there is no room
	MountRoom float64      // mm from the middle of every line, that such places need
	Swings    bool         // the places that hold it are all to one side of the centre of mass, or below it
	Balance   *Balance
	Notes     []string
}

// Build makes the parts of the sign over centrelines given in the sign's frame
// (y up). The wires' groove goes where a strip plan needs it; without a plan
// each channel that the bore does not reach is fed at one end.
//
// A board that is chosen by itself is the least that holds every channel, or else the one that leaves the
// fewest loose; where none holds them, or the wires find no room over it, Sign.Rear says what rear helps.
//
// It returns an error for measures that make no sign, and for a sign that
// cannot stand.
func Build(c geom.Centreline, wires *WirePlan, s Settings) (sign Sign, err error) {
	defer solid.Guard("making the sign's parts", &err)
	if err := s.check(); err != nil {
		return Sign{}, err
	}
	if len(c.Curves) == 0 {
		return Sign{}, errors.New("there is no centreline to make a sign of")
	}
	if sign, err = buildBest(c, wires, s); err != nil {
		return Sign{}, err
	}
	sign.shade()
	return sign, nil
}

// buildBest makes the parts with the board that is asked for, or one that holds every channel.
func buildBest(c geom.Centreline, wires *WirePlan, s Settings) (sign Sign, err error) {
	sign, err = build(c, wires, s)
	if err != nil || s.Board != BoardAuto || sign.Loose == nil || sign.Rear > 0 && sign.Deep <= sign.Sink {
		return sign, err
	}
	best := sign
	for _, s.Board = range []Board{BoardRibs, BoardSolid} {
		firm, err := build(c, wires, s)
		if err != nil {
			continue
		}
		if len(firm.Loose) >= len(best.Loose) {
			continue
		}
		firm.note("the backboard is %s, as bridges would leave too little of a channel to glue it by", s.Board)
		if best = firm; firm.Loose == nil {
			return firm, nil
		}
		best.Rear = max(best.Rear, sign.Rear) // which may help all the same
	}
	return best, nil
}

// build makes the parts of a sign by settings that are checked.
func build(c geom.Centreline, wires *WirePlan, s Settings) (sign Sign, err error) {
	b := newBuilder(c, s)
	if b.plan = wires; wires == nil {
		b.plan = &WirePlan{}
	}
	b.channels()
	switch {
	case s.Hold != HoldStand:
	case s.Own != nil:
		err = b.addOwnFoot()
	default:
		err = b.addFoot()
	}
	if err != nil {
		return Sign{}, err
	}
	b.split()
	if wires == nil {
		b.plan = b.plainPlan()
	}
	b.joinStrokes()
	if s.Hold != HoldStand && s.Hold != HoldNone {
		b.addMounts()
	}
	b.addWires()
	b.addBoard()
	b.carve()
	b.finishChannels()
	if s.Hold == HoldStand && s.Own == nil {
		if err := b.addStand(); err != nil {
			return Sign{}, err
		}
	}
	if s.Cover {
		b.addCovers()
	}
	if s.Coupon {
		b.add(coupon(s))
	}
	b.sign.Loose = b.sign.loose()
	return b.sign, nil
}

// shade finds the shadows, once for all who draw or lay out the parts: one of a large channel takes as
// long as a picture.
func (s *Sign) shade() {
	parallel.Each(len(s.Parts), func(i int) {
		if p := &s.Parts[i]; p.Channel || p.Flat {
			p.Shadow = p.Solid.Shadow()
		}
	})
}

// A builder holds a sign under way.
type builder struct {
	s      Settings
	c      geom.Centreline
	lines  []geom.Polyline
	tenon  solid.Plan // about the foot's tenon, up to its shoulders
	entry  geom.Point // where the wires come into the lines
	body   solid.Plan // all channels, with the foot
	slot   solid.Plan
	solid  solid.Solid     // all channels
	pieces []*piece        // separate channels
	near   *geom.Grid[int] // pieces by the boxes about them
	seat   solid.Plan      // of the board, in the channels' rear
	ties   []tie
	extra  solid.Plan   // of the board: mounts
	boss   solid.Solid  // on the board
	holes  []geom.Point // of mounts, in the board
	plan   *WirePlan
	over   bool // the wires run over the board in its seats, not in it
	sign   Sign
}

// A piece is one channel or several that touch.
type piece struct {
	plan   solid.Plan
	curves []int
}

const flat = 0.005 // mm that straight sides may stray from the curve

func newBuilder(c geom.Centreline, s Settings) *builder {
	b := &builder{s: s, c: c}
	for _, k := range c.Curves {
		b.lines = append(b.lines, k.Flatten(flat))
	}
	b.entry = entryOf(b.lines, s.Foot)
	return b
}

func (b *builder) add(p ...Part) { b.sign.Parts = append(b.sign.Parts, p...) }

func (b *builder) note(format string, a ...any) {
	b.sign.note(format, a...)
}

// floor is the height of the slot's floor.
func (b *builder) floor() float64 { return b.s.Channel.Rear + b.s.Channel.Floor }

// channels widens the centrelines to channels.
func (b *builder) channels() {
	ch := b.s.Channel
	b.body = solid.Ribbon(b.lines, b.s.outer()).OnGrid(ch.Grid)
	b.slot = solid.Ribbon(b.lines, ch.Slot()/2).OnGrid(ch.Grid)
	b.solid = solid.Solid{
		{Z0: 0, Z1: b.floor(), Plan: b.body},
		{Z0: b.floor(), Z1: ch.Height(), Plan: b.body.Less(b.slot)},
	}
}

// cellSize is the size of the cells that pieces are looked up by, mm.
const cellSize = 25

// split tells apart the channels that do not touch.
func (b *builder) split() {
	b.near = geom.NewGrid[int](cellSize)
	for i, p := range b.body.Parts() {
		b.pieces = append(b.pieces, &piece{plan: p})
		b.near.PutBox(p.Bounds(), i)
	}
	b.sign.Strokes = len(b.pieces)
	for i, l := range b.lines {
		if p := b.pieceAt(l[0]); p >= 0 {
			b.pieces[p].curves = append(b.pieces[p].curves, i)
		}
	}
}

// pieceAt is the piece whose plan holds q, −1 if none does.
func (b *builder) pieceAt(q geom.Point) int {
	for _, i := range b.near.At(q) {
		if b.pieces[i].plan.Contains(q) {
			return i
		}
	}
	return -1
}

// finishChannels cuts the board's seat into the channels and makes each piece
// a part.
func (b *builder) finishChannels() {
	if !b.seat.Empty() {
		b.sign.Seat, b.sign.SeatRoom, b.sign.Sink = b.seat.Grow(b.s.Clearance), b.s.Clearance, b.s.BoardSink
		b.solid = b.solid.Cut(0, b.s.BoardSink, b.sign.Seat)
	}
	solids := make([]solid.Solid, len(b.pieces))
	for k, l := range b.solid {
		plans := make([]geom.Region, len(b.pieces))
		for _, p := range l.Plan.Region() {
			if i := b.pieceAt(solid.PlanOf(geom.Region{p}).Inside()); i >= 0 {
				plans[i] = append(plans[i], p)
			}
		}
		for i, r := range plans {
			layer := solid.Layer{Z0: l.Z0, Z1: l.Z1, Plan: solid.PlanOf(r)}
			if k > 0 && b.solid.SamePlan(k, k-1) {
				layer.Plan = solids[i][k-1].Plan
			}
			solids[i] = append(solids[i], layer)
		}
	}
	for i, s := range solids {
		s = s.Relieved(b.s.Relief, b.tenon)
		name := "channel"
		if len(b.pieces) > 1 {
			name = fmt.Sprintf("channel %d", i+1)
		}
		b.add(Part{Name: name, Colour: "#F2EFE6", Solid: s, Channel: true})
	}
}
