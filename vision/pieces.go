package vision

import (
	"bytes"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// A piece is a connected part of a bitmap.
type piece struct {
	area           int
	x0, y0, x1, y1 int     // the pixels x0 ≤ x < x1, y0 ≤ y < y1 hold it
	sumX, sumY     float64 // over its pixels' centres
}

// A stretch is a row's run of pixels x0 ≤ x < x1 that belong to one piece.
type stretch struct {
	y, x0, x1 int
	piece     int
}

// pieces are the connected parts of a bitmap. Drawings are sparse, so rows are
// kept as runs: finding them is a search for bytes, which is far quicker than
// labelling pixels.
type pieces struct {
	runs []stretch
	rows []int // rows[y] is row y's first run; one more at the end
	list []piece
}

// piecesOf finds the parts of b of value v, joined by edges, and by corners if
// diagonal.
func piecesOf(b *Bitmap, v uint8, diagonal bool) *pieces {
	p := &pieces{rows: make([]int, b.H+1)}
	bands := make([][]stretch, b.H)
	parallel.Bands(b.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			bands[y] = runsOf(b.Pix[y*b.W:(y+1)*b.W], y, v)
		}
	})
	total := 0
	for _, r := range bands {
		total += len(r)
	}
	p.runs = make([]stretch, 0, total)
	for y, r := range bands {
		p.rows[y] = len(p.runs)
		p.runs = append(p.runs, r...)
	}
	p.rows[b.H] = len(p.runs)
	p.join(diagonal)
	return p
}

// runsOf are the runs of v in a row.
func runsOf(row []uint8, y int, v uint8) []stretch {
	var out []stretch
	for x := 0; x < len(row); {
		i := bytes.IndexByte(row[x:], v)
		if i < 0 {
			break
		}
		x += i
		n := bytes.IndexByte(row[x:], 1-v)
		if n < 0 {
			n = len(row) - x
		}
		out = append(out, stretch{y: y, x0: x, x1: x + n})
		x += n
	}
	return out
}

// join numbers the pieces, in the order of their first runs.
func (p *pieces) join(diagonal bool) {
	set := geom.NewForest(len(p.runs))
	reach := 0
	if diagonal {
		reach = 1
	}
	for y := 1; y+1 < len(p.rows); y++ {
		j, end := p.rows[y-1], p.rows[y]
		for i := p.rows[y]; i < p.rows[y+1]; i++ {
			r := p.runs[i]
			for j < end && p.runs[j].x1+reach <= r.x0 {
				j++
			}
			for k := j; k < end && p.runs[k].x0 < r.x1+reach; k++ {
				set.Join(k, i)
			}
		}
	}
	of, n := set.Numbers()
	p.list = make([]piece, n)
	seen := 0
	for i := range p.runs {
		r := &p.runs[i]
		r.piece = of[i]
		if r.piece == seen {
			p.list[seen] = piece{x0: r.x0, y0: r.y, x1: r.x1, y1: r.y}
			seen++
		}
		q := &p.list[r.piece]
		n := r.x1 - r.x0
		q.area += n
		q.x0, q.x1, q.y1 = min(q.x0, r.x0), max(q.x1, r.x1), r.y+1
		q.sumX += float64(n) * float64(r.x0+r.x1) / 2
		q.sumY += float64(n) * (float64(r.y) + 0.5)
	}
}

// extents are how far the pieces reach in a direction, px.
func (p *pieces) extents(dir geom.Point) []float64 {
	lo, hi := make([]float64, len(p.list)), make([]float64, len(p.list))
	for i := range lo {
		lo[i], hi[i] = math.Inf(1), math.Inf(-1)
	}
	for _, r := range p.runs {
		for _, x := range [2]int{r.x0, r.x1} {
			d := geom.Pt(float64(x), float64(r.y)).Dot(dir)
			lo[r.piece], hi[r.piece] = min(lo[r.piece], d), max(hi[r.piece], d)
		}
	}
	for i := range hi {
		hi[i] -= lo[i]
	}
	return hi
}

// at is the piece that holds pixel (x, y), −1 if none does.
func (p *pieces) at(x, y int) int {
	lo, hi := p.rows[y], p.rows[y+1]
	for lo < hi {
		m := (lo + hi) / 2
		switch r := p.runs[m]; {
		case x < r.x0:
			hi = m
		case x >= r.x1:
			lo = m + 1
		default:
			return r.piece
		}
	}
	return -1
}

// drop takes the pieces that which names off the set, and returns how many.
func (p *pieces) drop(b *Bitmap, which func(piece int) bool) (n int) {
	for i := range p.list {
		if which(i) {
			n++
		}
	}
	p.set(b, 0, which)
	return n
}

// set gives the pixels of the pieces that which names the value v.
func (p *pieces) set(b *Bitmap, v uint8, which func(piece int) bool) {
	for _, r := range p.runs {
		if which(r.piece) {
			row := b.Pix[r.y*b.W+r.x0 : r.y*b.W+r.x1]
			for i := range row {
				row[i] = v
			}
		}
	}
}
