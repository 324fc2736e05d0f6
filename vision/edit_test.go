package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// inked is a scene of lines drawn with an 18 px pen.
func inked(lines ...geom.Polyline) scene {
	return scene{w: 900, h: 700, pen: 18, colour: [3]uint8{30, 30, 30}, lines: lines}
}

// mm makes places in mm of px.
func mm(xy ...float64) []geom.Point {
	out := pl(xy...)
	for i, p := range out {
		out[i] = p.Mul(1.0 / scenePxPerMm)
	}
	return out
}

// A dropped line leaves the others as if it had not been drawn.
func TestTraceDropsByHand(t *testing.T) {
	set := DefaultTrace()
	set.Drop = mm(430, 420)
	line := pl(150, 300, 750, 300)
	tr, err := traceBy(t, inked(line, pl(430, 300, 430, 500)), set)
	require.NoError(t, err)
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 2}, tr.Topology())
	assert.Less(t, stray(tr, []geom.Polyline{line}), 1.5)

	// A bridge between two lines.
	set.Drop = mm(430, 380)
	lines := []geom.Polyline{line, pl(150, 460, 750, 460)}
	tr, err = traceBy(t, inked(append(lines, pl(430, 300, 430, 460))...), set)
	require.NoError(t, err)
	assert.Equal(t, geom.Topology{Parts: 2, Ends: 4}, tr.Topology())
	assert.Less(t, stray(tr, lines), 1.5)
}

func TestTraceJoinsByHand(t *testing.T) {
	set := DefaultTrace()
	set.Join = mm(405, 305, 510, 295)
	tr, err := traceBy(t, inked(pl(150, 300, 400, 300), pl(500, 300, 750, 300)), set)
	require.NoError(t, err)
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 2}, tr.Topology())
	assert.Len(t, tr.Strokes, 1)
	assert.Less(t, stray(tr, []geom.Polyline{pl(150, 300, 750, 300)}), 1.5)
	for _, d := range tr.Doubts {
		assert.NotContains(t, d.Why, "pale", "who joined the ends knows that there is no ink")
	}

	// A line's own two ends close it: the gap is a tenth of a circle.
	set.Join = mm(650, 350, 612, 468)
	tr, err = traceBy(t, inked(arcLine(450, 350, 200, 36, 360)), set)
	require.NoError(t, err)
	assert.Equal(t, geom.Topology{Parts: 1, Loops: 1}, tr.Topology())
	require.Len(t, tr.Strokes, 1)
	assert.True(t, tr.Strokes[0].Closed)
	assert.Less(t, stray(tr, []geom.Polyline{arcLine(450, 350, 200, 0, 360)}), 4.0, "the gap is bridged along the circle")

	// Ends that look past each other are joined straight.
	set.Join = mm(400, 300, 400, 500)
	tr, err = traceBy(t, inked(pl(150, 300, 400, 300), pl(150, 500, 400, 500)), set)
	require.NoError(t, err)
	assert.Len(t, tr.Strokes, 1)
	assert.Less(t, stray(tr, []geom.Polyline{pl(150, 300, 400, 300, 400, 500, 150, 500)}), 3.0)
}

// At a Y whose straightest pair is 1 and 2, the hand may say 1 and 3.
func TestTracePassesByHand(t *testing.T) {
	lines := []geom.Polyline{pl(150, 350, 450, 350), pl(450, 350, 750, 300), pl(450, 350, 700, 520)}
	ends := func(set TraceSettings) []geom.Point {
		tr, err := traceBy(t, inked(lines...), set)
		require.NoError(t, err)
		assert.Equal(t, geom.Topology{Parts: 1, Ends: 3, Junctions: 1}, tr.Topology())
		require.Len(t, tr.Strokes, 2)
		for _, s := range tr.Strokes {
			if len(s.Runs) == 2 {
				return []geom.Point{s.Runs[0][0], s.Runs[1][len(s.Runs[1])-1]}
			}
		}
		t.Fatal("no stroke passes")
		return nil
	}
	near := func(p geom.Point, list []geom.Point) bool { return list[0].Dist(p) < 6 || list[1].Dist(p) < 6 }
	set := DefaultTrace()
	auto := ends(set)
	assert.True(t, near(geom.Pt(150, 350), auto) && near(geom.Pt(750, 300), auto))
	set.Pass = mm(400, 350, 500, 385)
	said := ends(set)
	assert.True(t, near(geom.Pt(150, 350), said) && near(geom.Pt(700, 520), said))
	set.Pass = mm(510, 340, 500, 385)
	said = ends(set)
	assert.True(t, near(geom.Pt(750, 300), said) && near(geom.Pt(700, 520), said))
}

// Two lines that meet twice: the junction near the places is meant.
func TestTracePassesAtTheNearerJunction(t *testing.T) {
	set := DefaultTrace()
	set.Pass = mm(260, 350, 285, 290)
	tr, err := traceBy(t, inked(pl(150, 350, 750, 350), arcLine(450, 350, 170, 180, 360)), set)
	require.NoError(t, err)
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 2, Junctions: 2, Loops: 1}, tr.Topology())
	require.Len(t, tr.Strokes, 2)
	lengths := []float64{tr.Strokes[0].Length(), tr.Strokes[1].Length()}
	// The arc now starts with the line's left end; the line's middle ends where it met it.
	assert.InDelta(t, 130+170*3.1416, max(lengths[0], lengths[1]), 12)
}

func TestTraceRefusesByHand(t *testing.T) {
	s := inked(pl(150, 350, 750, 350), pl(450, 100, 450, 600))
	for _, c := range []struct {
		name   string
		change func(*TraceSettings)
		want   string
	}{
		{"nothing to drop", func(s *TraceSettings) { s.Drop = mm(200, 200) }, "no line to remove within 4 mm of x 20.0, y 20.0 mm"},
		{"no end", func(s *TraceSettings) { s.Join = mm(150, 350, 450, 350) }, "no free end to join within 4 mm of x 45.0, y 35.0 mm"},
		{"one end twice", func(s *TraceSettings) { s.Join = mm(150, 350, 155, 352) }, "the same free end"},
		{"no junction", func(s *TraceSettings) { s.Pass = mm(400, 350, 200, 600) }, "no two lines that meet"},
		{"passes twice", func(s *TraceSettings) { s.Pass = mm(400, 350, 450, 300, 400, 350, 450, 400) }, "is continued twice at one junction"},
		{"all dropped", func(s *TraceSettings) { s.Drop = mm(400, 350, 500, 350, 450, 300, 450, 400) }, "no pen line"},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := DefaultTrace()
			c.change(&set)
			_, err := traceBy(t, s, set)
			assert.ErrorContains(t, err, c.want)
		})
	}
}
