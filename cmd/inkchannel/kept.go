package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"inkchannel/pipeline/stage"
)

// A kept is the file beside a photo in which review keeps its settings for the next time.
type kept string

// keptBehind is what the file's name has behind the photo's.
const keptBehind = ".review.yaml"

// keptFor is the file of a photo.
func keptFor(photo string) kept { return kept(photo + keptBehind) }

// counts tells whether read returns settings that were kept.
func (k kept) counts(c *cli.Context) bool {
	_, err := os.Stat(string(k))
	return err == nil && c.String(flagSettings) == ""
}

// keptSays is the comment at the head of the file.
const keptSays = "What was changed in review, for the next time; remove this file to start over."

// read returns the settings to start with: those kept, unless a settings file was given, changed by
// flags.
func (k kept) read(c *cli.Context) (stage.Settings, error) {
	s := tableOf(c).Default()
	if c.String(flagSettings) != "" {
		return changed(c, s)
	}
	data, err := os.ReadFile(string(k))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return changed(c, s)
	case err != nil:
		return s, fmt.Errorf("%s: %w; remove it to start over", k, plain(err))
	}
	if s, err = tableOf(c).ReadSettings(s, data); err != nil {
		return s, fmt.Errorf("%s: %w; remove it to start over", k, err)
	}
	return changed(c, s)
}

// write returns what keeps settings: the file is replaced as a whole, and removed once they are
// as at first.
func (k kept) write(table stage.Table) func(stage.Settings) error {
	first := string(table.WriteSettings(table.Default(), keptSays))
	return func(s stage.Settings) error {
		data := table.WriteSettings(s, keptSays)
		if string(data) == first {
			if err := os.Remove(string(k)); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return plain(err)
			}
			return nil
		}
		f, err := os.CreateTemp(filepath.Dir(string(k)), ".review-*")
		if err != nil {
			return plain(err)
		}
		_, err = f.Write(data)
		if err = errors.Join(err, f.Close()); err == nil {
			err = os.Rename(f.Name(), string(k))
		}
		if err != nil {
			_ = os.Remove(f.Name()) // the first error counts
		}
		return plain(err)
	}
}
