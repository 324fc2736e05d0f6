package parts

import (
	"errors"
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// What a maker's own foot must have, mm.
const (
	ownFlat  = 50.0 // mm², of the face that it is printed on
	ownRow   = 0.5  // below its top, where its bore is looked for
	ownBore  = 1.0  // width of the bore, and how high it must meet the slot
	ownProbe = 0.3  // half the width of a straight way down the bore
)

// A gap is where the bore of a maker's own foot opens at its top, at some height.
type gap struct{ x0, x1 float64 }

// addOwnFoot joins the maker's own foot to the lowest channel: its flat face level with the rear, its
// top up to the line, its bore under the place where the wires come in. It returns an error for a
// foot that does not lie flat or whose bore does not meet the slot.
func (b *builder) addOwnFoot() error {
	own, low := b.s.Own, b.entry
	if own[0].Plan.Size() < ownFlat {
		return fmt.Errorf(
			"the foot lies on %.0f mm² only; turn its file so that its flat rear lies below and its top points along y", own[0].Plan.Size(),
		)
	}
	box := own.Shadow().Bounds()
	gaps, widest := gapsOf(own, box, b.floor()+own[0].Z0, b.s.Channel.Height()+own[0].Z0)
	if widest.x1-widest.x0 < ownBore {
		return fmt.Errorf(
			"the foot has no bore that opens at its top from %g to %g mm above its flat rear, where the strip lies; the wires "+
				"need one", b.floor(), b.s.Channel.Height(),
		)
	}
	x := (widest.x0 + widest.x1) / 2
	move := geom.Pt(low.X-x, low.Y-box.Max.Y)
	down := -own[0].Z0
	var shadow solid.Plan
	met, from, to := 0.0, math.Inf(1), 0.0
	for i, l := range own {
		plan := l.Plan.Moved(0, move)
		shadow = shadow.Or(plan)
		z0, z1 := l.Z0+down, l.Z1+down
		if z0 < b.floor() {
			b.solid = b.solid.Add(z0, min(z1, b.floor()), plan)
		}
		if z1 <= b.floor() {
			continue
		}
		z0 = max(z0, b.floor())
		b.solid = b.solid.Add(z0, z1, plan.Less(b.slot))
		if g, ok := gaps[i]; ok && g.x0 < x && x < g.x1 {
			way := solid.Box(g.x0+move.X, low.Y-2*b.s.outer(), g.x1+move.X, low.Y).Less(plan)
			b.solid = b.solid.Cut(z0, z1, way)
			met, from, to = met+z1-z0, min(from, z0), max(to, z1)
		}
	}
	if met < ownBore {
		return errors.New("the foot's bore does not meet the slot: it must open at the top where the strip lies")
	}
	b.body = b.body.Or(shadow).OnGrid(b.s.Channel.Grid)
	bottom := low.Y - box.Size().Y
	b.s.Tenon, b.s.FootHeight = 0, max(box.Size().Y-b.s.outer(), 0)
	wide := widest.x1 - widest.x0
	b.sign.Bore = &Bore{
		From: geom.Pt(low.X, bottom), Top: low, Width: wide, Z0: from, Clear: b.besideBore(low, bottom, wide),
	}
	if straight := solid.Box(low.X-ownProbe, bottom, low.X+ownProbe, low.Y-b.s.outer()); b.solid.At((from+to)/2).And(straight).Size() > 1e-6 {
		b.note("the bore of the foot does not run straight down: see for yourself that the wires pass")
	}
	if need, wires := b.boreNeed(); need > b.sign.Bore.Width {
		return fmt.Errorf("the foot's bore is %.1f mm wide, and %d wires need %.1f mm", b.sign.Bore.Width, wires, need)
	}
	b.note("the foot is your own: no stand is made for it, and whether the sign stands is not worked out")
	return nil
}

// gapsOf are where the bore opens at the top of a foot, by layer, between two heights, and the widest.
func gapsOf(own solid.Solid, box geom.Rect, z0, z1 float64) (out map[int]gap, widest gap) {
	out = map[int]gap{}
	y := box.Max.Y - ownRow
	for i, l := range own {
		if l.Z1 <= z0 || l.Z0 >= z1 {
			continue
		}
		row := solid.Box(box.Min.X-1, y-0.1, box.Max.X+1, y+0.1).Less(l.Plan)
		for _, p := range row.Parts() {
			b := p.Bounds()
			if b.Min.X <= box.Min.X-0.5 || b.Max.X >= box.Max.X+0.5 {
				continue // beside the foot
			}
			if g := (gap{b.Min.X, b.Max.X}); g.x1-g.x0 > out[i].x1-out[i].x0 {
				out[i] = g
			}
		}
		if g := out[i]; g.x1-g.x0 > widest.x1-widest.x0 {
			widest = g
		}
	}
	return out, widest
}
