package vision

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
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

// tiffOf is a TIFF whose resolution, which the encoder has as 72 dots an inch, is another (TIFF 6.0,
// section 8).
func tiffOf(t *testing.T, img image.Image, x, y uint32, unit byte) []byte {
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, img, nil))
	was, out := []byte{72, 0, 0, 0, 1, 0, 0, 0}, b.Bytes()
	require.Equal(t, 2, bytes.Count(out, was))
	for _, v := range []uint32{x, y} {
		binary.LittleEndian.PutUint32(out[bytes.Index(out, was):], v)
	}
	tag := []byte{0x28, 1, 3, 0, 1, 0, 0, 0, 2}
	require.Equal(t, 1, bytes.Count(out, tag))
	out[bytes.Index(out, tag)+len(tag)-1] = unit
	return out
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
		{"PNG of long pixels", pngOf(t, img, 8000, 4000, 1), 24, 8},
		{"PNG of far too long pixels", pngOf(t, img, 8000, 2000, 1), 24, 0},
		{"JPEG per inch", jpegOf(t, img, 200, 200, 1), 24, 200 / 25.4},
		{"JPEG per cm", jpegOf(t, img, 118, 118, 2), 24, 11.8},
		{"TIFF per inch", tiffOf(t, img, 300, 300, 2), 24, 300 / 25.4},
		{"TIFF per cm", tiffOf(t, img, 118, 118, 3), 24, 11.8},
		{"TIFF of long pixels, as of a coarse fax", tiffOf(t, img, 204, 98, 2), 24, 204 / 25.4},
		{"TIFF of flat pixels", tiffOf(t, img, 100, 200, 2), 24, 200 / 25.4},
		{"JPEG of long pixels, halved", jpegOf(t, img, 200, 100, 1), 0.07, 100 / 25.4},
		{"TIFF of a shape only", tiffOf(t, img, 1, 1, 1), 24, 0},
		{"JPEG of a shape only", jpegOf(t, img, 1, 1, 0), 24, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := DefaultLoad()
			s.WorkMegapixels = c.work
			p, err := Load(c.data, s)
			require.NoError(t, err)
			assert.InDelta(t, c.want, p.PxPerMm, 0.001)
			assert.Equal(t, strings.Contains(c.name, "of long") || strings.Contains(c.name, "of flat"), p.Stretched)
			if p.Stretched {
				high, wide := 300.0, 400.0
				switch {
				case strings.Contains(c.name, "fax"):
					high *= 204.0 / 98
				case strings.Contains(c.name, "flat"):
					wide *= 2
				default:
					high *= 2
				}
				assert.InEpsilon(t, wide/high, float64(p.W)/float64(p.H), 0.01)
			}
		})
	}
}
