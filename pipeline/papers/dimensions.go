package papers

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/go-pdf/fpdf"

	"inkchannel/geom"
	"inkchannel/geom/parts"
	"inkchannel/geom/solid"
	"inkchannel/pipeline"
)

// A DimensionsIn is what the dimensioned drawing shows.
type DimensionsIn struct {
	Dots    pipeline.DotsFound
	Channel pipeline.ChannelFound
	Parts   pipeline.PartsFound
}

// Room on the page, mm: its edge, between views and what lies around them for dimensions, and the
// foot with the title.
const (
	dimEdge  = 12.0
	dimRoom  = 30.0
	dimFoot  = 22.0
	dimStep  = 9.0 // from a view to its first dimension, and to the next
	arrowOut = 3.0 // an arrow's length; its width is a third (ISO 129-1)
)

// scales are those of ISO 5455 that make smaller, and full size.
func scales() []float64 { return []float64{1, 2, 5, 10, 20, 50, 100} }

// A box is a part as it stands in the sign: x right, y up, z to the front, mm.
type box struct{ lo, hi solid.Vertex }

func (b box) joined(c box) box {
	return box{
		solid.Vertex{X: min(b.lo.X, c.lo.X), Y: min(b.lo.Y, c.lo.Y), Z: min(b.lo.Z, c.lo.Z)},
		solid.Vertex{X: max(b.hi.X, c.hi.X), Y: max(b.hi.Y, c.hi.Y), Z: max(b.hi.Z, c.hi.Z)},
	}
}

func (b box) wide() float64 { return b.hi.X - b.lo.X }

// nested are those of boxes that are as wide as no other, the narrowest first, as dimensions lie one outside the
// other.
func nested(all ...box) []box {
	slices.SortStableFunc(all, func(a, b box) int { return cmp.Compare(a.wide(), b.wide()) })
	all = slices.DeleteFunc(all, func(b box) bool { return b.wide() <= 0 })
	return slices.CompactFunc(all, func(a, b box) bool { return math.Abs(a.wide()-b.wide()) < 0.05 })
}

// standOf is the box of the stand that a sign is put into; of no width if it has none.
func standOf(f pipeline.PartsFound, each map[int]box) box {
	for i, p := range f.Parts {
		if p.Name == parts.NameStand {
			return each[i]
		}
	}
	return box{}
}

// boxes are the boxes of the sign's parts, by their index; extra ones have none.
func boxes(f pipeline.PartsFound) (each map[int]box, whole, channels box) {
	each = map[int]box{}
	inf := math.Inf(1)
	none := box{solid.Vertex{X: inf, Y: inf, Z: inf}, solid.Vertex{X: -inf, Y: -inf, Z: -inf}}
	whole, channels = none, none
	for i, p := range f.Parts {
		if p.Extra {
			continue
		}
		var b box
		b.lo, b.hi = f.Meshes[i].Mapped(p.Pose.Apply).Bounds()
		each[i], whole = b, whole.joined(b)
		if p.Channel {
			channels = channels.joined(b)
		}
	}
	return each, whole, channels
}

// Dimensions writes a PDF of one page, A4 or Letter on its side, with the sign from the front and from
// its right side, at a scale of ISO 5455 and with its main dimensions as ISO 129-1 draws them. It
// returns an error where the PDF's writer does.
func Dimensions(in DimensionsIn) ([]byte, error) {
	high, wide := printedOn(in.Dots.Page)
	each, whole, channels := boxes(in.Parts)
	size := solid.Vertex{X: whole.hi.X - whole.lo.X, Y: whole.hi.Y - whole.lo.Y, Z: whole.hi.Z - whole.lo.Z}
	scale := 0.0
	for _, s := range scales() {
		if (size.X+size.Z)/s+3*dimRoom <= wide-2*dimEdge && size.Y/s+2*dimRoom <= high-dimEdge-dimFoot {
			scale = s
			break
		}
	}
	if scale == 0 {
		return nil, fmt.Errorf("a sign of %.0f by %.0f mm has no room on the page", size.X, size.Y)
	}
	d := dimensioned{newPDF("Dimensions", wide, high), scale}
	d.AddPage()
	d.SetFont("Helvetica", "", 8)
	left, top := dimEdge+dimRoom, dimEdge+dimRoom*0.6
	front := func(x, y float64) geom.Point {
		return geom.Pt(left+(x-whole.lo.X)/scale, top+(whole.hi.Y-y)/scale)
	}
	beside := left + size.X/scale + dimRoom
	side := func(z, y float64) geom.Point {
		return geom.Pt(beside+(whole.hi.Z-z)/scale, top+(whole.hi.Y-y)/scale)
	}
	for i := range in.Parts.Parts {
		b, ok := each[i]
		if !ok {
			continue
		}
		switch p := in.Parts.Parts[i]; {
		case p.Channel, p.Flat:
			wide := 0.35
			if p.Flat { // behind the channels
				wide = 0.13
			}
			for _, ring := range p.Shadow.Region().Rings() {
				var pts []geom.Point
				for _, q := range ring {
					v := p.Pose.Apply(solid.Vertex{X: q.X, Y: q.Y})
					pts = append(pts, front(v.X, v.Y))
				}
				d.outline(pts, wide)
			}
		default:
			d.rectangle(front(b.lo.X, b.lo.Y), front(b.hi.X, b.hi.Y))
		}
		d.rectangle(side(b.lo.Z, b.lo.Y), side(b.hi.Z, b.hi.Y))
	}
	for i, s := range in.Parts.Screws {
		at := front(s.X, s.Y)
		d.Circle(at.X, at.Y, in.Parts.Screw/2/scale, "D")
		d.Text(at.X+1.5, at.Y-1.5, fmt.Sprintf("screw %d, %g mm", i+1, in.Parts.Screw))
	}
	var columns, rows []float64
	for _, s := range in.Parts.Screws {
		columns, rows = append(columns, s.X), append(rows, s.Y)
	}
	slices.Sort(columns)
	slices.Sort(rows)
	columns, rows = slices.CompactFunc(columns, sameTenth), slices.CompactFunc(rows, sameTenth)
	for i := 1; i < len(columns); i++ {
		d.across(front(columns[i-1], whole.hi.Y), front(columns[i], whole.hi.Y), -dimStep, columns[i]-columns[i-1])
	}
	for i, y := range rows {
		d.upright(front(whole.hi.X, whole.lo.Y), front(whole.hi.X, y), dimStep*(1+float64(i)/2), y-whole.lo.Y)
	}
	for i, b := range nested(standOf(in.Parts, each), channels, whole) {
		d.across(front(b.lo.X, whole.lo.Y), front(b.hi.X, whole.lo.Y), float64(i+1)*dimStep, b.wide())
	}
	d.upright(front(whole.lo.X, channels.lo.Y), front(whole.lo.X, channels.hi.Y), -dimStep, channels.hi.Y-channels.lo.Y)
	if size.Y > channels.hi.Y-channels.lo.Y+0.05 {
		d.upright(front(whole.lo.X, whole.lo.Y), front(whole.lo.X, whole.hi.Y), -2*dimStep, size.Y)
	}
	behind := channels // and the backboard with them
	for i, p := range in.Parts.Parts {
		if b, ok := each[i]; ok && p.Flat {
			behind = behind.joined(b)
		}
	}
	last, below := 0.0, 0.0
	for _, b := range []box{channels, behind, whole} {
		if deep := b.hi.Z - b.lo.Z; deep > last+0.05 {
			last, below = deep, below+dimStep
			d.across(side(b.hi.Z, whole.lo.Y), side(b.lo.Z, whole.lo.Y), below, deep)
		}
	}
	channel := in.Channel.Built
	d.Text(dimEdge, high-dimEdge-6, fmt.Sprintf(
		"front and right side, in mm; scale 1:%g; channels %.1f mm wide over all, slot %.1f mm, walls %.1f mm, %.1f mm deep from their front",
		scale, channel.Slot()+2*channel.Wall, channel.Slot(), channel.Wall, channel.Height()-channel.Rear-channel.Floor,
	))
	d.SetLineWidth(0.5)
	d.Rect(dimEdge/2, dimEdge/2, wide-dimEdge, high-dimEdge, "D")
	return pdfBytes(d.Fpdf)
}

// A dimensioned is a drawing's page.
type dimensioned struct {
	*fpdf.Fpdf
	scale float64
}

// outline draws edges; visible ones are thick (ISO 128).
func (d dimensioned) outline(pts []geom.Point, wide float64) {
	d.SetLineWidth(wide)
	for i, p := range pts {
		if i == 0 {
			d.MoveTo(p.X, p.Y)
		} else {
			d.LineTo(p.X, p.Y)
		}
	}
	d.ClosePath()
	d.DrawPath("D")
}

func (d dimensioned) rectangle(a, b geom.Point) {
	d.outline([]geom.Point{a, geom.Pt(b.X, a.Y), b, geom.Pt(a.X, b.Y)}, 0.35)
}

// sameTenth tells whether two lengths are the same in whole tenths of a mm, by which screws are told apart.
func sameTenth(a, b float64) bool { return math.Round(10*a) == math.Round(10*b) }

// across dimensions a distance along the page, so far below its places, which lie level; above them if that
// is negative.
func (d dimensioned) across(a, b geom.Point, below, mm float64) {
	y, out := a.Y+below, math.Copysign(1, below)
	d.SetLineWidth(0.18)
	for _, p := range []geom.Point{a, b} {
		d.Line(p.X, p.Y+out, p.X, y+1.5*out)
	}
	d.arrows(geom.Pt(a.X, y), geom.Pt(b.X, y))
	text := fmt.Sprintf("%.1f", mm)
	at := (a.X + b.X - d.GetStringWidth(text)) / 2
	if math.Abs(b.X-a.X) < d.GetStringWidth(text)+1 { // beside the arrows, clear of what else runs here
		at = max(a.X, b.X) + 2*arrowOut + 1
	}
	d.Text(at, y-1, text)
}

// upright dimensions a distance up the page, so far to the right of its places, which lie upright; to the left
// of them if that is negative.
func (d dimensioned) upright(a, b geom.Point, beside, mm float64) {
	x, out := a.X+beside, math.Copysign(1, beside)
	d.SetLineWidth(0.18)
	for _, p := range []geom.Point{a, b} {
		d.Line(p.X+out, p.Y, x+1.5*out, p.Y)
	}
	d.arrows(geom.Pt(x, a.Y), geom.Pt(x, b.Y))
	text := fmt.Sprintf("%.1f", mm)
	mid := (a.Y + b.Y) / 2
	d.TransformBegin()
	d.TransformRotate(90, x-1, mid)
	d.Text(x-1-d.GetStringWidth(text)/2, mid, text)
	d.TransformEnd()
}

// arrows draws a dimension's line; its arrows point from outside where there is no room within.
func (d dimensioned) arrows(a, b geom.Point) {
	u := b.Sub(a).Unit()
	if a.Dist(b) < 3*arrowOut {
		a, b, u = b, a, u.Mul(-1)
		d.Line(a.X-2*arrowOut*u.X, a.Y-2*arrowOut*u.Y, b.X+2*arrowOut*u.X, b.Y+2*arrowOut*u.Y)
	}
	d.Line(a.X, a.Y, b.X, b.Y)
	for _, end := range []struct{ at, dir geom.Point }{{a, u}, {b, u.Mul(-1)}} {
		back, side := end.at.Add(end.dir.Mul(arrowOut)), end.dir.Perp().Mul(arrowOut/6)
		d.Polygon([]fpdf.PointType{
			{X: end.at.X, Y: end.at.Y}, {X: back.X + side.X, Y: back.Y + side.Y}, {X: back.X - side.X, Y: back.Y - side.Y},
		}, "F")
	}
}
