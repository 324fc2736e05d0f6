package papers

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"

	"inkchannel/geom/parts"
	"inkchannel/pipeline"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// A ListIn is what the parts list and the assembly are made of.
type ListIn struct {
	Colours pipeline.ColoursFound
	Strips  pipeline.StripsFound
	Parts   pipeline.PartsFound
	Beds    pipeline.BedsFound
	Power   pipeline.PowerFound
}

// An Item is one line of the parts list.
type Item struct {
	What, Detail string
	Count        float64
	Unit         string
	Key          string // of its price, empty for what is printed
}

// Keys of prices.
const (
	keyPlastic    = "plastic"
	keyPrinting   = "printing"
	keyStrip      = "strip"
	keyWire       = "wire"
	keySupply     = "supply"
	keyFuse       = "fuse"
	keyController = "controller"
	keyConnector  = "connector"
	keyGlue       = "glue"
	keyTape       = "tape"
	keySolder     = "solder"
	keyScrew      = "screw"
	keyPlug       = "plug"
	keyPad        = "pad"
	keyTie        = "tie"
)

// PartsList lists what the sign is made of: what to print and what to buy. file
// names the file of a printed piece.
func PartsList(in ListIn, file func(string) string) []Item {
	var out []Item
	prints := slices.Concat(in.Beds.Prints, in.Beds.Extras)
	for _, p := range prints {
		out = append(
			out,
			Item{
				What:   "print: " + p.Name,
				Detail: fmt.Sprintf("%s, %.0f g", file(p.Name), p.Estimate.Grams),
				Count:  1,
				Unit:   piece,
			},
		)
	}
	out = append(out, Item{
		What: "filament", Detail: "of a plastic that bears warmth, for all that is printed", Count: math.Ceil(grams(prints)), Unit: "g",
	})
	out = append(out, stripItems(in)...)
	out = append(out, wireItems(in)...)
	out = append(
		out,
		Item{
			What: "power supply",
			Detail: fmt.Sprintf(
				"%g V DC, at least %g W, enclosed, listed for your country", in.Power.Strip.Volts, in.Power.Supply,
			),
			Count: 1,
			Unit:  piece,
			Key:   keySupply,
		},
	)
	out = append(out, screwItems(in)...)
	return append(out, smallItems(in)...)
}

// grams is what prints weigh.
func grams(prints []pipeline.Print) (sum float64) {
	for _, p := range prints {
		sum += p.Estimate.Grams
	}
	return sum
}

// smallItems are what joins the rest; common practice, no source.
func smallItems(in ListIn) (out []Item) {
	if in.Power.Strip.Kind == power.Addressable {
		out = append(out, Item{
			What: "controller", Count: 1, Unit: piece, Key: keyController,
			Detail: fmt.Sprintf(
				"for the protocol of %s, %g V, %d LEDs, at most %g by %g by %g mm", in.Power.Strip.Name, in.Power.Strip.Volts, leds(in),
				in.Parts.Controller.X, in.Parts.Controller.Y, in.Parts.Controller.Z,
			),
		})
	}
	out = append(out, Item{
		What: "connector, plug and socket", Count: float64(len(in.Strips.Circuits)), Unit: piece, Key: keyConnector,
		Detail: fmt.Sprintf("for the lead, DC, for the fuse's %g A or more, that fits no mains socket", in.Power.LargestFuse()),
	})
	if in.Beds.PiecesOf(parts.NameBackboard) > 0 || len(in.Beds.Cuts) > 0 {
		out = append(out, Item{What: "glue", Detail: "for your plastic", Count: 1, Unit: piece, Key: keyGlue})
	}
	if len(in.Parts.Wires) > 0 {
		out = append(out, Item{What: "insulating tape", Detail: "to hold parts and wires while you work", Count: 1, Unit: piece, Key: keyTape})
	}
	switch {
	case in.Parts.Bore != nil:
		out = append(out, Item{What: "cable tie", Detail: "for the lead, so that no pull comes to the joints", Count: 1, Unit: piece, Key: keyTie})
	case len(in.Parts.Harness) > 0:
		out = append(out, Item{What: "cable clip", Detail: "for the lead, so that no pull comes to the joints", Count: 1, Unit: piece, Key: keyTie})
	}
	out = append(out, Item{What: "solder and heat-shrink sleeve", Detail: fmt.Sprintf("for about %d joints", joints(in)), Count: 1, Unit: piece, Key: keySolder})
	if in.Parts.Mounts > 0 && in.Strips.Hold != parts.HoldPads {
		out = append(out, Item{What: "wall plug", Detail: fmt.Sprintf("for your wall and a screw of %g mm; drill the hole that the plug asks for", in.Parts.Screw), Count: float64(in.Parts.Mounts), Unit: piece, Key: keyPlug})
	}
	return out
}

// joints is how many joints are soldered, plus and minus: each chain of strip at its start, both
// ends of the short wires between its pieces, each wire where it goes on from another, and each
// circuit to its lead; and both ends of each data wire.
func joints(in ListIn) int {
	pairs := len(in.Strips.Circuits)
	for _, c := range in.Strips.Chains {
		pairs += 1 + 2*(len(c.Pieces)-1)
	}
	for _, w := range in.Parts.Harness {
		if w.From != 0 && !w.Data {
			pairs++
		}
	}
	return 2*pairs + 2*dataWires(in)
}

// stripItems are the strips to buy, one for each colour.
func stripItems(in ListIn) (out []Item) {
	s := in.Power.Strip
	total := make([]float64, max(len(in.Colours.All), 1))
	for _, p := range in.Strips.Pieces {
		total[p.Ink] += p.Strip
	}
	detail := fmt.Sprintf(
		"%g mm wide, %g V, %g W/m, %g LEDs/m, cut every %g mm, %s; the sum of the pieces: buy a cut or two more", s.Width, s.Volts, s.Watts, s.LEDs, s.Cut,
		s.Kind,
	)
	for ink, t := range total {
		out = append(
			out,
			Item{
				What:   "LED strip" + stripName(s) + in.Colours.InColour(ink),
				Detail: detail,
				Count:  thousandths(t / 1000),
				Unit:   "m",
				Key:    keyStrip,
			},
		)
	}
	return out
}

// stripName is a strip's name, nothing for what differs from the built-in one of that name: nobody sells it.
func stripName(s power.Strip) string {
	if lib, err := power.Library(); err == nil {
		for _, l := range lib {
			l.LEDs, l.Bend, l.Run, l.Ohms = s.LEDs, s.Bend, s.Run, s.Ohms // of which no setting tells the kind
			if l.Name == s.Name && l != s {
				return ""
			}
		}
	}
	return " " + s.Name
}

// wireItems are the wires and fuses, each kind once.
func wireItems(in ListIn) (out []Item) {
	fuses, wires := map[float64]int{}, map[string]float64{}
	var order []float64
	var names []string
	add := func(name string, m float64) {
		if wires[name] == 0 && m > 0 {
			names = append(names, name)
		}
		wires[name] += m
	}
	for i, c := range in.Power.Circuits {
		if in.Strips.Circuits[i].Strip == 0 {
			continue
		}
		if fuses[c.Fuse] == 0 {
			order = append(order, c.Fuse)
		}
		fuses[c.Fuse]++
		add(fmt.Sprintf("%s (or %s), for the lead, both conductors together: two of %g m", c.Wire.Name, c.Gauge.Name, in.Power.Lead), 2*in.Power.Lead)
		add(
			fmt.Sprintf("%s, %g mm over the insulation, for inside the sign, both conductors together; some more for the short ones from piece to piece", c.Inside.Name, c.Inside.Outside),
			2*insideWire(in, func(w parts.Wire) bool { return w.Circuit == i && !w.Data }),
		)
	}
	data := insideWire(in, func(w parts.Wire) bool { return w.Data })
	if data > 0 && in.Parts.Bore == nil { // the controller is not in the sign
		data += in.Power.Lead
	}
	if data > 0 {
		s := power.Signal()
		add(fmt.Sprintf("%s, %g mm over the insulation, of another colour, for data", s.Name, s.Outside), data)
	}
	for _, n := range names {
		out = append(
			out,
			Item{
				What:   "flexible copper wire",
				Detail: n,
				Count:  thousandths(wires[n]),
				Unit:   "m",
				Key:    keyWire,
			},
		)
	}
	for _, a := range order {
		out = append(
			out,
			Item{What: "fuse with holder", Detail: fmt.Sprintf("%g A", a), Count: float64(fuses[a]), Unit: piece, Key: keyFuse},
		)
	}
	return out
}

// wireEnd is what each pair of wires is longer than its way, m, to be soldered on; common
// practice, no source.
const wireEnd = 0.05

// insideWire is how much is cut for the inside of the sign of some of its wires, m.
func insideWire(in ListIn, some func(parts.Wire) bool) (sum float64) {
	for _, w := range in.Parts.Harness {
		if some(w) {
			sum += cutLength(in, w) / 1000
		}
	}
	return sum
}

// comesIn is what wires that come in are longer by, m, to be joined to the lead in the stand or below the sign;
// common practice, no source.
const comesIn = 0.15

// cutLength is how long each conductor of a wire is cut, whole mm.
func cutLength(in ListIn, w parts.Wire) float64 {
	m := w.Path.Length()/1000 + wireEnd
	if w.From == 0 {
		m += comesIn
	}
	return math.Ceil(1000 * m)
}

// screwItems are what holds the lid or hangs the sign.
func screwItems(in ListIn) []Item {
	switch {
	case in.Parts.Named(parts.NameLid) != nil:
		return []Item{{What: "screw M3 x 8, countersunk", Detail: "for the stand's lid", Count: 4, Unit: piece, Key: keyScrew}}
	case in.Parts.Mounts == 0:
		return nil
	case in.Strips.Hold == parts.HoldPads:
		return []Item{
			{
				What:   "mounting pad",
				Detail: "sticks to both sides, for the sign's weight and your wall",
				Count:  float64(in.Parts.Mounts),
				Unit:   piece,
				Key:    keyPad,
			},
		}
	}
	return []Item{
		{
			What:   fmt.Sprintf("screw, %g mm", in.Parts.Screw),
			Detail: screwDetail(in),
			Count:  float64(in.Parts.Mounts),
			Unit:   piece,
			Key:    keyScrew,
		},
	}
}

// screwDetail is what a wall sign's screws are to be like: those of a metric thread hold in no wall plug.
func screwDetail(in ListIn) string {
	if in.Strips.Hold == parts.HoldKeyhole {
		off, high := parts.HeadOff()
		return fmt.Sprintf(
			"for the wall plugs, as long as they are and %.0f mm; its head round, at most %.1f mm wide and %.1f mm high", math.Ceil(off+1),
			parts.MostHead(in.Parts.Screw), high,
		)
	}
	return fmt.Sprintf("for the wall plugs, with a flat-bottomed head wider than %.1f mm", parts.ClearanceHole(in.Parts.Screw))
}

// leds is how many LEDs all pieces have.
func leds(in ListIn) int {
	sum := 0.0
	for _, p := range in.Strips.Pieces {
		sum += p.Strip
	}
	return int(math.Round(sum / 1000 * in.Power.Strip.LEDs))
}

// thousandths keeps three places.
func thousandths(v float64) float64 { return math.Round(v*1000) / 1000 }

// PartsCSV writes the parts list as CSV (RFC 4180).
func PartsCSV(items []Item) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	rows := [][]string{{"what", "detail", "count", "unit"}}
	for _, i := range items {
		rows = append(rows, []string{i.What, i.Detail, strconv.FormatFloat(i.Count, 'f', -1, 64), i.Unit})
	}
	err := w.WriteAll(rows)
	return b.Bytes(), err
}

// piece is the unit of what is counted.
const piece = "piece"

// Amount is how much of an item, as "3 pieces" or "1.5 m".
func (i Item) Amount() string {
	if i.Unit == piece {
		return stage.Count(int(i.Count), piece, "pieces")
	}
	return fmt.Sprintf("%g %s", i.Count, i.Unit)
}
