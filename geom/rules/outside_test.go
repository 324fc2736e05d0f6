package rules

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
	"inkchannel/geom/solid"
	"inkchannel/testdata/outside"
)

// Outside check: shapely's distances between lines, and its area of an outline
// inset by 1.5 mm as the wire groove is, on random arcs, lines and free curves.
func TestAgainstShapely(t *testing.T) {
	for seed := range int64(12) {
		rng := rand.New(rand.NewSource(seed))
		at := func() geom.Point { return geom.Pt(120*rng.Float64(), 120*rng.Float64()) }
		var cs []geom.Curve
		for i := range 5 {
			switch i % 3 {
			case 0:
				cs = append(cs, geom.Arc(at(), 8+20*rng.Float64(), 360*rng.Float64(), 360*rng.Float64()))
			case 1:
				cs = append(cs, geom.Lines(at(), at()))
			default:
				cs = append(cs, geom.Curve{Pieces: []geom.Cubic{{at(), at(), at(), at()}}})
			}
		}
		var q struct {
			Lines [][][2]float64 `json:"lines"`
			Width float64        `json:"width"`
			Inset float64        `json:"inset"`
		}
		q.Width, q.Inset = 7, 1.5
		var lines []geom.Polyline
		for _, c := range cs {
			l := c.Flatten(0.001)
			lines = append(lines, l)
			var pts [][2]float64
			for _, p := range l {
				pts = append(pts, [2]float64{p.X, p.Y})
			}
			q.Lines = append(q.Lines, pts)
		}
		in, err := json.Marshal(q)
		require.NoError(t, err)
		cmd := exec.Command(outside.Python(t, "shapely"), "../../testdata/outside/distances.py")
		cmd.Stdin = bytes.NewReader(in)
		out, err := cmd.Output()
		require.NoError(t, err, "make test installs python3-shapely")
		var want struct {
			Distances   [][]float64
			Body, Inset float64
		}
		require.NoError(t, json.Unmarshal(out, &want))
		body := solid.Ribbon(lines, q.Width/2)
		assert.InEpsilon(t, want.Body, body.Size(), 1e-3)
		assert.InEpsilon(t, want.Inset, body.Grow(-q.Inset).Size(), 2e-3)
		// Each two curves alone, so that nothing joins them but what touches.
		for i := range cs {
			for k := range i {
				d := want.Distances[i][k]
				c := geom.Join([]geom.Curve{cs[i], cs[k]}, 1e-6)
				tight, err := Spacing(c, DefaultSpacing())
				require.NoError(t, err)
				nearest := math.Inf(1)
				for _, x := range tight {
					if x.Curves[0] != x.Curves[1] {
						nearest = min(nearest, x.Distance)
					}
				}
				switch {
				case d > 7.5:
					assert.True(t, math.IsInf(nearest, 1), "seed %d: %g mm apart by shapely", seed, d)
				case d > 0:
					assert.InDelta(t, d, nearest, 0.005, "seed %d", seed)
				}
			}
		}
	}
}
