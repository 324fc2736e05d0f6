package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageSheet finds the paper.
const StageSheet = "sheet"

// SheetFound is the paper seen square from above.
type SheetFound struct {
	vision.Sheet
	Wanted vision.Page     // what is asked for; auto if nothing is
	Ground *picture.Ground // the sheet's, for pictures
}

func sheetStage() stage.Stage {
	type settings = vision.SheetSettings
	type in struct{ Photo PhotoFound }
	return stage.Define(stage.Spec[settings, in, SheetFound]{
		Name: StageSheet, Does: "find the paper and undo the perspective",
		Default: vision.DefaultSheet(),
		Settings: []stage.Setting{
			stage.Choice("page", "the paper's size: auto, A4, A3, letter or free", []vision.Page{vision.PageAuto, vision.PageA4, vision.PageA3, vision.PageLetter, vision.PageFree}, func(s *settings) *vision.Page { return &s.Page }),
			stage.Places("corners", stage.FramePhoto, "the paper's four corners by hand, as x,y x,y x,y x,y", 4, func(s *settings) *[]geom.Point { return &s.Corners }),
			stage.Whole("sheet-pixels", "px", "longer side of the flattened sheet", 200, 20000, func(s *settings) *int { return &s.Pixels }),
			stage.Number("edge-share", "0 to 1", "share of each edge of the paper that must be visible", 0.1, 1, func(s *settings) *float64 { return &s.Support }),
		},
		Run:  func(set settings, in in) (SheetFound, stage.Report, error) { return rectify(set, in.Photo) },
		Show: stage.Show{Picture: drawSheet, Handles: sheetCorners},
	})
}

// tellAskew is by how many degrees a sheet must be turned in the photo, at least, that its other sides may be
// meant to be its top.
const tellAskew = 35

// askewBy is by how many degrees the middle of a sheet is turned in the photo.
func askewBy(q [4]geom.Point) float64 {
	up := q[0].Add(q[1]).Sub(q[2]).Sub(q[3])
	return geom.Degrees(math.Abs(math.Atan2(up.X, -up.Y)))
}

func rectify(set vision.SheetSettings, photo PhotoFound) (f SheetFound, rep stage.Report, err error) {
	set.Corners = mapped(set.Corners, photo.FromFile)
	if f.Sheet, err = vision.Rectify(photo.Colour, set); err != nil {
		return f, rep, err
	}
	if !f.Found && f.Out != nil && f.Share < leastPaper {
		return f, rep, fmt.Errorf(
			"the paper runs out of the picture at the %s, and only %.0f %% of the picture is paper: step back until "+
				"all four edges show, or give its corners with --corners", borders(f.Out), 100*f.Share,
		)
	}
	f.Ground, f.Wanted = picture.NewGround(f.Image), set.Page
	judgeSheet(&rep, f, len(set.Corners) > 0, cornersOut(f, photo) != nil)
	if !f.Found {
		rep.Found = "no sheet found; using the photo as it is"
		switch {
		case f.Out != nil:
			rep.Found = "no whole sheet found; using what is paper of the photo"
			rep.Note(
				"the paper runs out of the picture at the %s, so the perspective is not corrected, and what lies beside "+
					"the paper is left out; step back until all four edges show, or give its corners with --corners",
				borders(f.Out),
			)
		case f.Fills && photo.Format == "PNG" && photo.stated():
			rep.Found = "a scan or a page, by the resolution that its file states; used as it is"
		case f.Fills:
			rep.Found = "paper fills the photo, which is used as it is"
			rep.Note(
				"paper fills the picture, or its edges are too unclear: a tilt could not be seen or corrected; if it is no " +
					"scan, photograph from straight above, or step back until all four edges show",
			)
		default:
			rep.Note(
				"no sheet of paper was found in the photo, so the perspective is not corrected; photograph the whole " +
					"sheet on a darker table, or give its corners with --corners",
			)
		}
		return f, rep, nil
	}
	if out := cornersOut(f, photo); f.Out == nil && out != nil {
		rep.Note("a corner of the paper lies outside the picture, at the %s; step back until all four show", borders(out))
	}
	if f.Out != nil {
		rep.Note(
			"the paper runs out of the picture at the %s; the perspective is corrected by the other three edges, for a "+
				"usual phone's lens; step back until all four edges show", borders(f.Out),
		)
	}
	if askew := askewBy(f.Corners); askew > tellAskew {
		rep.Note("the sheet lies askew in the photo, by %.0f degrees; if the drawing is on its side, turn it with --photo-turn 90 or 270", askew)
	}
	what := fmt.Sprintf("%s sheet", f.Page)
	if f.Page == vision.PageFree {
		what = fmt.Sprintf("sheet with sides 1 : %.3f", ratio(f.Aspect))
	}
	rep.Found = fmt.Sprintf("%s, corners %s", what, filePlaces(photo, f.Corners[:]...))
	if f.Bowed {
		rep.Found += ", bowed and laid flat"
	}
	if len(set.Corners) == 0 {
		rep.Found += fmt.Sprintf(", edges fitted to %.2f px", f.Stray)
	}
	return f, rep, nil
}

// How well a sheet must be seen, before it is in doubt. By the real photographs and
// the wide accuracy set.
const (
	leastPaper = 0.3  // of the photo: less paper, and no whole sheet, is not worth tracing
	strayMm    = 0.5  // mm of the sheet by which its edges may stray, root mean square
	hardlySeen = 0.25 // the same of corners within the photo that may be no paper's
	seenByHand = 0.5  // the same for corners by hand, which are given where little is seen
	mostNarrow = 2.4  // times its width that usual paper is long
	unlikePage = 0.2  // natural logarithm of its shape over that of the page that was asked for, beyond any error
	seenShare  = 0.75 // of each side that shows an edge: no drawn frame reaches half of it
)

func judgeSheet(rep *stage.Report, f SheetFound, byHand, cut bool) {
	stray := f.MmInPhoto(f.Stray)
	switch {
	case byHand && f.Support < seenByHand:
		sure := 0.6
		if f.Support < hardlySeen && !cut {
			sure = 0.4
		}
		rep.Judge(sure, "corners given by hand, where one side shows an edge along only %.0f %% of it", 100*f.Support)
	case byHand:
		rep.Judge(1, "corners given by hand")
	case !f.Found && f.Fills && len(f.Beside) > 0:
		rep.Judge(0.4, "the table shows at the %s, but not all of the paper's edges, so a tilt is not corrected: step back until all four show, "+
			"or give its corners with --corners", borders(f.Beside))
	case !f.Found && f.Fills:
		rep.Judge(0.6, "no edge of the paper shows, so a tilt is not corrected")
	case !f.Found && f.Out != nil:
		rep.Judge(0.2, "the paper runs out of the picture at the %s", borders(f.Out))
	case !f.Found:
		rep.Judge(0.3, "no sheet was found, so the perspective is not corrected")
	case f.Out != nil:
		rep.Judge(0.4, "the paper runs out of the picture at the %s", borders(f.Out))
	case stray > strayMm:
		rep.Judge(0.4, "the edges found are %.1f mm off the shape of the sheet", stray)
	case f.Cut:
		rep.Judge(0.4, "its edges go on beyond a side, so that may be a shadow's edge or a fold: give the paper's corners by --corners, or photograph it in even light")
	case f.odd():
		rep.Judge(0.4, "its sides are 1 : %.2f, which is %s: is that all of the paper, and not a part that lies in the light? "+
			"Then say so with --page free, or give its corners by --corners", ratio(f.Seen), f.oddAs())
	case f.Framed:
		rep.Judge(0.4, "beyond a dark band all around, it is as light as what was taken for the sheet: is that a frame drawn on it? Then give the paper's corners by --corners, or photograph it with some table around")
	case f.Support < seenShare:
		rep.Judge(0.4, "one side shows an edge along only %.0f %% of it", 100*f.Support)
	case f.Bowed:
		rep.Judge(0.7, "the sheet is bowed; it was flattened by its edges, fitted to %.2f mm", stray)
	default:
		rep.Judge(0.95, "edges found along at least %.0f %% of each side, fitted to %.2f mm", 100*f.Support, stray)
	}
}

// odd tells whether what was found has a shape that a part of a sheet has rather than a sheet: a narrow one, or none
// like that of the page that was asked for.
func (f SheetFound) odd() bool {
	short, long, known := f.Wanted.Size()
	switch {
	case f.Out != nil || f.Wanted == vision.PageFree:
		return false
	case known:
		return math.Abs(math.Log(ratio(f.Seen)*short/long)) > unlikePage
	}
	return f.Page == vision.PageFree && ratio(f.Seen) > mostNarrow
}

// oddAs says what is odd about it.
func (f SheetFound) oddAs() string {
	if short, long, known := f.Wanted.Size(); known {
		return fmt.Sprintf("not %s's 1 : %.2f", f.Wanted, long/short)
	}
	return "narrower than usual paper"
}

// ratio is of two sides the longer to the shorter, from either's to the other.
func ratio(aspect float64) float64 { return max(aspect, 1/aspect) }

// cornersOut are the sides of the photo beyond which a corner of the sheet lies.
func cornersOut(f SheetFound, photo PhotoFound) (out []vision.Border) {
	const slack = 1.5 // px, which corners are found to
	w, h := float64(photo.Colour.W), float64(photo.Colour.H)
	for side, gap := range map[vision.Border]func(p geom.Point) float64{
		vision.Top:    func(p geom.Point) float64 { return -p.Y },
		vision.Right:  func(p geom.Point) float64 { return p.X - w },
		vision.Bottom: func(p geom.Point) float64 { return p.Y - h },
		vision.Left:   func(p geom.Point) float64 { return -p.X },
	} {
		if slices.ContainsFunc(f.Corners[:], func(p geom.Point) bool { return gap(p) > slack }) {
			out = append(out, side)
		}
	}
	slices.Sort(out)
	return out
}

// borders names sides of the photo.
func borders(out []vision.Border) string {
	var names []string
	for _, b := range out {
		names = append(names, b.String())
	}
	if n := len(names); n > 2 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, " and ")
}

// mapped takes places to another frame.
func mapped(pts []geom.Point, to func(geom.Point) geom.Point) []geom.Point {
	var out []geom.Point
	for _, p := range pts {
		out = append(out, to(p))
	}
	return out
}

// filePlaces writes px of the working photo as px of the upright file.
func filePlaces(photo PhotoFound, pts ...geom.Point) string {
	var out []string
	for _, p := range mapped(pts, photo.ToFile) {
		out = append(out, fmt.Sprintf("%.0f,%.0f", math.Round(p.X)+0, math.Round(p.Y)+0)) // no -0
	}
	return strings.Join(out, " ")
}

// drawSheet outlines the paper in the photo.
func drawSheet(r stage.Results, text string) (*image.RGBA, error) {
	photo, f := stage.Of[PhotoFound](r), stage.Of[SheetFound](r)
	c, err := photo.Ground.Canvas(0, text)
	if err != nil || !f.Found {
		return picture.ImageOf(c, err)
	}
	for _, pen := range []struct {
		col   color.Color
		width float64
	}{{color.White, 7}, {picture.MarkMain, 4}} {
		c.Path(outlineOf(f), 1, true)
		c.SetColor(pen.col)
		c.SetLineWidth(pen.width)
		c.Stroke()
	}
	for i, p := range f.Corners {
		c.Spot(p, 1, 8, picture.MarkOther)
		q := photo.ToFile(p)
		c.Label(p, 1, fmt.Sprintf("%d: %.0f,%.0f px", i+1, q.X, q.Y), picture.BarBack)
	}
	return c.Image, nil
}

// outlineOf is the sheet's outline in the photo, px, as it was laid flat.
func outlineOf(f SheetFound) (out []geom.Point) {
	const each = 40 // places along a side
	w, h := float64(f.Image.W), float64(f.Image.H)
	c := [4]geom.Point{{}, {X: w}, {X: w, Y: h}, {Y: h}}
	for i := range c {
		for k := range each {
			out = append(out, f.InPhoto(c[i].Lerp(c[(i+1)%4], float64(k)/each)))
		}
	}
	return out
}

// sheetCorners are the corners found, or if there are none places to drag onto them.
func sheetCorners(r stage.Results) (string, []stage.Handle) {
	photo, f := stage.Of[PhotoFound](r), stage.Of[SheetFound](r)
	corners := f.Corners[:]
	if !f.Found {
		corners = nil
		for _, share := range []geom.Point{{X: offeredIn, Y: offeredIn}, {X: 1 - offeredIn, Y: offeredIn}, {X: 1 - offeredIn, Y: 1 - offeredIn}, {X: offeredIn, Y: 1 - offeredIn}} {
			corners = append(corners, ofShare(photo.Colour, share))
		}
	}
	var out []stage.Handle
	for _, p := range corners {
		out = append(out, stage.Handle{Place: photo.ToFile(p), Share: shareOf(photo.Colour, p)})
	}
	return "corners", out
}

// offeredIn is how far inside the photo, as a share of its sides, the corners are that are offered to
// be dragged.
const offeredIn = 0.06

// shareOf is where px of a picture are on it, as shares of its width and height.
func shareOf(pic *vision.Colour, p geom.Point) geom.Point {
	return geom.Pt(p.X/float64(pic.W), p.Y/float64(pic.H))
}

// ofShare is the reverse of shareOf.
func ofShare(pic *vision.Colour, share geom.Point) geom.Point {
	return geom.Pt(share.X*float64(pic.W), share.Y*float64(pic.H))
}
