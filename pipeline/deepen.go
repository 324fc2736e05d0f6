package pipeline

import (
	"context"
	"fmt"

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
	try := s.Try()
	for range deepenings {
		set := stage.SettingsOf[ChannelSettings](try.Settings())
		if now.holds() || now.Rear <= set.Rear || now.Rear > set.MostRear {
			break
		}
		try.Use(stage.With(try.Settings(), func(c *ChannelSettings) { c.Rear = now.Rear }))
		if r, err = try.Run(ctx, StageParts); err != nil {
			return ""
		}
		now = stage.Of[PartsFound](r)
	}
	rear := stage.SettingsOf[ChannelSettings](try.Settings()).Rear
	if now.Cramped || len(now.Loose) > 0 && len(now.Loose) >= len(was.Loose) || try.Settings().Equal(s.Settings()) {
		return ""
	}
	before := stage.SettingsOf[ChannelSettings](s.Settings()).Rear
	s.Use(try.Settings())
	s.Take(try)
	why := "the wires would leave too little of a channel to glue it by"
	if was.Cramped {
		why = "the wires would have no room in it"
	}
	return fmt.Sprintf("the rear is made %.1f mm thick instead of %.1f mm: %s; --rear-most 0 leaves it", rear, before, why)
}

// holds tells whether the wires fit and enough of every channel is glued.
func (f PartsFound) holds() bool { return !f.Cramped && len(f.Loose) == 0 }
