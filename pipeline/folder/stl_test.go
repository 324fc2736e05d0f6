package folder

import (
	"bytes"
	"testing"

	"github.com/hschendel/stl"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom/solid"
)

// A sliver a hundred-thousandth of a mm high turned over when its corners were rounded to
// the file's 32 bits, and said that the part's underside faces up.
func TestSliverFacesOut(t *testing.T) {
	m := &solid.Mesh{
		Vertices:  []solid.Vertex{{X: 135.936, Y: 101.345}, {X: 136.201, Y: 101.881}, {X: 136.202, Y: 101.883}},
		Triangles: [][3]int32{{0, 1, 2}},
	}
	data, err := STL(m, "sliver")
	require.NoError(t, err)
	got, err := stl.ReadAll(bytes.NewReader(data))
	require.NoError(t, err)
	require.Len(t, got.Triangles, 1)
	assert.Equal(t, stl.Vec3{0, 0, -1}, got.Triangles[0].Normal)
}
