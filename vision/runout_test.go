package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Three edges of a sheet tell how it lies: what is square on it comes out square,
// by the pinhole camera's own account.
func TestSheetRunsOut(t *testing.T) {
	const f = 4000 * 26.0 / 36
	for _, c := range []struct {
		name                     string
		left, right, top, bottom float64 // mm
		tiltX, tiltY             float64
		out                      Border
	}{
		{"at the right", -150, 450, -105, 105, 12, 5, Right},
		{"at the left, tilted", -450, 120, -110, 90, 20, -12, Left},
		{"at the top", -120, 100, -500, 120, -15, 8, Top},
		{"at the bottom, from above", -110, 110, -100, 400, 0, 0, Bottom},
	} {
		t.Run(c.name, func(t *testing.T) {
			see := func(x, y float64) geom.Point { return pinhole(x, y, f, c.tiltX, c.tiltY) }
			pic := paperOnTable(4000, 3000, [4]geom.Point{
				see(c.left, c.top), see(c.right, c.top), see(c.right, c.bottom), see(c.left, c.bottom),
			}, 235, 90)
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			require.True(t, sh.Found)
			assert.Equal(t, []Border{c.out}, sh.Out)
			mm := func(x, y float64) geom.Point { return sh.FromPhoto(see(x, y)) }
			across, down := mm(40, 20).Sub(mm(-40, 20)), mm(10, 50).Sub(mm(10, -30))
			assert.InEpsilon(t, across.Norm(), down.Norm(), 0.02, "a square is square")
			assert.InDelta(t, 90, across.Angle(down), 1)
		})
	}
}

// Where the paper's edges tell no outline, the table beside it is no ink.
func TestTableBesidePaper(t *testing.T) {
	corner := [4]geom.Point{{X: -400, Y: -300}, {X: 1300, Y: -400}, {X: 1200, Y: 950}, {X: -500, Y: 1000}}
	for _, c := range []struct {
		name         string
		q            [4]geom.Point
		paper, table uint8
		out          []Border
	}{
		{"two edges seen", corner, 235, 80, []Border{Top, Left}},
		{"one level edge seen", [4]geom.Point{{X: -9, Y: -9}, {X: 1700, Y: -9}, {X: 1700, Y: 700}, {X: -9, Y: 700}}, 235, 80, []Border{Top, Right, Left}},
		{"a sheet of paper all over", [4]geom.Point{{X: -9, Y: -9}, {X: 1700, Y: -9}, {X: 1700, Y: 1300}, {X: -9, Y: 1300}}, 235, 80, nil},
		{"a shadow across paper", corner, 235, 190, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic := paperOnTable(1600, 1200, c.q, c.paper, c.table)
			recoloured(pic, func(p geom.Point) (uint8, bool) { // a pen's line on the paper
				return 40, p.X > 200 && p.X < 900 && p.Y > 500 && p.Y < 512
			})
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			assert.False(t, sh.Found)
			assert.Equal(t, c.out, sh.Out)
			at := func(p geom.Point) uint8 {
				q := sh.FromPhoto(p)
				return sh.Image.Pix[3*(int(q.Y)*sh.Image.W+int(q.X))]
			}
			assert.Less(t, at(geom.Pt(500, 506)), uint8(80), "the line is there")
			if c.out != nil {
				assert.InDelta(t, float64(c.paper), float64(at(geom.Pt(1500, 1100))), 12, "the table is not")
				assert.InDelta(t, float64(c.paper), float64(at(geom.Pt(1212, 705))), 12, "nor is its edge")
			}
		})
	}
}

// Paper of which a part lies in a deep shadow is paper all over where what is drawn crosses the shadow's edge; a grey
// table beside it, that nothing is drawn on, is none.
func TestDeepShadowAcrossPaper(t *testing.T) {
	part := [4]geom.Point{{X: -9, Y: -9}, {X: 1700, Y: -9}, {X: 1700, Y: 560}, {X: -9, Y: 760}}
	for _, c := range []struct {
		name  string
		dark  uint8      // what lies beside the lit paper
		lines [2]float64 // from and to where lines are drawn down the paper
		paper bool
	}{
		{"lines cross its edge", 110, [2]float64{200, 1000}, true},
		{"nothing crosses it", 110, [2]float64{100, 400}, false},
		{"lines cross it, too dark for a shadow", 40, [2]float64{200, 1000}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			pic := paperOnTable(1600, 1200, part, 235, c.dark)
			for i := range pic.W * pic.H {
				x, y := float64(i%pic.W), float64(i/pic.W)
				if in := int(x) % 400; in >= 200 && in < 207 && y > c.lines[0] && y < c.lines[1] {
					for k := range 3 {
						pic.Pix[3*i+k] /= 4
					}
				}
			}
			sh, err := Rectify(pic, DefaultSheet())
			require.NoError(t, err)
			assert.Equal(t, c.paper, sh.Out == nil && !sh.Found)
		})
	}
}

// Paper that all but fills the photo, with a rim of table at two sides: too little to leave out, enough to tell that a
// tilt goes unseen. A scan's thin rim is none.
func TestTableShowsBesidePaper(t *testing.T) {
	for _, c := range []struct {
		name   string
		rim    float64 // px at the bottom and at the left
		beside []Border
	}{
		{"a table", 34, []Border{Bottom, Left}},
		{"a scan's rim", 8, nil},
		{"nothing", 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := [4]geom.Point{{X: c.rim, Y: -9}, {X: 1700, Y: -9}, {X: 1700, Y: 1200 - c.rim}, {X: c.rim, Y: 1200 - c.rim}}
			pic := paperOnTable(1600, 1200, q, 230, 60)
			g, err := glanceAt(pic)
			require.NoError(t, err)
			fills, beside, err := paperFills(g.pic)
			require.NoError(t, err)
			assert.True(t, fills)
			assert.Equal(t, c.beside, beside)
		})
	}
}
