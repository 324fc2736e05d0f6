package folder

import (
	"bytes"

	"github.com/hschendel/stl"

	"inkchannel/geom/solid"
)

// STL writes a mesh in the binary form, in mm.
func STL(m *solid.Mesh, name string) ([]byte, error) {
	s := stl.Solid{Name: name, Triangles: make([]stl.Triangle, len(m.Triangles))}
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		n := m.Normal(i)
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
