package power

import (
	"errors"
	"fmt"
)

// Settings tune Feed.
type Settings struct {
	Lead     float64 // m of wire from the supply to the sign
	Drop     float64 // %, the most that the voltage may fall on wires, and again on the strip
	Headroom float64 // %, spare power of the supply beyond the load
	Ambient  float64 // °C around the sign
	Softens  float64 // °C at which the plastic softens; PLA 60, from memory
}

// Default returns careful settings; common practice, no source.
func Default() Settings {
	return Settings{Lead: 1.5, Drop: 3, Headroom: 25, Ambient: 25, Softens: 60}
}

func (s Settings) check() error {
	if s.Lead < 0 || s.Drop <= 0 || s.Headroom < 0 {
		return errors.New("the lead and the headroom must be 0 or more, and the voltage drop over 0")
	}
	return nil
}

// A Load is the strip of one circuit.
type Load struct {
	Strip   float64 // m, all of it
	Chain   float64 // m, the longest that is soldered together; 0 for all
	Hidden  float64 // m of wire from where the lead enters the sign to the farthest tap
	Inside  Wire    // what runs there; the zero value for the lead's own
	Channel float64 // mm, the channel's outline: what gives heat off
}

// A Circuit is how the strip of one colour is fed.
type Circuit struct {
	Amps      float64
	Watts     float64
	Feeds     int     // points that its longest chain is fed at, evenly spread, its ends first
	StripDrop float64 // V, from a feed to the dimmest LED
	WireDrop  float64 // V, on lead and hidden wire, both conductors
	Wire      Wire    // of the lead: IEC 60228
	Gauge     Wire    // the American gauge at least as thick
	Inside    Wire    // behind the channels
	Fuse      float64 // A
	Warm      float64 // °C that the channel gets at most, roughly
	Dim       bool    // more is lost on the wires than was to be, whatever the lead
}

// A Feeding is how a whole sign is fed.
type Feeding struct {
	Circuits []Circuit
	Watts    float64 // of all strip
	Amps     float64
	Supply   float64 // W, the next common size with headroom
	Notes    []string
}

// fuses are the currents of miniature fuses up to 6.3 A, IEC 60127-2, and of blade fuses, ISO
// 8820-3, A (both from memory).
var fuses = []float64{0.5, 0.63, 0.8, 1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 7.5, 10, 15, 20, 25, 30}

// supplies are common sizes, W; common practice, no source.
var supplies = []float64{6, 12, 18, 24, 30, 36, 48, 60, 75, 90, 100, 120, 150, 200, 250, 300, 350, 500, 600}

// StripDrop is the voltage, V, that falls along strip of length m fed at n
// points: its near end, then both ends, then points evenly between as well. The
// load is spread evenly, so it is half, an eighth of current times resistance,
// or the eighth of each stretch: ∫ r·i·(L − x) dx = r·i·L²/2.
func StripDrop(s Strip, length float64, feeds int) float64 {
	if feeds < 2 {
		return s.Ohms * s.Amps() * length * length / 2
	}
	part := length / float64(feeds-1)
	return s.Ohms * s.Amps() * part * part / 8
}

// Feed sizes what feeds the chains of a sign.
//
// It returns an error for settings that make no sense and for a load that no
// wire or fuse of the tables carries. A circuit that loses more than it should is
// dimmer at its far end, which its Dim tells.
func Feed(s Strip, loads []Load, set Settings) (Feeding, error) {
	var f Feeding
	if err := set.check(); err != nil {
		return f, err
	}
	for i, l := range loads {
		c, err := circuit(s, l, set)
		if err != nil {
			return f, fmt.Errorf("circuit %d: %w", i+1, err)
		}
		f.Circuits = append(f.Circuits, c)
		f.Watts, f.Amps = f.Watts+c.Watts, f.Amps+c.Amps
		if c.Feeds > 1 {
			f.Notes = append(
				f.Notes,
				fmt.Sprintf(
					"circuit %d: feed its %.2f m of strip in one run at %d points, or the far end will be dim", i+1,
					l.chain(), c.Feeds,
				),
			)
		}
		if c.Warm > set.Softens-10 {
			f.Notes = append(
				f.Notes,
				fmt.Sprintf(
					"circuit %d: the channel may reach about %.0f °C, close to where the plastic softens (%g °C): "+
						"use a weaker strip, dim it, or print in a more heat-resistant plastic", i+1, c.Warm,
					set.Softens,
				),
			)
		}
	}
	// A supply that cannot give more than a fuse carries would never blow it.
	least := max(f.Watts*(1+set.Headroom/100), f.LargestFuse()*s.Volts)
	for _, w := range supplies {
		if f.Supply = w; w >= least {
			return f, nil
		}
	}
	return f, fmt.Errorf("%.0f W is more than one common supply delivers; split the sign", f.Watts)
}

// LargestFuse is the fuse of the circuit with most current, A.
func (f Feeding) LargestFuse() (most float64) {
	for _, c := range f.Circuits {
		most = max(most, c.Fuse)
	}
	return most
}

// chain is the longest run of strip, m.
func (l Load) chain() float64 {
	if l.Chain == 0 {
		return l.Strip
	}
	return l.Chain
}

// fuseFor is the fuse of a circuit of so many amperes.
func fuseFor(amps float64) (float64, error) {
	for _, f := range fuses {
		if f >= fuseSpare*amps {
			return f, nil
		}
	}
	return 0, fmt.Errorf(
		"%.1f A is too much for the largest fuse (%g A); split the sign, or use a strip with a higher voltage", amps,
		fuses[len(fuses)-1],
	)
}

// fuseSpare is how many times the current a fuse is made for, at least; common practice,
// no source.
const fuseSpare = 1.25

func circuit(s Strip, l Load, set Settings) (c Circuit, err error) {
	c = Circuit{Amps: s.Amps() * l.Strip, Watts: s.Watts * l.Strip, Feeds: 1, Inside: l.Inside}
	limit := set.Drop / 100 * s.Volts
	for c.Feeds < 100 {
		c.StripDrop = StripDrop(s, l.chain(), c.Feeds)
		// A stretch between feeds counts half: it is fed from both sides.
		run := l.chain()
		if c.Feeds > 1 {
			run = l.chain() / float64(c.Feeds-1) / 2
		}
		if c.StripDrop <= limit && run <= s.Run {
			break
		}
		c.Feeds++
	}
	if c.Fuse, err = fuseFor(c.Amps); err != nil {
		return c, err
	}
	for _, w := range Flexible() {
		inside := l.Inside
		if inside == (Wire{}) {
			inside = w
		}
		lead, hidden := 2*set.Lead*w.Ohms*c.Amps, 2*l.Hidden*inside.Ohms*c.Amps
		c.Wire, c.WireDrop = w, lead+hidden
		// Where too much is lost behind the channels a thick lead would not help.
		c.Dim = c.WireDrop > limit
		if w.Amps >= c.Fuse && (!c.Dim || hidden > dimLead*limit && lead <= dimLead*limit) {
			break
		}
	}
	if c.Wire.Amps < c.Fuse {
		return c, fmt.Errorf("no wire up to %s carries %.1f A; use a strip with a higher voltage", c.Wire.Name, c.Amps)
	}
	c.Gauge = gauge(c.Wire)
	c.Warm = set.Ambient + warmth(s, l)
	return c, nil
}

// dimLead is the share of what may be lost on the wires that a lead may, where the wires behind the
// channels lose most of it.
const dimLead = 0.5

// warmth is how much warmer than the air, °C, a channel gets whose outline is
// given in mm, if all power becomes heat that leaves it at 8 W/(m²·K): still
// air, convection and radiation together; common practice, no source.
func warmth(s Strip, l Load) float64 {
	if l.Channel <= 0 {
		return 0
	}
	return s.Watts / (8 * l.Channel / 1000)
}
