package pipeline

import (
	"fmt"
	"image"
	"math"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageParts makes all parts of the sign.
const StageParts = "parts"

// PartsFound are the sign's parts.
type PartsFound struct {
	parts.Sign
	Meshes  []*solid.Mesh // of the parts, as they are printed
	Plastic solid.Plastic
	Screw   float64 // mm, metric, that it hangs on
	Relief  float64 // mm, of edges on the printer's bed that go into each other
	// Controller is the largest that has room in the stand, mm.
	Controller parts.Size
	OwnFoot    string // the file of the maker's own foot, empty for none
}

func partsStage(own Own) stage.Stage {
	type settings = parts.Measures
	type in struct {
		Dots    DotsFound
		Strips  StripsFound
		Channel ChannelFound
	}
	return stage.Define(stage.Spec[settings, in, PartsFound]{
		Name: StageParts, Does: "add the foot and stand or wall mounts, the backboard, wire grooves and other parts",
		Default: parts.DefaultMeasures(),
		Settings: []stage.Setting{
			stage.Choice("backboard", "what joins strokes that do not touch: auto, bridges, ribs, solid or none", []parts.Board{parts.BoardAuto, parts.BoardBridges, parts.BoardRibs, parts.BoardSolid, parts.BoardNone}, func(s *settings) *parts.Board { return &s.Board }),
			stage.Number("backboard-thickness", "mm", "thickness of the backboard", 1, 20, func(s *settings) *float64 { return &s.BoardThick }),
			stage.Number("backboard-sink", "mm", "how deep the backboard sits in the rear of the channels", 0, 10, func(s *settings) *float64 { return &s.BoardSink }),
			stage.Number("bridge-width", "mm", "width of the backboard's bridges", 3, 60, func(s *settings) *float64 { return &s.BridgeWidth }),
			stage.Choice("groove", "concealed wire groove at the rear: auto (only where needed), all (to every strip) or none", []parts.Groove{parts.GrooveAuto, parts.GrooveAll, parts.GrooveNone}, func(s *settings) *parts.Groove { return &s.Groove }),
			stage.Number("groove-inset", "mm", "distance from the channel's outline to the wire groove", 0.4, 20, func(s *settings) *float64 { return &s.GrooveInset }),
			stage.Number("groove-depth", "mm", "depth of the wire groove", 0.2, 10, func(s *settings) *float64 { return &s.GrooveDepth }),
			stage.Number("foot-height", "mm", "height of the foot, from the sign's lowest edge to the stand", 0, 100, func(s *settings) *float64 { return &s.FootHeight }),
			stage.Number("foot-width", "mm", "minimum width of the foot", 12, 300, func(s *settings) *float64 { return &s.FootWidth }),
			stage.Number("edge-relief", "mm", "draw in the edges of tenon, mortise, lid, covers and keys on the printer's bed, where first layers spread", 0, 1, func(s *settings) *float64 { return &s.Relief }),
			stage.Number("tenon", "mm", "length of the foot's tenon in the stand", 4, 60, func(s *settings) *float64 { return &s.Tenon }),
			stage.Number("tenon-width", "mm", "width of the tenon for a stand that you have; 0 goes by the foot", 0, 300, func(s *settings) *float64 { return &s.TenonWidth }),
			stage.Number("tenon-thickness", "mm", "thickness of the tenon for a stand that you have; 0 goes by the channel", 0, 100, func(s *settings) *float64 { return &s.TenonThick }),
			stage.Number("bore", "mm", "width of the wire bore through the foot", 1, 20, func(s *settings) *float64 { return &s.Bore }),
			stage.Number("part-clearance", "mm", "clearance on every side between parts that fit together", 0, 2, func(s *settings) *float64 { return &s.Clearance }).Called("parts/fit"),
			stage.Box("controller", "space for the controller in the stand, as width x depth x height", func(s *settings) []*float64 { return []*float64{&s.Controller.X, &s.Controller.Y, &s.Controller.Z} }),
			stage.Box("cable-exit", "cable opening in the rear of the stand, as width x height", func(s *settings) []*float64 { return []*float64{&s.Exit.Wide, &s.Exit.High} }),
			stage.Number("tilt", "degrees", "tilt at which the sign must not tip over; the stand is made large enough", 0, 40, func(s *settings) *float64 { return &s.Tilt }),
			stage.Number("density", "g/cm³", "density of the plastic", 0.5, 10, func(s *settings) *float64 { return &s.Density }).Called("beds/density"),
			stage.Number("shell", "mm", "thickness of solid plastic under every surface", 0.2, 20, func(s *settings) *float64 { return &s.Shell }).Called("beds/shell"),
			stage.Number("infill", "%", "share of plastic inside the shell", 0, 100, func(s *settings) *float64 { return &s.Infill }).Called("beds/infill"),
			stage.Number("strip-mass", "g/m", "mass of each metre of strip with its wires, for the sign's balance", 0, 1000, func(s *settings) *float64 { return &s.StripMass }),
			stage.Number("screw", "mm", "the wall screws' thickness, for keyholes and ears: 4 takes M4 too", 2, 8, func(s *settings) *float64 { return &s.Screw }),
			stage.PlaceGroups("screws-at", stage.FrameSheet, "where the screws of keyholes or ears, or the pads, are to be, as x,y x,y; none lets them be found", 1, func(s *settings) *[]geom.Point { return &s.Screws }),
			stage.YesNo("cover", "make snap-in covers for plain strip", func(s *settings) *bool { return &s.Cover }),
			stage.YesNo("test-piece", "make a test piece to find the strip's clearance", func(s *settings) *bool { return &s.Coupon }),
		},
		Run: func(set settings, in in) (PartsFound, stage.Report, error) {
			return buildParts(set, own, in.Dots, in.Strips, in.Channel)
		},
		Show: stage.Show{Picture: drawParts, Drawn: true},
	})
}

func buildParts(
	set parts.Measures, own Own, dots DotsFound, strips StripsFound, channel ChannelFound,
) (f PartsFound, rep stage.Report, err error) {
	frame := dots.Frame
	set.Screws = frame.SignPath(dots.FromPaper(set.Screws))
	if own.Foot != nil && strips.Hold != parts.HoldStand {
		rep.Note("--foot is for a sign that stands: --hold stand")
	}
	if strips.Hold == parts.HoldStand {
		f.OwnFoot = own.FootName
	}
	f.Plastic, f.Screw, f.Relief, f.Controller = set.Plastic, set.Screw, set.Relief, set.Controller
	s := parts.Settings{Channel: channel.Built, Hold: strips.Hold, Foot: strips.foot(frame), Own: own.Foot, Measures: set}
	if f.Sign, err = parts.Build(frame.SignLine(strips.Line), strips.wirePlan(frame), s); err != nil {
		return f, rep, err
	}
	f.Meshes = make([]*solid.Mesh, len(f.Parts))
	err = parallel.Try(len(f.Parts), func(i int) (err error) {
		f.Meshes[i], err = meshed(f.Parts[i].Name, f.Parts[i].Solid, channel.Built.Grid)
		return err
	})
	if err != nil {
		return f, rep, err
	}
	var names []string
	for _, p := range f.Parts {
		names = append(names, p.Name)
	}
	rep.Found = fmt.Sprintf("%s: %s", stage.Count(len(names), "part", "parts"), strings.Join(names, ", "))
	noteParts(&rep, f)
	f.judgeMounts(&rep, set.Screws, dots)
	f.judgeGlue(&rep)
	return f, rep, nil
}

// judgeMounts doubts places by hand of what is to hold the sign.
func (f PartsFound) judgeMounts(rep *stage.Report, asked []geom.Point, dots DotsFound) {
	none := mapped(f.NoRoom, func(p geom.Point) geom.Point { return dots.Paper(dots.Frame.Sheet(p)) })
	switch {
	case len(none) > 0:
		rep.Judge(
			0.4, "nothing holds the sign at %s: such a place must be at least %.1f mm from the middle of every line, at most 40 mm from "+
				"the nearest, and clear of the others", placesText(none), f.MountRoom,
		)
	case f.Swings && len(asked) > 0:
		rep.Judge(0.4, "the places by hand do not carry the sign: there must be one on each side of its centre of mass, and one above it")
	case f.Swings:
		rep.Judge(
			0.4, "there is no room on each side of the sign's centre of mass and above it for what holds it: it would not hang as drawn; "+
				"--screws-at takes places by hand",
		)
	case len(asked) > 0 && f.Mounts == 0:
		rep.Note("--screws-at is for a sign that hangs: --hold keyhole, ears or pads")
	}
}

// judgeGlue doubts a sign of which a channel has too little to be glued onto the backboard.
func (f PartsFound) judgeGlue(rep *stage.Report) {
	if f.Loose == nil {
		return
	}
	var helps []string
	if f.Rear > 0 {
		helps = append(helps, fmt.Sprintf("--rear %.1f gives the wires room beside it", f.Rear))
	}
	switch f.Board {
	case parts.BoardBridges:
		helps = append(helps, "--backboard ribs gives more to glue")
	case parts.BoardRibs:
		helps = append(helps, "--backboard solid gives more to glue")
	}
	if helps == nil {
		helps = []string{"a larger sign or lines that lead further give more to glue"}
	}
	rep.Judge(
		0.4, "too little of a channel is glued onto the backboard: %s; %s", facesText(f.Loose), strings.Join(helps, ", and "),
	)
}

// facesText tells what is glued of channels, or of pieces of them, that have too little.
func facesText(loose []parts.Loose) string {
	var list []string
	for _, l := range loose {
		list = append(list, fmt.Sprintf("%s has %.0f mm²", l.Name, l.Face))
	}
	return fmt.Sprintf("%s, %g are usual", strings.Join(list, ", "), parts.LeastGlue)
}

// meshed is the mesh of a part or a piece, which an error names.
func meshed(name string, s solid.Solid, grid float64) (*solid.Mesh, error) {
	m, err := s.Mesh(grid)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return m, nil
}

func noteParts(rep *stage.Report, f PartsFound) {
	if n := len(f.Bridges); n > 0 {
		rep.Note(
			"%s, %.0f mm in all, %s %d channels that do not touch", stage.Count(n, "bridge", "bridges"),
			geom.TotalLength(f.Bridges), stage.Plural(n, "joins", "join"), f.Strokes,
		)
	}
	if w := f.Bore; w != nil {
		walls := fmt.Sprintf("; clear all the way, with walls at least %.1f mm thick", w.Clear)
		if f.OwnFoot != "" {
			walls = ", in your foot"
		}
		rep.Note("wire bore %g mm wide and %.0f mm long from its end to the slot at x %.1f mm%s", w.Width, w.From.Dist(w.Top), w.Top.X, walls)
	}
	if n := len(f.Holes) - 1; n > 0 && len(f.Wires) > 0 {
		rep.Note(
			"%.0f mm of concealed wire groove; %s up to the strip", geom.TotalLength(f.Wires),
			stage.Count(n, "hole leads", "holes lead"),
		)
	}
	if b := f.Balance; b != nil {
		size := b.Base.Size()
		rep.Note(
			"stands on a base of %.0f by %.0f mm, its centre of mass %.0f mm up; tips over when tilted by %.1f degrees",
			size.X, size.Y, b.Centre.Y, b.Tilt,
		)
	}
	rep.Notes = append(rep.Notes, f.Notes...)
}

// Named returns the part of a name, nil if there is none.
func (f PartsFound) Named(name string) *parts.Part {
	for i := range f.Parts {
		if f.Parts[i].Name == name {
			return &f.Parts[i]
		}
	}
	return nil
}

// A Body is one part where it is on the finished sign.
type Body struct {
	Name, Colour string // the colour as #rrggbb or #rrggbbaa
	Mesh         *solid.Mesh
	// Apart is how far the part is pulled off the sign to be seen by itself.
	Apart   solid.Vertex
	Extra   bool // lies beside the sign
	channel bool
}

// besideSign is how far from the sign, mm, the extras lie.
const besideSign = 20

// Bodies lists the parts of a sign as they go together, mm of the sign. Extras,
// such as the test piece, lie beside the sign.
func Bodies(f PartsFound) []Body {
	var out, extras []Body
	hi := math.Inf(-1)
	for i, p := range f.Parts {
		b := Body{
			Name:    p.Name,
			Colour:  p.Colour,
			Mesh:    f.Meshes[i].Mapped(p.Pose.Apply),
			Apart:   apart(p),
			channel: p.Channel && !p.Pose.Flip,
		}
		if p.Extra {
			b.Mesh, b.Extra = f.Meshes[i], true
			extras = append(extras, b)
			continue
		}
		_, to := b.Mesh.Bounds()
		hi = max(hi, to.X)
		out = append(out, b)
	}
	for _, b := range extras {
		from, _ := b.Mesh.Bounds()
		b.Mesh, b.Apart = b.Mesh.Moved(solid.Vertex{X: hi + besideSign - from.X, Y: -from.Y}), solid.Vertex{}
		out = append(out, b)
	}
	return out
}

// apart is how far, mm, a part is pulled off the sign to be seen.
func apart(p parts.Part) solid.Vertex {
	switch {
	case p.Pose.Stand && p.Pose.Flip:
		return solid.Vertex{Y: -14}
	case p.Pose.Stand:
		return solid.Vertex{Y: -34}
	case p.Pose.Flip:
		return solid.Vertex{Z: 30}
	case !p.Channel:
		return solid.Vertex{Z: -45}
	}
	return solid.Vertex{}
}

// drawParts shows the parts together as the finished sign, pulled apart from
// front to rear.
func drawParts(r stage.Results, text string) (*image.RGBA, error) {
	var scene []picture.Thing
	for _, b := range Bodies(stage.Of[PartsFound](r)) {
		col, err := picture.ParseColour(b.Colour)
		if err != nil {
			return nil, err
		}
		th := picture.Thing{Mesh: b.Mesh.Moved(b.Apart), Colour: col}
		if b.channel {
			th.Floor = stage.Of[ChannelFound](r).slotFloor()
		}
		scene = append(scene, th)
	}
	return drawScene(r, scene, picture.PartsView(), text)
}
