package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"inkchannel/pipeline"
)

// A job is a photo to review by some settings.
type job struct {
	photo    string // its path, as a command would name it
	data     []byte
	settings pipeline.Settings
	dir      string // the folder that the page may write, none if empty
}

// openJob opens a photo, or the folder of a finished run with its photo.
func openJob(c *cli.Context, name string) (job, error) {
	info, err := os.Stat(name)
	if err == nil && info.IsDir() {
		return openRun(c, name)
	}
	if c.IsSet(flagPhoto) {
		return job{}, usageError{fmt.Errorf("--%s goes with a run's folder, and %s is none", flagPhoto, name)}
	}
	j := job{photo: name, dir: c.String(flagOut)}
	if j.settings, err = settingsOf(c); err != nil {
		return j, err
	}
	j.data, err = readPhoto(name, photoLimit(j.settings))
	return j, err
}

// mostRunFile is the largest settings or summary file that is read, bytes.
const mostRunFile = 64 << 20

// openRun opens the folder of a finished run.
func openRun(c *cli.Context, dir string) (job, error) {
	j := job{dir: dir, settings: pipeline.Default()}
	if out := c.String(flagOut); out != "" {
		j.dir = out
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return j, fmt.Errorf("%s: %v", dir, plain(err))
	}
	defer root.Close()
	text, err := runFile(root, pipeline.FileSettings)
	if err == nil {
		err = pipeline.ReadSettings(&j.settings, text)
	}
	if err != nil {
		return j, fmt.Errorf("%s: %s: %w; give the folder of a finished run, or a photo", dir, pipeline.FileSettings, err)
	}
	if j.settings, err = changed(c, j.settings); err != nil {
		return j, err
	}
	var sum pipeline.Summary
	text, err = runFile(root, pipeline.FileSummary)
	if err == nil {
		err = json.Unmarshal(text, &sum)
	}
	if err == nil && sum.Photo == nil {
		err = fmt.Errorf("it does not name the photo")
	}
	if err != nil {
		return j, fmt.Errorf("%s: %s: %w; review the photo instead, with --settings %s", dir, pipeline.FileSummary, err, filepath.Join(dir, pipeline.FileSettings))
	}
	j.photo, j.data, err = photoOf(c, dir, *sum.Photo, photoLimit(j.settings))
	return j, err
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
func photoOf(c *cli.Context, dir string, p pipeline.PhotoSummary, limit int64) (string, []byte, error) {
	same := func(data []byte) bool {
		sum := sha256.Sum256(data)
		return hex.EncodeToString(sum[:]) == p.Sum
	}
	if name := c.String(flagPhoto); name != "" {
		data, err := readPhoto(name, limit)
		if err == nil && !same(data) {
			err = fmt.Errorf("%s is not the photo that %s was made from; review it by itself, with --settings %s", name, dir, filepath.Join(dir, pipeline.FileSettings))
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
	return "", nil, fmt.Errorf("the photo of %s, %q, lies neither beside it nor here; name it by --%s, or open %s to look only", dir, p.Name, flagPhoto, filepath.Join(dir, pipeline.FilePage))
}
