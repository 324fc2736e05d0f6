package specimen

import (
	"bytes"
	"encoding/binary"

	"inkchannel/geom/solid"
)

// MeshFile writes a mesh with its shared vertices, for a reference reader: the
// numbers of vertices and triangles as uint32, vertices as float32 x, y, z in
// mm, triangles as three uint32, all little-endian.
func MeshFile(m *solid.Mesh) []byte {
	var b bytes.Buffer
	write := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) } // a Buffer never fails
	write([2]uint32{uint32(len(m.Vertices)), uint32(len(m.Triangles))})
	for _, v := range m.Vertices {
		write([3]float32{float32(v.X), float32(v.Y), float32(v.Z)})
	}
	write(m.Triangles)
	return b.Bytes()
}
