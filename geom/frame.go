package geom

import "math"

// A Frame is a sheet of paper and its scale. It takes places from one of the
// sheet's frames to another:
//
//   - px of the sheet: of its rectified picture, x to the right, y down;
//   - mm of the sheet: x to the right, y down, from its upper left corner;
//   - mm of the sign: x to the right, y up, from the sheet's lower left corner, as
//     the finished sign is seen from the front;
//   - mm of the plan: the sign's with y down from the sheet's upper left corner, as
//     the sign is drawn on paper.
type Frame struct {
	Size    Point   // the sheet's width and height, mm
	PxPerMm float64 // 0 where there is no picture
	// Turn is by how many degrees the sign is turned from the sheet, anticlockwise, about the
	// sheet's middle.
	Turn float64
}

// Mm takes px of the sheet to mm of the sheet.
func (f Frame) Mm(px Point) Point { return px.Mul(1 / f.PxPerMm) }

// Px takes mm of the sheet to px of the sheet.
func (f Frame) Px(mm Point) Point { return mm.Mul(f.PxPerMm) }

// Plan takes mm of the sheet to mm of the plan.
func (f Frame) Plan(sheet Point) Point { return f.turned(sheet, f.Turn) }

// Sign takes mm of the sheet to mm of the sign.
func (f Frame) Sign(sheet Point) Point { return f.Upend(f.turned(sheet, f.Turn)) }

// Sheet takes mm of the sign to mm of the sheet.
func (f Frame) Sheet(sign Point) Point { return f.turned(f.Upend(sign), -f.Turn) }

// SignLine takes a centreline from mm of the sheet to mm of the sign.
func (f Frame) SignLine(c Centreline) Centreline { return c.Mapped(f.Sign) }

// PlanLine takes a centreline from mm of the sheet to mm of the plan.
func (f Frame) PlanLine(c Centreline) Centreline {
	if f.Turn == 0 {
		return c
	}
	return c.Mapped(f.Plan)
}

// SheetLine takes places from mm of the sign to mm of the sheet.
func (f Frame) SheetLine(sign []Point) Polyline { return each(sign, f.Sheet) }

// SignPath takes places from mm of the sheet to mm of the sign.
func (f Frame) SignPath(sheet []Point) Polyline { return each(sheet, f.Sign) }

// PlanPath takes places from mm of the sign to mm of the plan.
func (f Frame) PlanPath(sign []Point) Polyline { return each(sign, f.Upend) }

func each(pts []Point, to func(Point) Point) Polyline {
	out := make(Polyline, len(pts))
	for i, p := range pts {
		out[i] = to(p)
	}
	return out
}

// Upend takes mm of the sign to mm of the plan, and back.
func (f Frame) Upend(p Point) Point { return Upended(p, f.Size.Y) }

// turned is a place whose y points down, turned anticlockwise about the sheet's middle.
func (f Frame) turned(p Point, degrees float64) Point {
	if degrees == 0 {
		return p
	}
	sin, cos := math.Sincos(Radians(degrees))
	about := f.Size.Mul(0.5)
	d := p.Sub(about)
	return about.Add(Pt(cos*d.X+sin*d.Y, cos*d.Y-sin*d.X))
}

// Upended takes a place from a frame whose y points down to the one of the same
// height (mm) whose y points up, or back: it undoes itself.
func Upended(p Point, height float64) Point { return Point{X: p.X, Y: height - p.Y} }
