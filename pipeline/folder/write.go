package folder

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"inkchannel/geom/parts"
	"inkchannel/pipeline/stage"
)

// A File is one file of a run's folder.
type File struct {
	Name string
	Data []byte
}

// partPrefix starts the name of each part's STL, partForm is how they all look.
const (
	partPrefix = "part-"
	partForm   = "part-….stl"
)

// fileTestPiece is the test piece's STL: no part of the sign.
const fileTestPiece = "test-piece.stl"

// PartFile is the name of a part's STL: its name in small letters and hyphens.
func PartFile(name string) string {
	if name == parts.NameTestPiece {
		return fileTestPiece
	}
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

// Check refuses, before any work by a table, a folder that Write would refuse.
func Check(table stage.Table, dir string) error {
	if dir == "" {
		return errors.New("no output folder given; add -o DIR")
	}
	info, err := os.Stat(dir)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) { // a part of its path is no folder
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
		if !isRunFile(table, e.Name()) {
			return fmt.Errorf("%s contains %s, which is not from an earlier run; choose a new folder", dir, e.Name())
		}
	}
	return checkParent(dir)
}

// checkParent returns an error unless a folder can be put beside dir.
func checkParent(dir string) error {
	parent := filepath.Dir(filepath.Clean(dir))
	for {
		info, err := os.Stat(parent)
		if err == nil {
			if !info.IsDir() {
				return fmt.Errorf("%s is a file, so no folder can be made in it; give another folder with -o", parent)
			}
			break
		}
		if !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, syscall.ENOTDIR) {
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

// Write puts files in folder dir, all or none: they are written to a new
// folder beside it, which then takes its place. An earlier run's folder is
// replaced; any other that is not empty is refused.
func Write(table stage.Table, dir string, files []File) (err error) {
	if err := Check(table, dir); err != nil {
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
			return fmt.Errorf(
				"cannot write %s: %v; nothing was changed; free some space or choose a folder elsewhere", f.Name,
				cause(err),
			)
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
