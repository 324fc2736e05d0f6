package pipeline

import (
	"errors"
	"fmt"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline/stage"
)

// Picked turns a place on a picture, given as shares of its width and height
// without its line of text, into what a setting takes. onSheet says that the
// picture shows the sheet; else it shows the photo. It returns an error for a
// setting that takes no places, and while the photo or the sheet is not known.
func Picked(r stage.Results, k stage.Setting, onSheet bool, share geom.Point) (geom.Point, error) {
	if !(share.X >= 0 && share.X <= 1 && share.Y >= 0 && share.Y <= 1) {
		return geom.Point{}, errors.New("the place is outside the picture")
	}
	sheet, ok := stage.Found[SheetFound](r)
	if onSheet && !ok {
		return geom.Point{}, errors.New("the sheet is not known yet")
	}
	switch k.Frame {
	case stage.FramePhoto:
		photo, ok := stage.Found[PhotoFound](r)
		if !ok {
			return geom.Point{}, errors.New("there is no photo yet")
		}
		if onSheet {
			return photo.ToFile(sheet.InPhoto(ofShare(sheet.Image, share))), nil
		}
		return photo.ToFile(ofShare(photo.Colour, share)), nil
	case stage.FrameBed:
		beds, ok := stage.Found[BedsFound](r)
		if onSheet || !ok {
			return geom.Point{}, fmt.Errorf("%s is picked on the bed, once parts lie there", k.Flag)
		}
		v := beds.view()
		return v.first(geom.Pt(share.X*v.size().X, share.Y*v.size().Y)), nil
	case stage.FrameSheet:
		dots, ok := stage.Found[DotsFound](r)
		if !onSheet || !ok {
			return geom.Point{}, fmt.Errorf("%s is picked on the sheet, after the dots are found", k.Flag)
		}
		return dots.Paper(dots.Frame.Mm(ofShare(sheet.Image, share))), nil
	}
	return geom.Point{}, fmt.Errorf("%s does not take places", k.Flag)
}

// placesText names places of the paper, as settings by hand take them.
func placesText(paper []geom.Point) string {
	var out []string
	for _, p := range paper {
		out = append(out, fmt.Sprintf("x %.1f, y %.1f mm", p.X, p.Y))
	}
	return strings.Join(out, " and at ")
}
