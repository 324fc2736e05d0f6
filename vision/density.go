package vision

import (
	"bytes"
	"encoding/binary"

	"github.com/dsoprea/go-exif/v3"
	exifcommon "github.com/dsoprea/go-exif/v3/common"
)

const mmPerInch = 25.4

// DPI is the resolution that the file states, dots per inch, 0 for none.
func (p Photo) DPI() float64 { return p.PxPerMm * mmPerInch }

// pngScale is how many px go to a mm by the pHYs chunk of a PNG (W3C PNG, third edition,
// 11.3.4.3), 0 if it does not say, or not the same both ways.
func pngScale(data []byte) float64 {
	c := pngChunk(data, "pHYs")
	if len(c) < 9 || c[8] != 1 { // per metre
		return 0
	}
	return sameBothWays(float64(binary.BigEndian.Uint32(c))/1000, float64(binary.BigEndian.Uint32(c[4:]))/1000)
}

// jpegScale is the same of a JPEG by its JFIF segment (ITU-T T.871, 10.1).
func jpegScale(data []byte) float64 {
	b, ok := bytes.CutPrefix(jpegSegment(data, 0xe0, "JFIF\x00"), []byte("JFIF\x00"))
	if !ok || len(b) < 7 {
		return 0
	}
	x, y := float64(binary.BigEndian.Uint16(b[3:])), float64(binary.BigEndian.Uint16(b[5:]))
	switch b[2] {
	case 1: // per inch
		return sameBothWays(x/mmPerInch, y/mmPerInch)
	case 2: // per cm
		return sameBothWays(x/10, y/10)
	}
	return 0
}

// tiffScale is the same of a TIFF.
func tiffScale(data []byte) float64 {
	tags, _, err := exif.GetFlatExifData(data, nil)
	if err != nil {
		return 0
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
	return sameBothWays(across*perMm, down*perMm)
}

// noScale is for files that are not asked.
func noScale([]byte) float64 { return 0 }

// sameBothWays is x if y is as large but for rounding, else 0: such pixels are no squares.
func sameBothWays(x, y float64) float64 {
	const rounding = 0.01
	if x <= 0 || y < x*(1-rounding) || y > x*(1+rounding) {
		return 0
	}
	return x
}
