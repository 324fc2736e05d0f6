package solid

import (
	"encoding/binary"
	"fmt"
	"math"

	"github.com/twpayne/go-geos"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// A triangulation is a polygon's triangles, or why there are none.
type triangulation struct {
	corners [][3]geom.Point
	err     error
}

// triangulated triangulates polygons by GEOS, on all cores.
func triangulated(polygons []*geos.Geom) []triangulation {
	out := make([]triangulation, len(polygons))
	parallel.Each(len(polygons), func(i int) {
		// Polygons of one context cannot be worked on at once.
		out[i].corners, out[i].err = triangles(polygons[i].ToWKB())
	})
	return out
}

// triangles triangulates the polygon that is given as well-known binary (OGC
// 06-103r4, 8.2).
func triangles(wkb []byte) (out [][3]geom.Point, err error) {
	defer Guard("triangulating a face", &err)
	g, err := geos.NewContext().NewGeomFromWKB(wkb)
	if err != nil {
		return nil, err
	}
	b := g.ConstrainedDelaunayTriangulation().ToWKB()
	// Byte order, type, count of polygons; for each byte order, type, count of
	// rings, count of points, points.
	const head, triangle = 9, 13 + 4*16
	var order binary.ByteOrder = binary.BigEndian
	if b[0] == 1 {
		order = binary.LittleEndian
	}
	n := int(order.Uint32(b[5:]))
	if len(b) != head+n*triangle {
		return nil, fmt.Errorf("triangulation gave polygons that are no triangles, %d in all", n)
	}
	number := func(at int) float64 { return math.Float64frombits(order.Uint64(b[at:])) }
	out = make([][3]geom.Point, n)
	for i := range out {
		for k := range out[i] {
			at := head + i*triangle + 13 + 16*k
			out[i][k] = geom.Pt(number(at), number(at+8))
		}
	}
	return out, nil
}
