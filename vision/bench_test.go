package vision

import (
	"fmt"
	"image"
	"image/png"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"inkchannel/geom"
	"inkchannel/testdata/outside"
)

// inkedPage is a page of 12 megapixels with broad random strokes, 2.3 million
// pixels of ink.
func inkedPage() *Bitmap {
	const pen = 19.0 // half the pen's width, px
	b := NewBitmap(4000, 3000)
	rng := rand.New(rand.NewSource(4))
	at := geom.Pt(2000, 1500)
	for b.Count() < 2_300_000 {
		to := geom.Pt(100+3800*rng.Float64(), 100+2800*rng.Float64())
		for y := int(min(at.Y, to.Y) - pen - 1); y <= int(max(at.Y, to.Y)+pen+1); y++ {
			for x := int(min(at.X, to.X) - pen - 1); x <= int(max(at.X, to.X)+pen+1); x++ {
				p := geom.Pt(float64(x)+0.5, float64(y)+0.5)
				if f, _ := geom.Foot(at, to, p); f.Dist(p) < pen {
					b.Pix[y*b.W+x] = 1
				}
			}
		}
		at = to
	}
	return b
}

// BenchmarkThin thins a page of 12 megapixels, and has scikit-image and OpenCV's
// contributed module thin the same page.
func BenchmarkThin(b *testing.B) {
	page := inkedPage()
	b.ResetTimer()
	for range b.N {
		Thin(page)
	}
	b.StopTimer()
	b.StopTimer()
	ours := b.Elapsed().Seconds() / float64(b.N)
	name := filepath.Join(b.TempDir(), "page.png")
	f, err := os.Create(name)
	if err != nil {
		b.Fatal(err)
	}
	g := image.NewGray(image.Rect(0, 0, page.W, page.H))
	for i, v := range page.Pix {
		g.Pix[i] = 255 * v
	}
	if err := png.Encode(f, g); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	out, err := exec.Command(outside.Python(b, "cv2", "skimage"), "../testdata/outside/thinspeed.py", name).Output()
	if err != nil {
		b.Fatal(err)
	}
	var thin, skeleton, opencv float64
	if _, err := fmt.Sscan(string(out), &thin, &skeleton, &opencv); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(page.Count()), "ink_px")
	b.ReportMetric(thin/ours, "x_skimage_thin")
	b.ReportMetric(skeleton/ours, "x_skimage_skeletonize")
	b.ReportMetric(opencv/ours, "x_opencv")
}
