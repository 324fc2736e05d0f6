package geom_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/geom"
)

func TestFrameTurned(t *testing.T) {
	f := geom.Frame{Size: geom.Pt(200, 100)}
	for _, c := range []struct {
		name        string
		turn        float64
		sheet, sign geom.Point
	}{
		{"as drawn", 0, geom.Pt(150, 50), geom.Pt(150, 50)},
		{"upper left", 0, geom.Pt(0, 0), geom.Pt(0, 100)},
		{"a quarter anticlockwise", 90, geom.Pt(150, 50), geom.Pt(100, 100)},
		{"a quarter clockwise", -90, geom.Pt(150, 50), geom.Pt(100, 0)},
		{"half way round", 180, geom.Pt(110, 20), geom.Pt(90, 20)},
	} {
		t.Run(c.name, func(t *testing.T) {
			f.Turn = c.turn
			at := func(want, p geom.Point) { assert.InDelta(t, 0, want.Dist(p), 1e-9, "%v, not %v", p, want) }
			at(c.sign, f.Sign(c.sheet))
			at(c.sheet, f.Sheet(c.sign))
			at(f.Upend(c.sign), f.Plan(c.sheet))
		})
	}
}
