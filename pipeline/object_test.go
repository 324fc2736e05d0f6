package pipeline_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/specimen"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// thing is a drawing of something flat that lies on an A4 sheet above its dots: strokes of a width that
// together fill its shape.
func thing(name string, wide float64, strokes ...geom.Polyline) specimen.Drawing {
	return specimen.Drawing{
		Name: name, PenWidth: wide, Pen: specimen.Blue, Sheet: geom.Pt(297, 210), DotSize: 5,
		Dots: [2]geom.Point{{X: 98, Y: 192}, {X: 198, Y: 192}}, Strokes: strokes,
	}
}

// card is an identity card of the size of ISO/IEC 7810, ID-1: 85.60 by 53.98 mm, corners of 3.18 mm (from
// memory): a pen twice that wide along and across it, inside.
func card() specimen.Drawing {
	const w, h, r = 85.60, 53.98, 3.18
	lo, hi := geom.Pt(80+r, 60+r), geom.Pt(80+w-r, 60+h-r)
	strokes := []geom.Polyline{{lo, geom.Pt(hi.X, lo.Y), hi, geom.Pt(lo.X, hi.Y), lo}}
	for y := lo.Y; y < hi.Y; y += r {
		strokes = append(strokes, geom.Polyline{geom.Pt(lo.X, y), geom.Pt(hi.X, y)})
	}
	return thing("card", 2*r, strokes...)
}

// disc is an optical disc of the size of ISO/IEC 10149: 120 mm across with a hole of 15 mm (from memory):
// rings of a narrow pen, as the one of a photograph varies in width.
func disc() specimen.Drawing {
	const pen = 5.0
	var strokes []geom.Polyline
	for r := 7.5 + pen/2; ; r += pen / 2 {
		r = min(r, 60-pen/2)
		strokes = append(strokes, geom.Arc(geom.Pt(150, 95), r, 0, 360).Flatten(0.01))
		if r == 60-pen/2 {
			return thing("disc", pen, strokes...)
		}
	}
}

// What lies on the sheet is followed along its outline, its hole too, as large as the standards have it.
func TestOutlinesOfThings(t *testing.T) {
	t.Parallel()
	area := func(c geom.Curve) float64 { return math.Abs(geom.Ring(c.Flatten(0.01)).Area()) }
	for _, c := range []struct {
		name    string
		d       specimen.Drawing
		lines   vision.LinesOf
		outline geom.Point // its box, mm
		areas   []float64  // mm²
	}{
		{"a card", card(), vision.LinesAuto, geom.Pt(85.60, 53.98), []float64{85.60*53.98 - (4-math.Pi)*3.18*3.18}},
		{"a disc with its hole", disc(), vision.LinesAuto, geom.Pt(120, 120), []float64{math.Pi * 3600, math.Pi * 7.5 * 7.5}},
		{"a disc, said", disc(), vision.LinesOutline, geom.Pt(120, 120), []float64{math.Pi * 3600, math.Pi * 7.5 * 7.5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for tilt, view := range map[string]func(*specimen.View){"from above": nil, "tilted": func(v *specimen.View) { v.Tilt, v.Azimuth = 18, 40 }} {
				p := photo(t, c.d, specimen.White(), view)
				r, err := run(p.JPEG, stage.Run{Settings: settings(t, "lines="+string(c.lines)), Until: pipeline.StageCentreline})
				require.NoError(t, err)
				line := stage.Of[pipeline.CentrelineFound](r).Line
				require.Len(t, line.Curves, len(c.areas), tilt)
				var got []float64
				var whole geom.Point
				for _, k := range line.Curves {
					assert.True(t, k.Closed)
					got = append(got, area(k))
					whole = geom.Pt(max(whole.X, geom.BoundsOf([]geom.Curve{k}, 0.01).Size().X), max(whole.Y, geom.BoundsOf([]geom.Curve{k}, 0.01).Size().Y))
				}
				if got[0] < got[len(got)-1] {
					got[0], got[len(got)-1] = got[len(got)-1], got[0]
				}
				for i, want := range c.areas {
					assert.InEpsilon(t, want, got[i], 0.02, "%s: outline %d", tilt, i)
				}
				assert.InDelta(t, c.outline.X, whole.X, 0.5, tilt)
				assert.InDelta(t, c.outline.Y, whole.Y, 0.5, tilt)
			}
		})
	}
	p := demoPhoto(t)
	r, err := run(p.JPEG, stage.Run{Settings: settings(t), Until: pipeline.StageInk})
	require.NoError(t, err)
	assert.Equal(t, vision.LinesPen, stage.Of[pipeline.InkFound](r).Set.Lines, "pen lines are no thing")
	_, err = run(p.JPEG, stage.Run{Settings: settings(t, "lines=outline"), Until: pipeline.StageInk})
	assert.ErrorContains(t, err, "nothing broad and dark lies on the sheet")
}

// Where much is drawn beside something broad and dark, that may be a shadow: its outline is doubted, unless
// outlines are asked for.
func TestThingBesideADrawingIsDoubted(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		drawn int // short lines beside it
		lines vision.LinesOf
		sure  bool
	}{
		{"alone", 0, vision.LinesAuto, true},
		{"beside a drawing", 16, vision.LinesAuto, false},
		{"asked for", 16, vision.LinesOutline, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := card()
			for i := range c.drawn {
				at := geom.Pt(30+15*float64(i), 30)
				d.Strokes = append(d.Strokes, geom.Polyline{at, at.Add(geom.Pt(0, 12))})
			}
			r, err := run(photo(t, d, specimen.White(), nil).JPEG, stage.Run{Settings: settings(t, "lines="+string(c.lines)), Until: pipeline.StageInk})
			require.NoError(t, err)
			assert.Equal(t, c.sure, !r.Steps[len(r.Steps)-1].Unsure())
		})
	}
}
