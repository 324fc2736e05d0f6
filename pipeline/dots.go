package pipeline

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/solid"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageDots finds the reference dots and sets the scale.
const StageDots = "dots"

// DotsSettings tune how the scale is found, and say how large the sign is to be.
type DotsSettings struct {
	vision.DotSettings
	Enlarge float64 // %, the sign's size by the drawing's
	// Width and Height are the sign's, over all, mm, in place of Enlarge; of both the
	// smaller sign is made. 0 leaves it.
	Width, Height float64
	// Turn is by how many degrees the sign is turned from the drawing, anticlockwise.
	Turn  float64
	grown float64 // by how many times Resize mended the size that is asked for, 0 for not
}

// DotsFound is the scale by the two reference dots. From here on all is in mm of the sign:
// where it is enlarged, so is the sheet.
type DotsFound struct {
	vision.Dots
	Frame    geom.Frame // of the sheet by the dots' scale
	Distance float64    // mm from one dot to the other, as it was told; 0 where the paper tells the scale
	// Asked is the sign's width and height over all that were asked for, mm; 0 for none.
	Asked geom.Point
	sized bool // no dots and no paper set the scale, but the size asked for
	// Times is how many times as large as the drawing the sign is; 0 for 1. Places by hand are
	// on the sheet as it was drawn, so that they hold whatever the size.
	Times float64
}

// times is Times, 1 if it was not said.
func (f DotsFound) times() float64 { return cmp.Or(f.Times, 1) }

// FromPaper takes places on the sheet as it was drawn to mm of the sheet at the sign's size.
func (f DotsFound) FromPaper(places []geom.Point) []geom.Point {
	return mapped(places, func(p geom.Point) geom.Point { return p.Mul(f.times()) })
}

// Paper takes a place of the sheet at the sign's size to mm of the sheet as it was drawn.
func (f DotsFound) Paper(p geom.Point) geom.Point { return p.Mul(1 / f.times()) }

func dotsStage() stage.Stage {
	type settings = DotsSettings
	type in struct {
		Photo PhotoFound
		Sheet SheetFound
		Ink   InkFound
	}
	return stage.Define(stage.Spec[settings, in, DotsFound]{
		Name: StageDots, Does: "find the two reference dots and set the scale",
		Default: DotsSettings{DotSettings: vision.DefaultDots(), Enlarge: 100},
		Settings: []stage.Setting{
			stage.Places("dots", stage.FramePhoto, "the two reference dots by hand, as x,y x,y", 2, func(s *settings) *[]geom.Point { return &s.Places }),
			stage.Choice("scale-from", "what tells the scale: dots (the two dots), paper (its size, for a sheet or a scan without dots), file (the resolution that a scan's file states, or a PDF page's size) or size (what --width or --height asks for, for a picture of any scale)", []vision.ScaleFrom{vision.ScaleDots, vision.ScalePaper, vision.ScaleFile, vision.ScaleSize}, func(s *settings) *vision.ScaleFrom { return &s.From }),
			stage.Number("enlarge", "%", "size of the sign by that of the drawing; under 100 makes it smaller", 10, 1000, func(s *settings) *float64 { return &s.Enlarge }),
			stage.Number("width", "mm", "width of the sign over all, in place of the drawing's; with --height the smaller of both; 0 leaves it", 0, 5000, func(s *settings) *float64 { return &s.Width }),
			stage.Number("height", "mm", "height of the sign's channels over all, as --width", 0, 5000, func(s *settings) *float64 { return &s.Height }),
			stage.Number("turn", "degrees", "turn of the sign by the drawing, anticlockwise", -180, 180, func(s *settings) *float64 { return &s.Turn }),
			stage.Number("dot-distance", "mm", "distance between the two dots' centres", 10, 1000, func(s *settings) *float64 { return &s.Distance }),
			stage.Number("dot-smallest", "mm", "smallest diameter of a dot", 0.3, 30, func(s *settings) *float64 { return &s.Smallest }),
			stage.Number("dot-largest", "mm", "largest diameter of a dot", 0.5, 40, func(s *settings) *float64 { return &s.Largest }),
			stage.Number("dot-round", "0 to 1", "share of its circle that a dot must fill", 0.3, 1, func(s *settings) *float64 { return &s.Round }),
			stage.Number("dot-clear", "mm", "clear space required around a dot", 0, 30, func(s *settings) *float64 { return &s.Clear }),
		},
		Run: func(set settings, in in) (DotsFound, stage.Report, error) {
			f, rep, err := scaled(set, in.Photo, in.Sheet, in.Ink)
			if err != nil {
				return f, rep, err
			}
			f.Asked = geom.Pt(set.Width, set.Height)
			f.Frame.Turn = set.Turn
			var drawn geom.Point
			if set.sized() {
				drawn = f.Rest.Mask.LineExtent(set.Turn).Mul(1 / f.PxPerMm)
			}
			k, err := wantedSize(set, drawn)
			if err == nil && k != 1 {
				f.enlarge(k)
			}
			if err == nil && k != 1 && !f.sized {
				rep.Note("the sign is %.4g %% of the drawing's size; all lengths from here on are the sign's, but places by hand are on "+
					"the paper as it was drawn", 100*k)
			}
			return f, rep, err
		},
		Show: stage.Show{Picture: drawDots, OnSheet: true, Handles: dotHandles},
	})
}

// sized tells whether the sign's size is asked for.
func (s DotsSettings) sized() bool { return s.Width > 0 || s.Height > 0 }

// scaled finds the dots, or the scale without: by the size that is asked for where that is to be so, or
// where there are no dots.
func scaled(set DotsSettings, photo PhotoFound, sheet SheetFound, ink InkFound) (f DotsFound, rep stage.Report, err error) {
	sized := set.sized()
	if set.From == vision.ScaleSize && !sized {
		return f, rep, errors.New("the scale is to come from the size asked for; give it with --width or --height")
	}
	f, rep, err = findDots(set, photo, sheet, ink)
	var none *vision.DotError
	if sized && errors.As(err, &none) && len(set.Places) == 0 {
		set.From = vision.ScaleSize
		if f, rep, err = findDots(set, photo, sheet, ink); err == nil {
			rep.Judge(0.6, "there are no reference dots; the size asked for sets the scale")
		}
	}
	return f, rep, err
}

// rescale is how far, as a share, the dots' scale may be from the page's
// before ink and dots are looked for anew at the dots' scale.
const rescale = 0.15

// tellPageOff is how far off its true size, as a share, a known page may be by the
// dots before the user is told.
const tellPageOff = 0.02

func findDots(
	set DotsSettings, photo PhotoFound, sheet SheetFound, ink InkFound,
) (f DotsFound, rep stage.Report, err error) {
	byHand := len(set.Places) > 0
	if err := inPhoto(set.Places, photo, "dot"); err != nil {
		return f, rep, err
	}
	set.Places = mapped(mapped(set.Places, photo.FromFile), sheet.FromPhoto)
	if set.From == vision.ScaleDots {
		f.Distance = set.Distance
	}
	page := sheet.Page
	if !sheet.Found {
		page = vision.PageFree
	}
	if set.From == vision.ScalePaper && sheet.Fills { // a scan
		if page, sheet.PxPerMm, err = scannedPage(sheet, set.Width+set.Height > 0); err != nil {
			return f, rep, err
		}
	}
	if set.From == vision.ScalePaper && sheet.Found && page == vision.PageFree {
		return f, rep, fmt.Errorf(
			"the scale is to come from the paper, but the sheet's sides are 1 : %.3f, as of no page that is known; give its corners "+
				"by hand where they are, or the scale by two dots, --width or --height", ratio(sheet.Aspect),
		)
	}
	if set.From == vision.ScaleFile {
		if ink.Ink, sheet.PxPerMm, err = statedScale(photo, sheet, ink); err != nil {
			return f, rep, err
		}
	}
	f.Dots, err = vision.FindDots(ink.Ink, page, sheet.PxPerMm, set.DotSettings)
	otherSize := math.Abs(f.PxPerMm/sheet.PxPerMm-1) > rescale && (f.Page == vision.PageFree || f.Page != sheet.Page)
	if err == nil && otherSize && set.From == vision.ScaleDots {
		f.Dots, err = findDotsAnew(set.DotSettings, sheet, ink.Set, f.Dots)
	}
	var de *vision.DotError
	if errors.As(err, &de) {
		return f, rep, explainDots(de, photo, sheet, set.Distance)
	}
	if err != nil {
		return f, rep, err
	}
	f.Frame = geom.Frame{
		Size:    geom.Pt(float64(sheet.Image.W), float64(sheet.Image.H)).Mul(1 / f.PxPerMm),
		PxPerMm: f.PxPerMm,
	}
	if set.From != vision.ScaleSize {
		if err := f.leaveOutHoles(&rep); err != nil {
			return f, rep, err
		}
	}
	size := f.Frame.Size
	if set.From == vision.ScaleSize {
		f.sized = true
		rep.Found = "no scale but the size that is asked for"
		rep.Judge(0.9, "the size asked for sets the scale")
		return f, rep, nil
	}
	if set.From == vision.ScaleFile {
		rep.Found = fmt.Sprintf("scale by the file: %.3f px per mm, sheet %.1f by %.1f mm", f.PxPerMm, size.X, size.Y)
		rep.Judge(0.7, "the scale is what the file states; nothing checks it")
		return f, rep, nil
	}
	if set.From == vision.ScalePaper {
		rep.Found = fmt.Sprintf("scale by the %s sheet: %.3f px per mm", f.Page, f.PxPerMm)
		rep.Judge(0.7, "the scale is that of a whole %s sheet; nothing checks it", f.Page)
		if sheet.Support < seenShare && !sheet.Fills {
			rep.Judge(
				0.4, "the scale is that of a whole %s sheet, but one side of it shows an edge along only %.0f %%", f.Page,
				100*sheet.Support,
			)
		}
		if f.Page == vision.PageA4 {
			rep.Note("A4 and A3 have the same shape; for A3, say --page A3")
		}
		return f, rep, nil
	}
	rep.Found = fmt.Sprintf("dots at %s, %.3f px per mm, sheet %.1f by %.1f mm",
		filePlaces(photo, sheet.InPhoto(f.Pair[0].Centre), sheet.InPhoto(f.Pair[1].Centre)), f.PxPerMm, size.X, size.Y)
	if f.Page != vision.PageFree && math.Abs(f.PageOff) > tellPageOff {
		rep.Note(
			"going by the dots, %s; the dots set the scale, so check that they are %g mm apart; if those are no dots, take the "+
				"sheet's own size with --scale-from paper", f.pageOffText(), set.Distance,
		)
	}
	if n := len(f.Candidates); n > 2 && !byHand {
		rep.Note(
			"%d spots look like reference dots; the two that are %g mm apart on the sheet were used", n,
			set.Distance,
		)
	}
	judgeDots(&rep, f, photo, sheet, byHand)
	if !byHand && f.overDrawing() {
		rep.Note(
			"the dots lie above all that is drawn; if the picture is upside down, turn it with --photo-turn 180",
		)
	}
	return f, rep, nil
}

// leaveOutHoles takes the holes of punched paper for no ink, and says so.
func (f *DotsFound) leaveOutHoles(rep *stage.Report) error {
	rest, holes, err := vision.WithoutHoles(f.Rest, f.PxPerMm)
	if err != nil || len(holes) == 0 {
		return err
	}
	f.Rest = rest
	at := f.Frame.Mm(holes[0])
	rep.Note(
		"%s along the sheet's edge left out, the first at x %.0f, y %.0f mm; if they are drawn, draw them farther from the edge",
		stage.Count(len(holes), "punched hole", "punched holes"), at.X, at.Y,
	)
	return nil
}

// leastStated and mostStated are the resolutions, px per mm, that a scan may have: 100 and 2400 dpi.
// What a camera states, 72 or 96 dpi most often, means nothing.
const leastStated, mostStated = 3.9, 95.0

// stated tells whether the file of a photo states a resolution that a scan may have.
func (f PhotoFound) stated() bool { return f.PxPerMm >= leastStated && f.PxPerMm <= mostStated }

// statedScale is the ink and the scale, px per mm, of a sheet's picture that is all of a scan or a page.
func statedScale(photo PhotoFound, sheet SheetFound, ink InkFound) (*vision.Ink, float64, error) {
	switch {
	case photo.PxPerMm == 0:
		return nil, 0, errors.New(
			"the scale is to come from the file, but it states no resolution; draw two dots, or say how large the sign is with " +
				"--width or --height",
		)
	case !photo.stated():
		return nil, 0, fmt.Errorf(
			"the scale is to come from the file, but the %.0f dpi that it states are no scanner's; draw two dots, or say how large "+
				"the sign is with --width or --height", photo.DPI(),
		)
	case sheet.Found:
		return nil, 0, errors.New(
			"the scale is to come from the file, which is for scans and pages; here a sheet lies in the picture: use --scale-from " +
				"paper, or draw two dots",
		)
	}
	px := photo.PxPerMm * float64(sheet.Image.W) / float64(photo.W)
	if math.Abs(px/sheet.PxPerMm-1) < rescale {
		return ink.Ink, px, nil
	}
	anew, err := inkOf(sheet.Image, px, ink.Set)
	return anew, px, err
}

// scannedPage is the page that a scan shows all of, and the px to a mm: the page that is asked for, or A4
// or Letter by its shape. An error says what else gives the scale: the size that is asked for, if it is.
func scannedPage(sheet SheetFound, sized bool) (vision.Page, float64, error) {
	w, h := sheet.Image.W, sheet.Image.H
	p, px, ok := vision.PageOf(w, h, sheet.Wanted)
	_, _, known := sheet.Wanted.Size()
	switch {
	case ok:
		return p, px, nil
	case known:
		instead := "give the scale by --width or --height"
		if sized {
			instead = "leave out --scale-from, as the size asked for gives the scale"
		}
		return p, px, fmt.Errorf(
			"the scale is to come from a whole %s page, but a picture of %d by %d px has another shape; leave out --page, or %s",
			sheet.Wanted, w, h, instead,
		)
	}
	return vision.PageFree, sheet.PxPerMm, nil // which has no size: the error says so
}

// SizeOnce is settings of which one was changed last, with what says the same size in another way put back; it
// names what was, none if nothing was.
func SizeOnce(set stage.Settings, changed string) (out stage.Settings, back string) {
	if s := stage.SettingsOf[DotsSettings](set); !s.sized() || s.Enlarge == 100 {
		return set, ""
	}
	switch changed {
	case "enlarge":
		return stage.With(set, func(s *DotsSettings) { s.Width, s.Height = 0, 0 }), "width and height"
	case "width", "height":
		return stage.With(set, func(s *DotsSettings) { s.Enlarge = 100 }), "enlarge"
	}
	return set, ""
}

// wantedSize is the sign's size by that of a drawing whose lines are so wide and high, mm.
func wantedSize(set DotsSettings, drawn geom.Point) (float64, error) {
	if !set.sized() {
		return set.Enlarge / 100, nil
	}
	if set.Enlarge != 100 {
		return 0, errors.New("the size is given twice: leave out --enlarge, or --width and --height")
	}
	for _, side := range []struct {
		flag       string
		wanted, is float64
	}{{"width", set.Width, drawn.X}, {"height", set.Height, drawn.Y}} {
		if side.wanted > 0 && (side.wanted <= overAll() || side.is <= 0) {
			return 0, fmt.Errorf(
				"a sign cannot be %g mm large over all with channels of %g mm; give a larger --%s", side.wanted, overAll(), side.flag,
			)
		}
	}
	return sizeFor(geom.Pt(set.Width, set.Height), drawn) * cmp.Or(set.grown, 1), nil
}

// sizeFor is what lines so wide and high, mm, are to grow by so that their sign is as wide and as
// high over all as is asked, the smaller of both; 0 asks for nothing.
func sizeFor(asked, lines geom.Point) float64 {
	k := math.Inf(1)
	if asked.X > 0 {
		k = (asked.X - overAll()) / lines.X
	}
	if asked.Y > 0 {
		k = min(k, (asked.Y-overAll())/lines.Y)
	}
	return k
}

// overAll is the width of a usual channel over all, mm: what a sign is larger by than its lines.
func overAll() float64 { return solid.DefaultChannel().Slot() + 2*solid.DefaultChannel().Wall }

// enlarge turns mm of the sheet into mm of a sign k times as large.
func (f *DotsFound) enlarge(k float64) {
	f.Times = k
	f.PxPerMm /= k
	f.Frame.Size, f.Frame.PxPerMm = f.Frame.Size.Mul(k), f.PxPerMm
}

// findDotsAnew is for a sheet of another size than was assumed, so that the ink's
// window and speckles were of the wrong size.
func findDotsAnew(
	set vision.DotSettings, sheet SheetFound, inkSet vision.InkSettings, was vision.Dots,
) (vision.Dots, error) {
	ink, err := inkOf(sheet.Image, was.PxPerMm, inkSet)
	if err != nil {
		return was, err
	}
	set.Places = []geom.Point{was.Pair[0].Centre, was.Pair[1].Centre}
	d, err := vision.FindDots(ink, vision.PageFree, was.PxPerMm, set)
	for i := range d.Pair {
		if err == nil && d.Pair[i].Size == 0 && was.Pair[i].Size > 0 {
			return was, nil // it is lost in the ink at that scale
		}
	}
	d.Page, d.PageOff = was.Page, was.PageOff
	return d, err
}

// usualDot is how wide, mm, dots are asked to be drawn: 3 to 5 mm.
const usualDot = 4.0

// explainDots adds where candidates were seen, the likeliest first, and how to name them.
func explainDots(e *vision.DotError, photo PhotoFound, sheet SheetFound, distance float64) error {
	var seen []string
	likely := slices.Clone(e.Candidates) // those as large as dots are drawn before full stops
	slices.SortStableFunc(likely, func(a, b vision.Spot) int {
		return cmp.Compare(math.Abs(math.Log(a.Size/sheet.PxPerMm/usualDot)), math.Abs(math.Log(b.Size/sheet.PxPerMm/usualDot)))
	})
	for _, c := range likely {
		seen = append(
			seen,
			fmt.Sprintf("%s (%.1f mm wide)", filePlaces(photo, sheet.InPhoto(c.Centre)), c.Size/sheet.PxPerMm),
		)
	}
	where := ""
	if n := len(seen); n > mostSeen {
		where = fmt.Sprintf("; seen at %s and %d more places", strings.Join(seen[:mostSeen], ", "), n-mostSeen)
	} else if n > 0 {
		where = "; seen at " + strings.Join(seen, ", ")
	}
	paper := ""
	if p, _, ok := vision.PageOf(sheet.Image.W, sheet.Image.H, vision.PageAuto); ok && sheet.Fills {
		paper = fmt.Sprintf("; or take it for a scan of a whole %s page with --scale-from paper", p)
	}
	if sheet.Found && sheet.Page != vision.PageFree {
		paper = fmt.Sprintf("; or take the scale of the whole %s sheet with --scale-from paper", sheet.Page)
	}
	if !sheet.Found && sheet.Fills && photo.stated() {
		paper += fmt.Sprintf("; or, of a scan or a page of a document, the %.0f dpi that its file states with --scale-from file", photo.DPI())
	}
	if seen, err := vision.FindMarks(photo.Colour); err == nil && len(seen) > 1 {
		return fmt.Errorf(
			"%w, but marks of sheet %d: put the photos of a drawing over several sheets together by inkchannel join first", e, seen[0].Sheet,
		)
	}
	return fmt.Errorf(
		"%w%s; draw two filled dots %g mm apart, or give their places with --dots \"x,y x,y\", in px of the "+
			"upright photo%s; or say how large the sign is with --width or --height", e, where, distance, paper,
	)
}

// mostSeen is how many spots an error names.
const mostSeen = 6

// overDrawing reports whether all of the drawing lies below the dots: dots belong
// under it, so that the picture may be upside down.
func (f DotsFound) overDrawing() bool {
	top, _ := f.inkRows()
	return max(f.Pair[0].Centre.Y, f.Pair[1].Centre.Y) < float64(top)
}

// amidDrawing reports whether there is drawing both above and below the dots, which belong under it.
func (f DotsFound) amidDrawing() bool {
	top, bottom := f.inkRows()
	high, low := f.Pair[0].Centre.Y, f.Pair[1].Centre.Y
	return min(high, low) > float64(top) && max(high, low) < float64(bottom)
}

// inkRows are the first row of the drawing, and the one after its last.
func (f DotsFound) inkRows() (top, bottom int) {
	m := f.Rest.Mask
	first, last := bytes.IndexByte(m.Pix, 1), bytes.LastIndexByte(m.Pix, 1)
	if first < 0 {
		return m.H, 0
	}
	return first / m.W, last/m.W + 1
}

// missedBy is how far, mm, the nearest spot that looks like a dot lies from a place by
// hand that has none; infinite where each has one, or there is no other spot.
func (f DotsFound) missedBy() float64 {
	best := math.Inf(1)
	for _, d := range f.Pair {
		for _, c := range f.Candidates {
			if d.Size == 0 {
				best = min(best, c.Centre.Dist(d.Centre)/f.PxPerMm)
			}
		}
	}
	return best
}

// dotNear is how near, mm, a spot is to a place by hand that may mean it.
const dotNear = 8

// inPhoto refuses places by hand, px of the upright file, that lie far outside the
// photo. A little outside they may well lie: what is 100 mm apart may be too far
// for the picture.
func inPhoto(places []geom.Point, photo PhotoFound, what string) error {
	for _, p := range mapped(places, photo.FromFile) {
		if far := float64(max(photo.Colour.W, photo.Colour.H)); min(p.X, p.Y) < -far || max(p.X, p.Y) > 2*far {
			size := photo.ToFile(geom.Pt(float64(photo.Colour.W), float64(photo.Colour.H)))
			return fmt.Errorf(
				"%s %s lies far outside the photo of %.0f by %.0f px; give its place in px of the upright photo",
				what, filePlaces(photo, p), size.X, size.Y,
			)
		}
	}
	return nil
}

// doubtPageOff is how far the dots may make a known page too large or small, as a
// share, before either is in doubt: found ones, on the wide accuracy set, and those
// placed by hand, which no hand places to the px.
const (
	doubtPageOff = 0.005
	doubtByHand  = 0.008
)

// doubtUsual is doubtPageOff for a pair as large as dots are drawn, which few other spots are: hands measure 100 mm to
// one or two.
const doubtUsual = 0.012

// doubtFrom is how far off its size a known page may be by the dots.
func (f DotsFound) doubtFrom() float64 {
	if f.Pair[0].Usual(f.PxPerMm) && f.Pair[1].Usual(f.PxPerMm) {
		return doubtUsual
	}
	return doubtPageOff
}

// noPage is how far off, as a share, a sheet is of no page's size.
const noPage = 0.1

// pageOffText says how far off its page's size the dots make a sheet.
func (f DotsFound) pageOffText() string {
	if size := f.Frame.Size; math.Abs(f.PageOff) > noPage {
		return fmt.Sprintf("the sheet is %.0f by %.0f mm, which is no page's size", size.X, size.Y)
	}
	return fmt.Sprintf("the %s sheet is %+.1f %% off its true size", f.Page, 100*f.PageOff)
}

// left is a spot as large as dots are drawn that was not taken for one, though both of those that were are smaller than
// dots are; nil for none.
func (f DotsFound) left() *vision.Spot {
	if f.Pair[0].Usual(f.PxPerMm) || f.Pair[1].Usual(f.PxPerMm) {
		return nil
	}
	for i, s := range f.Candidates {
		if s.Usual(f.PxPerMm) && s.Size > tellLeft*max(f.Pair[0].Size, f.Pair[1].Size) {
			return &f.Candidates[i]
		}
	}
	return nil
}

// tellLeft is how many times as wide a spot that was left must be.
const tellLeft = 1.6

func judgeDots(rep *stage.Report, f DotsFound, photo PhotoFound, sheet SheetFound, byHand bool) {
	known := f.Page != vision.PageFree && sheet.Found
	switch {
	case byHand && known && math.Abs(f.PageOff) > doubtByHand:
		rep.Judge(
			0.4, "going by the dots given by hand, %s", f.pageOffText(),
		)
	case byHand && f.missedBy() < dotNear:
		rep.Judge(
			0.4, "no dot is where one was placed by hand, but a spot %.0f mm away looks like one", f.missedBy(),
		)
	case byHand:
		rep.Judge(1, "dots given by hand")
	case f.left() != nil:
		left := *f.left()
		rep.Judge(
			0.4, "spots only %.1f and %.1f mm wide were taken for the dots, and one of %.1f mm at %s was not: give the two dots' places with --dots",
			f.Pair[0].Size/f.PxPerMm, f.Pair[1].Size/f.PxPerMm, left.Size/f.PxPerMm, filePlaces(photo, sheet.InPhoto(left.Centre)),
		)
	case known && math.Abs(f.PageOff) > f.doubtFrom():
		rep.Judge(0.4, "going by the dots, %s", f.pageOffText())
	case known:
		rep.Judge(0.95, "the dots agree with the %s sheet to within %.2f %%", f.Page, 100*math.Abs(f.PageOff))
	case len(f.Candidates) > 2:
		rep.Judge(
			0.4, "%d spots look like dots, and the sheet's size does not say which two are meant",
			len(f.Candidates),
		)
	case f.amidDrawing():
		rep.Judge(
			0.4, "the two dots lie amid the lines, and nothing says whether they are dots; if not, say how large the sign is with "+
				"--scale-from size and --width",
		)
	default:
		rep.Judge(0.8, "two dots found, but nothing to check them against")
	}
}

// drawDots rings the dots and whatever else looked like one.
func drawDots(r stage.Results, text string) (*image.RGBA, error) {
	f := stage.Of[DotsFound](r)
	c, err := stage.Of[SheetFound](r).Ground.Canvas(0.35, text)
	if err != nil || f.Distance == 0 {
		return picture.ImageOf(c, err)
	}
	a, b := f.Pair[0], f.Pair[1]
	for _, s := range f.Candidates {
		if s.Centre != a.Centre && s.Centre != b.Centre {
			c.Ring(s.Centre, 1, s.Size/2*c.K+8, 3, picture.MarkOther)
			c.Label(s.Centre, 1, "not used", picture.MarkOther)
		}
	}
	c.SetColor(picture.MarkMain)
	c.SetLineWidth(2.5)
	c.DrawLine(a.Centre.X*c.K, a.Centre.Y*c.K, b.Centre.X*c.K, b.Centre.Y*c.K)
	c.Stroke()
	for _, s := range []vision.Spot{a, b} {
		c.Ring(s.Centre, 1, s.Size/2*c.K+5, 4, picture.MarkMain)
		what := "dot, placed by hand"
		if s.Size > 0 {
			what = fmt.Sprintf("dot, %.1f mm wide", s.Size/f.PxPerMm)
		}
		c.Label(s.Centre, 1, what, picture.BarBack)
	}
	c.Label(a.Centre.Lerp(b.Centre, 0.5), 1, fmt.Sprintf("%g mm", f.Distance), picture.MarkMain)
	return c.Image, nil
}

// dotHandles are the two dots.
func dotHandles(r stage.Results) (string, []stage.Handle) {
	photo, sheet, f := stage.Of[PhotoFound](r), stage.Of[SheetFound](r), stage.Of[DotsFound](r)
	if f.Distance == 0 {
		return "", nil
	}
	var out []stage.Handle
	for _, d := range f.Pair {
		out = append(
			out, stage.Handle{Place: photo.ToFile(sheet.InPhoto(d.Centre)), Share: shareOf(sheet.Image, d.Centre)},
		)
	}
	return "dots", out
}
