package vision

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pngOf is a PNG with a pHYs chunk (W3C PNG, third edition, 11.3.4.3) after its header.
func pngOf(t *testing.T, img image.Image, x, y uint32, unit byte) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	body := append([]byte("pHYs"), binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, x), y)...)
	body = append(body, unit)
	chunk := append(binary.BigEndian.AppendUint32(nil, uint32(len(body)-4)), body...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(body))
	const header = 8 + 25 // the signature and IHDR
	return append(append(append([]byte{}, b.Bytes()[:header]...), chunk...), b.Bytes()[header:]...)
}

// jpegOf is a JPEG with a JFIF segment (ITU-T T.871, 10.1).
func jpegOf(t *testing.T, img image.Image, x, y uint16, unit byte) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, nil))
	s := []byte{0xff, 0xe0, 0, 16, 'J', 'F', 'I', 'F', 0, 1, 2, unit, byte(x >> 8), byte(x), byte(y >> 8), byte(y), 0, 0}
	return append(append(append([]byte{}, b.Bytes()[:2]...), s...), b.Bytes()[2:]...)
}

func TestStatedScale(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 400, 300))
	for _, c := range []struct {
		name string
		data []byte
		work float64 // megapixels
		want float64 // px per mm
	}{
		{"PNG of 300 dpi", pngOf(t, img, 11811, 11811, 1), 24, 300 / 25.4},
		{"PNG of 300 dpi, halved", pngOf(t, img, 11811, 11811, 1), 0.04, 150 / 25.4},
		{"PNG of a shape only", pngOf(t, img, 1, 1, 0), 24, 0},
		{"PNG of long pixels", pngOf(t, img, 8000, 4000, 1), 24, 0},
		{"JPEG per inch", jpegOf(t, img, 200, 200, 1), 24, 200 / 25.4},
		{"JPEG per cm", jpegOf(t, img, 118, 118, 2), 24, 11.8},
		{"JPEG of a shape only", jpegOf(t, img, 1, 1, 0), 24, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := DefaultLoad()
			s.WorkMegapixels = c.work
			p, err := Load(c.data, s)
			require.NoError(t, err)
			assert.InDelta(t, c.want, p.PxPerMm, 0.001)
		})
	}
}
