package vision

import (
	"fmt"
	"image"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// A scene blurred by OpenCV's own Gaussian is told by about as much; the pen's soft edge
// adds a little.
func TestEdgeBlur(t *testing.T) {
	for _, sigma := range []float64{1, 2, 4} {
		t.Run(fmt.Sprint(sigma), func(t *testing.T) {
			s := scene{w: 900, h: 700, pen: 20, colour: [3]uint8{30, 30, 30}, lines: []geom.Polyline{pl(100, 100, 800, 300), pl(200, 600, 700, 450)}}
			img := s.draw()
			m := img.mat()
			defer m.Close()
			gocv.GaussianBlur(m, &m, image.Pt(0, 0), sigma, sigma, gocv.BorderReplicate)
			pix, err := m.DataPtrUint8()
			require.NoError(t, err)
			copy(img.Pix, pix)
			ink, err := FindInk(img, scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			assert.InDelta(t, sigma, ink.EdgeBlur(Thin(ink.Mask)), 0.25*sigma+0.3)
		})
	}
	assert.Zero(t, (&Ink{Mask: NewBitmap(9, 9), Level: NewGrey(9, 9)}).EdgeBlur(NewBitmap(9, 9)))
}
