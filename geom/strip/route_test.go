package strip

import (
	"cmp"
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// anyDark is a stretch that is never too long to stay dark: strip then passes wherever it can.
const anyDark = 1e6

func line(v ...float64) geom.Curve {
	var pts []geom.Point
	for i := 0; i < len(v); i += 2 {
		pts = append(pts, geom.Pt(v[i], v[i+1]))
	}
	return geom.Lines(pts...)
}

func circle(x, y, r float64) geom.Curve { return geom.Arc(geom.Pt(x, y), r, 0, 360) }

// assertCovered checks that the pieces cover every curve exactly once and that
// each is one unbroken way.
func assertCovered(t *testing.T, c geom.Centreline, p Plan) {
	t.Helper()
	spans := make([][]Span, len(c.Curves))
	for _, q := range p.Pieces {
		var last geom.Point
		for i, s := range q.Spans {
			r := geom.NewRuler(c.Curves[s.Curve])
			if i > 0 {
				assert.InDelta(t, 0, last.Dist(r.At(s.From)), 1e-6, "a piece is unbroken")
			}
			last = r.At(s.To)
			spans[s.Curve] = append(spans[s.Curve], Span{s.Curve, min(s.From, s.To), max(s.From, s.To)})
		}
	}
	for i, k := range c.Curves {
		slices.SortFunc(spans[i], func(a, b Span) int { return cmp.Compare(a.From, b.From) })
		at := 0.0
		for _, s := range spans[i] {
			assert.InDelta(t, at, s.From, 1e-6, "curve %d is covered once", i)
			at = s.To
		}
		assert.InDelta(t, geom.NewRuler(k).Length(), at, 1e-6, "curve %d is covered to its end", i)
	}
}

// assertApart checks that no two pieces of strip, half mm to either side of their lines,
// overlap: no corner or edge of one lies in another.
func assertApart(t *testing.T, c geom.Centreline, p Plan, half float64) {
	t.Helper()
	assert.Less(t, overlaps(c, p, half), 0.05, "mm²")
}

// overlaps is the area in which pieces of strip overlap, mm².
func overlaps(c geom.Centreline, p Plan, half float64) (sum float64) {
	bands := make([]*geos.Geom, len(p.Pieces))
	for i, q := range p.Pieces {
		var way geom.Polyline
		for _, s := range q.Spans {
			r := geom.NewRuler(c.Curves[s.Curve])
			for k := range 401 {
				way = append(way, r.At(s.From+(s.To-s.From)*float64(k)/400))
			}
		}
		var xy [][]float64
		n := max(int(q.Strip/0.25), 1)
		for k := 0; k <= n && q.Strip > 0; k++ {
			at := way.At(q.Gaps[0] + q.Strip*float64(k)/float64(n))
			xy = append(xy, []float64{at.X, at.Y})
		}
		if len(xy) > 0 {
			bands[i] = geos.NewLineString(xy).BufferWithStyle(half, 8, geos.BufCapStyleFlat, geos.BufJoinStyleRound, 5)
		}
		for _, b := range bands[:i] {
			if b != nil && bands[i] != nil {
				sum += b.Intersection(bands[i]).Area()
			}
		}
	}
	return sum
}

func TestRoute(t *testing.T) {
	for _, c := range []struct {
		name   string
		curves []geom.Curve
		pieces int
		chains int
	}{
		{"line", []geom.Curve{line(0, 0, 90, 0)}, 1, 1},
		{"ring", []geom.Curve{circle(0, 0, 30)}, 1, 1},
		{"T", []geom.Curve{line(0, 0, 100, 0), line(50, 0, 50, 40)}, 2, 2},
		{"cross", []geom.Curve{line(0, 0, 100, 0), line(50, -50, 50, 50)}, 3, 3},
		{"cross drawn as four", []geom.Curve{line(50, 0, 0, 0), line(50, 0, 100, 0), line(50, 0, 50, 50), line(50, 0, 50, -50)}, 3, 3},
		{"two apart", []geom.Curve{line(0, 0, 90, 0), line(0, 30, 90, 30)}, 2, 2},
		{"corner left sharp", []geom.Curve{line(0, 0, 60, 0), line(60, 0, 60, 60)}, 2, 1},
		{"end beside another line", []geom.Curve{line(0, 0, 100, 0), line(50, 4, 50, 64)}, 2, 2},
		{"ring with a spoke", []geom.Curve{circle(0, 0, 30), line(30, 0, 90, 0)}, 2, 1},
		{"two rings that cross", []geom.Curve{circle(0, 0, 30), circle(40, 0, 30)}, 2, 2},
		// Two loops drawn apart that run into each other in the middle.
		{"figure eight", []geom.Curve{
			{Pieces: []geom.Cubic{{{X: 0, Y: 0}, {X: 60, Y: 0.1}, {X: 60, Y: 60}, {X: 0, Y: 0}}}},
			{Pieces: []geom.Cubic{{{X: 0, Y: 0}, {X: -60, Y: -0.1}, {X: -60, Y: -60}, {X: 0, Y: 0}}}},
		}, 1, 1},
		// A line runs into a ring along its tangent: one piece goes on round.
		{"ring with a tangent", []geom.Curve{circle(0, 0, 30), line(30, 0, 30, 80)}, 1, 1},
		{"ladder", []geom.Curve{line(0, 0, 90, 0), line(0, 30, 90, 30), line(30, 0, 30, 30), line(60, 0, 60, 30)}, 4, 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := geom.Join(c.curves, 0.01)
			p, err := Route(in, nil, geom.Pt(0, -100), Settings{Turn: 20, Cut: 10, Half: 2.5, Hole: 2, Dark: anyDark})
			require.NoError(t, err)
			assert.Len(t, p.Pieces, c.pieces)
			assert.Equal(t, c.pieces, p.Bound, "as few as can be")
			assert.Len(t, p.Chains, c.chains)
			assert.Len(t, p.Circuits, 1)
			assertApart(t, in, p, 2.5)
			assertCovered(t, in, p)
			for _, q := range p.Pieces {
				assert.InDelta(t, 0, math.Mod(q.Strip+1e-6, 10), 1e-3, "cut at a mark")
				assert.InDelta(t, q.Path, q.Strip+q.Gaps[0]+q.Gaps[1], 1e-6)
				assert.Less(t, q.Path-q.Strip, 10+12.0, "a cut, and what sharp angles take")
			}
		})
	}
	_, err := Route(geom.Centreline{}, nil, geom.Point{}, Settings{})
	assert.ErrorContains(t, err, "over 0")
}

// A ring starts where the wires come in, also between its knots; a piece that
// ends at another's side stops before it.
func TestRouteFeed(t *testing.T) {
	in := geom.Join([]geom.Curve{circle(0, 0, 30), line(30, 0, 91, 0)}, 0.01)
	p, err := Route(in, nil, geom.Pt(0, 31), Settings{Turn: 20, Cut: 10, Half: 2.5, Dark: anyDark})
	require.NoError(t, err)
	assertCovered(t, in, p)
	require.Len(t, p.Pieces, 2)
	for _, q := range p.Pieces {
		if q.Closed {
			assert.InDelta(t, 0, q.Start.At.Dist(geom.Pt(0, 30)), 0.1)
			assert.Equal(t, 180.0, q.Strip, "of 188.5 mm")
			continue
		}
		assert.InDelta(t, 0, q.Start.At.Dist(geom.Pt(91, 0)), 0.01, "wires come up at the free end")
		assert.Equal(t, 50.0, q.Strip, "61 mm less 2.5 have room for 5 cuts")
		assert.InDelta(t, 8.5, q.Gaps[0]+q.Gaps[1]-2.5, 0.1)
		assert.InDelta(t, q.Gaps[0], q.Gaps[1]-2.5, 0.15, "both ends show as much of what is left")
	}
}

// What stays dark: a ring's gap, what a cut's length leaves at a free end, but not what the
// strip that passes at a T lights.
func TestDark(t *testing.T) {
	in := geom.Join([]geom.Curve{line(0, 0, 104, 0), line(50, 0, 50, 37.6)}, 0.01)
	p, err := Route(in, nil, geom.Pt(0, -100), Settings{Turn: 20, Cut: 10, Half: 2.5, Hole: 2, Dark: anyDark})
	require.NoError(t, err)
	assert.Equal(t, 30.0, p.Pieces[1].Strip)
	assert.Empty(t, p.Dark(in, 2.5, 2.7), "2 mm at either end of 104; 5.1 mm shared beyond the 2.5 of 37.6")
	dark := p.Dark(in, 2.5, 2.1)
	require.Len(t, dark, 2)
	assert.InDelta(t, 2.55, dark[0].Length, 0.06)
	assert.InDelta(t, 0, dark[1].At.Dist(geom.Pt(50, 2.5+2.5/2)), 0.1)
	ring := geom.Join([]geom.Curve{circle(0, 0, 30)}, 0.01)
	p, err = Route(ring, nil, geom.Pt(0, -30), Settings{Turn: 20, Cut: 10, Half: 2.5, Hole: 2, Dark: anyDark})
	require.NoError(t, err)
	dark = p.Dark(ring, 2.5, 3)
	require.Len(t, dark, 1)
	assert.InDelta(t, 60*math.Pi-180, dark[0].Length, 0.01)
}

// On random stars no choice of the arms that go on leaves fewer pieces.
func TestFewestPieces(t *testing.T) {
	rng := rand.New(rand.NewSource(4))
	for range 200 {
		var cs []geom.Curve
		n := 2 + rng.Intn(5)
		for i := range n {
			a := math.Round(float64(rng.Intn(24))) * 15
			s, c := math.Sincos(geom.Radians(a + float64(i)*1e-3))
			cs = append(cs, line(0, 0, 60*c, 60*s))
		}
		in := geom.Join(cs, 0.01)
		set := Settings{Turn: 20, Cut: 5, Dark: anyDark}
		p, err := Route(in, nil, geom.Pt(1e6, 0), set)
		require.NoError(t, err)
		assertCovered(t, in, p)
		// Strips cannot cross: at the middle one pair goes on, if any may.
		r := newRouter(in, nil, geom.Pt(1e6, 0), set)
		pairs := 0
		for _, arms := range r.arms {
			any := 0
			for i, a := range arms {
				for _, b := range arms[:i] {
					if r.turn(a, b) <= set.Turn {
						any = 1
					}
				}
			}
			pairs += any
		}
		assert.Equal(t, len(r.runs)-pairs, len(p.Pieces))
		assert.Equal(t, len(p.Pieces), p.Bound)
	}
}

// Wires come up where they are asked for: at an end, or anywhere on a closed line.
func TestStartsByHand(t *testing.T) {
	ring, bar := circle(0, 0, 40), line(100, 0, 180, 0)
	c := geom.Join([]geom.Curve{ring, bar}, 0.05)
	set := Settings{Turn: 60, Cut: 12.5, Half: 2.5, Hole: 3, Dark: 3}
	starts := func(places ...geom.Point) (ringAt, barAt geom.Point) {
		s := set
		s.Starts = places
		p, err := Route(c, nil, geom.Pt(0, -40), s)
		require.NoError(t, err)
		assertCovered(t, c, p)
		require.Len(t, p.Pieces, 2)
		for _, q := range p.Pieces {
			if q.Closed {
				ringAt = q.Start.At
			} else {
				barAt = q.Start.At
			}
		}
		return ringAt, barAt
	}
	for _, c := range []struct {
		name      string
		places    []geom.Point
		ring, bar geom.Point
	}{
		{"by itself", nil, geom.Pt(0, -40), geom.Pt(100, 0)},
		{"the ring's top", []geom.Point{geom.Pt(1, 41)}, geom.Pt(1, 40), geom.Pt(100, 0)},
		{"the bar's far end", []geom.Point{geom.Pt(178, 1)}, geom.Pt(0, -40), geom.Pt(180, 0)},
		{"both", []geom.Point{geom.Pt(-40, 0), geom.Pt(180, 0)}, geom.Pt(-40, 0), geom.Pt(180, 0)},
		{"off all lines", []geom.Point{geom.Pt(60, 60)}, geom.Pt(0, -40), geom.Pt(100, 0)},
		{"within an open line, which has no start there", []geom.Point{geom.Pt(140, 0)}, geom.Pt(0, -40), geom.Pt(100, 0)},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, b := starts(c.places...)
			assert.InDelta(t, 0, r.Dist(c.ring), 0.2, "%v", r)
			assert.InDelta(t, 0, b.Dist(c.bar), 0.2, "%v", b)
		})
	}
}

// A line that ends beside a ring, without meeting it, is fed clear of the ring's strip: its hole
// once lay under that.
func TestTapIsClearOfWhatPasses(t *testing.T) {
	c := geom.Join([]geom.Curve{circle(0, 0, 60), circle(0, 0, 8), line(10, 0, 58, 0)}, 0.05)
	set := Settings{Turn: 60, Cut: 5, Half: 2.5, Hole: 3, Dark: 3}
	p, err := Route(c, nil, geom.Pt(0, -60), set)
	require.NoError(t, err)
	assertApart(t, c, p, set.Half)
	bars := 0
	for i, ch := range p.Chains {
		if q := p.Pieces[ch.Pieces[0]]; q.Closed {
			continue
		}
		bars++
		tap := p.Chains[i].Tap
		assert.InDelta(t, 0, tap.Y, 0.01)
		assert.Greater(t, min(tap.Norm()-8, 60-tap.Norm()), set.Half+set.Hole/2-0.05, "%v", tap)
	}
	assert.Equal(t, 1, bars)
}

// Data runs through each piece once, from its start to its end, and on to one other: three arms that
// meet in a corner make two chains, not one with two branches, and wires come up at both ends.
func TestDataRunsInSeries(t *testing.T) {
	c := geom.Join([]geom.Curve{line(0, 0, 0, 80), line(0, 0, 80, 0), line(0, 0, -60, -60)}, 0.05)
	set := Settings{Turn: 20, Cut: 5, Half: 2.5, Hole: 3, Dark: 3}
	route := func(data bool) Plan {
		set.Data = data
		p, err := Route(c, nil, geom.Pt(-60, -65), set)
		require.NoError(t, err)
		assertApart(t, c, p, set.Half)
		return p
	}
	plain := route(false)
	require.Len(t, plain.Chains, 1, "all three are soldered where they meet")
	p := route(true)
	require.Len(t, p.Chains, 2)
	after := map[int]int{}
	for i, q := range p.Pieces {
		if q.After >= 0 {
			after[q.After]++
			assert.Equal(t, p.Pieces[q.After].End.Node, q.Start.Node, "piece %d goes on where that one ends", i)
		}
	}
	for _, n := range after {
		assert.Equal(t, 1, n)
	}
	order := p.DataOrder(geom.Pt(-60, -65))
	require.Len(t, order, 2)
	first, second := p.Chains[order[0]], p.Chains[order[1]]
	assert.Less(t, first.Tap.Dist(geom.Pt(-60, -60)), 3.0, "data comes in nearest to the feed")
	for _, ch := range []Chain{first, second} {
		last := p.Pieces[ch.Pieces[len(ch.Pieces)-1]]
		assert.Less(t, ch.Out.Dist(last.End.At), set.Hole+2*set.Half+set.Cut, "and leaves at the last piece's end")
	}
}
