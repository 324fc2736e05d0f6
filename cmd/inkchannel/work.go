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

	"inkchannel/geom/parallel"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/lines"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// bytesPerPixel bounds a photo file's size by its pixels: the largest form,
// uncompressed 16-bit with alpha, has 8.
const bytesPerPixel = 8

// photoLimit is the largest photo file that is read, bytes.
func photoLimit(s stage.Settings) int64 {
	return int64(stage.SettingsOf[vision.LoadSettings](s).MaxMegapixels*1e6*bytesPerPixel) + 1<<20
}

// untilOf is the stage to stop after, empty for none.
func untilOf(c *cli.Context) (string, error) {
	until := c.String(flagUntil)
	if until == "" {
		return "", nil
	}
	if _, err := tableOf(c).Index(until); err != nil {
		return "", usageError{fmt.Errorf("--until: %w", err)}
	}
	return until, nil
}

// files say what is to be written.
type files struct {
	only string // what they are for, empty for all
	bare bool   // without pictures
}

// filesOf is what files are to be written.
func filesOf(c *cli.Context) (files, error) {
	f := files{c.String(flagOnly), c.Bool(flagBare)}
	if c.IsSet(flagOnly) && f.bare {
		return f, usageError{fmt.Errorf("--%s and --%s both say what is written; give one of them", flagOnly, flagBare)}
	}
	for _, g := range f.groups() {
		if c.IsSet(flagOnly) && !slices.Contains(folder.Groups(), g) {
			return f, usageError{fmt.Errorf("--%s: %q is none of %s; give one or more, with commas", flagOnly, g, strings.Join(folder.Groups(), ", "))}
		}
	}
	return f, nil
}

func (f files) groups() []string {
	groups := strings.Split(f.only, ",")
	for i, g := range groups {
		groups[i] = strings.TrimSpace(g)
	}
	return groups
}

// wanted tells of which kinds files are wanted.
func (f files) wanted() folder.Wanted {
	switch {
	case f.bare:
		return folder.Bare
	case f.only != "":
		return folder.Only(f.groups())
	}
	return nil
}

// pricesOf is the price list that is asked for, nil for none.
func pricesOf(c *cli.Context) (*papers.Prices, error) {
	name := c.String(flagPrices)
	if name == "" {
		return nil, nil
	}
	if info, err := os.Stat(name); err == nil && info.IsDir() {
		return nil, fmt.Errorf("%s: a folder; give the price list in it, a YAML file", name)
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %v; inkchannel prices > %[1]s makes one", name, plain(err))
	}
	p, err := papers.ReadPrices(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return &p, nil
}

// unknown says what a price leaves out.
func unknown(p papers.Price) string {
	if p.Unknown == 0 {
		return ""
	}
	return fmt.Sprintf(", without %s that the list has no price for", stage.Count(p.Unknown, "thing", "things"))
}

// within reports whether a path lies in a folder, or is it.
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
	job, err := asked(c)
	if err != nil {
		return err
	}
	dir := c.String(flagOut)
	if dir == "" {
		return usageError{errors.New("no output folder given; add -o DIR")}
	}
	if err := folder.Check(tableOf(c), dir); err != nil {
		return err
	}
	if within(name, dir) {
		return fmt.Errorf("%s is in %s, which the output would replace; choose another folder with -o", name, dir)
	}
	data, err := read(photoLimit(job.settings))
	if err != nil {
		return err
	}
	job.name, job.data, job.dir = name, data, dir
	if isLines(name) {
		if err := checkLines(c); err != nil {
			return err
		}
		d, err := readLines(c, name, data)
		if err != nil {
			return err
		}
		job.lines = &d
	}
	start := time.Now()
	show := newProgress(c, job.until)
	r, n, err := makeSign(c.Context, job, show.step)
	show.close()
	if err != nil {
		return err
	}
	if in, ok := stage.Inputs[papers.ListIn](r); ok && job.prices != nil {
		p := papers.PriceOf(in, *job.prices)
		show.line("costs about %.2f %s%s", p.Total, job.prices.Currency, unknown(p))
	}
	show.line("wrote %d files to %s in %s", n, dir, seconds(time.Since(start)))
	if doubts := r.Doubts(); len(doubts) > 0 && c.Bool(flagStrict) {
		return doubtful(doubts, dir)
	}
	return nil
}

// A sign is one photo, or file of lines, to make a sign of.
type sign struct {
	table    stage.Table
	name     string // of the photo
	data     []byte
	settings stage.Settings
	until    string
	dir      string
	lines    *lines.Drawing // of a file of lines, where it was read already
	files    files
	prices   *papers.Prices
}

// asked is a sign as the flags ask for it, of no photo yet.
func asked(c *cli.Context) (s sign, err error) {
	s.table = tableOf(c)
	if s.settings, err = settingsOf(c); err != nil {
		return s, err
	}
	if s.until, err = untilOf(c); err != nil {
		return s, err
	}
	if s.files, err = filesOf(c); err != nil {
		return s, err
	}
	s.prices, err = pricesOf(c)
	return s, err
}

// isLines tells whether a file is one of lines, and no photo.
func isLines(name string) bool { return strings.EqualFold(filepath.Ext(name), ".svg") }

// checkLines refuses what is asked of a file of lines but belongs to steps that it skips.
func checkLines(c *cli.Context) error {
	table := tableOf(c)
	first, err := table.Index(pipeline.StageCentreline)
	if err != nil {
		return err
	}
	for _, st := range table.Stages()[:first+1] {
		for _, k := range st.Settings {
			if c.IsSet(k.Flag) && !slices.Contains([]string{"enlarge", "width", "height", "turn"}, k.Flag) {
				return usageError{fmt.Errorf("--%s belongs to the step %s, which a file of lines skips", k.Flag, st.Name)}
			}
		}
	}
	return nil
}

// readLines reads a file of lines and tells what of it is not used.
func readLines(c *cli.Context, name string, data []byte) (lines.Drawing, error) {
	d, err := lines.Read(data)
	if err != nil {
		return d, fmt.Errorf("%s: %w", name, err)
	}
	for _, n := range pipeline.LinesNotes(d) {
		if c.Bool(flagQuiet) {
			break
		}
		fmt.Fprintf(c.App.ErrWriter, "note: %s: %s\n", filepath.Base(name), n)
	}
	return d, nil
}

// makeSign runs the pipeline on a photo and writes its folder; it returns what
// was found and how many files were written. step is told of each stage.
func makeSign(ctx context.Context, s sign, step func(stage.Step)) (stage.Results, int, error) {
	r, files, err := makeFiles(ctx, s, step)
	if err != nil {
		return r, 0, err
	}
	return r, len(files), folder.Write(s.table, s.dir, files)
}

// makeFiles runs the pipeline on a photo; it returns what was found and the folder's files. A fault of the
// program is an error too, so that one photo stops no other.
func makeFiles(ctx context.Context, s sign, step func(stage.Step)) (r stage.Results, files []folder.File, err error) {
	if fault := parallel.Caught(func() { r, files, err = makeAll(ctx, s, step) }); fault != nil {
		return r, nil, fmt.Errorf("%s: the program itself is at fault: %v; report this, with the photo and the flags", s.name, fault)
	}
	return r, files, err
}

func makeAll(ctx context.Context, s sign, step func(stage.Step)) (stage.Results, []folder.File, error) {
	pictures, draw := folder.NewPictures(s.table), s.files.wanted().Shows()
	session, err := s.session()
	if err != nil {
		return stage.Results{}, nil, err
	}
	r, err := runTold(ctx, s.table, session, s.until, func(r stage.Results, st stage.Step) {
		step(st)
		if draw {
			pictures.Draw(r, st)
		}
	})
	var se *stage.Error
	if errors.As(err, &se) {
		before := ""
		if i, err := s.table.Index(se.Stage); err == nil && i > 0 && !isLines(s.name) && draw {
			before = fmt.Sprintf("; --until %s shows the steps before it", s.table.Names()[i-1])
		}
		return r, nil, fmt.Errorf("%s: %w%s", s.name, err, before)
	}
	if err != nil {
		return r, nil, err
	}
	files, err := folder.Files(folder.Run{Table: s.table, Results: r, Settings: session.Settings(), Pictures: pictures, Wanted: s.files.wanted(), Prices: s.prices})
	if err != nil {
		return r, nil, err
	}
	return r, files, ctx.Err()
}

// session starts the sign's run.
func (s sign) session() (*stage.Session, error) {
	src := pipeline.Source{Name: filepath.Base(s.name), Data: s.data}
	if !isLines(s.name) {
		return pipeline.NewSession(s.table, src, nil, s.settings)
	}
	if skipped := slices.Index(s.table.Names(), pipeline.StageCentreline); slices.Contains(s.table.Names()[:skipped+1], s.until) {
		return nil, usageError{fmt.Errorf("%s: --until %s: a file of lines starts after the step %s", s.name, s.until, pipeline.StageCentreline)}
	}
	if s.lines == nil {
		d, err := lines.Read(s.data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.name, err)
		}
		s.lines = &d
	}
	session, err := pipeline.NewSession(s.table, src, s.lines, s.settings)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.name, err)
	}
	return session, nil
}

// runTold runs a session up to a stage, all of it if that is empty, and tells of each stage as it has
// run. The rear is settled before the channel is told of.
func runTold(ctx context.Context, t stage.Table, session *stage.Session, until string, told func(stage.Results, stage.Step)) (r stage.Results, err error) {
	names := t.Names()
	first, last := slices.Index(names, session.First()), len(names)-1
	if until != "" {
		last = slices.Index(names, until)
	}
	if last >= slices.Index(names, pipeline.StageHand) {
		pipeline.Resize(ctx, session)
	}
	deepen := ""
	for i := first; i <= last; i++ {
		if names[i] == pipeline.StageChannel && last >= slices.Index(names, pipeline.StageParts) {
			deepen = pipeline.Deepen(ctx, session)
		}
		if r, err = session.Run(ctx, names[i]); err != nil {
			return r, err
		}
		st := r.Steps[len(r.Steps)-1]
		if deepen != "" && st.Stage == pipeline.StageChannel {
			st.Notes = append(slices.Clip(st.Notes), deepen)
		}
		told(r, st)
	}
	return r, nil
}

// doubtful says which stages are not sure.
func doubtful(doubts []stage.Step, dir string) error {
	var list []string
	for _, d := range doubts {
		list = append(list, fmt.Sprintf("%s (confidence %.2f: %s)", d.Stage, d.Confidence.Sure, d.Confidence.Why))
	}
	return strictError{
		fmt.Errorf(
			"not sure of %s; look at %s and tune, or run without --%s", strings.Join(list, "; "),
			filepath.Join(dir, folder.FilePage), flagStrict,
		),
	}
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
		return usageError{errors.New("no output file given; add -o FILE.pdf")}
	}
	if !strings.EqualFold(filepath.Ext(name), ".pdf") {
		return usageError{fmt.Errorf("the paper is written as PDF, not to %s; give -o FILE.pdf", name)}
	}
	page, run := papers.PaperFor(s)
	plan, several, err := sheetsOf(c)
	if err != nil {
		return err
	}
	data, say := []byte(nil), "check the ruler, and draw"
	if several {
		if data, err = papers.Sheets(page, run, plan); err != nil {
			return usageError{err}
		}
		say = "check the rulers, lay the sheets edge to edge, tape them from behind, and draw; then inkchannel join"
	} else {
		data, err = papers.Paper(page, run)
	}
	if err != nil {
		return err
	}
	if err := writeNew(name, data); err != nil {
		return err
	}
	fmt.Fprintf(c.App.Writer, "wrote %s: print it at 100 %%, %s\n", name, say)
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
	for _, n := range tableOf(c).Names() {
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
func (p *progress) step(s stage.Step) {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
	p.line("%-10s %s  (%s)", s.Stage, s.Found, seconds(s.Took))
	for _, n := range s.Notes {
		p.line("%-10s note: %s", "", n)
	}
	if s.Unsure() {
		p.line("%-10s not sure (confidence %.2f): %s", "", s.Confidence.Sure, s.Confidence.Why)
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
