package vision

import (
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/testdata/outside"
)

// readBitmap reads a PNG of black and white.
func readBitmap(t *testing.T, file string) *Bitmap {
	t.Helper()
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	img, err := png.Decode(f)
	require.NoError(t, err)
	b := NewBitmap(img.Bounds().Dx(), img.Bounds().Dy())
	for y := range b.H {
		for x := range b.W {
			if r, _, _, _ := img.At(x, y).RGBA(); r > 0x7fff {
				b.Pix[y*b.W+x] = 1
			}
		}
	}
	return b
}

// near is the share of a's pixels that have one of b's within one pixel.
func near(a, b *Bitmap) float64 {
	hit, n := 0, 0
	for y := range a.H {
		for x := range a.W {
			if a.Pix[y*a.W+x] == 0 {
				continue
			}
			n++
			found := b.Pix[y*b.W+x] != 0
			for _, v := range b.around(x, y) {
				found = found || v != 0
			}
			if found {
				hit++
			}
		}
	}
	return float64(hit) / float64(max(n, 1))
}

// Outside check: scikit-image 0.19 and OpenCV 4.6 (Debian 12) on pictures that
// scikit-image ships. skimage.morphology.thin is the same published algorithm,
// so before our last pass the result must be its pixel for pixel.
func TestThinAgainstReferences(t *testing.T) {
	dir := t.TempDir()
	out, err := exec.Command(outside.Python(t, "cv2", "skimage"), "../testdata/outside/thinning.py", dir).CombinedOutput()
	require.NoError(t, err, "%s\n(make test installs python3-skimage and python3-opencv)", out)
	names := strings.Fields(string(out))
	require.GreaterOrEqual(t, len(names), 8)
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			file := func(kind string) *Bitmap { return readBitmap(t, filepath.Join(dir, name+"."+kind+".png")) }
			mask := file("mask")
			p := pack(mask)
			p.thin()
			assert.Equal(t, file("guohall").Pix, p.unpack().Pix, "Guo-Hall pixel for pixel")

			s := Thin(mask)
			parts, holes := flood(mask, 1, true), flood(mask, 0, false)
			assert.Equal(t, parts, flood(s, 1, true), "components")
			assert.Equal(t, holes, flood(s, 0, false), "holes")

			gh := file("guohall")
			assert.Equal(t, parts, flood(gh, 1, true), "components of scikit-image's")
			assert.Equal(t, holes, flood(gh, 0, false), "holes of scikit-image's")
			assert.Equal(t, 1.0, near(s, gh), "ours within 1 px of scikit-image's thin")
			assert.Equal(t, 1.0, near(gh, s), "scikit-image's thin within 1 px of ours")

			// OpenCV runs the same two half-steps in the other order, so single
			// spurs differ.
			cv := file("opencv")
			assert.GreaterOrEqual(t, near(s, cv), 0.98, "ours within 1 px of OpenCV's")
			assert.GreaterOrEqual(t, near(cv, s), 0.98, "OpenCV's within 1 px of ours")

			// skeletonize is Zhang and Suen's algorithm. On lines it agrees; on
			// blobs, such as the horse, whole branches run elsewhere, so its
			// figures are only shown.
			zs := file("skeletonize")
			t.Logf("Zhang-Suen: %.1f %% of ours and %.1f %% of theirs within 1 px", 100*near(s, zs), 100*near(zs, s))
		})
	}
}
