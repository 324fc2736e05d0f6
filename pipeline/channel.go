package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageChannel widens the curves to a channel.
const StageChannel = "channel"

// ChannelSettings are the channel's measures but for the strip's, mm.
type ChannelSettings struct {
	Wall  float64 // of each side, at least
	Depth float64 // of the body, floor and walls together
	Floor float64
	Rear  float64 // stiffening behind the floor
	// MostRear is how thick the rear may be made where the wires need it.
	MostRear float64
	Grid     float64 // that the part's corners lie on
	Line     float64 // width of one printed line
}

// mostRear is three times the rear that is usual.
const mostRear = 6

// ChannelFound is the channel as one body.
type ChannelFound struct {
	solid.Channel
	Built solid.ChannelSettings // with walls of whole printed lines
	Line  float64               // mm, width of one printed line
}

func channelStage() stage.Stage {
	type settings = ChannelSettings
	type in struct {
		Dots      DotsFound
		Spacing   SpacingFound
		Junctions JunctionsFound
		Strips    StripsFound
	}
	def := solid.DefaultChannel()
	return stage.Define(stage.Spec[settings, in, ChannelFound]{
		Name: StageChannel, Does: "widen the curves into a printable channel",
		Default: ChannelSettings{
			Wall:     def.Wall,
			Depth:    def.Depth,
			Floor:    def.Floor,
			Rear:     def.Rear,
			MostRear: mostRear,
			Grid:     def.Grid,
			Line:     rules.DefaultWalls().Line,
		},
		Settings: []stage.Setting{
			stage.Number("wall", "mm", "minimum thickness of each side wall", 0.2, 20, func(s *settings) *float64 { return &s.Wall }),
			stage.Number("depth", "mm", "depth of the body, floor and walls together", 1, 100, func(s *settings) *float64 { return &s.Depth }),
			stage.Number("floor", "mm", "thickness of the floor", 0.1, 20, func(s *settings) *float64 { return &s.Floor }),
			stage.Number("rear", "mm", "stiffening added behind the floor", 0, 20, func(s *settings) *float64 { return &s.Rear }),
			stage.Number("rear-most", "mm", "how thick the rear is made at most where the wires find no room in it, or leave nothing to glue; 0 leaves it", 0, 20, func(s *settings) *float64 { return &s.MostRear }),
			stage.Number("grid", "mm", "step of the grid the part's corners lie on", 0.0005, 0.01, func(s *settings) *float64 { return &s.Grid }),
			stage.Number("line-width", "mm", "width of one printed line; walls are a whole number of lines thick", 0.1, 2, func(s *settings) *float64 { return &s.Line }),
		},
		Run: func(set settings, in in) (ChannelFound, stage.Report, error) {
			return buildChannel(set, in.Dots, in.Strips.Line, in.Junctions.Strip, in.Spacing.Least)
		},
		Show: stage.Show{Picture: drawChannel, Drawn: true},
	})
}

func buildChannel(
	set ChannelSettings, dots DotsFound, line geom.Centreline, strip StripRoom, spacing float64,
) (f ChannelFound, rep stage.Report, err error) {
	wall := rules.WholeWall(set.Wall, set.Line)
	if math.Abs(wall-set.Wall) > 1e-9 {
		rep.Note(
			"walls are %g mm thick, a whole number of printed lines %g mm wide, instead of %g mm", wall, set.Line,
			set.Wall,
		)
	}
	f.Line = set.Line
	f.Built = solid.ChannelSettings{
		Strip: strip.Width,
		Loose: strip.Loose,
		Wall:  wall,
		Depth: set.Depth,
		Floor: set.Floor,
		Rear:  set.Rear,
		Grid:  set.Grid,
	}
	if f.Channel, err = solid.BuildChannel(dots.Frame.PlanLine(line), dots.Frame.Size.Y, f.Built); err != nil {
		return f, rep, err
	}
	lo, hi := f.Solid.Bounds()
	rep.Found = fmt.Sprintf(
		"%.1f by %.1f by %.1f mm, %.1f cm³, %d facets in %s, watertight", hi.X-lo.X, hi.Y-lo.Y, hi.Z-lo.Z,
		f.Solid.Volume()/1000, len(f.Solid.Triangles), stage.Count(len(f.Body), "part", "separate parts"),
	)
	if wide := strip.Slot() + 2*wall; spacing < wide {
		rep.Judge(
			0.4, "channels are %g mm wide and lines may be %g mm apart, so that two may run into one; "+
				"give --spacing %g", wide, spacing, roomySpacing(strip.Slot(), wall),
		)
	}
	return f, rep, nil
}

// slotFloor is the height, mm, of the floor of the slot, where the strip lies.
func (f ChannelFound) slotFloor() float64 { return f.Built.Rear + f.Built.Floor }

// drawChannel shows the part from the front, a little from below and aside.
func drawChannel(r stage.Results, text string) (*image.RGBA, error) {
	f := stage.Of[ChannelFound](r)
	return drawScene(
		r, []picture.Thing{{Mesh: f.Solid, Colour: color.RGBA{226, 208, 182, 255}, Floor: f.slotFloor()}},
		picture.FrontView(), text,
	)
}

// drawScene shows things in space on a picture of the sheet's shape.
func drawScene(r stage.Results, scene []picture.Thing, view picture.View, text string) (*image.RGBA, error) {
	size := stage.Of[DotsFound](r).Frame.Size
	c, err := picture.Blank(size.X, size.Y, text)
	if err != nil {
		return nil, err
	}
	draw.Draw(c.Image, image.Rect(0, 0, c.W, c.H), picture.Scene(scene, c.W, c.H, view), image.Point{}, draw.Src)
	return c.Image, nil
}
