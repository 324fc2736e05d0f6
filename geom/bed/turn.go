package bed

import (
	"errors"
	"fmt"
	"math"

	"inkchannel/geom"
)

// Settings are the printer's bed and the joints of cut channels. The defaults
// are common practice, no source.
type Settings struct {
	Width, Depth float64 // of the bed
	Margin       float64 // left free along the bed's edge
	Gap          float64 // between parts on the bed
	Clearance    float64 // all round, in the keyed joints
}

// Default returns a common bed of 220 by 220 mm.
func Default() Settings {
	return Settings{Width: 220, Depth: 220, Margin: 5, Gap: 3, Clearance: 0.15}
}

// room is the part of the bed that may be printed on.
func (s Settings) room() geom.Point { return geom.Pt(s.Width-2*s.Margin, s.Depth-2*s.Margin) }

func (s Settings) check() error {
	if r := s.room(); r.X < 20 || r.Y < 20 {
		return fmt.Errorf(
			"a bed of %g by %g mm with a margin of %g mm leaves no room; at least 20 by 20 mm is needed", s.Width,
			s.Depth, s.Margin,
		)
	}
	if s.Gap < 0 || s.Clearance < 0 {
		return errors.New("the gap between parts and the joints' clearance must be 0 mm or more")
	}
	return nil
}

// extents is the size of the box around points turned by angle.
func extents(pts []geom.Point, angle float64) geom.Point {
	s, c := math.Sincos(geom.Radians(angle))
	lo, hi := geom.Pt(math.Inf(1), math.Inf(1)), geom.Pt(math.Inf(-1), math.Inf(-1))
	for _, p := range pts {
		x, y := c*p.X-s*p.Y, s*p.X+c*p.Y
		lo, hi = geom.Pt(min(lo.X, x), min(lo.Y, y)), geom.Pt(max(hi.X, x), max(hi.Y, y))
	}
	return hi.Sub(lo)
}

// Turn returns the angle, from 0 to under 180 degrees, at which the convex
// polygon takes the least share of a room (the larger of its shares of width
// and depth), and that share: over 1 it does not fit at any angle. Not turning
// is preferred where it fits.
func Turn(hull []geom.Point, room geom.Point) (angle, share float64) {
	at := func(a float64) float64 {
		e := extents(hull, a)
		return max(e.X/room.X, e.Y/room.Y)
	}
	if share = at(0); share <= 1 {
		return 0, share
	}
	const steps = 180
	best := 0.0
	for i := range steps {
		a := 180 * float64(i) / steps
		if v := at(a); v < share {
			best, share = a, v
		}
	}
	// The share is made of arcs of sines between kinks: narrow down around the
	// best step by golden sections.
	lo, hi := best-180.0/steps, best+180.0/steps
	const golden = 0.6180339887498949
	for range 40 {
		x, y := hi-golden*(hi-lo), lo+golden*(hi-lo)
		if at(x) < at(y) {
			hi = y
		} else {
			lo = x
		}
	}
	if v := at((lo + hi) / 2); v < share {
		best, share = (lo+hi)/2, v
	}
	return math.Mod(best+180, 180), share
}
