package parts

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
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
			sign, err := Build(kettle(), s)
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
			}
			assert.ElementsMatch(t, c.want, names)
		})
	}
}
