package strip

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// settleSet has cuts of 12.5 mm and lines that stay as they are.
func settleSet() Settings {
	return Settings{Turn: 20, Cut: 12.5, Half: 2.5, Hole: 2.6, Dark: 3, Joints: 3}
}

// settled covers lines with strip and settles it.
func settled(t *testing.T, set Settings, curves ...geom.Curve) (geom.Centreline, Plan) {
	t.Helper()
	in := geom.Join(curves, 0.01)
	p, err := Route(in, nil, geom.Pt(0, -100), set)
	require.NoError(t, err)
	p = p.Settled(in, set)
	assertSettled(t, in, p, set)
	assertApart(t, in, p, set.Half)
	return in, p
}

// assertSettled checks what holds for all plans: strip of whole cuts that covers the lines once and
// does not overlap, no hole under any of it, each piece soldered on to one that ends or starts
// where it starts, and lengths that add up.
func assertSettled(t *testing.T, c geom.Centreline, p Plan, set Settings) {
	t.Helper()
	assertCovered(t, c, p)
	in := make([]int, len(p.Pieces))
	for i, q := range p.Pieces {
		assert.InDelta(t, q.Path, q.Strip+q.Gaps[0]+q.Gaps[1], 1e-6, "piece %d", i)
		cuts := q.Strip / set.Cut
		assert.InDelta(t, cuts, float64(int(cuts+0.5)), 1e-6, "piece %d is cut at marks", i)
		assert.GreaterOrEqual(t, min(q.Gaps[0], q.Gaps[1]), -1e-6, "piece %d", i)
		if q.After >= 0 && q.Strip > 0 {
			host := p.Pieces[q.After]
			assert.Contains(t, []int{host.Start.Node, host.End.Node}, q.Start.Node, "piece %d after %d", i, q.After)
			assert.Equal(t, host.Chain, q.Chain)
		}
	}
	rulers := geom.Rulers(c.Curves)
	strips := p.laid(rulers)
	for _, ch := range p.Chains {
		sum, before := 0.0, map[int]bool{-1: true}
		for _, k := range ch.Pieces {
			sum, in[k] = sum+p.Pieces[k].Strip, in[k]+1
			assert.Positive(t, p.Pieces[k].Strip, "piece %d of a chain", k)
			assert.True(t, before[p.Pieces[k].After], "piece %d comes after %d in its chain", k, p.Pieces[k].After)
			before[k] = true
		}
		assert.InDelta(t, sum, ch.Strip, 1e-6)
		for i, s := range strips {
			if len(s.line) > 1 && (i != ch.Pieces[0] || !p.Pieces[i].open(0)) {
				off, past := from(s.line, ch.Tap)
				assert.True(t, off > set.Half+set.Hole/2-0.15 || past > set.Hole/2-0.15, "piece %d lies over a hole", i)
			}
		}
	}
	for i, n := range in {
		if p.Pieces[i].Strip > 0 {
			assert.Equal(t, 1, n, "piece %d is in one chain", i)
		}
	}
}

// A piece that just fits is not left dark where it curls so far that it can lie no nearer to its free end.
func TestSettledCurl(t *testing.T) {
	for _, radius := range []float64{2.2, 2.4, 2.6, 2.8, 3, 3.5} {
		degrees := 12.55 / radius * 180 / math.Pi
		_, p := settled(t, settleSet(), geom.Arc(geom.Pt(0, radius), radius, 0, degrees))
		for i, q := range p.Pieces {
			assert.Positive(t, q.Strip, "piece %d, radius %g", i, radius)
		}
	}
}

// A bar between two lines that strip passes along is cut once more where what whole cuts leave
// would be dark at its ends, and as seldom as will do.
func TestSettledJoints(t *testing.T) {
	never, two := settleSet(), settleSet()
	never.Joints, two.Cut = 0, 20
	h := func(width float64) []geom.Curve {
		return []geom.Curve{line(0, -50.2, 0, 50.2), line(width, -50.2, width, 50.2), line(0, 0, width, 0)}
	}
	for _, c := range []struct {
		name   string
		set    Settings
		curves []geom.Curve
		pieces int
		dark   int
	}{
		{"full but for what may stay dark", settleSet(), h(83.5), 3, 0},
		{"half a cut left", settleSet(), h(87.5), 4, 0},
		{"half a cut left, never joined", never, h(87.5), 3, 2},
		{"more left than one joint takes", two, h(97), 6, 0},
		{"of one cut there are no two parts", settleSet(), h(27), 3, 2},
		{"a ring", settleSet(), []geom.Curve{circle(0, 0, 54.5/6.283185)}, 2, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			in, p := settled(t, c.set, c.curves...)
			assert.Len(t, p.Pieces, c.pieces)
			assert.Len(t, p.Dark(in, 2.5, 3), c.dark)
		})
	}
}

// Where strips end in a corner, each dark end counts with the other: two of 2 mm are one of 4.
func TestDarkGoesRoundCorners(t *testing.T) {
	in := geom.Join([]geom.Curve{line(0, 0, 52, 0), line(52, 0, 52, 52)}, 0.01)
	corner := Place{Node: 1, At: geom.Pt(52, 0)}
	p := Plan{Pieces: []Piece{
		{Spans: []Span{{0, 0, 52}}, Path: 52, Strip: 50, Gaps: [2]float64{0, 2}, After: -1, End: corner},
		{Spans: []Span{{1, 0, 52}}, Path: 52, Strip: 50, Gaps: [2]float64{2, 0}, Start: corner, End: Place{Node: 2}},
	}}
	dark := p.Dark(in, 2.5, 3)
	require.Len(t, dark, 1)
	assert.InDelta(t, 4, dark[0].Length, 0.01)
	assert.Equal(t, corner.At, dark[0].At)
	assert.Empty(t, p.Dark(in, 2.5, 4.1))
}

// A line whose end meets its own side is lit there by itself.
func TestDarkByOwnStrip(t *testing.T) {
	in := geom.Join([]geom.Curve{line(0, -60, 0, 60, 62, 60, 62, 0, 1, 0)}, 0.01)
	p := Plan{Pieces: []Piece{{Spans: []Span{{0, 0, 303}}, Path: 303, Strip: 297.6, Gaps: [2]float64{0, 5.4}, After: -1}}}
	dark := p.Dark(in, 2.5, 3)
	require.Len(t, dark, 1)
	assert.InDelta(t, 5.4-1.5, dark[0].Length, 0.2, "the last 1.5 mm lie on its strip")
}

// On random drawings of upright, level and oblique lines all strip keeps apart and off the holes,
// whatever is settled or joined, plain or addressable.
func TestSettledAnything(t *testing.T) {
	rng := rand.New(rand.NewSource(11))
	lit, joined := 0, 0
	for k := range 150 {
		var cs []geom.Curve
		seen := map[[2]geom.Point]bool{} // no line lies on another
		for range 2 + rng.Intn(4) {
			way := []geom.Point{geom.Pt(1, 0), geom.Pt(0, 1), geom.Pt(1, 1), geom.Pt(1, -1)}[rng.Intn(4)]
			at := geom.Pt(float64(rng.Intn(9)), float64(rng.Intn(9))).Mul(20)
			if on := [2]geom.Point{way, way.Perp().Mul(at.Dot(way.Perp()))}; !seen[on] {
				seen[on] = true
				cs = append(cs, geom.Lines(at, at.Add(way.Mul(float64(30+20*rng.Intn(5))+2*rng.Float64()))))
			}
		}
		set := settleSet()
		set.Data = k%4 == 0
		in := geom.Join(cs, 0.01)
		p, err := Route(in, nil, geom.Pt(80, -100), set)
		require.NoError(t, err)
		if before := len(p.Pieces); before > 0 {
			overlap := overlaps(in, p, set.Half)
			dark := len(p.Dark(in, set.Half, set.Dark))
			p = p.Settled(in, set)
			assertSettled(t, in, p, set)
			assert.LessOrEqual(t, overlaps(in, p, set.Half), overlap+0.05, "mm²")
			lit += dark - len(p.Dark(in, set.Half, set.Dark))
			joined += len(p.Pieces) - before
		}
		if t.Failed() {
			t.Fatalf("drawing %d", k)
		}
	}
	assert.Positive(t, lit, "fewer places stay dark")
	assert.Positive(t, joined)
}

// Water poured over steps of these heights stands so high.
func TestFilled(t *testing.T) {
	for _, c := range []struct {
		name   string
		steps  []float64
		amount float64
		level  float64
	}{
		{"one", []float64{2}, 3, 5},
		{"all covered", []float64{0, 1, 2}, 6, 3},
		{"the high one dry", []float64{0, 1, 9}, 5, 3},
		{"nothing poured", []float64{4, 1}, 0, 1},
		{"nothing on level ground", []float64{2, 2}, 0, 2},
		{"just to the brim", []float64{0, 3}, 3, 3},
	} {
		t.Run(c.name, func(t *testing.T) { assert.InDelta(t, c.level, filled(c.steps, c.amount), 1e-6) })
	}
}

// Wires come up at a joint where an end has no room for them, but not where a place was asked for.
func TestFedAtJoint(t *testing.T) {
	bar := []geom.Curve{line(0, -50.2, 0, 50.2), line(86.4, -50.2, 86.4, 50.2), line(0, -25, 86.4, 25)}
	tapOfBar := func(starts ...geom.Point) geom.Point {
		set := settleSet()
		set.Hole, set.Starts = 2.9, starts
		_, p := settled(t, set, bar...)
		for _, c := range p.Chains {
			if c.Tap.X > 1 && c.Tap.X < 84 {
				return c.Tap
			}
		}
		t.Fatal("the bar has no wires")
		return geom.Point{}
	}
	joint := tapOfBar()
	assert.Greater(t, min(joint.X, 86.4-joint.X), 12.0, "%v", joint)
	assert.Less(t, tapOfBar(geom.Pt(0, -25)).X, 7.0)
	assert.Greater(t, tapOfBar(geom.Pt(86.4, 25)).X, 78.0)
}

// Plus goes on along one side where pieces meet end to start, and changes it where both start.
func TestPlusLeft(t *testing.T) {
	at := func(node int) Place { return Place{Node: node} }
	p := Plan{Pieces: []Piece{
		{Start: at(1), End: at(0), After: -1},
		{Start: at(1), End: at(2), After: 0},
		{Start: at(2), End: at(3), After: 1},
		{Start: at(0), End: at(4), After: 0},
		{Start: at(5), End: at(6), After: -1},
	}, Chains: []Chain{{Pieces: []int{0, 1, 2, 3}}, {Pieces: []int{4}}}}
	assert.Equal(t, []bool{true, false, false, true, true}, p.PlusLeft())
}
