package parts

import (
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
}

// A Tap is where a pair of wires comes up to strip.
type Tap struct {
	At      geom.Point
	Circuit int
}

// A Wire is a pair of wires behind the channels, from one hole or branch to another.
type Wire struct {
	Circuit  int
	Path     geom.Polyline
	From, To int     // holes, numbers in Sign.Holes; −1, −2, … for branches in the groove
	Outside  float64 // mm, of each conductor
}

// WireLength is how long a circuit's wires behind the channels are together, mm, as pairs.
func (s Sign) WireLength(circuit int) (sum float64) {
	for _, w := range s.Harness {
		if w.Circuit == circuit {
			sum += w.Path.Length()
		}
	}
	return sum
}

// A Hole leads wires through a floor.
type Hole struct {
	At       geom.Point
	Diameter float64 // mm
	Circuits []int   // whose pair passes
	Strip    bool    // up to strip; else it is where the wires come in
	Bore     bool    // the bore's mouth, where strip is fed without a way behind it
	Tap      int     // of the plan, that the wires come up to
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
		if h.Strip && h.Tap == tap {
			return i
		}
	}
	return 0
}

// wireSlack is the room, mm, that wires have in a hole or groove beyond what the tightest
// packing takes.
const wireSlack, grooveSlack = 0.3, 0.2

// mostLedge is how far, mm, a ceiling sticks out from one wall at most, to print well; common
// practice, no source.
const mostLedge = 1.4

// HoleFor is the diameter, mm, of a hole for a pair of wires.
func HoleFor(wire float64) float64 { return aroundWires(2, wire) + wireSlack }

// atEntry is how near to where the wires come in, mm, a strip needs no hidden
// wire.
const atEntry = 8

// addWires leads a pair of wires for each circuit from where they come in to each of its
// taps, the shortest way behind the channels and over the bridges: a tree, from whose
// branches the taps are soldered off. Without a plan an end of each piece that the
// bore does not reach is tapped.
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
		end, bore := n.near(t.At), b.atBore(t)
		switch {
		case bore:
			end = n.id(b.mouth())
		case b.s.Groove == GrooveNone:
			hand++
			continue
		}
		route, length := from.To(end)
		if math.IsInf(length, 1) {
			b.note("no concealed path for a wire to the strip at x %.0f, y %.0f mm", t.At.X, t.At.Y)
			continue
		}
		if trees[t.Circuit] == nil {
			trees[t.Circuit] = newWireTree(source)
		}
		trees[t.Circuit].add(route, end)
		h := Hole{At: t.At, Diameter: HoleFor(b.plan.Wire[t.Circuit]), Circuits: []int{t.Circuit}, Strip: true, Tap: i}
		if bore {
			h.At, h.Diameter, h.Bore = b.mouth(), b.sign.Bore.Width, true
		}
		b.sign.Holes = append(b.sign.Holes, h)
	}
	if hand > 0 {
		b.note("there is no wire groove: wires must be led to the strip by hand at places behind the sign, %d of them", hand)
	}
	if len(b.sign.Holes) == 0 {
		return
	}
	b.lead(n, source, trees)
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

// lead makes the wires of the trees, and where they come in.
func (b *builder) lead(n *wireNet, source int64, trees []*wireTree) {
	in := Hole{At: b.source()}
	if b.sign.Bore != nil {
		in.At = b.shaft()
	}
	load := map[[2]int64]int{}
	widest := 0.0
	for c, t := range trees {
		if t == nil {
			continue
		}
		in.Circuits = append(in.Circuits, c)
		widest = max(widest, b.plan.Wire[c])
		for s := range t.steps {
			if !b.inBore(n, s) {
				load[s]++
			}
		}
	}
	in.Diameter = aroundWires(2*len(in.Circuits), widest) + wireSlack
	b.sign.Holes = append([]Hole{in}, b.sign.Holes...)
	b.harness(n, source, trees)
	b.groove(n, load, widest)
}

// harness lists the wires of the trees, and numbers their branches.
func (b *builder) harness(n *wireNet, source int64, trees []*wireTree) {
	number := map[int64]int{source: 0}
	for i, h := range b.sign.Holes[1:] {
		number[n.near(h.At)] = i + 1
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

// groove lays out the groove for pairs of wires, so many in each stretch: its lines, how deep
// it must be, and what the wires themselves take.
func (b *builder) groove(n *wireNet, load map[[2]int64]int, widest float64) {
	most := 0
	for _, k := range load {
		most = max(most, k)
	}
	b.deepen(2*most, widest)
	b.sign.Deep = b.s.GrooveDepth
	rows := max(int((b.s.GrooveDepth-grooveSlack)/widest+1e-9), 1)
	for k := 1; k <= most; k++ {
		ways := stretches(n, load, k)
		b.sign.Wires = append(b.sign.Wires, ways...)
		wide := math.Ceil(float64(2*k)/float64(rows))*widest + grooveSlack
		if b.s.GrooveDepth > b.s.BoardSink { // it parts a seat's ceiling in two, held by the walls alone
			wide = max(wide, 2*(b.hidden()+b.s.Clearance-mostLedge))
		}
		b.sign.Narrow = b.sign.Narrow.Or(solid.Ribbon(ways, min(wide/2, b.grooveHalf())))
	}
}

// deepen makes the groove deep enough for so many wires side by side.
func (b *builder) deepen(most int, wire float64) {
	need := overWires(most, wire, 2*b.grooveHalf()) + grooveSlack
	if most == 0 || need <= b.s.GrooveDepth {
		return
	}
	room := b.s.Channel.Rear + b.s.Channel.Floor - leastFloor
	if need > room {
		b.note(
			"%d wires %g mm thick run side by side where the groove has room for less: make the rear at least %.1f mm "+
				"thicker, or choose a strip with a higher voltage, whose wires are thinner", most, wire, need-room,
		)
		need = room
	}
	b.note("the wire groove was made %.1f mm deep for up to %d wires %g mm thick side by side", need, most, wire)
	b.s.GrooveDepth = need
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
	inner := solid.Ribbon(b.sign.Wires, b.grooveHalf()).And(b.body.Grow(-b.s.GrooveInset)).Less(b.seat.Grow(b.s.Clearance))
	b.solid = b.solid.Cut(0, b.s.GrooveDepth, inner.Or(b.sign.Narrow.Or(up).And(b.body)))
	b.solid = b.solid.Cut(b.s.GrooveDepth, b.floor(), up)
	if in := b.sign.Holes[0]; b.sign.Bore != nil { // the shaft to the bore
		b.solid = b.solid.Cut(0, b.sign.Bore.Z0, solid.Disc(in.At, in.Diameter/2))
	}
}

// NarrowedAt narrows the groove of a piece of channel near a place where it is cut, so that
// its ceiling has walls near by at the cut too; floor is the height of the slot's floor.
func (s Sign) NarrowedAt(at geom.Point, piece solid.Solid, floor float64) solid.Solid {
	if len(s.Wires) == 0 {
		return piece
	}
	const along = 3.0 // mm to either side of the cut
	fill := solid.Disc(at, along).And(piece.At(floor - leastFloor/2)).Less(s.Narrow)
	return piece.Add(0, s.Deep, fill)
}
