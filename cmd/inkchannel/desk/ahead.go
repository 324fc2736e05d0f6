package desk

import (
	"context"
	"time"

	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// An ahead is the parts and all that follows under way, while the drawing is looked at.
type ahead struct {
	from moment // that it was started at
	try  *stage.Session
	stop context.CancelFunc
	now  chan struct{} // closed when it is asked for
	done chan struct{} // closed once try has run, or was stopped
	did  string        // to the rear or the board
}

// WorkAhead lets a desk make parts and files while the drawing is looked at, before it is asked to.
func (d *Desk) WorkAhead() { d.worksAhead = true }

// restBefore is how long nothing must have changed before parts are made unasked.
const restBefore = 300 * time.Millisecond

// goAhead starts on what is likely to be asked for next, unless that is under way by the settings
// of now.
func (d *Desk) goAhead() {
	if !d.worksAhead || d.session == nil || d.failed || d.view != viewLines || d.aheadFits() {
		return
	}
	last := d.table.Last()
	if _, all := d.session.At(last); all {
		return
	}
	d.stopAhead()
	ctx, stop := context.WithCancel(context.Background())
	a := &ahead{from: d.now(), try: d.session.Try(), stop: stop, now: make(chan struct{}), done: make(chan struct{})}
	d.ahead = a
	go func() {
		defer close(a.done)
		select {
		case <-ctx.Done():
		case <-a.now:
		case <-time.After(restBefore):
		}
		parallel.Caught(func() { // what fails is told when it is asked for
			a.did = pipeline.Deepen(ctx, a.try)
			_, _ = a.try.Run(ctx, last)
		})
	}()
}

// A moment is a session with some settings.
type moment struct {
	of *stage.Session
	by stage.Settings
}

// now is the session as it is.
func (d *Desk) now() moment { return moment{d.session, d.session.Settings()} }

// is tells whether a session is as it was then.
func (m moment) is(s *stage.Session) bool { return m.of == s && m.by.Equal(s.Settings()) }

func (d *Desk) stopAhead() {
	if d.ahead != nil {
		d.ahead.stop()
		d.ahead = nil
	}
}

// aheadFits tells whether what is under way is for the session as it is now.
func (d *Desk) aheadFits() bool {
	return d.ahead != nil && d.ahead.from.is(d.session)
}

// runTo brings the session up to a stage; what is under way is waited for and taken over, if it
// is more than the session has.
func (d *Desk) runTo(ctx context.Context, until string) (stage.Results, error) {
	if _, ok := d.session.At(until); !ok && d.aheadFits() {
		a := d.ahead
		close(a.now)
		select {
		case <-a.done:
			d.takeAhead()
		case <-ctx.Done():
			d.stopAhead()
		}
	}
	if d.reaches(until, pipeline.StageParts) && !d.settled.is(d.session) {
		before := d.session.Settings()
		did := pipeline.Deepen(ctx, d.session)
		if ctx.Err() == nil {
			d.settle(before, did)
		}
	}
	return d.session.Run(ctx, until)
}

// settle takes note of what was done to the rear or the board by itself, and tells it.
func (d *Desk) settle(before stage.Settings, did string) {
	if d.settled = d.now(); did != "" {
		d.told, d.byItself = did, &deepened{before, d.session.Settings()}
	}
}

// A deepened is the settings before and after the rear was made thicker, or the board another, by itself.
type deepened struct{ before, after stage.Settings }

// asAsked are settings with rear and board as they were asked for, where they still are as they came out by themselves: once
// something changes they may come out otherwise.
func (d *Desk) asAsked(s stage.Settings) stage.Settings {
	if d.byItself == nil {
		return s
	}
	was, made := stage.SettingsOf[pipeline.ChannelSettings](d.byItself.before), stage.SettingsOf[pipeline.ChannelSettings](d.byItself.after)
	if stage.SettingsOf[pipeline.ChannelSettings](s).Rear == made.Rear {
		s = stage.With(s, func(c *pipeline.ChannelSettings) { c.Rear = was.Rear })
	}
	board, madeBoard := stage.SettingsOf[parts.Measures](d.byItself.before).Board, stage.SettingsOf[parts.Measures](d.byItself.after).Board
	if stage.SettingsOf[parts.Measures](s).Board == madeBoard {
		s = stage.With(s, func(m *parts.Measures) { m.Board = board })
	}
	return s
}

// takeAhead takes over what was made ahead, if it is done and is for the session as it is now.
func (d *Desk) takeAhead() {
	if !d.aheadFits() {
		return
	}
	a := d.ahead
	select {
	case <-a.done:
		d.ahead = nil
		d.session.Use(a.try.Settings())
		d.session.Take(a.try)
		d.settle(a.from.by, a.did)
	default:
	}
}

// reaches tells whether a run up to a stage runs another.
func (d *Desk) reaches(until, other string) bool {
	a, err := d.table.Index(until)
	b, none := d.table.Index(other)
	return err == nil && none == nil && a >= b
}
