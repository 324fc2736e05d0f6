package vision

import (
	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// A Homography maps one plane's points to another's, row by row of its 3 × 3
// matrix.
type Homography [9]float64

// Apply maps p.
func (h Homography) Apply(p geom.Point) geom.Point {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return geom.Pt((h[0]*p.X+h[1]*p.Y+h[2])/w, (h[3]*p.X+h[4]*p.Y+h[5])/w)
}

// Inverse maps back. It is the adjugate, which is the inverse up to a factor
// that does not matter to a homography.
func (h Homography) Inverse() Homography {
	return Homography{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
}

// scaling multiplies both coordinates by k.
func scaling(k float64) Homography { return Homography{k, 0, 0, 0, k, 0, 0, 0, 1} }

// fourPoint maps from[i] to to[i].
func fourPoint(from, to [4]geom.Point) Homography {
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
	var h Homography
	for i := range h {
		h[i] = m.GetDoubleAt(i/3, i%3)
	}
	return h
}
