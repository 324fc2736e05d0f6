package power

import (
	"fmt"
	"math"
)

// A Wire is a copper conductor.
type Wire struct {
	Name string
	Area float64 // mm²
	Ohms float64 // for each metre at 20 °C, one conductor
	Amps float64 // that it may carry in free air; common practice, no source
}

// Copper is the resistivity of annealed copper at 20 °C, Ω·m: the International
// Annealed Copper Standard of 1913 (IEC 60028).
const Copper = 1.7241e-8

// AWG returns a solid round wire of the American wire gauge: its diameter is
// 0.127 mm · 92^((36 − n)/39), ASTM B258.
func AWG(n int) Wire {
	d := 0.127 * math.Pow(92, float64(36-n)/39)
	area := math.Pi / 4 * d * d
	return Wire{Name: fmt.Sprintf("AWG %d", n), Area: area, Ohms: Copper / (area * 1e-6), Amps: ampacity(area)}
}

// Diameter returns the diameter in mm of a solid wire of the wire's area.
func (w Wire) Diameter() float64 { return math.Sqrt(4 / math.Pi * w.Area) }

// iec60228 is the largest resistance at 20 °C of flexible conductors of plain
// copper, class 5: IEC 60228:2004, table 3 (values from memory), Ω/km.
var iec60228 = []struct{ area, ohms float64 }{
	{0.5, 39.0}, {0.75, 26.0}, {1, 19.5}, {1.5, 13.3}, {2.5, 7.98}, {4, 4.95}, {6, 3.30}, {10, 1.91},
}

// Flexible returns the flexible conductors of IEC 60228 class 5, thinnest
// first.
func Flexible() []Wire {
	var out []Wire
	for _, r := range iec60228 {
		out = append(
			out,
			Wire{Name: fmt.Sprintf("%g mm2", r.area), Area: r.area, Ohms: r.ohms / 1000, Amps: ampacity(r.area)},
		)
	}
	return out
}

// ampacity is a careful current for a thin wire in free air: 6 A for each mm²,
// less for thick ones; common practice, no source.
func ampacity(area float64) float64 { return 6 * math.Pow(area, 0.8) }

// gauge returns the American gauge at least as thick as a wire.
func gauge(w Wire) Wire {
	for n := 30; n >= 0; n-- {
		if a := AWG(n); a.Area >= w.Area*0.97 {
			return a
		}
	}
	return AWG(0)
}
