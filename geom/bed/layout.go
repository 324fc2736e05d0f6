package bed

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// A Place is where a part lies on a bed: turned by Turn about its own origin,
// then moved by Move. The bed's corner is the origin.
type Place struct {
	Bed  int
	Turn float64
	Move geom.Point
	// Best is the angle at which the part takes the least of the bed, 0 if it
	// fits unturned.
	Best float64
}

// Askew tells whether the part takes the least of the bed, or fits it at all, only turned by no whole quarter.
func (p Place) Askew() bool { return math.Mod(p.Best, 90) > 1e-6 }

// Before is where a point of the bed, mm, lies in the part's own frame.
func (p Place) Before(at geom.Point) geom.Point {
	sin, cos := math.Sincos(geom.Radians(p.Turn))
	along, v := geom.Pt(cos, sin), at.Sub(p.Move)
	return geom.Pt(v.Dot(along), along.Cross(v))
}

// A Block is what is laid on a bed.
type Block struct {
	Name   string // for errors
	Solid  solid.Solid
	Shadow solid.Plan // what Solid covers seen from above
}

// A Layout is all parts on beds.
type Layout struct {
	Places []Place // by item
	Beds   int
	// Largest is which part is the largest, by the box about it.
	Largest int
	// Least is the number of beds that the parts' area alone needs.
	Least int
}

// Lay lays blocks out on as few beds as it finds: the largest first,
// each at the first free place of the first bed that has one, turned in steps
// of 45 degrees or as its best fit asks. Small parts so come to lie in the open
// middle of large ones. Places are tried on a raster of 1 mm, or 2 mm for more
// than 60 parts. The middle of the largest part lies at a place, mm from the bed's
// corner, or as near to it as the bed has room; nil is for where it fits best.
//
// It returns an error that names the first part too large for the bed.
func Lay(blocks []Block, s Settings, at *geom.Point) (l Layout, err error) {
	defer solid.Guard("laying the parts out", &err)
	if err := s.check(); err != nil {
		return Layout{}, err
	}
	p := packer{s: s, cell: 1}
	if len(blocks) > 60 {
		p.cell = 2
	}
	p.w, p.h = int(s.room().X/p.cell), int(s.room().Y/p.cell)
	p.pad = int(math.Ceil(s.Gap / 2 / p.cell))
	order := make([]int, len(blocks))
	size := make([]float64, len(blocks))
	area := 0.0
	for i, p := range blocks {
		order[i] = i
		e := extents(p.Solid.Hull(), 0)
		size[i] = e.X * e.Y
		largest := 0.0
		for _, l := range p.Solid {
			largest = max(largest, l.Plan.Size())
		}
		area += largest
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(size[b], size[a]) })
	if len(order) > 0 {
		l.Largest = order[0]
	}
	l.Places = make([]Place, len(blocks))
	for _, i := range order {
		if l.Places[i], err = p.place(blocks[i], at); err != nil {
			return Layout{}, err
		}
		at = nil
	}
	l.Beds = len(p.beds)
	l.Least = max(int(math.Ceil(area/(s.room().X*s.room().Y))), min(len(blocks), 1))
	return l, nil
}

// A packer holds the beds under way as bit rasters of w by h cells, with pad
// more all round, into which the gap around a part at the edge may reach.
type packer struct {
	s         Settings
	cell      float64
	w, h, pad int
	beds      []raster
}

// A raster is rows of bits, 64 to a word.
type raster struct {
	w, h  int
	words int
	rows  []uint64
}

func newRaster(w, h int) raster {
	n := (w + 63) / 64
	return raster{w: w, h: h, words: n, rows: make([]uint64, n*h)}
}

func (r raster) set(x, y int) { r.rows[y*r.words+x/64] |= 1 << (x % 64) }

// openBeds is how many beds are looked at for one part, the newest first, so
// that the work grows with the number of parts only.
const openBeds = 4

// place finds a part's place; at is where its middle is to lie, nil for anywhere.
func (p *packer) place(block Block, at *geom.Point) (Place, error) {
	hull := block.Solid.Hull()
	best, share := Turn(hull, p.s.room())
	if share > 1 {
		e := extents(hull, best)
		return Place{}, fmt.Errorf(
			"%s, %.0f by %.0f mm at best, does not fit the bed's %.0f by %.0f mm; set a larger bed, or make it smaller",
			block.Name, e.X, e.Y, p.s.room().X, p.s.room().Y,
		)
	}
	// A raster of whole millimetres needs no finer outline.
	grown := block.Shadow.Simplified(0.1).Grow(p.s.Gap/2 + 0.1).Region()
	type pose struct {
		r    raster
		turn float64
		at   geom.Point // the raster's corner in the turned part's frame
	}
	var poses []pose
	for _, turn := range []float64{best, best + 90, best + 180, best + 270, best + 45, best + 135} {
		if e := extents(hull, turn); e.X <= p.s.room().X && e.Y <= p.s.room().Y {
			r, at := p.draw(grown, hull, turn)
			poses = append(poses, pose{r, math.Mod(turn, 360), at})
		}
	}
	put := func(b int, q pose, x, y int) Place {
		p.beds[b].add(q.r, x, y)
		corner := geom.Pt(p.s.Margin+float64(x-p.pad)*p.cell, p.s.Margin+float64(y-p.pad)*p.cell)
		return Place{Bed: b, Turn: q.turn, Move: corner.Sub(q.at), Best: best}
	}
	for b := max(len(p.beds)-openBeds, 0); b <= len(p.beds); b++ {
		if b == len(p.beds) {
			p.beds = append(p.beds, newRaster(p.w+2*p.pad, p.h+2*p.pad))
		}
		for _, q := range poses {
			if at != nil { // nothing lies here yet
				x, y := p.nearest(q.r, *at)
				return put(b, q, x, y), nil
			}
			if x, y, ok := p.beds[b].room(q.r); ok {
				return put(b, q, x, y), nil
			}
		}
	}
	return Place{}, fmt.Errorf("%s does not fit even an empty bed", block.Name)
}

// nearest is the place on an empty bed at which the middle of a raster is nearest to at.
func (p *packer) nearest(r raster, at geom.Point) (x, y int) {
	free := func(want, margin float64, side, room int) int {
		first := (want-margin)/p.cell + float64(p.pad) - float64(side)/2
		return min(max(int(math.Round(first)), 0), max(room+2*p.pad-side, 0))
	}
	return free(at.X, p.s.Margin, r.w, p.w), free(at.Y, p.s.Margin, r.h, p.h)
}

// draw rasters a shadow, grown by half the gap, turned by an angle: each cell
// that it touches. The raster's own corner is at; hull is the part's own.
func (p *packer) draw(grown geom.Region, hull geom.Ring, turn float64) (r raster, at geom.Point) {
	sin, cos := math.Sincos(geom.Radians(turn))
	rot := func(q geom.Point) geom.Point { return geom.Pt(cos*q.X-sin*q.Y, sin*q.X+cos*q.Y) }
	box := geom.Bounds(hull.Mapped(rot))
	at = box.Min.Sub(geom.Pt(float64(p.pad), float64(p.pad)).Mul(p.cell))
	size := box.Size()
	r = newRaster(int(math.Ceil(size.X/p.cell-1e-9))+2*p.pad, int(math.Ceil(size.Y/p.cell-1e-9))+2*p.pad)
	fill(grown.Mapped(rot), at, p.cell, r)
	return r, at
}

// fill sets the cells that polygons touch: those between crossings of three
// scan lines a row, and those on the outline.
func fill(region geom.Region, at geom.Point, cell float64, r raster) {
	var edges [][2]geom.Point
	for _, ring := range region.Rings() {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			edges = append(edges, [2]geom.Point{p.Sub(at).Mul(1 / cell), q.Sub(at).Mul(1 / cell)})
		}
	}
	mark := func(x, y float64) {
		if i, j := int(math.Floor(x)), int(math.Floor(y)); i >= 0 && j >= 0 && i < r.w && j < r.h {
			r.set(i, j)
		}
	}
	for _, e := range edges {
		n := int(math.Ceil(e[0].Dist(e[1])*3)) + 1
		for k := 0; k <= n; k++ {
			p := e[0].Lerp(e[1], float64(k)/float64(n))
			mark(p.X, p.Y)
		}
	}
	rows := make([][]float64, r.h)
	for _, e := range edges {
		a, b := e[0], e[1]
		if a.Y > b.Y {
			a, b = b, a
		}
		for y := max(int(math.Ceil(a.Y-0.5)), 0); y < r.h && float64(y)+0.5 < b.Y; y++ {
			t := (float64(y) + 0.5 - a.Y) / (b.Y - a.Y)
			rows[y] = append(rows[y], a.X+t*(b.X-a.X))
		}
	}
	for y, xs := range rows {
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			for x := max(int(xs[i]), 0); x < r.w && float64(x) < xs[i+1]; x++ {
				r.set(x, y)
			}
		}
	}
}

// room finds the first place for q, lowest and then leftmost.
func (r raster) room(q raster) (x, y int, ok bool) {
	for y := 0; y+q.h <= r.h; y++ {
		for x := 0; x+q.w <= r.w; x++ {
			if !r.hits(q, x, y) {
				return x, y, true
			}
		}
	}
	return 0, 0, false
}

// hits reports whether q at x, y shares a cell with r.
func (r raster) hits(q raster, x, y int) bool {
	shift, word := x%64, x/64
	for j := range q.h {
		mine := r.rows[(y+j)*r.words : (y+j+1)*r.words]
		for k, v := range q.rows[j*q.words : (j+1)*q.words] {
			if v == 0 {
				continue
			}
			if mine[word+k]&(v<<shift) != 0 ||
				shift > 0 && word+k+1 < len(mine) && mine[word+k+1]&(v>>(64-shift)) != 0 {
				return true
			}
		}
	}
	return false
}

func (r raster) add(q raster, x, y int) {
	for j := range q.h {
		for i := range q.w {
			if q.rows[j*q.words+i/64]>>(i%64)&1 != 0 {
				r.set(x+i, y+j)
			}
		}
	}
}
