package papers

import (
	"fmt"
	"strconv"
	"strings"

	"inkchannel/geom/parts"
	"inkchannel/geom/strip"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// FileNames are the names of files that the texts point to.
type FileNames struct {
	Sign, CutSheet, WireSheet, StripPicture string
	Part                                    func(name string) string // of a printed piece
}

// Assembly writes the parts list, the strip's pieces and the steps of assembly
// as Markdown. What is not made is not spoken of.
func Assembly(in ListIn, files FileNames) []byte {
	var b strings.Builder
	s := in.Power.Strip
	b.WriteString("# How to build the sign\n\n## Before you start\n\n")
	for _, c := range cautions(in) {
		fmt.Fprintf(&b, "- %s\n", c)
	}
	b.WriteString("\n## Parts\n\n| what | detail | count |\n|---|---|---|\n")
	for _, i := range PartsList(in, files.Part) {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", i.What, i.Detail, i.Amount())
	}
	n, dark := len(in.Strips.Pieces), 0
	for _, p := range in.Strips.Pieces {
		if p.Strip == 0 {
			dark++
		}
	}
	fmt.Fprintf(
		&b, "\n## Pieces of strip\n\n%s, %s. Cut at the marks.", stage.Count(n, "piece", "pieces"),
		fewest(n, in.Strips.Bound),
	)
	if dark > 0 {
		fmt.Fprintf(&b, " %s no strip fits, and not listed.", stage.Count(dark, "piece of line stays dark, as", "pieces of line stay dark, as"))
	}
	b.WriteString("\n\n")
	b.WriteString(
		"| piece | length, mm | segments | circuit | colour | bare at start and end, mm |\n|---|---|---|---|---|---|\n",
	)
	for i, p := range in.Strips.Pieces {
		if p.Strip == 0 {
			continue
		}
		fmt.Fprintf(
			&b, "| %d | %.1f | %.0f | %d | %s | %.1f, %.1f |\n", i+1, p.Strip, p.Strip/s.Cut, p.Circuit+1,
			in.Colours.PenName(p.Ink), p.Gaps[0], p.Gaps[1],
		)
	}
	b.WriteString(
		"\n## Circuits\n\n| circuit | current, A | power, W | fuse, A | lead | behind the channels | drop in wires, V | " +
			"drop in strip, V |\n|---|---|---|---|---|---|---|---|\n",
	)
	for i, c := range in.Power.Circuits {
		if in.Strips.Circuits[i].Strip == 0 {
			continue
		}
		fmt.Fprintf(
			&b, "| %d | %.2f | %.1f | %g | %s, %s | %s | %.2f | %.2f |\n", i+1, c.Amps, c.Watts, c.Fuse,
			c.Wire.Name, c.Gauge.Name, c.Inside.Name, c.WireDrop, c.StripDrop,
		)
	}
	b.WriteString(harness(in))
	b.WriteString("\n## Steps\n\n")
	for i, t := range assemblySteps(in, files) {
		fmt.Fprintf(&b, "%d. %s\n", i+1, t)
	}
	return []byte(b.String())
}

// fewest says how near n pieces are to the fewest that could cover the lines.
func fewest(n, bound int) string {
	if n == bound {
		return "as few as possible"
	}
	return fmt.Sprintf("where at least %d are needed", bound)
}

// cautions come before anything else.
func cautions(in ListIn) []string {
	return []string{
		fmt.Sprintf(
			"Work on the low-voltage side only (%g V). Unplug the supply before you touch a wire.",
			in.Power.Strip.Volts,
		),
		"Buy a ready-made, enclosed supply that is listed for your country. Never open it, and never wire mains " +
			"yourself: that is work for a licensed electrician. Follow your local codes, especially in a shop window.",
		"Put each circuit's fuse right next to the supply. A wire without a fuse can burn.",
		"Strips get warm, and printed plastic softens. Run the sign for an hour and feel how warm it is before you " +
			"leave it unattended.",
		"The figures here are worked out from typical values. Where your strip's data sheet differs, follow the " +
			"data sheet.",
	}
}

// assemblySteps are the steps of assembly, of what there is.
func assemblySteps(in ListIn, files FileNames) []string {
	var out []string
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	what := "all parts"
	if in.Parts.Named(parts.NameTestPiece) != nil {
		say(
			"Print the strip test piece first (`%s`). Find the slot in which your strip fits snugly, then run again with "+
				"the number marked there: `--strip-clearance NUMBER`.", files.Part(parts.NameTestPiece),
		)
		what = "all the other parts"
	}
	say("Print %s (`%s`, or the `part-*.stl` files) the way they are laid out.", what, files.Sign)
	if n := len(in.Beds.Cuts); n > 0 {
		say("Join the cut channels at %s with a drop of glue.", stage.Plural(n, "the dovetail", "their dovetails"))
	}
	boards := in.Beds.PiecesOf(parts.NameBackboard)
	if boards > 0 {
		say("Lay the channels face down in position and try the backboard for fit; do not glue it yet.")
	}
	if n := len(in.Parts.Holes) - 1; n > 0 && len(in.Parts.Wires) > 0 {
		say(
			"Cut the wires as the list above says, two of each, lay them in the groove behind the channels and bring "+
				"the ends up through %s%s (`%s` shows where, at true size).", stage.Plural(n, "the hole", "their holes"),
			branchText(in.Parts.Harness), files.WireSheet,
		)
	}
	say("Print `%s` at 100 %%, check its ruler, and cut the strip as it shows.", files.CutSheet)
	for i, c := range in.Strips.Circuits {
		out = append(out, circuitSteps(in, i, c)...)
	}
	switch {
	case in.Parts.Bore != nil:
		say("Lead the wires down the bore in the foot and out of the tenon.")
	case len(in.Parts.Harness) > 0:
		say("Let the wires out below the sign, and solder the lead to them, plus to plus and minus to minus.")
	}
	say(
		"Put a fuse in the plus wire of %s, right after the supply. Check plus and minus with a meter before you "+
			"connect the lead.", stage.Plural(len(in.Strips.Circuits), "the circuit", "each circuit"),
	)
	say(
		"Connect the lead and switch on. %s. Feel the wires, the fuse and the strip after ten minutes and again after an hour.",
		stage.Plural(len(in.Strips.Pieces), "The strip must light evenly", "Every piece must light evenly"),
	)
	if boards > 1 {
		say("Switch off. Glue the %d pieces of the backboard together at their edges.", boards)
	}
	if boards > 0 {
		say("Switch off, glue the backboard onto the channels and into its seats, and let the glue set.")
	}
	if in.Parts.Bore != nil {
		say("Run the wires into the stand, put the tenon in, and join them to the lead in there.")
	}
	return append(out, lastSteps(in)...)
}

// circuitSteps lay a circuit's pieces.
func circuitSteps(in ListIn, i int, c strip.Circuit) []string {
	who := fmt.Sprintf("Circuit %d%s", i+1, in.Colours.InColour(c.Ink))
	var out []string
	for _, k := range c.Chains {
		list := numbers(in.Strips.Chains[k].Pieces)
		from := "wires that you lead there behind the sign (there is no groove to it)"
		if h := in.Parts.HoleAt(k); h > 0 {
			from = "the wires from " + holeName(in.Parts, h)
		}
		text := fmt.Sprintf(
			"%s: lay in piece %s, plus on the side marked + on the cut sheet, and solder %s to its start", who, list[0], from,
		)
		if len(list) > 1 {
			text = fmt.Sprintf(
				"%s: lay in pieces %s, plus on the side marked + on the cut sheet; solder %s to the start of the first, "+
					"and where the pieces meet each to the next, with short wires over the gap, plus to plus and minus to "+
					"minus", who,
				strings.Join(list, ", "), from,
			)
		}
		out = append(out, text+".")
	}
	return out
}

// holeName is what a hole is called.
func holeName(p pipeline.PartsFound, n int) string {
	if p.Holes[n].Bore {
		return "the bore's mouth"
	}
	return fmt.Sprintf("hole %d", n)
}

// branchText tells how wires branch, if any do.
func branchText(wires []parts.Wire) string {
	for _, w := range wires {
		if w.From != 0 {
			return "; at a branch, and where a wire goes on from a hole, solder the pairs together in the groove, plus to " +
				"plus and minus to minus, and sleeve each joint"
		}
	}
	return ""
}

// numbers are pieces' as they are called.
func numbers(pieces []int) (out []string) {
	for _, n := range pieces {
		out = append(out, strconv.Itoa(n+1))
	}
	return out
}

// harness is the list of the wires behind the channels.
func harness(in ListIn) string {
	if len(in.Parts.Harness) == 0 {
		return ""
	}
	var b strings.Builder
	spare := ""
	if in.Parts.Bore != nil {
		spare = "; leave what goes into the stand longer"
	}
	b.WriteString(
		"\n## Wires inside the sign\n\nPairs, plus and minus, from where the wires come in to the holes at the strip. " +
			"Each is cut 50 mm longer than its way, to be soldered on" + spare + ".\n\n| wire | circuit | from | to | cut, mm | wire |\n" +
			"|---|---|---|---|---|---|\n",
	)
	end := func(h int) string {
		switch {
		case h < 0:
			return fmt.Sprintf("branch %d", -h)
		case h > 0:
			return holeName(in.Parts, h)
		case in.Parts.Bore != nil:
			return "the stand"
		}
		return "the lead"
	}
	for i, w := range in.Parts.Harness {
		fmt.Fprintf(
			&b, "| %d | %d | %s | %s | 2 x %.0f | %s |\n", i+1, w.Circuit+1, end(w.From), end(w.To),
			w.Path.Length()+1000*wireEnd, in.Power.Circuits[w.Circuit].Inside.Name,
		)
	}
	return b.String()
}

// lastSteps close the sign and put it up.
func lastSteps(in ListIn) (out []string) {
	covers := 0
	for _, p := range in.Parts.Parts {
		if p.Channel && p.Pose.Flip {
			covers++
		}
	}
	if covers > 0 {
		out = append(
			out,
			fmt.Sprintf(
				"Snap the %s over the strip.",
				stage.Plural(covers, "cover into its slot", "covers into their slots"),
			),
		)
	}
	if in.Parts.Named(parts.NameLid) != nil {
		out = append(out, "Screw the lid under the stand.")
	}
	if in.Parts.Mounts == 0 {
		return out
	}
	n := in.Parts.Mounts
	switch in.Strips.Hold {
	case parts.HoldKeyhole:
		out = append(
			out,
			fmt.Sprintf(
				"Set %s into the wall where the %s will be, heads a little off the wall, and hang the sign on %s.",
				stage.Count(n, "screw", "screws"), stage.Plural(n, "keyhole", "keyholes"),
				stage.Plural(n, "it", "them"),
			),
		)
	case parts.HoldEars:
		out = append(out, fmt.Sprintf("Screw the sign to the wall through its %s.", stage.Plural(n, "ear", "ears")))
	case parts.HoldPads:
		out = append(
			out,
			fmt.Sprintf(
				"Stick %s on the sign's %s and press it to a clean wall.",
				stage.Plural(n, "a mounting pad", "mounting pads"), stage.Plural(n, "disc", "discs"),
			),
		)
	}
	return out
}
