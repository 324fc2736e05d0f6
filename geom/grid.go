package geom

import (
	"iter"
	"math"
)

// A Grid keeps things by the square cell of the plane that they lie in, so that
// what is near a place is found without a look at all there is.
type Grid[T any] struct {
	cell float64 // mm, a cell's side
	in   map[[2]int32][]T
}

// NewGrid returns an empty grid with cells of a size in mm.
func NewGrid[T any](cell float64) *Grid[T] {
	return &Grid[T]{cell: cell, in: map[[2]int32][]T{}}
}

func (g *Grid[T]) key(p Point) [2]int32 {
	return [2]int32{int32(math.Floor(p.X / g.cell)), int32(math.Floor(p.Y / g.cell))}
}

// Put puts v into the cell of a place.
func (g *Grid[T]) Put(at Point, v T) {
	k := g.key(at)
	g.in[k] = append(g.in[k], v)
}

// PutBox puts v into every cell that a box touches.
func (g *Grid[T]) PutBox(r Rect, v T) {
	lo, hi := g.key(r.Min), g.key(r.Max)
	for y := lo[1]; y <= hi[1]; y++ {
		for x := lo[0]; x <= hi[0]; x++ {
			k := [2]int32{x, y}
			g.in[k] = append(g.in[k], v)
		}
	}
}

// At returns what is in the cell of a place, in the order it was put there.
func (g *Grid[T]) At(p Point) []T { return g.in[g.key(p)] }

// Near goes over what is in the cell of a place and the eight about it: all that is
// within a cell's size of p, and more. Cells come row by row, what is in one in the
// order it was put there.
func (g *Grid[T]) Near(p Point) iter.Seq[T] {
	return func(yield func(T) bool) {
		k := g.key(p)
		for dy := int32(-1); dy <= 1; dy++ {
			for dx := int32(-1); dx <= 1; dx++ {
				for _, v := range g.in[[2]int32{k[0] + dx, k[1] + dy}] {
					if !yield(v) {
						return
					}
				}
			}
		}
	}
}
