package vision

import (
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/marks"
)

// How a mark is told in a photograph. Shares are of what it would be seen square from above: a
// tilt of 35 degrees changes them by less.
const (
	markSlack  = 0.35 // that lengths may be off,
	markArea   = 2.2  // times that areas may,
	markAside  = 0.9  // mm that dots and bars may lie beside their row
	markRound  = 1.5  // times as long as wide: longer is a bar,
	markBar    = 1.8  // at least so much
	markEnd    = 6    // mm beyond its last part that must be in the photograph
	markSquare = 35   // degrees that dots and bars may be off a right angle
	markDisc   = 0.68 // of its box that a disc fills
	photoWide  = 400  // mm that a photograph of one sheet and some of its neighbours shows, about
	leastMark  = 12   // px of a disc's diameter, of fewer of which no dots could be told
)

// A blob is a small piece of ink by its shape.
type blob struct {
	at   geom.Point // its middle, px
	area float64    // px²
	long float64    // times as long as wide
	full float64    // share of its box that is ink
}

// FindMarks finds the marks that a photograph shows of sheets of one large drawing, by sheet and
// corner. A mirrored photograph shows none.
//
// It returns an error where FindInk does.
func FindMarks(photo *Colour) ([]marks.Seen, error) {
	s := DefaultInk()
	s.Margin = 0
	ink, err := FindInk(photo, float64(max(photo.W, photo.H))/photoWide, s)
	if err != nil {
		return nil, err
	}
	blobs := blobsOf(piecesOf(ink.Mask, 1, true))
	found := map[marks.Mark]marks.Seen{}
	twice := map[marks.Mark]bool{}
	for _, b := range blobs {
		if m, ok := markAt(b, blobs, geom.Pt(float64(photo.W), float64(photo.H))); ok {
			_, had := found[m.Mark]
			twice[m.Mark] = twice[m.Mark] || had
			found[m.Mark] = m
		}
	}
	var out []marks.Seen
	for m, seen := range found {
		if !twice[m] { // one of the two is no mark, and nobody knows which
			out = append(out, seen)
		}
	}
	slices.SortFunc(out, func(a, b marks.Seen) int {
		return 10*(a.Sheet-b.Sheet) + int(a.Corner-b.Corner)
	})
	return out, nil
}

// blobsOf are the pieces by their shape.
func blobsOf(p *pieces) []blob {
	out := make([]blob, len(p.list))
	type moments struct{ xx, xy, yy float64 }
	about := make([]moments, len(p.list))
	for i, q := range p.list {
		n := float64(q.area)
		out[i] = blob{at: geom.Pt(q.sumX/n, q.sumY/n), area: n, full: n / float64((q.x1-q.x0)*(q.y1-q.y0))}
	}
	for _, r := range p.runs {
		m, mid := &about[r.piece], out[r.piece].at
		dy := float64(r.y) + 0.5 - mid.Y
		for x := r.x0; x < r.x1; x++ {
			dx := float64(x) + 0.5 - mid.X
			m.xx, m.xy, m.yy = m.xx+dx*dx, m.xy+dx*dy, m.yy+dy*dy
		}
	}
	for i, m := range about {
		mean, half := (m.xx+m.yy)/2, math.Hypot((m.xx-m.yy)/2, m.xy)
		out[i].long = math.Sqrt((mean + half) / max(mean-half, 1e-9))
	}
	return out
}

// markAt reads the mark whose disc a blob is, in a photograph of that size, px.
func markAt(disc blob, all []blob, photo geom.Point) (m marks.Seen, ok bool) {
	size := 2 * math.Sqrt(disc.area/math.Pi)
	if size < leastMark || disc.long > markRound || disc.full < markDisc || disc.full > 0.9 {
		return m, false
	}
	px := size / marks.Disc // px to a mm
	dotArea, barArea := math.Pi/4*marks.Dot*marks.Dot*px*px, marks.BarLong*marks.BarWide*px*px
	var dots, bars []blob
	for _, b := range all {
		if d := b.at.Dist(disc.at); d == 0 || d > (marks.DotFirst+marks.Most*marks.DotNext)*px {
			continue
		}
		if b.long < markRound && like(b.area, dotArea) {
			dots = append(dots, b)
		}
		if b.long > markBar && like(b.area, barArea) {
			bars = append(bars, b)
		}
	}
	sheet, dotWay, dotEnd := row(disc, dots, marks.DotFirst*px, marks.DotNext*px, markAside*px)
	corner, barWay, barEnd := row(disc, bars, marks.BarFirst*px, marks.BarNext*px, markAside*px)
	for _, p := range []geom.Point{dotEnd.Add(dotWay.Mul(markEnd * px)), barEnd.Add(barWay.Mul(markEnd * px))} {
		if min(p.X, p.Y, photo.X-p.X, photo.Y-p.Y) < 0 { // it may go on beyond the photograph
			return m, false
		}
	}
	if sheet < 1 || sheet > marks.Most || corner < 1 || corner > 4 {
		return m, false
	}
	m = marks.Seen{Mark: marks.Mark{Sheet: sheet, Corner: marks.Corner(corner)}, At: disc.at, Dot: dotEnd, Bar: barEnd}
	square := math.Abs(dotWay.Angle(barWay)-90) < markSquare
	return m, square && m.Turns() == (dotWay.Cross(barWay) > 0)
}

// like tells whether an area is about as large as another.
func like(a, b float64) bool { return a < b*markArea && a > b/markArea }

// row counts the blobs that lie in a row from a disc on: the first at a distance, each next so much
// farther, px, none farther beside than aside; and tells its direction and its end.
func row(disc blob, all []blob, first, next, aside float64) (n int, way, end geom.Point) {
	for _, b := range all {
		d := b.at.Sub(disc.at)
		if math.Abs(d.Norm()/first-1) > markSlack {
			continue
		}
		count, last, dir := 1, b.at, d.Unit()
		for again := true; again; {
			again = false
			for _, q := range all {
				on := q.at.Sub(last)
				if along := on.Dot(dir); math.Abs(along/next-1) < markSlack && math.Abs(on.Cross(dir)) < aside {
					count, last, again = count+1, q.at, true
					break
				}
			}
		}
		if count > n {
			n, way, end = count, dir, last
		}
	}
	return n, way, end
}
