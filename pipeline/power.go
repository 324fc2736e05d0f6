package pipeline

import (
	"fmt"
	"image"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// StagePower sizes wires, fuses and supply.
const StagePower = "power"

// PowerSettings are the strip's electrical values and how it is fed.
type PowerSettings struct {
	LEDs, Run, Ohms float64 // as power.Strip has them
	Feed            power.Settings
}

// PowerFound is how the sign is fed.
type PowerFound struct {
	power.Feeding
	Strip power.Strip  // with all its values, those of earlier stages too
	Loads []power.Load // of each circuit
	Lead  float64      // m of wire from the supply to the sign
}

func powerStage() stage.Stage {
	type settings = PowerSettings
	type in struct {
		Bends     BendsFound
		Junctions JunctionsFound
		Strips    StripsFound
		Channel   ChannelFound
		Parts     PartsFound
		Colours   ColoursFound
	}
	def := power.DefaultStrip()
	return stage.Define(stage.Spec[settings, in, PowerFound]{
		Name: StagePower, Does: "size the wires, fuses and supply",
		Default: PowerSettings{
			LEDs: def.LEDs,
			Run:  def.Run,
			Ohms: def.Ohms,
			Feed: power.Default(),
		},
		Settings: []stage.Setting{
			stage.Number("strip-leds", "1/m", "LEDs on each metre of strip", 1, 5000, func(s *settings) *float64 { return &s.LEDs }),
			stage.Number("strip-run", "m", "longest piece of strip that may be fed from one end", 0.1, 100, func(s *settings) *float64 { return &s.Run }),
			stage.Number("strip-ohms", "ohm/m", "resistance of each metre of strip, both tracks together", 0, 10, func(s *settings) *float64 { return &s.Ohms }),
			stage.Number("lead", "m", "length of wire from the supply to the sign", 0, 100, func(s *settings) *float64 { return &s.Feed.Lead }),
			stage.Number("drop", "%", "largest voltage drop allowed in the wires, and again in the strip", 0.1, 20, func(s *settings) *float64 { return &s.Feed.Drop }),
			stage.Number("headroom", "%", "spare power of the supply beyond the load", 0, 200, func(s *settings) *float64 { return &s.Feed.Headroom }),
			stage.Number("ambient", "°C", "temperature around the sign", -40, 60, func(s *settings) *float64 { return &s.Feed.Ambient }),
			stage.Number("softens", "°C", "temperature at which the plastic softens", 30, 300, func(s *settings) *float64 { return &s.Feed.Softens }),
		},
		Run: func(set settings, in in) (PowerFound, stage.Report, error) {
			f := PowerFound{Lead: set.Feed.Lead, Loads: loads(in.Strips, in.Channel, in.Parts)}
			f.Strip = power.Strip{
				Name: in.Strips.Name, Width: in.Junctions.Strip.Width, Bend: in.Bends.Radius, Cut: in.Strips.Cut,
				Volts: in.Strips.Volts, Watts: in.Strips.Watts, LEDs: set.LEDs, Run: set.Run, Ohms: set.Ohms, Kind: in.Strips.Kind,
			}
			return sizePower(set.Feed, f, in.Strips, in.Colours)
		},
		Show: stage.Show{Picture: drawPower, Drawn: true},
	})
}

// loads are what each circuit draws and through how much wire.
func loads(strips StripsFound, channel ChannelFound, sign PartsFound) []power.Load {
	var out []power.Load
	s := channel.Built
	outline := 2 * (s.Slot() + 2*s.Wall + s.Height())
	for i, c := range strips.Circuits {
		l := power.Load{Strip: c.Strip / 1000, Channel: outline, Inside: strips.Wires[i]}
		for _, ch := range c.Chains {
			l.Chain = max(l.Chain, strips.Chains[ch].Strip/1000)
		}
		l.Hidden = sign.LossLength(i, func(tap int) float64 { return strips.Chains[tap].Strip }) / 1000
		out = append(out, l)
	}
	return out
}

func sizePower(
	set power.Settings, f PowerFound, strips StripsFound, colours ColoursFound,
) (_ PowerFound, rep stage.Report, err error) {
	if f.Feeding, err = power.Feed(f.Strip, f.Loads, set); err != nil {
		return f, rep, err
	}
	rep.Found = fmt.Sprintf(
		"%.1f W at %g V, %.2f A: a supply of at least %g W", f.Watts, f.Strip.Volts, f.Amps, f.Supply,
	)
	for i, c := range f.Circuits {
		if strips.Circuits[i].Strip == 0 {
			rep.Note("circuit %d%s has no strip: all of it is too short or too close to others", i+1, colours.InColour(strips.Circuits[i].Ink))
			continue
		}
		rep.Note(
			"circuit %d%s: %.2f A, fuse %g A, lead %s (%s), %s behind the channels, %.2f V drop in the wires and %.2f V "+
				"in the strip, channel up to about %.0f °C", i+1, colours.InColour(strips.Circuits[i].Ink), c.Amps,
			c.Fuse, c.Wire.Name, c.Gauge.Name, c.Inside.Name, c.WireDrop, c.StripDrop, c.Warm,
		)
	}
	rep.Notes = append(rep.Notes, f.Notes...)
	if i := slices.IndexFunc(f.Circuits, func(c power.Circuit) bool { return c.Dim }); i >= 0 {
		c := f.Circuits[i]
		share := 100 * c.WireDrop / f.Strip.Volts
		rep.Judge(
			0.4, "circuit %d loses %.2f V on its wires, %.1f %% where %g are to be lost at most: it will be dimmer at its far end; "+
				"strip of a higher voltage (--strip-volts) loses less, --drop %.0f takes it", i+1, c.WireDrop, share, set.Drop, math.Ceil(share),
		)
	}
	return f, rep, nil
}

// drawPower draws the wiring diagram.
func drawPower(r stage.Results, text string) (*image.RGBA, error) {
	in, _ := stage.Inputs[WiringIn](r)
	d := Wiring(in)
	c, err := picture.Blank(d.W, d.H, text)
	if err != nil {
		return nil, err
	}
	return c.Image, d.Draw(c)
}

// lit are the pieces that are not dark.
func lit(f StripsFound, pieces []int) (out []int) {
	for _, n := range pieces {
		if f.Pieces[n].Strip > 0 {
			out = append(out, n)
		}
	}
	return out
}

// A WiringIn is what the wiring diagram shows.
type WiringIn struct {
	Colours ColoursFound
	Strips  StripsFound
	Power   PowerFound
}

// dataFrom is what sends data to each piece of addressable strip.
func dataFrom(in WiringIn) map[int]string {
	out := map[int]string{}
	if in.Power.Strip.Kind != power.Addressable {
		return out
	}
	from := fromController
	for _, c := range in.Strips.DataOrder(in.Strips.Feed) {
		for _, n := range in.Strips.Chains[c].Pieces {
			out[n], from = from, fmt.Sprintf("piece %d", n+1)
		}
	}
	return out
}

// fromController is what the first piece has its data from.
const fromController = "controller"

// Measures of the wiring diagram, mm, and how many pieces are in a row of it.
const (
	wiringStep    = 26.0 // from piece to piece
	wiringOn      = 4.0  // from where the plus goes on to a circuit's next row to where the minus does
	wiringIn      = 6.0  // of a row before its first piece
	wiringRails   = 18.0 // from plus to minus
	wiringRowHigh = 42.0
	wiringAcross  = 10
)

// evenRows is how many of so many pieces, one at least, each row has, so that the rows are about as long as each other.
func evenRows(pieces int) int {
	rows := (pieces + wiringAcross - 1) / wiringAcross
	return (pieces + rows - 1) / rows
}

// wiringRow draws some pieces between rails that begin at a place.
func wiringRow(d *picture.Diagram, strips StripsFound, pieces []int, data map[int]string, from geom.Point) {
	p, m := from.Y, from.Y+wiringRails
	end := from.X + wiringIn + wiringStep*(float64(len(pieces))-0.5)
	d.Line(from.X+wiringOn, p, end, p)
	d.Line(from.X+wiringOn, m, end, m)
	for k, n := range pieces {
		at := from.X + wiringIn + wiringStep*(float64(k)+0.5)
		d.Line(at, p, at, p+3)
		d.LED(at, p+3)
		d.Line(at, p+15, at, m)
		if k < len(pieces)-1 {
			d.Dot(at, p)
			d.Dot(at, m)
		}
		d.Text(at, m+4.5, 3, "middle", "piece %d", n+1)
		d.Text(at, m+8.2, 2.6, "middle", "%s", stage.Millimetres(strips.Pieces[n].Strip))
		if from, ok := data[n]; ok {
			d.Text(at, m+11.6, 2.4, "middle", "data from %s", from)
		}
	}
}

// Wiring draws the supply, and for each circuit its fuse and its pieces in the
// order they are fed.
func Wiring(in WiringIn) *picture.Diagram {
	f, s := in.Power, in.Power.Strip
	d := &picture.Diagram{}
	const left, x = 52.0, 70.0 // where the fuse begins, and the sign
	data := dataFrom(in)
	first := 0
	for n, from := range data {
		if from == fromController {
			first = n
		}
	}
	y := 26.0
	plus, minus, lastPlus, bottom := 40.0, 46.0, y, y
	for i, c := range f.Circuits {
		ch := in.Strips.Circuits[i]
		if ch.Strip == 0 {
			continue
		}
		d.Line(plus, y, left, y)
		d.Fuse(left, y, 10, fmt.Sprintf("%g A", c.Fuse))
		d.Text(
			x+wiringOn, y-3.2, 3, "start", "circuit %d%s: %.2f A, %s", i+1, in.Colours.InColour(ch.Ink), c.Amps,
			c.Wire.Name,
		)
		if lastPlus = y; i > 0 {
			d.Dot(plus, y)
		}
		pieces := lit(in.Strips, ch.Pieces)
		d.Line(left+10, y, x-6, y)
		d.Line(minus, y+wiringRails, x-6, y+wiringRails)
		for _, rail := range []float64{y, y + wiringRails} {
			d.Connector(x-6, rail, 4)
			d.Line(x-2, rail, x+wiringOn, rail)
		}
		if i > 0 {
			d.Dot(minus, y+wiringRails)
		}
		across := evenRows(len(pieces))
		for some := range slices.Chunk(pieces, across) {
			wiringRow(d, in.Strips, some, data, geom.Pt(x, y))
			if some[len(some)-1] != pieces[len(pieces)-1] { // both go on below, behind the same fuse
				for _, tap := range []geom.Point{{X: x, Y: y}, {X: x + wiringOn, Y: y + wiringRails}} {
					d.Dot(tap.X, tap.Y)
					d.Line(tap.X, tap.Y, tap.X, tap.Y+wiringRowHigh)
				}
				d.Line(x, y+wiringRowHigh, x+wiringOn, y+wiringRowHigh)
			}
			bottom = y
			y += wiringRowHigh
		}
		d.W = max(d.W, x+wiringIn+wiringStep*float64(across)+8)
	}
	d.Line(plus, 26, plus, lastPlus)
	d.Line(minus, 44, minus, lastPlus+wiringRails)
	if lastPlus > 26 { // more circuits branch off below
		d.Dot(plus, 26)
		d.Dot(minus, 44)
	}
	// The supply: direct current, plus and minus.
	d.Box(6, 20, 24, 30)
	d.Text(18, 33, 4, "middle", "%g V =", s.Volts)
	d.Text(18, 39, 3, "middle", "%g W", f.Supply)
	d.Text(18, 17, 3, "middle", "supply")
	d.Line(30, 26, plus, 26)
	d.Line(30, 44, minus, 44)
	d.Text(32, 25, 3, "start", "+")
	d.Text(32, 43, 3, "start", "\u2212")
	if len(data) > 0 {
		// The controller hangs behind the last circuit's fuse.
		const wide, high, below = 24.0, 12.0, 14.0
		top := bottom + wiringRails + below
		d.Box(x-wide/2, top, wide, high)
		d.Text(x, top+7, 3, "middle", "controller")
		for i, tap := range []geom.Point{{X: x, Y: bottom}, {X: x + wiringOn, Y: bottom + wiringRails}} {
			d.Dot(tap.X, tap.Y)
			d.Line(tap.X, tap.Y, tap.X, top)
			d.Text(tap.X+[2]float64{-1.2, 1.2}[i], top-1.5, 3, [2]string{"end", "start"}[i], "%s", [2]string{"+", "\u2212"}[i])
		}
		d.Line(x+wide/2, top+high/2, x+wide/2+6, top+high/2)
		d.Text(x+wide/2+7, top+high/2+1, 3, "start", "data to piece %d, and on in the order told below the pieces", first+1)
		y = top + high + 4
	}
	d.H = y + 8
	d.Text(6, 8, 4, "start", "Wiring: low voltage only")
	d.Text(
		6, d.H-3, 2.6, "start",
		"Symbols: IEC 60617. Buy the supply ready made, listed for your country; leave mains to a licensed "+
			"electrician and follow local codes.",
	)
	d.W = max(d.W, 6+2.6*0.5*130)
	return d
}
