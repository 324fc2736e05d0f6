package desk

import (
	"context"
	"net/http"
	"time"

	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// An ahead is what goes beyond the lines under way, while the drawing is looked at: what is switched on over them
// first, then the parts and all that follows.
type ahead struct {
	from  moment // that it was started at
	until string // which stage
	try   *stage.Session
	stop  context.CancelFunc
	now   chan struct{} // closed when it is asked for
	done  chan struct{} // closed once try has run, or was stopped
	did   string        // to the rear or the board
	err   error         // why a stage could not run
}

// WorkAhead lets a desk make parts and files while the drawing is looked at, before it is asked to.
func (d *Desk) WorkAhead() { d.worksAhead = true }

// restBefore is how long nothing must have changed before parts are made unasked.
const restBefore = 300 * time.Millisecond

// goAhead starts on what is shown or likely to be asked for next, unless that is under way by the settings
// of now.
func (d *Desk) goAhead() {
	if !d.worksAhead || d.session == nil || d.failed || d.view != viewLines {
		return
	}
	until, rest := d.table.Last(), restBefore
	if d.lacksOverlays() {
		until, rest = d.deepest(), 0
	}
	if _, all := d.session.At(until); all || d.aheadFits() && d.ahead.until == until {
		return
	}
	d.stopAhead()
	ctx, stop := context.WithCancel(context.Background())
	a := &ahead{from: d.now(), until: until, try: d.session.Try(), stop: stop, now: make(chan struct{}), done: make(chan struct{})}
	d.ahead = a
	go func() {
		defer close(a.done)
		select {
		case <-ctx.Done():
		case <-a.now:
		case <-time.After(rest):
		}
		fault := parallel.Caught(func() {
			if d.reaches(until, pipeline.StageParts) {
				a.did = pipeline.Deepen(ctx, a.try)
			}
			_, a.err = a.try.Run(ctx, until)
		})
		if fault != nil {
			a.err = atFault(fault)
		}
	}()
}

// lacksOverlays tells whether something that is switched on over the lines is not there yet.
func (d *Desk) lacksOverlays() bool {
	if d.session == nil || d.failed || d.view != viewLines {
		return false
	}
	_, lines := d.session.At(linesDone)
	_, all := d.session.At(d.deepest())
	return lines && !all
}

// more sends the state once what is switched on over the lines is there, as far as it can be made. Whoever changes
// something meanwhile need not wait for it.
func (d *Desk) more(w http.ResponseWriter, r *http.Request) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.turnTo(r.URL.Query().Get("view"))
	d.goAhead()
	lacked := d.lacksOverlays()
	switch {
	case !lacked:
	case d.worksAhead:
		d.await(r.Context(), d.ahead)
	default:
		_, err := d.runTo(r.Context(), d.deepest())
		d.say(err)
	}
	if lacked && !d.lacksOverlays() { // there, or it cannot be made
		d.version++
	}
	d.goAhead()
	d.tell(w)
}

// await waits for what is under way without keeping others out, and takes it over if nothing changed meanwhile.
func (d *Desk) await(ctx context.Context, a *ahead) {
	d.mu.Unlock()
	select {
	case <-a.done:
	case <-ctx.Done():
	}
	d.mu.Lock()
	d.takeAhead()
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
	if d.reaches(until, pipeline.StageHand) && !d.sized.is(d.session) {
		if pipeline.Resize(ctx, d.session); ctx.Err() == nil {
			d.sized = d.now()
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
		if d.reaches(a.until, pipeline.StageParts) {
			d.settle(a.from.by, a.did)
		}
		if a.err != nil && d.lacksOverlays() { // what fails later is told when it is asked for
			d.say(a.err)
		}
	default:
	}
}

// reaches tells whether a run up to a stage runs another.
func (d *Desk) reaches(until, other string) bool {
	a, err := d.table.Index(until)
	b, none := d.table.Index(other)
	return err == nil && none == nil && a >= b
}
