package bed

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// The dovetails of a cut plate, mm; common practice, no source.
const (
	plateKeyMost  = 24.0 // width of a dovetail's head
	plateKeyLeast = 4.0  // a crossing narrower than this gets none
)

// DividePlate cuts a flat part that does not fit the bed by straight lines,
// again and again across its longer side, each where it crosses the least of
// the part. Dovetails key each crossing that is wide enough. A part that fits
// comes back whole.
//
// It returns an error if a piece still does not fit after many cuts.
func DividePlate(plate solid.Solid, s Settings) (pieces []solid.Solid, err error) {
	defer solid.Guard("cutting a plate to the bed", &err)
	if err := s.check(); err != nil {
		return nil, err
	}
	size := solid.Area(plate.Hull()...).Bounds().Size()
	most := 64 + 8*int(size.X*size.Y/(s.room().X*s.room().Y))
	todo := []seenAbove{{plate, solid.Plan{}}}
	for cuts := 0; len(todo) > 0; {
		p := todo[0]
		todo = todo[1:]
		if _, share := Turn(p.Hull(), s.room()); share <= 1 {
			pieces = append(pieces, p.Solid)
			continue
		}
		if p.shadow.Empty() {
			p.shadow = plate.Shadow()
		}
		if cuts++; cuts > most {
			return nil, fmt.Errorf("a plate cannot be cut to fit the bed's %.0f by %.0f mm", s.room().X, s.room().Y)
		}
		todo = append(todo, halve(p, s)...)
	}
	return pieces, nil
}

// A seenAbove is a solid and the area that it covers.
type seenAbove struct {
	solid.Solid
	shadow solid.Plan
}

// halve cuts a plate across its longer side.
func halve(plate seenAbove, s Settings) []seenAbove {
	p, shadow := plate.Solid, plate.shadow
	box := shadow.Bounds()
	size := box.Size()
	upright := size.X >= size.Y // the cut's direction
	lo, length := box.Min.X, size.X
	if !upright {
		lo, length = box.Min.Y, size.Y
	}
	strip := func(a, b float64) solid.Plan {
		if upright {
			return solid.Box(a, box.Min.Y-1, b, box.Max.Y+1)
		}
		return solid.Box(box.Min.X-1, a, box.Max.X+1, b)
	}
	type place struct{ at, cost float64 }
	var best place
	for k := range 21 {
		at := lo + length*(0.35+0.015*float64(k))
		cost := strip(at, at+0.5).Shared(shadow)/0.5 + 0.2*math.Abs(at-lo-length/2)
		if k == 0 || cost < best.cost {
			best = place{at, cost}
		}
	}
	at := best.at
	first, second := p.Keep(strip(lo-1, at-saw/2)), p.Keep(strip(at+saw/2, lo+length+1))
	keys := solid.Union(plateKeys(shadow, strip, at, upright)...)
	second = second.Cut(p[0].Z0, p[len(p)-1].Z1, keys.Grow(s.Clearance))
	for _, l := range p {
		first = first.Add(l.Z0, l.Z1, l.Plan.And(keys))
	}
	return append(separate(first), separate(second)...)
}

// plateKeys are the dovetails of a cut at a place, pointing to the far side.
func plateKeys(shadow solid.Plan, strip func(a, b float64) solid.Plan, at float64, upright bool) []solid.Plan {
	var out []solid.Plan
	for _, c := range shadow.And(strip(at-0.05, at+0.05)).Parts() {
		b := c.Bounds()
		mid, width := b.Min.Lerp(b.Max, 0.5), b.Size().Y
		if !upright {
			width = b.Size().X
		}
		if width < plateKeyLeast {
			continue
		}
		head := min(0.6*width, plateKeyMost)
		neck, long := 0.65*head, min(0.5*head, 8)
		turn := func(x, y float64) geom.Point { // x along the key
			if upright {
				return mid.Add(geom.Pt(x, y))
			}
			return mid.Add(geom.Pt(y, x))
		}
		key := solid.Area(turn(-saw, -neck/2), turn(long, -head/2), turn(long, head/2), turn(-saw, neck/2))
		if shadow.Covers(key.Grow(0.8)) {
			out = append(out, key)
		}
	}
	return out
}

// separate is the solid's pieces that do not hang together, largest first;
// crumbs are dropped.
func separate(s solid.Solid) []seenAbove {
	parts := s.Shadow().Parts()
	slices.SortStableFunc(parts, func(a, b solid.Plan) int { return cmp.Compare(b.Size(), a.Size()) })
	parts = slices.DeleteFunc(parts, func(p solid.Plan) bool { return p.Size() <= 0.5 })
	out := make([]seenAbove, len(parts))
	for i, piece := range s.Parted(parts) {
		out[i] = seenAbove{piece, parts[i]}
	}
	return out
}
