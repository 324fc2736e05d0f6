package parts

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

func join(cs ...geom.Curve) geom.Centreline { return geom.Join(cs, 0.01) }

func line(v ...float64) geom.Curve {
	var pts []geom.Point
	for i := 0; i < len(v); i += 2 {
		pts = append(pts, geom.Pt(v[i], v[i+1]))
	}
	return geom.Lines(pts...)
}

func circle(x, y, r float64) geom.Curve { return geom.Arc(geom.Pt(x, y), r, 0, 360) }

// kettle is a small sign of three channels that do not touch.
func kettle() geom.Centreline {
	return join(circle(100, 80, 45), line(145, 80, 175, 110), line(60, 150, 75, 165, 60, 180), line(95, 150, 110, 165, 95, 180))
}

func part(t *testing.T, s Sign, name string) Part {
	t.Helper()
	for _, p := range s.Parts {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("no part %q", name)
	return Part{}
}

func TestAllPartsAreSolids(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Settings)
		want   []string
	}{
		{"stand", nil, []string{"backboard", "channel 1", "channel 2", "channel 3", "stand", "lid", "strip test piece"}},
		{"solid board, all grooves", func(s *Settings) { s.Board, s.Groove = BoardSolid, GrooveAll }, []string{"backboard", "channel 1", "channel 2", "channel 3", "stand", "lid", "strip test piece"}},
		{"ribs, no groove", func(s *Settings) { s.Board, s.Groove = BoardRibs, GrooveNone }, []string{"backboard", "channel 1", "channel 2", "channel 3", "stand", "lid", "strip test piece"}},
		{"no board", func(s *Settings) { s.Board = BoardNone }, []string{"channel 1", "channel 2", "channel 3", "stand", "lid", "strip test piece"}},
		{"covers", func(s *Settings) { s.Cover, s.Coupon = true, false }, []string{"backboard", "channel 1", "channel 2", "channel 3", "stand", "lid", "cover 1", "cover 2", "cover 3"}},
		{"keyholes", func(s *Settings) { s.Hold = HoldKeyhole }, []string{"backboard", "channel 1", "channel 2", "channel 3", "strip test piece"}},
		{"ears", func(s *Settings) { s.Hold = HoldEars }, []string{"backboard", "channel 1", "channel 2", "channel 3", "strip test piece"}},
		{"pads", func(s *Settings) { s.Hold = HoldPads }, []string{"backboard", "channel 1", "channel 2", "channel 3", "strip test piece"}},
		{"ears on the channels", func(s *Settings) { s.Hold, s.Board = HoldEars, BoardNone }, []string{"channel 1", "channel 2", "channel 3", "strip test piece"}},
		{"keyholes on the channels", func(s *Settings) { s.Hold, s.Board = HoldKeyhole, BoardNone }, []string{"channel 1", "channel 2", "channel 3", "strip test piece"}},
		{"pads on the channels", func(s *Settings) { s.Hold, s.Board = HoldPads, BoardNone }, []string{"channel 1", "channel 2", "channel 3", "strip test piece"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			if c.change != nil {
				c.change(&s)
			}
			sign, err := Build(kettle(), nil, s)
			require.NoError(t, err)
			var names []string
			for _, p := range sign.Parts {
				names = append(names, p.Name)
				m, err := p.Solid.Mesh(0.001)
				require.NoError(t, err, p.Name)
				sound := m.Check()
				require.NoError(t, sound.Err(), p.Name)
				assert.Equal(t, 1, sound.Parts, "%s hangs together", p.Name)
				assert.InEpsilon(t, p.Solid.Volume(), m.Volume(), 1e-3, p.Name)
				lo, _ := m.Bounds()
				assert.Zero(t, lo.Z, p.Name)
				if p.Channel || p.Flat {
					assert.InDelta(t, p.Solid.Shadow().Size(), p.Shadow.Size(), 1e-9, p.Name)
				}
			}
			assert.ElementsMatch(t, c.want, names)
		})
	}
}

// Closed forms: dots on the corners of an equilateral triangle of side a are
// joined by a star of 3 · a/√3 = √3·a, not by two sides, 2a (E. N. Gilbert and
// H. O. Pollak, "Steiner minimal trees", 1968, cited from memory). The dots
// here are rings of radius r, and a bridge ends on a ring's centreline.
func TestBridgesMakeStars(t *testing.T) {
	const a, r = 100.0, 6.0
	h := a * math.Sqrt(3) / 2
	sign, err := Build(join(circle(0, 0, r), circle(a, 0, r), circle(a/2, h, r)), nil, Default())
	require.NoError(t, err)
	sum := 0.0
	for _, l := range sign.Bridges {
		sum += l.Length()
	}
	assert.Len(t, sign.Bridges, 3)
	assert.InDelta(t, math.Sqrt(3)*a-3*r, sum, 0.1)
	assert.InDelta(t, 2*(a-2*r)-(math.Sqrt(3)*a-3*r), sign.Saved, 0.1)
}

// What lies on the printer's bed and goes into something is drawn in there, for first layers
// spread: the tenon and the lid, and the stand about its mortise.
func TestFitsAreRelieved(t *testing.T) {
	areas := func(relief float64) (tenon, stand, lid, cover float64) {
		s := Default()
		s.Relief, s.Cover = relief, true
		sign, err := Build(kettle(), nil, s)
		require.NoError(t, err)
		bottom := sign.Bore.From.Y
		low := solid.Box(-500, bottom-1, 500, bottom+s.Tenon-0.01)
		return part(t, sign, "channel 1").Solid.At(0.1).And(low).Size(), part(t, sign, "stand").Solid.At(0.1).Size(),
			part(t, sign, "lid").Solid.At(0.1).Size(), part(t, sign, "cover 1").Solid.At(0.1).Size()
	}
	tenon, stand, lid, cover := areas(0)
	tenonIn, standIn, lidIn, coverIn := areas(0.3)
	width := tenon / Default().Tenon
	assert.InDelta(t, 0.3*(width+2*12-0.6), tenon-tenonIn, 0.5, "its two sides and its end")
	assert.InDelta(t, 0.3*(2*(width+0.4)+2*10.4+1.2), stand-standIn, 6, "about the mortise, a tenon with clearance")
	assert.Greater(t, lid-lidIn, 50.0)
	assert.Greater(t, cover-coverIn, 50.0)
}

// Two rings: the bridge is the gap between them.
func TestBridgeIsShortest(t *testing.T) {
	sign, err := Build(join(circle(0, 0, 20), circle(70, 0, 25)), nil, Default())
	require.NoError(t, err)
	require.Len(t, sign.Bridges, 1)
	assert.InDelta(t, 25, sign.Bridges[0].Length(), 0.02)
	board := part(t, sign, "backboard")
	for _, name := range []string{"channel 1", "channel 2"} {
		c := part(t, sign, name)
		assert.Zero(t, c.Solid.At(0.5).And(board.Solid.At(2.5)).Size(), "the board lies in a seat of its own")
		assert.Greater(t, c.Solid.Shadow().And(board.Solid.Shadow()).Size(), 50.0, "and under the channel")
	}
}

// cast is how many facets a line from p to q goes through: the ray test of
// T. Möller and B. Trumbore, 1997.
func cast(m *solid.Mesh, p, q solid.Vertex) int {
	n := 0
	d := sub(q, p)
	for i := range m.Triangles {
		a, b, c := m.Corners(i)
		e, f := sub(b, a), sub(c, a)
		h := cross(d, f)
		det := dot(e, h)
		if math.Abs(det) < 1e-12 {
			continue
		}
		s := sub(p, a)
		u := dot(s, h) / det
		k := cross(s, e)
		v := dot(d, k) / det
		w := dot(f, k) / det
		if u >= 0 && v >= 0 && u+v <= 1 && w >= 0 && w <= 1 {
			n++
		}
	}
	return n
}

func sub(a, b solid.Vertex) solid.Vertex {
	return solid.Vertex{X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z}
}
func dot(a, b solid.Vertex) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func cross(a, b solid.Vertex) solid.Vertex {
	return solid.Vertex{X: a.Y*b.Z - a.Z*b.Y, Y: a.Z*b.X - a.X*b.Z, Z: a.X*b.Y - a.Y*b.X}
}

// The bore is proved on the finished mesh: rays along it, over its whole cross
// section, meet no facet from outside the tenon to the middle of the slot; and
// the part around it is solid.
func TestBoreIsClear(t *testing.T) {
	for _, c := range []struct {
		name string
		line geom.Centreline
		bore float64
	}{
		{"kettle", kettle(), 4},
		{"level base", join(line(0, 0, 80, 0, 80, 60, 0, 60, 0, 0)), 4},
		{"wide bore", join(line(0, 0, 80, 0, 80, 60, 0, 60, 0, 0)), 5},
		{"pointed base", join(line(0, 60, 40, 0, 80, 60)), 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			s.Bore = c.bore
			sign, err := Build(c.line, nil, s)
			require.NoError(t, err)
			b := sign.Bore
			require.NotNil(t, b)
			var m *solid.Mesh
			for _, p := range sign.Parts {
				if p.Channel && p.Solid.Shadow().Grow(4).Contains(b.Top) {
					m, err = p.Solid.Mesh(0.001)
					require.NoError(t, err)
				}
			}
			require.NotNil(t, m)
			n := 0
			for _, dx := range []float64{-0.49, -0.2, 0.01, 0.31, 0.49} {
				for _, z := range []float64{0.05, 0.3, 0.5, 0.9, 1.3, 1.7} {
					x, h := b.Top.X+dx*b.Width, b.Z0+z*b.Width/2
					if math.Abs(dx)*b.Width > b.Width/2-max(h-b.Z0-b.Width/2, 0)-0.5 && h-b.Z0 > b.Width/2 {
						continue // above the sloping roof
					}
					n++
					assert.Zero(t, cast(m, solid.Vertex{X: x, Y: b.From.Y - 5, Z: h}, solid.Vertex{X: x, Y: b.Top.Y, Z: h}), "x %g z %g", x, h)
				}
			}
			assert.Greater(t, n, 15)
			side := solid.Vertex{X: b.Top.X + b.Width/2 + 0.4, Y: b.From.Y - 5, Z: b.Z0 + 1}
			assert.Equal(t, 1, cast(m, side, solid.Vertex{X: side.X, Y: b.From.Y + s.Tenon/2, Z: side.Z}), "beside it the tenon is solid")
		})
	}
}

// Statics: a sign tips when its centre of mass passes over an edge of the
// stand, at atan(distance to the edge / height) for the nearest edge.
func TestStandsSafely(t *testing.T) {
	tall := join(line(0, 0, 60, 0, 60, 400, 0, 400, 0, 0))
	for _, tilt := range []float64{5, 10, 20} {
		s := Default()
		s.Tilt, s.StripMass, s.Shell = tilt, 0, 100 // all of the parts is plastic
		sign, err := Build(tall, nil, s)
		require.NoError(t, err)
		b := sign.Balance
		require.NotNil(t, b)
		var c solid.Vertex
		mass := 0.0
		for _, p := range sign.Parts {
			if p.Extra || p.Name == "lid" {
				continue
			}
			m, err := p.Solid.Mesh(0.001)
			require.NoError(t, err)
			// The mesh's own centre of volume, by tetrahedra.
			for i := range m.Triangles {
				x, y, z := m.Corners(i)
				x, y, z = p.Pose.Apply(x), p.Pose.Apply(y), p.Pose.Apply(z)
				v := dot(x, cross(y, z)) / 6 * s.Density / 1000
				mass += v
				c = solid.Vertex{X: c.X + v*(x.X+y.X+z.X)/4, Y: c.Y + v*(x.Y+y.Y+z.Y)/4, Z: c.Z + v*(x.Z+y.Z+z.Z)/4}
			}
		}
		c = solid.Vertex{X: c.X / mass, Y: c.Y / mass, Z: c.Z / mass}
		ground := sign.Bore.From.Y + s.Tenon - (s.Tenon + 20 + lidThick)
		assert.InDelta(t, mass, b.Mass, 0.01*mass)
		assert.InDelta(t, c.Y-ground, b.Centre.Y, 1)
		gap := min(c.X-b.Base.Min.X, b.Base.Max.X-c.X, c.Z-b.Base.Min.Y, b.Base.Max.Y-c.Z)
		want := geom.Degrees(math.Atan2(gap, c.Y-ground))
		assert.InDelta(t, want, b.Tilt, 0.3)
		assert.GreaterOrEqual(t, want, tilt-0.2)
		if b.Grown > 0 {
			assert.Less(t, b.Tilt, tilt+1, "no larger than it must be")
		}
	}
}

// The same statics with parts as they are printed and with strip: masses by the meshes'
// volume and surface, the strip's by its length. A drawing whose foot is far to one side.
func TestStandsWithStrip(t *testing.T) {
	s := Default()
	sign, err := Build(join(line(0, 0, 20, 60, 260, 60, 260, 40)), nil, s)
	require.NoError(t, err)
	var c solid.Vertex
	mass := 0.0
	add := func(g float64, at solid.Vertex) {
		c = solid.Vertex{X: c.X + g*at.X, Y: c.Y + g*at.Y, Z: c.Z + g*at.Z}
		mass += g
	}
	for _, p := range sign.Parts {
		if p.Extra || p.Name == "lid" {
			continue
		}
		m, err := p.Solid.Mesh(0.001)
		require.NoError(t, err)
		shell := min(m.Volume(), m.Surface()*s.Shell)
		add((shell+(m.Volume()-shell)*s.Infill/100)*s.Density/1000, p.Pose.Apply(p.Solid.Centre()))
	}
	z := s.Channel.Rear + s.Channel.Floor + 1.5
	for _, l := range [][4]float64{{0, 0, 20, 60}, {20, 60, 260, 60}, {260, 60, 260, 40}} {
		length := math.Hypot(l[2]-l[0], l[3]-l[1])
		add(length*0.06, solid.Vertex{X: (l[0] + l[2]) / 2, Y: (l[1] + l[3]) / 2, Z: z})
	}
	c = solid.Vertex{X: c.X / mass, Y: c.Y / mass, Z: c.Z / mass}
	b := sign.Balance
	assert.InEpsilon(t, mass, b.Mass, 0.01)
	h := b.Centre.Y
	gap := min(c.X-b.Base.Min.X, b.Base.Max.X-c.X, c.Z-b.Base.Min.Y, b.Base.Max.Y-c.Z)
	assert.InDelta(t, b.Tilt, geom.Degrees(math.Atan2(gap, h)), 0.2)
	assert.GreaterOrEqual(t, geom.Degrees(math.Atan2(gap, h)), s.Tilt-0.1)
	assert.Greater(t, b.Grown, 10.0, "the stand grows under what hangs over")
}

// Letters that only the foot joins, and one that a bridge joins to the further
// of them: wires reach it behind the foot.
func TestWiresBehindTheFoot(t *testing.T) {
	sign, err := Build(join(line(0, 60, 0, 0), line(20, 0, 20, 60), line(60, 80, 60, 30)), nil, Default())
	require.NoError(t, err)
	assert.Equal(t, 2, sign.Strokes, "the foot joins the first two")
	assert.Len(t, sign.Feeds(), 3)
	assert.Empty(t, sign.Notes)
	reach := false
	for _, w := range sign.Wires {
		for _, p := range w {
			reach = reach || p.Dist(sign.Feeds()[0]) < 1e-9
		}
	}
	assert.True(t, reach)
}

// The strip plan says where wires must go: one pair to two taps, its way branching; no
// groove to strip that the bore reaches.
func TestWiresOfStripPlan(t *testing.T) {
	in := join(line(0, 0, 80, 0), line(40, 0, 40, 70), line(40, 35, 70, 35))
	plan := &WirePlan{Taps: []Tap{{At: geom.Pt(70, 35)}, {At: geom.Pt(40, 70.5)}, {At: geom.Pt(43, 0)}}, Wire: []float64{1.1}}
	s := Default()
	s.Foot = &geom.Point{X: 40}
	sign, err := Build(in, plan, s)
	require.NoError(t, err)
	require.Len(t, sign.Holes, 4, "the way in, two taps, and the bore's mouth, where the third is fed")
	assert.False(t, sign.Holes[0].Strip)
	assert.True(t, sign.Holes[3].Bore)
	ch := part(t, sign, "channel")
	for i, h := range sign.Holes[:3] {
		for _, z := range []float64{0.5, 2, 2.9} {
			assert.False(t, ch.Solid.At(z).Contains(h.At), "hole %d is open from groove to slot or bore at %g mm", i, z)
		}
	}
	assert.False(t, ch.Solid.At(3.5).Contains(sign.Holes[0].At), "the way in leads to the bore")
	assert.False(t, ch.Solid.At(0.5).Contains(geom.Pt(40, 65)), "the groove")
	assert.True(t, ch.Solid.At(2).Contains(geom.Pt(40, 65)), "under the floor")
	// Up the bore to the foot's middle; on to the bore's mouth; to the branch 35 mm up, and
	// from there to both taps.
	require.Len(t, sign.Harness, 5)
	var lengths []float64
	for _, w := range sign.Harness {
		lengths = append(lengths, w.Path.Length())
		assert.Equal(t, 1.1, w.Outside)
	}
	foot := (Default().outer() + 8) / 2
	up := sign.Bore.From.Dist(sign.Bore.Top) - foot
	slices.Sort(lengths)
	assert.InDeltaSlice(t, []float64{foot - Default().Channel.Slot()/2, up, 30, 35, foot + 35}, lengths, 0.1)
	assert.Equal(t, sign.Bore.From, sign.Harness[0].Path[0])
	// All current up to the foot's middle, two thirds of it to the branch, a third to the farther tap.
	load := func(tap int) float64 { return []float64{1, 1, 1}[tap] }
	assert.InDelta(t, up+(2*(foot+35)+35)/3, sign.LossLength(0, load), 0.1)
	assert.Zero(t, sign.LossLength(1, load))

	// Data comes up to the first tap, goes down at that strip's end by a hole of its own, and comes
	// up to the second beside its pair.
	plan.Signal = 0.8
	plan.Data = []DataWire{{From: -1, To: 2}, {From: 2, At: geom.Pt(78, 0), To: 0}, {From: 0, At: plan.Taps[0].At, To: 1}}
	data, err := Build(in, plan, s)
	require.NoError(t, err)
	require.Len(t, data.Holes, 5)
	var wires []int
	for _, h := range data.Holes {
		wires = append(wires, h.Wires)
	}
	assert.Equal(t, []int{3, 4, 3, 3, 1}, wires)
	assert.InDelta(t, 0.8+wireSlack, data.Holes[4].Diameter, 1e-9)
	assert.Equal(t, 4, data.OutOf(2))
	assert.Equal(t, data.HoleAt(0), data.OutOf(0), "down where it comes up")
	require.Len(t, data.Harness, 8)
	for i, want := range [][2]int{{0, 3}, {4, 1}, {1, 2}} {
		w := data.Harness[5+i]
		assert.True(t, w.Data)
		assert.Equal(t, 1, w.Conductors())
		assert.Equal(t, want, [2]int{w.From, w.To})
	}
	assert.InDelta(t, 38+35+30, data.Harness[6].Path.Length(), 1.5)
	alike := func(int) float64 { return 1 }
	assert.Equal(t, sign.LossLength(0, alike), data.LossLength(0, alike), "no power runs in them")

	none, err := Build(in, &WirePlan{Wire: []float64{1.1}}, Default())
	require.NoError(t, err)
	assert.Empty(t, none.Wires, "nothing hidden to feed, no groove")
}

// Three colours' pairs do not fit into the groove side by side: it is made deeper, and
// says so; a groove that cannot be deep enough says that.
func TestDeepGroove(t *testing.T) {
	in := join(line(0, 0, 80, 0), line(40, 0, 40, 70))
	plan := &WirePlan{Wire: []float64{1.1, 1.1, 1.1}}
	for c := range 3 {
		plan.Taps = append(plan.Taps, Tap{At: geom.Pt(40, 40+10*float64(c)), Circuit: c})
	}
	s := Default()
	sign, err := Build(in, plan, s)
	require.NoError(t, err)
	assert.Contains(t, sign.Notes[0], "2.4 mm deep for up to 6 wires")
	assert.False(t, part(t, sign, "channel").Solid.At(2.3).Contains(geom.Pt(40, 20)))
	require.Len(t, sign.Holes, 4)
	assert.Equal(t, []int{0, 1, 2}, sign.Holes[0].Circuits)
	assert.InDelta(t, 3.3+0.3, sign.Holes[0].Diameter, 0.01, "six circles in one of three times their diameter")
	plan.Wire = []float64{2.1, 2.1, 2.1}
	sign, err = Build(in, plan, s)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(sign.Notes, " "), "make the rear at least")
	assert.Contains(t, sign.Notes[0], "bore was made 5.0 mm wide for 6 wires")
}

// A sign on the wall lets its lead in from below.
func TestWayInFromBelow(t *testing.T) {
	s := Default()
	s.Hold = HoldNone
	sign, err := Build(join(line(0, 0, 80, 0)), &WirePlan{Taps: []Tap{{At: geom.Pt(80, 0)}}, Wire: []float64{1.1}}, s)
	require.NoError(t, err)
	require.Len(t, sign.Holes, 2)
	at := sign.Holes[0].At
	assert.Less(t, at.Y, -s.outer(), "outside the channel")
	ch := part(t, sign, "channel")
	assert.False(t, ch.Solid.At(0.5).Contains(geom.Pt(at.X, -s.outer()+0.5)), "open through the wall")
	assert.True(t, ch.Solid.At(5).Contains(geom.Pt(at.X, -s.outer()+0.5)))
}

// Published optima of circles in a circle (Graham and others 1998, from memory): no
// arrangement that random starts find does better, and what the table says is enough
// for the regular ones in closed form.
func TestPacking(t *testing.T) {
	for n, want := range map[int]float64{
		1: 1, 2: 2, 3: 1 + 2/math.Sqrt(3), 4: 1 + math.Sqrt2, 5: 1 + 1/math.Sin(math.Pi/5), 6: 3, 7: 3,
		8: 1 + 1/math.Sin(math.Pi/7), 19: 1 + math.Sqrt2 + math.Sqrt(6),
	} {
		assert.InDelta(t, want, aroundWires(n, 1), 6e-5, "%d", n)
	}
	last := 0.0
	for n := 1; n < 40; n++ {
		d := aroundWires(n, 1.3)
		assert.GreaterOrEqual(t, d, last)
		assert.Less(t, float64(n)*1.3*1.3, d*d*1.0000001, "no more area than there is")
		last = d
	}
	assert.Zero(t, aroundWires(0, 1))
}

func TestWiresInGroove(t *testing.T) {
	for _, c := range []struct {
		name             string
		sizes            wireSizes
		wires            bundle
		room, deep, wide float64 // wide at that depth
	}{
		{"a row", wireSizes{1.1, 0.8}, bundle{3, 0}, 4.2, 1.1, 3.3},
		{"two rows", wireSizes{1.1, 0.8}, bundle{4, 0}, 4.2, 2.2, 2.2},
		{"too narrow", wireSizes{5, 0.8}, bundle{1, 0}, 4.2, math.Inf(1), 5},
		{"a data wire beside a pair", wireSizes{1.3, 0.8}, bundle{2, 1}, 4, 1.3, 3.4},
		{"one beside a pair, two on it", wireSizes{1.3, 0.8}, bundle{2, 3}, 4, 2.1, 2.6},
		{"data alone", wireSizes{1.3, 0.8}, bundle{0, 6}, 4, 1.6, 2.4},
	} {
		t.Run(c.name, func(t *testing.T) {
			deep := c.sizes.deep(c.wires, c.room)
			if math.IsInf(c.deep, 1) {
				assert.True(t, math.IsInf(deep, 1))
				return
			}
			assert.InDelta(t, c.deep, deep, 1e-9)
			assert.InDelta(t, c.wide, c.sizes.wide(c.wires, deep), 1e-9)
		})
	}
}

// Channels that run into each other though their lines do not meet: a wire
// crosses from one to the other.
func TestWiresAcrossMergedChannels(t *testing.T) {
	in := join(line(0, 0, 80, 0), line(0, 6, 80, 6))
	sign, err := Build(in, &WirePlan{Taps: []Tap{{At: geom.Pt(80, 6)}}, Wire: []float64{1.1}}, Default())
	require.NoError(t, err)
	assert.Equal(t, 1, sign.Strokes)
	assert.Len(t, sign.Feeds(), 2)
	assert.Empty(t, sign.Notes)
}

// ISO 273:1979, medium series (from memory).
func TestClearanceHole(t *testing.T) {
	for screw, want := range map[float64]float64{2: 2.4, 2.5: 2.9, 3: 3.4, 4: 4.5, 5: 5.5, 6: 6.6, 8: 9} {
		assert.Equal(t, want, ClearanceHole(screw), "M%g", screw)
	}
}

func TestBadMeasures(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Settings)
		want   string
	}{
		{"groove through the floor", func(s *Settings) { s.GrooveDepth = 3 }, "leave at least 0.6 mm"},
		{"board thinner than its seat", func(s *Settings) { s.BoardThick = 2 }, "0.8 mm thicker"},
		{"bore wider than the slot", func(s *Settings) { s.Bore = 7 }, "wire bore is 7 mm wide"},
		{"shallow channel", func(s *Settings) { s.Channel.Depth = 6 }, "no room for a wire bore of 4 mm in a channel 6 mm deep"},
		{"foot too narrow", func(s *Settings) { s.FootWidth = 12 }, "no foot"},
		{"cannot stand", func(s *Settings) { s.Tilt = 40 }, "no stand up to"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			c.change(&s)
			_, err := Build(join(line(0, 0, 60, 0, 60, 6000, 0, 6000, 0, 0)), nil, s)
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
}

// The lid's screws lie flush: their holes are sunk to the theoretical head of ISO
// 7721 (6.3 mm for M3, from memory) at the outside and clear the shank (3.4 mm, ISO
// 273, from memory) at the inside.
func TestLidScrewsAreSunk(t *testing.T) {
	s := Default()
	s.Relief = 0 // which draws the outline in
	sign, err := Build(kettle(), nil, s)
	require.NoError(t, err)
	var lid *Part
	for i := range sign.Parts {
		if sign.Parts[i].Name == NameLid {
			lid = &sign.Parts[i]
		}
	}
	require.NotNil(t, lid)
	whole := lid.Solid.Hull()
	holes := func(z float64) float64 { // their diameter, from what they leave of the plate
		missing := geom.Ring(whole).Area()
		missing = math.Abs(missing) - lid.Solid.At(z).Size()
		return 2 * math.Sqrt(missing/4/math.Pi)
	}
	assert.InDelta(t, 6.3, holes(0.1), 0.1)
	assert.InDelta(t, 3.4, holes(2.3), 0.1)
}

// The foot comes up low, under the middle of the lines and where nothing passes below; by hand
// it comes up anywhere.
func TestEntry(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []geom.Curve
		want  *geom.Point
		at    geom.Point
	}{
		{"level", []geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(100, 0))}, nil, geom.Pt(50, 0)},
		{"letters, the last of which reaches lowest", []geom.Curve{
			geom.Lines(geom.Pt(0, 5), geom.Pt(120, 5)), geom.Lines(geom.Pt(120, 40), geom.Pt(120, 0)),
		}, nil, geom.Pt(75, 5)},
		{"a tip", []geom.Curve{geom.Lines(geom.Pt(0, 80), geom.Pt(20, 0), geom.Pt(200, 80))}, nil, geom.Pt(25.5, 2.5)},
		{"nothing above another line", []geom.Curve{
			geom.Lines(geom.Pt(0, 10), geom.Pt(100, 10)), geom.Lines(geom.Pt(30, 0), geom.Pt(70, 0)),
		}, nil, geom.Pt(50, 0)},
		{"by hand", []geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(60, 0), geom.Pt(60, 50), geom.Pt(100, 50))}, &geom.Point{X: 90, Y: 70}, geom.Pt(90, 50)},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Entry(geom.Centreline{Curves: c.lines}, c.want)
			assert.InDelta(t, 0, got.Dist(c.at), 1.5, "%v", got)
		})
	}
}

// A foot by hand holds a sign that stands all the same, with a bore that is clear.
func TestFootByHand(t *testing.T) {
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(60, 0), geom.Pt(60, 50), geom.Pt(160, 50))}, 0.01)
	s := Default()
	s.Foot = &geom.Point{X: 100, Y: 0}
	sign, err := Build(line, nil, s)
	require.NoError(t, err)
	assert.InDelta(t, 100, sign.Bore.Top.X, 0.5)
	assert.InDelta(t, 50, sign.Bore.Top.Y, 0.5)
	assert.Positive(t, sign.Bore.Clear)
	assert.GreaterOrEqual(t, sign.Balance.Tilt, s.Tilt)
}

// The maker's own foot becomes one body with the channel, its bore open into the slot.
func TestOwnFoot(t *testing.T) {
	plan := solid.Box(-20, 0, 20, 6).Or(solid.Box(-8, 0, 8, 24))
	bored := func(z0, z1 float64) solid.Solid {
		return solid.Solid{{Z0: 0, Z1: 15, Plan: plan}}.Cut(z0, z1, solid.Box(-2, -1, 2, 25))
	}
	for _, c := range []struct {
		name string
		foot solid.Solid
		err  string
	}{
		{"bored where the strip lies", bored(3.2, 7.2), ""},
		{"thicker than the sign", bored(3.2, 7.2).Add(15, 25, plan), ""},
		{"below zero", solid.Solid{{Z0: -5, Z1: 10, Plan: plan}}.Cut(-1.8, 2.2, solid.Box(-2, -1, 2, 25)), ""},
		{"no bore", bored(0, 0), "has no bore that opens at its top from 3 to 15 mm"},
		{"a bore behind the floor", bored(0, 2.5), "has no bore"},
		{"on an edge", solid.Solid{{Z0: 0, Z1: 1, Plan: solid.Box(0, 0, 2, 2)}, {Z0: 1, Z1: 15, Plan: plan}}, "lies on 4 mm² only"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			s.Own = c.foot
			sign, err := Build(join(geom.Arc(geom.Pt(100, 100), 50, 0, 360)), nil, s)
			if c.err != "" {
				require.ErrorContains(t, err, c.err)
				return
			}
			require.NoError(t, err)
			for _, p := range sign.Parts {
				assert.NotContains(t, []string{NameStand, NameLid}, p.Name)
			}
			ch := part(t, sign, "channel")
			m, err := ch.Solid.Mesh(0.001)
			require.NoError(t, err)
			assert.Equal(t, 1, m.Check().Parts)
			lo, _ := m.Bounds()
			assert.InDelta(t, 50-24, lo.Y, 0.5, "its top goes up to the line")
			require.NotNil(t, sign.Bore)
			at := ch.Solid.At(5)
			for y := lo.Y + 0.1; y < 50; y += 0.5 {
				assert.False(t, at.Contains(geom.Pt(sign.Bore.Top.X, y)), "the bore is open at y %.1f", y)
			}
			assert.True(t, at.Contains(geom.Pt(sign.Bore.Top.X+3, 40)), "with walls")
			assert.InDelta(t, 4, sign.Bore.Width, 0.01)
		})
	}
}

// Screws go where they are asked for, and it is told where there is no room and whether they carry.
func TestScrewsByHand(t *testing.T) {
	ring := join(geom.Arc(geom.Pt(100, 100), 60, 0, 360))
	for _, c := range []struct {
		name   string
		hold   Hold
		at     []geom.Point
		screws int
		noRoom int
		swings bool
	}{
		{"keyholes inside the ring", HoldKeyhole, []geom.Point{{X: 65, Y: 120}, {X: 135, Y: 120}}, 2, 0, false},
		{"one on a line", HoldKeyhole, []geom.Point{{X: 65, Y: 120}, {X: 135, Y: 120}, {X: 100, Y: 160}}, 2, 1, false},
		{"far off", HoldEars, []geom.Point{{X: 65, Y: 120}, {X: 135, Y: 120}, {X: 300, Y: 100}}, 2, 1, false},
		{"too near each other", HoldEars, []geom.Point{{X: 60, Y: 120}, {X: 65, Y: 122}, {X: 135, Y: 120}}, 2, 1, false},
		{"all to the left", HoldEars, []geom.Point{{X: 65, Y: 120}, {X: 60, Y: 80}}, 2, 0, true},
		{"all below", HoldPads, []geom.Point{{X: 70, Y: 80}, {X: 130, Y: 80}}, 0, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := Default()
			s.Hold, s.Screws = c.hold, c.at
			sign, err := Build(ring, nil, s)
			require.NoError(t, err)
			assert.Len(t, sign.Screws, c.screws)
			assert.Len(t, sign.NoRoom, c.noRoom)
			assert.Equal(t, c.swings, sign.Swings)
			for _, at := range sign.Screws {
				assert.True(t, slices.ContainsFunc(c.at, func(p geom.Point) bool { return p.Dist(at) < 1e-9 }), "%v", at)
			}
			assert.Equal(t, len(c.at)-c.noRoom, sign.Mounts)
		})
	}
}

// A ledge of a seat's ceiling beside a deep groove hangs on its wall: it is parted so often that no
// printer lays it from end to end, and nothing too thin to print is left of it.
func TestLedgesBesideAGroove(t *testing.T) {
	in := join(line(0, 0, 120, 0), line(0, 40, 120, 40), line(60, 0, 60, 20))
	s := Default()
	s.Board, s.Channel.Rear = BoardRibs, 3
	plan := &WirePlan{Wire: []float64{1.8}}
	for _, at := range []geom.Point{{X: 5}, {X: 115}, {X: 5, Y: 40}, {X: 115, Y: 40}} {
		plan.Taps = append(plan.Taps, Tap{At: at})
	}
	sign, err := Build(in, plan, s)
	require.NoError(t, err)
	require.Greater(t, sign.Deep, sign.Sink, "the wires run over the board")
	ledges := 0
	for _, p := range sign.Parts {
		if !p.Channel {
			continue
		}
		above := p.Solid.At((sign.Sink + sign.Deep) / 2)
		for _, q := range above.And(sign.Seat).Parts() {
			ledges++
			size := q.Bounds().Size()
			assert.LessOrEqual(t, max(size.X, size.Y), ledgeLength+0.01)
			assert.False(t, q.Opened(leastLedge-0.01).Empty(), "%v", q.Bounds())
		}
	}
	assert.Greater(t, ledges, 8)
}

// A sign hangs from above its middle, though its largest channel lies below.
func TestHangsFromAbove(t *testing.T) {
	for name, in := range map[string]geom.Centreline{
		"the longest bar below": join(line(0, 0, 160, 0), line(20, 45, 140, 45), line(20, 90, 140, 90)),
		"the longest bar above": join(line(20, 0, 140, 0), line(20, 45, 140, 45), line(0, 90, 160, 90)),
	} {
		for _, board := range []Board{BoardRibs, BoardSolid} {
			t.Run(name+" "+string(board), func(t *testing.T) {
				s := Default()
				s.Hold, s.Board = HoldKeyhole, board
				sign, err := Build(in, nil, s)
				require.NoError(t, err)
				require.Len(t, sign.Screws, 2)
				assert.False(t, sign.Swings)
				for _, at := range sign.Screws {
					assert.Greater(t, at.Y, 45.0)
				}
			})
		}
	}
}

// A board that covers all is sunk into every line, at a place for each 40 mm of it.
func TestSunkAlongLines(t *testing.T) {
	in := join(geom.Arc(geom.Pt(100, 100), 60, 0, 360), line(160, 100, 200, 100), line(250, 100, 380, 100)) // 377, 40 and 130 mm
	for _, board := range []Board{BoardRibs, BoardSolid} {
		s := Default()
		s.Board = board
		sign, err := Build(in, nil, s)
		require.NoError(t, err)
		assert.Len(t, sign.Seat.Parts(), 9+1+3)
		for _, p := range sign.Parts {
			if p.Channel {
				assert.Greater(t, sign.Glued(p), 3*LeastGlue, p.Name)
			}
		}
	}
}
