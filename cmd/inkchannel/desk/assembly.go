package desk

import (
	"net/http"
	"strconv"

	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
)

// A buildStep is one step of assembly as the page shows it.
type buildStep struct {
	Text, Check, Caution string
	Behind               bool // its picture is seen from behind
}

// steps are the steps of assembly of the session, run to its end, with what they show.
func (d *Desk) steps(r *http.Request) ([]papers.Step, papers.AssemblyIn, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	res, err := d.runTo(r.Context(), d.table.Last())
	if err != nil {
		return nil, papers.AssemblyIn{}, err
	}
	in, _ := stage.Inputs[papers.AssemblyIn](res)
	return papers.Steps(in.List(), folder.FileNames()), in, nil
}

// assembly sends the steps of assembly.
func (d *Desk) assembly(w http.ResponseWriter, r *http.Request) {
	steps, _, err := d.steps(r)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	out := make([]buildStep, len(steps))
	for i, s := range steps {
		out[i] = buildStep{s.Text, s.Check, s.Caution, s.Behind()}
	}
	send(w, out)
}

// assemblyStep sends what a step of assembly, counted from 1, shows, as bodies does.
func (d *Desk) assemblyStep(w http.ResponseWriter, r *http.Request) {
	steps, in, err := d.steps(r)
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	i, err := strconv.Atoi(r.PathValue("step"))
	if err != nil || i < 1 || i > len(steps) {
		http.NotFound(w, r)
		return
	}
	bodies, err := steps[i-1].Bodies(in)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	sendBodies(w, bodies)
}
