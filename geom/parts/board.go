package parts

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// padReach is how far along a channel the board runs on from the foot of a
// bridge, so that the joint holds against twisting, mm.
const padReach = 24

// ribEvery is the distance between the ribs of a ribbed board, ribRim the width
// of its rim, mm.
const ribEvery, ribRim = 40, 8

// boardPlan is the board's area.
func (b *builder) boardPlan() solid.Plan {
	b.sign.Board = b.s.Board
	if b.sign.Board == BoardAuto {
		b.sign.Board = BoardBridges
		if len(b.pieces) < 2 {
			b.sign.Board = BoardNone
		}
	}
	switch b.sign.Board {
	case BoardBridges:
		return b.bridgePlan()
	case BoardSolid:
		return b.silhouette().Or(b.bridgePlan())
	case BoardRibs:
		whole := b.silhouette()
		ribs := b.ribs(whole.Bounds()).And(whole)
		return whole.Less(whole.Grow(-ribRim)).Or(ribs).Or(b.pads()).Or(b.bridgePlan())
	}
	return solid.Plan{}
}

// hidden is half the width of a board that lies in a channel's rear with a wall
// left on both sides.
func (b *builder) hidden() float64 {
	return max(b.s.outer()-max(b.s.Channel.Wall, 0.8)-b.s.Clearance, 1)
}

// bridgePlan is the bridges and the pads at their feet.
func (b *builder) bridgePlan() solid.Plan {
	var bars []solid.Plan
	var pads []geom.Polyline
	for _, t := range b.ties {
		bars = append(bars, b.bar(t))
		for _, end := range []struct {
			at    geom.Point
			piece int
		}{{t.a, t.pa}, {t.b, t.pb}} {
			if end.piece >= 0 {
				pads = append(pads, b.around(end.piece, end.at)...)
			}
		}
	}
	return solid.Union(append(bars, solid.Ribbon(pads, b.hidden()))...)
}

// bar is the plan of one bridge: square at a channel's middle, so that its
// seat leaves the far wall whole, and round in the open.
func (b *builder) bar(t tie) solid.Plan {
	half := b.s.BridgeWidth / 2
	n := t.b.Sub(t.a).Unit().Perp().Mul(half)
	bar := solid.Area(t.a.Sub(n), t.b.Sub(n), t.b.Add(n), t.a.Add(n))
	if t.pa < 0 {
		bar = bar.Or(solid.Disc(t.a, half))
	}
	if t.pb < 0 {
		bar = bar.Or(solid.Disc(t.b, half))
	}
	return bar
}

// around is what of a piece's lines lies within padReach of a point on them.
func (b *builder) around(piece int, at geom.Point) []geom.Polyline {
	var out []geom.Polyline
	for _, i := range b.pieces[piece].curves {
		var run geom.Polyline
		for _, p := range b.lines[i].Resampled(1) {
			if p.Dist(at) <= padReach {
				run = append(run, p)
				continue
			}
			if len(run) > 1 {
				out = append(out, run)
			}
			run = nil
		}
		if len(run) > 1 {
			out = append(out, run)
		}
	}
	return out
}

// pads lies under all channels.
func (b *builder) pads() solid.Plan { return solid.Ribbon(b.lines, b.hidden()) }

// silhouette is the sign's outer outline, gaps of less than 30 mm closed, kept
// behind the channels.
func (b *builder) silhouette() solid.Plan {
	closed := b.body.Grow(15).Grow(-15).Or(b.bridgePlan())
	var out []solid.Plan
	for _, p := range closed.Region() {
		out = append(out, solid.Area(p.Outline...))
	}
	return solid.Union(out...).Grow(-0.5)
}

// ribs is a lattice at 45 degrees.
func (b *builder) ribs(r geom.Rect) solid.Plan {
	mid := r.Min.Lerp(r.Max, 0.5)
	size := r.Size()
	reach := (size.X + size.Y) / 2
	var lines []geom.Polyline
	for d := -math.Floor(reach/ribEvery) * ribEvery; d <= reach; d += ribEvery {
		for _, dir := range []geom.Point{{X: math.Sqrt2 / 2, Y: math.Sqrt2 / 2}, {X: math.Sqrt2 / 2, Y: -math.Sqrt2 / 2}} {
			at := mid.Add(dir.Perp().Mul(d))
			lines = append(lines, geom.Polyline{at.Sub(dir.Mul(reach)), at.Add(dir.Mul(reach))})
		}
	}
	return solid.Ribbon(lines, b.s.BridgeWidth/4)
}

// Where a board that covers all is sunk into the channels: at a few places along each.
const (
	sunkPatches = 3    // of the longest line of each at least, and
	sunkEvery   = 40.0 // mm of any line
	sunkLength  = 14.0 // mm along the channel
	seatStep    = 4.0  // mm between the places by which seats are told
	underFoot   = 0.5  // mm that a board stays above the stand
)

// sunkPlan is where the board reaches up into the channels' rear, their walls left whole:
// all of what lies behind them of a board of bridges, a few places of one that covers
// all, so that the channels have enough to stand on when they are printed.
func (b *builder) sunkPlan() solid.Plan {
	if !b.covers() {
		return b.pads()
	}
	var patches []geom.Polyline
	for _, p := range b.pieces {
		if len(p.curves) == 0 {
			continue
		}
		longest := slices.MaxFunc(p.curves, func(i, j int) int { return cmp.Compare(b.lines[i].Length(), b.lines[j].Length()) })
		for _, i := range p.curves {
			line, n := b.lines[i], int(b.lines[i].Length()/sunkEvery)
			if i == longest {
				n = max(n, sunkPatches)
			}
			for k := range n {
				mid := line.Length() * (float64(k) + 0.5) / float64(n)
				half := min(sunkLength, line.Length()/float64(n)/2) / 2
				patches = append(patches, geom.Polyline{line.At(mid - half), line.At(mid), line.At(mid + half)})
			}
		}
	}
	return solid.Ribbon(patches, b.hidden())
}

// addBoard makes the backboard: flat on the channels' rear, and sunk into it with the way
// of the wires left out. Plates that do not touch are parts of their own; one that
// nothing holds on to is not made.
func (b *builder) addBoard() {
	plan := b.boardPlan().Or(b.extra)
	if b.s.Hold == HoldStand { // the stand's top is there
		box := b.body.Bounds()
		far := box.Size().Norm()
		plan = plan.Less(solid.Box(box.Min.X-far, box.Min.Y-far, box.Max.X+far, b.shoulders()+underFoot))
	}
	if plan.Empty() {
		return
	}
	b.seat = plan.And(b.sunkPlan())
	seated := b.seat.Locator()
	for _, l := range b.lines {
		for _, p := range l.Resampled(seatStep) {
			if seated(p) {
				b.sign.Seats = append(b.sign.Seats, p)
			}
		}
	}
	low := b.s.BoardThick - b.s.BoardSink
	block := solid.Solid{
		{Z0: 0, Z1: low, Plan: plan},
		{Z0: low, Z1: b.s.BoardThick, Plan: plan.Less(b.body.Grow(b.s.Clearance)).Or(b.seat)},
	}
	var way solid.Plan
	if len(b.sign.Wires) > 0 {
		way = solid.Ribbon(b.sign.Wires, b.grooveHalf()).Less(b.body).Or(b.sign.Narrow).Or(b.upHoles())
		if b.over {
			way = way.Less(b.body)
		}
		block = block.Cut(b.s.BoardThick-min(b.s.GrooveDepth, b.s.BoardSink), b.s.BoardThick, way)
	}
	block = block.Each(low, b.s.BoardThick, func(p solid.Plan) solid.Plan { return p.Opened(leastSliver) })
	type heights struct{ z0, z1 float64 }
	var order []heights
	on := map[heights][]solid.Plan{}
	for _, l := range append(b.ribsOf(plan, way), b.boss...) {
		h := heights{l.Z0, l.Z1}
		if on[h] == nil {
			order = append(order, h)
		}
		on[h] = append(on[h], l.Plan)
	}
	for _, h := range order {
		block = block.Add(h.z0, h.z1, solid.Union(on[h]...))
	}
	block = b.holed(block)
	var made []solid.Plan
	for _, p := range plan.Parts() {
		if behind := p.And(b.body); behind.Size() < LeastGlue {
			b.note("a plate of the backboard, %.0f mm² at x %.0f, y %.0f mm, would hold nothing and was left out", p.Size(), p.Inside().X, p.Inside().Y)
			continue
		}
		made = append(made, p)
	}
	plates := block.Parted(made)
	for i, plate := range plates {
		name := NameBackboard
		if len(plates) > 1 {
			name = fmt.Sprintf("%s %d", NameBackboard, i+1)
		}
		b.add(Part{
			Name: name, Flat: true, Colour: standColour, Solid: plate,
			Pose: Pose{Move: solid.Vertex{Z: b.s.BoardSink - b.s.BoardThick}},
		})
	}
}

// leastSliver is the width, mm, of what is left of a board beside wires and channels;
// thinner is not printed well.
const leastSliver = 0.8

// LeastGlue is the face, mm², that a joint needs at least to hold; common practice, no
// source.
const LeastGlue = 40.0
