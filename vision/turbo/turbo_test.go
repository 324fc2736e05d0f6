package turbo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

const w, h = 97, 61

// picture is a smooth picture with an edge, as RGBA.
func picture() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{uint8(2 * x), uint8(3 * y), uint8(128 + 100*math.Sin(float64(x+y)/9)), 255}
			if x > 60 {
				c.R = 250
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func encoded(t *testing.T, quality int) []byte {
	t.Helper()
	img := picture()
	data, err := Encode(img.Pix, w, h, img.Stride, RGBA, quality)
	require.NoError(t, err)
	return data
}

// What is decoded is what OpenCV decodes, byte for byte, at each size; and near to what Go's decoder
// makes of it, whose upsampling is another.
func TestDecode(t *testing.T) {
	data := encoded(t, 90)
	flags := map[int]gocv.IMReadFlag{1: gocv.IMReadColor, 2: gocv.IMReadReducedColor2, 4: gocv.IMReadReducedColor4, 8: gocv.IMReadReducedColor8}
	for n, flag := range flags {
		pix, damage, err := Decode(data, w, h, n, BGR)
		require.NoError(t, err)
		assert.Empty(t, damage)
		m, err := gocv.IMDecode(data, flag)
		require.NoError(t, err)
		assert.Equal(t, m.Cols()*m.Rows()*3, len(pix))
		want, err := m.DataPtrUint8()
		require.NoError(t, err)
		assert.Equal(t, want, pix, "at 1/%d", n)
		require.NoError(t, m.Close())
	}
	pix, _, err := Decode(data, w, h, 1, BGR)
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	off := 0.0
	for y := range h {
		for x := range w {
			r, g, b, _ := img.At(x, y).RGBA()
			p := pix[3*(y*w+x):]
			for k, v := range []uint32{b, g, r} {
				off += math.Abs(float64(v>>8) - float64(p[k]))
			}
		}
	}
	assert.Less(t, off/(3*w*h), 3.0)
}

// What is encoded is near to what was given, at the size of any reader.
func TestEncode(t *testing.T) {
	img := picture()
	cfg, err := jpeg.DecodeConfig(bytes.NewReader(encoded(t, 90)))
	require.NoError(t, err)
	assert.Equal(t, [2]int{w, h}, [2]int{cfg.Width, cfg.Height})
	back, err := jpeg.Decode(bytes.NewReader(encoded(t, 97)))
	require.NoError(t, err)
	for _, at := range []image.Point{{X: 10, Y: 10}, {X: 90, Y: 50}, {X: 30, Y: 40}} {
		r, g, b, _ := back.At(at.X, at.Y).RGBA()
		want := img.RGBAAt(at.X, at.Y)
		assert.InDelta(t, want.R, r>>8, 12)
		assert.InDelta(t, want.G, g>>8, 12)
		assert.InDelta(t, want.B, b>>8, 12)
	}
	assert.Less(t, len(encoded(t, 30)), len(encoded(t, 95)))
}

func TestRefused(t *testing.T) {
	data := encoded(t, 90)
	broken := bytes.Clone(data)
	for i := len(broken) / 2; i < len(broken)/2+40; i++ {
		broken[i] = 0xff
	}
	for _, c := range []struct {
		name        string
		data        []byte
		to          Layout
		damage, err bool
	}{
		{"whole", data, BGR, false, false},
		{"damaged inside", broken, BGR, true, false},
		{"cut off", data[:len(data)/2], BGR, true, false},
		{"header only", data[:20], BGR, true, false},
		{"none", nil, BGR, false, true},
		{"no JPEG", []byte("a teapot"), BGR, false, true},
		{"as four colours, which it has not", data, CMYK, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			pix, damage, err := Decode(c.data, w, h, 1, c.to)
			assert.Equal(t, c.err, err != nil, "%v", err)
			assert.Equal(t, c.damage, damage != "", damage)
			if !c.err {
				assert.Len(t, pix, 3*w*h)
			}
		})
	}
	_, err := Encode(make([]byte, 10), w, h, 4*w, RGBA, 90)
	assert.ErrorContains(t, err, "10 bytes are not 97 by 61 px")
}
