package bed

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

func TestTurn(t *testing.T) {
	for _, c := range []struct {
		name  string
		hull  geom.Ring
		room  geom.Point
		angle float64
		share float64
	}{
		{"fits as it is", geom.Ring{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 50}, {X: 0, Y: 50}}, geom.Pt(200, 200), 0, 0.5},
		{"on its side", geom.Ring{{X: 0, Y: 0}, {X: 150, Y: 0}, {X: 150, Y: 10}, {X: 0, Y: 10}}, geom.Pt(20, 160), 90, 0.9375},
		// A thin bar of length L goes into a square of side L/√2 along its
		// diagonal: elementary geometry.
		{"thin bar along the diagonal", geom.Ring{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 1e-6}, {X: 0, Y: 1e-6}}, geom.Pt(80, 80), 45, 100 / math.Sqrt2 / 80},
		// w·cos θ + h·sin θ at 45 degrees: (w + h)/√2.
		{"bar along the diagonal", geom.Ring{{X: 0, Y: 0}, {X: 120, Y: 0}, {X: 120, Y: 20}, {X: 0, Y: 20}}, geom.Pt(100, 100), 45, 140 / math.Sqrt2 / 100},
		{"too large", geom.Ring{{X: 0, Y: 0}, {X: 150, Y: 0}, {X: 150, Y: 150}, {X: 0, Y: 150}}, geom.Pt(100, 100), 0, 1.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, share := Turn(c.hull, c.room)
			assert.InDelta(t, c.share, share, 1e-6)
			if c.share <= 1 {
				assert.InDelta(t, 0, math.Mod(math.Abs(a-c.angle), 90), 1e-3, "%g", a)
			}
		})
	}
}

// A bed grown to a part takes it, and one smaller by more than a whole mm would not; one that takes it stays.
func TestGrown(t *testing.T) {
	for _, c := range []struct {
		name string
		ch   Channel
		bed  Settings
		same bool
	}{
		{"too wide", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(300, 0)), geom.Lines(geom.Pt(0, 0), geom.Pt(0, 200))), Settings{Width: 150, Depth: 100, Margin: 5}, false},
		{"along the diagonal", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(300, 0))), Settings{Width: 220, Depth: 220, Margin: 2}, false},
		{"taken already", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(30, 0))), Settings{Width: 220, Depth: 220, Margin: 2}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Grown(c.ch.Solid, c.bed)
			assert.True(t, Fits(c.ch.Solid, got))
			assert.Equal(t, c.same, got == c.bed)
			if !c.same {
				got.Width, got.Depth = got.Width-1, got.Depth-1
				assert.False(t, Fits(c.ch.Solid, got), "%g by %g", got.Width, got.Depth)
			}
		})
	}
}

// channel is a plain channel over curves.
func channel(cs ...geom.Curve) Channel {
	c := geom.Join(cs, 0.01)
	var lines []geom.Polyline
	for _, k := range c.Curves {
		lines = append(lines, k.Flatten(0.01))
	}
	body, slot := solid.Ribbon(lines, 3.5).OnGrid(0.001), solid.Ribbon(lines, 2.5).OnGrid(0.001)
	return Channel{Solid: solid.Solid{{Z0: 0, Z1: 3, Plan: body}, {Z0: 3, Z1: 15, Plan: body.Less(slot)}}, Line: c, Half: 3.5, Floor: 3}
}

func TestDivide(t *testing.T) {
	ring := geom.Arc(geom.Pt(150, 150), 140, 0, 360)
	for _, c := range []struct {
		name         string
		ch           Channel
		pieces, cuts int
		err          string
	}{
		{"fits", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0))), 1, 0, ""},
		{"straight, 500 mm", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(500, 0))), 2, 1, ""},
		{"straight, 900 mm", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(900, 0))), 4, 3, ""},
		// Half of it turned by 45 degrees is R + R/√2 = 245 mm wide, so it takes 3.
		{"ring of 280 mm", channel(ring), 3, 3, ""},
		{"ring with a cross bar", channel(ring, geom.Lines(geom.Pt(10, 150), geom.Pt(290, 150))), 3, 4, ""},
		{"asked for", asking(channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0))), geom.Pt(60, 3)), 2, 1, ""},
		{"asked for at a corner: beside it", asking(channel(geom.Lines(geom.Pt(0, 0), geom.Pt(75, 0), geom.Pt(75, 75))), geom.Pt(70, 0)), 2, 1, ""},
		{"asked for twice at one place", asking(channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0))), geom.Pt(60, 3), geom.Pt(62, 0)), 2, 1, ""},
		{"asked for too near an end", asking(channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0))), geom.Pt(0, 0)), 1, 0, ""},
		{"asked for beside the line", asking(channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0))), geom.Pt(60, 30)), 1, 0, ""},
		{"a ring is not cut once", asking(channel(geom.Arc(geom.Pt(60, 60), 50, 0, 360)), geom.Pt(60, 110)), 1, 0, ""},
		{"a ring cut twice", asking(channel(geom.Arc(geom.Pt(60, 60), 50, 0, 360)), geom.Pt(60, 110), geom.Pt(60, 10)), 2, 2, ""},
		{"asked for, and more for the bed", asking(channel(geom.Lines(geom.Pt(0, 0), geom.Pt(500, 0))), geom.Pt(60, 0)), 3, 2, ""},
		{"close comb with no place to cut", channel(comb()...), 0, 0, "does not fit the bed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			pieces, cuts, err := Divide(c.ch, s)
			if c.err != "" {
				require.ErrorContains(t, err, c.err)
				return
			}
			require.NoError(t, err)
			assert.Len(t, pieces, c.pieces)
			assert.Len(t, cuts, c.cuts)
			volume := 0.0
			for i, p := range pieces {
				_, share := Turn(p.Hull(), s.room())
				assert.LessOrEqual(t, share, 1.0)
				m, err := p.Mesh(0.001)
				require.NoError(t, err)
				sound := m.Check()
				require.NoError(t, sound.Err())
				assert.Equal(t, 1, sound.Parts)
				volume += m.Volume()
				for _, q := range pieces[:i] {
					for _, z := range []float64{1, 10} {
						assert.InDelta(t, 0, p.At(z).And(q.At(z)).Size(), 1e-3, "pieces must not share room")
					}
				}
			}
			// The saw takes its width off walls and floor, the clearance of the
			// key something off the floor: at most 0.15 mm by 12 mm by 3 mm.
			loss := c.ch.Solid.Volume() - volume
			assert.GreaterOrEqual(t, loss, -1e-2, "but for the grid")
			assert.LessOrEqual(t, loss, float64(c.cuts)*10+1e-6)
			for _, cut := range cuts {
				r := geom.NewRuler(c.ch.Line.Curves[cut.Curve])
				assert.InDelta(t, 0, r.At(cut.Along).Dist(cut.At), 1e-9)
				assert.InDelta(t, 0, r.Heading(cut.Along).Angle(cut.Heading), 1e-6, "square to the channel")
				for _, k := range c.ch.Line.Knots {
					if k.Degree != 2 {
						assert.Greater(t, k.At.Dist(cut.At), 8.0, "away from junctions and ends")
					}
				}
			}
		})
	}
}

// A cut that is asked for where none can be made is refused with what forbids it there.
func TestRefusal(t *testing.T) {
	line := channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0)))
	near := channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0)), geom.Lines(geom.Pt(0, 7.5), geom.Pt(150, 7.5)))
	holed := line
	holed.Avoid = []geom.Point{{X: 70, Y: 0}}
	for _, c := range []struct {
		name string
		ch   Channel
		at   geom.Point
		why  string
		on   bool
	}{
		{"at its end", line, geom.Pt(3, 1), "an end, a junction or another cut is nearer than 9 mm", true},
		{"at a junction", channel(geom.Lines(geom.Pt(0, 0), geom.Pt(150, 0)), geom.Lines(geom.Pt(75, 0), geom.Pt(75, 60))), geom.Pt(80, 0), "an end, a junction or another cut is nearer than 9 mm", true},
		{"at a hole", holed, geom.Pt(75, 0), "a hole for wires, or the foot, is nearer than 9 mm", true},
		{"in a bend", channel(geom.Arc(geom.Pt(0, 0), 10, 0, 300)), geom.Pt(-10, 0), "the line bends too tightly for a joint", true},
		{"beside another", near, geom.Pt(75, 0), "another channel lies in the saw's way", true},
		{"once on a ring", channel(geom.Arc(geom.Pt(0, 0), 60, 0, 360)), geom.Pt(0, 60), "the channel would stay in one piece: a ring needs two cuts, which are not too near each other", true},
		{"away from all", line, geom.Pt(75, 40), "no line is within 8 mm", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			why, on := Refusal(c.ch, c.at)
			assert.Equal(t, c.why, why)
			assert.Equal(t, c.on, on)
		})
	}
}

func asking(ch Channel, at ...geom.Point) Channel {
	ch.Asked = at
	return ch
}

// comb is a spine 300 mm long with a tooth every 12 mm.
func comb() []geom.Curve {
	cs := []geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(300, 0))}
	for x := 6.0; x < 300; x += 12 {
		cs = append(cs, geom.Lines(geom.Pt(x, 0), geom.Pt(x, 40)))
	}
	return cs
}

// assertLaid checks that parts lie within the bed's room and keep their gap, and returns them as they lie.
func assertLaid(t *testing.T, l Layout, parts []solid.Plan, s Settings) (placed []solid.Plan) {
	t.Helper()
	room := solid.Box(s.Margin, s.Margin, s.Width-s.Margin, s.Depth-s.Margin).Grow(0.01)
	for i, p := range l.Places {
		at := parts[i].Moved(p.Turn, p.Move)
		assert.True(t, room.Covers(at), "within the bed's room")
		for j, q := range placed {
			if l.Places[j].Bed == p.Bed {
				assert.True(t, at.Grow(s.Gap-0.05).And(q).Empty(), "the gap is kept")
			}
		}
		placed = append(placed, at)
	}
	return placed
}

// blocksOf are plates of plans, 2 mm thick, named in turn.
func blocksOf(plans []solid.Plan) (out []Block) {
	for i, p := range plans {
		out = append(out, Block{Name: fmt.Sprintf("part %d", i), Solid: solid.Solid{{Z0: 0, Z1: 2, Plan: p}}, Shadow: p})
	}
	return out
}

func TestLay(t *testing.T) {
	box := func(w, h float64) solid.Plan { return solid.Box(0, 0, w, h) }
	ring := solid.Disc(geom.Pt(0, 0), 100).Less(solid.Disc(geom.Pt(0, 0), 90))
	for _, c := range []struct {
		name  string
		parts []solid.Plan
		beds  int
		err   string
	}{
		{"one", []solid.Plan{box(100, 100)}, 1, ""},
		{"as large as the bed's room", []solid.Plan{box(210, 210)}, 1, ""},
		{"four quarters with gaps", []solid.Plan{box(103, 103), box(103, 103), box(103, 103), box(103, 103)}, 1, ""},
		{"four quarters too large", []solid.Plan{box(105, 105), box(105, 105), box(105, 105), box(105, 105)}, 4, ""},
		{"small ones in a ring", []solid.Plan{ring, box(60, 60), box(60, 40)}, 1, ""},
		{"turned", []solid.Plan{box(250, 20)}, 1, ""},
		{"too large", []solid.Plan{box(100, 20), box(300, 20)}, 0, "part 1, "},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			l, err := Lay(blocksOf(c.parts), s, nil)
			if c.err != "" {
				require.ErrorContains(t, err, c.err)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, c.beds, l.Beds)
			assert.GreaterOrEqual(t, l.Beds, l.Least)
			assertLaid(t, l, c.parts, s)
		})
	}
}

// The largest part lies where it is asked to, or as near as the bed has room, and others keep off it.
func TestLayAt(t *testing.T) {
	parts := []solid.Plan{solid.Box(0, 0, 20, 40), solid.Box(0, 0, 60, 40), solid.Box(0, 0, 30, 30)}
	for _, c := range []struct {
		name     string
		at, want geom.Point
		off      float64
	}{
		{"in the middle", geom.Pt(110, 110), geom.Pt(110, 110), 1},
		{"in a corner", geom.Pt(40, 30), geom.Pt(40, 30), 1},
		{"beyond the corner", geom.Pt(0, -50), geom.Pt(35, 25), 2},
		{"beyond the other", geom.Pt(500, 500), geom.Pt(185, 195), 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			l, err := Lay(blocksOf(parts), s, &c.at)
			require.NoError(t, err)
			placed := assertLaid(t, l, parts, s)
			require.Equal(t, 1, l.Largest)
			box := placed[1].Bounds()
			assert.Less(t, box.Min.Lerp(box.Max, 0.5).Dist(c.want), c.off)
			assert.Zero(t, l.Places[1].Bed)
		})
	}
}

// What a place has moved it can tell back: the corners of a part on the bed are those that it had.
func TestBefore(t *testing.T) {
	part := solid.Box(3, 5, 23, 45)
	for _, turn := range []float64{0, 30, 90, 225} {
		place := Place{Turn: turn, Move: geom.Pt(70, -12)}
		back := part.Moved(place.Turn, place.Move).Hull()
		for i, p := range back {
			back[i] = place.Before(p)
		}
		box := geom.Bounds(back)
		assert.Less(t, box.Min.Dist(geom.Pt(3, 5))+box.Max.Dist(geom.Pt(23, 45)), 1e-6, "turned by %g", turn)
	}
}

// Closed forms for a cube of 20 mm with a shell of 1 mm: the shell is taken as
// surface times thickness, 2400 mm³; the rest, 5600 mm³, at 20 %.
func TestEstimate(t *testing.T) {
	m, err := solid.Solid{{Z0: 0, Z1: 20, Plan: solid.Box(0, 0, 20, 20)}}.Mesh(0.001)
	require.NoError(t, err)
	e := DefaultPrint().Estimate(m, solid.Plastic{Density: 1.24, Shell: 1, Infill: 20})
	assert.InDelta(t, 8000, e.Volume, 1e-6)
	assert.InDelta(t, 2400+0.2*5600, e.Plastic, 1e-6)
	assert.InDelta(t, 3520*1.24/1000, e.Grams, 1e-9)
	assert.InDelta(t, 3520/(math.Pi*0.875*0.875)/1000, e.Metres, 1e-9)
	assert.InDelta(t, 3520.0/6+100*3, e.Seconds, 1e-6)
}
