package parts

import (
	"strconv"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// couponSteps are the clearances, mm, that the test piece tries.
var couponSteps = []float64{0, 0.1, 0.2, 0.3, 0.4, 0.5}

const couponLength = 22 // mm of each channel

// coupon is short channels side by side, each wider than the one before by a
// step, marked with the clearance that was added to the strip's width.
func coupon(s Settings) Part {
	ch := s.Channel
	pitch := ch.Strip + couponSteps[len(couponSteps)-1] + 2*ch.Wall + 3
	label := 9.0
	wide := pitch * float64(len(couponSteps))
	floor := ch.Floor + 1 // thick enough to cut the marks into
	plate := solid.Box(0, -label, wide, couponLength)
	block := solid.Solid{{Z0: 0, Z1: floor, Plan: plate}}
	var marks solid.Plan
	for i, c := range couponSteps {
		mid := pitch * (float64(i) + 0.5)
		slot := solid.Box(mid-(ch.Strip+c)/2, 0, mid+(ch.Strip+c)/2, couponLength)
		walls := solid.Box(mid-(ch.Strip+c)/2-ch.Wall, 0, mid+(ch.Strip+c)/2+ch.Wall, couponLength).Less(slot)
		block = block.Add(floor, floor+ch.Depth-ch.Floor, walls)
		marks = marks.Or(number(strconv.FormatFloat(c, 'f', 1, 64), geom.Pt(mid, -label/2), 5))
	}
	block = block.Cut(floor-0.6, floor, marks)
	return Part{Name: NameTestPiece, Colour: "#F2EFE6", Solid: block, Extra: true}
}

// digits are drawn by straight strokes in a box 2 wide and 4 high.
var digits = map[rune][]geom.Polyline{
	'0': {{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 4}, {X: 0, Y: 4}, {X: 0, Y: 0}}},
	'1': {{{X: 0.4, Y: 3.2}, {X: 1.2, Y: 4}, {X: 1.2, Y: 0}}},
	'2': {{{X: 0, Y: 4}, {X: 2, Y: 4}, {X: 2, Y: 2}, {X: 0, Y: 2}, {X: 0, Y: 0}, {X: 2, Y: 0}}},
	'3': {{{X: 0, Y: 4}, {X: 2, Y: 4}, {X: 2, Y: 0}, {X: 0, Y: 0}}, {{X: 0.4, Y: 2}, {X: 2, Y: 2}}},
	'4': {{{X: 0, Y: 4}, {X: 0, Y: 2}, {X: 2, Y: 2}}, {{X: 2, Y: 4}, {X: 2, Y: 0}}},
	'5': {{{X: 2, Y: 4}, {X: 0, Y: 4}, {X: 0, Y: 2}, {X: 2, Y: 2}, {X: 2, Y: 0}, {X: 0, Y: 0}}},
	'6': {{{X: 2, Y: 4}, {X: 0, Y: 4}, {X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 2}, {X: 0, Y: 2}}},
	'7': {{{X: 0, Y: 4}, {X: 2, Y: 4}, {X: 1, Y: 0}}},
	'8': {{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 4}, {X: 0, Y: 4}, {X: 0, Y: 0}}, {{X: 0, Y: 2}, {X: 2, Y: 2}}},
	'9': {{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 4}, {X: 0, Y: 4}, {X: 0, Y: 2}, {X: 2, Y: 2}}},
	'.': {{{X: 0, Y: 0}, {X: 0.1, Y: 0}}},
}

// number is the plan of a number's digits about a point, of the given height.
func number(text string, at geom.Point, high float64) solid.Plan {
	k := high / 4
	width := -1.2
	for _, r := range text {
		width += advance(r)
	}
	x := at.X - width*k/2
	var lines []geom.Polyline
	for _, r := range text {
		for _, l := range digits[r] {
			var pl geom.Polyline
			for _, p := range l {
				pl = append(pl, geom.Pt(x+p.X*k, at.Y-high/2+p.Y*k))
			}
			lines = append(lines, pl)
		}
		x += advance(r) * k
	}
	return solid.Ribbon(lines, 0.4)
}

func advance(r rune) float64 {
	if r == '.' {
		return 1.3
	}
	return 3.2
}
