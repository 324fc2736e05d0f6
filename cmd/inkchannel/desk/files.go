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

// photoFolder is where the archive has the photo.
const photoFolder = "photo/"

// all runs the session to its end and sends all its files as one archive.
func (d *Desk) all(w http.ResponseWriter, r *http.Request) {
	d.mu.Lock()
	defer d.mu.Unlock()
	var b bytes.Buffer
	files, err := d.made(r.Context())
	if err == nil {
		err = folder.Zip(&b, append(files, d.photoSent()...))
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="`+fileAll+`"`)
	_, _ = w.Write(b.Bytes()) // the browser may be gone
}

// photoSent is the photo, if the page took it and it may be nowhere else: with it the command can be run again.
func (d *Desk) photoSent() []folder.File {
	if !d.lost() {
		return nil
	}
	return []folder.File{{Name: photoFolder + d.job.Photo, Data: d.job.Source.Data}}
}

// lost tells whether changes end with the program: the page took a photo that does not lie in this folder.
func (d *Desk) lost() bool { return d.job.Keep == nil && !d.job.Run && d.empty.Beside != nil }

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

// A fileState is a file that the page offers.
type fileState struct{ Name, What string }

// offered sends which files there are to fetch by themselves: all but the pictures.
func (d *Desk) offered(w http.ResponseWriter, r *http.Request) {
	files, ok := d.singles(w, r)
	if !ok {
		return
	}
	out := []fileState{{fileAll, "all files of the run in one"}}
	for _, f := range files {
		out = append(out, fileState{f.Name, folder.What(f.Name)})
	}
	send(w, out)
}

// file sends one of the files that are offered.
func (d *Desk) file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	if name == fileAll {
		d.all(w, r)
		return
	}
	if folder.What(name) == "" {
		http.NotFound(w, r)
		return
	}
	files, ok := d.singles(w, r)
	if !ok {
		return
	}
	i := slices.IndexFunc(files, func(f folder.File) bool { return f.Name == name })
	if i < 0 {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	_, _ = w.Write(files[i].Data) // the browser may be gone
}

// singly wants all but the pictures of the steps and the page of them.
func singly(k folder.Kind) bool { return k.For != folder.ForPictures && k.For != folder.ForPage }

// singles are the files to fetch by themselves; where there are none, the browser is told why.
func (d *Desk) singles(w http.ResponseWriter, r *http.Request) (files []folder.File, ok bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	files, err := d.plain(r.Context())
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
	}
	return files, err == nil
}

// plain are the files of the session, run to its end, but for the steps' pictures. They are kept
// until something changes.
func (d *Desk) plain(ctx context.Context) ([]folder.File, error) {
	res, err := d.runTo(ctx, d.table.Last())
	if err != nil {
		return nil, err
	}
	if d.kept.is(d.session) {
		return d.kept.files, nil
	}
	files, err := folder.Files(folder.Run{Table: d.table, Results: res, Settings: d.session.Settings(), Wanted: singly})
	if err == nil {
		d.kept = keptFiles{d.now(), files}
	}
	return files, err
}

// keptFiles are the files of a session by some settings.
type keptFiles struct {
	moment
	files []folder.File
}
