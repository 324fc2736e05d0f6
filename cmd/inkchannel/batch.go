package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"text/tabwriter"
	"time"

	"github.com/urfave/cli/v2"

	"inkchannel/geom/parallel"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// batchTable is the file with the table of a batch.
const batchTable = "batch.csv"

// What a run takes of memory, MB, as measured on photos of 12 and 48 megapixels
// (make bench): so much anyway, and so much for each megapixel it works on.
const (
	memoryAnyway = 150
	memoryEach   = 45
)

// An entry is one photo of a batch and what came of it.
type entry struct {
	photo, dir string
	made       outcome // of a photo without an error
	err        error
	took       time.Duration
	changed    bool // in review, before
}

// batch makes a sign of each photo of a folder.
func batch(c *cli.Context) error {
	if c.NArg() != 1 {
		return usageError{
			fmt.Errorf("batch takes one folder of photos, %d given: inkchannel batch DIR -o OUT", c.NArg()),
		}
	}
	in, out := c.Args().First(), c.String(flagOut)
	if out == "" {
		return usageError{errors.New("no output folder given; add -o OUT")}
	}
	each, err := asked(c)
	if err != nil {
		return err
	}
	list, other, err := batchList(tableOf(c), in, out)
	if err != nil {
		return err
	}
	workers := batchWorkers(
		runtime.NumCPU(), c.Float64(flagMemory), stage.SettingsOf[vision.LoadSettings](each.settings).WorkMegapixels,
	)
	show := &progress{out: c.App.Writer}
	if c.Bool(flagQuiet) {
		show.out = io.Discard
	}
	if other != nil {
		show.line("passed over, as %s: %s", stage.Plural(len(other), "it is no photo", "they are no photos"), brief(other))
	}
	of := func(e *entry) (s sign, err error) { // with the photo's own changes
		k := keptFor(e.photo)
		s, e.changed = each, k.counts(c)
		s.settings, err = k.read(c)
		return s, err
	}
	do := func(ctx context.Context, e *entry) (outcome, error) { return batchOne(ctx, e, of) }
	if address := c.String(flagQueue); c.IsSet(flagQueue) {
		remote, end, err := handedOut(c, address, each, of, show)
		if err != nil {
			return err
		}
		defer end()
		do, workers = remote, handedMost
	}
	made := 0
	batchRun(c.Context, list, workers, do, func(e *entry) {
		switch {
		case e.err == nil:
			made++
			how := ""
			if e.changed {
				how = " as changed in review"
			}
			show.line("made %s%s (%s)", e.photo, how, seconds(e.took))
		case !errors.Is(e.err, context.Canceled):
			show.line("failed %s (%s)", e.photo, seconds(e.took))
		}
	})
	if err := c.Context.Err(); err != nil {
		return fmt.Errorf("stopped; %d of %d photos were made, and their signs are kept", made, len(list))
	}
	if err := writeTable(filepath.Join(out, batchTable), list); err != nil {
		return err
	}
	show.line("")
	printBatch(show, list)
	return batchError(list, c.Bool(flagStrict))
}

// batchFolder returns an error for a folder with files of something else than an earlier batch: beside its table there
// are folders only.
func batchFolder(out string) error {
	list, err := os.ReadDir(out)
	if err != nil {
		return nil // there is none yet, or it is told where it is written to
	}
	for _, f := range list {
		if !f.IsDir() && f.Name() != batchTable {
			return fmt.Errorf("%s contains %s, which is not from an earlier batch; choose a new folder", out, f.Name())
		}
	}
	return nil
}

// brief names a few of many.
func brief(names []string) string {
	const most = 5
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}

// batchList finds the photos of a folder and where each is written to, and the names of its other
// files. It returns an error for a folder without photos, and one that would take in or
// overwrite its own output.
func batchList(table stage.Table, in, out string) (list []*entry, other []string, err error) {
	files, err := os.ReadDir(in)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %v; give a folder of photos", in, plain(err))
	}
	if within(out, in) {
		return nil, nil, fmt.Errorf(
			"the output folder %s is inside the photo folder %s; choose one outside it with -o", out, in,
		)
	}
	if err := batchFolder(out); err != nil {
		return nil, nil, err
	}
	taken := map[string]bool{}
	for _, f := range files {
		ext := strings.ToLower(filepath.Ext(f.Name()))
		if f.IsDir() {
			other = append(other, f.Name()+string(filepath.Separator))
			continue
		}
		if strings.HasSuffix(f.Name(), keptBehind) {
			continue // of a photo
		}
		if !slices.Contains([]string{".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif", ".pdf", ".svg"}, ext) {
			other = append(other, f.Name())
			continue
		}
		dir := strings.TrimSuffix(f.Name(), filepath.Ext(f.Name()))
		if dir == "" || dir == batchTable || taken[dir] { // a.jpg and a.png
			dir = f.Name()
		}
		taken[dir] = true
		e := &entry{photo: filepath.Join(in, f.Name()), dir: filepath.Join(out, dir)}
		if err := folder.Check(table, e.dir); err != nil {
			return nil, nil, err
		}
		list = append(list, e)
	}
	if len(list) == 0 {
		return nil, nil, fmt.Errorf("there are no photos (JPEG, PNG, WebP, TIFF, HEIC or PDF) and no SVG files of lines in %s; give a folder of them", in)
	}
	return list, other, nil
}

// batchWorkers is how many photos are worked on at a time: as many as there are
// cores, and as the memory (MB) holds.
func batchWorkers(cores int, memory, megapixels float64) int {
	return max(min(cores, int(memory/(memoryAnyway+memoryEach*megapixels))), 1)
}

// batchRun has the signs made, workers at a time, and tells of each.
func batchRun(
	ctx context.Context, list []*entry, workers int, do func(context.Context, *entry) (outcome, error), done func(*entry),
) {
	var mu sync.Mutex
	parallel.AtMost(workers, len(list), func(i int) {
		e := list[i]
		if e.err = ctx.Err(); e.err != nil {
			return
		}
		start := time.Now()
		e.made, e.err = do(ctx, e)
		e.took = time.Since(start)
		mu.Lock()
		defer mu.Unlock()
		done(e)
	})
}

func batchOne(ctx context.Context, e *entry, of func(*entry) (sign, error)) (o outcome, err error) {
	s, err := of(e)
	if err != nil {
		return o, err
	}
	s.name, s.dir = filepath.Base(e.photo), e.dir
	if s.data, err = readPhoto(e.photo, photoLimit(s.settings)); err != nil {
		return o, err
	}
	r, _, err := makeSign(ctx, s, func(stage.Step) {})
	if err != nil {
		return o, err
	}
	return outcomeOf(s, r), nil
}

// An outcome is what the table needs of a result, without its pictures and
// meshes, so that memory does not grow with the number of photos.
type outcome struct {
	Doubt           string   // the first, empty for none
	Rules           []string // those that are broken
	Strokes, Pieces int
	Strip           float64 // m
	Watts           float64
	Cost            string // with its currency, empty without a price list
}

func outcomeOf(s sign, r stage.Results) outcome {
	traced, _ := stage.Found[pipeline.StrokesFound](r)
	strips, _ := stage.Found[pipeline.StripsFound](r)
	drawing, drawn := stage.Found[lines.Drawing](r)
	fed, _ := stage.Found[pipeline.PowerFound](r)
	o := outcome{
		Rules:   s.table.FailedRules(r),
		Strokes: len(traced.Strokes.Strokes), Pieces: strips.Laid(), Watts: fed.Watts,
	}
	if drawn {
		o.Strokes = len(stage.Of[pipeline.CentrelineFound](r).Line.Curves)
	}
	if doubts := r.Doubts(); len(doubts) > 0 {
		o.Doubt = doubts[0].Stage + ": " + doubts[0].Confidence.Why
	} else if drawing.Guessed {
		notes := pipeline.LinesNotes(drawing)
		o.Doubt = notes[len(notes)-1] // of the size
	}
	for _, c := range strips.Circuits {
		o.Strip += c.Strip / 1000
	}
	if in, ok := stage.Inputs[papers.ListIn](r); ok && s.prices != nil {
		p := papers.PriceOf(in, *s.prices)
		o.Cost = fmt.Sprintf("%.2f %s%s", p.Total, s.prices.Currency, unknown(p))
	}
	return o
}

// row is the entry's line of the table.
func (e *entry) row() []string {
	name := filepath.Base(e.photo)
	if e.err != nil {
		return []string{name, "failed", "", "", "", "", "", "", seconds(e.took), e.err.Error()}
	}
	m := e.made
	state, note := "sure", ""
	if m.Doubt != "" {
		state, note = "not sure", m.Doubt
	} else if len(m.Rules) > 0 {
		note = m.Rules[0]
	}
	return []string{
		name, state, fmt.Sprint(m.Strokes), fmt.Sprint(m.Pieces), fmt.Sprint(len(m.Rules)),
		fmt.Sprintf("%.2f", m.Strip), fmt.Sprintf("%.1f", m.Watts), m.Cost, seconds(e.took), note,
	}
}

func batchHead() []string {
	return []string{"photo", "state", "strokes", "strip pieces", "rules broken", "strip m", "watts", "cost", "time", "note"}
}

func printBatch(show *progress, list []*entry) {
	var b bytes.Buffer
	w := tabwriter.NewWriter(&b, 0, 4, 2, ' ', 0)
	for _, r := range append([][]string{batchHead()}, rows(list)...) {
		fmt.Fprintln(w, strings.Join(r, "\t"))
	}
	_ = w.Flush() // to memory
	show.line("%s", strings.TrimRight(b.String(), "\n"))
}

func rows(list []*entry) [][]string {
	var out [][]string
	for _, e := range list {
		out = append(out, e.row())
	}
	return out
}

// writeTable writes the table as CSV, in one go.
func writeTable(name string, list []*entry) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(append([][]string{batchHead()}, rows(list)...)); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return fmt.Errorf("cannot make %s: %v", filepath.Dir(name), plain(err))
	}
	tmp := name + ".new"
	if err := os.WriteFile(tmp, b.Bytes(), 0o644); err != nil {
		return fmt.Errorf("cannot write %s: %v", name, errors.Join(plain(err), os.Remove(tmp)))
	}
	return os.Rename(tmp, name)
}

// batchError tells in one line how many photos failed or, where that is asked
// for, are in doubt.
func batchError(list []*entry, strict bool) error {
	failed, unsure := 0, 0
	for _, e := range list {
		if e.err != nil {
			failed++
		} else if e.made.Doubt != "" {
			unsure++
		}
	}
	if failed > 0 {
		return fmt.Errorf("%d of %d photos failed; the table and %s say why", failed, len(list), batchTable)
	}
	if strict && unsure > 0 {
		return strictError{
			fmt.Errorf("%d of %d photos in doubt; the table and %s say why", unsure, len(list), batchTable),
		}
	}
	return nil
}
