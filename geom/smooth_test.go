package geom

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// chainNetwork is one stroke along pts, sampled every 0.4 mm with noise mm of
// jitter, as tracing gives it.
func chainNetwork(pts Polyline, closed bool, noise float64) Network {
	rng := rand.New(rand.NewSource(3))
	run := pts.Resampled(0.4)
	for i := range run {
		run[i] = run[i].Add(Pt(rng.NormFloat64(), rng.NormFloat64()).Mul(noise))
	}
	if closed {
		run[len(run)-1] = run[0]
		return Network{Knots: []Knot{{At: run[0], Degree: 2}}, Strokes: []Stroke{{Runs: []Polyline{run}, Knots: []int{0, 0}, Closed: true}}}
	}
	return Network{
		Knots:   []Knot{{At: run[0], Degree: 1}, {At: run[len(run)-1], Degree: 1}},
		Strokes: []Stroke{{Runs: []Polyline{run}, Knots: []int{0, 1}}},
	}
}

func circlePoints(r float64) Polyline {
	var out Polyline
	for i := 0; i <= 720; i++ {
		a := 2 * math.Pi * float64(i) / 720
		out = append(out, Pt(50+r*math.Cos(a), 50+r*math.Sin(a)))
	}
	return out
}

func TestSmoothKeepsShape(t *testing.T) {
	for _, c := range []struct {
		name    string
		pts     Polyline
		closed  bool
		corners int
	}{
		{"straight line", Polyline{Pt(0, 0), Pt(80, 30)}, false, 0},
		{"circle of 40 mm", circlePoints(40), true, 0},
		{"circle of 5 mm", circlePoints(5), true, 0},
		{"square", Polyline{Pt(20, 0), Pt(40, 0), Pt(40, 40), Pt(0, 40), Pt(0, 0), Pt(20, 0)}, true, 4},
		{"sharp V", Polyline{Pt(0, 0), Pt(20, 60), Pt(40, 0)}, false, 1},
		{"step", Polyline{Pt(0, 0), Pt(20, 0), Pt(20, 20), Pt(50, 20)}, false, 2},
		{"turn of 20 degrees is no corner", Polyline{Pt(0, 0), Pt(40, 0), Pt(80, 14.6)}, false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Smooth(chainNetwork(c.pts, c.closed, 0.02), DefaultSmooth())
			require.NoError(t, err)
			k := got.Curves[0]
			assert.Equal(t, c.corners, k.Corners)
			assert.LessOrEqual(t, got.Stray, DefaultSmooth().Deviation)
			flat := k.Flatten(0.005)
			for _, p := range flat.Resampled(0.3) {
				assert.Less(t, c.pts.DistanceTo(p), 0.3)
			}
			for _, p := range c.pts.Resampled(0.3) {
				assert.Less(t, flat.DistanceTo(p), 0.3)
			}
			for i, p := range k.Pieces[1:] {
				assert.Equal(t, k.Pieces[i][3], p[0], "pieces join")
			}
			if c.closed {
				assert.Equal(t, k.Pieces[0][0], k.Pieces[len(k.Pieces)-1][3], "closed")
			}
		})
	}
}

// Where there is no corner the direction does not jump, at the place a closed
// line was cut open either.
func TestSmoothIsSmooth(t *testing.T) {
	got, err := Smooth(chainNetwork(circlePoints(30), true, 0.03), DefaultSmooth())
	require.NoError(t, err)
	k := got.Curves[0].Pieces
	for i, p := range k {
		next := k[(i+1)%len(k)]
		assert.Less(t, p[3].Sub(p[2]).Angle(next[1].Sub(next[0])), 0.01, "between piece %d and the next", i)
	}
}

// The same drawing mirrored gives the same curve mirrored.
func TestSmoothMirrored(t *testing.T) {
	pts := Polyline{Pt(0, 0), Pt(30, 10), Pt(35, 40), Pt(70, 45)}
	n := chainNetwork(pts, false, 0.02)
	m := n.Scaled(1)
	for i := range m.Strokes[0].Runs[0] {
		m.Strokes[0].Runs[0][i].X *= -1
	}
	a, err := Smooth(n, DefaultSmooth())
	require.NoError(t, err)
	b, err := Smooth(m, DefaultSmooth())
	require.NoError(t, err)
	require.Len(t, b.Curves[0].Pieces, len(a.Curves[0].Pieces))
	for i, p := range a.Curves[0].Pieces {
		for j := range p {
			assert.InDelta(t, -p[j].X, b.Curves[0].Pieces[i][j].X, 1e-6)
			assert.InDelta(t, p[j].Y, b.Curves[0].Pieces[i][j].Y, 1e-6)
		}
	}
}

// Strokes that meet go through the shared knot exactly, and the one that
// passes through stays smooth there.
func TestSmoothSharesKnots(t *testing.T) {
	left := Polyline{Pt(0, 0), Pt(30, 0)}.Resampled(0.4)
	right := Polyline{Pt(30, 0), Pt(70, 5)}.Resampled(0.4)
	stem := Polyline{Pt(30, 0), Pt(30, 40)}.Resampled(0.4)
	n := Network{
		Knots: []Knot{{Pt(0, 0), 1}, {Pt(30, 0), 3}, {Pt(70, 5), 1}, {Pt(30, 40), 1}},
		Strokes: []Stroke{
			{Runs: []Polyline{left, right}, Knots: []int{0, 1, 2}},
			{Runs: []Polyline{stem}, Knots: []int{1, 3}},
		},
	}
	got, err := Smooth(n, DefaultSmooth())
	require.NoError(t, err)
	assert.Equal(t, Pt(30, 0), got.Curves[1].Pieces[0][0])
	at := -1
	for i, p := range got.Curves[0].Pieces {
		if p[3] == Pt(30, 0) {
			at = i
		}
	}
	require.GreaterOrEqual(t, at, 0, "the through line has a joint at the knot")
	in, out := got.Curves[0].Pieces[at], got.Curves[0].Pieces[at+1]
	assert.Less(t, in[3].Sub(in[2]).Angle(out[1].Sub(out[0])), 0.01)
}

func TestSmoothRefuses(t *testing.T) {
	_, err := Smooth(Network{}, DefaultSmooth())
	assert.ErrorContains(t, err, "no strokes")
	_, err = Smooth(chainNetwork(circlePoints(9), true, 0), SmoothSettings{})
	assert.ErrorContains(t, err, "deviation")
}

// A ring that was traced from one of its blurred corners on once had a hook there, where it must not move.
func TestClosedLineStartsOffItsCorners(t *testing.T) {
	ends := []Point{{40, 0}, {40, 30}, {0, 30}, {0, 0}}
	const blur = 0.3 // mm cut off each side at a corner
	var line Polyline
	for i, p := range ends {
		before, after := ends[(i+3)%4].Sub(p).Unit(), ends[(i+1)%4].Sub(p).Unit()
		line = append(line, p.Add(before.Mul(blur)), p.Add(after.Mul(blur)))
	}
	first := line[0].Lerp(line[1], 0.5) // of the first corner's blur
	line = append(Polyline{first}, append(line[1:], line[0], first)...)
	c, err := SmoothLine(line.Resampled(0.2), true, DefaultSmooth())
	require.NoError(t, err)
	assert.Equal(t, 4, c.Corners)
	for _, p := range ends {
		at := slices.ContainsFunc(c.Pieces, func(q Cubic) bool { return q[0].Dist(p) < 0.1 })
		assert.True(t, at, "a piece begins in the corner %v", p)
	}
	assert.Equal(t, c.Pieces[0][0], c.Pieces[len(c.Pieces)-1][3], "it is closed")
	for _, p := range ends {
		assert.Greater(t, c.Pieces[0][0].Dist(p), 5.0, "where it starts is no corner")
	}
}
