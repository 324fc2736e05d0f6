package folder

import (
	"bytes"
	"errors"
	"fmt"
	"math"

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

// ReadSTL reads the mesh of an STL file, in mm: corners at one place are one. It returns an error for
// a file that is none, or has more than 2,000,000 facets.
func ReadSTL(data []byte) (*solid.Mesh, error) {
	if len(data) > mostSTL {
		return nil, fmt.Errorf("%d MB are too many; make its mesh coarser", len(data)>>20)
	}
	s, err := stl.ReadAll(bytes.NewReader(data))
	if err != nil {
		return nil, errors.New("it is no STL file")
	}
	m := &solid.Mesh{}
	at := map[stl.Vec3]int32{}
	for _, t := range s.Triangles {
		var ids [3]int32
		for k, v := range t.Vertices {
			id, ok := at[v]
			if !ok {
				for _, x := range v {
					if math.IsNaN(float64(x)) || math.Abs(float64(x)) > mostReach {
						return nil, errors.New("a corner of it is nowhere near")
					}
				}
				id = int32(len(m.Vertices))
				at[v] = id
				m.Vertices = append(m.Vertices, solid.Vertex{X: float64(v[0]), Y: float64(v[1]), Z: float64(v[2])})
			}
			ids[k] = id
		}
		if ids[0] != ids[1] && ids[1] != ids[2] && ids[2] != ids[0] {
			m.Triangles = append(m.Triangles, ids)
		}
	}
	return m, nil
}

// Bounds of an STL file: its bytes, 50 for each facet, and how far from the origin it may reach, mm.
const mostSTL, mostReach = 100 << 20, 10_000
