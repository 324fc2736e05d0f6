package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"inkchannel/geom"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/letters"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/stage"
)

// Flags of the command letters.
const (
	flagHeight = "height"
	flagFont   = "font"
	flagGap    = "gap"
	flagPitch  = "pitch"
	flagFonts  = "fonts"
)

func lettersFlags() []cli.Flag {
	def := letters.Default()
	return []cli.Flag{
		&cli.StringFlag{Name: flagHeight, Value: fmt.Sprint(def.Height), Usage: "height of capital letters [mm]"},
		&cli.StringFlag{Name: flagFont, Value: def.Font, Usage: "one of " + strings.Join(letters.Fonts(), ", ")},
		&cli.StringFlag{Name: flagGap, Value: fmt.Sprint(def.Gap), Usage: "room between letters beyond the font's own, below 0 for less [mm]"},
		&cli.Float64Flag{Name: flagPitch, Value: def.Pitch, Usage: "from one row to the next [times the height]"},
		&cli.BoolFlag{Name: flagFonts, Usage: "show all fonts in place of words"},
		outFlag("write to this SVG file, which must be new"),
	}
}

// writeLetters writes words in single lines as an SVG file to make a sign of.
func writeLetters(c *cli.Context) error {
	name := c.String(flagOut)
	if name == "" {
		return usageError{errors.New("no output file given; add -o FILE.svg")}
	}
	if !isLines(name) {
		return usageError{fmt.Errorf("letters are written as SVG, not to %s; give -o FILE.svg", name)}
	}
	set := letters.Settings{Font: c.String(flagFont), Pitch: c.Float64(flagPitch)}
	for flag, to := range map[string]*float64{flagHeight: &set.Height, flagGap: &set.Gap} {
		var err error
		if *to, err = stage.Length(c.String(flag)); err != nil {
			return usageError{fmt.Errorf("--%s: %w", flag, err)}
		}
	}
	rows := c.Args().Slice()
	curves, size, err := []geom.Curve(nil), geom.Point{}, error(nil)
	switch {
	case c.Bool(flagFonts) && len(rows) > 0:
		return usageError{fmt.Errorf("--%s shows fonts and takes no words, %q given", flagFonts, rows[0])}
	case c.Bool(flagFonts):
		curves, size, err = letters.Samples(set)
	case len(rows) == 0:
		return usageError{errors.New("no words given: inkchannel letters \"TEA\" \"ROOM\" -o FILE.svg, a row each")}
	default:
		curves, size, err = letters.Words(rows, set)
	}
	if err != nil {
		return usageError{err}
	}
	say := fmt.Sprintf(": inkchannel make %s -o DIR", name)
	if c.Bool(flagFonts) {
		say = ", to look at"
	} else if err := lines.Check(size); err != nil {
		return usageError{fmt.Errorf("the words are %.0f by %.0f mm, more than a sign can be; write fewer, or lower ones with --height", size.X, size.Y)}
	}
	if err := writeNew(name, folder.SVG(geom.Centreline{Curves: curves}, size, nil)); err != nil {
		return err
	}
	words := geom.BoundsOf(curves, 0.1).Size()
	fmt.Fprintf(c.App.Writer, "wrote %s, lines of %.0f by %.0f mm%s\n", name, words.X, words.Y, say)
	return nil
}

// writeNew writes a file that must not be there yet, whole or not at all.
func writeNew(name string, data []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("cannot write %s: %v; give a new file in a place you may write to", name, plain(err))
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("cannot write %s: %v", name, errors.Join(plain(err), os.Remove(name)))
	}
	return nil
}
