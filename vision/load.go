package vision

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
	"sync"

	"inkchannel/geom"

	"github.com/dsoprea/go-exif/v3"
	"github.com/gen2brain/heic"
	"gocv.io/x/gocv"
	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"

	"inkchannel/geom/parallel"
	"inkchannel/vision/turbo"
)

// LoadSettings bound what Load takes in.
type LoadSettings struct {
	MaxMegapixels  float64 // refuse larger photos before decoding them
	WorkMegapixels float64 // shrink larger photos to at most this
	Turn           Turn    // by which the upright photo is turned further
	Flip           bool    // then mirror it left to right: a selfie camera's photo
}

// DefaultLoad returns the settings that suit phone photos.
func DefaultLoad() LoadSettings {
	return LoadSettings{MaxMegapixels: 120, WorkMegapixels: 24, Turn: TurnNone}
}

// A Turn is by how many degrees a photo is turned clockwise.
type Turn string

// The turns Load knows.
const (
	TurnNone    Turn = "0"
	TurnQuarter Turn = "90"
	TurnHalf    Turn = "180"
	TurnBack    Turn = "270"
)

// undo is the EXIF orientation (CIPA DC-008, from memory) that a picture would have
// that must be turned so, and mirrored, to be upright.
func (s LoadSettings) undo() int {
	switch s.Turn {
	case TurnQuarter:
		return map[bool]int{false: 6, true: 5}[s.Flip]
	case TurnHalf:
		return map[bool]int{false: 3, true: 4}[s.Flip]
	case TurnBack:
		return map[bool]int{false: 8, true: 7}[s.Flip]
	}
	return map[bool]int{false: 1, true: 2}[s.Flip]
}

// A Photo is a decoded photograph, upright as its EXIF orientation says.
type Photo struct {
	*Colour
	Format string // "JPEG", "PNG", "WebP", "TIFF" or "HEIC"
	// Shrink is how many pixels of the file went into one of Colour, along
	// each side; 1 for most photos.
	Shrink float64
	// PxPerMm is the scale that the file itself states, of Colour's pixels; 0 if it states none. A
	// scanner's is true, a camera's is made up.
	PxPerMm float64
	// Stretched tells that the file's pixels are no squares; here they are.
	Stretched bool
	// More is how many other pictures the file holds; the first is taken.
	More int
	// Damage is what is wrong inside of a file that could be decoded all the same, empty for a sound
	// one: part of the picture may be grey, or shifted.
	Damage string
}

// ToFile takes px of the working photo to px of the file's upright picture.
func (p Photo) ToFile(q geom.Point) geom.Point { return q.Mul(p.Shrink) }

// FromFile takes px of the file's upright picture to px of the working photo.
func (p Photo) FromFile(q geom.Point) geom.Point { return q.Mul(1 / p.Shrink) }

// leastSide is the least width and height of a photo, px: below it a pen line
// is no pixel wide.
const leastSide = 200

// A format is one kind of image file.
type format struct {
	name   string
	config func(io.Reader) (image.Config, error)
	decode func([]byte, image.Config, LoadSettings) (img *Colour, damage string, err error)
	scale  func([]byte) geom.Point // px to a mm that the file states, across and down, 0 for none
	more   func([]byte) int        // pictures that it holds beside the first
}

// Load decodes a photograph: JPEG, PNG, WebP, TIFF or HEIC, told apart by
// content. Transparent places are taken as white paper. The size is read and
// checked before any pixel is decoded.
//
// It returns an error for an empty, unknown, truncated or broken file, and for
// one that is too small or over the size limit.
func Load(data []byte, s LoadSettings) (Photo, error) {
	f, err := sniff(data)
	if err != nil {
		return Photo{}, err
	}
	cfg, err := f.config(bytes.NewReader(data))
	if err != nil {
		if kind := tiff.UnsupportedError(""); errors.As(err, &kind) {
			return Photo{}, fmt.Errorf("a TIFF of a kind that is not read (%s); export it as PNG or JPEG", string(kind))
		}
		return Photo{}, fmt.Errorf(
			"broken %s file: its header cannot be read (%v); take or export the photo again", f.name, err,
		)
	}
	if min(cfg.Width, cfg.Height) < leastSide {
		return Photo{}, fmt.Errorf(
			"%s of %d by %d px is too small to show a drawing; give at least %d px each way", f.name, cfg.Width,
			cfg.Height, leastSide,
		)
	}
	if mp := float64(cfg.Width) * float64(cfg.Height) / 1e6; mp > s.MaxMegapixels {
		return Photo{}, fmt.Errorf(
			"%s of %d by %d px is %.0f megapixels, over the limit of %g; shrink it or raise the limit of megapixels", f.name,
			cfg.Width, cfg.Height, mp, s.MaxMegapixels,
		)
	}
	img, damage, err := f.decode(data, cfg, s)
	if err != nil {
		return Photo{}, fmt.Errorf("broken %s file: %v; take or export the photo again", f.name, err)
	}
	before := img
	img, cfg, px, err := squared(img, cfg, f.scale(data))
	if err != nil {
		return Photo{}, err
	}
	p, err := shrink(img, f.name, cfg, s)
	if err != nil {
		return Photo{}, err
	}
	p.Damage, p.PxPerMm, p.Stretched, p.More = damage, px/p.Shrink, img != before, f.more(data)
	if p.Colour, err = upright(p.Colour, s.undo()); err == nil {
		p.Colour.facing = facing{s.Turn, s.Flip}
	}
	return p, err
}

// ErrNotPhoto is the error of Load for what is in none of the formats that it reads.
var ErrNotPhoto = errors.New("not a photo that can be read; give a JPEG, PNG, WebP, TIFF or HEIC file")

// sniff tells the format by the file's first bytes.
func sniff(data []byte) (format, error) {
	has := func(at int, s string) bool { return len(data) >= at+len(s) && string(data[at:at+len(s)]) == s }
	switch {
	case len(data) == 0:
		return format{}, errors.New("the file is empty; give a photo")
	case has(0, "\xff\xd8\xff"):
		return format{"JPEG", jpeg.DecodeConfig, decodeJPEG, jpegScale, noMore}, nil
	case has(0, "\x89PNG\r\n\x1a\n"):
		return format{"PNG", png.DecodeConfig, plainDecoder(png.Decode, pngEXIF), pngScale, noMore}, nil
	case has(0, "RIFF") && has(8, "WEBP") && has(12, "VP8X") && len(data) > 20 && data[20]&2 != 0: // RFC 9649, 2.7
		return format{}, errors.New("an animated WebP is not a photo; use a still image")
	case has(0, "RIFF") && has(8, "WEBP"):
		return format{"WebP", webp.DecodeConfig, plainDecoder(webp.Decode, webpEXIF), noScale, noMore}, nil
	case has(0, "II*\x00"), has(0, "MM\x00*"):
		return format{"TIFF", tiff.DecodeConfig, plainDecoder(decodeTIFF, func(b []byte) []byte { return b }), tiffScale, tiffMore}, nil
	case has(4, "ftyp") && (has(8, "hei") || has(8, "hev") || has(8, "mif1") || has(8, "msf1")):
		// The decoder turns HEIC upright itself: there the turn is part of the
		// image and the EXIF tag must not be applied again (ISO/IEC 23008-12).
		return format{"HEIC", heicConfig, plainDecoder(heic.Decode, func([]byte) []byte { return nil }), noScale, noMore}, nil
	}
	return format{}, ErrNotPhoto
}

// shrink brings img within the working size by averaging.
func shrink(img *Colour, name string, cfg image.Config, s LoadSettings) (Photo, error) {
	long := max(cfg.Width, cfg.Height)
	n := 1
	for float64(img.W)*float64(img.H)/float64(n*n) > s.WorkMegapixels*1e6 {
		n++
	}
	if n > 1 {
		less, err := img.Resized(max(img.W/n, 1), max(img.H/n, 1))
		if err != nil {
			return Photo{}, err
		}
		less.glance = img.glance
		img = less
	}
	return Photo{Colour: img, Format: name, Shrink: float64(long) / float64(max(img.W, img.H))}, nil
}

// decodeJPEG decodes by libjpeg-turbo and turns the picture upright. Huge photos are decoded at half
// size, which that library does at a quarter of the cost. While one core decodes, another decodes a
// small copy, at a fraction of the cost, and has a first look for the sheet in it.
func decodeJPEG(data []byte, cfg image.Config, s LoadSettings) (*Colour, string, error) {
	// The library fills what is missing with grey.
	if err := wholeJPEG(data); err != nil {
		return nil, "", err
	}
	n := 1
	if float64(cfg.Width)*float64(cfg.Height) > s.WorkMegapixels*1e6 {
		n = 2
	}
	turned := orientation(jpegEXIF(data))
	var look *glance
	var wg sync.WaitGroup
	if small := smallShare(max(cfg.Width, cfg.Height)); small > 0 {
		wg.Go(func() {
			parallel.Caught(func() {
				if c, _, err := decodeAs(data, cfg, small, turned); err == nil { // if not, the look is had later
					look, _ = glanceAt(c)
				}
			})
		})
	}
	c, damage, err := decodeAs(data, cfg, n, turned)
	wg.Wait()
	if err != nil {
		return nil, "", err
	}
	c.glance = look
	return c, damage, nil
}

// smallShare is at which share of its size, one nth, to decode a JPEG with a longer side of so many px
// small, but large enough to find the sheet in; 0 for none.
func smallShare(long int) int {
	for _, n := range []int{8, 4, 2} {
		if long >= n*quadSide {
			return n
		}
	}
	return 0
}

// decodeAs decodes a JPEG at one nth of its size, and turns it upright by its orientation.
func decodeAs(data []byte, cfg image.Config, n, orientation int) (c *Colour, damage string, err error) {
	layout := turbo.BGR
	if cfg.ColorModel == color.CMYKModel {
		layout = turbo.CMYK
	}
	pix, damage, err := turbo.Decode(data, cfg.Width, cfg.Height, n, layout)
	if err != nil {
		return nil, "", err
	}
	if layout == turbo.CMYK {
		pix = fromInk(pix)
	}
	c, err = upright(&Colour{W: (cfg.Width + n - 1) / n, H: (cfg.Height + n - 1) / n, Pix: pix}, orientation)
	return c, damage, err
}

// fromInk takes pixels of cyan, magenta, yellow and black, as JPEG files have them (0 for full ink,
// common practice), to blue, green, red as OpenCV does: K − (255 − C)·K/256.
func fromInk(cmyk []byte) []byte {
	out := make([]byte, len(cmyk)/4*3)
	for i, j := 0, 0; i+3 < len(cmyk); i, j = i+4, j+3 {
		k := int(cmyk[i+3])
		for n := range 3 {
			out[j+2-n] = uint8(k - (255-int(cmyk[i+n]))*k>>8)
		}
	}
	return out
}

// wholeJPEG walks the markers of a JPEG (ITU-T T.81, B.1.1) to its end of
// image.
func wholeJPEG(data []byte) error {
	i := 2
	for i+4 <= len(data) {
		if data[i] != 0xff {
			return fmt.Errorf("no marker at byte %d", i)
		}
		m := data[i+1]
		switch {
		case m == 0xff: // fill
			i++
			continue
		case m == 0xd9:
			return nil
		case m == 0x01 || m >= 0xd0 && m <= 0xd7:
			i += 2
			continue
		}
		i += 2 + int(binary.BigEndian.Uint16(data[i+2:]))
		if m != 0xda {
			continue
		}
		// Skip the coded data of the scan, in which 0xff stands only before
		// 0x00 or a restart marker.
		for {
			j := bytes.IndexByte(data[min(i, len(data)):], 0xff)
			if j < 0 || i+j+1 >= len(data) {
				return fmt.Errorf("it is cut off at byte %d", len(data))
			}
			i += j
			if c := data[i+1]; c != 0 && c != 0xff && (c < 0xd0 || c > 0xd7) {
				break
			}
			i++
			if data[i] != 0xff {
				i++
			}
		}
	}
	if i+2 <= len(data) && data[i] == 0xff && data[i+1] == 0xd9 {
		return nil
	}
	return fmt.Errorf("it is cut off at byte %d", len(data))
}

// plainDecoder decodes by one of Go's decoders and turns the picture upright
// by the orientation in the EXIF block that block finds.
func plainDecoder(
	decode func(io.Reader) (image.Image, error), block func([]byte) []byte,
) func([]byte, image.Config, LoadSettings) (*Colour, string, error) {
	return func(data []byte, _ image.Config, _ LoadSettings) (*Colour, string, error) {
		img, err := decode(bytes.NewReader(data))
		if err != nil {
			return nil, "", err
		}
		c, err := upright(onWhite(img), orientation(block(data)))
		return c, "", err
	}
}

// onWhite lays img on white and returns it as blue, green, red.
func onWhite(img image.Image) *Colour {
	b := img.Bounds()
	flat := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	if o, ok := img.(interface{ Opaque() bool }); !ok || !o.Opaque() {
		draw.Draw(flat, flat.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	}
	draw.Draw(flat, flat.Bounds(), img, b.Min, draw.Over)
	out := NewColour(b.Dx(), b.Dy())
	parallel.Bands(out.H, func(y0, y1 int) {
		for i := y0 * out.W; i < y1*out.W; i++ {
			out.Pix[3*i], out.Pix[3*i+1], out.Pix[3*i+2] = flat.Pix[4*i+2], flat.Pix[4*i+1], flat.Pix[4*i]
		}
	})
	return out
}

// orientationTag is EXIF's tag of the picture's orientation (CIPA DC-008, from memory).
const orientationTag = 0x0112

// orientation reads tag 0x0112 of an EXIF block, 1 (upright) if it has none.
func orientation(block []byte) int {
	if len(block) == 0 {
		return 1
	}
	tags, _, err := exif.GetFlatExifData(block, nil)
	if err != nil {
		return 1
	}
	for _, tag := range tags {
		if v, ok := tag.Value.([]uint16); ok && tag.TagId == orientationTag && tag.IfdPath == "IFD" && len(v) == 1 {
			if v[0] >= 1 && v[0] <= 8 {
				return int(v[0])
			}
		}
	}
	return 1
}

// upright undoes EXIF orientation o: 2 to 8 name the mirrorings and turns of
// CIPA DC-008 (from memory).
func upright(img *Colour, o int) (*Colour, error) {
	if o == 1 {
		return img, nil
	}
	m := img.mat()
	defer m.Close()
	dst := gocv.NewMat()
	defer dst.Close()
	switch o {
	case 2:
		gocv.Flip(m, &dst, 1)
	case 3:
		gocv.Rotate(m, &dst, gocv.Rotate180Clockwise)
	case 4:
		gocv.Flip(m, &dst, 0)
	case 5:
		gocv.Transpose(m, &dst)
	case 6:
		gocv.Rotate(m, &dst, gocv.Rotate90Clockwise)
	case 7:
		gocv.Transpose(m, &dst)
		gocv.Rotate(dst, &dst, gocv.Rotate180Clockwise)
	case 8:
		gocv.Rotate(m, &dst, gocv.Rotate90CounterClockwise)
	}
	return colourOf(&dst)
}

// heicConfig reads the size of a HEIC from its ispe properties (ISO/IEC
// 23008-12, 6.5.3): box type, version and flags, width, height. A phone stores
// a photo as tiles, each with such a property; the largest is the photo's.
//
// The decoder's own function looks at the first bytes of the file only and
// fails on photos of full size.
func heicConfig(r io.Reader) (image.Config, error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return image.Config{}, err
	}
	meta := bytes.Index(data, []byte("meta"))
	if meta < 4 {
		return image.Config{}, errors.New("it has no description of its image")
	}
	end := min(meta-4+int(binary.BigEndian.Uint32(data[meta-4:])), len(data))
	var cfg image.Config
	for box := data[meta:max(end, meta)]; ; {
		i := bytes.Index(box, []byte("ispe"))
		if i < 0 || i+16 > len(box) {
			break
		}
		w, h := int(binary.BigEndian.Uint32(box[i+8:])), int(binary.BigEndian.Uint32(box[i+12:]))
		if w*h > cfg.Width*cfg.Height {
			cfg.Width, cfg.Height = w, h
		}
		box = box[i+16:]
	}
	if cfg.Width == 0 {
		return cfg, errors.New("it does not say how large its image is")
	}
	return cfg, nil
}

// pngEXIF finds the eXIf chunk of a PNG (W3C PNG, third edition, 11.3.3.5).
func pngEXIF(data []byte) []byte { return pngChunk(data, "eXIf") }

// pngChunk finds what the first chunk of that type holds, nil if there is none.
func pngChunk(data []byte, kind string) []byte {
	for i := 8; i+8 <= len(data); {
		n := int(binary.BigEndian.Uint32(data[i:]))
		end := i + 8 + n
		if n < 0 || end > len(data) {
			return nil
		}
		if string(data[i+4:i+8]) == kind {
			return data[i+8 : end]
		}
		i = end + 4
	}
	return nil
}

// jpegEXIF finds the EXIF block of a JPEG (CIPA DC-008).
func jpegEXIF(data []byte) []byte {
	return bytes.TrimPrefix(jpegSegment(data, 0xe1, "Exif\x00\x00"), []byte("Exif\x00\x00"))
}

// jpegSegment finds what the first segment of that marker before the first scan holds that begins so,
// nil if there is none.
func jpegSegment(data []byte, marker byte, begin string) []byte {
	for i := 2; i+4 <= len(data) && data[i] == 0xff && data[i+1] != 0xda; {
		end := i + 2 + int(binary.BigEndian.Uint16(data[i+2:]))
		if end > len(data) {
			return nil
		}
		if data[i+1] == marker && i+4 <= end && bytes.HasPrefix(data[i+4:end], []byte(begin)) {
			return data[i+4 : end]
		}
		i = end
	}
	return nil
}

// webpEXIF finds the EXIF chunk of a WebP (RFC 9649, 2.7.1.5).
func webpEXIF(data []byte) []byte {
	for i := 12; i+8 <= len(data); {
		n := int(binary.LittleEndian.Uint32(data[i+4:]))
		end := i + 8 + n
		if n < 0 || end > len(data) {
			return nil
		}
		if string(data[i:i+4]) == "EXIF" {
			return bytes.TrimPrefix(data[i+8:end], []byte("Exif\x00\x00"))
		}
		i = end + n&1
	}
	return nil
}
