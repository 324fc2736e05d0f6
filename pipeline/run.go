package pipeline

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"inkchannel/geom"
	"inkchannel/geom/bed"
	"inkchannel/geom/parts"
	"inkchannel/geom/regular"
	"inkchannel/geom/rules"
	"inkchannel/geom/solid"
	"inkchannel/geom/strip"
	"inkchannel/pipeline/power"
	"inkchannel/vision"
)

// A Result holds what each stage found, up to the last that ran.
type Result struct {
	Settings   Settings
	Source     string   // what the photo is called, for the summary; may be empty
	Sum        [32]byte // SHA-256 of the photo's bytes
	Photo      vision.Photo
	Sheet      vision.Sheet
	Ink        *vision.Ink // with the dots
	Dots       vision.Dots
	Size       geom.Point // the sheet's width and height, mm, by the dots' scale
	Skeleton   *vision.Bitmap
	Strokes    geom.Network   // mm
	PenWidth   float64        // mm
	LineDoubts []vision.Doubt // where the lines may be meant otherwise, mm
	Pens       vision.Pens
	Centreline geom.Centreline // as traced and smoothed
	// Line is the centreline as far as it has been mended for strip and
	// printer; the last is what the parts are made on.
	Line      geom.Centreline
	Symmetry  regular.Symmetric
	Shapes    regular.Regular
	Tight     []rules.Tight // as measured, before any spreading
	Spread    *rules.Spreading
	Bends     []rules.Bend
	Junctions []rules.Junction
	Channel   solid.Channel
	Sign      parts.Sign
	Poses     []*solid.Mesh // the parts' meshes, as they are printed
	Weak      []WeakPart
	Prints    []Print
	Cuts      []bed.Cut
	Layout    bed.Layout
	Strips    strip.Plan // in the sheet's frame
	Loads     []power.Load
	Feeding   power.Feeding
	Steps     []Step

	walls solid.ChannelSettings // as built: walls of whole printed lines
}

// A Step is the report of one stage.
type Step struct {
	Stage string
	Found string   // one line, in mm where it can
	Notes []string // what the user should know
	// Sure is how sure the stage is of what it found, 0 to 1, and Why the
	// reason.
	Sure float64
	Why  string
	Took time.Duration
}

// Unsure tells that the stage is not sure of what it found.
func (s Step) Unsure() bool { return s.Sure < leastSure }

// Confidence is a sentence on how sure the stage is, and why.
func (s Step) Confidence() string { return fmt.Sprintf("Sure: %.2f of 1, %s.", s.Sure, s.Why) }

// A StageError is an error of one stage.
type StageError struct {
	Stage string
	Err   error
}

func (e *StageError) Error() string { return e.Stage + ": " + e.Err.Error() }

// Unwrap returns the stage's own error.
func (e *StageError) Unwrap() error { return e.Err }

// Run takes a photo's bytes through the stages, up to and with stage until, or
// all of them if until is empty. done is called after each stage, if not nil,
// and may read what the stages so far have found. It returns a *StageError for
// a photo that a stage cannot work with, and ctx's error if that ends.
func Run(ctx context.Context, data []byte, s Settings, until string, done func(*Result, Step)) (*Result, error) {
	r := &Result{Settings: s}
	return r, r.run(ctx, data, Stages(), until, done)
}

// RunLine takes a centreline, on a sheet of the given size in mm, through the
// stages after the one that smooths; the rest is as for Run.
func RunLine(ctx context.Context, line geom.Centreline, size geom.Point, s Settings, until string, done func(*Result, Step)) (*Result, error) {
	r := &Result{Settings: s, Centreline: line, Line: line, Size: size}
	return r, r.run(ctx, nil, Stages()[stageIndex(StageCentreline)+1:], until, done)
}

// run takes r through the stages.
func (r *Result) run(ctx context.Context, data []byte, stages []Stage, until string, done func(*Result, Step)) error {
	for _, st := range stages {
		if err := ctx.Err(); err != nil {
			return err
		}
		start := time.Now()
		step := Step{Stage: st.Name}
		if err := r.stage(st.Name, data, &step); err != nil {
			return &StageError{st.Name, err}
		}
		step.Sure, step.Why = r.sure(st.Name)
		step.Took = time.Since(start)
		r.Steps = append(r.Steps, step)
		if done != nil {
			done(r, step)
		}
		if st.Name == until {
			break
		}
	}
	return nil
}

func (r *Result) stage(name string, data []byte, step *Step) error {
	switch name {
	case StagePhoto:
		return r.load(data, step)
	case StageSheet:
		return r.rectify(step)
	case StageInk:
		return r.findInk(step)
	case StageDots:
		return r.findDots(step)
	case StageSkeleton:
		r.Skeleton = vision.Thin(r.Dots.Rest.Mask)
		step.Found = fmt.Sprintf("%d px of skeleton from %d px of ink", r.Skeleton.Count(), r.Dots.Rest.Mask.Count())
		return nil
	case StageStrokes:
		return r.trace(step)
	case StageColours:
		return r.findPens(step)
	case StageCentreline:
		return r.smooth(step)
	case StageSymmetry:
		return r.symmetrise(step)
	case StageShapes:
		return r.makeShapes(step)
	case StageSpacing:
		return r.measureSpacing(step)
	case StageBends:
		return r.mendBends(step)
	case StageJunctions:
		return r.decideJunctions(step)
	case StageChannel:
		return r.buildChannel(step)
	case StageParts:
		return r.buildParts(step)
	case StageWalls:
		return r.checkWalls(step)
	case StageBeds:
		return r.layBeds(step)
	case StageStrips:
		return r.routeStrips(step)
	}
	return r.sizePower(step)
}

func (r *Result) load(data []byte, step *Step) (err error) {
	if r.Photo, err = vision.Load(data, r.Settings.Load); err != nil {
		return err
	}
	r.Sum = sha256.Sum256(data)
	step.Found = fmt.Sprintf("%s, %d by %d px", r.Photo.Format, r.Photo.W, r.Photo.H)
	if r.Photo.Shrink > 1 {
		step.Found += fmt.Sprintf(", shrunk %.3g times", r.Photo.Shrink)
	}
	return nil
}

// inPhoto turns px of the file's upright picture into px of the working copy.
func (r *Result) inPhoto(pts []geom.Point) []geom.Point {
	var out []geom.Point
	for _, p := range pts {
		out = append(out, p.Mul(1/r.Photo.Shrink))
	}
	return out
}

func (r *Result) rectify(step *Step) (err error) {
	s := r.Settings.Sheet
	s.Corners = r.inPhoto(s.Corners)
	if r.Sheet, err = vision.Rectify(r.Photo.Colour, s); err != nil {
		return err
	}
	sh := r.Sheet
	if !sh.Found {
		step.Found = "no sheet seen, going on with the photo as it is"
		step.Notes = append(step.Notes, "no sheet of paper was seen in the photo, so its perspective is not undone; photograph the whole sheet on a darker table, or name its corners by --corners")
		return nil
	}
	what := fmt.Sprintf("%s sheet", sh.Page)
	if sh.Page == vision.PageFree {
		what = fmt.Sprintf("sheet with sides 1 : %.3f", max(sh.Aspect, 1/sh.Aspect))
	}
	step.Found = fmt.Sprintf("%s, corners %s", what, r.photoPlaces(sh.Corners[:]))
	if sh.Bowed {
		step.Found += ", bowed and laid flat"
	}
	if len(s.Corners) == 0 {
		step.Found += fmt.Sprintf(", edges fitted to %.2f px", sh.Stray)
	}
	return nil
}

// photoPlaces writes px of the working copy as px of the upright file.
func (r *Result) photoPlaces(pts []geom.Point) string {
	var out []string
	for _, p := range pts {
		p = p.Mul(r.Photo.Shrink)
		out = append(out, fmt.Sprintf("%.0f,%.0f", p.X, p.Y))
	}
	return strings.Join(out, " ")
}

func (r *Result) findInk(step *Step) (err error) {
	if r.Ink, err = vision.FindInk(r.Sheet.Image, r.Sheet.PxPerMm, r.Settings.Ink); err != nil {
		return err
	}
	px := r.Sheet.PxPerMm
	step.Found = fmt.Sprintf("%d pieces, %.0f mm2, %.0f %% darker than the paper (cut at %.0f %%), %d speckles dropped",
		r.Ink.Spots, float64(r.Ink.Mask.Count())/(px*px), 100*r.Ink.Darkness, 100*r.Ink.Cut, r.Ink.Dropped)
	if n := r.Ink.AtEdge; n > 0 {
		step.Notes = append(step.Notes, fmt.Sprintf("%d %s that %s off the sheet's edge %s dropped: tips of shadows, or the table", n, plural(n, "mark", "marks"), plural(n, "runs", "run"), plural(n, "was", "were")))
	}
	return nil
}

// rescale is how far, as a share, the dots' scale may be from the page's
// before ink and dots are looked for anew at the dots' scale.
const rescale = 0.15

func (r *Result) findDots(step *Step) error {
	s := r.Settings.Dots
	s.Places = r.inPhoto(s.Places)
	for i, p := range s.Places {
		s.Places[i] = r.Sheet.FromPhoto(p)
	}
	var err error
	r.Dots, err = vision.FindDots(r.Ink, r.Sheet.Page, r.Sheet.PxPerMm, s)
	if err == nil && math.Abs(r.Dots.PxPerMm/r.Sheet.PxPerMm-1) > rescale && (r.Dots.Page == vision.PageFree || r.Dots.Page != r.Sheet.Page) {
		// The sheet is of another size than was assumed, and with it the
		// window and the speckles were of the wrong size.
		scale := r.Dots.PxPerMm
		if r.Ink, err = vision.FindInk(r.Sheet.Image, scale, r.Settings.Ink); err == nil {
			page := vision.PageFree
			s.Places = []geom.Point{r.Dots.Pair[0].Centre, r.Dots.Pair[1].Centre}
			better := r.Dots.Page
			r.Dots, err = vision.FindDots(r.Ink, page, scale, s)
			r.Dots.Page = better
		}
	}
	var de *vision.DotError
	if errors.As(err, &de) {
		return r.explainDots(de)
	}
	if err != nil {
		return err
	}
	d := r.Dots
	r.Size = geom.Pt(float64(r.Sheet.Image.W), float64(r.Sheet.Image.H)).Mul(1 / d.PxPerMm)
	size := r.Size
	step.Found = fmt.Sprintf("dots at %s, %.3f px per mm, sheet %.1f by %.1f mm",
		r.photoPlaces([]geom.Point{r.Sheet.InPhoto(d.Pair[0].Centre), r.Sheet.InPhoto(d.Pair[1].Centre)}), d.PxPerMm, size.X, size.Y)
	if d.Page != vision.PageFree && math.Abs(d.PageOff) > 0.02 {
		step.Notes = append(step.Notes, fmt.Sprintf("by the dots the %s sheet is %+.1f %% off its true size; the dots decide, so check that they are %g mm apart", d.Page, 100*d.PageOff, s.Distance))
	}
	if n := len(d.Candidates); n > 2 {
		step.Notes = append(step.Notes, fmt.Sprintf("%d spots look like reference dots; the two that are %g mm apart by the sheet were taken", n, s.Distance))
	}
	return nil
}

// explainDots adds where candidates were seen and how to name them.
func (r *Result) explainDots(e *vision.DotError) error {
	var seen []string
	for _, c := range e.Candidates {
		seen = append(seen, fmt.Sprintf("%s (%.1f mm wide)", r.photoPlaces([]geom.Point{r.Sheet.InPhoto(c.Centre)}), c.Size/r.Sheet.PxPerMm))
	}
	where := "none was seen"
	if len(seen) > 0 {
		where = "seen at " + strings.Join(seen, ", ")
	}
	return fmt.Errorf("%w; %s; draw two filled dots %g mm apart, or name their places in px of the upright photo by --dots \"x,y x,y\"", e, where, r.Settings.Dots.Distance)
}

func (r *Result) trace(step *Step) error {
	t, err := vision.Trace(r.Dots.Rest, r.Skeleton, r.Dots.PxPerMm, r.Settings.Trace)
	if err != nil {
		return err
	}
	k := 1 / r.Dots.PxPerMm
	r.Strokes, r.PenWidth = t.Network.Scaled(k), t.PenWidth*k
	r.LineDoubts = t.Doubts
	for i := range r.LineDoubts {
		r.LineDoubts[i].At = t.Doubts[i].At.Mul(k)
	}
	top := r.Strokes.Topology()
	length := 0.0
	for _, s := range r.Strokes.Strokes {
		length += s.Length()
	}
	step.Found = fmt.Sprintf("%d strokes, %.0f mm in all, pen %.2f mm wide; %d free ends, %d junctions, %d loops; %d spurs dropped",
		len(r.Strokes.Strokes), length, r.PenWidth, top.Ends, top.Junctions, top.Loops, t.Spurs)
	if said := handText(r.Settings.Trace); said != "" {
		step.Notes = append(step.Notes, said)
	}
	if t.Short > 0 {
		step.Notes = append(step.Notes, fmt.Sprintf("%d marks shorter than %g mm were dropped", t.Short, r.Settings.Trace.Shortest))
	}
	return nil
}

// handText tells what was said by hand, nothing if nothing was.
func handText(s vision.TraceSettings) string {
	var did []string
	for _, h := range []struct {
		n                 int
		one, several, how string
	}{{len(s.Drop), "line", "lines", "dropped"}, {len(s.Join) / 2, "pair of ends", "pairs of ends", "joined"}, {len(s.Pass) / 2, "pair of lines", "pairs of lines", "told to pass"}} {
		if h.n > 0 {
			did = append(did, fmt.Sprintf("%d %s %s", h.n, plural(h.n, h.one, h.several), h.how))
		}
	}
	if len(did) == 0 {
		return ""
	}
	return "by hand: " + strings.Join(did, ", ")
}

func (r *Result) findPens(step *Step) (err error) {
	if r.Pens, err = vision.FindPens(r.Sheet.Image, r.Dots.Rest.Mask, r.Strokes, r.Dots.PxPerMm, r.Settings.Pens); err != nil {
		return err
	}
	r.Strokes.Strokes = slices.Clone(r.Strokes.Strokes)
	var list []string
	for i, pen := range r.Pens.All {
		list = append(list, fmt.Sprintf("%s, %.0f mm", r.penName(i), pen.Length))
	}
	for i, pen := range r.Pens.Of {
		r.Strokes.Strokes[i].Ink = pen
	}
	step.Found = fmt.Sprintf("%d %s: %s", len(list), plural(len(list), "pen", "pens"), strings.Join(list, "; "))
	return nil
}

// penName is what pen i is called: its colour, numbered if there are several
// of that name.
func (r *Result) penName(i int) string {
	if i >= len(r.Pens.All) {
		return "the only colour"
	}
	name, same, before := r.Pens.All[i].Name, 0, 0
	for k, p := range r.Pens.All {
		if p.Name == name {
			same++
			if k < i {
				before++
			}
		}
	}
	if same > 1 {
		return fmt.Sprintf("%s %d", name, before+1)
	}
	return name
}

func (r *Result) smooth(step *Step) (err error) {
	if r.Centreline, err = geom.Smooth(r.Strokes, r.Settings.Smooth); err != nil {
		return err
	}
	r.Line = r.Centreline
	pieces, corners := 0, 0
	for _, c := range r.Centreline.Curves {
		pieces += len(c.Pieces)
		corners += c.Corners
	}
	step.Found = fmt.Sprintf("%d curves of %d pieces, %.0f mm, %d corners, at most %.3f mm from the traced lines",
		len(r.Centreline.Curves), pieces, r.Centreline.Length(), corners, r.Centreline.Stray)
	return nil
}
