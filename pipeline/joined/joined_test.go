package joined_test

import (
	"bytes"
	"context"
	"image"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/joined"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// px is the made wall's scale, px per mm, and edge the table about it, mm.
const px, edge = 6.0, 30.0

// printed are the sheets as Poppler's pdftoppm prints them, in grey.
func printed(t *testing.T, page vision.Page) []*image.Gray {
	t.Helper()
	_, run := papers.PaperFor(pipeline.Table().Default())
	pdf, err := papers.Sheets(page, run, papers.SheetsPlan{Across: 2, Down: 1})
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "s.pdf"), pdf, 0o600))
	cmd := exec.Command("pdftoppm", "-gray", "-png", "-r", "152.4", "s.pdf", "s") // 6 px per mm
	cmd.Dir = dir
	require.NoError(t, cmd.Run())
	var out []*image.Gray
	for _, name := range []string{"s-1.png", "s-2.png"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		img, err := png.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		grey := image.NewGray(img.Bounds())
		draw.Draw(grey, grey.Rect, img, image.Point{}, draw.Src)
		out = append(out, grey)
	}
	return out
}

// laid are the two sheets side by side on a table, the second with a gap and lower by so many mm,
// and a circle drawn over both.
func laid(sheets []*image.Gray, gap, lower float64, circle geom.Point, radius float64) *image.Gray {
	size := sheets[0].Rect.Size()
	w := image.NewGray(image.Rect(0, 0, 2*size.X+int(2*edge*px), size.Y+int(2*edge*px)))
	for i := range w.Pix {
		w.Pix[i] = 80
	}
	for k, s := range sheets {
		at := geom.Pt(edge, edge)
		if k > 0 {
			at = at.Add(geom.Pt(float64(size.X)/px+gap, lower))
		}
		for y := range size.Y {
			copy(w.Pix[w.PixOffset(int(at.X*px), int(at.Y*px)+y):], s.Pix[y*s.Stride:y*s.Stride+size.X])
		}
	}
	for y := range w.Rect.Dy() {
		for x := range w.Rect.Dx() {
			p := geom.Pt((float64(x)+0.5)/px-edge, (float64(y)+0.5)/px-edge)
			if math.Abs(p.Dist(circle)-radius) < 1 {
				w.Pix[w.PixOffset(x, y)] = 30
			}
		}
	}
	return w
}

// seen is a photograph of a wall from over a place and aslant, as PNG.
func seen(t *testing.T, wall *image.Gray, over geom.Point, tilt, turn float64) []byte {
	t.Helper()
	const w, h, zoom = 2000, 1500, 5.0 // px, and px to a mm
	out := image.NewGray(image.Rect(0, 0, w, h))
	sin, cos := math.Sincos(geom.Radians(turn))
	low, short := math.Sin(geom.Radians(tilt))/420, math.Cos(geom.Radians(tilt))
	for y := range h {
		for x := range w {
			// u, v are where the photograph's pixel lies on the wall, turned.
			fx, fy := (float64(x)+0.5-w/2)/zoom, (float64(y)+0.5-h/2)/zoom
			v := fy / (short - fy*low)
			u := fx * (1 + v*low)
			p := over.Add(geom.Pt(cos*u+sin*v, -sin*u+cos*v)).Add(geom.Pt(edge, edge)).Mul(px).Sub(geom.Pt(0.5, 0.5))
			i, j := int(math.Floor(p.X)), int(math.Floor(p.Y))
			if i < 0 || j < 0 || i+1 >= wall.Rect.Dx() || j+1 >= wall.Rect.Dy() {
				out.Pix[y*w+x] = 80
				continue
			}
			s, r := p.X-float64(i), p.Y-float64(j)
			at := func(a, b int) float64 { return float64(wall.Pix[wall.PixOffset(a, b)]) }
			out.Pix[y*w+x] = uint8((at(i, j)*(1-s)+at(i+1, j)*s)*(1-r) + (at(i, j+1)*(1-s)+at(i+1, j+1)*s)*r)
		}
	}
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, out))
	return b.Bytes()
}

func quiet(int) {}

// Photographs of the printed sheets make one picture, in which a circle over the joint is as large,
// and as round, as it was drawn.
func TestJoin(t *testing.T) {
	for _, page := range []vision.Page{vision.PageA4, vision.PageLetter} {
		t.Run(string(page), func(t *testing.T) {
			_, long, _ := page.Size()
			circle, radius := geom.Pt(long, 105), 60.0
			wall := laid(printed(t, page), 0.3, 0.7, circle, radius)
			w, err := joined.Join([]joined.Photo{
				{Name: "right.png", Data: seen(t, wall, geom.Pt(1.42*long, 105), 15, -5)},
				{Name: "left.png", Data: seen(t, wall, geom.Pt(0.57*long, 105), 12, 4)},
			}, page, quiet)
			require.NoError(t, err)
			require.Len(t, w.Plan.Sheets, 2)
			assert.Less(t, w.Plan.Worst, 0.15, "mm")
			assert.InDelta(t, long+0.3, w.Plan.Sheets[2].At.X, 0.15)
			assert.InDelta(t, 0.7, w.Plan.Sheets[2].At.Y, 0.15)
			photo, err := vision.Load(w.PNG, vision.DefaultLoad())
			require.NoError(t, err)
			assert.InDelta(t, w.PxPerMm, photo.PxPerMm, 0.001, "the file states its scale")
			ink, err := vision.FindInk(photo.Colour, photo.PxPerMm, vision.DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, 1, ink.Spots, "the circle alone")
			lines, err := vision.ThinInk(ink, photo.PxPerMm)
			require.NoError(t, err)
			traced, err := vision.Trace(lines.Ink, lines.Skeleton, photo.PxPerMm, vision.DefaultTrace())
			require.NoError(t, err)
			require.Len(t, traced.Strokes, 1)
			for _, p := range traced.Strokes[0].Runs[0] {
				assert.InDelta(t, radius, p.Mul(1/photo.PxPerMm).Dist(circle), 0.25, "mm")
			}
		})
	}
}

func TestJoinRefuses(t *testing.T) {
	wall := laid(printed(t, vision.PageA4), 0.3, 0.7, geom.Pt(297, 105), 60)
	left := joined.Photo{Name: "left.png", Data: seen(t, wall, geom.Pt(150, 105), 0, 0)}
	for _, c := range []struct {
		name  string
		other joined.Photo
		page  vision.Page
		why   string
	}{
		{"no photo", joined.Photo{Name: "a.txt", Data: []byte("no photo")}, vision.PageA4, "a.txt: not a photo that can be read"},
		{"no mark", joined.Photo{Name: "middle.png", Data: seen(t, wall, geom.Pt(150, 105).Add(geom.Pt(0, 900)), 0, 0)}, vision.PageA4, "middle.png: "},
		{"nothing in common", joined.Photo{Name: "far.png", Data: seen(t, wall, geom.Pt(535, 105), 0, 0)}, vision.PageA4, "far.png cannot be put to the others: left.png shows sheet 1 (all four marks)"},
		{"a sheet that is seen in part", left, vision.PageA4, "sheet 2 is seen in part only, 2 of its 4 marks"},
		{"any page", left, vision.PageFree, "sheets need a fixed size"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := joined.Join([]joined.Photo{left, c.other}, c.page, quiet)
			assert.ErrorContains(t, err, c.why)
		})
	}
}

// Who makes a sign of one photo of several sheets is led to put them together.
func TestOnePhotoOfSeveral(t *testing.T) {
	wall := laid(printed(t, vision.PageA4), 0.3, 0.7, geom.Pt(297, 105), 60)
	_, err := pipeline.RunPhoto(context.Background(), pipeline.Source{Name: "left.png", Data: seen(t, wall, geom.Pt(165, 105), 10, 0)}, stage.Run{
		Settings: pipeline.DefaultSettings(), Until: pipeline.StageDots,
	})
	assert.ErrorContains(t, err, "marks of sheet 1: put the photos of a drawing over several sheets together by inkchannel join")
}
