package pipeline

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"inkchannel/geom/strip"
)

// An Item is one line of the parts list.
type Item struct {
	What, Detail string
	Count        float64
	Unit         string
}

// PartsList lists what the sign is made of: what to print and what to buy.
func PartsList(r *Result) []Item {
	var out []Item
	for _, p := range r.Prints {
		out = append(out, Item{"print: " + p.Name, fmt.Sprintf("%s, %.0f g", PartFile(p.Name), p.Estimate.Grams), 1, "piece"})
	}
	s, f := r.Settings.Strip, r.Feeding
	total := make([]float64, max(len(r.Pens.All), 1))
	for _, p := range r.Strips.Pieces {
		total[p.Ink] += p.Strip
	}
	for ink, t := range total {
		out = append(out, Item{"LED strip " + s.Name + r.inColour(ink), fmt.Sprintf("%g mm wide, %g V, %g W/m, %g LEDs/m, cut every %g mm, %s", s.Width, s.Volts, s.Watts, s.LEDs, s.Cut, s.Kind), round(t / 1000), "m"})
	}
	fuses := map[float64]int{}
	var order []float64
	wires := map[string]float64{}
	var names []string
	for i, c := range f.Circuits {
		if fuses[c.Fuse] == 0 {
			order = append(order, c.Fuse)
		}
		fuses[c.Fuse]++
		name := fmt.Sprintf("%s (or %s)", c.Wire.Name, c.Gauge.Name)
		if wires[name] == 0 {
			names = append(names, name)
		}
		l := r.Loads[i]
		wires[name] += 2 * (l.Hidden + l.Jumpers)
		if i == 0 {
			wires[name] += 2 * r.Settings.Power.Lead
		}
	}
	for _, n := range names {
		out = append(out, Item{"flexible copper wire", n + ", both conductors together", round(wires[n]), "m"})
	}
	for _, a := range order {
		out = append(out, Item{"fuse with holder", fmt.Sprintf("%g A", a), float64(fuses[a]), "piece"})
	}
	out = append(out, Item{"supply", fmt.Sprintf("%g V direct current, at least %g W, listed for your country, closed", s.Volts, f.Supply), 1, "piece"})
	if r.Sign.Balance != nil {
		out = append(out, Item{"screw M3 x 8", "for the stand's lid", 4, "piece"})
	}
	return out
}

// PartsCSV writes the parts list as CSV (RFC 4180).
func PartsCSV(r *Result) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	rows := [][]string{{"what", "detail", "count", "unit"}}
	for _, i := range PartsList(r) {
		rows = append(rows, []string{i.What, i.Detail, strconv.FormatFloat(i.Count, 'f', -1, 64), i.Unit})
	}
	err := w.WriteAll(rows)
	return b.Bytes(), err
}

// Assembly writes the parts list, the strip's pieces and the steps of assembly
// as Markdown.
func Assembly(r *Result) []byte {
	var b strings.Builder
	s, f := r.Settings.Strip, r.Feeding
	b.WriteString("# How to build the sign\n\n## Before you start\n\n")
	for _, c := range []string{
		fmt.Sprintf("Work on low voltage only (%g V). Unplug the supply whenever you touch a wire.", s.Volts),
		"Buy the supply ready made and closed, listed for your country. Never open it, and never wire mains yourself: that is a licensed electrician's work. Follow your local codes, in a shop window above all.",
		"Put the fuse of each chain next to the supply. A wire without a fuse can burn.",
		"Strips get warm and plastics soften. Leave the sign on for an hour and feel it before you leave it alone.",
		"The figures here are computed from typical values. Your strip's own data sheet comes first.",
	} {
		fmt.Fprintf(&b, "- %s\n", c)
	}
	b.WriteString("\n## Parts\n\n| what | detail | count |\n|---|---|---|\n")
	for _, i := range PartsList(r) {
		fmt.Fprintf(&b, "| %s | %s | %g %s |\n", i.What, i.Detail, i.Count, i.Unit)
	}
	fmt.Fprintf(&b, "\n## Pieces of strip\n\n%d pieces; fewer than %d cannot cover the lines. Cut at the marks.\n\n| piece | length mm | cuts | chain | colour | left bare at its start and end, mm |\n|---|---|---|---|---|---|\n", len(r.Strips.Pieces), r.Strips.Bound)
	for i, p := range r.Strips.Pieces {
		fmt.Fprintf(&b, "| %d | %.1f | %.0f | %d | %s | %.1f, %.1f |\n", i+1, p.Strip, p.Strip/s.Cut, p.Chain+1, r.penName(p.Ink), p.Gaps[0], p.Gaps[1])
	}
	b.WriteString("\n## Circuits\n\n| chain | A | W | fuse A | wire | lost on wires V | lost on strip V | fed at |\n|---|---|---|---|---|---|---|---|\n")
	for i, c := range f.Circuits {
		fmt.Fprintf(&b, "| %d | %.2f | %.1f | %g | %s, %s | %.2f | %.2f | %d points |\n", i+1, c.Amps, c.Watts, c.Fuse, c.Wire.Name, c.Gauge.Name, c.WireDrop, c.StripDrop, c.Feeds)
	}
	b.WriteString("\n## Steps\n\n")
	for i, t := range steps(r) {
		fmt.Fprintf(&b, "%d. %s\n", i+1, t)
	}
	return []byte(b.String())
}

// steps are the steps of assembly.
func steps(r *Result) []string {
	out := []string{"Print the strip test piece first. Find the slot that your strip goes into snugly, and run again with its number as `--strip-clearance`."}
	out = append(out, "Print all other parts (`sign.3mf`, or the `part-*.stl` files) as they lie.")
	if len(r.Cuts) > 0 {
		out = append(out, "Put the cut channels together at their dovetails with a drop of glue.")
	}
	if len(r.Sign.Bridges) > 0 {
		out = append(out, "Lay the channels face down in their places and try the backboard; do not glue it yet.")
	}
	if len(r.Sign.Wires) > 0 {
		out = append(out, "Lay the wires into the groove behind the channels, with an end through each hole.")
	}
	out = append(out, "Print `cut-sheet.pdf` at 100 %, check its ruler, and cut the strip into the pieces it shows.")
	for i, c := range r.Strips.Chains {
		var list []string
		for _, n := range c.Pieces {
			list = append(list, strconv.Itoa(n+1))
		}
		out = append(out, fmt.Sprintf("Chain %d%s: lay in %s %s, plus towards the sheet's + sign; solder each to its neighbour where they meet, plus to plus and minus to minus.", i+1, r.inColour(c.Ink), plural(len(list), "piece", "pieces"), strings.Join(list, ", ")))
		if len(c.Jumpers) > 0 {
			out = append(out, fmt.Sprintf("Chain %d: %s of wire behind the channels, %.0f mm in all, can feed the far ends (`%s` shows them).", i+1, plural(len(c.Jumpers), "a jumper", strconv.Itoa(len(c.Jumpers))+" jumpers"), jumperLength(c.Jumpers), reviewName(stageIndex(StageStrips))))
		}
	}
	if r.Sign.Bore != nil {
		out = append(out, "Lead the wires down the bore through the foot, put the tenon into the stand, and connect them there.")
	}
	out = append(out, "Put a fuse into the plus wire of each chain, right after the supply. Check plus and minus with a meter before you connect anything.")
	out = append(out, "Switch on. Every piece must light evenly; feel wires, fuse and strip after ten minutes and after an hour.")
	if len(r.Sign.Bridges) > 0 {
		out = append(out, "Switch off, glue the backboard into its seats, and let it set.")
	}
	return out
}

func jumperLength(js []strip.Jumper) float64 {
	sum := 0.0
	for _, j := range js {
		sum += j.Length
	}
	return sum
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
