package solid

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
)

// How a mesh is sliced, mm.
const (
	sameLevel  = 0.01 // corners so near in height are at one
	mostLevels = 60   // of a mesh whose walls stand upright; one of more is sliced in steps
	mostSlices = 400
)

// Sliced returns a mesh as a solid: one whose walls all stand upright as it is, any other in
// layers of a height in mm, each the plan at its middle.
//
// It returns an error for a mesh that is not watertight, and one that is too high.
func Sliced(m *Mesh, layer float64) (s Solid, err error) {
	defer Guard("slicing a mesh", &err)
	sound := m.Check()
	if sound.Volume < 0 { // inside out
		m = m.turned()
		sound = m.Check()
	}
	if err := sound.Err(); err != nil {
		return nil, err
	}
	lo, hi := m.Bounds()
	levels := m.levels()
	if len(levels) > mostLevels || !m.upright() {
		n := math.Ceil((hi.Z-lo.Z)/layer - 1e-6)
		if n > mostSlices {
			return nil, fmt.Errorf("it is %.0f mm high; at most %.0f mm can be sliced", hi.Z-lo.Z, mostSlices*layer)
		}
		levels = levels[:0]
		for i := 0.0; i < n; i++ {
			levels = append(levels, lo.Z+i*layer)
		}
		levels = append(levels, hi.Z)
	}
	for i := 1; i < len(levels); i++ {
		s = append(s, Layer{levels[i-1], levels[i], m.section((levels[i-1] + levels[i]) / 2)})
	}
	if len(s) == 0 {
		return nil, errors.New("it has no height")
	}
	return s, nil
}

// turned is the mesh with its facets facing the other way.
func (m *Mesh) turned() *Mesh {
	out := &Mesh{Vertices: m.Vertices, Triangles: make([][3]int32, len(m.Triangles))}
	for i, t := range m.Triangles {
		out.Triangles[i] = [3]int32{t[0], t[2], t[1]}
	}
	return out
}

// levels are the heights of the corners.
func (m *Mesh) levels() (out []float64) {
	var z []float64
	for _, v := range m.Vertices {
		z = append(z, v.Z)
	}
	slices.Sort(z)
	for _, v := range z {
		if len(out) == 0 || v-out[len(out)-1] > sameLevel {
			out = append(out, v)
		}
	}
	return out
}

// upright tells whether each facet stands upright or lies flat.
func (m *Mesh) upright() bool {
	for i := range m.Triangles {
		if z := math.Abs(m.Normal(i).Z); z > 1e-3 && z < 1-1e-3 {
			return false
		}
	}
	return true
}

// An edge is two corners of a mesh, the lower number first.
type edge [2]int32

// section is the plan at a height. Each facet that crosses it gives a step from one crossed edge to
// another, with what is solid to its left; and an edge is crossed by two facets.
func (m *Mesh) section(z float64) Plan {
	next := map[edge]edge{}
	var starts []edge
	for _, t := range m.Triangles {
		var down, up edge
		crosses := false
		for k, a := range t {
			b := t[(k+1)%3]
			e := edge{min(a, b), max(a, b)}
			switch aAbove, bAbove := m.Vertices[a].Z > z, m.Vertices[b].Z > z; {
			case aAbove && !bAbove:
				down, crosses = e, true
			case !aAbove && bAbove:
				up = e
			}
		}
		if crosses {
			next[down] = up
			starts = append(starts, down)
		}
	}
	var rings []geom.Ring
	for _, start := range starts {
		var ring geom.Ring
		for e := start; ; {
			on, ok := next[e]
			if !ok {
				break
			}
			ring = append(ring, m.crossing(e, z))
			delete(next, e)
			e = on
		}
		if len(ring) > 2 {
			rings = append(rings, ring)
		}
	}
	slices.SortStableFunc(rings, func(a, b geom.Ring) int { return cmp.Compare(math.Abs(b.Area()), math.Abs(a.Area())) })
	var out Plan
	for _, r := range rings { // what lies in another comes after it
		if r.Area() > 0 {
			out = out.Or(Area(r...))
		} else {
			out = out.Less(Area(r...))
		}
	}
	return out
}

// crossing is where an edge crosses a height.
func (m *Mesh) crossing(e edge, z float64) geom.Point {
	a, b := m.Vertices[e[0]], m.Vertices[e[1]]
	t := (z - a.Z) / (b.Z - a.Z)
	return geom.Pt(a.X, a.Y).Lerp(geom.Pt(b.X, b.Y), t)
}
