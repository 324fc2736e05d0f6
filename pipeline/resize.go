package pipeline

import (
	"context"
	"math"

	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/stage"
)

// resizings is how often the scale is mended, at most: what is traced changes little with it.
const resizings = 2

// Resize runs a session up to the lines by hand and, where a size is asked for that those miss, as lines were drawn beyond
// the others or left out, sets the scale so that they have it. It begins from what was drawn each time, so that the
// same settings give the same sign whatever was tried before. What fails is left to the session's next run to tell.
func Resize(ctx context.Context, s *stage.Session) {
	if !stage.SettingsOf[DotsSettings](s.Settings()).sized() {
		return
	}
	try := s.Try()
	grown := 1.0
	for range resizings {
		if !grow(try, grown) {
			return
		}
		r, err := try.Run(ctx, StageHand)
		if err != nil {
			break
		}
		dots, f := stage.Of[DotsFound](r), stage.Of[HandFound](r)
		k := sizeFor(dots.Asked, boxOf(dots.Frame.SignLine(f.Line)).Size())
		if math.Abs(k-1) <= sizeOff || !(k > 0) || math.IsInf(k, 1) {
			break
		}
		grown *= k
	}
	if ctx.Err() == nil && grow(s, grown) {
		s.Take(try)
	}
}

// grow has a session's scale mended by so many times; false if that cannot be.
func grow(s *stage.Session, times float64) bool {
	was := s.Settings()
	set := stage.With(was, func(d *DotsSettings) {
		if d.grown = times; times == 1 {
			d.grown = 0
		}
	})
	if set.Equal(was) {
		return true
	}
	r := s.Latest()
	d, drawn := stage.Found[lines.Drawing](r)
	if !drawn {
		s.Use(set)
		return true
	}
	given, err := GivenLines(stage.Of[Source](r), d, set)
	if err == nil {
		s.Begin(given, set)
	}
	return err == nil
}
