package desk

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"slices"

	"inkchannel/pipeline/folder"
)

// fileAll is the archive of all files.
const fileAll = "sign.zip"

// all runs the session to its end and sends all its files as one archive.
func (d *Desk) all(w http.ResponseWriter, r *http.Request) {
	d.mu.Lock()
	defer d.mu.Unlock()
	var b bytes.Buffer
	files, err := d.made(r.Context())
	if err == nil {
		err = folder.Zip(&b, files)
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="`+fileAll+`"`)
	_, _ = w.Write(b.Bytes()) // the browser may be gone
}

// write runs the session to its end and writes its folder.
func (d *Desk) write(ctx context.Context, _ request) (bool, error) {
	if d.job.Dir == "" {
		return false, errors.New("no folder to write to: start review with -o DIR, or run the command shown")
	}
	files, err := d.made(ctx)
	if err != nil {
		return false, err
	}
	if err := folder.Write(d.table, d.job.Dir, files); err != nil {
		return false, err
	}
	d.told = "wrote all files to " + d.job.Dir
	return false, nil
}

// made are all files of the session, run to its end.
func (d *Desk) made(ctx context.Context) ([]folder.File, error) {
	res, err := d.runTo(ctx, d.table.Last())
	if err != nil {
		return nil, err
	}
	pictures := folder.NewPictures(d.table)
	for _, s := range res.Steps {
		if r, ok := d.session.At(s.Stage); ok {
			pictures.Draw(r, s)
		}
	}
	return folder.Files(
		folder.Run{Table: d.table, Results: res, Settings: d.session.Settings(), Pictures: pictures},
	)
}

// file runs the session to its end and sends one of the files that are offered.
func (d *Desk) file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	if name == fileAll {
		d.all(w, r)
		return
	}
	kinds := folder.Offered()
	i := slices.IndexFunc(kinds, func(k folder.Kind) bool { return k.Name == name })
	if i < 0 {
		http.NotFound(w, r)
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	res, err := d.runTo(r.Context(), d.table.Last())
	var f folder.File
	ok := false
	if err == nil {
		f, ok, err = kinds[i].File(folder.Run{Table: d.table, Results: res, Settings: d.session.Settings()})
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
