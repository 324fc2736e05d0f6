package geom

// A Homography maps one plane's points to another's, row by row of its 3 × 3
// matrix.
type Homography [9]float64

// Apply maps p.
func (h Homography) Apply(p Point) Point {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return Pt((h[0]*p.X+h[1]*p.Y+h[2])/w, (h[3]*p.X+h[4]*p.Y+h[5])/w)
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

// Then returns the map that applies h, then next.
func (h Homography) Then(next Homography) (out Homography) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				out[3*i+j] += next[3*i+k] * h[3*k+j]
			}
		}
	}
	return out
}
