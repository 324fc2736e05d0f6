package marks

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/testdata/outside"
)

// a4 is a sheet on its side (ISO 216).
func a4() geom.Point { return geom.Pt(297, 210) }

// camera is a view from mm of the drawing to px, of a phone held somewhat aslant over a place.
func camera(over geom.Point, tilt, turn float64) func(geom.Point) geom.Point {
	sin, cos := math.Sincos(geom.Radians(turn))
	return func(p geom.Point) geom.Point {
		d := p.Sub(over)
		x, y := cos*d.X-sin*d.Y, sin*d.X+cos*d.Y
		w := 1 + y*math.Sin(geom.Radians(tilt))/450
		return geom.Pt(2000+10*x/w, 1500+10*y*math.Cos(geom.Radians(tilt))/w)
	}
}

// taped are six sheets laid three beside three, by hand.
func taped() map[int]Pose {
	return map[int]Pose{
		1: {}, 2: {geom.Pt(297.6, 0.8), geom.Radians(0.3)}, 3: {geom.Pt(595.9, 1.1), geom.Radians(-0.2)},
		4: {geom.Pt(0.3, 210.7), geom.Radians(-0.4)}, 5: {geom.Pt(296.8, 211.9), geom.Radians(0.2)}, 6: {geom.Pt(595.1, 212.2), 0},
	}
}

// shots are what photographs show of the sheets that lie within reach mm of where they look, with a
// stray of so many px.
func shots(lay map[int]Pose, over []geom.Point, reach, stray float64) (photos [][]Seen) {
	rnd := rand.New(rand.NewPCG(5, 8))
	for k, o := range over {
		see := camera(o, 12, float64(7*k-10))
		var seen []Seen
		for sheet := 1; sheet <= Most; sheet++ {
			pose, ok := lay[sheet]
			for _, m := range Of(sheet) {
				at := pose.Apply(m.At(a4()))
				if ok && math.Abs(at.X-o.X) < reach && math.Abs(at.Y-o.Y) < reach*0.75 {
					shapes := m.Shapes(a4())
					seen = append(seen, Seen{
						Mark: m, At: see(at).Add(geom.Pt(rnd.NormFloat64(), rnd.NormFloat64()).Mul(stray)),
						Dot: see(pose.Apply(shapes[m.Sheet].Middle)), Bar: see(pose.Apply(shapes[len(shapes)-1].Middle)),
					})
				}
			}
		}
		photos = append(photos, seen)
	}
	return photos
}

// middles are places over each sheet, between it and the next, so that the photographs overlap.
func middles(lay map[int]Pose) (over []geom.Point) {
	for sheet := 1; sheet <= len(lay); sheet++ {
		over = append(over, lay[sheet].Apply(a4().Mul(0.5)))
	}
	return over
}

// The sheets' places are known here, so that what the adjustment finds is compared with the truth.
func TestAdjust(t *testing.T) {
	for _, c := range []struct {
		name           string
		stray          float64 // px, at 10 px/mm
		places, angles float64 // mm and degrees that sheets may be off
	}{
		{"exact", 0, 1e-6, 1e-6},
		{"a third of a pixel", 0.33, 0.15, 0.06},
	} {
		t.Run(c.name, func(t *testing.T) {
			lay := taped()
			photos := shots(lay, middles(lay), 190, c.stray)
			p, err := Adjust(photos, a4())
			require.NoError(t, err)
			require.Len(t, p.Sheets, 6)
			for sheet, want := range lay {
				got := p.Sheets[sheet]
				for _, m := range Of(sheet) {
					assert.InDelta(t, 0, got.Apply(m.At(a4())).Dist(want.Apply(m.At(a4()))), c.places, "sheet %d", sheet)
				}
				assert.InDelta(t, 0, geom.Degrees(got.Turn-want.Turn), c.angles)
			}
			assert.LessOrEqual(t, p.Worst, 4*c.stray/10+1e-6)
			for i, r := range p.Rest {
				assert.LessOrEqual(t, r, 1.5*c.stray/10+1e-6, "photo %d", i)
			}
		})
	}
}

func TestAdjustRefuses(t *testing.T) {
	lay := taped()
	apart := map[int]Pose{1: lay[1], 3: lay[3]}
	_, err := Adjust(shots(apart, middles(map[int]Pose{1: lay[1], 2: lay[3]}), 150, 0), a4())
	assert.Equal(t, Unplaced{1}, err, "nothing leads from sheet 1 to sheet 3")
	_, err = Adjust([][]Seen{nil}, a4())
	assert.Equal(t, Unplaced{0}, err)
	row := []Seen{{Mark: Mark{1, UpperLeft}}, {Mark: Mark{1, UpperRight}, At: geom.Pt(100, 0)}, {Mark: Mark{1, LowerRight}, At: geom.Pt(200, 0)}}
	_, err = Adjust([][]Seen{row}, a4())
	assert.Equal(t, Unplaced{0}, err)
}

func TestShapes(t *testing.T) {
	for _, m := range []Mark{{1, UpperLeft}, {9, UpperRight}, {3, LowerRight}, {2, LowerLeft}} {
		shapes := m.Shapes(a4())
		assert.Len(t, shapes, 1+m.Sheet+int(m.Corner))
		for _, s := range shapes {
			assert.Greater(t, min(s.Middle.X, s.Middle.Y, a4().X-s.Middle.X, a4().Y-s.Middle.Y), 10.0, "printers leave a margin")
		}
		dots, bars := shapes[1].Middle.Sub(shapes[0].Middle), shapes[len(shapes)-1].Middle.Sub(shapes[0].Middle)
		assert.Equal(t, m.Turns(), dots.Cross(bars) > 0)
	}
}

// Sheets lie where scipy's least squares (MINPACK's Levenberg and Marquardt) puts them, too.
func TestAdjustAgainstScipy(t *testing.T) {
	lay := taped()
	over := middles(lay)
	photos := shots(lay, over, 190, 0.4)
	given := map[string]any{"size": []float64{a4().X, a4().Y}}
	var rows [][][5]float64
	for _, seen := range photos {
		var row [][5]float64
		for _, s := range seen {
			m := s.Mark.At(a4())
			row = append(row, [5]float64{float64(s.Sheet), m.X, m.Y, s.At.X, s.At.Y})
		}
		rows = append(rows, row)
	}
	about, places := map[string][3]float64{}, [][2]float64{}
	for sheet, p := range lay {
		about[fmt.Sprint(sheet)] = [3]float64{p.At.X, p.At.Y, p.Turn}
	}
	for _, o := range over {
		places = append(places, [2]float64{o.X, o.Y})
	}
	given["photos"], given["about"], given["over"] = rows, about, places
	in, err := json.Marshal(given)
	require.NoError(t, err)
	want := map[string][3]float64{}
	scipy := exec.Command(outside.Python(t, "scipy"), filepath.Join("..", "..", "testdata", "outside", "adjust.py"))
	scipy.Stdin = bytes.NewReader(in)
	out, err := scipy.Output()
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(out, &want))
	got, err := Adjust(photos, a4())
	require.NoError(t, err)
	for sheet, p := range got.Sheets {
		w := want[fmt.Sprint(sheet)]
		assert.InDelta(t, w[0], p.At.X, 1e-3, "sheet %d, mm", sheet)
		assert.InDelta(t, w[1], p.At.Y, 1e-3)
		assert.InDelta(t, w[2], p.Turn, 1e-5)
	}
}

// Sheets of another size than is said, and gaps between them, show.
func TestPlanTells(t *testing.T) {
	lay := map[int]Pose{1: {}, 2: {At: geom.Pt(306, 1)}, 3: {At: geom.Pt(0, 207)}}
	photos := shots(lay, middles(lay), 190, 0)
	p, err := Adjust(photos, a4())
	require.NoError(t, err)
	assert.InDelta(t, 1, p.Wide, 1e-6)
	assert.InDelta(t, 1, p.High, 1e-6)
	gap, ok := p.Apart(1, 2, a4())
	assert.True(t, ok)
	assert.InDelta(t, 9, gap, 1e-6)
	gap, ok = p.Apart(1, 3, a4())
	assert.True(t, ok)
	assert.InDelta(t, -3, gap, 1e-6)
	_, ok = p.Apart(2, 3, a4())
	assert.False(t, ok, "across a corner")
	p, err = Adjust(photos, geom.Pt(279.4, 215.9)) // US Letter, which they are not
	require.NoError(t, err)
	assert.InDelta(t, (279.4-2*Inset)/(297-2*Inset), p.Wide, 0.01)
	assert.InDelta(t, (215.9-2*Inset)/(210-2*Inset), p.High, 0.01)
}
