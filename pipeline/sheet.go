package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageSheet finds the paper.
const StageSheet = "sheet"

// SheetFound is the paper seen square from above.
type SheetFound struct{ vision.Sheet }

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

func rectify(set vision.SheetSettings, photo PhotoFound) (f SheetFound, rep stage.Report, err error) {
	set.Corners = mapped(set.Corners, photo.FromFile)
	if f.Sheet, err = vision.Rectify(photo.Colour, set); err != nil {
		return f, rep, err
	}
	judgeSheet(&rep, f, photo, len(set.Corners) > 0)
	if !f.Found {
		rep.Found = "no sheet found; using the photo as it is"
		rep.Note(
			"no sheet of paper was found in the photo, so the perspective is not corrected; photograph the whole " +
				"sheet on a darker table, or give its corners with --corners",
		)
		return f, rep, nil
	}
	what := fmt.Sprintf("%s sheet", f.Page)
	if f.Page == vision.PageFree {
		what = fmt.Sprintf("sheet with sides 1 : %.3f", max(f.Aspect, 1/f.Aspect))
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

// How far edges may stray from a sheet's, root mean square, before the sheet is in
// doubt: the larger of a share of the photo's longer side and a number of px. Found
// on the wide accuracy set.
const (
	strayShare = 0.0002
	strayPx    = 0.45
)

func judgeSheet(rep *stage.Report, f SheetFound, photo PhotoFound, byHand bool) {
	long := float64(max(photo.Colour.W, photo.Colour.H))
	switch {
	case !f.Found:
		rep.Judge(0.3, "no sheet was found, so the perspective is not corrected")
	case byHand:
		rep.Judge(1, "corners given by hand")
	case f.Stray > max(strayShare*long, strayPx):
		rep.Judge(0.4, "the edges found are %.2f px off straight lines", f.Stray)
	case f.Bowed:
		rep.Judge(0.7, "the sheet is bowed; it was flattened by its edges, fitted to %.2f px", f.Stray)
	default:
		rep.Judge(0.95, "edges found along at least %.0f %% of each side, fitted to %.2f px", 100*f.Support, f.Stray)
	}
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
		out = append(out, fmt.Sprintf("%.0f,%.0f", p.X, p.Y))
	}
	return strings.Join(out, " ")
}

// drawSheet outlines the paper in the photo.
func drawSheet(r stage.Results, text string) (*image.RGBA, error) {
	photo, f := stage.Of[PhotoFound](r), stage.Of[SheetFound](r)
	c, err := picture.New(photo.Colour, 0, text)
	if err != nil || !f.Found {
		return picture.ImageOf(c, err)
	}
	for _, pen := range []struct {
		col   color.Color
		width float64
	}{{color.White, 7}, {picture.MarkMain, 4}} {
		c.Path(f.Corners[:], 1, true)
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

// sheetCorners are the corners found.
func sheetCorners(r stage.Results) (string, []stage.Handle) {
	photo, f := stage.Of[PhotoFound](r), stage.Of[SheetFound](r)
	if !f.Found {
		return "", nil
	}
	var out []stage.Handle
	for _, p := range f.Corners {
		out = append(out, stage.Handle{Place: photo.ToFile(p), Share: shareOf(photo.Colour, p)})
	}
	return "corners", out
}

// shareOf is where px of a picture are on it, as shares of its width and height.
func shareOf(pic *vision.Colour, p geom.Point) geom.Point {
	return geom.Pt(p.X/float64(pic.W), p.Y/float64(pic.H))
}

// ofShare is the reverse of shareOf.
func ofShare(pic *vision.Colour, share geom.Point) geom.Point {
	return geom.Pt(share.X*float64(pic.W), share.Y*float64(pic.H))
}
