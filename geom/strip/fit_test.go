package strip

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// fitSet has cuts of 10 mm; ends move by 6 mm and sizes by 2 %.
func fitSet() Settings {
	return Settings{
		Turn: 20, Cut: 10, Half: 2.5, Hole: 2, Dark: 3, Fit: Fit{End: 6, Size: 0.02, Apart: 7.5},
	}
}

// fitted covers lines, fits them and covers them again.
func fitted(t *testing.T, set Settings, curves ...geom.Curve) (geom.Centreline, []Change, Plan) {
	t.Helper()
	in := geom.Join(curves, 0.01)
	feed := geom.Pt(0, -100)
	p, err := Route(in, nil, feed, set)
	require.NoError(t, err)
	out, changes := p.Fitted(in, set)
	again := p.Again(out, nil, feed, set)
	assertCovered(t, out, again)
	assertApart(t, out, again, set.Half)
	return out, changes, again
}

func TestFitted(t *testing.T) {
	noEnds, noSize := fitSet(), fitSet()
	noEnds.Fit.End, noSize.Fit.Size = 2, 0
	for _, c := range []struct {
		name   string
		set    Settings
		curves []geom.Curve
		length float64 // of the first curve, once it is fitted
		dark   int
	}{
		{"shorter at both ends", fitSet(), []geom.Curve{line(0, 0, 104, 0)}, 100.05, 0},
		{"longer at both ends", fitSet(), []geom.Curve{line(0, 0, 97, 0)}, 100.05, 0},
		{"full", fitSet(), []geom.Curve{line(0, 0, 100.3, 0)}, 100.3, 0},
		{"shorter than one cut", fitSet(), []geom.Curve{line(0, 0, 8, 0)}, 10.05, 0},
		{"no further than the limit", noEnds, []geom.Curve{line(0, 0, 104.9, 0)}, 104.9, 0},
		{"an arc goes on round", fitSet(), []geom.Curve{geom.Arc(geom.Pt(0, 0), 40, 0, 139.25)}, 100.05, 0},
		{"ring", fitSet(), []geom.Curve{circle(0, 0, 30)}, 192.05, 0},
		{"ring whose size is to stay", noSize, []geom.Curve{circle(0, 0, 30)}, 60 * math.Pi, 1},
		{"not nearer to another line", fitSet(), []geom.Curve{line(0, 0, 97, 0), line(105, -50, 105, 50)}, 90.05, 0},
		{"ring beside a line", noSize, []geom.Curve{circle(0, 0, 30), line(38, -50, 38, 50)}, 60 * math.Pi, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			out, changes, p := fitted(t, c.set, c.curves...)
			assert.InDelta(t, c.length, geom.NewRuler(out.Curves[0]).Length(), 0.02)
			assert.Len(t, p.Dark(out, 2.5, 3), c.dark)
			for _, ch := range changes {
				assert.LessOrEqual(t, math.Abs(ch.By), c.set.Fit.End)
			}
			for _, k := range out.Curves { // knots go with the ends
				for _, s := range []Place{{At: k.Pieces[0][0], Node: k.Stops[0].Knot}, {At: k.Pieces[len(k.Pieces)-1][3], Node: k.Stops[len(k.Stops)-1].Knot}} {
					assert.InDelta(t, 0, out.Knots[s.Node].At.Dist(s.At), 1e-9)
				}
			}
		})
	}
}

// A ring that a spoke ends at is opened there, where the spoke's strip lights its gap.
func TestRingOpens(t *testing.T) {
	set := fitSet()
	set.Fit.Size = 0
	ring := geom.Arc(geom.Pt(0, 0), 195.2/2/math.Pi, 180, 540) // starts away from the spoke
	spoke := line(195.2/2/math.Pi, 0, 195.2/2/math.Pi+82.6, 0)
	out, _, p := fitted(t, set, ring, spoke)
	assert.Empty(t, p.Dark(out, 2.5, 3))
	assert.Len(t, p.Chains, 1, "the ring is soldered on to the spoke")
	two := geom.Join([]geom.Curve{line(0, 0, 100, 0), line(50, 0, 50, 63)}, 0.01)
	opened, err := Route(two, nil, geom.Pt(0, -100), Settings{Turn: 20, Cut: 45, Half: 2.5, Hole: 2, Dark: 3})
	require.NoError(t, err)
	assert.Equal(t, 2, opened.Bound, "the fewest are as many as ever, in %d pieces", len(opened.Pieces))
	set.Dark = anyDark
	out, _, p = fitted(t, set, ring, spoke)
	assert.NotEmpty(t, p.Dark(out, 2.5, 3), "what the ring leaves dark where the spoke ends at its side")
}

// A bar between two lines, which has no free end, is lit once the whole drawing is of another
// size, and stays as it is where that is not allowed.
func TestSizes(t *testing.T) {
	h := geom.Join([]geom.Curve{line(0, 0, 0, 100), line(112, 0, 112, 100), line(0, 50, 112, 50)}, 0.01)
	set := fitSet()
	p, err := Route(h, nil, geom.Pt(0, -100), set)
	require.NoError(t, err)
	best := p.Sizes(set, 1)[0]
	assert.Positive(t, p.darkAt(geom.Pt(1, 1), set))
	assert.Zero(t, p.darkAt(best, set))
	assert.Less(t, best.X, 1.0, "the bar gets shorter")
	assert.GreaterOrEqual(t, best.X, 0.98)
	set.Fit.Grow = true
	assert.GreaterOrEqual(t, p.Sizes(set, 1)[0].X, 1.0)
	set.Fit.Size = 0
	assert.Equal(t, []geom.Point{{X: 1, Y: 1}}, p.Sizes(set, 3))
}

func TestSizesAboutOne(t *testing.T) {
	fit := Fit{Size: 0.02}
	about := fit.Around(geom.Pt(1.019, 0.98))
	assert.Len(t, about, 5, "what lies less than half a step beyond 2 % is left out")
	for _, p := range about {
		assert.InDelta(t, 0.001, max(math.Abs(p.X-1.019), math.Abs(p.Y-0.98)), 1e-9)
		assert.LessOrEqual(t, max(p.X-1, 1-p.Y), 0.02+1e-9)
	}
	assert.Len(t, fit.Around(geom.Pt(1, 1)), 8)
	fit.Grow = true
	assert.Len(t, fit.Around(geom.Pt(1, 1)), 3, "none smaller")
	assert.Empty(t, Fit{}.Around(geom.Pt(1, 1)))
}
