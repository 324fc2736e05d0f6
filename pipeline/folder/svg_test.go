package folder_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/lines"
	"inkchannel/vision"
)

// Read again, a file of lines has the pens that drew them.
func TestSVGKeepsPens(t *testing.T) {
	a, b := geom.Lines(geom.Pt(10, 10), geom.Pt(60, 10)), geom.Lines(geom.Pt(10, 30), geom.Pt(60, 30))
	b.Ink = 1
	pens := []vision.Pen{vision.PenOf(20, 60, 180), vision.PenOf(200, 30, 40)}
	for _, c := range []struct {
		name string
		pens []vision.Pen
		inks int
	}{{"two", pens, 2}, {"one", pens[:1], 1}, {"none known", nil, 1}} {
		t.Run(c.name, func(t *testing.T) {
			text := folder.SVG(geom.Centreline{Curves: []geom.Curve{a, b}}, geom.Pt(100, 50), c.pens)
			assert.Equal(t, 2, strings.Count(string(text), `<path d="M`), "as it always began")
			d, err := lines.Read(text)
			require.NoError(t, err)
			require.Len(t, d.Inks, c.inks)
			assert.Equal(t, c.inks-1, d.Curves[1].Ink)
			if c.inks > 1 {
				assert.InDelta(t, 20, d.Inks[0].R, 6)
				assert.InDelta(t, 200, d.Inks[1].R, 6)
			}
		})
	}
}
