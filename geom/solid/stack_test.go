package solid

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// A face may have a tail a grid step thin, where two outlines all but coincide. The point that tells
// what is solid lay in the tail, and plastic filled a slot.
func TestWellInside(t *testing.T) {
	const grid = 0.001
	for _, c := range []struct {
		name  string
		ring  geom.Ring
		clear float64 // mm from the face's edge
	}{
		{"a square", geom.Ring{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 2}, {X: 0, Y: 2}}, 0.9},
		{"a block with a tail", geom.Ring{
			{X: 167.836, Y: 94.957}, {X: 167.753, Y: 83.281}, {X: 167.708, Y: 77.013}, {X: 167.784, Y: 76.392}, {X: 168.023, Y: 75.785},
			{X: 168.197, Y: 75.543}, {X: 168.186, Y: 72.523}, {X: 167.926, Y: 72.943}, {X: 167.745, Y: 73.473}, {X: 167.686, Y: 74.03},
		}, 0.2},
	} {
		t.Run(c.name, func(t *testing.T) {
			face := geos.NewPolygon([][][]float64{coords(c.ring, true)})
			in := wellInside(face, face.PointOnSurface(), grid)
			assert.True(t, face.Contains(in))
			assert.Greater(t, in.Distance(face.Boundary()), c.clear)
		})
	}
}
