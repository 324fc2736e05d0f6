package solid

import (
	"errors"
	"fmt"

	"inkchannel/geom"
)

// ChannelSettings are the channel's measures, all mm. The defaults are common
// practice, no source.
type ChannelSettings struct {
	Strip float64 // the LED strip's width
	Loose float64 // clearance added to it for the slot
	Wall  float64 // thickness of each side wall
	Depth float64 // of the body, floor and walls together
	Floor float64 // thickness of the floor
	Rear  float64 // stiffening added behind the floor
	Grid  float64 // step of the grid that all corners lie on
}

// DefaultChannel returns the measures for strip about 5 mm wide.
func DefaultChannel() ChannelSettings {
	return ChannelSettings{Strip: 5, Loose: 0, Wall: 1, Depth: 13, Floor: 1, Rear: 2, Grid: 0.001}
}

// Slot is the slot's width.
func (s ChannelSettings) Slot() float64 { return s.Strip + s.Loose }

// Height is the body and the stiffening together.
func (s ChannelSettings) Height() float64 { return s.Depth + s.Rear }

func (s ChannelSettings) check() error {
	for _, v := range []struct {
		name  string
		value float64
	}{{"strip width", s.Strip}, {"wall", s.Wall}, {"floor", s.Floor}, {"depth", s.Depth}, {"grid step", s.Grid}} {
		if !(v.value > 0) {
			return fmt.Errorf("the channel's %s is %g mm; it must be over 0", v.name, v.value)
		}
	}
	if s.Loose < 0 {
		return fmt.Errorf("the strip's clearance is %g mm; it must be 0 or more", s.Loose)
	}
	if s.Rear < 0 {
		return fmt.Errorf("the channel's rear is %g mm; it must be 0 or more", s.Rear)
	}
	if s.Floor >= s.Depth {
		return fmt.Errorf("the floor of %g mm fills the body of %g mm; make the depth larger", s.Floor, s.Depth)
	}
	return nil
}

// A Channel is the printable body.
type Channel struct {
	// Body is the plan as seen from the front, y down.
	Body geom.Region
	// Solid is the body in space: x to the right, y up, z towards the viewer,
	// rear on z = 0, so that it reads as the paper does from the front. Its
	// origin is the sheet's lower left corner.
	Solid *Mesh
}

// chord is how far the plan's straight sides stray from the true curve, mm.
const chord = 0.015

// BuildChannel widens the centrelines to a channel. sheetHeight (mm) turns the
// sheet's y, which points down, upside up.
//
// It returns an error for measures that make no channel and for a centreline
// whose outline cannot be meshed.
func BuildChannel(c geom.Centreline, sheetHeight float64, s ChannelSettings) (ch Channel, err error) {
	defer Guard("building the channel", &err)
	if err := s.check(); err != nil {
		return Channel{}, err
	}
	var lines []geom.Polyline
	for _, k := range c.Upended(sheetHeight).Curves {
		lines = append(lines, k.Flatten(chord))
	}
	if len(lines) == 0 {
		return Channel{}, errors.New("there is no centreline to build a channel on")
	}
	plans := Ribbons(lines, s.Slot()/2+s.Wall, s.Slot()/2)
	body, slot := plans[0].OnGrid(s.Grid), plans[1].OnGrid(s.Grid)
	solid := Solid{{0, s.Rear + s.Floor, body}, {s.Rear + s.Floor, s.Height(), body.Less(slot)}}
	mesh, err := solid.Mesh(s.Grid)
	if err != nil {
		return Channel{}, err
	}
	upended := func(p geom.Point) geom.Point { return geom.Upended(p, sheetHeight) }
	return Channel{Body: body.Region().Mapped(upended), Solid: mesh}, nil
}
