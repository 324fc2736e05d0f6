package solid

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// A solid's own mesh sliced is the solid again; a mesh with sloping walls keeps its volume to
// what its layers step by.
func TestSliced(t *testing.T) {
	frame := Box(0, 0, 40, 30).Less(Box(5, 5, 35, 25)).Or(Disc(geom.Pt(20, 15), 4))
	stepped := Solid{{0, 3, frame}, {3, 7.5, frame.And(Box(0, 0, 20, 30))}, {7.5, 8, Box(0, 0, 2, 2)}}
	m, err := stepped.Mesh(0.001)
	require.NoError(t, err)
	back, err := Sliced(m, 0.2)
	require.NoError(t, err)
	require.Len(t, back, 3)
	for i, l := range back {
		assert.InDelta(t, stepped[i].Z0, l.Z0, 1e-9)
		assert.InDelta(t, stepped[i].Z1, l.Z1, 1e-9)
		assert.InDelta(t, 0, l.Plan.Less(stepped[i].Plan).Size()+stepped[i].Plan.Less(l.Plan).Size(), 1e-3)
	}
	// A pyramid 30 mm wide and 12 mm high: V = a²h/3.
	pyramid := &Mesh{
		Vertices:  []Vertex{{0, 0, 0}, {30, 0, 0}, {30, 30, 0}, {0, 30, 0}, {15, 15, 12}},
		Triangles: [][3]int32{{0, 2, 1}, {0, 3, 2}, {0, 1, 4}, {1, 2, 4}, {2, 3, 4}, {3, 0, 4}},
	}
	layers, err := Sliced(pyramid, 0.2)
	require.NoError(t, err)
	assert.Len(t, layers, 60)
	assert.InEpsilon(t, 30*30*12/3.0, layers.Volume(), 1e-3)
	inside, err := Sliced(pyramid.turned(), 0.2)
	require.NoError(t, err)
	assert.InDelta(t, layers.Volume(), inside.Volume(), 1e-6, "inside out is put right")
	pyramid.Triangles = pyramid.Triangles[1:]
	_, err = Sliced(pyramid, 0.2)
	assert.ErrorContains(t, err, "not watertight: 3 open edges")
}
