package cutting

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline/lines"
	"inkchannel/testdata/outside"
)

// known are lines, arcs, a free curve and areas whose lengths and sizes geometry gives.
func known() []Layer {
	sine := geom.Curve{Pieces: []geom.Cubic{{geom.Pt(10, 60), geom.Pt(40, 120), geom.Pt(70, 0), geom.Pt(100, 60)}}}
	ring := geom.Arc(geom.Pt(100, 50), 20, 0, 360)
	return []Layer{
		{Name: "straight", Colour: 1, Curves: []geom.Curve{geom.Lines(geom.Pt(10, 10), geom.Pt(40, 50))}},
		{Name: "bent", Colour: 3, Curves: []geom.Curve{geom.Lines(geom.Pt(10, 10), geom.Pt(40, 50), geom.Pt(40, 90))}},
		{Name: "quarter", Colour: 5, Curves: []geom.Curve{geom.Arc(geom.Pt(50, 50), 40, 0, 45)}},
		{Name: "back", Colour: 5, Curves: []geom.Curve{geom.Arc(geom.Pt(50, 50), 40, 90, 50)}},
		{Name: "whole", Colour: 7, Curves: []geom.Curve{ring}},
		{Name: "free", Colour: 7, Curves: []geom.Curve{sine}},
		{Name: "area", Colour: 7, Rings: []geom.Ring{{geom.Pt(0, 0), geom.Pt(80, 0), geom.Pt(80, 60)}}},
		{Name: "holes", Colour: 1, Holes: []Circle{{At: geom.Pt(12.5, 30), Diameter: 4.5}}},
	}
}

// lengths are what geometry gives for them, mm.
func lengths() map[string]float64 {
	return map[string]float64{
		"straight": 50, "bent": 90, "quarter": 40 * math.Pi / 4, "back": 40 * math.Pi * 40 / 180, "whole": 40 * math.Pi,
		"free": geom.Curve{Pieces: known()[5].Curves[0].Pieces}.Length(), "area": 80 + 60 + 100,
	}
}

// A second reader finds every length, the areas and the hole, each on its layer, and takes single lines
// and arcs for such.
func TestDXFReadBack(t *testing.T) {
	got := outside.ReadDXF(t, DXF(known(), geom.Pt(160, 120)))
	assert.Empty(t, got.Faults)
	assert.Equal(t, "AC1009", got.Version)
	for name, want := range lengths() {
		assert.InDelta(t, want, got.Layers[name].Length, 2e-3*want, name)
	}
	assert.InDelta(t, 80*60/2, got.Layers["area"].Area, 1e-6)
	assert.InEpsilon(t, math.Pi*400, got.Layers["whole"].Area, 1e-3)
	assert.Equal(t, map[string]int{"LINE": 1}, got.Layers["straight"].Kinds)
	assert.Equal(t, map[string]int{"ARC": 1}, got.Layers["quarter"].Kinds)
	assert.Equal(t, map[string]int{"ARC": 1}, got.Layers["back"].Kinds)
	assert.Equal(t, map[string]int{"POLYLINE": 1}, got.Layers["whole"].Kinds)
	assert.Equal(t, [][3]float64{{12.5, 30, 4.5}}, got.Layers["holes"].Circles)
}

// What stands below the sheet, as a foot does, is in view, and bounds the DXF.
func TestViewTakesAllIn(t *testing.T) {
	foot := []Layer{{Name: "foot", Rings: []geom.Ring{{geom.Pt(40, -13), geom.Pt(80, -13), geom.Pt(80, 20), geom.Pt(40, 20)}}, Holes: []Circle{{At: geom.Pt(160, 60), Diameter: 4}}}}
	svg := string(SVG(foot, geom.Pt(160, 120)))
	assert.Contains(t, svg, `width="162.000mm" height="133.000mm" viewBox="0.000 0.000 162.000 133.000"`)
	dxf := string(DXF(foot, geom.Pt(160, 120)))
	assert.Regexp(t, `\$EXTMIN\n10\n0(\.0*)?\n20\n-13(\.0*)?\n`, dxf)
	bent := []Layer{{Name: "arc", Curves: []geom.Curve{geom.Arc(geom.Pt(0, 50), 20, 90, 270)}}}
	assert.InDelta(t, -20, extent(bent, geom.Pt(160, 120)).Min.X, 0.05, "an arc's middle counts")
}

// The same lines come back from the SVG, y down.
func TestSVGReadBack(t *testing.T) {
	size := geom.Pt(160, 120)
	for _, l := range known() {
		if len(l.Holes) > 0 {
			continue
		}
		d, err := lines.Read(SVG([]Layer{l}, size))
		require.NoError(t, err, l.Name)
		assert.Equal(t, size, d.Size)
		sum := 0.0
		for _, c := range d.Curves {
			sum += c.Length()
		}
		assert.InDelta(t, lengths()[l.Name], sum, 2e-3*sum, l.Name)
		for _, c := range l.Curves {
			start, end := c.Pieces[0][0], c.Pieces[len(c.Pieces)-1].At(0.5)
			assert.InDelta(t, geom.Upended(start, size.Y).X, d.Curves[0].Pieces[0][0].X, 1e-3)
			_, off := geom.NewRuler(d.Curves[0]).Nearest(geom.Upended(end, size.Y))
			assert.Less(t, off, 2*arcStray, "%s: an arc bends the right way", l.Name)
		}
	}
}

// Arcs stray from a curve by no more than they may.
func TestArcsStray(t *testing.T) {
	for name, k := range map[string]geom.Cubic{
		"a wave":    {geom.Pt(0, 0), geom.Pt(30, 60), geom.Pt(60, -60), geom.Pt(90, 0)},
		"a loop":    {geom.Pt(0, 0), geom.Pt(90, 60), geom.Pt(-40, 60), geom.Pt(50, 0)},
		"a cusp":    {geom.Pt(0, 0), geom.Pt(50, 50), geom.Pt(0, 50), geom.Pt(50, 0)},
		"very flat": {geom.Pt(0, 0), geom.Pt(100, 0.001), geom.Pt(200, 0.001), geom.Pt(300, 0)},
		"a point":   {geom.Pt(1, 1), geom.Pt(1, 1), geom.Pt(1, 1), geom.Pt(1, 1)},
	} {
		t.Run(name, func(t *testing.T) {
			p := pathOf(geom.Curve{Pieces: []geom.Cubic{k}})
			for i := range 400 {
				at, best := k.At(float64(i)/400), math.Inf(1)
				for j := 1; j < len(p.vertices); j++ {
					a, b := p.vertices[j-1], p.vertices[j].at
					best = min(best, offArc(a.at, b, a.bulge, at))
				}
				assert.Less(t, best, 2*arcStray)
			}
		})
	}
}
