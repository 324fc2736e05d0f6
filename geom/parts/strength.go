package parts

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// What foot and bridges are to bear; common practice, no source.
const (
	topForce = 10.0 // N, square to the sign, at the farthest place that hangs on a bridge or stands on the foot,
	safety   = 3.0  // times over
	bending  = 30.0 // MPa that printed plastic bears along its layers
	// mostRib is how thick a bridge may become, mm, and ribGap what stays free beside the wires on it.
	mostRib = 12.0
	ribGap  = 0.4
	// wholeLayer is the step, mm, that a bridge's thickness grows by: a usual printed layer.
	wholeLayer = 0.2
)

// bearing is the moment, N·mm, that a rectangle w mm wide and t mm thick bears across its
// thickness: the stress in a beam's skin is M/W, W = w·t²/6 (J. M. Gere, Mechanics of
// Materials, from memory).
func bearing(w, t float64) float64 { return bending * w * t * t / 6 }

// thickFor is how thick a beam w mm wide is that bears a moment, N·mm.
func thickFor(moment, w float64) float64 { return math.Sqrt(6 * moment / (bending * w)) }

// checkFoot notes a foot that would not bear a push at the sign's top.
func (b *builder) checkFoot() {
	top := math.Inf(-1)
	for _, l := range b.lines {
		for _, p := range l {
			top = max(top, p.Y)
		}
	}
	x0, x1 := b.tenonSpan(b.sign.Bore.Top)
	wide := x1 - x0 - b.sign.Bore.Width
	arm := top + b.s.outer() - b.shoulders()
	if bears := bearing(wide, b.tenonThick()) / arm / safety; bears < topForce {
		b.note(
			"the foot bears a push of %.1f N at the sign's top, %.0f N are usual: --foot-width %.0f would do", bears, topForce,
			math.Ceil(safety*topForce*arm*6/(bending*b.tenonThick()*b.tenonThick()))+b.sign.Bore.Width+2*footSide,
		)
	}
}

// ribsOf is what bridges are thicker by, where they are in the open, to bear what hangs on them, if the
// board does not by itself; way is what the wires on it take.
func (b *builder) ribsOf(board, way solid.Plan) solid.Solid {
	var out solid.Solid
	var weak []string
	least, wanted := topForce, 0.0
	channels, wires := b.body.Grow(b.s.Clearance), way.Grow(ribGap)
	plate := board.Less(wires)
	for i, t := range b.ties {
		if b.covers() && bearing(b.acrossAt(plate, t), b.s.BoardThick) >= safety*topForce*b.armOf(i) {
			continue
		}
		bar := b.bar(t).Less(channels)
		free := bar.Less(wires).Opened(leastSliver)
		if bar.Empty() || free.Empty() {
			continue
		}
		wide := b.s.BridgeWidth * free.Size() / bar.Size()
		arm := b.armOf(i)
		thick := thickFor(safety*topForce*arm, wide)
		if thick > mostRib {
			mid := t.a.Lerp(t.b, 0.5)
			weak = append(weak, fmt.Sprintf("x %.0f, y %.0f mm", mid.X, mid.Y))
			least = min(least, bearing(wide, mostRib)/arm/safety)
			wanted = max(wanted, math.Ceil(b.s.BridgeWidth*thick*thick/mostRib/mostRib))
			thick = mostRib
		}
		if thick = math.Ceil(thick/wholeLayer-1e-9) * wholeLayer; thick > b.s.BoardThick {
			out = append(out, solid.Layer{Z0: b.s.BoardThick, Z1: thick, Plan: free})
		}
	}
	if weak != nil {
		which := "the bridge at " + weak[0] + " bears"
		if len(weak) > 1 {
			which = fmt.Sprintf("the bridges at %s bear, the weakest of them,", strings.Join(weak, "; "))
		}
		b.note(
			"%s a push of %.1f N where what hangs on it is farthest, %.0f N are usual: --bridge-width %.0f would do",
			which, least, topForce, wanted,
		)
	}
	return out
}

// covers tells whether the board is one that covers all.
func (b *builder) covers() bool { return b.s.Board == BoardSolid || b.s.Board == BoardRibs }

// acrossAt is how wide a plate is, mm, in all, along the line across a bridge's middle: what is pushed beyond
// it bends the plate there.
func (b *builder) acrossAt(plate solid.Plan, t tie) float64 {
	const thin = 0.2 // mm
	mid, along := t.a.Lerp(t.b, 0.5), t.b.Sub(t.a).Unit()
	across, half := along.Perp().Mul(plate.Bounds().Size().Norm()), along.Mul(thin/2)
	cut := solid.Area(mid.Sub(across).Sub(half), mid.Sub(across).Add(half), mid.Add(across).Add(half), mid.Add(across).Sub(half))
	return plate.And(cut).Size() / thin
}

// armOf is how far what hangs on a tie reaches from it, mm: the pieces on the side of it
// where the sign is not held.
func (b *builder) armOf(tie int) float64 {
	open := map[geom.Point]int{} // ends of ties that lie on no piece
	number := func(p geom.Point, piece int) int {
		if piece >= 0 {
			return piece
		}
		if _, ok := open[p]; !ok {
			open[p] = len(b.pieces) + len(open)
		}
		return open[p]
	}
	hang := geom.NewForest(len(b.pieces) + 2*len(b.ties)) // together without the tie
	for i, t := range b.ties {
		if i != tie {
			hang.Join(number(t.a, t.pa), number(t.b, t.pb))
		}
	}
	held, t := hang.Root(b.heldPiece()), b.ties[tie]
	from, side := t.a, hang.Root(number(t.a, t.pa))
	if side == held {
		from, side = t.b, hang.Root(number(t.b, t.pb))
	}
	far := 0.0
	for i, piece := range b.pieces {
		if side == held || hang.Root(i) != side {
			continue
		}
		for _, c := range piece.curves {
			for _, p := range b.lines[c] {
				far = max(far, p.Dist(from))
			}
		}
	}
	return far
}

// heldPiece is the piece on the foot, or the one that carries the rest.
func (b *builder) heldPiece() int {
	if b.sign.Bore != nil {
		if i := b.pieceAt(geom.Pt(b.sign.Bore.Top.X, b.sign.Bore.Top.Y-b.s.Channel.Slot()/2-0.3)); i >= 0 {
			return i
		}
	}
	return slices.Index(b.pieces, b.largest())
}
