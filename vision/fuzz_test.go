package vision

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/image/tiff"

	"inkchannel/geom"
)

// Whatever the bytes: a photo within the limits or an error in one line.
func FuzzLoad(f *testing.F) {
	for _, name := range []string{"teapot.jpg", "teapot.webp", "teapot.heic"} {
		data, err := os.ReadFile(filepath.Join("../testdata/photos", name))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	var p, t bytes.Buffer
	pic := image.NewGray16(image.Rect(0, 0, 210, 205))
	for i := range pic.Pix {
		pic.Pix[i] = uint8(i * 7)
	}
	if err := png.Encode(&p, pic); err != nil {
		f.Fatal(err)
	}
	if err := tiff.Encode(&t, pic, nil); err != nil {
		f.Fatal(err)
	}
	f.Add(p.Bytes())
	f.Add(t.Bytes())
	limits := LoadSettings{MaxMegapixels: 0.3, WorkMegapixels: 0.05}
	f.Fuzz(func(t *testing.T, data []byte) {
		photo, err := Load(data, limits)
		if err != nil {
			if bytes.ContainsRune([]byte(err.Error()), '\n') {
				t.Fatalf("an error in several lines: %q", err)
			}
			return
		}
		if n := photo.W * photo.H; n == 0 || len(photo.Pix) != 3*n || float64(n) > 1e6*limits.WorkMegapixels {
			t.Fatalf("a photo of %d by %d px with %d bytes", photo.W, photo.H, len(photo.Pix))
		}
	})
}

// Whatever the ink: strokes that hang together, or an error.
func FuzzTrace(f *testing.F) {
	f.Add([]byte("\xff\x00\xff\x00"), uint8(7), uint8(1))
	f.Add([]byte("a line, a ring and a crossing"), uint8(16), uint8(3))
	f.Add(bytes.Repeat([]byte{0x81, 0x42, 0x24, 0x18}, 20), uint8(20), uint8(2))
	f.Fuzz(func(t *testing.T, bits []byte, width, zoom uint8) {
		w, z := int(width)%60+2, int(zoom)%4+1
		n := min(8*len(bits), 3600)
		h := n/w + 2
		b := NewBitmap(w*z, h*z)
		level := NewGrey(b.W, b.H)
		for y := range b.H {
			for x := range b.W {
				if i := y/z*w + x/z; i < n && bits[i/8]>>(i%8)&1 == 1 {
					b.Pix[y*b.W+x], level.Pix[y*b.W+x] = 1, 200
				}
			}
		}
		for i, v := range b.Pix { // a bitmap that touches its border has no edge there
			if x, y := i%b.W, i/b.W; v == 1 && (x == 0 || y == 0 || x == b.W-1 || y == b.H-1) {
				b.Pix[i], level.Pix[i] = 0, 0
			}
		}
		tr, err := Trace(&Ink{Mask: b, Level: level}, Thin(b), 4, DefaultTrace())
		if err != nil {
			return
		}
		frame := geom.Rect{Min: geom.Pt(-40, -40), Max: geom.Pt(float64(b.W)+40, float64(b.H)+40)}
		for i, s := range tr.Strokes {
			if len(s.Knots) != len(s.Runs)+1 {
				t.Fatalf("stroke %d has %d runs and %d knots", i, len(s.Runs), len(s.Knots))
			}
			for k, r := range s.Runs {
				if len(r) < 2 || r[0] != tr.Knots[s.Knots[k]].At || r[len(r)-1] != tr.Knots[s.Knots[k+1]].At {
					t.Fatalf("stroke %d, run %d does not go from knot to knot", i, k)
				}
				for _, p := range r {
					if !(p.X > frame.Min.X && p.Y > frame.Min.Y && p.X < frame.Max.X && p.Y < frame.Max.Y) {
						t.Fatalf("stroke %d leaves the picture: %v", i, p)
					}
				}
			}
		}
	})
}
