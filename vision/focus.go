package vision

import "math"

// EdgeBlur is how blurred the ink's edges are, px: the standard deviation of the blur that
// makes a sharp edge as steep as half of the ink's edges are at least. An edge of height h
// blurred by s has the slope h/(s√2π) in its middle. It is 0 where there is no ink.
func (ink *Ink) EdgeBlur(skel *Bitmap) float64 {
	var tops []float64
	for i := range skel.all() {
		tops = append(tops, float64(ink.Level.Pix[i]))
	}
	if len(tops) == 0 {
		return 0
	}
	height := median(tops) - (inkEdge - ink.Cut*evenWhite)
	lv, w, h := ink.Level.Pix, ink.Mask.W, ink.Mask.H
	var steep []float64
	for i := range ink.Mask.all() {
		x, y := i%w, i/w
		if (x+y)%edgeLook != 0 || x < 1 || y < 1 || x+1 >= w || y+1 >= h {
			continue
		}
		m := ink.Mask.Pix
		if m[i-1]+m[i+1]+m[i-w]+m[i+w] == 4 {
			continue
		}
		dx, dy := float64(lv[i+1])-float64(lv[i-1]), float64(lv[i+w])-float64(lv[i-w])
		steep = append(steep, math.Hypot(dx, dy)/2)
	}
	return height / (max(median(steep), 1) * math.Sqrt(2*math.Pi))
}

// edgeLook is how many of the ink's edge pixels one is looked at of.
const edgeLook = 5
