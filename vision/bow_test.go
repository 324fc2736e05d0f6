package vision

import (
	"image"
	"image/color"
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// roughSheet is a photo of white paper on a dark table, seen aslant, whose edges wander by so many
// px as cut paper's do; at takes the unit square to it.
func roughSheet(wander float64, seed int64) (photo *Colour, q [4]geom.Point, at func(geom.Point) geom.Point) {
	q = [4]geom.Point{{X: 860, Y: 160}, {X: 1485, Y: 690}, {X: 1045, Y: 1785}, {X: 130, Y: 1340}}
	at = fourPoint([4]geom.Point{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}}, q).Apply
	rng := rand.New(rand.NewSource(seed))
	var outline []image.Point
	const shift = 4 // bits of a px that places are drawn to
	corners := [4]geom.Point{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}}
	for i, a := range corners {
		b := corners[(i+1)%4]
		var phase [4]float64
		for k := range phase {
			phase[k] = 2 * math.Pi * rng.Float64()
		}
		across := at(b).Sub(at(a)).Unit().Perp()
		for n := range 200 {
			t := float64(n) / 200
			off := 0.0
			for k, p := range phase {
				off += wander / 2 * math.Sin(2*math.Pi*float64(k+1)*t+p)
			}
			p := at(a.Lerp(b, t)).Add(across.Mul(off)).Mul(1 << shift)
			outline = append(outline, image.Pt(int(p.X), int(p.Y)))
		}
	}
	photo = &Colour{W: 1500, H: 2000, Pix: make([]uint8, 3*1500*2000)}
	for i := range photo.Pix {
		photo.Pix[i] = 70
	}
	mat := photo.mat()
	defer mat.Close()
	pts := gocv.NewPointsVectorFromPoints([][]image.Point{outline})
	defer pts.Close()
	gocv.FillPolyWithParams(&mat, pts, color.RGBA{R: 225, G: 225, B: 225}, gocv.LineAA, shift, image.Point{})
	gocv.GaussianBlur(mat, &mat, image.Pt(5, 5), 1, 1, gocv.BorderDefault)
	return photo, q, at
}

// The edges of a flat sheet wander a little. A bow that explained that moved what is drawn, along
// edges where only the corners tell of it, and by up to 25 px of a real photo's 2,000.
func TestBowOfRoughSheet(t *testing.T) {
	for _, wander := range []float64{0.8, 1.5, 2.5} {
		for seed := range int64(8) {
			photo, q, at := roughSheet(wander, seed)
			shape, _, _, ok := findBow(photo, q, 1, PageA4)
			if !ok || shape == nil {
				continue
			}
			for _, u := range []geom.Point{{X: 0.25, Y: 0.25}, {X: 0.75, Y: 0.25}, {X: 0.5, Y: 0.5}, {X: 0.25, Y: 0.75}, {X: 0.75, Y: 0.75}} {
				assert.Less(t, shape(u).Dist(at(u)), 5.5, "edges that wander by %g px, seed %d", wander, seed)
			}
		}
	}
}
