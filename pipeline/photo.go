package pipeline

import (
	"crypto/sha256"
	"fmt"
	"image"

	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StagePhoto decodes the photo.
const StagePhoto = "photo"

// A Source is the photo that a run is given.
type Source struct {
	Name string // what it is called, for the summary; may be empty
	Data []byte // of the file
}

// PhotoFound is the decoded photo.
type PhotoFound struct {
	vision.Photo
	Name string   // as the source has it
	Sum  [32]byte // SHA-256 of the file

	Ground *picture.Ground // the photo's, for pictures
}

func photoStage() stage.Stage {
	type settings = vision.LoadSettings
	type in struct{ Source Source }
	return stage.Define(stage.Spec[settings, in, PhotoFound]{
		Name: StagePhoto, Does: "decode the photo and turn it upright",
		Default: vision.DefaultLoad(),
		Settings: []stage.Setting{
			stage.Number("max-megapixels", "megapixels", "refuse larger photos", 0.1, 400, func(s *settings) *float64 { return &s.MaxMegapixels }),
			stage.Number("work-megapixels", "megapixels", "shrink larger photos to this", 1, 200, func(s *settings) *float64 { return &s.WorkMegapixels }),
			stage.Choice("photo-turn", "turn the photo clockwise by 0, 90, 180 or 270 degrees, if it lies on its side or upside down", []vision.Turn{vision.TurnNone, vision.TurnQuarter, vision.TurnHalf, vision.TurnBack}, func(s *settings) *vision.Turn { return &s.Turn }),
			stage.YesNo("flip", "mirror the photo left to right, if the camera mirrored it", func(s *settings) *bool { return &s.Flip }),
		},
		Run: func(set settings, in in) (PhotoFound, stage.Report, error) {
			return loadPhoto(set, in.Source)
		},
		Show: stage.Show{Picture: func(r stage.Results, text string) (*image.RGBA, error) {
			return picture.ImageOf(stage.Of[PhotoFound](r).Ground.Canvas(0, text))
		}},
	})
}

// How many megapixels a photo needs for a pen line to be several px wide on a whole
// sheet, and on a part of one.
const (
	smallPhoto = 1.0
	tinyPhoto  = 0.4
)

func loadPhoto(set vision.LoadSettings, src Source) (f PhotoFound, rep stage.Report, err error) {
	if f.Photo, err = vision.Load(src.Data, set); err != nil {
		return f, rep, err
	}
	f.Name, f.Sum, f.Ground = src.Name, sha256.Sum256(src.Data), picture.NewGround(f.Colour)
	rep.Found = fmt.Sprintf("%s, %d by %d px", f.Format, f.W, f.H)
	if f.Shrink > 1 {
		rep.Found += fmt.Sprintf(", reduced %.3g times in size", f.Shrink)
	}
	if f.Stretched {
		rep.Note("the file's pixels are no squares, by the resolution that it states; the picture was stretched to true shape")
	}
	if f.More > 0 {
		rep.Note("the file holds %d pictures; the first is taken", 1+f.More)
	}
	switch m := float64(f.W*f.H) / 1e6; {
	case f.Damage != "":
		rep.Judge(0.3, "the file is damaged inside (%s): part of the picture may be grey or shifted; take or export the photo again", f.Damage)
	case m < tinyPhoto:
		rep.Judge(0.4, "the photo has only %.1f megapixels", m)
	case m < smallPhoto:
		rep.Judge(0.6, "the photo has only %.1f megapixels, which is little for a whole sheet", m)
	default:
		rep.Judge(1, "decoded completely")
	}
	return f, rep, nil
}
