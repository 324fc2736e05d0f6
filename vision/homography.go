package vision

import (
	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// scaling multiplies both coordinates by k.
func scaling(k float64) geom.Homography { return geom.Homography{k, 0, 0, 0, k, 0, 0, 0, 1} }

// fourPoint maps from[i] to to[i].
func fourPoint(from, to [4]geom.Point) geom.Homography {
	vec := func(q [4]geom.Point) gocv.Point2fVector {
		var p []gocv.Point2f
		for _, c := range q {
			p = append(p, gocv.Point2f{X: float32(c.X), Y: float32(c.Y)})
		}
		return gocv.NewPoint2fVectorFromPoints(p)
	}
	f, t := vec(from), vec(to)
	defer f.Close()
	defer t.Close()
	m := gocv.GetPerspectiveTransform2f(f, t)
	defer m.Close()
	var h geom.Homography
	for i := range h {
		h[i] = m.GetDoubleAt(i/3, i%3)
	}
	return h
}
