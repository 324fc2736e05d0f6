package geom

// A Frame is a sheet of paper and its scale. It takes places from one of the
// sheet's frames to another:
//
//   - px of the sheet: of its rectified picture, x to the right, y down;
//   - mm of the sheet: x to the right, y down, from its upper left corner;
//   - mm of the sign: x to the right, y up, from the sheet's lower left corner, as
//     the finished sign is seen from the front.
type Frame struct {
	Size    Point   // the sheet's width and height, mm
	PxPerMm float64 // 0 where there is no picture
}

// Mm takes px of the sheet to mm of the sheet.
func (f Frame) Mm(px Point) Point { return px.Mul(1 / f.PxPerMm) }

// Px takes mm of the sheet to px of the sheet.
func (f Frame) Px(mm Point) Point { return mm.Mul(f.PxPerMm) }

// Sign takes mm of the sheet to mm of the sign.
func (f Frame) Sign(sheet Point) Point { return Upended(sheet, f.Size.Y) }

// Sheet takes mm of the sign to mm of the sheet.
func (f Frame) Sheet(sign Point) Point { return Upended(sign, f.Size.Y) }

// SignLine takes a centreline from mm of the sheet to mm of the sign.
func (f Frame) SignLine(c Centreline) Centreline { return c.Upended(f.Size.Y) }

// SheetLine takes places from mm of the sign to mm of the sheet.
func (f Frame) SheetLine(sign []Point) Polyline { return f.turned(sign) }

// SignPath takes places from mm of the sheet to mm of the sign.
func (f Frame) SignPath(sheet []Point) Polyline { return f.turned(sheet) }

func (f Frame) turned(pts []Point) Polyline {
	out := make(Polyline, len(pts))
	for i, p := range pts {
		out[i] = Upended(p, f.Size.Y)
	}
	return out
}

// Upended takes a place from a frame whose y points down to the one of the same
// height (mm) whose y points up, or back: it undoes itself.
func Upended(p Point, height float64) Point { return Point{X: p.X, Y: height - p.Y} }
