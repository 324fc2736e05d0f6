package parts

import (
	"math"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// padReach is how far along a channel the board runs on from the foot of a
// bridge, so that the joint holds against twisting, mm.
const padReach = 20

// ribEvery is the distance between the ribs of a ribbed board, ribRim the width
// of its rim, mm.
const ribEvery, ribRim = 40, 8

// boardPlan is the board's area.
func (b *builder) boardPlan() solid.Plan {
	kind := b.s.Board
	if kind == BoardAuto {
		kind = BoardBridges
		if len(b.pieces) < 2 {
			kind = BoardNone
		}
	}
	switch kind {
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

// addBoard makes the backboard: full at its rear, with the way of the wires
// left out of what lies in the channels' rear.
func (b *builder) addBoard() {
	b.board = b.boardPlan().Or(b.extra)
	if b.board.Empty() {
		return
	}
	block := solid.Solid{{Z0: 0, Z1: b.s.BoardThick, Plan: b.board}}
	if len(b.wires) > 0 {
		// Under a channel nothing would be left beside the groove but slivers.
		way := solid.Ribbon(b.wires, b.grooveHalf()).Or(solid.Ribbon(b.wires, b.hidden()+0.5).And(b.body))
		block = block.Cut(b.s.BoardThick-b.s.GrooveDepth, b.s.BoardThick, way)
	}
	for _, l := range b.boss {
		block = block.Each(l.Z0, l.Z1, func(p solid.Plan) solid.Plan { return p.Or(l.Plan) })
	}
	b.add(
		Part{
			Name:   NameBackboard,
			Flat:   true,
			Colour: standColour,
			Solid:  b.holed(block),
			Pose:   Pose{Move: solid.Vertex{Z: b.s.BoardSink - b.s.BoardThick}},
		},
	)
}
