package pipeline

import (
	"fmt"
	"math"
	"strings"
	"sync"

	"inkchannel/geom"
	"inkchannel/geom/bed"
	"inkchannel/geom/parts"
	"inkchannel/geom/regular"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
)

// A Print is one thing to print: a part, or a piece of a part that was cut to
// fit the bed.
type Print struct {
	Name     string
	Colour   string
	Solid    solid.Solid
	Mesh     *solid.Mesh
	Estimate bed.Estimate
	Pose     parts.Pose
	Extra    bool
}

// A WeakPart is a weak place of a part.
type WeakPart struct {
	Part string
	rules.Weak
}

func (r *Result) symmetrise(step *Step) (err error) {
	set := r.Settings.Symmetry
	if r.Symmetry, err = regular.Symmetrise(r.Line, set); err != nil {
		return err
	}
	s := r.Symmetry
	r.Line = s.Line
	if s.Axis == nil && set.Straighten == regular.StraightenNo {
		step.Found = "left as drawn"
		return nil
	}
	var did []string
	if set.Straighten != regular.StraightenNo {
		did = append(did, fmt.Sprintf("turned by %.2f degrees", s.Turn))
	}
	if s.Axis != nil {
		did = append(did, fmt.Sprintf("axis through %.1f,%.1f mm, %.0f %% of the lines have a partner, %.2f mm off on average", s.Axis.At.X, s.Axis.At.Y, 100*s.Axis.Share, s.Axis.Off))
	}
	if set.Mirror != regular.MirrorNo {
		did = append(did, fmt.Sprintf("made symmetric, points moved by at most %.2f mm", s.Moved))
	}
	step.Found = strings.Join(did, "; ")
	if s.Kept > 0 {
		step.Notes = append(step.Notes, fmt.Sprintf("%d strokes without a partner stay as drawn", s.Kept))
	}
	return nil
}

func (r *Result) makeShapes(step *Step) (err error) {
	if r.Shapes, err = regular.Shapes(r.Line, r.Settings.Shapes); err != nil {
		return err
	}
	s := r.Shapes
	r.Line = s.Line
	count := map[regular.Kind]int{}
	for _, sh := range s.Shapes {
		count[sh.Kind]++
	}
	if len(s.Shapes) == 0 {
		step.Found = "left as drawn"
		return nil
	}
	step.Found = fmt.Sprintf("%d lines, %d arcs, %d circles; %d joints tangent, %d lines parallel, %d radii equal; points moved by at most %.2f mm",
		count[regular.Line], count[regular.Arc], count[regular.Circle], s.Tangent, s.Parallel, s.Equal, s.Moved)
	return nil
}

func (r *Result) measureSpacing(step *Step) (err error) {
	set := r.Settings.Spacing
	if r.Tight, err = rules.Spacing(r.Line, set); err != nil {
		return err
	}
	step.Found = fmt.Sprintf("all lines at least %g mm apart", set.Least)
	if n := len(r.Tight); n > 0 {
		step.Found = fmt.Sprintf("%d places nearer than %g mm, the nearest %.2f mm", n, set.Least, r.Tight[0].Distance)
	}
	if set.Spread > 0 && len(r.Tight) > 0 {
		return r.spreadLines(step)
	}
	for _, t := range firstOf(r.Tight) {
		step.Notes = append(step.Notes, tightText(t))
	}
	step.Notes = append(step.Notes, more(len(r.Tight))...)
	return nil
}

func (r *Result) spreadLines(step *Step) error {
	set := r.Settings.Spacing
	s, err := rules.Spread(r.Line, set)
	if err != nil {
		return err
	}
	if len(s.Left) > 0 {
		var list []string
		for _, t := range s.Left {
			list = append(list, tightText(t))
		}
		return fmt.Errorf("lines cannot be spread to %g mm by moving them %g mm at most: %s; allow more by --spread, or draw them further apart", set.Least, set.Spread, strings.Join(list, "; "))
	}
	r.Spread, r.Line = &s, s.Line
	step.Found += fmt.Sprintf("; spread, points moved by at most %.2f mm", s.Moved)
	return nil
}

// mostNotes is how many places of a kind a stage's notes name; the summary
// names all.
const mostNotes = 8

func firstOf[T any](list []T) []T { return list[:min(len(list), mostNotes)] }

func more(n int) []string {
	if n <= mostNotes {
		return nil
	}
	return []string{fmt.Sprintf("and %d more, see %s", n-mostNotes, FileSummary)}
}

func tightText(t rules.Tight) string {
	m := t.At[0].Lerp(t.At[1], 0.5)
	who := fmt.Sprintf("strokes %d and %d are", t.Curves[0]+1, t.Curves[1]+1)
	if t.Curves[0] == t.Curves[1] {
		who = fmt.Sprintf("two parts of stroke %d are", t.Curves[0]+1)
	}
	return fmt.Sprintf("%s %.2f mm apart at x %.1f, y %.1f mm, over %.0f mm", who, t.Distance, m.X, m.Y, t.Length)
}

func (r *Result) mendBends(step *Step) (err error) {
	set := r.Settings.Bends
	line, bends, err := rules.Bends(r.Line, set)
	if err != nil {
		return err
	}
	r.Line, r.Bends = line, bends
	rounded, moved := 0, 0.0
	var left []rules.Bend
	for _, b := range bends {
		if b.Rounded {
			rounded++
			moved = max(moved, b.Moved)
			continue
		}
		left = append(left, b)
	}
	switch {
	case len(bends) == 0:
		step.Found = fmt.Sprintf("no bend tighter than %g mm", set.Radius)
	case rounded == 0:
		step.Found = fmt.Sprintf("%d places to cut and join the strip, tighter than %g mm", len(left), set.Radius)
	default:
		step.Found = fmt.Sprintf("%d bends rounded to %g mm, lines moved by at most %.2f mm; %d places left to cut and join the strip", rounded, set.Radius, moved, len(left))
	}
	for _, b := range firstOf(left) {
		step.Notes = append(step.Notes, bendText(b))
	}
	step.Notes = append(step.Notes, more(len(left))...)
	return nil
}

func bendText(b rules.Bend) string {
	what := fmt.Sprintf("turns by %.0f degrees at a radius of %.1f mm", b.Turn, b.Radius)
	if b.Radius == 0 {
		what = fmt.Sprintf("has a corner of %.0f degrees", b.Turn)
	}
	text := fmt.Sprintf("stroke %d %s at x %.1f, y %.1f mm: cut and join the strip there", b.Curve+1, what, b.At.X, b.At.Y)
	if b.Why != "" {
		text += " (" + b.Why + ")"
	}
	return text
}

func (r *Result) decideJunctions(step *Step) (err error) {
	if r.Junctions, err = rules.Junctions(r.Line, rules.JunctionSettings{Strip: r.Settings.Channel.Slot()}); err != nil {
		return err
	}
	cramped := 0
	for _, j := range r.Junctions {
		step.Notes = append(step.Notes, r.crossing(j)...)
		if !j.Cramped {
			continue
		}
		if cramped++; cramped <= mostNotes {
			step.Notes = append(step.Notes, crampedText(j))
		}
	}
	step.Notes = append(step.Notes, more(cramped)...)
	step.Found = fmt.Sprintf("%d junctions, %d of them cramped", len(r.Junctions), cramped)
	return nil
}

func (r *Result) buildChannel(step *Step) (err error) {
	s := r.Settings.Channel
	if s.Wall > 0 && r.Settings.Walls.Line > 0 {
		if s.Wall = rules.WholeWall(s.Wall, r.Settings.Walls.Line); math.Abs(s.Wall-r.Settings.Channel.Wall) > 1e-9 {
			step.Notes = append(step.Notes, fmt.Sprintf("walls are made %g mm thick, a whole number of printed lines %g mm wide, not %g mm", s.Wall, r.Settings.Walls.Line, r.Settings.Channel.Wall))
		}
	}
	r.walls = s
	if r.Channel, err = solid.BuildChannel(r.Line, r.Size.Y, s); err != nil {
		return err
	}
	lo, hi := r.Channel.Solid.Bounds()
	step.Found = fmt.Sprintf("%.1f by %.1f by %.1f mm, %.1f cm3, %d facets in %d separate parts, watertight",
		hi.X-lo.X, hi.Y-lo.Y, hi.Z-lo.Z, r.Channel.Solid.Volume()/1000, len(r.Channel.Solid.Triangles), len(r.Channel.Body))
	return nil
}

func (r *Result) buildParts(step *Step) (err error) {
	s := r.Settings.Parts
	s.Channel, s.Density = r.walls, r.Settings.Print.Density
	if r.Sign, err = parts.Build(r.Line.Upended(r.Size.Y), r.wirePlan(), s); err != nil {
		return err
	}
	r.Poses = make([]*solid.Mesh, len(r.Sign.Parts))
	err = inParallel(len(r.Sign.Parts), func(i int) (err error) {
		p := r.Sign.Parts[i]
		if r.Poses[i], err = p.Solid.Mesh(s.Channel.Grid); err != nil {
			return fmt.Errorf("%s: %w", p.Name, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	var names []string
	for _, p := range r.Sign.Parts {
		names = append(names, p.Name)
	}
	step.Found = fmt.Sprintf("%d parts: %s", len(names), strings.Join(names, ", "))
	if n := len(r.Sign.Bridges); n > 0 {
		step.Notes = append(step.Notes, fmt.Sprintf("%d bridges, %.0f mm in all, join %d channels that do not touch", n, lengthOf(r.Sign.Bridges), r.Sign.Strokes))
	}
	if w := r.Sign.Bore; w != nil {
		step.Notes = append(step.Notes, fmt.Sprintf("wire bore %g mm wide and %.0f mm long from the tenon to the slot at x %.1f mm, clear, its walls at least %.1f mm", w.Width, w.From.Dist(w.Top), w.Top.X, w.Clear))
	}
	if len(r.Sign.Wires) > 0 {
		step.Notes = append(step.Notes, fmt.Sprintf("%.0f mm of concealed wire groove with %d holes to the slots", lengthOf(r.Sign.Wires), len(r.Sign.Feeds)))
	}
	if b := r.Sign.Balance; b != nil {
		size := b.Base.Size()
		step.Notes = append(step.Notes, fmt.Sprintf("stands on %.0f by %.0f mm, its centre of mass %.0f mm up; tips when tilted by %.1f degrees", size.X, size.Y, b.Centre.Y, b.Tilt))
	}
	step.Notes = append(step.Notes, r.Sign.Notes...)
	return nil
}

func lengthOf(ls []geom.Polyline) float64 {
	sum := 0.0
	for _, l := range ls {
		sum += l.Length()
	}
	return sum
}

// inParallel calls f for 0 to n − 1, a few at a time, and returns the error of
// the lowest number that had one.
func inParallel(n int, f func(i int) error) error {
	errs := make([]error, n)
	var wg sync.WaitGroup
	slots := make(chan struct{}, 4)
	for i := range n {
		slots <- struct{}{}
		wg.Go(func() {
			errs[i] = f(i)
			<-slots
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *Result) checkWalls(step *Step) error {
	found := make([][]rules.Weak, len(r.Sign.Parts))
	err := inParallel(len(found), func(i int) (err error) {
		found[i], err = rules.Walls(r.Sign.Parts[i].Solid, r.Settings.Walls)
		return err
	})
	if err != nil {
		return err
	}
	count := map[rules.WeakKind]int{}
	for i, ws := range found {
		for _, w := range ws {
			r.Weak = append(r.Weak, WeakPart{r.Sign.Parts[i].Name, w})
			count[w.Kind]++
		}
	}
	for _, w := range firstOf(r.Weak) {
		step.Notes = append(step.Notes, weakText(w, r.Settings.Walls))
	}
	step.Notes = append(step.Notes, more(len(r.Weak))...)
	step.Found = fmt.Sprintf("%d slivers thinner than %g mm, %d ceilings wider than %g mm", count[rules.WeakSliver], r.Settings.Walls.Line, count[rules.WeakCeiling], r.Settings.Walls.Bridge)
	return nil
}

func weakText(w WeakPart, s rules.WallSettings) string {
	at := fmt.Sprintf("%s at x %.1f, y %.1f, z %.1f mm", w.Part, w.At.X, w.At.Y, w.Z)
	if w.Kind == rules.WeakSliver {
		return fmt.Sprintf("%s: %.2f mm2 are thinner than a printed line of %g mm", at, w.Size, s.Line)
	}
	return fmt.Sprintf("%s: a ceiling is carried %.1f mm away only; print supports there", at, w.Size)
}

func (r *Result) layBeds(step *Step) (err error) {
	if err := r.divide(); err != nil {
		return err
	}
	s := r.Settings.Bed
	solids, names := make([]solid.Solid, len(r.Prints)), make([]string, len(r.Prints))
	err = inParallel(len(r.Prints), func(i int) (err error) {
		p := &r.Prints[i]
		if p.Mesh == nil {
			if p.Mesh, err = p.Solid.Mesh(r.Settings.Channel.Grid); err != nil {
				return fmt.Errorf("%s: %w", p.Name, err)
			}
		}
		p.Estimate = r.Settings.Print.Estimate(p.Mesh)
		solids[i], names[i] = p.Solid, p.Name
		return nil
	})
	if err != nil {
		return err
	}
	if r.Layout, err = bed.Lay(solids, names, s); err != nil {
		return err
	}
	var sum bed.Estimate
	for i, p := range r.Prints {
		sum = sum.Add(p.Estimate)
		if turn := r.Layout.Places[i].Best; math.Mod(turn, 90) > 1e-6 {
			step.Notes = append(step.Notes, fmt.Sprintf("%s fits the bed only when turned, best by %.1f degrees", p.Name, turn))
		}
	}
	step.Found = fmt.Sprintf("%d pieces on %d beds of %g by %g mm; about %.0f g, %.1f m of filament, %.1f hours", len(r.Prints), r.Layout.Beds, s.Width, s.Depth, sum.Grams, sum.Metres, sum.Seconds/3600)
	if len(r.Cuts) > 0 {
		step.Notes = append(step.Notes, fmt.Sprintf("%d cuts with keyed joints, as the channel is larger than the bed; the strip runs on through them", len(r.Cuts)))
	}
	return nil
}

// divide makes the prints: the parts, cut where they are larger than the bed.
func (r *Result) divide() error {
	line := r.Line.Upended(r.Size.Y)
	s := r.walls
	avoid := append([]geom.Point{}, r.Sign.Feeds...)
	if w := r.Sign.Bore; w != nil {
		avoid = append(avoid, w.Top)
	}
	r.Prints, r.Cuts = nil, nil
	for i, p := range r.Sign.Parts {
		one := Print{Name: p.Name, Colour: p.Colour, Pose: p.Pose, Extra: p.Extra}
		if !p.Channel {
			pieces, err := []solid.Solid{p.Solid}, error(nil)
			if p.Flat {
				if pieces, err = bed.DividePlate(p.Solid, r.Settings.Bed); err != nil {
					return fmt.Errorf("%s: %w", p.Name, err)
				}
			}
			r.addPrints(one, pieces, r.Poses[i])
			continue
		}
		ch := bed.Channel{Solid: p.Solid, Line: line, Half: s.Slot()/2 + s.Wall, Floor: s.Rear + s.Floor, Avoid: avoid}
		if p.Pose.Flip { // a cover: printed face down, no floor to key
			ch.Line = r.Line.Mapped(func(q geom.Point) geom.Point { return geom.Pt(q.X, q.Y-r.Size.Y) })
			ch.Floor = 0
		}
		pieces, cuts, err := bed.Divide(ch, r.Settings.Bed)
		if err != nil {
			return fmt.Errorf("%s: %w", p.Name, err)
		}
		if !p.Pose.Flip {
			r.Cuts = append(r.Cuts, cuts...)
		}
		r.addPrints(one, pieces, r.Poses[i])
	}
	return nil
}

// addPrints adds a part's pieces; whole is the mesh of the part uncut.
func (r *Result) addPrints(one Print, pieces []solid.Solid, whole *solid.Mesh) {
	name := one.Name
	for k, piece := range pieces {
		one.Solid = piece
		if len(pieces) == 1 {
			one.Mesh = whole
		} else {
			one.Name = fmt.Sprintf("%s, piece %d of %d", name, k+1, len(pieces))
		}
		r.Prints = append(r.Prints, one)
	}
}

// crossing tells, where colours meet, which one's strip passes.
func (r *Result) crossing(j rules.Junction) []string {
	mine := r.Line.Curves[j.Passes.Curve].Ink
	for _, b := range j.Butts {
		if ink := r.Line.Curves[b.Curve].Ink; ink != mine {
			return []string{fmt.Sprintf("at x %.1f, y %.1f mm the %s strip passes and the %s one is cut", j.At.X, j.At.Y, r.penName(mine), r.penName(ink))}
		}
	}
	return nil
}

func crampedText(j rules.Junction) string {
	return fmt.Sprintf("the junction at x %.1f, y %.1f mm leaves a strip of %.1f mm only to the next", j.At.X, j.At.Y, max(j.Room, 0))
}
