package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// Against OpenCV's labelling: the same pieces, of the same areas and boxes.
func TestPiecesAgainstOpenCV(t *testing.T) {
	for name, b := range bitmaps(400) {
		for _, v := range []uint8{0, 1} {
			for _, near := range []int{4, 8} {
				got := piecesOf(b, v, near == 8)
				src := b.mat()
				if v == 0 {
					gocv.Threshold(src, &src, 0, 1, gocv.ThresholdBinaryInv)
				}
				labels, stats, centroids := gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
				n := gocv.ConnectedComponentsWithStatsWithParams(src, &labels, &stats, &centroids, near, gocv.MatTypeCV32S, gocv.CCL_DEFAULT)
				require.Len(t, got.list, n-1, name)
				for y := range b.H {
					for x := range b.W {
						i, l := got.at(x, y), int(labels.GetIntAt(y, x))
						require.Equal(t, l == 0, i < 0, "%s at %d,%d", name, x, y)
						if l == 0 {
							continue
						}
						at := func(k gocv.ConnectedComponentsTypes) int { return int(stats.GetIntAt(l, int(k))) }
						q := got.list[i]
						require.Equal(t, [5]int{at(gocv.CC_STAT_AREA), at(gocv.CC_STAT_LEFT), at(gocv.CC_STAT_TOP), at(gocv.CC_STAT_WIDTH), at(gocv.CC_STAT_HEIGHT)},
							[5]int{q.area, q.x0, q.y0, q.x1 - q.x0, q.y1 - q.y0}, name)
						require.InDelta(t, centroids.GetDoubleAt(l, 0)+0.5, q.sumX/float64(q.area), 1e-9, name)
						require.InDelta(t, centroids.GetDoubleAt(l, 1)+0.5, q.sumY/float64(q.area), 1e-9, name)
					}
				}
				if v == 0 { // undo: the view shares the bitmap's memory
					gocv.Threshold(src, &src, 0, 1, gocv.ThresholdBinaryInv)
				}
				for _, m := range []gocv.Mat{src, labels, stats, centroids} {
					m.Close()
				}
			}
		}
	}
}

// By its definition: the nearest of all pixels without ink.
func TestInkRadius(t *testing.T) {
	for name, b := range bitmaps(200) {
		for y := range b.H {
			for x := range b.W {
				if b.Pix[y*b.W+x] == 0 || (x+y)%7 != 0 {
					continue
				}
				best := math.Inf(1)
				for i, v := range b.Pix {
					if v == 0 {
						best = min(best, math.Hypot(float64(i%b.W-x), float64(i/b.W-y)))
					}
				}
				if !math.IsInf(best, 1) {
					require.InDelta(t, best, inkRadius(b, x, y), 1e-9, name)
				}
			}
		}
	}
}
