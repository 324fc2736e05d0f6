package parts

import (
	"fmt"
	"strings"
)

// Board tells whether the part is the backboard, or a plate of it.
func (p Part) Board() bool { return strings.HasPrefix(p.Name, NameBackboard) }

// Glued is the face, mm², by which a channel lies on the backboard sunk into it: what the wires leave of
// both.
func (s Sign) Glued(channel Part) float64 {
	const near = 0.01 // mm, in the seat's ceiling and in the board's face
	face := 0.0
	for _, p := range s.Parts {
		if p.Board() {
			face += channel.Solid.At(s.Sink + near).And(p.Solid.At(s.Sink - near - p.Pose.Move.Z)).Size()
		}
	}
	return face
}

// A Loose channel, or piece of one, has too little to be glued onto the backboard by.
type Loose struct {
	Name string
	Face float64 // mm², that is glued
}

// loose are the channels that too little holds.
func (s Sign) loose() (out []Loose) {
	if s.Strokes < 2 || s.Seat.Empty() {
		return nil
	}
	for _, p := range s.Parts {
		if !p.Channel || p.Pose.Flip { // a cover lies on nothing
			continue
		}
		if face := s.Glued(p); face < LeastGlue {
			out = append(out, Loose{p.Name, face})
		}
	}
	return out
}

func (s *Sign) note(format string, a ...any) { s.Notes = append(s.Notes, fmt.Sprintf(format, a...)) }
