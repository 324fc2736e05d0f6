package strip

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Strip of lines that are nearer than it is wide overlaps for as long as they are; lines that meet, cross or end beside
// others do not, nor a bend.
func TestOverlaps(t *testing.T) {
	side := func(off float64) []geom.Curve {
		return []geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0)), geom.Lines(geom.Pt(20, off), geom.Pt(120, off))}
	}
	u := func(radius float64) []geom.Curve {
		c := geom.Curve{Pieces: []geom.Cubic{geom.StraightCubic(geom.Pt(100, radius), geom.Pt(0, radius))}}
		c.Pieces = append(c.Pieces, geom.ArcCubics(geom.Pt(0, 0), geom.Pt(0, radius), 180)...)
		c.Pieces = append(c.Pieces, geom.StraightCubic(geom.Pt(0, -radius), geom.Pt(100, -radius)))
		return []geom.Curve{c}
	}
	for _, c := range []struct {
		name   string
		curves []geom.Curve
		long   float64 // mm, of whole cuts; 0 for none
	}{
		{"apart by more than a strip", side(5.2), 0},
		{"apart by less", side(4.5), 62.5},
		{"hardly apart", side(1), 62.5},
		{"crossing", []geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0)), geom.Lines(geom.Pt(70, -60), geom.Pt(80, 60))}, 0},
		{"meeting", []geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0)), geom.Lines(geom.Pt(70, 0), geom.Pt(90, 60))}, 0},
		{"a bend back", u(3.5), 0},
		{"a bend back that is too tight", u(2), 91},
	} {
		t.Run(c.name, func(t *testing.T) {
			line := geom.Join(c.curves, 0.01)
			p, err := Route(line, nil, geom.Pt(0, 0), Settings{Turn: 35, Cut: 12.5, Half: 2.5, Hole: 3.5, Dark: 3})
			require.NoError(t, err)
			got := p.Overlaps(line, 2.5)
			if c.long == 0 {
				assert.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			assert.InDelta(t, c.long, got[0].Length, 1.5)
		})
	}
}

// Where two pieces end in a sharp tip the one keeps off the other, also where the wires come in so near to the tip that a
// node is there.
func TestTipsKeepApart(t *testing.T) {
	tip := geom.Pt(80, 258)
	c := geom.Lines(geom.Pt(95, 160), geom.Pt(50, 155), geom.Pt(122, 16), geom.Pt(112, 110), geom.Pt(160, 112), tip, geom.Pt(95, 160))
	line := geom.Join([]geom.Curve{c}, 0.01)
	r := geom.NewRuler(line.Curves[0])
	corners := []Corner{{Curve: 0, Along: r.Piece(2)}, {Curve: 0, Along: r.Piece(5)}}
	set := Settings{Turn: 35, Cut: 12.5, Half: 2.5, Hole: 3.5, Dark: 3, Joints: 3}
	for _, off := range []float64{-6, -2.5, -1, 0, 1, 2.5, 6} { // on the one side or the other
		feed := tip.Add(geom.Pt(15, -98).Unit().Mul(off))
		if off < 0 {
			feed = tip.Add(geom.Pt(80, -146).Unit().Mul(-off))
		}
		p, err := Route(line, corners, feed, set)
		require.NoError(t, err)
		assert.Empty(t, p.Overlaps(line, 2.5), "wires come in %g mm from the tip", off)
		assert.Empty(t, p.Settled(line, set).Overlaps(line, 2.5), "settled, %g mm", off)
	}
}

// A bend is cut if it turns by more than strip does, though the line is smooth there.
func TestBendsAreCut(t *testing.T) {
	for _, c := range []struct {
		turn   float64
		pieces int
	}{{20, 1}, {90, 2}} {
		bend := geom.Arc(geom.Pt(0, 0), 3, 0, c.turn)
		end := bend.Pieces[len(bend.Pieces)-1]
		k := geom.Curve{Pieces: []geom.Cubic{geom.StraightCubic(geom.Pt(3, -60), geom.Pt(3, 0))}}
		k.Pieces = append(append(k.Pieces, bend.Pieces...), geom.StraightCubic(end[3], end[3].Add(end.Heading(1).Mul(60))))
		line := geom.Join([]geom.Curve{k}, 0.01)
		at := 60 + geom.Radians(c.turn)*1.5
		p, err := Route(line, []Corner{{Curve: 0, Along: at, Turn: c.turn}}, geom.Pt(3, -60), Settings{Turn: 35, Cut: 12.5, Half: 2.5, Hole: 3.5, Dark: 3})
		require.NoError(t, err)
		assert.Len(t, p.Pieces, c.pieces, "%g degrees", c.turn)
	}
}

// The last two points of where strip lies tell which way its end heads, also where its length is a whole number of mm.
func TestLaidEndsStraight(t *testing.T) {
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(50.0000000001, 0))}, 1e-6)
	p, err := Route(line, nil, geom.Pt(0, 0), Settings{Turn: 35, Cut: 12.5, Half: 2.5, Hole: 3.5, Dark: 3})
	require.NoError(t, err)
	laid := p.laid(geom.Rulers(line.Curves))[0].line
	n := len(laid)
	assert.Greater(t, laid[n-1].Dist(laid[n-2]), leastStep)
	assert.InDelta(t, 50, laid[n-1].Dist(laid[0]), 1e-6)
}

// A line that leads a little past a junction and turns back there, as where a tip is drawn onto another line's end, is cut in
// the tip, and what begins there keeps off the other line.
func TestTipAtJunction(t *testing.T) {
	tip := geom.Pt(115.8, 202.625)
	over := geom.Lines(geom.Pt(24, 29), geom.Pt(115.8, 67), geom.Pt(115.8, 202.5), tip, geom.Pt(87, 173.7), geom.Pt(24, 170))
	line := geom.Join([]geom.Curve{over, geom.Lines(geom.Pt(115.8, 202.5), geom.Pt(144, 173.7), geom.Pt(207, 173.7))}, 0.01)
	along, _ := geom.NewRuler(line.Curves[0]).Nearest(tip)
	set := Settings{Turn: 35, Cut: 12.5, Half: 2.5, Hole: 3.5, Dark: 3, Joints: 3}
	p, err := Route(line, []Corner{{Curve: 0, Along: along, Turn: 135}}, geom.Pt(24, 29), set)
	require.NoError(t, err)
	assert.Len(t, p.Pieces, 3)
	assert.Empty(t, p.Overlaps(line, 2.5))
	assert.Empty(t, p.Settled(line, set).Overlaps(line, 2.5))
}
