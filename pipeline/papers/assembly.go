package papers

import (
	"fmt"
	"strings"

	"inkchannel/geom/parts"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// FileNames are the names of files that the texts point to.
type FileNames struct {
	Sign, CutSheet, WireSheet, DrillSheet string
	Part                                  func(name string) string // of a printed piece
}

// Assembly writes the parts list, the strip's pieces and the steps of assembly
// as Markdown. What is not made is not spoken of.
func Assembly(in ListIn, files FileNames) []byte {
	var b strings.Builder
	b.WriteString("# How to build the sign\n\n## Before you start\n\n")
	for _, c := range cautions(in) {
		fmt.Fprintf(&b, "- %s\n", c)
	}
	b.WriteString("\n## Parts\n\n| what | detail | count |\n|---|---|---|\n")
	for _, i := range PartsList(in, files.Part) {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", i.What, i.Detail, i.Amount())
	}
	for _, t := range tables(in) {
		fmt.Fprintf(&b, "\n## %s\n\n", t.Title)
		if t.Say != "" {
			b.WriteString(t.Say + "\n\n")
		}
		fmt.Fprintf(&b, "| %s |\n|%s\n", strings.Join(t.Head, " | "), strings.Repeat("---|", len(t.Head)))
		for _, r := range t.Rows {
			fmt.Fprintf(&b, "| %s |\n", strings.Join(r, " | "))
		}
	}
	b.WriteString("\n## Steps\n\n")
	for i, t := range Steps(in, files) {
		fmt.Fprintf(&b, "%d. %s\n", i+1, t.Text)
		if t.Need != nil {
			fmt.Fprintf(&b, "   You need: %s.\n", strings.Join(t.Need, ", "))
		}
		if t.Check != "" {
			fmt.Fprintf(&b, "   Check: %s\n", t.Check)
		}
		if t.Caution != "" {
			fmt.Fprintf(&b, "   **%s**\n", t.Caution)
		}
	}
	return []byte(b.String())
}

// A table is what the steps refer to.
type table struct {
	Title, Say string
	Head       []string
	Rows       [][]string
}

// row is the cells of a table's row, each by its format, which bars part.
func row(format string, a ...any) []string { return strings.Split(fmt.Sprintf(format, a...), "|") }

// tables are the pieces of strip, the circuits and the wires.
func tables(in ListIn) []table {
	out := []table{piecesTable(in), circuitsTable(in)}
	if len(in.Parts.Harness) > 0 {
		out = append(out, wiresTable(in))
	}
	return out
}

func piecesTable(in ListIn) table {
	dark := 0
	t := table{
		Title: "Pieces of strip",
		Head:  row("piece|length, mm|segments|circuit|colour|free at start and end, mm (strip that passes may light it)"),
	}
	for i, p := range in.Strips.Pieces {
		if p.Strip == 0 {
			dark++
			continue
		}
		t.Rows = append(t.Rows, row(
			"%d|%.1f|%.0f|%d|%s|%.1f, %.1f", i+1, p.Strip, p.Strip/in.Power.Strip.Cut, p.Circuit+1,
			in.Colours.PenName(p.Ink), p.Gaps[0], p.Gaps[1],
		))
	}
	n := len(t.Rows)
	t.Say = fmt.Sprintf("%s, %s. Cut at the marks.", stage.Count(n, "piece", "pieces"), fewest(n+dark, in.Strips.Bound))
	if gaps := len(in.Strips.Dark); gaps > 0 {
		t.Say += fmt.Sprintf(" %s dark for more than 3 mm.", stage.Count(gaps, "place stays", "places stay"))
	}
	if dark > 0 {
		t.Say += fmt.Sprintf(
			" %s no strip fits, and not listed.",
			stage.Count(dark, "piece of line stays dark, as", "pieces of line stay dark, as"),
		)
	}
	return t
}

func circuitsTable(in ListIn) table {
	t := table{Title: "Circuits", Head: row(
		"circuit|current, A|power, W|fuse, A|lead|behind the channels|drop in wires, V|drop in strip, V",
	)}
	for i, c := range in.Power.Circuits {
		if in.Strips.Circuits[i].Strip == 0 {
			continue
		}
		t.Rows = append(t.Rows, row(
			"%d|%.2f|%.1f|%g|%s, %s|%s|%.2f|%.2f", i+1, c.Amps, c.Watts, c.Fuse, c.Wire.Name, c.Gauge.Name,
			c.Inside.Name, c.WireDrop, c.StripDrop,
		))
	}
	return t
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

// wiresTable is the list of the wires behind the channels.
func wiresTable(in ListIn) table {
	spare := fmt.Sprintf("; what comes in from outside is %.0f mm longer still", 1000*comesIn)
	t := table{
		Title: "Wires inside the sign",
		Say: "Pairs, plus and minus, from where the wires come in to the holes at the strip" + dataSay(in) + ". " +
			"Each is cut 50 mm longer than its way, to be soldered on" + spare + ".",
		Head: row("wire|circuit|from|to|cut, mm|wire"),
	}
	end := func(h int) string {
		switch {
		case h < 0:
			return fmt.Sprintf("branch %d", -h)
		case h > 0:
			return holeName(in.Parts, h)
		case in.Parts.OwnFoot != "":
			return "the foot's end"
		case in.Parts.Bore != nil:
			return "the stand"
		}
		return "the lead"
	}
	for i, w := range in.Parts.Harness {
		t.Rows = append(t.Rows, row(
			"%d|%d|%s|%s|%d x %.0f|%s", i+1, w.Circuit+1, end(w.From), end(w.To), w.Conductors(), cutLength(in, w), wireName(in, w),
		))
	}
	return t
}

// dataSay tells of data wires, if there are any.
func dataSay(in ListIn) string {
	if dataWires(in) == 0 {
		return ""
	}
	return "; and data wires, from the controller to the first strip and from the end of each to the start of the next"
}

// dataWires counts the data wires.
func dataWires(in ListIn) (n int) {
	for _, w := range in.Parts.Harness {
		if w.Data {
			n++
		}
	}
	return n
}

// wireName is what a wire behind the channels is.
func wireName(in ListIn, w parts.Wire) string {
	if w.Data {
		return power.Signal().Name + ", data"
	}
	return in.Power.Circuits[w.Circuit].Inside.Name
}
