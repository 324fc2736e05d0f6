// Package joined puts photographs of one large drawing, over several sheets with printed marks,
// together to one picture at a known scale.
package joined

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"slices"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/marks"
	"inkchannel/pipeline/picture"
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
	Notes   []string // what the user should know
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
	if w.Plan, err = marks.Adjust(w.Seen, size); err != nil {
		return w, w.unplaced(photos, err)
	}
	if err := w.check(photos, size, page); err != nil {
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

// What the marks of sheets that lie as printed keep to.
const (
	mostOff   = 4.0  // mm that one may lie off
	mostLarge = 0.03 // by which they may be larger or smaller than printed
	mostGap   = 3.0  // mm that sheets may lie apart, or overlap, without a word
)

// unplaced says which marks each photograph shows, if they do not hang together.
func (w Whole) unplaced(photos []Photo, err error) error {
	var lone marks.Unplaced
	if !errors.As(err, &lone) {
		return err
	}
	var all []string
	for i, p := range photos {
		all = append(all, p.Name+" shows "+Told(w.Seen[i]))
	}
	return fmt.Errorf(
		"%s cannot be put to the others: %s; each photo must show all four marks of a sheet, and at least two of the next one; "+
			"what touches a mark hides it", photos[lone.Photo].Name, strings.Join(all, ", "),
	)
}

// check refuses photographs whose marks do not fit together, and tells what looks odd.
func (w *Whole) check(photos []Photo, size geom.Point, page vision.Page) error {
	p := w.Plan
	if p.Worst > mostOff {
		return fmt.Errorf(
			"the marks do not fit together: %s in %s lies %.0f mm from where the others put it; something may be drawn over a "+
				"mark, or a sheet was moved between two photos", MarkName(p.At.Mark), photos[p.Of].Name, p.Worst,
		)
	}
	if math.Abs(p.Wide-1) > mostLarge || math.Abs(p.High-1) > mostLarge {
		return fmt.Errorf(
			"the marks look %.0f %% as wide and %.0f %% as high as they were printed, so these are no %s sheets; give their size "+
				"with --page", 100*p.Wide, 100*p.High, page,
		)
	}
	order, all := p.Order(), slices.Concat(w.Seen...)
	for _, sheet := range order {
		missing := 0
		for _, m := range marks.Of(sheet) {
			if !slices.ContainsFunc(all, func(s marks.Seen) bool { return s.Mark == m }) {
				missing++
			}
		}
		if n := len(marks.Of(sheet)); missing > 0 {
			return fmt.Errorf(
				"sheet %d is seen in part only, %d of its %d marks; add a photo that shows all of it, with two marks of a sheet beside it",
				sheet, n-missing, n,
			)
		}
	}
	for k, a := range order {
		for _, b := range order[k+1:] {
			gap, next := p.Apart(a, b, size)
			switch {
			case !next:
			case gap > mostGap:
				w.Notes = append(w.Notes, fmt.Sprintf(
					"sheets %d and %d lie %.0f mm apart, and what is drawn between them is lost; were they printed at 100 %%?", a, b, gap,
				))
			case gap < -mostGap:
				w.Notes = append(w.Notes, fmt.Sprintf("sheets %d and %d overlap by %.0f mm", a, b, -gap))
			}
		}
	}
	return nil
}

// Told says which marks were seen, by sheet.
func Told(seen []marks.Seen) string {
	of := map[int][]string{}
	for _, s := range seen {
		of[s.Sheet] = append(of[s.Sheet], cornerName(s.Corner))
	}
	var all []string
	for sheet := 1; sheet <= marks.Most; sheet++ {
		switch n := len(of[sheet]); {
		case n == 4:
			all = append(all, fmt.Sprintf("sheet %d (all four marks)", sheet))
		case n > 0:
			all = append(all, fmt.Sprintf("sheet %d (%s)", sheet, strings.Join(of[sheet], ", ")))
		}
	}
	return strings.Join(all, " and ")
}

// MarkName names a mark.
func MarkName(m marks.Mark) string {
	return fmt.Sprintf("sheet %d's %s mark", m.Sheet, cornerName(m.Corner))
}

func cornerName(c marks.Corner) string {
	return map[marks.Corner]string{
		marks.UpperLeft: "upper left", marks.UpperRight: "upper right", marks.LowerRight: "lower right", marks.LowerLeft: "lower left",
	}[c]
}

// encode is a picture as PNG with its resolution in a pHYs chunk (W3C PNG, third edition, 11.3.4.3).
func encode(c *vision.Colour, pxPerMm float64) ([]byte, error) {
	img, err := picture.Plain(c, max(c.W, c.H))
	if err != nil {
		return nil, err
	}
	plain, err := picture.Encode(img, ".png")
	if err != nil {
		return nil, err
	}
	perMetre := uint32(math.Round(1000 * pxPerMm))
	body := append([]byte("pHYs"), binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, perMetre), perMetre)...)
	body = append(body, 1) // per metre
	const before = 8 + 25  // the signature and IHDR
	out := bytes.NewBuffer(bytes.Clone(plain[:before]))
	out.Write(binary.BigEndian.AppendUint32(nil, uint32(len(body)-4)))
	out.Write(body)
	out.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(body)))
	out.Write(plain[before:])
	return out.Bytes(), nil
}
