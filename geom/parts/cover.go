package parts

import (
	"fmt"

	"inkchannel/geom/solid"
)

// Measures of the cover, mm; common practice, no source.
const (
	coverPlate = 1.0  // what the light shines through
	coverRib   = 0.9  // thickness of the ribs that hold it in the slot
	coverDeep  = 4.0  // how far the ribs reach into the slot
	coverBead  = 0.25 // how far the bead on the ribs stands out
	coverTight = 0.1  // clearance to the slot all round
	beadAt     = 2.2  // from the plate to the bead, and its height
	beadHigh   = 0.8
)

// addCovers makes a cover for each channel: a plate flush with the walls' rims,
// and under it ribs along the slot's sides with a bead that snaps into a groove
// in the walls.
func (b *builder) addCovers() {
	top := b.s.Channel.Height()
	channel := -1
	for i := range b.sign.Parts {
		if !b.sign.Parts[i].Channel {
			continue
		}
		p := &b.sign.Parts[i]
		channel++
		slot := b.slot.And(b.pieces[channel].plan)
		if slot.Empty() {
			continue
		}
		groove := slot.Grow(coverBead).Less(slot)
		z := top - coverPlate - beadAt
		p.Solid = p.Solid.Cut(z-beadHigh, z, groove)
		plate := slot.Grow(-coverTight)
		ribs := plate.Less(plate.Grow(-coverRib))
		bead := plate.Grow(coverBead).Less(plate.Grow(-coverRib))
		cover := solid.Solid{
			{Z0: 0, Z1: coverPlate, Plan: plate},
			{Z0: coverPlate, Z1: coverPlate + coverDeep, Plan: ribs},
		}
		cover = cover.Add(coverPlate+beadAt, coverPlate+beadAt+beadHigh-0.1, bead)
		cover = cover.Relieved(b.s.Relief, plate)
		name := "cover"
		if b.sign.Strokes > 1 {
			name = fmt.Sprintf("cover %d", channel+1)
		}
		// Printed face down: mirrored in the plan so that it fits turned over.
		b.add(
			Part{
				Name:    name,
				Colour:  "#FFFFFFB0",
				Solid:   cover.Mapped(solid.Plan.Upended),
				Pose:    Pose{Flip: true, Move: solid.Vertex{Z: top}},
				Channel: true,
			},
		)
	}
}
