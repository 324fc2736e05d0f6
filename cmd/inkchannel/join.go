package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"inkchannel/pipeline/joined"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// Flags of the commands paper and join.
const (
	flagSheets = "sheets"
	flagPage   = "page"
)

// apartMost is how far off, mm, marks may lie before the user is told.
const apartMost = 1.0

func joinFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: flagPage, Value: string(vision.PageA4), Usage: "size of the sheets: A4, A3 or letter"},
		outFlag("write to this PNG file, which must be new"),
	}
}

// joinPhotos puts photographs of one large drawing together.
func joinPhotos(c *cli.Context) error {
	name, names := c.String(flagOut), c.Args().Slice()
	switch {
	case len(names) == 0:
		return usageError{errors.New("join takes the photos of one drawing, none given: inkchannel join PHOTO… -o FILE.png")}
	case name == "":
		return usageError{errors.New("no output file given; add -o FILE.png")}
	case !strings.EqualFold(filepath.Ext(name), ".png"):
		return usageError{fmt.Errorf("the picture is written as PNG, not to %s; give -o FILE.png", name)}
	}
	page := vision.Page(c.String(flagPage))
	if _, _, ok := page.Size(); !ok {
		return usageError{fmt.Errorf("--%s %q: give the sheets' size: A4, A3 or letter", flagPage, page)}
	}
	if _, err := os.Lstat(name); err == nil {
		return fmt.Errorf("%s is there already; give a new file with -o", name)
	}
	var photos []joined.Photo
	for _, n := range names {
		data, err := readPhoto(n, photoLimit(tableOf(c).Default()))
		if err != nil {
			return err
		}
		photos = append(photos, joined.Photo{Name: n, Data: data})
	}
	w, err := joined.Join(photos, page, func(i int) {
		if i > 0 {
			fmt.Fprintf(c.App.ErrWriter, "looking at photo %d of %d\n", i+1, len(photos))
		}
	})
	if err != nil {
		return err
	}
	if err := writeNew(name, w.PNG); err != nil {
		return err
	}
	for i, n := range names {
		fmt.Fprintf(c.App.Writer, "%s: %s, fits to %.2f mm (root mean square)\n", n, joined.Told(w.Seen[i]), w.Plan.Rest[i])
	}
	fmt.Fprintf(c.App.Writer, "%s together, %.0f by %.0f mm; all marks fit to %.2f mm, %s in %s the worst\n",
		stage.Count(len(w.Plan.Sheets), "sheet", "sheets"), w.Size.X, w.Size.Y, w.Plan.Worst, joined.MarkName(w.Plan.At.Mark), names[w.Plan.Of])
	if w.Plan.Worst > apartMost {
		w.Notes = append(w.Notes, "lines over joints may be off by as much; lay the sheets flat, and photograph from straight above")
	}
	for _, n := range w.Notes {
		fmt.Fprintf(c.App.Writer, "note: %s\n", n)
	}
	fine := ""
	if px := int(math.Ceil(max(w.Size.X, w.Size.Y) * w.PxPerMm)); px > vision.DefaultSheet().Pixels {
		fine = fmt.Sprintf(" --sheet-pixels %d", px)
	}
	fmt.Fprintf(c.App.Writer, "wrote %s: inkchannel make %s --scale-from file%s -o DIR\n", name, name, fine)
	return nil
}

// sheetsOf reads how many sheets are asked for, as 2x1; ok is false where none are.
func sheetsOf(c *cli.Context) (p papers.SheetsPlan, ok bool, err error) {
	v := c.String(flagSheets)
	if v == "" {
		return p, false, nil
	}
	var rest string
	if n, _ := fmt.Sscanf(v+" ", "%dx%d%s", &p.Across, &p.Down, &rest); n != 2 {
		return p, true, usageError{fmt.Errorf("--%s %q: give how many lie beside and below each other, as 2x1", flagSheets, v)}
	}
	return p, true, nil
}
