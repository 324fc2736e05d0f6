package parts

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/simple"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// grooveHalf is half the wire groove's width.
func (b *builder) grooveHalf() float64 { return b.s.outer() - b.s.GrooveInset }

// A WirePlan says which strip is fed from behind the channels, and by what wires.
type WirePlan struct {
	Taps []Tap
	Wire []float64 // mm, outside diameter of each circuit's wires
	// Data are the data wires of addressable strip, in the order that data runs through them, and
	// Signal the outside diameter of each, mm.
	Data   []DataWire
	Signal float64
}

// A DataWire leads data from the end of the strip that a tap feeds to another tap.
type DataWire struct {
	From int        // the tap, −1 for where the wires come in
	At   geom.Point // where it leaves; at the tap itself it goes down the tap's hole
	To   int        // tap
}

// A Tap is where a pair of wires comes up to strip.
type Tap struct {
	At      geom.Point
	Circuit int
}

// A Wire is a pair of wires, or a data wire, behind the channels, from one hole or branch to
// another.
type Wire struct {
	Circuit  int
	Data     bool // one conductor, from the end of one strip to the start of the next
	Path     geom.Polyline
	From, To int     // holes, numbers in Sign.Holes; −1, −2, … for branches in the groove
	Outside  float64 // mm, of each conductor
}

// Conductors is how many wires run side by side.
func (w Wire) Conductors() int {
	if w.Data {
		return 1
	}
	return 2
}

// A Hole leads wires through a floor.
type Hole struct {
	At       geom.Point
	Diameter float64 // mm
	Circuits []int   // whose pair passes
	Wires    int     // that pass
	Strip    bool    // up to strip; else it is where the wires come in
	Bore     bool    // the bore's mouth, where strip is fed without a way behind it
	Tap      int     // of the plan, that the wires come up to
	Out      bool    // data leaves there from the strip that the tap feeds
}

// Feeds are the holes' middles.
func (s Sign) Feeds() (out []geom.Point) {
	for _, h := range s.Holes {
		out = append(out, h.At)
	}
	return out
}

// HoleAt is the number of the hole at a tap of the plan, 0 if it has none.
func (s Sign) HoleAt(tap int) int {
	for i, h := range s.Holes {
		if h.Strip && h.Tap == tap && !h.Out {
			return i
		}
	}
	return 0
}

// OutOf is the number of the hole that data leaves through from the strip of a tap: that of the
// tap if it has none of its own, and 0 if there is none.
func (s Sign) OutOf(tap int) int {
	for i, h := range s.Holes {
		if h.Out && h.Tap == tap {
			return i
		}
	}
	return s.HoleAt(tap)
}

// wireSlack is the room, mm, that wires have in a hole or groove beyond what the tightest
// packing takes.
const wireSlack, grooveSlack = 0.3, 0.2

// mostLedge is how far, mm, a ceiling sticks out from one wall at most, to print well; common
// practice, no source.
const mostLedge = 1.4

// besideGroove is how far beside a groove, mm, a seat's ceiling that it parts is held by one wall.
const besideGroove = 3.0

// HoleFor is the diameter, mm, of a hole for n wires of a diameter.
func HoleFor(n int, wire float64) float64 { return aroundWires(n, wire) + wireSlack }

// atEntry is how near to where the wires come in, mm, a strip needs no hidden
// wire.
const atEntry = 8

// addWires leads a pair of wires for each circuit from where they come in to each of its
// taps, the shortest way behind the channels and over the bridges: a tree, from whose
// branches the taps are soldered off; and data wires from strip to strip. Without a plan an end
// of each piece that the bore does not reach is tapped.
func (b *builder) addWires() {
	if len(b.plan.Taps) == 0 {
		return
	}
	n := b.wireWays()
	b.tapWays(n)
	source := n.id(b.source())
	from := path.DijkstraFrom(simple.Node(source), n.g)
	trees := make([]*wireTree, len(b.plan.Wire))
	hand := 0
	for i, t := range b.plan.Taps {
		bore := b.atBore(t)
		if !bore && b.s.Groove == GrooveNone {
			hand++
			continue
		}
		end := b.tapNode(n, t)
		route, length := from.To(end)
		if math.IsInf(length, 1) {
			b.note("no concealed path for a wire to the strip at x %.0f, y %.0f mm", t.At.X, t.At.Y)
			continue
		}
		if trees[t.Circuit] == nil {
			trees[t.Circuit] = newWireTree(source)
		}
		trees[t.Circuit].add(route, end)
		h := Hole{At: t.At, Circuits: []int{t.Circuit}, Wires: 2, Strip: true, Tap: i}
		if bore {
			h.At, h.Bore = b.mouth(), true
		}
		b.sign.Holes = append(b.sign.Holes, h)
	}
	if hand > 0 {
		b.note("there is no wire groove: wires must be led to the strip by hand at places behind the sign, %d of them", hand)
	}
	if len(b.sign.Holes) == 0 {
		return
	}
	b.lead(n, source, trees, b.dataWays(n, source))
}

// tapNode is the place of a tap on the ways of wires.
func (b *builder) tapNode(n *wireNet, t Tap) int64 {
	if b.atBore(t) {
		return n.id(b.mouth())
	}
	return n.near(t.At)
}

// A dataWay is a data wire's way, as places.
type dataWay struct {
	DataWire
	way []int64
}

// dataWays finds the ways of the data wires and the holes that they leave through.
func (b *builder) dataWays(n *wireNet, source int64) (out []dataWay) {
	hole := map[int]*Hole{} // of each tap
	for i := range b.sign.Holes {
		hole[b.sign.Holes[i].Tap] = &b.sign.Holes[i]
	}
	var leave []Hole
	for _, d := range b.plan.Data {
		to := hole[d.To]
		start := source
		switch {
		case to == nil || d.From >= 0 && hole[d.From] == nil:
			b.note("the data wire to the strip at x %.0f, y %.0f mm must be led by hand behind the sign", b.plan.Taps[d.To].At.X, b.plan.Taps[d.To].At.Y)
			continue
		case d.From >= 0 && d.At == b.plan.Taps[d.From].At:
			hole[d.From].Wires++
			start = b.tapNode(n, b.plan.Taps[d.From])
		case d.From >= 0:
			leave = append(leave, Hole{At: d.At, Circuits: to.Circuits, Wires: 1, Strip: true, Tap: d.From, Out: true})
			start = n.near(d.At)
		}
		to.Wires++
		route, _ := path.DijkstraFrom(simple.Node(start), n.g).To(b.tapNode(n, b.plan.Taps[d.To]))
		way := dataWay{DataWire: d}
		for _, v := range route {
			way.way = append(way.way, v.ID())
		}
		out = append(out, way)
	}
	b.sign.Holes = append(b.sign.Holes, leave...)
	return out
}

// plainPlan taps an end of each piece; all strip is one circuit's.
func (b *builder) plainPlan() *WirePlan {
	const wire = 1.1 // mm over all: 0.14 mm² with a thin wall, common practice, no source
	p := &WirePlan{Wire: []float64{wire}}
	for _, q := range b.pieces {
		for k, i := range q.curves {
			if k == 0 || b.s.Groove == GrooveAll {
				p.Taps = append(p.Taps, Tap{At: b.lines[i][0]})
			}
		}
	}
	return p
}

// source is where the wires come in: at the end of the foot's bore, or below the lowest
// line.
func (b *builder) source() geom.Point {
	if b.sign.Bore != nil {
		return b.sign.Bore.From
	}
	low := b.entry
	return geom.Pt(low.X, low.Y-b.s.outer()-1)
}

// shaft is where the wires turn off from the bore to the groove: in the middle of the
// foot.
func (b *builder) shaft() geom.Point {
	top := b.sign.Bore.Top
	return geom.Pt(top.X, top.Y-(b.s.outer()+b.s.FootHeight)/2)
}

// mouth is where the bore opens into the slot.
func (b *builder) mouth() geom.Point {
	top := b.sign.Bore.Top
	return geom.Pt(top.X, top.Y-b.s.Channel.Slot()/2)
}

// atBore tells whether strip is fed where the bore comes up, without a way behind it.
func (b *builder) atBore(t Tap) bool {
	return b.sign.Bore != nil && b.s.Groove != GrooveAll && t.At.Dist(b.sign.Bore.Top) <= atEntry
}

// inBore tells whether a stretch of wire runs in the bore rather than in the groove.
func (b *builder) inBore(n *wireNet, s [2]int64) bool {
	if b.sign.Bore == nil {
		return false
	}
	bore := []geom.Point{b.source(), b.shaft(), b.mouth()}
	return slices.Contains(bore, n.at[s[0]]) && slices.Contains(bore, n.at[s[1]])
}

// lead makes the wires of the trees and the data wires, and where they come in.
func (b *builder) lead(n *wireNet, source int64, trees []*wireTree, data []dataWay) {
	in := Hole{At: b.source()}
	if b.sign.Bore != nil {
		in.At = b.shaft()
	}
	load := map[[2]int64]bundle{}
	widest := 0.0
	for c, t := range trees {
		if t == nil {
			continue
		}
		in.Circuits, in.Wires = append(in.Circuits, c), in.Wires+2
		widest = max(widest, b.plan.Wire[c])
		for s := range t.steps {
			load[s] = load[s].and(bundle{thick: 2})
		}
	}
	for _, d := range data {
		if widest = max(widest, b.plan.Signal); d.From < 0 {
			in.Wires++
		}
		for i := 1; i < len(d.way); i++ {
			at := step(d.way[i-1], d.way[i])
			load[at] = load[at].and(bundle{thin: 1})
		}
	}
	b.sign.Holes = append([]Hole{in}, b.sign.Holes...)
	for i := range b.sign.Holes {
		h := &b.sign.Holes[i]
		if h.Diameter = HoleFor(h.Wires, b.wireIn(*h)); h.Bore {
			h.Diameter = b.sign.Bore.Width
		}
	}
	b.harness(n, source, trees)
	b.dataHarness(n, data)
	maps.DeleteFunc(load, func(s [2]int64, _ bundle) bool { return b.inBore(n, s) })
	b.groove(n, load, widest)
}

// wireIn is the thickest wire in a hole.
func (b *builder) wireIn(h Hole) float64 {
	if h.Out {
		return b.plan.Signal
	}
	widest := 0.0
	for _, c := range h.Circuits {
		widest = max(widest, b.plan.Wire[c])
	}
	if h.Wires > 2*len(h.Circuits) {
		widest = max(widest, b.plan.Signal)
	}
	return widest
}

// dataHarness lists the data wires.
func (b *builder) dataHarness(n *wireNet, data []dataWay) {
	for _, d := range data {
		out := Wire{
			Circuit: b.plan.Taps[d.To].Circuit, Data: true, Outside: b.plan.Signal, From: b.sign.OutOf(d.From), To: b.sign.HoleAt(d.To),
		}
		for _, v := range d.way {
			out.Path = append(out.Path, n.at[v])
		}
		b.sign.Harness = append(b.sign.Harness, out)
	}
}

// harness lists the wires of the trees, and numbers their branches.
func (b *builder) harness(n *wireNet, source int64, trees []*wireTree) {
	number := map[int64]int{source: 0}
	for i, h := range b.sign.Holes[1:] {
		if !h.Out {
			number[n.near(h.At)] = i + 1
		}
	}
	branches := 0
	for c, t := range trees {
		if t == nil {
			continue
		}
		for _, w := range t.wires() {
			for _, v := range []int64{w[0], w[len(w)-1]} {
				if _, ok := number[v]; !ok {
					branches++
					number[v] = -branches
				}
			}
			out := Wire{Circuit: c, Outside: b.plan.Wire[c], From: number[w[0]], To: number[w[len(w)-1]]}
			for _, v := range w {
				out.Path = append(out.Path, n.at[v])
			}
			b.sign.Harness = append(b.sign.Harness, out)
		}
	}
}

// groove lays out the groove for wires, so many in each stretch: its lines, how deep it must be,
// and what the wires themselves take.
func (b *builder) groove(n *wireNet, load map[[2]int64]bundle, widest float64) {
	in := wireSizes{widest, b.plan.Signal}
	b.deepen(load, in)
	b.tellFloor()
	b.sign.Deep = b.s.GrooveDepth
	deep := b.s.GrooveDepth
	if b.over {
		deep -= b.s.BoardSink
	}
	for _, w := range bundles(load) {
		ways := stretches(n, load, w)
		b.sign.Wires = append(b.sign.Wires, ways...)
		wide := in.wide(w, deep-grooveSlack) + grooveSlack
		if b.s.GrooveDepth > b.s.BoardSink { // it parts a seat's ceiling in two, held by the walls alone
			wide = max(wide, b.betweenLedges())
		}
		b.sign.Narrow = b.sign.Narrow.Or(solid.Ribbon(ways, min(wide/2, b.grooveHalf())))
	}
}

// tellFloor tells of a slot's floor that is thinner over the groove than elsewhere.
func (b *builder) tellFloor() {
	deep, c := b.s.GrooveDepth, b.s.Channel
	if left := c.Rear + c.Floor - deep; left < c.Floor-1e-9 {
		b.note(
			"over the wire groove, %.1f mm deep, the slot's floor is %.1f mm thick in place of %g mm; --rear %.1f keeps it", deep, left, c.Floor,
			wholeLayer*math.Ceil(deep/wholeLayer-1e-9),
		)
	}
}

// deepen makes the groove deep enough for the wires that run side by side.
func (b *builder) deepen(load map[[2]int64]bundle, in wireSizes) {
	need, most := in.deepest(load, 2*b.grooveHalf())
	need += grooveSlack
	room := b.s.Channel.Rear + b.s.Channel.Floor - leastFloor
	if over := b.s.BoardSink + need; len(b.ties) > 0 && b.fills(load, in, max(need, b.s.GrooveDepth)) {
		// Deeper, they leave the widest ledges that print well.
		narrow, _ := in.deepest(load, max(b.betweenLedges()-grooveSlack, in.thick, in.thin))
		roomy := max(over, b.s.BoardSink+narrow+grooveSlack)
		if b.over = over <= room+1e-9; b.over {
			over = min(roomy, room)
			b.note("the wires run over the backboard, in a groove %.1f mm deep: beside them it would have no face to be glued on", over)
			b.s.GrooveDepth = max(b.s.GrooveDepth, over)
			if roomy > room+1e-9 {
				b.sign.Rear = b.rearFor(roomy)
			}
			return
		}
		b.sign.Rear = b.rearFor(over)
		b.note(
			"the wires take so much of the backboard's seats that little is left to glue; with --rear %.1f they would run over it",
			b.sign.Rear,
		)
	}
	if need <= b.s.GrooveDepth {
		return
	}
	if need > room+1e-9 {
		b.sign.Rear, b.sign.Cramped = max(b.sign.Rear, b.rearFor(need)), true
		b.note(
			"%s run side by side where the groove has room for less: make the rear at least %.1f mm thick (--rear), "+
				"or choose a strip with a higher voltage, whose wires are thinner", in.text(most), b.sign.Rear,
		)
		need = room
	}
	b.note("the wire groove was made %.1f mm deep for up to %s side by side", need, in.text(most))
	b.s.GrooveDepth = need
}

// rearFor is how thick, mm, the rear must be for a groove of a depth, in whole layers.
func (b *builder) rearFor(depth float64) float64 {
	return wholeLayer * math.Ceil((depth+leastFloor-b.s.Channel.Floor)/wholeLayer-1e-9)
}

// betweenLedges is how wide, mm, a groove through a seat's ceiling must be for what is left of that on
// both sides to print.
func (b *builder) betweenLedges() float64 { return 2 * (b.hidden() + b.s.Clearance - mostLedge) }

// fills tells whether wires in a groove of a depth leave no face of the board beside them.
func (b *builder) fills(load map[[2]int64]bundle, in wireSizes, depth float64) bool {
	return slices.ContainsFunc(bundles(load), func(w bundle) bool {
		return b.hidden()-(in.wide(w, depth-grooveSlack)+grooveSlack)/2 < leastSliver
	})
}

// upHoles are the holes up to strip.
func (b *builder) upHoles() solid.Plan {
	var up []solid.Plan
	for _, h := range b.sign.Holes {
		if h.Strip && !h.Bore {
			up = append(up, solid.Disc(h.At, h.Diameter/2))
		}
	}
	return solid.Union(up...)
}

// carve cuts groove and holes: the groove no broader than the wires where the board is
// glued into its seat.
func (b *builder) carve() {
	if len(b.sign.Wires) == 0 {
		return
	}
	up := b.upHoles()
	inner := solid.Ribbon(b.sign.Wires, b.grooveHalf()).And(b.body.Grow(-b.s.GrooveInset)).Less(b.seat.Grow(b.s.Clearance - seam))
	b.solid = b.solid.Cut(0, b.s.GrooveDepth, inner.Or(b.sign.Narrow.Or(up).And(b.body)))
	b.solid = b.solid.Cut(b.s.GrooveDepth, b.floor(), up)
	if b.s.GrooveDepth > b.s.BoardSink { // no ledge of the seat's ceiling beside the groove is wider
		seat := b.seat.Grow(b.s.Clearance)
		far := seat.Or(inner).Or(b.sign.Narrow).Grow(-mostLedge).And(seat).And(b.sign.Narrow.Grow(besideGroove))
		b.solid = b.solid.Cut(b.s.BoardSink, b.s.GrooveDepth, far.Or(b.gaps().And(seat).And(b.sign.Narrow.Grow(besideGroove))))
		b.solid = b.solid.Each(b.s.BoardSink, b.s.GrooveDepth, func(p solid.Plan) solid.Plan {
			return onWalls(p.Less(p.Less(p.Opened(leastLedge)).And(seat)), seat)
		})
	}
	if in := b.sign.Holes[0]; b.sign.Bore != nil { // the shaft to the bore
		b.solid = b.solid.Cut(0, b.sign.Bore.Z0, solid.Disc(in.At, in.Diameter/2))
	}
}

// onWalls is a plan without the parts of it that lie in a seat alone, where no wall holds them.
func onWalls(p, seat solid.Plan) solid.Plan {
	var loose []solid.Plan
	for _, q := range p.Parts() {
		if q.Less(seat).Size() < leastHold {
			loose = append(loose, q)
		}
	}
	return p.Less(solid.Union(loose...))
}

// leastHold is the area, mm², by which a ledge is held at least.
const leastHold = 0.1

// leastLedge is how wide, mm, a ledge is at least, about one printed line.
const leastLedge = 0.4

// seam is how far, mm, the groove runs into a seat, so that nothing is left between them.
const seam = 0.01

// ledgeLength is how long, mm, a ledge beside a groove is at most: a longer one, held at both its
// ends, would be laid in strands from end to end, which sag; common practice, no source. ledgeGap is
// the gap to the next, mm.
const ledgeLength, ledgeGap = 8.0, 1.0

// gaps are where the ledges along all lines are parted.
func (b *builder) gaps() solid.Plan {
	var gaps []geom.Polyline
	across := b.hidden() + b.s.Clearance
	for _, l := range b.lines {
		for at := ledgeLength / 2; at < l.Length(); at += ledgeLength + ledgeGap {
			p := l.At(at)
			n := l.At(at + ledgeGap/2).Sub(l.At(at - ledgeGap/2)).Unit().Perp().Mul(across)
			gaps = append(gaps, geom.Polyline{p.Sub(n), p.Add(n)})
		}
	}
	return solid.Ribbon(gaps, ledgeGap/2)
}

// cutWall is how far to either side of a cut through a channel, mm, its rear keeps its walls.
const cutWall = 3.0

// WalledAt narrows the groove of a piece of channel near a place where it is cut, and closes the
// board's seat there, so that their ceilings have walls near by at the cut too; floor is the height
// of the slot's floor.
func (s Sign) WalledAt(at geom.Point, piece solid.Solid, floor float64) solid.Solid {
	fill := solid.Disc(at, cutWall).And(piece.At(floor - leastFloor/2)).Less(s.Narrow)
	if len(s.Wires) > 0 {
		piece = piece.Add(0, s.Deep, fill)
	}
	return piece.Add(0, s.Sink, fill.And(s.Seat))
}

// NotchedAt takes from a piece of the board what goes into the seat where WalledAt closes it.
func (s Sign) NotchedAt(at geom.Point, plate Part) Part {
	z := -plate.Pose.Move.Z
	plate.Solid = plate.Solid.Cut(z, z+s.Sink, solid.Disc(at, cutWall+s.SeatRoom).And(s.Seat))
	return plate
}

// LossLength is how long a pair is, mm, on which a circuit's whole current would lose as much as is
// lost on the way to the tap that loses most: each stretch counts by the share of the load that it
// carries on. load is what each tap of the plan draws, in any unit.
func (s Sign) LossLength(circuit int, load func(tap int) float64) float64 {
	next := map[int][]Wire{} // both ways
	entry, wired := 0, false // the first wire comes in there
	for _, w := range s.Harness {
		if w.Circuit == circuit && !w.Data {
			if !wired {
				entry, wired = w.From, true
			}
			next[w.From] = append(next[w.From], w)
			w.From, w.To = w.To, w.From
			next[w.From] = append(next[w.From], w)
		}
	}
	fed := map[int]float64{}
	for i, h := range s.Holes {
		if h.Strip && !h.Out && slices.Contains(h.Circuits, circuit) {
			fed[i] += load(h.Tap)
		}
	}
	// below is what a node and all beyond it draw, and the load times mm on the way from it on.
	var below func(node, from int) (draws, lost float64)
	below = func(node, from int) (draws, lost float64) {
		draws = fed[node]
		for _, w := range next[node] {
			if w.To != from {
				d, l := below(w.To, node)
				draws, lost = draws+d, max(lost, l+d*w.Path.Length())
			}
		}
		return draws, lost
	}
	draws, lost := below(entry, math.MinInt)
	if draws == 0 {
		return 0
	}
	return lost / draws
}
