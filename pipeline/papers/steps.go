package papers

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom/parts"
	"inkchannel/geom/strip"
	"inkchannel/pipeline"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// A Step is one thing to do in building a sign.
type Step struct {
	Text    string
	Need    []string // besides the parts that the step shows
	Check   string   // how to see that it is done well
	Caution string
	look    look
}

// A look is what a step's picture shows.
type look struct {
	now    []string // prefixes of the names of parts that the step is about,
	pale   []string // and of those that are there already
	apart  bool     // as pulled apart
	behind bool
	named  bool  // the parts that it is about, by their names
	pieces []int // of strip that are laid now,
	laid   []int // and that lie there
	wires  bool  // with their numbers
	holes  []int // with their names
	kind   lookKind
}

type lookKind int

// What a step's picture is, beside parts.
const (
	lookParts lookKind = iota
	lookWiring
	lookLit
	lookNone
)

// nameChannel starts the names of all channels.
const nameChannel = "channel"

// looseCaution is told before anything is printed, empty if all channels hold.
func looseCaution(loose []parts.Loose) string {
	if loose == nil {
		return ""
	}
	var names []string
	for _, p := range loose {
		names = append(names, p.Name)
	}
	return fmt.Sprintf("Too little of %s is glued onto the backboard to hold: see what the program says of that before you print.", strings.Join(names, " and of "))
}

// turnedText tells how to turn the files of single pieces that the bed takes only askew, empty for none.
func turnedText(beds pipeline.BedsFound, files FileNames) string {
	var list []string
	for i, p := range beds.Prints {
		if at := beds.Layout.Places[i]; at.Askew() {
			list = append(list, fmt.Sprintf("%s by %.1f°", p.Name, at.Best))
		}
	}
	if list == nil {
		return ""
	}
	return fmt.Sprintf(" In `%s` all lie as they fit the bed; printed from files of their own, turn on the bed, anticlockwise seen from above: %s.", files.Sign, strings.Join(list, ", "))
}

// Steps are the steps of assembly, of what there is, in an order that works.
func Steps(in ListIn, files FileNames) []Step {
	var out []Step
	say := func(s Step, format string, a ...any) {
		s.Text = fmt.Sprintf(format, a...)
		out = append(out, s)
	}
	channels, board, stand := []string{nameChannel}, []string{parts.NameBackboard}, []string{parts.NameStand}
	what, open := "all parts", "slots"
	if len(in.Parts.Wires) > 0 {
		open = "holes and grooves"
	}
	if in.Parts.Named(parts.NameTestPiece) != nil {
		say(
			Step{
				Need: []string{"the printer", "a piece of the strip"}, look: look{now: []string{parts.NameTestPiece}},
				Check: "The strip goes in without force, and stays in when the piece is turned over.",
			},
			"Print the strip test piece first (`%s`). Find the slot in which your strip fits snugly, then make the sign again with "+
				"the number marked there as its `--strip-clearance`.", files.Part(parts.NameTestPiece),
		)
		what = "all the other parts"
	}
	say(
		Step{
			Need: []string{filament(in)}, look: look{now: []string{""}, apart: true},
			Check:   "No part has warped, and all " + open + " are free of strings.",
			Caution: looseCaution(in.Parts.Loose),
		}, "Print %s (`%s`, or the `part-*.stl` files) the way they are laid out.%s", what, files.Sign, turnedText(in.Beds, files),
	)
	if n := len(in.Beds.Cuts); n > 0 {
		say(
			Step{Need: []string{glue}, look: look{now: channels}, Check: "The slot's floor runs level over each joint."},
			"Join the cut channels at %s with a drop of glue.", stage.Plural(n, "the dovetail", "their dovetails"),
		)
	}
	boards, cut := in.Beds.PiecesOf(parts.NameBackboard), in.Beds.CutOf(in.Parts, parts.NameBackboard)
	if boards > 0 {
		say(
			Step{look: look{now: board, pale: channels, behind: true, apart: true, named: boards > 1}, Check: stage.Plural(boards, "The board lies", "The boards lie") + " flat in all seats."},
			"Lay the channels face down in position and try the %s for fit; do not glue yet. Hold channels that are "+
				"loose in place by tape from one to the next, clear of their slots, until the board is on.", stage.Plural(boards, "backboard", "pieces of the backboard"),
		)
	}
	if n := len(in.Parts.Holes) - 1; n > 0 && len(in.Parts.Wires) > 0 {
		between := ""
		if boards > 0 {
			between = ", from one channel to the next where the backboard has its groove,"
		}
		say(
			Step{
				Need: []string{"the wires", solderingKit, sleeve, meter}, look: look{pale: channels, behind: true, wires: true, holes: numbersTo(len(in.Parts.Holes))},
				Check:   "By the meter, plus at the one end is plus at every hole, and plus and minus are nowhere joined.",
				Caution: "A soldering iron burns; work where the air moves, and let no tip touch the plastic.",
			},
			"Cut the wires as the list of wires says, two of each pair, one of a colour for plus, and tag both ends with the "+
				"pair's number. Lay them in the groove behind the channels%s and bring "+
				"the ends up through %s%s%s. Hold the wires with a drop of glue or a strip of tape every few centimetres (`%s` "+
				"shows where, at true size).", between, stage.Plural(n, "the hole", "their holes"),
			branchText(in.Parts.Harness), dataText(in), files.WireSheet,
		)
	}
	all := litPieces(in, func(strip.Piece) bool { return true })
	say(
		Step{
			Need: []string{"the strip", "scissors", "a ruler"}, look: look{pale: channels, pieces: all},
			Check: "The ruler on the sheet is 100 mm long, and each piece is as long as the list says.",
		}, "Print `%s` at 100 %%, check its ruler, and cut the strip as it shows.", files.CutSheet,
	)
	laying := len(out)
	for i, c := range in.Strips.Circuits {
		out = append(out, circuitSteps(in, i, c)...)
	}
	if len(out) > laying && (boards > 0 || len(in.Parts.Wires) > 0) {
		out[laying].Text = "Turn the channels face up. " + out[laying].Text
	}
	whole := look{pale: channels, laid: all}
	switch {
	case in.Parts.Bore != nil:
		say(
			Step{look: look{pale: channels, behind: true, wires: true}, Check: "The wires slide and none is pinched."},
			"Lead the wires down the bore in the foot and out at its end.",
		)
	case len(in.Parts.Harness) > 0:
		say(
			Step{
				Need: []string{"the lead", solderingKit, sleeve}, look: look{pale: channels, behind: true, wires: true},
				Check: "Each joint is sleeved, and pulling at it does not move it.",
			}, "Let the wires out below the sign, and solder the lead to them, plus to plus and minus to minus%s.", ofCircuit(in),
		)
	}
	if n := firstData(in); n > 0 {
		say(
			Step{
				Need: []string{"the controller", "its instructions", "terminals"}, look: look{kind: lookWiring},
				Check:   "By the meter the controller's minus, the supply's and the strip's are one.",
				Caution: "The supply is unplugged.",
			},
			"Connect the controller%s: plus and minus where the lead comes to the sign's wires, behind the "+
				"circuit's fuse, and its data output to wire %d. Set it to the strip's protocol and to %d LEDs; data runs through the pieces in "+
				"the order %s.", controllerPlace(in), n, leds(in), strings.Join(dataOrder(in), ", "),
		)
	}
	say(
		Step{
			Need: []string{stage.Plural(len(in.Strips.Circuits), "the fuse", "the fuses"), meter}, look: look{kind: lookWiring},
			Check:   "By the meter plus is plus, and there is no way between plus and minus.",
			Caution: "The supply is unplugged. A wire without a fuse can burn.",
		},
		"Put a fuse in the plus wire of %s, right after the supply, and the connector between fuse and lead. Check plus "+
			"and minus with a meter before you connect the lead.", stage.Plural(len(in.Strips.Circuits), "the circuit", "each circuit"),
	)
	say(
		Step{
			Need: []string{"the supply"}, look: look{kind: lookLit},
			Check:   stage.Plural(len(in.Strips.Pieces), "The strip is bright from end to end.", "Every piece is bright from end to end."),
			Caution: "Pull the plug at once if anything smells, smokes or gets too hot to touch.",
		},
		"%s. %s. Feel the wires, the fuse and the strip after ten minutes and again after an hour.",
		trial(in), stage.Plural(len(in.Strips.Pieces), "The strip must light evenly", "Every piece must light evenly"),
	)
	off := "Switch off"
	if cut > 0 {
		say(
			Step{Need: []string{glue}, look: look{now: board, behind: true}, Check: "The pieces lie level."},
			"%s. Glue the pieces of the cut backboard together at their edges.", off,
		)
		off = "Let that set"
	}
	if boards > 0 {
		say(
			Step{
				Need: []string{glue, "weights"}, look: look{now: board, pale: channels, behind: true, named: boards > 1},
				Check: "No channel moves when the sign is lifted by another, and no wire is pinched.",
			}, "%s, tuck the wires into the grooves, glue the %s onto the channels and into their seats, and let the glue set.", off,
			stage.Plural(boards-cut+min(cut, 1), "backboard", "backboards"),
		)
	}
	if in.Parts.Bore != nil {
		whole.now, whole.pale = stand, slices.Concat(channels, board)
		check, text := "The tenon goes in to its shoulders, and the sign stands upright.",
			"Run the wires into the stand, put the tenon in, without glue, and join them to the lead in there"+controllerJoined(in)+". Pull a cable tie tight about the lead where "+
				"it comes in, on the inside, so that no pull at it comes to the joints."
		if in.Parts.OwnFoot != "" {
			check, text = "The sign stands upright and does not tip when it is leant by 10 degrees, to each side.",
				"Join the wires to the lead below the foot, tie it down there so that no pull comes to the joints, and set the sign up."
		}
		say(Step{Need: []string{"the lead", "a cable tie", solderingKit, sleeve}, look: whole, Check: check}, "%s", text)
	}
	return append(out, lastSteps(in, files)...)
}

// Things that steps need.
const (
	glue         = "glue for your plastic"
	solderingKit = "soldering iron and solder"
	sleeve       = "heat-shrink sleeve"
	meter        = "a meter"
)

// filament is what the prints take.
func filament(in ListIn) string {
	return fmt.Sprintf("about %.0f g of filament", grams(in.Beds.Prints))
}

// litPieces are the pieces of strip, of those that pick takes.
func litPieces(in ListIn, pick func(strip.Piece) bool) (out []int) {
	for i, p := range in.Strips.Pieces {
		if p.Strip > 0 && pick(p) {
			out = append(out, i)
		}
	}
	return out
}

// trial is how the sign is switched on before all is put together.
func trial(in ListIn) string {
	if in.Parts.Bore == nil && len(in.Parts.Harness) > 0 {
		return "Switch on, for a trial"
	}
	return "Connect the lead to the sign's wires for a trial, by terminals, or twisted and each joint taped by itself" + ofCircuit(in) + ", and switch on"
}

// ofCircuit says which wires belong together where there are several circuits.
func ofCircuit(in ListIn) string {
	if len(in.Strips.Circuits) < 2 {
		return ""
	}
	return ", each pair to the lead of its circuit"
}

// circuitSteps lay a circuit's pieces; the first shows them all.
func circuitSteps(in ListIn, i int, c strip.Circuit) []Step {
	who := fmt.Sprintf("Circuit %d%s", i+1, in.Colours.InColour(c.Ink))
	var out []Step
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
		s := Step{Text: text + "." + dataStep(in, k), look: look{kind: lookNone}}
		if len(in.Strips.Chains) <= mostChainLooks {
			s.look = look{
				pale: []string{nameChannel}, holes: holesOf(in.Parts, k), pieces: in.Strips.Chains[k].Pieces,
				laid: litPieces(in, func(p strip.Piece) bool { return p.Circuit < i || p.Circuit == i && p.Chain < k }),
			}
		}
		out = append(out, s)
	}
	if len(out) > 0 {
		out[0].Need = []string{"the cut strip", solderingKit, meter}
		out[len(out)-1].Check = "By the meter, plus and minus of the circuit are nowhere joined."
	}
	if len(out) > 0 && out[0].look.kind == lookNone { // one picture for them all
		out[0].look = look{
			pale: []string{nameChannel}, holes: holesOf(in.Parts, c.Chains...),
			pieces: litPieces(in, func(p strip.Piece) bool { return p.Circuit == i }),
			laid:   litPieces(in, func(p strip.Piece) bool { return p.Circuit < i }),
		}
	}
	return out
}

// holesOf are the holes at which wires come to chains of strip, and where their data leaves.
func holesOf(p pipeline.PartsFound, chains ...int) (out []int) {
	for _, k := range chains {
		for _, h := range []int{p.HoleAt(k), p.OutOf(k)} {
			if h > 0 {
				out = append(out, h)
			}
		}
	}
	return out
}

// numbersTo are 0 to n-1.
func numbersTo(n int) (out []int) {
	for i := range n {
		out = append(out, i)
	}
	return out
}

// firstData is the number of the data wire that comes from the controller, 0 for none.
func firstData(in ListIn) int {
	return 1 + slices.IndexFunc(in.Parts.Harness, func(w parts.Wire) bool { return w.Data && w.From == 0 })
}

// controllerPlace is where the controller is.
func controllerPlace(in ListIn) string {
	switch {
	case in.Parts.Named(parts.NameStand) != nil:
		return ", which goes into the stand later on, for a trial"
	case in.Parts.Bore != nil:
		return ", which stays below the foot"
	}
	return ", which stays near the sign, since data wires are short"
}

// controllerJoined tells what becomes of the controller where the sign is put into the stand.
func controllerJoined(in ListIn) string {
	n := firstData(in)
	if n == 0 || in.Parts.Named(parts.NameStand) == nil {
		return ""
	}
	return fmt.Sprintf("; lay the controller in its room, and join its plus and minus to them too and its data output to wire %d", n)
}

// dataOrder are the pieces in the order in which data runs through them.
func dataOrder(in ListIn) (out []string) {
	for _, c := range in.Strips.DataOrder(in.Strips.Feed) {
		out = append(out, numbers(in.Strips.Chains[c].Pieces)...)
	}
	return out
}

// dataText tells of data wires when wires are laid.
func dataText(in ListIn) string {
	if dataWires(in) == 0 {
		return ""
	}
	return "; the data wires run by themselves from hole to hole, and the first comes from the controller"
}

// dataStep tells how data comes to a chain of strip and leaves it.
func dataStep(in ListIn, chain int) string {
	if in.Power.Strip.Kind != power.Addressable {
		return ""
	}
	order := in.Strips.DataOrder(in.Strips.Feed)
	k := slices.Index(order, chain)
	from := "the controller"
	if k > 0 {
		from = "piece " + lastPiece(in, order[k-1])
	}
	text := ""
	if len(in.Strips.Chains[chain].Pieces) > 1 {
		text = " Data goes on over the gaps too, from the output of each to the input of the next."
	}
	wire := func(there func(parts.Wire) bool) string {
		if i := slices.IndexFunc(in.Parts.Harness, func(w parts.Wire) bool { return w.Data && there(w) }); i >= 0 {
			return fmt.Sprintf(" (wire %d)", i+1)
		}
		return ""
	}
	text += " The arrows on the strip point away from that start. Solder the data wire that comes from " + from +
		wire(func(w parts.Wire) bool { return in.Parts.HoleAt(chain) > 0 && w.To == in.Parts.HoleAt(chain) }) + " to the data input there"
	if k+1 == len(order) {
		return text + "; its data output stays free, the last of all."
	}
	where := "a wire that you lead there"
	if h := in.Parts.OutOf(chain); h > 0 {
		where = "the data wire of " + holeName(in.Parts, h) + wire(func(w parts.Wire) bool { return w.From == h })
	}
	return fmt.Sprintf(
		"%s, and %s to the data output at the end of piece %s: it leads to piece %d.", text, where, lastPiece(in, chain),
		in.Strips.Chains[order[k+1]].Pieces[0]+1,
	)
}

// lastPiece is what the last piece of a chain is called.
func lastPiece(in ListIn, chain int) string {
	list := numbers(in.Strips.Chains[chain].Pieces)
	return list[len(list)-1]
}

// mostChainLooks is how many places strip is fed at that each step may have a picture of its own.
const mostChainLooks = 16

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
		if w.From != 0 && !w.Data {
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

// lastSteps close the sign and put it up.
func lastSteps(in ListIn, files FileNames) (out []Step) {
	sign := []string{nameChannel, parts.NameBackboard}
	covers := 0
	for _, p := range in.Parts.Parts {
		if p.Channel && p.Pose.Flip {
			covers++
		}
	}
	if covers > 0 {
		out = append(out, Step{
			Text: fmt.Sprintf(
				"Snap the %s over the strip.",
				stage.Plural(covers, "cover into its slot", "covers into their slots"),
			),
			Check: "The cover lies level with the walls and holds when the sign is turned over.",
			look:  look{now: []string{"cover"}, pale: sign, apart: true},
		})
	}
	if in.Parts.Named(parts.NameLid) != nil {
		out = append(out, Step{
			Text: "Screw the lid under the stand.", Need: []string{"4 screws", "a screwdriver"},
			Check: "No wire is pinched, and the sign does not rock.",
			look:  look{now: []string{parts.NameLid}, pale: append(sign, parts.NameStand), apart: true},
		})
	}
	if in.Parts.Mounts == 0 {
		return out
	}
	n := in.Parts.Mounts
	up := Step{
		Need: []string{"what your wall needs to hold a screw", "a spirit level"}, look: look{now: sign, behind: true},
		Check:   "The sign hangs level and does not move when it is touched.",
		Caution: "Look for cables and pipes before you drill. Hang it where it can hurt nobody if it falls.",
	}
	off, _ := parts.HeadOff()
	clip := ""
	if len(in.Parts.Harness) > 0 {
		clip = " Fix the lead to the wall by a clip near its joints, so that no pull comes to them."
	}
	switch in.Strips.Hold {
	case parts.HoldKeyhole:
		up.Text = fmt.Sprintf(
			"Print `%s` at 100 %%, stick it to the wall, level, drill where it shows and put the plugs in. Set %s into the wall, heads "+
				"%.1f mm off it, and hang the sign on %s.%s", files.DrillSheet, stage.Count(n, "screw", "screws"), off,
			stage.Plural(n, "it", "them"), clip,
		)
	case parts.HoldEars:
		up.Text = fmt.Sprintf(
			"Print `%s` at 100 %%, stick it to the wall, level, drill where it shows and put the plugs in. Screw the sign to the wall "+
				"through its %s.%s", files.DrillSheet, stage.Plural(n, "ear", "ears"), clip,
		)
	case parts.HoldPads:
		up.Need, up.Caution = []string{"the mounting pads"}, "Hang it where it can hurt nobody if it falls."
		up.Text = fmt.Sprintf(
			"Stick %s on the sign's %s and press it to a clean wall.%s",
			stage.Plural(n, "a mounting pad", "mounting pads"), stage.Plural(n, "disc", "discs"), clip,
		)
	}
	return append(out, up)
}
