package pipeline

import (
	"context"
	"fmt"
	"slices"

	"inkchannel/geom/bed"
	"inkchannel/geom/parts"
	"inkchannel/pipeline/stage"
)

// deepenings is how often the rear is made thicker, at most: wires of one sign need one thickness.
const deepenings = 2

// Deepen runs a session up to the parts and, where the wires have no room in the rear, or leave too little
// of a channel to glue it by, makes the rear as thick as they need, if the settings allow that and it
// helps. It returns what it did, empty for nothing. What fails is left to the session's next run to
// tell.
func Deepen(ctx context.Context, s *stage.Session) (did string) {
	r, err := s.Run(ctx, StageParts)
	if err != nil {
		return ""
	}
	was, now := stage.Of[PartsFound](r), stage.Of[PartsFound](r)
	set := s.Settings()
	best := s
	for range deepenings {
		ch := stage.SettingsOf[ChannelSettings](set)
		if now.holds() || now.Rear <= ch.Rear || now.Rear > ch.MostRear {
			break
		}
		set = stage.With(set, func(c *ChannelSettings) { c.Rear = now.Rear })
		try := s.Try()
		try.Use(set)
		if r, err = try.Run(ctx, StageParts); err != nil {
			break // as thick it cannot be made
		}
		before := stage.Of[PartsFound](best.Latest())
		if now = stage.Of[PartsFound](r); !now.Cramped && (before.Cramped || len(now.Loose) < len(before.Loose)) {
			best = try
		}
	}
	if best == s {
		return firmerBoard(ctx, s, was)
	}
	before := stage.SettingsOf[ChannelSettings](s.Settings()).Rear
	s.Use(best.Settings())
	s.Take(best)
	why := "the wires would leave too little of a channel to glue it by"
	if was.Cramped {
		why = "the wires would have no room in it"
	}
	rear := stage.SettingsOf[ChannelSettings](s.Settings()).Rear
	return fmt.Sprintf("the rear is made %.1f mm thick instead of %.1f mm: %s; --rear-most 0 leaves it", rear, before, why)
}

// firmerBoard takes the board that leaves the fewest channels, or pieces of cut ones, loose, where no thicker rear helps the one that
// was chosen by itself.
func firmerBoard(ctx context.Context, s *stage.Session, was PartsFound) (did string) {
	if stage.SettingsOf[parts.Measures](s.Settings()).Board != parts.BoardAuto || was.Board != parts.BoardBridges {
		return ""
	}
	bridged := looseIn(ctx, s, was)
	if bridged == 0 {
		return ""
	}
	least := bridged
	var best *stage.Session
	for _, board := range []parts.Board{parts.BoardRibs, parts.BoardSolid} {
		try := s.Try()
		try.Use(stage.With(try.Settings(), func(p *parts.Measures) { p.Board = board }))
		r, err := try.Run(ctx, StageParts)
		if err != nil {
			continue
		}
		f := stage.Of[PartsFound](r)
		if loose := looseIn(ctx, try, f); loose < least && (was.Cramped || !f.Cramped) {
			least, best, did = loose, try, fmt.Sprintf(
				"the backboard is %s: it leaves %s with too little to glue, bridges leave %d; --backboard says another", board,
				stage.Count(loose, "channel or piece of one", "channels or pieces of them"), bridged,
			)
		}
	}
	if best != nil {
		s.Use(best.Settings())
		s.Take(best)
	}
	return did
}

// looseIn is how many channels, or pieces of those that the bed is too small for, too little is glued of. A
// sign that no bed takes is told of where it is laid out.
func looseIn(ctx context.Context, s *stage.Session, f PartsFound) int {
	n := len(f.Loose)
	set := stage.SettingsOf[BedsSettings](s.Settings())
	tooLarge := func(p parts.Part) bool { return p.Channel && !bed.Fits(p.Solid, set.Bed) }
	if len(set.Cuts) == 0 && !slices.ContainsFunc(f.Parts, tooLarge) {
		return n // nothing is cut
	}
	if r, err := s.Run(ctx, StageBeds); err == nil {
		n += len(stage.Of[BedsFound](r).loose(f))
	}
	return n
}

// holds tells whether the wires fit and enough of every channel is glued.
func (f PartsFound) holds() bool { return !f.Cramped && len(f.Loose) == 0 }
