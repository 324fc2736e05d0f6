package folder

import (
	"bytes"

	"github.com/hschendel/stl"

	"inkchannel/geom/solid"
)

// STL writes a mesh in the binary form, in mm.
func STL(m *solid.Mesh, name string) ([]byte, error) {
	// Normals of what is written: rounding turns a sliver's by more than readers bear. One
	// that it turns over keeps the side that faces out.
	written := solid.Mesh{Vertices: make([]solid.Vertex, len(m.Vertices)), Triangles: m.Triangles}
	for i, v := range m.Vertices {
		written.Vertices[i] = rounded(v)
	}
	s := stl.Solid{Name: name, Triangles: make([]stl.Triangle, len(m.Triangles))}
	for i := range m.Triangles {
		a, b, c := written.Corners(i)
		n, out := written.Normal(i), m.Normal(i)
		if n.X*out.X+n.Y*out.Y+n.Z*out.Z < 0 {
			n = out
		}
		s.Triangles[i] = stl.Triangle{
			Normal:   vec3(n),
			Vertices: [3]stl.Vec3{vec3(a), vec3(b), vec3(c)},
		}
	}
	var b bytes.Buffer
	b.Grow(84 + 50*len(s.Triangles))
	err := s.WriteAll(&b)
	return b.Bytes(), err
}

func vec3(v solid.Vertex) stl.Vec3 { return stl.Vec3{float32(v.X), float32(v.Y), float32(v.Z)} }

// rounded is a vertex as an STL file holds it.
func rounded(v solid.Vertex) solid.Vertex {
	f := vec3(v)
	return solid.Vertex{X: float64(f[0]), Y: float64(f[1]), Z: float64(f[2])}
}
