package vision

import (
	"bytes"
	"encoding/binary"
	"image"
	"math"

	"github.com/dsoprea/go-exif/v3"
	exifcommon "github.com/dsoprea/go-exif/v3/common"

	"inkchannel/geom"
)

const mmPerInch = 25.4

// DPI is the resolution that the file states, dots per inch, 0 for none.
func (p Photo) DPI() float64 { return p.PxPerMm * mmPerInch }

// pngScale is how many px go to a mm across and down by the pHYs chunk of a PNG (W3C PNG, third edition,
// 11.3.4.3), 0 if it does not say.
func pngScale(data []byte) geom.Point {
	c := pngChunk(data, "pHYs")
	if len(c) < 9 || c[8] != 1 { // per metre
		return geom.Point{}
	}
	return geom.Pt(float64(binary.BigEndian.Uint32(c))/1000, float64(binary.BigEndian.Uint32(c[4:]))/1000)
}

// jpegScale is the same of a JPEG by its JFIF segment (ITU-T T.871, 10.1).
func jpegScale(data []byte) geom.Point {
	b, ok := bytes.CutPrefix(jpegSegment(data, 0xe0, "JFIF\x00"), []byte("JFIF\x00"))
	if !ok || len(b) < 7 {
		return geom.Point{}
	}
	x, y := float64(binary.BigEndian.Uint16(b[3:])), float64(binary.BigEndian.Uint16(b[5:]))
	switch b[2] {
	case 1: // per inch
		return geom.Pt(x/mmPerInch, y/mmPerInch)
	case 2: // per cm
		return geom.Pt(x/10, y/10)
	}
	return geom.Point{}
}

// tiffScale is the same of a TIFF.
func tiffScale(data []byte) geom.Point {
	tags, _, err := exif.GetFlatExifData(data, nil)
	if err != nil {
		return geom.Point{}
	}
	across, down, perMm := 0.0, 0.0, 1/mmPerInch
	for _, tag := range tags {
		switch v := tag.Value.(type) {
		case []exifcommon.Rational:
			if len(v) != 1 || v[0].Denominator == 0 {
				continue
			}
			switch share := float64(v[0].Numerator) / float64(v[0].Denominator); tag.TagId {
			case tiffAcross:
				across = share
			case tiffDown:
				down = share
			}
		case []uint16:
			if tag.TagId == tiffUnit && len(v) == 1 && v[0] != 2 {
				perMm = 0 // no unit
				if v[0] == 3 {
					perMm = 0.1
				}
			}
		}
	}
	return geom.Pt(across*perMm, down*perMm)
}

// noScale is for files that are not asked.
func noScale([]byte) geom.Point { return geom.Point{} }

// A scanner's or a fax's pixels need not be squares: from leastStretch px a mm on, which is a fax's coarsest
// (ITU-T T.4, from memory: 3.85 a mm), up to mostStretch times as long as wide.
const (
	leastStretch = 3.5
	mostStretch  = 2.5
	squareEnough = 0.01
)

// squared is a picture whose file states so many px to a mm across and down, before it was turned, with
// pixels that are squares, and how many of those go to a mm; 0 if the file does not say, or nothing that can
// be meant.
func squared(img *Colour, cfg image.Config, px geom.Point) (*Colour, image.Config, float64, error) {
	if (cfg.Width > cfg.Height) != (img.W > img.H) {
		px.X, px.Y = px.Y, px.X
		cfg.Width, cfg.Height = cfg.Height, cfg.Width
	}
	least, most := min(px.X, px.Y), max(px.X, px.Y)
	switch {
	case least <= 0:
		return img, cfg, 0, nil
	case most <= least*(1+squareEnough):
		return img, cfg, px.X, nil
	case least < leastStretch || most > mostStretch*least:
		return img, cfg, 0, nil
	}
	w, h := most/px.X, most/px.Y
	longer, err := img.Resized(int(math.Round(float64(img.W)*w)), int(math.Round(float64(img.H)*h)))
	cfg.Width, cfg.Height = int(math.Round(float64(cfg.Width)*w)), int(math.Round(float64(cfg.Height)*h))
	return longer, cfg, most, err
}
