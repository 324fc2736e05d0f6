package solid

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand"
	"os/exec"
	"testing"

	"github.com/twpayne/go-geos"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/testdata/outside"
)

// lines makes a centreline of straight strokes.
func lines(pls ...geom.Polyline) geom.Centreline {
	var c geom.Centreline
	for _, pl := range pls {
		k := geom.Curve{Closed: pl[0] == pl[len(pl)-1]}
		for i := 1; i < len(pl); i++ {
			k.Pieces = append(k.Pieces, geom.StraightCubic(pl[i-1], pl[i]))
		}
		c.Curves = append(c.Curves, k)
	}
	return c
}

// The area within w/2 of a straight stroke of length L is L·w + π·w²/4: closed
// form, elementary geometry.
func TestBufferClosedForm(t *testing.T) {
	for _, c := range []struct {
		name   string
		length float64
		width  float64
	}{{"channel", 100, 7}, {"slot", 100, 5}, {"short", 1, 7}, {"long", 290, 3}} {
		t.Run(c.name, func(t *testing.T) {
			p := widened([]geom.Polyline{{geom.Pt(0, 0), geom.Pt(c.length*0.6, c.length*0.8)}}, c.width/2, 32)
			want := c.length*c.width + math.Pi*c.width*c.width/4
			assert.InEpsilon(t, want, p.Size(), 1e-3)
		})
	}
}

// Outside check: shapely 1.8 (Debian's python3-shapely) on the same lines.
func TestBufferAgainstShapely(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []geom.Polyline
	}{
		{"line", []geom.Polyline{{geom.Pt(0, 0), geom.Pt(90, 17)}}},
		{"cross", []geom.Polyline{{geom.Pt(0, 0), geom.Pt(60, 60)}, {geom.Pt(0, 60), geom.Pt(60, 0)}}},
		{"ring", []geom.Polyline{ringPoints(20)}},
		{"ladder", []geom.Polyline{{geom.Pt(0, 0), geom.Pt(0, 90)}, {geom.Pt(30, 0), geom.Pt(30, 90)}, {geom.Pt(0, 20), geom.Pt(30, 20)}, {geom.Pt(0, 50), geom.Pt(30, 50)}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var q struct {
				Lines   [][][2]float64 `json:"lines"`
				Radius  float64        `json:"radius"`
				Quarter int            `json:"quarter"`
			}
			q.Radius, q.Quarter = 3.5, 12
			for _, l := range c.lines {
				var pts [][2]float64
				for _, p := range l {
					pts = append(pts, [2]float64{p.X, p.Y})
				}
				q.Lines = append(q.Lines, pts)
			}
			in, err := json.Marshal(q)
			require.NoError(t, err)
			cmd := exec.Command(outside.Python(t, "shapely"), "../../testdata/outside/areas.py")
			cmd.Stdin = bytes.NewReader(in)
			out, err := cmd.Output()
			require.NoError(t, err, "make test installs python3-shapely")
			var want struct {
				Area  float64
				Holes int
			}
			require.NoError(t, json.Unmarshal(out, &want))
			got := widened(c.lines, q.Radius, q.Quarter)
			assert.InEpsilon(t, want.Area, got.Size(), 1e-9)
			assert.Equal(t, want.Holes, holes(got.Region()))
		})
	}
}

func TestChannelSolid(t *testing.T) {
	square := geom.Polyline{geom.Pt(20, 20), geom.Pt(80, 20), geom.Pt(80, 80), geom.Pt(20, 80), geom.Pt(20, 20)}
	for _, c := range []struct {
		name  string
		line  geom.Centreline
		parts int
		holes int
	}{
		{"straight", lines(geom.Polyline{geom.Pt(20, 50), geom.Pt(120, 50)}), 1, 0},
		{"ring", lines(ringPoints(30)), 1, 1},
		{"square ring, corners on the grid", lines(square), 1, 1},
		{"crossing", lines(geom.Polyline{geom.Pt(10, 10), geom.Pt(90, 90)}, geom.Polyline{geom.Pt(10, 90), geom.Pt(90, 10)}), 1, 0},
		{"two apart", lines(geom.Polyline{geom.Pt(10, 10), geom.Pt(90, 10)}, geom.Polyline{geom.Pt(10, 60), geom.Pt(90, 60)}), 2, 0},
		{"one on another", lines(square, square), 1, 1},
		{"outlines that just touch", lines(geom.Polyline{geom.Pt(10, 10), geom.Pt(90, 10)}, geom.Polyline{geom.Pt(10, 17), geom.Pt(90, 17)}), 1, 0},
		{"round ends that touch in one point", lines(geom.Polyline{geom.Pt(10, 10), geom.Pt(50, 10)}, geom.Polyline{geom.Pt(57, 10), geom.Pt(90, 10)}), 1, 0},
		{"slots that just touch", lines(geom.Polyline{geom.Pt(10, 10), geom.Pt(90, 10)}, geom.Polyline{geom.Pt(10, 15), geom.Pt(90, 15)}), 1, 0},
		{"hairpin", lines(geom.Polyline{geom.Pt(10, 10), geom.Pt(90, 10), geom.Pt(10, 10.4)}), 1, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := DefaultChannel()
			ch, err := BuildChannel(c.line, 200, s)
			require.NoError(t, err)
			m := ch.Solid
			sound := m.Check()
			require.NoError(t, sound.Err())
			assert.Equal(t, c.parts, len(ch.Body))
			assert.Equal(t, c.parts, sound.Parts)
			assert.Equal(t, c.holes, holes(ch.Body))
			// A ring's body is a torus in shape: each hole takes 2 off Euler's 2.
			assert.Equal(t, 2*c.parts-2*c.holes, sound.Euler)
			// Floor and rear under the whole plan, walls beside the slot.
			var mid []geom.Polyline
			for _, k := range c.line.Curves {
				mid = append(mid, k.Flatten(chord))
			}
			body := PlanOf(ch.Body).Size()
			want := body*(s.Rear+s.Floor) + (body-Ribbon(mid, s.Slot()/2).Size())*(s.Height()-s.Rear-s.Floor)
			assert.InEpsilon(t, want, m.Volume(), 1e-3)
			lo, hi := m.Bounds()
			assert.Equal(t, 0.0, lo.Z, "the rear lies on z = 0")
			assert.Equal(t, 15.0, hi.Z, "13 mm deep and 2 mm stiffening")
		})
	}
}

// Whatever is drawn, the mesh is a solid's: random strokes, crossing, touching
// and lying on one another, many corners on whole millimetres to provoke
// coincidences.
func TestChannelOfRandomStrokes(t *testing.T) {
	for seed := range int64(150) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			rng := rand.New(rand.NewSource(seed))
			var pls []geom.Polyline
			for range 1 + rng.Intn(8) {
				var pl geom.Polyline
				for range 2 + rng.Intn(5) {
					p := geom.Pt(rng.Float64()*120, rng.Float64()*120)
					if seed%2 == 0 {
						p = geom.Pt(math.Round(p.X/3.5)*3.5, math.Round(p.Y/3.5)*3.5)
					}
					if len(pl) == 0 || p != pl[len(pl)-1] {
						pl = append(pl, p)
					}
				}
				if len(pl) > 1 {
					pls = append(pls, pl)
				}
			}
			if len(pls) == 0 {
				return
			}
			ch, err := BuildChannel(lines(pls...), 120, DefaultChannel())
			require.NoError(t, err)
			assert.NoError(t, ch.Solid.Check().Err())
			assert.Equal(t, len(ch.Body), ch.Solid.Check().Parts)
		})
	}
}

// Seen from the front (z towards the viewer, y up) the part reads as the sheet
// does: the foot of an R, which points to the right, stays on the right and
// below.
func TestChannelIsNotMirrored(t *testing.T) {
	r := lines(geom.Polyline{geom.Pt(20, 100), geom.Pt(20, 20), geom.Pt(50, 20), geom.Pt(50, 60), geom.Pt(20, 60)}, geom.Polyline{geom.Pt(30, 60), geom.Pt(90, 100)})
	ch, err := BuildChannel(r, 297, DefaultChannel())
	require.NoError(t, err)
	_, hi := ch.Solid.Bounds()
	assert.InDelta(t, 297-20+3.5, hi.Y, 0.02, "the sheet's top is the part's top")
	for _, v := range ch.Solid.Vertices {
		if v.X > 70 {
			assert.Less(t, v.Y, 297-60.0, "right of the bowl there is only the leg, in the lower half")
		}
	}
	assert.InDelta(t, 93.5, hi.X, 0.3)
}

func TestChannelRefuses(t *testing.T) {
	line := lines(geom.Polyline{geom.Pt(0, 0), geom.Pt(50, 0)})
	for _, c := range []struct {
		name   string
		line   geom.Centreline
		change func(*ChannelSettings)
		want   string
	}{
		{"no line", geom.Centreline{}, func(*ChannelSettings) {}, "no centreline"},
		{"no wall", line, func(s *ChannelSettings) { s.Wall = 0 }, "wall is 0 mm"},
		{"not a number", line, func(s *ChannelSettings) { s.Strip = math.NaN() }, "strip width"},
		{"floor fills the body", line, func(s *ChannelSettings) { s.Floor = 13 }, "make the depth larger"},
		{"rear under 0", line, func(s *ChannelSettings) { s.Rear = -1 }, "rear is -1 mm"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := DefaultChannel()
			c.change(&s)
			_, err := BuildChannel(c.line, 100, s)
			assert.ErrorContains(t, err, c.want)
		})
	}
}

func TestCheckFindsFaults(t *testing.T) {
	solid := func() *Mesh { // a tetrahedron
		return &Mesh{
			Vertices:  []Vertex{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
			Triangles: [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {0, 3, 2}},
		}
	}
	for _, c := range []struct {
		name  string
		spoil func(*Mesh)
		open  int
		many  int
		flip  int
		flat  int
	}{
		{"whole", func(*Mesh) {}, 0, 0, 0, 0},
		{"a facet missing", func(m *Mesh) { m.Triangles = m.Triangles[:3] }, 3, 0, 0, 0},
		{"a facet turned", func(m *Mesh) { m.Triangles[0] = [3]int32{0, 1, 2} }, 0, 0, 3, 0},
		{"a facet twice", func(m *Mesh) { m.Triangles = append(m.Triangles, m.Triangles[0]) }, 0, 3, 0, 0},
		{"a flat facet", func(m *Mesh) { m.Vertices[3] = Vertex{0.5, 0, 0} }, 0, 0, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := solid()
			c.spoil(m)
			s := m.Check()
			assert.Equal(t, [4]int{c.open, c.many, c.flip, c.flat}, [4]int{s.Open, s.NonManifold, s.Flipped, s.Degenerate})
			if c.name == "whole" {
				assert.NoError(t, s.Err())
				assert.InDelta(t, 1.0/6, s.Volume, 1e-12)
				assert.Equal(t, 2, s.Euler)
			} else {
				assert.Error(t, s.Err())
			}
		})
	}
}

// ringPoints is a circle of radius r (mm) as a chain, its first point repeated.
func ringPoints(r float64) geom.Polyline {
	return geom.Arc(geom.Pt(50, 50), r, 0, 360).Flatten(0.001)
}

// widened is lines as GEOS widens them, before a Ribbon drops what corners it can.
func widened(lines []geom.Polyline, radius float64, quarter int) Plan {
	return Plan{bufferLines(geos.DefaultContext, lines, radius, quarter)}
}

// holes is how many holes a region has.
func holes(r geom.Region) int {
	n := 0
	for _, p := range r {
		n += len(p.Holes)
	}
	return n
}

// A fault of our own is not passed off as one of the geometry library.
func TestGuard(t *testing.T) {
	guarded := func(f func()) (err error) {
		defer Guard("working", &err)
		f()
		return nil
	}
	assert.NoError(t, guarded(func() {}))
	err := guarded(func() { Area(geom.Pt(0, 0)) }) // a ring of one corner is none
	assert.ErrorContains(t, err, "working: ")
	assert.PanicsWithError(t, "runtime error: index out of range [3] with length 2", func() {
		few, i := []int{1, 2}, 3
		_ = guarded(func() { few[i]++ })
	})
}
