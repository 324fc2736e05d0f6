package power

import (
	"fmt"
	"math"
	"slices"
)

// A Wire is a copper conductor.
type Wire struct {
	Name string
	Area float64 // mm²
	Ohms float64 // for each metre at 20 °C, one conductor
	Amps float64 // that it may carry in free air; common practice, no source
	// Outside is its diameter over the insulation, mm, 0 where it is not known.
	Outside float64
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

// thin are flexible hook-up wires with a thin wall as they are sold, mm² and mm over the
// insulation: common practice, no source.
var thin = []struct{ area, outside float64 }{
	{0.05, 0.7}, {0.08, 0.8}, {0.14, 1.1}, {0.25, 1.3}, {0.34, 1.5}, {0.5, 1.6}, {0.75, 1.9}, {1, 2.1}, {1.5, 2.6},
	{2.5, 3.2},
}

// stranding is by how much a flexible conductor resists more than solid copper of its
// nominal area: about what IEC 60228 allows class 5 (from memory).
const stranding = 1.13

// HookUp returns the wires for the inside of a sign, thinnest first.
func HookUp() []Wire {
	var out []Wire
	for _, t := range thin {
		out = append(out, Wire{
			Name: fmt.Sprintf("%g mm2", t.area), Area: t.area, Ohms: stranding * Copper / (t.area * 1e-6),
			Amps: ampacity(t.area), Outside: t.outside,
		})
	}
	return out
}

// mostInside is the copper, mm², beyond which a wire behind the channels is no thicker for
// the voltage's sake alone: it takes room that channels do not have.
const mostInside = 0.5

// slimInside is the copper, mm², beyond which they are no thicker for half of what may be lost: a
// pair of such wires leaves the board a face to be glued on beside them.
const slimInside = 0.25

// leastInside is the copper, mm², of the thinnest wire behind the channels: thinner ones break
// where they are soldered; common practice, no source.
const leastInside = 0.08

// Inside returns the thinnest wire for the inside of a sign that the fuse of a circuit of so
// many amperes protects, and over m metres of which, there and back, no more than volts are
// lost, or twice that if it would take more than a slim one; if that would take a thick one, the
// thickest that is not.
//
// It returns an error if none carries the current.
func Inside(amps, m, volts float64) (Wire, error) {
	fuse, err := fuseFor(amps)
	if err != nil {
		return Wire{}, err
	}
	var best Wire
	for _, w := range HookUp() {
		if w.Amps < fuse || w.Area < leastInside || best.Area > 0 && w.Area > mostInside {
			continue
		}
		best = w
		if lost := 2 * m * w.Ohms * amps; lost <= volts || w.Area >= slimInside && lost <= 2*volts {
			break
		}
	}
	if best.Area == 0 {
		return best, fmt.Errorf(
			"no wire up to 2.5 mm2 carries %.1f A behind the channels; use a strip with a higher voltage, or split the "+
				"sign", amps,
		)
	}
	return best, nil
}

// Signal returns the wire for data, which carries no current to speak of: the thinnest that
// does not break where it is soldered.
func Signal() Wire {
	all := HookUp()
	return all[slices.IndexFunc(all, func(w Wire) bool { return w.Area >= leastInside })]
}

// ampacity is a careful current for a thin wire in free air: 6 A for each mm²,
// less for thick ones; common practice, no source.
func ampacity(area float64) float64 { return 6 * math.Pow(area, 0.8) }

// gauge returns the American gauge at least as thick as a wire, of the even ones, which are what shops have; common
// practice, no source.
func gauge(w Wire) Wire {
	for n := 30; n >= 0; n -= 2 {
		if a := AWG(n); a.Area >= w.Area*0.97 {
			return a
		}
	}
	return AWG(0)
}
