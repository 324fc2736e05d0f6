package papers

import (
	"fmt"
	"image"
	"image/color"
	"maps"
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
)

// An AssemblyIn is what the page of assembly shows.
type AssemblyIn struct {
	Dots      pipeline.DotsFound
	Colours   pipeline.ColoursFound
	Junctions pipeline.JunctionsFound
	Strips    pipeline.StripsFound
	Channel   pipeline.ChannelFound
	Parts     pipeline.PartsFound
	Walls     pipeline.WallsFound
	Beds      pipeline.BedsFound
	Power     pipeline.PowerFound
}

// List is what of it the parts list and the steps are made of.
func (in AssemblyIn) List() ListIn { return ListIn{in.Colours, in.Strips, in.Parts, in.Beds, in.Power} }

// strip is the line that a piece's strip covers, mm of the sign.
func (in AssemblyIn) strip(piece int) geom.Polyline {
	p := in.Strips.Pieces[piece]
	return in.Dots.Frame.SignPath(pipeline.Covered(pipeline.Way(in.Strips.Line, p), p))
}

// The size of a step's picture, px; one with more names than lookCrowd is half as large again, so that they have room.
const (
	lookWide, lookHigh = 900, 620
	lookCrowd          = 24
)

// The colours of a step's picture.
var (
	lookPale  = color.RGBA{222, 222, 218, 255}
	lookNow   = color.RGBA{224, 146, 40, 255}
	lookStrip = color.RGBA{255, 206, 70, 255}
	lookLaid  = color.RGBA{238, 226, 178, 255}
)

// How strip and wires are drawn, mm.
const (
	stripThick = 2.0
	wireHalf   = 0.9
	lookGrid   = 0.01
)

// draw makes a step's picture; nil for none.
func (l look) draw(in AssemblyIn) (*image.RGBA, error) {
	switch l.kind {
	case lookNone:
		return nil, nil
	case lookLit:
		return pipeline.Lit(pipeline.LitIn{
			Dots: in.Dots, Colours: in.Colours, Junctions: in.Junctions, Strips: in.Strips, Power: in.Power,
		}, lookWide), nil
	case lookWiring:
		d := pipeline.Wiring(pipeline.WiringIn{Colours: in.Colours, Strips: in.Strips, Power: in.Power})
		c, err := picture.Blank(d.W, d.H, "The wiring; wiring.svg is the same at any size")
		if err != nil {
			return nil, err
		}
		return picture.ImageOf(c, d.Draw(c))
	}
	things, err := l.scene(in)
	if err != nil {
		return nil, err
	}
	scene := make([]picture.Thing, len(things))
	for i, t := range things {
		scene[i] = t.Thing
	}
	view := picture.PartsView()
	if l.behind {
		view = picture.RearView()
	}
	if len(l.pieces)+len(l.laid) > 0 && len(l.now) == 0 {
		view = picture.FaceView()
	}
	wide, high := lookWide, lookHigh
	if l.wires && len(in.Parts.Harness)+len(l.holes) > lookCrowd {
		wide, high = 3*wide/2, 3*high/2
	}
	shot := picture.Take(scene, wide, high, view)
	c, err := picture.Over(shot.Image)
	if err != nil {
		return nil, err
	}
	l.mark(in, things, shot, c)
	return c.Image, nil
}

// A thing is a body of a step's picture with its name.
type thing struct {
	picture.Thing
	name string
}

// Behind tells that what a step shows is seen from behind.
func (s Step) Behind() bool { return s.look.behind }

// Bodies are what a step shows, in its colours and where it shows them; none for a step without
// parts.
func (s Step) Bodies(in AssemblyIn) (out []pipeline.Body, err error) {
	if s.look.kind != lookParts {
		return nil, nil
	}
	things, err := s.look.scene(in)
	for _, t := range things {
		out = append(out, pipeline.Body{
			Name: t.name, Colour: fmt.Sprintf("#%02x%02x%02x", t.Colour.R, t.Colour.G, t.Colour.B), Mesh: t.Mesh,
		})
	}
	return out, err
}

// scene is the bodies that a step's picture shows.
func (l look) scene(in AssemblyIn) ([]thing, error) {
	var out []thing
	named := func(name string, list []string) bool {
		return slices.ContainsFunc(list, func(p string) bool { return strings.HasPrefix(name, p) })
	}
	for _, b := range pipeline.Bodies(in.Parts) {
		th := thing{picture.Thing{Mesh: b.Mesh, Colour: lookPale}, b.Name}
		switch {
		case named(b.Name, l.now):
			th.Colour = lookNow
			if b.Name == parts.NameTestPiece && l.now[0] == "" {
				continue // it is printed by itself
			}
		case !named(b.Name, l.pale):
			continue
		}
		if l.apart && named(b.Name, l.now) {
			th.Mesh = th.Mesh.Moved(b.Apart)
		}
		out = append(out, th)
	}
	floor := in.Channel.Built.Rear + in.Channel.Built.Floor
	half := in.Junctions.Strip.Width / 2
	for _, set := range []struct {
		pieces []int
		colour color.RGBA
	}{{l.laid, lookLaid}, {l.pieces, lookStrip}} {
		for _, i := range set.pieces {
			th, err := ribbon(in.strip(i), half, floor, floor+stripThick, set.colour)
			if err != nil {
				return nil, err
			}
			out = append(out, thing{th, fmt.Sprintf("piece %d of strip", i+1)})
		}
	}
	for i, w := range in.Parts.Harness {
		if !l.wires {
			break
		}
		th, err := ribbon(w.Path, wireHalf, -2*wireHalf, 0, picture.StrokeColour(i))
		if err != nil {
			return nil, err
		}
		out = append(out, thing{th, fmt.Sprintf("wire %d", i+1)})
	}
	return out, nil
}

// ribbon is a body along a line.
func ribbon(way geom.Polyline, half, z0, z1 float64, col color.RGBA) (picture.Thing, error) {
	m, err := solid.Solid{{Z0: z0, Z1: z1, Plan: solid.Ribbon([]geom.Polyline{way}, half)}}.Mesh(lookGrid)
	return picture.Thing{Mesh: m, Colour: col}, err
}

// mark writes the numbers of pieces, wires, holes and branches, and where a piece starts.
func (l look) mark(in AssemblyIn, things []thing, shot picture.Shot, c *picture.Canvas) {
	top := in.Channel.Built.Rear + in.Channel.Built.Floor + stripThick
	at := func(p geom.Point, z float64) geom.Point { return shot.At(solid.Vertex{X: p.X, Y: p.Y, Z: z}) }
	var badges []picture.Badge
	spot := func(p geom.Point, name string) {
		c.Spot(p, 1, spotRadius, picture.BarBack)
		c.Keep(p, spotRadius+1)
		if name != "" {
			badges = append(badges, picture.Badge{At: p, Text: name, Colour: picture.BarBack})
		}
	}
	for _, b := range l.labelled(things) {
		lo, hi := b.Mesh.Bounds()
		badges = append(badges, picture.Badge{At: shot.At(solid.Vertex{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2, Z: lo.Z}), Text: b.name, Colour: picture.BarBack})
	}
	for _, i := range l.pieces {
		way := in.strip(i)
		arrow(c, at(way.At(1), top), at(way.At(min(arrowAlong, way.Length())), top))
		badges = append(badges, picture.Badge{At: at(way.At(way.Length()/2), top), Text: strconv.Itoa(i + 1), Colour: picture.MarkMain})
	}
	side := top
	if l.behind {
		side = 0
	}
	for i, h := range in.Parts.Holes {
		if i == 0 || !l.wires && l.holes == nil {
			continue
		}
		name := ""
		if slices.Contains(l.holes, i) {
			name = strings.TrimPrefix(holeName(in.Parts, i), "the ")
		}
		spot(at(h.At, side), name)
	}
	if l.wires {
		branches := branchesOf(in.Parts.Harness)
		for _, n := range slices.Sorted(maps.Keys(branches)) {
			spot(at(branches[n], -2*wireHalf), fmt.Sprintf("branch %d", n))
		}
		for i, w := range in.Parts.Harness {
			badges = append(badges, picture.Badge{
				At: at(w.Path.At(w.Path.Length()/2), -2*wireHalf), Text: "w" + strconv.Itoa(i+1), Colour: picture.StrokeColour(i),
			})
		}
	}
	c.Badges(badges)
}

// labelled are the bodies of those that a step shows that have their names beside them.
func (l look) labelled(things []thing) (out []thing) {
	for _, t := range things {
		if l.named && slices.ContainsFunc(l.now, func(p string) bool { return strings.HasPrefix(t.name, p) }) {
			out = append(out, t)
		}
	}
	return out
}

// branchesOf are the places where wires branch, by their numbers, in the frame of the wires.
func branchesOf(harness []parts.Wire) map[int]geom.Point {
	out := map[int]geom.Point{}
	for _, w := range harness {
		if w.From < 0 {
			out[-w.From] = w.Path[0]
		}
		if w.To < 0 {
			out[-w.To] = w.Path[len(w.Path)-1]
		}
	}
	return out
}

// spotRadius is a hole's or branch's on a step's picture, px.
const spotRadius = 5

// arrowAlong is how far along a piece, mm, its arrow goes.
const arrowAlong = 14

// arrow draws an arrow, px.
func arrow(c *picture.Canvas, a, b geom.Point) {
	dir := b.Sub(a).Unit()
	c.SetColor(picture.MarkMain)
	c.SetLineWidth(3)
	c.Path(geom.Polyline{a, b}, 1, false)
	c.Stroke()
	c.Path(geom.Polyline{b.Add(dir.Mul(8)), b.Add(dir.Perp().Mul(6)), b.Sub(dir.Perp().Mul(6))}, 1, true)
	c.Fill()
}
