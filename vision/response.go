package vision

import (
	"errors"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom/parallel"
)

// Filters for lines in a small copy. Found on photographs of faint pens.
const (
	lineTurns  = 12  // directions in which lines are looked for
	lineHalf   = 7   // px of the small copy from the middle of such a line's pattern to its ends
	lineSide   = 1.3 // px, standard deviation of the line's profile, as a pen's of 1 mm shows
	lineLong   = 4.5 // px, the same along it
	usualEvery = 13  // pixels, of which one tells what is usual
)

// A response is how much darker than what lies beside it a line through each pixel
// is, as a share of the paper, in the direction, of lineTurns, in which that is most.
type response struct {
	value []float64
	turn  []uint8
}

func lineResponse(even *Grey) (response, error) {
	src, dark := even.mat(), gocv.NewMat()
	defer src.Close()
	defer dark.Close()
	src.ConvertToWithParams(&dark, gocv.MatTypeCV32F, -1.0/evenWhite, 1)
	each, errs := make([][]float32, lineTurns), make([]error, lineTurns)
	parallel.Each(lineTurns, func(k int) {
		kernel, one := linePattern(turned(k)), gocv.NewMat()
		defer kernel.Close()
		defer one.Close()
		gocv.Filter2D(dark, &one, -1, kernel, image.Pt(-1, -1), 0, gocv.BorderReplicate)
		pix, err := one.DataPtrFloat32()
		each[k], errs[k] = slices.Clone(pix), err
	})
	r := response{make([]float64, len(even.Pix)), make([]uint8, len(even.Pix))}
	for k, pix := range each {
		for i, v := range pix {
			if k == 0 || float64(v) > r.value[i] {
				r.value[i], r.turn[i] = float64(v), uint8(k)
			}
		}
	}
	return r, errors.Join(errs...)
}

// turned is the angle of a direction, radians.
func turned(k int) float64 { return math.Pi * float64(k) / lineTurns }

// within calls f for each pixel but for those along the border.
func within(g *Grey, f func(i int)) {
	for y := paleBorder; y < g.H-paleBorder; y++ {
		for i := y*g.W + paleBorder; i < (y+1)*g.W-paleBorder; i++ {
			f(i)
		}
	}
}

// usual is the response of blank paper, and its standard deviation, by some of the
// pixels.
func (r response) usual() (mean, spread float64) {
	var some []float64
	for i := 0; i < len(r.value); i += usualEvery {
		some = append(some, r.value[i])
	}
	mean = median(some)
	for i, v := range some {
		some[i] = math.Abs(v - mean)
	}
	return mean, madNormal * median(some)
}

// madNormal times the median distance from the median is the standard deviation
// of values that are spread normally.
const madNormal = 1.4826

// linePattern is the filter for lines at an angle, radians: the second derivative of
// a Gaussian across, a Gaussian along. Its positive weights add up to 1, its
// negative ones to -1.
func linePattern(angle float64) gocv.Mat {
	const side = 2*lineHalf + 1
	m := gocv.NewMatWithSize(side, side, gocv.MatTypeCV32F)
	sin, cos := math.Sincos(angle)
	var weights [side * side]float64
	sum := [2]float64{}
	for i := range weights {
		x, y := float64(i%side-lineHalf), float64(i/side-lineHalf)
		if math.Hypot(x, y) > lineHalf {
			continue
		}
		along, off := x*cos+y*sin, (y*cos-x*sin)/lineSide
		weights[i] = (1 - off*off) * math.Exp(-off*off/2-along*along/(2*lineLong*lineLong))
		if weights[i] > 0 {
			sum[0] += weights[i]
		} else {
			sum[1] -= weights[i]
		}
	}
	for i, w := range weights {
		if w > 0 {
			w /= sum[0]
		} else {
			w /= sum[1]
		}
		m.SetFloatAt(i/side, i%side, float32(w))
	}
	return m
}
