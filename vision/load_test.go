package vision

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// The same small photo in each format (made with Debian's heif-enc, cwebp and
// OpenCV): a teapot on a sheet, 480 by 360 px.
func TestLoadFormats(t *testing.T) {
	ref := mustLoad(t, mustRead(t, "../testdata/photos/teapot.jpg"))
	var asPNG, asTIFF bytes.Buffer
	require.NoError(t, png.Encode(&asPNG, goImage(ref.Colour)))
	require.NoError(t, tiff.Encode(&asTIFF, goImage(ref.Colour), &tiff.Options{Compression: tiff.Deflate}))
	for _, c := range []struct {
		name string
		data []byte
		tol  float64
	}{
		{"JPEG", mustRead(t, "../testdata/photos/teapot.jpg"), 0},
		{"PNG", asPNG.Bytes(), 0},
		{"TIFF", asTIFF.Bytes(), 0},
		{"WebP", mustRead(t, "../testdata/photos/teapot.webp"), 8},
		{"HEIC", mustRead(t, "../testdata/photos/teapot.heic"), 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := mustLoad(t, c.data)
			assert.Equal(t, c.name, p.Format)
			assert.Equal(t, [2]int{480, 360}, [2]int{p.W, p.H})
			assert.Equal(t, 1.0, p.Shrink)
			assert.LessOrEqual(t, meanDifference(p.Colour, ref.Colour), c.tol)
		})
	}
}

// A black rectangle on white, 64 by 40 px, compressed as faxes are, with zeros that are black: as Pillow
// 9.4 (libtiff 4.5) writes and reads it.
func TestLoadFaxTIFF(t *testing.T) {
	for _, c := range []struct{ name, data string }{
		{"group 4", "SUkqACAAAAAmoHhv//yKE////////x//////gAgAgAAJAAABAwABAAAAQAAAAAEBAwABAAAAKAAAAAIBAwABAAAAAQAAAAMBAwABAAAABAAAAAYBAwABAAAAAQAAABEBBAABAAAACAAAABYBAwABAAAAKAAAABcBBAABAAAAFwAAABwBAwABAAAAAQAAAAAAAAA="},
		{"group 3", "SUkqANoAAAAAE1A8NwATUDw3ABNQPDcAE1A8NwATUDw3ABNQPDcAE1A8NwATUDw3ABNRQgNYAJqKEBrABNRQgNYAJqKEBrABNRQgNYAJqKEBrABNRQgNYAJqKEBrABNRQgNYAJqKEBrABNRQgNYAJqKEBrABNRQgNYAJqB4bgAmoHhuACageG4AJqB4bgAmoHhuACageG4AJqB4bgAmoHhuACageG4AJqB4bgAmoHhuACageG4AJqB4bgAmoHhuACageG4AJqB4bgAmoHhuACageG4AJqB4bgAAJAAABAwABAAAAQAAAAAEBAwABAAAAKAAAAAIBAwABAAAAAQAAAAMBAwABAAAAAwAAAAYBAwABAAAAAQAAABEBBAABAAAACAAAABYBAwABAAAAKAAAABcBBAABAAAA0QAAABwBAwABAAAAAQAAAAAAAAA="},
	} {
		t.Run(c.name, func(t *testing.T) {
			data, err := base64.StdEncoding.DecodeString(c.data)
			require.NoError(t, err)
			img, err := decodeTIFF(bytes.NewReader(data))
			require.NoError(t, err)
			light := func(x, y int) uint8 { return color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y }
			assert.Equal(t, []uint8{255, 0, 0, 255}, []uint8{light(0, 0), light(8, 8), light(30, 20), light(31, 21)})
		})
	}
}

// The pictures of a file are counted: three of 8 by 2 px as Pillow 9.4 writes them, and chains made by hand in
// the other order of bytes.
func TestPicturesOfTIFF(t *testing.T) {
	three, err := base64.StdEncoding.DecodeString("SUkqAAgAAAAIAAABBAABAAAACAAAAAEBBAABAAAAAgAAAAMBAwABAAAAAQAAAAYBAwABAAAAAQAAABEBBAABAAAAbgAAABYBBAABAAAAAgAAABcBBAABAAAAAgAAABwBAwABAAAAAQAAAHgAAAAAAElJKgAIAAAACAAAAQQAAQAAAAgAAAABAQQAAQAAAAIAAAADAQMAAQAAAAEAAAAGAQMAAQAAAAEAAAARAQQAAQAAAN4AAAAWAQQAAQAAAAIAAAAXAQQAAQAAAAIAAAAcAQMAAQAAAAEAAADoAAAA//9JSSoACAAAAAgAAAEEAAEAAAAIAAAAAQEEAAEAAAACAAAAAwEDAAEAAAABAAAABgEDAAEAAAABAAAAEQEEAAEAAABOAQAAFgEEAAEAAAACAAAAFwEEAAEAAAACAAAAHAEDAAEAAAABAAAAAAAAAAAA")
	require.NoError(t, err)
	for _, c := range []struct {
		name string
		data []byte
		want int
	}{
		{"three by Pillow", three, 3},
		{"two, the last bytes first", []byte("MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\x00\x0e\x00\x00\x00\x00\x00\x00"), 2},
		{"beyond the end", []byte("MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\xff\x0e"), 1},
		{"a ring", []byte("MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\x00\x08"), mostPictures},
		{"cut off", []byte("II*\x00\x08"), 0},
	} {
		assert.Equal(t, c.want, tiffPictures(c.data), c.name)
	}
}

// A HEIC of 12 megapixels, more than the decoder's own size function reads.
func TestLoadFullSizeHEIC(t *testing.T) {
	p := mustLoad(t, mustRead(t, "../testdata/photos/full-size.heic"))
	assert.Equal(t, [2]int{4000, 3000}, [2]int{p.W, p.H})
	_, err := Load(mustRead(t, "../testdata/photos/full-size.heic"), LoadSettings{MaxMegapixels: 11, WorkMegapixels: 11})
	assert.ErrorContains(t, err, "HEIC of 4000 by 3000 px is 12 megapixels, over the limit of 11")
}

func mustRead(t *testing.T, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	return data
}

func mustLoad(t *testing.T, data []byte) Photo {
	t.Helper()
	p, err := Load(data, DefaultLoad())
	require.NoError(t, err)
	return p
}

func goImage(c *Colour) image.Image {
	img := image.NewRGBA(image.Rect(0, 0, c.W, c.H))
	for i := range c.W * c.H {
		img.SetRGBA(i%c.W, i/c.W, color.RGBA{c.Pix[3*i+2], c.Pix[3*i+1], c.Pix[3*i], 255})
	}
	return img
}

func meanDifference(a, b *Colour) float64 {
	sum := 0.0
	for i, v := range a.Pix {
		d := float64(v) - float64(b.Pix[i])
		sum += max(d, -d)
	}
	return sum / float64(len(a.Pix))
}

// corners is a picture whose four corners differ, so that no turn or mirroring
// looks like another: red, green / blue, white.
func corners() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 640, 320))
	for y := range 320 {
		for x := range 640 {
			c := []color.RGBA{{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}, {255, 255, 255, 255}}[y/160*2+x/320]
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

// stored turns the picture to how a camera stores it with an orientation tag:
// pixel (x, y) of the upright picture is at the place this returns.
func stored(o, x, y, w, h int) (int, int) {
	switch o {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6: // shown turned a quarter clockwise
		return y, w - 1 - x
	case 7:
		return h - 1 - y, w - 1 - x
	case 8:
		return h - 1 - y, x
	}
	return x, y
}

// exifBlock is a TIFF block with the orientation tag alone.
func exifBlock(o int) []byte {
	b := []byte("MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x00\x00\x00\x00\x00\x00\x00")
	b[19] = byte(o)
	return b
}

func withJPEGEXIF(data []byte, o int) []byte {
	body := append([]byte("Exif\x00\x00"), exifBlock(o)...)
	head := binary.BigEndian.AppendUint16([]byte{0xff, 0xd8, 0xff, 0xe1}, uint16(len(body)+2))
	return append(append(head, body...), data[2:]...)
}

func withPNGEXIF(data []byte, o int) []byte {
	chunk := append([]byte("eXIf"), exifBlock(o)...)
	out := append([]byte(nil), data[:33]...) // signature and IHDR
	out = binary.BigEndian.AppendUint32(out, uint32(len(chunk)-4))
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, data[33:]...)
}

func TestLoadTurnsUpright(t *testing.T) {
	up := corners()
	for o := 1; o <= 8; o++ {
		w, h := 640, 320
		if o > 4 {
			w, h = 320, 640
		}
		img := image.NewRGBA(image.Rect(0, 0, w, h))
		for y := range 320 {
			for x := range 640 {
				u, v := stored(o, x, y, 640, 320)
				img.Set(u, v, up.At(x, y))
			}
		}
		var j, p bytes.Buffer
		require.NoError(t, jpeg.Encode(&j, img, &jpeg.Options{Quality: 100}))
		require.NoError(t, png.Encode(&p, img))
		for name, data := range map[string][]byte{"JPEG": withJPEGEXIF(j.Bytes(), o), "PNG": withPNGEXIF(p.Bytes(), o)} {
			got := mustLoad(t, data)
			require.Equal(t, [2]int{640, 320}, [2]int{got.W, got.H}, "%s, orientation %d", name, o)
			for _, at := range [][2]int{{80, 80}, {560, 80}, {80, 240}, {560, 240}} {
				want := up.RGBAAt(at[0], at[1])
				i := 3 * (at[1]*640 + at[0])
				assert.InDelta(t, want.R, got.Pix[i+2], 6, "%s, orientation %d, red at %v", name, o, at)
				assert.InDelta(t, want.G, got.Pix[i+1], 6, "%s, orientation %d, green at %v", name, o, at)
				assert.InDelta(t, want.B, got.Pix[i], 6, "%s, orientation %d, blue at %v", name, o, at)
			}
		}
	}
}

func TestLoadKinds(t *testing.T) {
	encode := func(img image.Image) []byte {
		var b bytes.Buffer
		require.NoError(t, png.Encode(&b, img))
		return b.Bytes()
	}
	grey16 := image.NewGray16(image.Rect(0, 0, 200, 200))
	clear := image.NewNRGBA(image.Rect(0, 0, 200, 200)) // all transparent
	for i := range grey16.Pix {
		grey16.Pix[i] = 0x80
	}
	for _, c := range []struct {
		name string
		data []byte
		want uint8
	}{
		{"16-bit grey", encode(grey16), 0x80},
		{"transparent is paper", encode(clear), 255},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := mustLoad(t, c.data)
			for _, v := range p.Pix {
				require.Equal(t, c.want, v)
			}
		})
	}
}

func TestLoadShrinks(t *testing.T) {
	s := LoadSettings{MaxMegapixels: 1, WorkMegapixels: 0.05}
	for _, name := range []string{"teapot.jpg", "teapot.heic"} {
		p, err := Load(mustRead(t, "../testdata/photos/"+name), s)
		require.NoError(t, err)
		assert.LessOrEqual(t, p.W*p.H, 50000, name)
		assert.InDelta(t, 480, float64(p.W)*p.Shrink, 0.01, name)
	}
}

// A JPEG of printer's colours (four inks) looks as it should; of an animated PNG
// the still picture is taken. Both are made by Pillow.
func TestLoadOddKinds(t *testing.T) {
	for _, name := range []string{"cmyk.jpg", "animated.png"} {
		p, err := Load(mustRead(t, "../testdata/photos/"+name), DefaultLoad())
		require.NoError(t, err, name)
		require.Equal(t, [2]int{240, 220}, [2]int{p.W, p.H}, name)
		at := func(x, y int) [3]int {
			i := 3 * (y*p.W + x)
			return [3]int{int(p.Pix[i]), int(p.Pix[i+1]), int(p.Pix[i+2])}
		}
		for i, want := range [3]int{30, 30, 200} { // a red square
			assert.InDelta(t, want, at(60, 60)[i], 12, name)
			assert.InDelta(t, 255, at(10, 200)[i], 6, name)
		}
	}
}

func TestLoadRefuses(t *testing.T) {
	whole := mustRead(t, "../testdata/photos/teapot.jpg")
	var p bytes.Buffer
	require.NoError(t, png.Encode(&p, corners()))
	var small bytes.Buffer
	require.NoError(t, png.Encode(&small, image.NewGray(image.Rect(0, 0, 5000, 20))))
	var narrow bytes.Buffer
	require.NoError(t, png.Encode(&narrow, image.NewGray(image.Rect(0, 0, 1, 4000))))
	huge := append([]byte(nil), p.Bytes()...)
	binary.BigEndian.PutUint32(huge[16:], 100000) // a width of 100,000 px
	binary.BigEndian.PutUint32(huge[20:], 100000)
	binary.BigEndian.PutUint32(huge[29:], crc32.ChecksumIEEE(huge[12:29]))
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"empty", nil, "empty"},
		{"text", []byte("a tea room wants a teapot in its window"), "not a photo"},
		{"GIF", []byte("GIF89a\x01\x00\x01\x00"), "not a photo"},
		{"JPEG cut in its pixels", whole[:len(whole)/2], "cut off"},
		{"JPEG cut in its head", whole[:100], "JPEG"},
		{"JPEG marker alone", whole[:3], "JPEG"},
		// Outside: the truncated JPEG that scikit-image ships with its data.
		{"scikit-image's truncated.jpg", mustRead(t, "/usr/lib/python3/dist-packages/skimage/data/truncated.jpg"), "JPEG"},
		{"too small", small.Bytes(), "too small"},
		{"PNG cut short", p.Bytes()[:60], "PNG"},
		{"PNG of 10,000 megapixels", huge, "over the limit"},
		{"HEIC cut short", mustRead(t, "../testdata/photos/teapot.heic")[:3000], "HEIC"},
		{"animated WebP", mustRead(t, "../testdata/photos/animated.webp"), "animated"},
		{"one pixel wide", narrow.Bytes(), "too small"},
		{"WebP cut short", mustRead(t, "../testdata/photos/teapot.webp")[:300], "WebP"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Load(c.data, DefaultLoad())
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// A photo turned and mirrored by hand: where its corners' colours come to lie.
func TestLoadTurnsByHand(t *testing.T) {
	var p bytes.Buffer
	require.NoError(t, png.Encode(&p, corners()))
	for _, c := range []struct {
		turn Turn
		flip bool
		want string // the corners' colours from the top left, row by row
	}{
		{TurnNone, false, "rgbw"},
		{TurnQuarter, false, "brwg"},
		{TurnHalf, false, "wbgr"},
		{TurnBack, false, "gwrb"},
		{TurnNone, true, "grwb"},
		{TurnQuarter, true, "rbgw"},
		{TurnHalf, true, "bwrg"},
		{TurnBack, true, "wgbr"},
	} {
		s := DefaultLoad()
		s.Turn, s.Flip = c.turn, c.flip
		got, err := Load(p.Bytes(), s)
		require.NoError(t, err)
		seen := ""
		for _, at := range [][2]int{{1, 1}, {3, 1}, {1, 3}, {3, 3}} {
			i := 3 * (got.H*at[1]/4*got.W + got.W*at[0]/4)
			seen += map[[3]uint8]string{{0, 0, 255}: "r", {0, 255, 0}: "g", {255, 0, 0}: "b", {255, 255, 255}: "w"}[[3]uint8(got.Pix[i:i+3])]
		}
		assert.Equal(t, c.want, seen, "%s, mirrored %v", c.turn, c.flip)
	}
}
