package parts

import (
	"errors"
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// A Bore is the straight way of the wires from the tenon's end up into a slot.
type Bore struct {
	From, Top geom.Point // its middle line, in the plan
	Width     float64    // mm
	Z0        float64    // mm, its floor
	Clear     float64    // mm, the least distance of its wall from the outside
}

// footSide is how far the foot goes beyond the tenon on each side, and so what
// it stands on, mm.
const footSide = 4

// tenonThick is the tenon's thickness, from the rear.
func (b *builder) tenonThick() float64 {
	if b.s.TenonThick > 0 {
		return b.s.TenonThick
	}
	return b.s.Channel.Height() - 3
}

// tenonSpan is the tenon's left and right side, below a place where the foot meets the lines.
func (b *builder) tenonSpan(low geom.Point) (x0, x1 float64) {
	if w := b.s.TenonWidth; w > 0 {
		return low.X - w/2, low.X + w/2
	}
	x0, x1 = b.footSpan(low)
	return x0 + footSide, x1 - footSide
}

// roofStep is the height of the steps of the bore's roof: it narrows by as much
// on each side, so that it leans out by 45 degrees at most and prints without
// support.
const roofStep = 0.5

// addFoot joins a foot with a tenon to the lowest channel and bores it.
func (b *builder) addFoot() error {
	low := b.entry
	s := b.s
	outer := s.outer()
	x0, x1 := b.footSpan(low)
	top := low.Y
	bottom := lowest(b.lines) - outer - s.FootHeight
	foot := solid.Box(x0, bottom, x1, top)
	t0, t1 := b.tenonSpan(low)
	tenon := solid.Box(t0, bottom-s.Tenon, t1, bottom)
	b.tenon = solid.Box(t0-1, bottom-s.Tenon-1, t1+1, bottom)
	free := b.slot
	b.body = b.body.Or(foot).Or(tenon).OnGrid(s.Channel.Grid)
	b.solid = b.solid.Add(0, b.floor(), foot.Or(tenon))
	b.solid = b.solid.Add(b.floor(), s.Channel.Height(), foot.Less(free))
	b.solid = b.solid.Add(b.floor(), b.tenonThick(), tenon)
	return b.bore(low, bottom-s.Tenon)
}

// footLift is how far above the lowest place of the lines, mm, the foot may meet them in order
// to stand under their middle; common practice, no source.
const footLift = 12.0

// Entry returns where the wires come into the lines, given with y up: above the foot's bore,
// or where a lead comes up from below. It is the place nearest to under the lines' centre of
// mass of those that lie low, with nothing below them; or nearest to under want, however low, if
// that is not nil.
func Entry(c geom.Centreline, want *geom.Point) geom.Point {
	var lines []geom.Polyline
	for _, k := range c.Curves {
		lines = append(lines, k.Flatten(flat))
	}
	return entryOf(lines, want)
}

func entryOf(lines []geom.Polyline, want *geom.Point) geom.Point {
	var all []geom.Point
	below := map[int]float64{} // the lowest place of each mm across
	for _, l := range lines {
		for _, p := range l.Resampled(entryStep) {
			all = append(all, p)
			k := int(math.Floor(p.X))
			if y, ok := below[k]; !ok || p.Y < y {
				below[k] = p.Y
			}
		}
	}
	open := func(p geom.Point) bool {
		for k := -FootReach; k <= FootReach; k++ {
			if y, ok := below[int(math.Floor(p.X))+k]; ok && y < p.Y-belowLeast {
				return false
			}
		}
		return true
	}
	x, most := geom.Middle(lines).X, lowest(lines)+footLift
	if want != nil {
		x, most = want.X, math.Inf(1)
	}
	best, off := geom.Point{}, math.Inf(1)
	for _, p := range all {
		if d := math.Abs(p.X - x); p.Y <= most && d < off-1e-9 && open(p) {
			best, off = p, d
		}
	}
	return best
}

// entryStep is how far apart, mm, the places are that the foot may come up to; FootReach how far
// beside such a place, and belowLeast how far below it, another line is in its way.
const (
	entryStep  = 0.5
	FootReach  = 6
	belowLeast = 2.5
)

// lowest is the height of the lines' lowest place.
func lowest(lines []geom.Polyline) float64 {
	least := math.Inf(1)
	for _, l := range lines {
		for _, p := range l {
			least = min(least, p.Y)
		}
	}
	return least
}

// footSpan is the foot's left and right side: as wide as the drawing is at its
// bottom, within bounds.
func (b *builder) footSpan(low geom.Point) (x0, x1 float64) {
	x0, x1 = low.X, low.X
	for _, l := range b.lines {
		for _, p := range l {
			if p.Y < low.Y+3 && math.Abs(p.X-low.X) < b.s.FootWidth {
				x0, x1 = min(x0, p.X-b.s.outer()), max(x1, p.X+b.s.outer())
			}
		}
	}
	half := max(b.s.FootWidth, b.s.TenonWidth+2*footSide) / 2
	return min(x0, low.X-half), max(x1, low.X+half)
}

// boreShare is the area of a bore by the square of its width, boreFill how much of it
// wires fill at most.
const boreShare, boreFill = 0.6875, 0.72

// boreWidth is the bore's width, mm: what is asked for, or more if a pair of wires for each
// circuit, and a data wire, do not pass.
func (b *builder) boreWidth() float64 {
	need, wires := b.boreNeed()
	if need <= b.s.Bore {
		return b.s.Bore
	}
	wide := min(math.Ceil(10*need)/10, b.s.Channel.Slot())
	b.note("the wire bore was made %.1f mm wide for %d wires", wide, wires)
	if wide < need {
		b.note("%d wires may not pass the bore: choose a strip with a higher voltage, whose wires are thinner", wires)
	}
	return wide
}

// boreNeed is how wide a bore is that the wires pass, mm, and how many they are.
func (b *builder) boreNeed() (need float64, wires int) {
	widest := 0.0
	for _, d := range b.plan.Wire {
		widest = max(widest, d)
	}
	wires = 2 * len(b.plan.Wire)
	if len(b.plan.Data) > 0 {
		wires, widest = wires+1, max(widest, b.plan.Signal)
	}
	return widest * math.Sqrt(float64(wires)/(boreShare*boreFill)), wires
}

// besideBore is how thick the walls beside a bore of a width are, mm: all of it, and a wall around,
// lies in the foot, the tenon, the channel's wall or the slot.
func (b *builder) besideBore(top geom.Point, bottom, width float64) (clear float64) {
	inside := b.body.Grow(0.001)
	wide := func(g float64) solid.Plan {
		return solid.Box(top.X-width/2-g, bottom, top.X+width/2+g, top.Y-b.s.Channel.Slot()/2)
	}
	for g := 0.2; g < 5 && inside.Covers(wide(g)); g += 0.2 {
		clear = g
	}
	return clear
}

// bore cuts the way for the wires and proves that it is clear: that it opens
// into the slot, and that it breaks out nowhere but at the tenon's end.
func (b *builder) bore(top geom.Point, bottom float64) error {
	w := b.boreWidth()
	z := b.floor()
	roof := z + w/2
	end := geom.Pt(top.X, bottom)
	way := func(half float64) solid.Plan { return solid.Box(top.X-half, bottom-1, top.X+half, top.Y) }
	b.solid = b.solid.Cut(z, roof, way(w/2))
	for half := w/2 - roofStep; half > 0.3; half -= roofStep {
		b.solid = b.solid.Cut(roof, roof+roofStep, way(half))
		roof += roofStep
	}
	clear := b.besideBore(top, bottom, w)
	if clear < 0.8 {
		return fmt.Errorf(
			"the wire bore at x %.0f mm has a wall of only %.1f mm; make the bore narrower or the foot wider",
			top.X, clear,
		)
	}
	if roof > b.tenonThick()-0.8 {
		return fmt.Errorf("the wire bore of %g mm breaks through the tenon; make it narrower or the channel deeper", w)
	}
	if !b.slot.Contains(top) {
		return errors.New("the wire bore does not meet the slot")
	}
	b.sign.Bore = &Bore{From: end, Top: top, Width: w, Z0: z, Clear: clear}
	return nil
}
