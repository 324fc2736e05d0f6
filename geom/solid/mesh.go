package solid

import (
	"fmt"
	"math"

	"inkchannel/geom"
)

// A Vertex is a point in space, mm.
type Vertex struct{ X, Y, Z float64 }

func (v Vertex) sub(w Vertex) Vertex { return Vertex{v.X - w.X, v.Y - w.Y, v.Z - w.Z} }
func (v Vertex) cross(w Vertex) Vertex {
	return Vertex{v.Y*w.Z - v.Z*w.Y, v.Z*w.X - v.X*w.Z, v.X*w.Y - v.Y*w.X}
}
func (v Vertex) dot(w Vertex) float64 { return v.X*w.X + v.Y*w.Y + v.Z*w.Z }

// A Mesh is a surface of triangles that share vertices. Seen from outside the
// corners of each run anticlockwise.
type Mesh struct {
	Vertices  []Vertex
	Triangles [][3]int32
}

// Corners returns the three corners of triangle i.
func (m *Mesh) Corners(i int) (a, b, c Vertex) {
	t := m.Triangles[i]
	return m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
}

// Normal returns the unit vector that points out of triangle i, zero if it is
// degenerate.
func (m *Mesh) Normal(i int) Vertex {
	a, b, c := m.Corners(i)
	n := b.sub(a).cross(c.sub(a))
	l := math.Sqrt(n.dot(n))
	if l == 0 {
		return Vertex{}
	}
	return Vertex{n.X / l, n.Y / l, n.Z / l}
}

// Volume returns the enclosed volume in mm³: the sum of the signed volumes of
// the tetrahedra that the triangles span with the origin.
func (m *Mesh) Volume() float64 {
	sum := 0.0
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		sum += a.dot(b.cross(c))
	}
	return sum / 6
}

// Surface returns the area of all triangles in mm².
func (m *Mesh) Surface() float64 {
	sum := 0.0
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		n := b.sub(a).cross(c.sub(a))
		sum += math.Sqrt(n.dot(n)) / 2
	}
	return sum
}

// Bounds returns the box around the mesh.
func (m *Mesh) Bounds() (lo, hi Vertex) {
	if len(m.Vertices) == 0 {
		return lo, hi
	}
	lo, hi = m.Vertices[0], m.Vertices[0]
	for _, v := range m.Vertices {
		lo = Vertex{min(lo.X, v.X), min(lo.Y, v.Y), min(lo.Z, v.Z)}
		hi = Vertex{max(hi.X, v.X), max(hi.Y, v.Y), max(hi.Z, v.Z)}
	}
	return lo, hi
}

// Mapped returns the mesh with each vertex moved by f, which must not turn it
// inside out.
func (m *Mesh) Mapped(f func(Vertex) Vertex) *Mesh {
	out := &Mesh{Triangles: m.Triangles, Vertices: make([]Vertex, len(m.Vertices))}
	for i, v := range m.Vertices {
		out.Vertices[i] = f(v)
	}
	return out
}

// Moved returns the mesh moved by d, mm.
func (m *Mesh) Moved(d Vertex) *Mesh {
	return m.Mapped(func(v Vertex) Vertex { return Vertex{X: v.X + d.X, Y: v.Y + d.Y, Z: v.Z + d.Z} })
}

// A Soundness counts what keeps a mesh from being a solid's surface.
type Soundness struct {
	Open        int // edges of one triangle only
	NonManifold int // edges of more than two triangles
	Flipped     int // edges whose two triangles run the same way
	Degenerate  int // triangles without area
	Volume      float64
	Euler       int // vertices − edges + triangles
	Parts       int // separate surfaces
}

// Err returns an error that names the faults, nil if there are none.
func (s Soundness) Err() error {
	if s.Open+s.NonManifold+s.Flipped+s.Degenerate == 0 && s.Volume > 0 {
		return nil
	}
	return fmt.Errorf(
		"mesh is not watertight: %d open edges, %d edges of more than two facets, %d flipped, %d facets without "+
			"area, volume %.1f mm³", s.Open, s.NonManifold, s.Flipped, s.Degenerate, s.Volume,
	)
}

// crowded lists the edges of more than two triangles.
func (m *Mesh) crowded() [][2]Vertex {
	uses := make(map[[2]int32]int8, len(m.Triangles)*3/2)
	var out [][2]Vertex
	for _, t := range m.Triangles {
		for k, a := range t {
			b := t[(k+1)%3]
			if a > b {
				a, b = b, a
			}
			if uses[[2]int32{a, b}]++; uses[[2]int32{a, b}] == 3 {
				out = append(out, [2]Vertex{m.Vertices[a], m.Vertices[b]})
			}
		}
	}
	return out
}

// Check examines the mesh.
func (m *Mesh) Check() Soundness {
	type use struct{ fwd, back int32 }
	edges := make(map[[2]int32]use, len(m.Triangles)*3/2)
	set := geom.NewForest(len(m.Vertices))
	s := Soundness{Volume: m.Volume()}
	for i, t := range m.Triangles {
		if m.Normal(i) == (Vertex{}) {
			s.Degenerate++
		}
		for k, a := range t {
			b := t[(k+1)%3]
			set.Join(int(a), int(b))
			key, fwd := [2]int32{a, b}, true
			if a > b {
				key, fwd = [2]int32{b, a}, false
			}
			u := edges[key]
			if fwd {
				u.fwd++
			} else {
				u.back++
			}
			edges[key] = u
		}
	}
	for _, u := range edges {
		switch n := u.fwd + u.back; {
		case n == 1:
			s.Open++
		case n > 2:
			s.NonManifold++
		case u.fwd != 1:
			s.Flipped++
		}
	}
	for i := range set {
		if set.Root(i) == i {
			s.Parts++
		}
	}
	s.Euler = len(m.Vertices) - len(edges) + len(m.Triangles)
	return s
}
