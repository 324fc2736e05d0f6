package rules

import (
	"errors"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/geom/solid"
)

// WallSettings tell what a printer can print; the defaults are common
// practice, no source.
type WallSettings struct {
	Line   float64 // mm, width of one extruded line
	Bridge float64 // mm, the widest gap it spans without support
}

// DefaultWalls returns a nozzle of 0.4 mm's usual.
func DefaultWalls() WallSettings { return WallSettings{Line: 0.5, Bridge: 10} }

// WholeWall returns the least whole number of line widths that makes a wall at
// least as thick, to within a hundredth of a line.
func WholeWall(wall, line float64) float64 {
	return math.Max(math.Ceil(wall/line-0.01), 1) * line
}

// A Weak is a place that prints badly.
type Weak struct {
	Kind WeakKind
	At   geom.Point
	Z    float64 // mm, the height where it begins
	// Size is the sliver's area in mm², or the distance in mm of the ceiling's
	// furthest point from what carries it.
	Size float64
}

// A WeakKind tells what is weak.
type WeakKind string

// The kinds of weak places.
const (
	WeakSliver  WeakKind = "sliver"  // thinner than a printed line
	WeakCeiling WeakKind = "ceiling" // spans more than the printer can
)

// leastSliver is the area of a sliver that is worth a word, mm²: about one
// line's width each way, and more than what opening takes off the corners.
const leastSliver = 0.3

// Walls lists what of a part, as it is printed, is thinner than one extruded
// line, and ceilings that span too much.
//
// It returns an error for settings that are not over 0.
func Walls(part solid.Solid, set WallSettings) (weak []Weak, err error) {
	defer solid.Guard("looking for weak walls", &err)
	if !(set.Line > 0) || !(set.Bridge > 0) {
		return nil, errors.New("the line width and the longest bridge must be over 0 mm")
	}
	of := make([][]Weak, len(part))
	err = parallel.Try(len(part), func(i int) (err error) {
		defer solid.Guard("looking for weak walls", &err)
		if i == 0 || !part.SamePlan(i, i-1) {
			near := part[max(i-1, 0) : i+1].Apart()
			of[i] = append(slivers(near[len(near)-1], set.Line), ceilings(near, set.Bridge)...)
		}
		return nil
	})
	return slices.Concat(of...), err
}

// slivers are the places of a layer that are thinner than a line.
func slivers(l solid.Layer, line float64) (weak []Weak) {
	thin := line * 0.96 / 2
	for _, p := range l.Plan.Outside(l.Plan.Grow(-thin).Grow(thin + 0.04)).Parts() {
		if a := p.Size(); a > leastSliver {
			weak = append(weak, Weak{Kind: WeakSliver, At: p.Inside(), Z: l.Z0, Size: a})
		}
	}
	return weak
}

// ceilings are the places of the second of two layers that lie too far from what carries them; of one
// layer, which lies on the bed, none.
func ceilings(two solid.Solid, bridge float64) (weak []Weak) {
	if len(two) < 2 {
		return nil
	}
	l, below := two[1], two[0].Plan
	for _, over := range l.Plan.Outside(below).Parts() {
		if over.Size() < leastSliver {
			continue
		}
		r := over.Bounds()
		near := below.And(solid.Box(r.Min.X-1, r.Min.Y-1, r.Max.X+1, r.Max.Y+1).GrowSquare(bridge))
		for _, p := range over.Outside(near.Grow(bridge / 2)).Parts() {
			// Round corners of what is grown fall a little short.
			at := p.Inside()
			if far := carried(below, at); far > bridge/2+grownShort {
				weak = append(weak, Weak{Kind: WeakCeiling, At: at, Z: l.Z0, Size: far})
			}
		}
	}
	return weak
}

// grownShort is how far, mm, a grown plan's round corners may fall short.
const grownShort = 0.05

// carried is how far a point is from a plan.
func carried(below solid.Plan, at geom.Point) float64 {
	best := math.Inf(1)
	for _, r := range below.Region().Rings() {
		for i, p := range r {
			f, _ := geom.Foot(p, r[(i+1)%len(r)], at)
			best = min(best, f.Dist(at))
		}
	}
	return best
}
