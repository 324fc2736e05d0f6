package desk

import (
	"context"
	"errors"
	"net/http"

	"inkchannel/pipeline/folder"
)

// write runs the session to its end and writes its folder.
func (d *Desk) write(ctx context.Context, _ request) (bool, error) {
	if d.job.Dir == "" {
		return false, errors.New("no folder to write to: start review with -o DIR, or run the command shown")
	}
	res, err := d.session.Run(ctx, d.table.Last())
	if err != nil {
		return false, err
	}
	pictures := folder.NewPictures(d.table)
	for _, s := range res.Steps {
		if r, ok := d.session.At(s.Stage); ok {
			pictures.Draw(r, s)
		}
	}
	files, err := folder.Files(
		folder.Run{Table: d.table, Results: res, Settings: d.session.Settings(), Pictures: pictures},
	)
	if err != nil {
		return false, err
	}
	if err := folder.Write(d.table, d.job.Dir, files); err != nil {
		return false, err
	}
	d.told = "wrote all files to " + d.job.Dir
	return false, nil
}

// file runs the session to its end and sends one of the files that are offered.
func (d *Desk) file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	d.mu.Lock()
	defer d.mu.Unlock()
	if !offered(name) {
		http.NotFound(w, r)
		return
	}
	res, err := d.session.Run(r.Context(), d.table.Last())
	var f folder.File
	ok := false
	if err == nil {
		f, ok, err = folder.Offered(folder.Run{Table: d.table, Results: res, Settings: d.session.Settings()}, name)
	}
	if err == nil && !ok {
		err = errors.New("there is nothing to write to " + name)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", `attachment; filename="`+f.Name+`"`)
	_, _ = w.Write(f.Data) // the browser may be gone
}

// offered reports whether the page offers a file of that name.
func offered(name string) bool {
	for _, k := range folder.Kinds() {
		if k.Offered && k.Name == name {
			return true
		}
	}
	return false
}
