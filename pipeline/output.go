package pipeline

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// A File is one file of a run's folder.
type File struct {
	Name string
	Data []byte
}

// Names of a run's files beside the review images.
const (
	FileCentreline = "centreline.svg"
	FileChannel    = "channel.stl" // of a run that stops before the parts
	FileSign       = "sign.3mf"
	FileCutSheet   = "cut-sheet.pdf"
	FileWiring     = "wiring.svg"
	FilePartsList  = "parts-list.csv"
	FileAssembly   = "assembly.md"
	FilePage       = "review.html"
	FileSettings   = "run.yaml"
	FileSummary    = "summary.json"
	FileContact    = "contact-sheet.jpg"
)

// reviewName is the file of stage i's review image.
func reviewName(i int) string {
	ext := "jpg" // a picture of the photo
	switch Stages()[i].Name {
	case StageSkeleton, StageChannel, StageParts, StageBeds, StagePower:
		ext = "png" // drawn, few colours
	}
	return fmt.Sprintf("%02d-%s.%s", i+1, Stages()[i].Name, ext)
}

// partPrefix starts the name of each part's STL.
const partPrefix = "part-"

// PartFile is the name of a part's STL: its name in small letters and hyphens.
func PartFile(name string) string {
	var b strings.Builder
	b.WriteString(partPrefix)
	gap := false
	for _, r := range strings.ToLower(name) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			if gap {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(r)
			continue
		}
		gap = true
	}
	return b.String() + ".stl"
}

// isRunFile tells whether a run may write a file of that name.
func isRunFile(name string) bool {
	if strings.HasPrefix(name, partPrefix) && strings.HasSuffix(name, ".stl") {
		return true
	}
	if slices.Contains([]string{FileCentreline, FileChannel, FileSign, FileCutSheet, FileWiring, FilePartsList, FileAssembly, FilePage, FileSettings, FileSummary, FileContact}, name) {
		return true
	}
	// A review image; earlier versions numbered the stages otherwise.
	base, ext, _ := strings.Cut(name, ".")
	number, stage, _ := strings.Cut(base, "-")
	_, err := strconv.Atoi(number)
	return err == nil && (ext == "jpg" || ext == "png") && slices.ContainsFunc(Stages(), func(s Stage) bool { return s.Name == stage })
}

// CheckOutput refuses, before any work, a folder that WriteRun would refuse.
func CheckOutput(dir string) error {
	if dir == "" {
		return errors.New("no output folder given; name one by -o DIR")
	}
	info, err := os.Stat(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return checkParent(dir)
	}
	if err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	if !info.IsDir() {
		return fmt.Errorf("%s is a file; give a folder for the output", dir)
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	for _, e := range list {
		if !isRunFile(e.Name()) {
			return fmt.Errorf("%s holds %s, which is not of an earlier run; give a new folder", dir, e.Name())
		}
	}
	return checkParent(dir)
}

// checkParent tells whether a folder can be put beside dir.
func checkParent(dir string) error {
	parent := filepath.Dir(filepath.Clean(dir))
	for {
		info, err := os.Stat(parent)
		if err == nil {
			if !info.IsDir() {
				return fmt.Errorf("%s is a file, so no folder can be made in it", parent)
			}
			break
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("output folder: %w", err)
		}
		parent = filepath.Dir(parent)
	}
	probe, err := os.MkdirTemp(parent, ".inkchannel-")
	if err != nil {
		return fmt.Errorf("cannot write beside %s: %v; give a folder in a place you may write to", dir, cause(err))
	}
	return os.Remove(probe)
}

// cause strips the path, which means nothing to the user, off an error.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// WriteRun puts files in folder dir, all or none: they are written to a new
// folder beside it, which then takes its place. An earlier run's folder is
// replaced; any other that is not empty is refused.
func WriteRun(dir string, files []File) (err error) {
	if err := CheckOutput(dir); err != nil {
		return err
	}
	dir = filepath.Clean(dir)
	parent := filepath.Dir(dir)
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	tmp, err := os.MkdirTemp(parent, ".inkchannel-")
	if err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	defer func() {
		if e := os.RemoveAll(tmp); err == nil && e != nil {
			err = fmt.Errorf("output folder: %w", e)
		}
	}()
	fresh := filepath.Join(tmp, "new")
	if err := os.Mkdir(fresh, 0o755); err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	for _, f := range files {
		if strings.ContainsAny(f.Name, `/\`) {
			return fmt.Errorf("file name %q has a path", f.Name)
		}
		if err := os.WriteFile(filepath.Join(fresh, f.Name), f.Data, 0o644); err != nil {
			return fmt.Errorf("cannot write %s: %v; nothing was changed, so make room or give a folder elsewhere", f.Name, cause(err))
		}
	}
	return swap(fresh, dir, filepath.Join(tmp, "old"))
}

// swap puts folder fresh in dir's place and what was there at old.
func swap(fresh, dir, old string) error {
	if _, err := os.Lstat(dir); errors.Is(err, fs.ErrNotExist) {
		if err := os.Rename(fresh, dir); err != nil {
			return fmt.Errorf("output folder: %w", err)
		}
		return nil
	}
	if exchange(fresh, dir) == nil {
		return nil // the old one lies at fresh now and goes with it
	}
	// No atomic exchange here: move the old one aside, and back if the new one
	// cannot take its place.
	if err := os.Rename(dir, old); err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	if err := os.Rename(fresh, dir); err != nil {
		return errors.Join(fmt.Errorf("output folder: %w", err), os.Rename(old, dir))
	}
	return nil
}
