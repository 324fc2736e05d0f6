package vision

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/testdata/outside"
)

// Outside check: scikit-image's rgb2lab on a lattice of colours.
func TestLabAgainstSkimage(t *testing.T) {
	script := `
import json, numpy as np
from skimage.color import rgb2lab
v = np.linspace(0, 1, 6)
rgb = np.array([[r, g, b] for r in v for g in v for b in v])
print(json.dumps({"rgb": rgb.tolist(), "lab": rgb2lab(rgb[None])[0].tolist()}))`
	out, err := exec.Command(outside.Python(t, "skimage"), "-c", script).Output()
	require.NoError(t, err, "make test installs python3-skimage")
	var want struct{ RGB, Lab [][3]float64 }
	require.NoError(t, json.Unmarshal(out, &want))
	require.Len(t, want.RGB, 216)
	for i, c := range want.RGB {
		got := labOf(linear(c[0]), linear(c[1]), linear(c[2]))
		w := want.Lab[i]
		assert.Less(t, got.Dist(Lab{w[0], w[1], w[2]}), 0.1, fmt.Sprint(c))
	}
}

func TestGatherPens(t *testing.T) {
	black, pencil := [3]float64{0.05, 0.05, 0.06}, [3]float64{0.55, 0.54, 0.55}
	thinBlack := [3]float64{0.6, 0.6, 0.61}
	red, blue := [3]float64{0.45, 0.03, 0.05}, [3]float64{0.04, 0.06, 0.3}
	pale := [3]float64{0.85, 0.95, 0.99}
	bluish := [3]float64{0.33, 0.36, 0.49}
	grey, tinted := [3]float64{0.52, 0.52, 0.5}, [3]float64{0.79, 0.803, 0.78}
	green := [3]float64{0.05, 0.35, 0.08}
	ballpoint, lightly := [3]float64{0.205, 0.169, 0.274}, [3]float64{0.385, 0.271, 0.558}
	for _, c := range []struct {
		name    string
		left    [][3]float64
		lengths []float64
		apart   float64
		of      []int
		names   []string
	}{
		{"one pen, dry and thin in places", [][3]float64{black, thinBlack, black}, []float64{40, 8, 60}, 25, []int{0, 0, 0}, []string{"black"}},
		{"a pencil and a black pen, which differ in lightness alone", [][3]float64{pencil, black}, []float64{20, 190}, 25, []int{0, 0}, []string{"black"}},
		{"three pens, the longest first", [][3]float64{red, black, blue, black}, []float64{30, 40, 10, 50}, 25, []int{1, 0, 2, 0}, []string{"black", "red", "blue"}},
		{"all one by choice", [][3]float64{red, black}, []float64{30, 400}, 0, []int{0, 0}, []string{"black"}},
		{"too short for a pen of its own", [][3]float64{red, black}, []float64{4, 40}, 25, []int{0, 0}, []string{"black"}},
		{"too pale for a hue, and nearest to the red", [][3]float64{black, red, pale}, []float64{30, 40, 10}, 25, []int{1, 0, 0}, []string{"red", "black"}},
		{"specks of a rule under black", [][3]float64{black, bluish, bluish}, []float64{400, 6, 5}, 25, []int{0, 0, 0}, []string{"black"}},
		{"one blot in a long drawing", [][3]float64{black, bluish}, []float64{1100, 9}, 25, []int{0, 0}, []string{"black"}},
		{"as much in a short one", [][3]float64{black, bluish}, []float64{150, 9}, 25, []int{0, 1}, []string{"black", "blue"}},
		{"short marks that are much of the drawing", [][3]float64{black, bluish, bluish}, []float64{60, 6, 5}, 25, []int{0, 1, 1}, []string{"black", "blue"}},
		{"short marks in another colour", [][3]float64{black, red, red}, []float64{400, 6, 5}, 25, []int{0, 1, 1}, []string{"black", "red"}},
		{"a pale stretch whose tint is the camera's", [][3]float64{grey, tinted}, []float64{240, 140}, 25, []int{0, 0}, []string{"grey"}},
		{"a green pen beside a black one", [][3]float64{black, green}, []float64{140, 240}, 25, []int{1, 0}, []string{"green", "black"}},
		{"a blue ballpoint, pressed and held lightly", [][3]float64{ballpoint, lightly}, []float64{80, 30}, 25, []int{0, 0}, []string{"violet"}},
		{"none", nil, nil, 25, []int{}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			var n geom.Network
			var seen []strokeInk
			for i, l := range c.lengths {
				seen = append(seen, strokeInk{left: c.left[i], places: int(l), length: l})
				n.Strokes = append(n.Strokes, geom.Stroke{Runs: []geom.Polyline{{{Y: 5 * float64(i)}, {X: l, Y: 5 * float64(i)}}}})
			}
			p := gatherPens(seen, n, c.apart)
			assert.Equal(t, c.of, p.Of)
			var names []string
			for _, pen := range p.All {
				names = append(names, pen.Name)
			}
			assert.Equal(t, c.names, names)
		})
	}
}

// The pieces of a printed margin that is not straight on bent paper were once told as
// a pen's, without a doubt.
func TestPenOfOneLine(t *testing.T) {
	stroke := func(pts ...geom.Point) geom.Stroke { return geom.Stroke{Runs: []geom.Polyline{pts}} }
	for _, c := range []struct {
		name    string
		strokes []geom.Stroke
		want    bool
	}{
		{"pieces of a margin that bends", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(21, 60)), stroke(geom.Pt(21.5, 90), geom.Pt(21, 140))}, true},
		{"one line of a drawing", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(21, 140))}, false},
		{"two short pieces", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(20, 20)), stroke(geom.Pt(20, 30), geom.Pt(20, 40))}, false},
		{"pieces of two margins that cross", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(21, 120)), stroke(geom.Pt(21, 130), geom.Pt(21, 220)), stroke(geom.Pt(5, 12), geom.Pt(60, 13))}, true},
		{"a great cross of slanting lines", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(21, 220)), stroke(geom.Pt(5, 12), geom.Pt(60, 43))}, false},
		{"a margin and a bit of a letter", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(21, 120)), stroke(geom.Pt(21, 130), geom.Pt(21, 220)), stroke(geom.Pt(21, 125), geom.Pt(25, 127))}, true},
		{"two margins and a word", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(21, 220)), stroke(geom.Pt(5, 12), geom.Pt(60, 13)), stroke(geom.Pt(70, 50), geom.Pt(75, 60))}, false},
		{"an L", []geom.Stroke{stroke(geom.Pt(20, 10), geom.Pt(20, 140)), stroke(geom.Pt(20, 140), geom.Pt(60, 140))}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Pens{Of: make([]int, len(c.strokes))}
			assert.Equal(t, c.want, p.Lined(0, geom.Network{Strokes: c.strokes}, 100))
			assert.False(t, p.Lined(1, geom.Network{Strokes: c.strokes}, 100), "a pen that drew nothing")
		})
	}
}

// A stroke that lies so close to others that no paper shows beside it has no
// colour to see; it was once taken for a black pen's.
func TestPenOfHemmedStroke(t *testing.T) {
	const px = 10
	sheet, ink := NewColour(400, 200), NewBitmap(400, 200)
	for i := range sheet.Pix {
		sheet.Pix[i] = 230
	}
	line := func(y, wide int, b, g, r uint8) {
		for v := y - wide/2; v <= y+wide/2; v++ {
			for x := 20; x < 380; x++ {
				i := v*400 + x
				ink.Pix[i] = 1
				sheet.Pix[3*i], sheet.Pix[3*i+1], sheet.Pix[3*i+2] = b, g, r
			}
		}
	}
	var n geom.Network
	for _, y := range []int{40, 60, 80} {
		line(y, 18, 40, 30, 190)
		mm := float64(y) / px
		n.Strokes = append(n.Strokes, geom.Stroke{Width: 1.8, Runs: []geom.Polyline{{{X: 2, Y: mm}, {X: 38, Y: mm}}}})
	}
	p, err := FindPens(sheet, ink, n, px, DefaultPens())
	require.NoError(t, err)
	require.Len(t, p.All, 1)
	assert.Equal(t, "red", p.All[0].Name)
	assert.Equal(t, []int{0, 0, 0}, p.Of)
}

// A colour taken to CIELAB and back is the same.
func TestSRGB(t *testing.T) {
	for _, c := range [][3]uint8{{0, 0, 0}, {255, 255, 255}, {200, 30, 40}, {20, 60, 180}, {3, 5, 9}, {120, 120, 119}} {
		red, green, blue := PenOf(c[0], c[1], c[2]).Colour.SRGB()
		for i, v := range []uint8{red, green, blue} {
			assert.InDelta(t, c[i], v, 1, "%v", c)
		}
	}
	red, green, blue := Lab{60, 120, -120}.SRGB()
	assert.Equal(t, uint8(255), blue, "the nearest that there is of %d, %d, %d", red, green, blue)
}

// Names of inks as they are seen and as they would be with the paper covered; common practice, no source.
func TestColourName(t *testing.T) {
	for _, c := range []struct {
		name        string
		seen, cover Lab
	}{
		{"black", Lab{25, 1, 1}, Lab{20, 1, 2}},
		{"grey", Lab{74, 0, -2}, Lab{36, 2, -12}},
		{"yellow", Lab{92, -8, 50}, Lab{88, -5, 90}},
		{"grey", Lab{58, 3, 11}, Lab{47, 4, 19}},  // black on brown paper
		{"black", Lab{40, 3, 11}, Lab{37, 3, 17}}, // the same, drawn firmly
		{"brown", Lab{40, 18, 25}, Lab{35, 25, 35}},
		{"orange", Lab{70, 30, 50}, Lab{65, 40, 65}},
		{"blue", Lab{45, 9, -17}, Lab{35, 10, -40}},
		{"red", Lab{50, 55, 35}, Lab{45, 60, 40}},
	} {
		assert.Equal(t, c.name, colourName(c.seen, c.cover), "%v %v", c.seen, c.cover)
	}
}
