package vision

import (
	"bytes"
	"math/bits"

	"inkchannel/geom/parallel"
)

// Thinning to a skeleton one pixel wide. The scheme is algorithm A1 of Z. Guo
// and R. W. Hall, "Parallel thinning with two-subiteration algorithms",
// Communications of the ACM 32 (1989), 359–373: a border pixel goes when its
// neighbours form one piece, it is not the end of a line, and it lies on the
// side whose turn it is. All pixels decide from the same state, so the result
// does not depend on how rows are shared out among cores; and as A1 deletes
// only what leaves the picture connected as it was, components and holes
// stay.
//
// The picture is held 64 pixels to a word and the rules are worked out for a
// word at a time. A1 may leave corner pixels that a line one pixel wide does
// not need; a last pass takes those away one by one.

// Thin returns the skeleton of mask: a subset of it, one pixel wide with
// 8-connected lines, with the same 8-connected pieces and 4-connected holes.
func Thin(mask *Bitmap) *Bitmap {
	p := pack(mask)
	p.thin()
	out := p.unpack()
	trimCorners(out)
	return out
}

// packed is a bitmap 64 pixels to a word. It has an empty row above and below
// and an empty word left and right, so that neighbours need no bounds checks.
type packed struct {
	w, h   int
	stride int // words in a row
	bits   []uint64
}

func pack(b *Bitmap) *packed {
	p := &packed{w: b.W, h: b.H, stride: (b.W+63)/64 + 2}
	p.bits = make([]uint64, p.stride*(b.H+2))
	parallel.Bands(b.H, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := p.bits[(y+1)*p.stride+1:]
			for _, r := range runsOf(b.Pix[y*b.W:(y+1)*b.W], y, 1) {
				for x := r.x0; x < r.x1; x++ {
					row[x>>6] |= 1 << (x & 63)
				}
			}
		}
	})
	return p
}

func (p *packed) unpack() *Bitmap {
	b := NewBitmap(p.w, p.h)
	parallel.Bands(p.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			to := b.Pix[y*p.w : (y+1)*p.w]
			for i, word := range p.bits[(y+1)*p.stride+1 : (y+2)*p.stride-1] {
				for ; word != 0; word &= word - 1 {
					to[i<<6+bits.TrailingZeros64(word)] = 1
				}
			}
		}
	})
	return b
}

// thin deletes pixels until neither half-step finds one.
func (p *packed) thin() {
	del := make([]uint64, len(p.bits))
	full := p.fullWords()
	// changed[k][y] tells whether half-step k last deleted something in row y.
	changed := [2][]bool{make([]bool, p.h+2), make([]bool, p.h+2)}
	for _, c := range changed {
		for y := range c {
			c[y] = true
		}
	}
	for k := 0; ; k = 1 - k {
		busy := make([]bool, p.h+2)
		parallel.Bands(p.h, func(y0, y1 int) {
			for y := y0 + 1; y <= y1; y++ {
				near := false
				for _, c := range changed {
					near = near || c[y-1] || c[y] || c[y+1]
				}
				if near {
					busy[y] = p.markRow(del, full[y], y, k == 1)
				}
			}
		})
		parallel.Bands(p.h, func(y0, y1 int) {
			for y := y0 + 1; y <= y1; y++ {
				if busy[y] {
					row, gone := p.bits[y*p.stride:(y+1)*p.stride], del[y*p.stride:]
					for _, i := range full[y] {
						row[i] &^= gone[i]
					}
				}
			}
		})
		changed[k] = busy
		if !some(changed[0]) && !some(changed[1]) {
			return
		}
	}
}

// fullWords lists, for each row, the words that hold a pixel. Thinning adds none,
// and most of a drawing is empty.
func (p *packed) fullWords() [][]int32 {
	out := make([][]int32, p.h+2)
	parallel.Bands(p.h, func(y0, y1 int) {
		for y := y0 + 1; y <= y1; y++ {
			for i, word := range p.bits[y*p.stride : (y+1)*p.stride] {
				if word != 0 {
					out[y] = append(out[y], int32(i))
				}
			}
		}
	})
	return out
}

func some(s []bool) bool {
	for _, v := range s {
		if v {
			return true
		}
	}
	return false
}

// markRow sets in del the pixels of row y that half-step first or second
// deletes, in the words that may hold any, and tells whether there are any.
func (p *packed) markRow(del []uint64, words []int32, y int, second bool) bool {
	found := uint64(0)
	up, mid, down := p.bits[(y-1)*p.stride:], p.bits[y*p.stride:], p.bits[(y+1)*p.stride:]
	for _, i := range words {
		at := mid[i]
		if at == 0 {
			del[y*p.stride+int(i)] = 0
			continue
		}
		n, s := up[i], down[i]
		w, e := at<<1|mid[i-1]>>63, at>>1|mid[i+1]<<63
		nw, ne := n<<1|up[i-1]>>63, n>>1|up[i+1]<<63
		sw, se := s<<1|down[i-1]>>63, s>>1|down[i+1]<<63
		d := at & onePiece(n, ne, e, se, s, sw, w, nw) & notEnd(n, ne, e, se, s, sw, w, nw)
		if second {
			d &^= (s | sw | ^nw) & w
		} else {
			d &^= (n | ne | ^se) & e
		}
		del[y*p.stride+int(i)] = d
		found |= d
	}
	return found != 0
}

// onePiece: the neighbours, taken clockwise, go from empty to full exactly
// once (A1's C(p) = 1).
func onePiece(n, ne, e, se, s, sw, w, nw uint64) uint64 {
	a, b := ^n&(ne|e), ^e&(se|s)
	c, d := ^s&(sw|w), ^w&(nw|n)
	return (a^b)&^(c|d) | (c^d)&^(a|b)
}

// notEnd: A1's 2 ≤ N(p) ≤ 3, with N the lesser of the two counts of
// neighbours taken in pairs.
func notEnd(n, ne, e, se, s, sw, w, nw uint64) uint64 {
	two := func(a, b, c, d uint64) uint64 { return a&b | c&d | (a|b)&(c|d) }
	a1, b1, c1, d1 := nw|n, ne|e, se|s, sw|w
	a2, b2, c2, d2 := n|ne, e|se, s|sw, w|nw
	full := a1 & b1 & c1 & d1 & a2 & b2 & c2 & d2
	return two(a1, b1, c1, d1) & two(a2, b2, c2, d2) &^ full
}

// trimCorners removes, one after the other in reading order, pixels whose
// neighbours hang together without them and which end no line.
func trimCorners(b *Bitmap) {
	for again := true; again; {
		again = false
		for y := range b.H {
			row := b.Pix[y*b.W : (y+1)*b.W]
			for x := 0; ; x++ { // drawings are sparse: go from pixel to pixel
				i := bytes.IndexByte(row[x:], 1)
				if i < 0 {
					break
				}
				x += i
				q := b.around(x, y)
				n, ne, e, se, s, sw, w, nw := q[0], q[1], q[2], q[3], q[4], q[5], q[6], q[7]
				if onePiece(n, ne, e, se, s, sw, w, nw)&1 == 0 {
					continue
				}
				n1 := (nw | n) + (ne | e) + (se | s) + (sw | w)
				n2 := (n | ne) + (e | se) + (s | sw) + (w | nw)
				if min(n1, n2) >= 2 {
					row[x] = 0
					again = true
				}
			}
		}
	}
}

// around returns the eight neighbours of (x, y) clockwise from the one above,
// 0 beyond the border.
func (b *Bitmap) around(x, y int) [8]uint64 {
	var q [8]uint64
	for i, d := range ring8 {
		u, v := x+d[0], y+d[1]
		if u >= 0 && v >= 0 && u < b.W && v < b.H {
			q[i] = uint64(b.Pix[v*b.W+u])
		}
	}
	return q
}

// ring8 are the steps to the eight neighbours, clockwise from the one above.
var ring8 = [8][2]int{{0, -1}, {1, -1}, {1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}}
