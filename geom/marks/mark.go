package marks

import "inkchannel/geom"

// What a mark is made of: a disc, so many dots as the sheet's number inwards along x, and so
// many bars as the corner's inwards along y.
const (
	Disc     = 5.0 // diameter
	Dot      = 2.2 // diameter
	DotFirst = 5.5 // from the disc's middle to the first dot's,
	DotNext  = 3.6 // and from one to the next
	BarLong  = 3.6 // along x
	BarWide  = 1.2
	BarFirst = 5.0
	BarNext  = 3.2
	Inset    = 14.0 // of the disc's middle from both edges of the sheet
	Most     = 9    // sheets
)

// A Corner of a sheet, clockwise from the upper left one.
type Corner int

// The corners.
const (
	UpperLeft Corner = 1 + iota
	UpperRight
	LowerRight
	LowerLeft
)

// A Mark is one corner's of one sheet; sheets are numbered from 1.
type Mark struct {
	Sheet  int
	Corner Corner
}

// Of are the four marks of a sheet.
func Of(sheet int) [4]Mark {
	return [4]Mark{{sheet, UpperLeft}, {sheet, UpperRight}, {sheet, LowerRight}, {sheet, LowerLeft}}
}

// inwards are the directions of the dots and of the bars.
func (m Mark) inwards() (dots, bars geom.Point) {
	dots, bars = geom.Pt(1, 0), geom.Pt(0, 1)
	if m.Corner == UpperRight || m.Corner == LowerRight {
		dots.X = -1
	}
	if m.Corner == LowerRight || m.Corner == LowerLeft {
		bars.Y = -1
	}
	return dots, bars
}

// Turns tells whether the way from dots to bars turns clockwise.
func (m Mark) Turns() bool {
	dots, bars := m.inwards()
	return dots.Cross(bars) > 0
}

// At is the middle of the mark's disc on a sheet of that size.
func (m Mark) At(size geom.Point) geom.Point {
	dots, bars := m.inwards()
	p := geom.Pt(Inset, Inset)
	if dots.X < 0 {
		p.X = size.X - Inset
	}
	if bars.Y < 0 {
		p.Y = size.Y - Inset
	}
	return p
}

// A Shape is a part of a mark: a disc, or a bar along x.
type Shape struct {
	Middle geom.Point
	Size   geom.Point // of a disc, its diameter both ways
	Round  bool
}

// Shapes are the mark's parts on a sheet of that size, the disc first.
func (m Mark) Shapes(size geom.Point) []Shape {
	at := m.At(size)
	dots, bars := m.inwards()
	out := []Shape{{at, geom.Pt(Disc, Disc), true}}
	for i := range m.Sheet {
		out = append(out, Shape{at.Add(dots.Mul(DotFirst + float64(i)*DotNext)), geom.Pt(Dot, Dot), true})
	}
	for i := range int(m.Corner) {
		out = append(out, Shape{at.Add(bars.Mul(BarFirst + float64(i)*BarNext)), geom.Pt(BarLong, BarWide), false})
	}
	return out
}
