package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"inkchannel/pipeline"
)

// bytesPerPixel bounds a photo file's size by its pixels: the largest form,
// uncompressed 16-bit with alpha, has 8.
const bytesPerPixel = 8

// photoLimit is the largest photo file that is read, bytes.
func photoLimit(s pipeline.Settings) int64 {
	return int64(s.Load.MaxMegapixels*1e6*bytesPerPixel) + 1<<20
}

// untilOf is the stage to stop after, empty for none.
func untilOf(c *cli.Context) (string, error) {
	until := c.String(flagUntil)
	if until != "" && !slices.Contains(stageNames(), until) {
		return "", usageError{fmt.Errorf("--until: there is no stage %q; the stages are %s", until, strings.Join(stageNames(), ", "))}
	}
	return until, nil
}

// within tells whether a path lies in a folder, or is it.
func within(path, dir string) bool {
	real := func(p string) string {
		if a, err := filepath.Abs(p); err == nil {
			p = a
		}
		if e, err := filepath.EvalSymlinks(p); err == nil {
			p = e
		}
		return p
	}
	rel, err := filepath.Rel(real(dir), real(path))
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

// demoName is what the photo that comes with the program is called.
const demoName = "the demo photo"

// work runs the pipeline on a photo and writes the output folder.
func work(c *cli.Context, name string, read func(limit int64) ([]byte, error)) error {
	s, err := settingsOf(c)
	if err != nil {
		return err
	}
	until, err := untilOf(c)
	if err != nil {
		return err
	}
	dir := c.String(flagOut)
	if dir == "" {
		return usageError{errors.New("no output folder given; name one by -o DIR")}
	}
	if err := pipeline.CheckOutput(dir); err != nil {
		return err
	}
	if within(name, dir) {
		return fmt.Errorf("%s lies in %s, which the output would replace; give another folder by -o", name, dir)
	}
	data, err := read(photoLimit(s))
	if err != nil {
		return err
	}
	start := time.Now()
	show := newProgress(c, until)
	r, n, err := makeSign(c.Context, sign{name, data, s, until, dir}, show.step)
	show.close()
	if err != nil {
		return err
	}
	show.line("wrote %d files to %s in %s", n, dir, seconds(time.Since(start)))
	if doubts := r.Doubts(); len(doubts) > 0 && c.Bool(flagStrict) {
		return doubtful(doubts, dir)
	}
	return nil
}

// A sign is one photo to make a sign of.
type sign struct {
	name     string // of the photo
	data     []byte
	settings pipeline.Settings
	until    string
	dir      string
}

// makeSign runs the pipeline on a photo and writes its folder; it returns what
// was found and how many files were written. step is told of each stage.
func makeSign(ctx context.Context, s sign, step func(pipeline.Step)) (*pipeline.Result, int, error) {
	rev := pipeline.NewReviewer()
	r, err := pipeline.Run(ctx, s.data, s.settings, s.until, func(r *pipeline.Result, st pipeline.Step) {
		step(st)
		rev.Draw(r, st)
	})
	var se *pipeline.StageError
	if errors.As(err, &se) {
		return nil, 0, fmt.Errorf("%s: %w", s.name, err)
	}
	if err != nil {
		return nil, 0, err
	}
	r.Source = filepath.Base(s.name)
	files, err := runFiles(r, rev)
	if err != nil {
		return nil, 0, err
	}
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	return r, len(files), pipeline.WriteRun(s.dir, files)
}

// doubtful says which stages are not sure.
func doubtful(doubts []pipeline.Doubt, dir string) error {
	var list []string
	for _, d := range doubts {
		list = append(list, fmt.Sprintf("%s (%.2f of 1: %s)", d.Stage, d.Sure, d.Why))
	}
	return strictError{fmt.Errorf("not sure of %s; look at %s, then tune, or leave out --%s", strings.Join(list, "; "), filepath.Join(dir, pipeline.FilePage), flagStrict)}
}

// writePaper writes the paper to draw on.
func writePaper(c *cli.Context) error {
	if c.NArg() != 0 {
		return usageError{fmt.Errorf("paper takes no photo, %q given: inkchannel paper -o FILE.pdf", c.Args().First())}
	}
	s, err := settingsOf(c)
	if err != nil {
		return err
	}
	name := c.String(flagOut)
	if name == "" {
		return usageError{errors.New("no output file given; name one by -o FILE.pdf")}
	}
	data, err := pipeline.Paper(pipeline.PaperSettings{Page: s.Sheet.Page, Run: s})
	if err != nil {
		return err
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("cannot write %s: %v; give a new file in a place you may write to", name, plain(err))
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("cannot write %s: %v", name, errors.Join(plain(err), os.Remove(name)))
	}
	fmt.Fprintf(c.App.Writer, "wrote %s: print it at 100 %%, check the ruler, and draw\n", name)
	return nil
}

// runFiles collects the files of a run.
func runFiles(r *pipeline.Result, rev *pipeline.Reviewer) ([]pipeline.File, error) {
	files, err := rev.Files()
	if err != nil {
		return nil, err
	}
	add := func(name string, data []byte) { files = append(files, pipeline.File{Name: name, Data: data}) }
	if len(r.Line.Curves) > 0 {
		add(pipeline.FileCentreline, pipeline.SVG(r.Line, r.Size))
	}
	if len(r.Prints) > 0 {
		data, err := pipeline.ThreeMF(r)
		if err != nil {
			return nil, err
		}
		add(pipeline.FileSign, data)
		for _, p := range r.Prints {
			data, err := pipeline.STL(p.Mesh, "inkchannel "+p.Name+", mm")
			if err != nil {
				return nil, err
			}
			add(pipeline.PartFile(p.Name), data)
		}
	} else if r.Channel.Solid != nil {
		data, err := pipeline.STL(r.Channel.Solid, "inkchannel channel, mm")
		if err != nil {
			return nil, err
		}
		add(pipeline.FileChannel, data)
	}
	if len(r.Feeding.Circuits) > 0 {
		if err := addSheets(r, add); err != nil {
			return nil, err
		}
	}
	page, err := pipeline.Page(r, rev.Images())
	if err != nil {
		return nil, err
	}
	add(pipeline.FilePage, page)
	add(pipeline.FileSettings, pipeline.WriteSettings(r.Settings))
	sum, err := pipeline.Summarise(r)
	if err != nil {
		return nil, err
	}
	add(pipeline.FileSummary, sum)
	return files, nil
}

// addSheets adds what a builder works by.
func addSheets(r *pipeline.Result, add func(name string, data []byte)) error {
	cut, err := pipeline.CutSheet(r)
	if err != nil {
		return err
	}
	list, err := pipeline.PartsCSV(r)
	if err != nil {
		return err
	}
	add(pipeline.FileCutSheet, cut)
	add(pipeline.FileWiring, pipeline.Wiring(r))
	add(pipeline.FilePartsList, list)
	add(pipeline.FileAssembly, pipeline.Assembly(r))
	return nil
}

// A progress tells the user how far the run is: a bar with the stage's name on
// a terminal, plain lines elsewhere, nothing if quiet.
type progress struct {
	out    io.Writer
	bar    *progressbar.ProgressBar
	stages []string
}

func newProgress(c *cli.Context, until string) *progress {
	if c.Bool(flagQuiet) {
		return &progress{out: io.Discard}
	}
	p := &progress{out: c.App.Writer}
	for _, n := range stageNames() {
		p.stages = append(p.stages, n)
		if n == until {
			break
		}
	}
	f, ok := c.App.ErrWriter.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return p
	}
	p.bar = progressbar.NewOptions(len(p.stages),
		progressbar.OptionSetWriter(f), progressbar.OptionSetWidth(24), progressbar.OptionClearOnFinish(),
		progressbar.OptionSetDescription(p.stages[0]), progressbar.OptionSetPredictTime(false))
	_ = p.bar.RenderBlank() // a bar that cannot be drawn is no reason to stop
	return p
}

// step reports a finished stage.
func (p *progress) step(s pipeline.Step) {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
	p.line("%-10s %s  (%s)", s.Stage, s.Found, seconds(s.Took))
	for _, n := range s.Notes {
		p.line("%-10s note: %s", "", n)
	}
	if s.Unsure() {
		p.line("%-10s not sure (%.2f of 1): %s", "", s.Sure, s.Why)
	}
	if p.bar == nil {
		return
	}
	if i := slices.Index(p.stages, s.Stage) + 1; i < len(p.stages) {
		p.bar.Describe(p.stages[i])
	}
	_ = p.bar.Add(1)
}

func (p *progress) line(format string, a ...any) { fmt.Fprintf(p.out, format+"\n", a...) }

func (p *progress) close() {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}

func seconds(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }
