package vision

import (
	"fmt"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// flood counts connected sets of value v by flood fill, with 4 or 8
// neighbours; beyond the border all pixels are 0.
func flood(b *Bitmap, v uint8, eight bool) int {
	w, h := b.W+2, b.H+2
	seen := make([]bool, w*h)
	at := func(x, y int) uint8 {
		if x < 1 || y < 1 || x > b.W || y > b.H {
			return 0
		}
		return b.Pix[(y-1)*b.W+x-1]
	}
	n := 0
	for start := range seen {
		if seen[start] || at(start%w, start/w) != v {
			continue
		}
		n++
		seen[start] = true
		for stack := []int{start}; len(stack) > 0; {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			for k, d := range ring8 {
				x, y := i%w+d[0], i/w+d[1]
				if !eight && k%2 == 1 || x < 0 || y < 0 || x >= w || y >= h {
					continue
				}
				if j := y*w + x; !seen[j] && at(x, y) == v {
					seen[j] = true
					stack = append(stack, j)
				}
			}
		}
	}
	return n
}

// bitmaps yields random and structured pictures: noise of several densities,
// blocks, and blocky shapes grown from noise.
func bitmaps(n int) func(yield func(string, *Bitmap) bool) {
	return func(yield func(string, *Bitmap) bool) {
		rng := rand.New(rand.NewSource(1))
		for i := range n {
			b := NewBitmap(1+rng.Intn(90), 1+rng.Intn(40))
			kind := i % 4
			switch kind {
			case 0, 1:
				p := 0.1 + 0.85*rng.Float64()
				for k := range b.Pix {
					if rng.Float64() < p {
						b.Pix[k] = 1
					}
				}
			case 2: // blocks of 1 to 6 px, set and cleared: 2 × 2 among them
				for range 2 + rng.Intn(60) {
					x, y, w, h, v := rng.Intn(b.W), rng.Intn(b.H), 1+rng.Intn(6), 1+rng.Intn(6), uint8(rng.Intn(3)/1&1)
					for v0 := y; v0 < min(y+h, b.H); v0++ {
						for u := x; u < min(x+w, b.W); u++ {
							b.Pix[v0*b.W+u] = 1 - v
						}
					}
				}
			case 3: // thick pen lines
				for range 1 + rng.Intn(6) {
					x, y := float64(rng.Intn(b.W)), float64(rng.Intn(b.H))
					dx, dy, r := rng.Float64()*2-1, rng.Float64()*2-1, 1+rng.Intn(4)
					for range 60 {
						x, y = x+dx, y+dy
						for v := int(y) - r; v <= int(y)+r; v++ {
							for u := int(x) - r; u <= int(x)+r; u++ {
								if u >= 0 && v >= 0 && u < b.W && v < b.H {
									b.Pix[v*b.W+u] = 1
								}
							}
						}
					}
				}
			}
			if !yield(fmt.Sprintf("%d (kind %d, %d × %d)", i, kind, b.W, b.H), b) {
				return
			}
		}
	}
}

func TestThinKeepsTopology(t *testing.T) {
	for name, b := range bitmaps(10000) {
		s := Thin(b)
		require.Equal(t, flood(b, 1, true), flood(s, 1, true), "components of bitmap %s", name)
		require.Equal(t, flood(b, 0, false), flood(s, 0, false), "holes of bitmap %s", name)
		for i, v := range s.Pix {
			if v > b.Pix[i] { // asserted only where it fails, as there are millions
				require.Fail(t, "the skeleton leaves the ink", "bitmap %s, pixel %d", name, i)
			}
		}
	}
}

// A skeleton is as thin as can be: no pixel that is not the end of a line can
// go without breaking something.
func TestThinIsThin(t *testing.T) {
	for name, b := range bitmaps(2000) {
		s := Thin(b)
		again := &Bitmap{s.W, s.H, append([]uint8(nil), s.Pix...)}
		trimCorners(again)
		require.Equal(t, s.Pix, again.Pix, "bitmap %s", name)
		for y := range s.H - 1 {
			for x := range s.W - 1 {
				i := y*s.W + x
				block := s.Pix[i] + s.Pix[i+1] + s.Pix[i+s.W] + s.Pix[i+s.W+1]
				if block == 4 {
					// Four pixels in a block stay only where each is needed.
					for _, p := range [][2]int{{x, y}, {x + 1, y}, {x, y + 1}, {x + 1, y + 1}} {
						q := s.around(p[0], p[1])
						assert.Zero(t, onePiece(q[0], q[1], q[2], q[3], q[4], q[5], q[6], q[7])&1, "bitmap %s", name)
					}
				}
			}
		}
	}
}

func TestThinCases(t *testing.T) {
	for _, c := range []struct {
		name string
		rows []string
		want int // pixels left
	}{
		{"empty", []string{"...", "..."}, 0},
		{"one pixel", []string{"...", ".#.", "..."}, 1},
		{"2 by 2 block", []string{"....", ".##.", ".##.", "...."}, 1},
		{"line stays", []string{".....", ".###.", "....."}, 3},
		{"corner is cut", []string{"....", ".#..", ".##.", "...."}, 2},
		{"ring stays", []string{".#.", "#.#", ".#."}, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := NewBitmap(len(c.rows[0]), len(c.rows))
			for y, r := range c.rows {
				for x, ch := range r {
					if ch == '#' {
						b.Pix[y*b.W+x] = 1
					}
				}
			}
			assert.Equal(t, c.want, Thin(b).Count())
		})
	}
}
