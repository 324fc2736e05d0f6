package pipeline

import (
	"fmt"
	"strings"

	"inkchannel/geom"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// drawnSide is the longer side, px, of the blank sheet that lines from a file are shown on.
const drawnSide = 1800

// joinWithin is how near, mm, lines from a file come to each other to be joined.
const joinWithin = 0.2

// GivenLines is what a run on lines from a file starts with, after StageCentreline: the lines on a
// blank sheet, at the size that the settings ask for, each stroke colour as a pen; src is that file.
// It returns an error for lines that no sign can be made of.
func GivenLines(src Source, d lines.Drawing, set stage.Settings) (stage.Results, error) {
	asked := stage.SettingsOf[DotsSettings](set)
	extent := d.Extent(geom.Frame{Size: d.Size, Turn: asked.Turn})
	k, err := wantedSize(asked, extent)
	if err == nil {
		err = lines.Check(extent.Mul(k))
	}
	if err != nil {
		return stage.Results{}, err
	}
	line := times(geom.Join(d.Curves, joinWithin/k), k)
	if len(line.Curves) == 0 {
		return stage.Results{}, fmt.Errorf("all its lines are shorter than %g mm", joinWithin)
	}
	size := d.Size.Mul(k)
	px := drawnSide / max(size.X, size.Y)
	sheet := vision.NewColour(int(size.X*px+0.5), int(size.Y*px+0.5))
	for i := range sheet.Pix {
		sheet.Pix[i] = 255
	}
	pens := ColoursFound{}
	for _, c := range d.Inks {
		pens.All = append(pens.All, vision.PenOf(c.R, c.G, c.B))
	}
	dots := DotsFound{Frame: geom.Frame{Size: size, PxPerMm: px, Turn: asked.Turn}}
	dots.PxPerMm, dots.Page = px, vision.PageFree
	dots.Times = k
	dots.Asked = geom.Pt(asked.Width, asked.Height)
	return Given(src).With(SheetFound{Sheet: vision.Sheet{Image: sheet, PxPerMm: px}, Ground: picture.NewGround(sheet)}).
		With(dots).With(pens).With(CentrelineFound{line}).With(d), nil
}

// NewSession starts a run on a photo, or after StageCentreline on the lines that were read from a file in its place,
// if d is not nil; those stay in the results. It returns an error for lines that no sign can be made of.
func NewSession(t stage.Table, src Source, d *lines.Drawing, set stage.Settings) (*stage.Session, error) {
	if d == nil {
		return t.NewSession(Given(src), set), nil
	}
	given, err := GivenLines(src, *d, set)
	if err != nil {
		return nil, err
	}
	return t.NewSessionAfter(given, set, StageCentreline)
}

// LinesNotes tells what of a drawing was not used, and what was guessed.
func LinesNotes(d lines.Drawing) (out []string) {
	if len(d.Unused) > 0 {
		out = append(out, fmt.Sprintf(
			"not used: %s; only paths, lines, polylines, polygons, circles, ellipses, rectangles and copies of them are", strings.Join(d.Unused, ", "),
		))
	}
	if d.Twice > 0 {
		out = append(out, fmt.Sprintf("%.3g mm of its lines lie on other lines and were taken once", d.Twice))
	}
	if d.Guessed {
		out = append(out, fmt.Sprintf(
			"the file gives no size in mm: 96 of its units were taken for an inch, so that its sheet is %.1f by %.1f mm",
			d.Size.X, d.Size.Y,
		))
	}
	return out
}
