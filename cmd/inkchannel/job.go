package main

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"

	"github.com/urfave/cli/v2"

	"inkchannel/cmd/inkchannel/desk"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
)

// openJob opens a photo, or the folder of a finished run with its photo.
func openJob(c *cli.Context, name string) (desk.Job, error) {
	info, err := os.Stat(name)
	if err == nil && info.IsDir() {
		return openRun(c, name)
	}
	if c.IsSet(flagPhoto) {
		return desk.Job{}, usageError{fmt.Errorf("--%s goes with a run's folder, and %s is not one", flagPhoto, name)}
	}
	j := desk.Job{Photo: name, Dir: c.String(flagOut), Command: makeCommand(c, name)}
	kept := keptFor(name)
	if j.Settings, err = kept.read(c); err != nil {
		return j, err
	}
	j.Keep, j.KeptIn = kept.write(tableOf(c)), filepath.Base(string(kept))
	data, err := readPhoto(name, photoLimit(j.Settings))
	j.Source = pipeline.Source{Name: filepath.Base(name), Data: data}
	if err == nil && isLines(name) {
		d, err := readLines(c, name, data)
		j.Lines = &d
		return j, err
	}
	return j, err
}

// besidePhoto has a job keep its changes beside its photo, and takes up those that are kept, where the photo
// lies in this folder.
func besidePhoto(c *cli.Context, j desk.Job) (desk.Job, error) {
	data, err := readPhoto(j.Photo, photoLimit(j.Settings))
	if err != nil || !bytes.Equal(data, j.Source.Data) {
		return j, nil // it is from elsewhere
	}
	kept := keptFor(j.Photo)
	if j.Settings, err = kept.read(c); err != nil {
		return j, err
	}
	j.Keep, j.KeptIn = kept.write(tableOf(c)), string(kept)
	return j, nil
}

// mostRunFile is the largest settings or summary file that is read, bytes.
const mostRunFile = 64 << 20

// openRun opens the folder of a finished run.
func openRun(c *cli.Context, dir string) (desk.Job, error) {
	j := desk.Job{Dir: dir, Run: true, Settings: tableOf(c).Default()}
	if out := c.String(flagOut); out != "" {
		j.Dir = out
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return j, fmt.Errorf("%s: %v", dir, plain(err))
	}
	defer root.Close()
	text, err := runFile(root, folder.FileSettings)
	if err == nil {
		j.Settings, err = tableOf(c).ReadSettings(j.Settings, text)
	}
	if err != nil {
		return j, fmt.Errorf("%s: %s: %w; give the folder of a finished run, or a photo", dir, folder.FileSettings, err)
	}
	if j.Settings, err = changed(c, j.Settings); err != nil {
		return j, err
	}
	var sum folder.Summary
	text, err = runFile(root, folder.FileSummary)
	if err == nil {
		err = json.Unmarshal(text, &sum)
	}
	if err == nil && sum.Photo == nil {
		err = fmt.Errorf("it does not name the photo")
	}
	if err != nil {
		return j, fmt.Errorf(
			"%s: %s: %w; review the photo instead, with --settings %s", dir, folder.FileSummary, err,
			filepath.Join(dir, folder.FileSettings),
		)
	}
	name, data, err := photoOf(c, dir, *sum.Photo, photoLimit(j.Settings))
	j.Photo, j.Command = name, makeCommand(c, name)
	j.Source = pipeline.Source{Name: filepath.Base(name), Data: data}
	if err == nil && isLines(name) {
		d, err := readLines(c, name, data)
		j.Lines = &d
		return j, err
	}
	return j, err
}

// mostEarlier is how many earlier jobs are offered.
const mostEarlier = 6

// earlierHere are the folders of finished runs in a folder, and its photos with changes kept beside them, the
// last one first.
func earlierHere(dir string) (names []string) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil // then none are offered
	}
	when := map[string]int64{}
	for _, d := range list {
		path := filepath.Join(dir, d.Name())
		mark := string(keptFor(path))
		if d.IsDir() {
			mark = filepath.Join(path, folder.FileSettings)
			if _, err := os.Stat(filepath.Join(path, folder.FileSummary)); err != nil {
				continue
			}
		}
		if info, err := os.Stat(mark); err == nil {
			names = append(names, d.Name())
			when[d.Name()] = info.ModTime().UnixNano()
		}
	}
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(when[b], when[a]) })
	return names[:min(len(names), mostEarlier)]
}

// runFile reads a file of a run's folder.
func runFile(root *os.Root, name string) ([]byte, error) {
	f, err := root.Open(name)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, mostRunFile))
}

// photoOf finds the photo that a run was made from: the one named by hand, or
// one of its name beside the folder or here.
func photoOf(c *cli.Context, dir string, p folder.PhotoSummary, limit int64) (string, []byte, error) {
	same := func(data []byte) bool {
		sum := sha256.Sum256(data)
		return hex.EncodeToString(sum[:]) == p.Sum
	}
	if name := c.String(flagPhoto); name != "" {
		data, err := readPhoto(name, limit)
		if err == nil && !same(data) {
			err = fmt.Errorf(
				"%s is not the photo that %s was made from; review it on its own, with --settings %s", name, dir,
				filepath.Join(dir, folder.FileSettings),
			)
		}
		return name, data, err
	}
	if same(demoPhoto) {
		return demoName, demoPhoto, nil
	}
	base := filepath.Base(p.Name)
	for _, name := range []string{filepath.Join(filepath.Dir(filepath.Clean(dir)), base), base} {
		if data, err := readPhoto(name, limit); err == nil && same(data) {
			return name, data, nil
		}
	}
	return "", nil, fmt.Errorf(
		"the photo of %s, %q, is neither next to that folder nor in this one; give it with --%s, or open %s just "+
			"to look", dir, p.Name, flagPhoto, filepath.Join(dir, folder.FilePage),
	)
}

// makeCommand is the command that makes a sign of a photo, or of the demo's.
func makeCommand(c *cli.Context, photo string) func(dir string) []string {
	return func(dir string) []string {
		out := []string{"inkchannel", "make", photo, "-o", dir}
		if photo == demoName {
			out = []string{"inkchannel", "demo", "-o", dir}
		}
		if foot := c.String(flagFoot); foot != "" {
			out = append(out, "--"+flagFoot, foot)
		}
		return out
	}
}

// reviewRun serves a page on loopback to tune a photo's run by.
func reviewRun(c *cli.Context) error {
	if c.NArg() > 1 {
		return usageError{
			fmt.Errorf("review takes one photo or one run's folder, %d given: inkchannel review PHOTO", c.NArg()),
		}
	}
	if c.Bool(flagPhone) && c.NArg() > 0 {
		return usageError{fmt.Errorf("--%s is for a page that waits for a photo; leave out %s", flagPhone, c.Args().First())}
	}
	var job desk.Job
	var err error
	if c.NArg() == 1 {
		job, err = openJob(c, c.Args().First())
	} else {
		job.Dir = c.String(flagOut)
		job.Settings, err = settingsOf(c)
	}
	if err == nil {
		job.Strips, err = strips(c)
	}
	if err != nil {
		return err
	}
	if job.Dir != "" {
		if err := folder.Check(tableOf(c), job.Dir); err != nil {
			return err
		}
	}
	l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", c.Int(flagPort)))
	if err != nil {
		return fmt.Errorf("cannot listen on 127.0.0.1 port %d: %v; choose another with --port", c.Int(flagPort), err)
	}
	defer l.Close()
	var d *desk.Desk
	if c.NArg() == 1 {
		d, err = desk.New(c.Context, tableOf(c), job, l.Addr().String())
	} else {
		d, err = desk.Waiting(tableOf(c), desk.Empty{
			Settings: job.Settings, Dir: job.Dir, Limit: photoLimit(job.Settings), Strips: job.Strips, AsPicture: asPicture,
			Command: func(photo string) func(dir string) []string { return makeCommand(c, photo) }, Phone: c.Bool(flagPhone),
			Beside: func(j desk.Job) (desk.Job, error) { return besidePhoto(c, j) },
			Runs:   earlierHere("."), Open: func(name string) (desk.Job, error) {
				j, err := openJob(c, name)
				j.Strips = job.Strips
				return j, err
			},
		}, l.Addr().String())
	}
	if err != nil {
		return fmt.Errorf("%s: %w", job.Photo, err)
	}
	d.WorkAhead()
	fmt.Fprintf(c.App.Writer, "open http://%s%s in your browser; press Ctrl-C to stop\n", l.Addr(), d.Path())
	if c.Bool(flagOpen) {
		// By the desktop's own opener; where there is none the address stands above.
		_ = exec.Command("xdg-open", "http://"+l.Addr().String()+d.Path()).Start()
	}
	if c.Bool(flagPhone) {
		phone, err := listenForPhone()
		if err != nil {
			return err
		}
		go servePhone(c.Context, c.App.Writer, d, phone)
	}
	return d.Serve(c.Context, l)
}
