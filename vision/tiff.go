package vision

import (
	"bytes"
	"encoding/binary"
	"image"
	"io"

	"github.com/dsoprea/go-exif/v3"
	"golang.org/x/image/tiff"
)

// Tags of a TIFF (TIFF 6.0, sections 4, 8 and 10, from memory).
const (
	tiffCompression = 259 // 3 and 4 for fax
	tiffZeroIs      = 262 // 0 for white, 1 for black
	tiffAcross      = 282
	tiffDown        = 283
	tiffUnit        = 296 // 2 for inches, as where it does not say; 3 for cm
)

// decodeTIFF decodes a TIFF. The library takes the white runs of fax data for white whatever zero is; they
// are zeros (section 11, as libtiff has them).
func decodeTIFF(r io.Reader) (image.Image, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	img, err := tiff.Decode(bytes.NewReader(data))
	if g, ok := img.(*image.Gray); err == nil && ok && blackFax(data) {
		for i := range g.Pix {
			g.Pix[i] = ^g.Pix[i]
		}
	}
	return img, err
}

// blackFax reports whether a TIFF is compressed as a fax is, and its zeros are black.
func blackFax(data []byte) bool {
	tags, _, err := exif.GetFlatExifData(data, nil)
	if err != nil {
		return false
	}
	fax, black := false, false
	for _, tag := range tags {
		v, ok := tag.Value.([]uint16)
		if !ok || len(v) != 1 {
			continue
		}
		switch tag.TagId {
		case tiffCompression:
			fax = v[0] == 3 || v[0] == 4
		case tiffZeroIs:
			black = v[0] == 1
		}
	}
	return fax && black
}

// tiffMore is how many pictures a TIFF holds beside the first.
func tiffMore(data []byte) int { return max(tiffPictures(data)-1, 0) }

// noMore is for files of one picture.
func noMore([]byte) int { return 0 }

// mostPictures is how many pictures of one TIFF are counted; a chain of them may be a ring.
const mostPictures = 1000

// tiffPictures is the number of pictures that a TIFF holds (section 2: a chain of directories of 12 bytes an
// entry), as scanners put the pages of a document into one file.
func tiffPictures(data []byte) (n int) {
	order := binary.ByteOrder(binary.LittleEndian)
	if bytes.HasPrefix(data, []byte("MM")) {
		order = binary.BigEndian
	}
	for at := 4; n < mostPictures; n++ {
		if at+4 > len(data) {
			return n
		}
		dir := int(order.Uint32(data[at:]))
		if dir == 0 || dir+2 > len(data) {
			return n
		}
		at = dir + 2 + 12*int(order.Uint16(data[dir:]))
	}
	return n
}
