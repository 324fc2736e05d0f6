package desk

import (
	"fmt"
	"net/http"
	"sync"

	"inkchannel/pipeline/stage"
)

// A glance is the job on a small copy of its photo: it shows roughly what a setting does while its
// slider moves, many times a second.
type glance struct {
	mu    sync.Mutex
	of    *stage.Session // that it was made for
	small *stage.Session
}

// glanceMegapixels is the size of the small copy, the least that the setting takes.
const glanceMegapixels = 1

// drop forgets the small copy.
func (g *glance) drop() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.of, g.small = nil, nil
}

// lookAhead sends the picture of the step looked at as a setting's value would make it. The job stays as
// it is.
func (d *Desk) lookAhead(w http.ResponseWriter, r *http.Request) {
	q, ok := requestOf(w, r)
	if !ok {
		return
	}
	d.mu.Lock()
	d.turnTo(q.View)
	session, job := d.session, d.job
	if session == nil { // it was put away since
		d.mu.Unlock()
		http.Error(w, "there is no photo yet", http.StatusConflict)
		return
	}
	now, view := session.Settings(), d.view
	d.mu.Unlock()
	st, err := d.table.Stage(view)
	if err != nil || job.Lines != nil {
		http.Error(w, "only a step of a photo is looked at roughly", http.StatusConflict)
		return
	}
	d.glance.mu.Lock()
	defer d.glance.mu.Unlock()
	next, err := d.table.Set(now, q.Flag, q.Value)
	if err == nil {
		next, err = d.table.Set(next, "work-megapixels", fmt.Sprint(glanceMegapixels))
	}
	if err == nil && d.glance.of != session {
		d.glance.of = session
		d.glance.small, err = d.sessionOf(job, next)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	d.glance.small.Use(next)
	res, err := d.glance.small.Run(r.Context(), st.Name)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	img, err := d.table.Picture(res, st.Name)
	sendPicture(w, img, err)
}
