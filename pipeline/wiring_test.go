package pipeline

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/geom/strip"
	"inkchannel/pipeline/power"
)

// The wiring diagram has every piece once, ten in a row at most, however many a circuit has.
func TestWiringRows(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name       string
		pieces     []int // of each circuit
		rows       int
		wide, most float64 // mm
	}{
		{"one circuit", []int{3}, 1, 150, 190},
		{"a full row", []int{10}, 1, 330, 360},
		{"over rows", []int{23}, 3, 270, 300},
		{"two circuits, one over rows", []int{4, 11}, 3, 220, 250},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var in WiringIn
			for _, n := range c.pieces {
				circuit := strip.Circuit{Strip: 1}
				for range n {
					circuit.Pieces = append(circuit.Pieces, len(in.Strips.Pieces))
					in.Strips.Pieces = append(in.Strips.Pieces, strip.Piece{Strip: 50})
				}
				in.Strips.Circuits = append(in.Strips.Circuits, circuit)
				in.Power.Circuits = append(in.Power.Circuits, power.Circuit{})
			}
			d := Wiring(in)
			svg := string(d.SVG("wiring"))
			for i := range in.Strips.Pieces {
				assert.Contains(t, svg, fmt.Sprintf(">piece %d<", i+1))
			}
			assert.InDelta(t, float64(26+c.rows*wiringRowHigh+8), d.H, 1e-9)
			assert.True(t, d.W >= c.wide && d.W <= c.most, "%g mm wide", d.W)
		})
	}
}
