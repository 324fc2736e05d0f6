// Package joined puts photographs of one large drawing, over several sheets with printed marks,
// together to one picture at a known scale.
package joined

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/marks"
	"inkchannel/vision"
)

// How fine the picture is at most, and how large.
const (
	mostPx         = 12.0 // px per mm
	mostMegapixels = 24.0 // as a photo is worked on
)

// A Photo is a photograph's file.
type Photo struct {
	Name string
	Data []byte
}

// A Whole is the picture, and how well the photographs fit together.
type Whole struct {
	PNG     []byte     // states its resolution
	Size    geom.Point // mm
	PxPerMm float64
	Seen    [][]marks.Seen // of each photograph
	Plan    marks.Plan
}

// Join puts photographs of sheets of a page's size, on their side, together. each is called with the
// number of each photograph before it is looked at.
//
// It returns an error that names the photograph that cannot be read, shows no mark, or too few in
// common with others.
func Join(photos []Photo, page vision.Page, each func(i int)) (w Whole, err error) {
	short, long, ok := page.Size()
	if !ok {
		return w, fmt.Errorf("sheets need a fixed size: A4, A3 or letter, not %q", page)
	}
	size := geom.Pt(long, short)
	pics := make([]*vision.Colour, len(photos))
	for i, p := range photos {
		each(i)
		loaded, err := vision.Load(p.Data, vision.DefaultLoad())
		if err != nil {
			return w, fmt.Errorf("%s: %w", p.Name, err)
		}
		pics[i] = loaded.Colour
		seen, err := vision.FindMarks(loaded.Colour)
		if err != nil {
			return w, fmt.Errorf("%s: %w", p.Name, err)
		}
		if len(seen) == 0 {
			return w, fmt.Errorf(
				"%s: no mark found; print the sheets by inkchannel paper --sheets, and photograph from closer, with the marks "+
					"of one sheet and of its neighbours in view", p.Name,
			)
		}
		w.Seen = append(w.Seen, seen)
	}
	w.Plan, err = marks.Adjust(w.Seen, size)
	var lone marks.Unplaced
	if errors.As(err, &lone) {
		return w, fmt.Errorf(
			"%s: only %s found; each photo must show all four marks of a sheet, and at least two of the next one; what touches a mark "+
				"hides it", photos[lone.Photo].Name,
			Told(w.Seen[lone.Photo]),
		)
	}
	if err != nil {
		return w, err
	}
	box := w.Plan.Bounds(size).Size()
	w.PxPerMm = min(vision.PxNear(pics, w.Plan), mostPx, math.Sqrt(mostMegapixels*1e6/(box.X*box.Y)))
	c, err := vision.Joined(pics, w.Plan, size, w.PxPerMm)
	if err != nil {
		return w, err
	}
	w.Size = box
	w.PNG, err = encode(c, w.PxPerMm)
	return w, err
}

// Told says which marks were seen: how many, of which sheets.
func Told(seen []marks.Seen) string {
	n := map[int]int{}
	for _, s := range seen {
		n[s.Sheet]++
	}
	text, of := "", 0
	for sheet := 1; sheet <= marks.Most; sheet++ {
		if n[sheet] == 0 {
			continue
		}
		if of > 0 {
			text += ", "
		}
		of++
		text += fmt.Sprintf("%d of sheet %d", n[sheet], sheet)
	}
	if text == "" {
		return "no mark"
	}
	return "marks " + text
}

// encode is a picture as PNG with its resolution in a pHYs chunk (W3C PNG, third edition, 11.3.4.3).
func encode(c *vision.Colour, pxPerMm float64) ([]byte, error) {
	img := image.NewRGBA(image.Rect(0, 0, c.W, c.H))
	for i := range c.W * c.H {
		img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2], img.Pix[4*i+3] = c.Pix[3*i+2], c.Pix[3*i+1], c.Pix[3*i], 255
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, img); err != nil {
		return nil, err
	}
	perMetre := uint32(math.Round(1000 * pxPerMm))
	body := append([]byte("pHYs"), binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, perMetre), perMetre)...)
	body = append(body, 1) // per metre
	const before = 8 + 25  // the signature and IHDR
	out := bytes.NewBuffer(bytes.Clone(b.Bytes()[:before]))
	out.Write(binary.BigEndian.AppendUint32(nil, uint32(len(body)-4)))
	out.Write(body)
	out.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(body)))
	out.Write(b.Bytes()[before:])
	return out.Bytes(), nil
}
