package pipeline

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/hand"
	"inkchannel/pipeline/stage"
)

// Picked turns a place on a picture, given as shares of its width and height
// without its line of text, into what a setting takes. onSheet says that the
// picture shows the sheet; else it shows the photo. It returns an error for a
// setting that takes no places, and while the photo or the sheet is not known.
func Picked(r stage.Results, k stage.Setting, onSheet bool, share geom.Point) (geom.Point, error) {
	if !(share.X >= -besidePicture && share.X <= 1+besidePicture && share.Y >= -besidePicture && share.Y <= 1+besidePicture) {
		return geom.Point{}, errors.New("the place is too far outside the picture")
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
	return strings.Join(out, " and at ") + OnPaper
}

// OnPaper is what is said of a place in mm of the paper, as it was drawn: other places are told in mm of the sign.
const OnPaper = " on the paper"

// nearLine is how far from a line, mm, a place may be picked that is to lie on one.
const nearLine = 10.0

// besidePicture is how far beside a picture, as a share of its side, places may be picked: the sheet's corner
// may lie outside the photo, and lines outside the sheet.
const besidePicture = 0.5

// Missed tells why a place that was picked, mm of the paper, is of no use to a setting that would be as
// next has it: no line is there, or none that the last change by hand could take. It is empty for a
// place that serves, and where that cannot be told yet. The session stays as it is.
func Missed(ctx context.Context, s *stage.Session, flag string, next stage.Settings, at geom.Point) string {
	switch flag {
	case "edits":
		try := s.Try()
		try.Use(next)
		r, err := try.Run(ctx, StageHand)
		if err != nil {
			return ""
		}
		return MissedLast(r)
	case "feed-at", "cut-at":
		r := s.Latest()
		f, ok := stage.Found[BendsFound](r)
		if !ok {
			return ""
		}
		q := stage.Of[DotsFound](r).FromPaper([]geom.Point{at})[0]
		for _, c := range f.Line.Curves {
			if _, off := geom.NewRuler(c).Nearest(q); off > nearLine {
				continue
			}
			if flag == "feed-at" {
				return missedFeed(ctx, s, next, at)
			}
			return ""
		}
		return fmt.Sprintf("there is no line within %.0f mm of x %.1f, y %.1f mm; pick a place on one", nearLine, at.X, at.Y)
	}
	return ""
}

// missedFeed tells why wires cannot come up at a place on a line, mm of the paper, empty if they can.
func missedFeed(ctx context.Context, s *stage.Session, next stage.Settings, at geom.Point) string {
	try := s.Try()
	try.Use(next)
	r, err := try.Run(ctx, StageStrips)
	if err != nil {
		return ""
	}
	f := stage.Of[StripsFound](r)
	if n := len(f.Feeds); n == 0 || f.begins(f.Feeds[n-1]) {
		return ""
	}
	return fmt.Sprintf("no strip begins at x %.1f, y %.1f mm: %s", at.X, at.Y, whereFed)
}

// MissedFirst tells why the first of several places that are picked for a verb of a setting, mm of the paper, is of no
// use to it, empty where it serves or that cannot be told yet.
func MissedFirst(r stage.Results, flag, verb string, at geom.Point) string {
	f, ok := stage.Found[HandFound](r)
	if flag != "edits" || !ok {
		return ""
	}
	line := times(f.Line, 1/stage.Of[DotsFound](r).times())
	if why := hand.MissedFirst(line, hand.Verb(verb), at); why != "" {
		return fmt.Sprintf("%s cannot begin at x %.1f, y %.1f mm: %s", verb, at.X, at.Y, why)
	}
	return ""
}

// MissedLast tells why the last change by hand could not be made, empty if it was.
func MissedLast(r stage.Results) string {
	f, _ := stage.Found[HandFound](r)
	for _, m := range f.Missed {
		if m.Change == len(f.Edits)-1 {
			q := stage.Of[DotsFound](r).Paper(m.At)
			return fmt.Sprintf("%s at x %.1f, y %.1f mm was not made: %s", f.Edits[m.Change].Verb, q.X, q.Y, m.Why)
		}
	}
	return ""
}
