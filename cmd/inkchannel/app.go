package main

import (
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/urfave/cli/v2"

	"inkchannel/geom/solid"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// demoPhoto is a photograph of an invented drawing: a tea room's teapot. It is
// made by cmd/specimen.
//
//go:embed demo.jpg
var demoPhoto []byte

// newApp returns the command over a table of stages.
func newApp(table stage.Table, out, errOut io.Writer) *cli.App {
	app := &cli.App{
		Name:           "inkchannel",
		Usage:          "turn a photo of a pen drawing into a printable line sign",
		Metadata:       map[string]any{metaTable: table},
		Writer:         out,
		ErrWriter:      errOut,
		Version:        version(),
		OnUsageError:   usage,
		ExitErrHandler: func(*cli.Context, error) {}, // run prints it
		Commands:       commands(table, out),
	}
	for _, command := range app.Commands {
		command.HideHelpCommand = true // help is a word to set, and a folder's name
	}
	app.Action = func(c *cli.Context) error {
		if c.NArg() > 0 {
			return noCommand(c.Args().First())
		}
		return cli.ShowAppHelp(c)
	}
	for _, c := range app.Commands {
		c.OnUsageError = usage
		c.Before = withOwn
	}
	return app
}

// usage makes an error of a command line that the parser does not understand.
func usage(_ *cli.Context, err error, _ bool) error {
	if name, ok := strings.CutPrefix(err.Error(), "flag needs an argument: -"); ok && !strings.HasPrefix(name, "-") && len(name) > 1 {
		err = fmt.Errorf("flag needs an argument: --%s", name)
	}
	return usageError{fmt.Errorf("%w; inkchannel steps lists the flags of each step, inkchannel help the commands", err)}
}

func commands(table stage.Table, out io.Writer) []*cli.Command {
	return []*cli.Command{
		{
			Name: "make", ArgsUsage: "PHOTO", Flags: runFlags(table), Action: orLines(makeOne),
			Usage: "photo in, sign out: parts to print, strip, wiring; or an SVG file of lines at true size",
		},
		{
			Name: "demo", Flags: runFlags(table), Action: makeDemo,
			Usage: "make a sign from the photo that comes with the program",
		},
		{
			Name: "review", ArgsUsage: "[PHOTO or DIR]", Flags: reviewFlags(table), Action: orLines(reviewRun),
			Usage: "tune a photo or a finished run in your browser, on this computer only",
		},
		{
			Name: "batch", ArgsUsage: "DIR", Flags: batchFlags(table), Action: batch,
			Usage: "make a sign of every photo in a folder, on all cores, with one table of results",
		},
		{
			Name: "work", Flags: workFlags(), Action: workOnQueue,
			Usage: "make signs of the photos that batches on other machines hand to a queue",
		},
		{
			Name: "paper", Flags: paperFlags(table), Action: writePaper,
			Usage: "write a PDF to print and draw on, with the dots and guides for bed and spacing",
		},
		{
			Name: "join", ArgsUsage: "PHOTO…", Flags: joinFlags(), Action: joinPhotos,
			Usage: "put photos of one drawing over several sheets together to one picture",
		},
		{
			Name: "letters", ArgsUsage: "ROW…", Flags: lettersFlags(), Action: writeLetters,
			Usage: "write words in single lines as an SVG file to make a sign of",
		},
		{
			Name: "strips", Usage: "print the library of strips, to copy and change",
			Action: printed(func() error {
				_, err := out.Write(power.BuiltIn())
				return err
			}),
		},
		{
			Name: "prices", Usage: "print a price list, to copy and change",
			Action: printed(func() error {
				_, err := out.Write(papers.ExamplePrices())
				return err
			}),
		},
		{
			Name: "steps", Usage: "list the steps with their flags, units and defaults",
			Action: printed(func() error { return printSteps(out, table) }),
		},
		// What a package is made with.
		{Name: "manual", Hidden: true, Usage: "print the manual page", Action: printManual},
		{Name: "completion", Hidden: true, Usage: "print what bash completes", Action: printCompletion},
	}
}

// printed is the action of a command that only prints: whoever gives it something more expects something else.
func printed(do func() error) cli.ActionFunc {
	return func(c *cli.Context) error {
		if c.NArg() > 0 {
			return usageError{fmt.Errorf("%s only prints, %q given; to keep it in a file: inkchannel %[1]s > FILE", c.Command.Name, c.Args().First())}
		}
		return do()
	}
}

// makeOne makes a sign of the photo named.
func makeOne(c *cli.Context) error {
	if c.NArg() != 1 {
		more := ""
		if c.NArg() > 1 {
			more = "; photos of one large drawing are put together by inkchannel join first"
		}
		return usageError{fmt.Errorf("make takes one photo, %d given: inkchannel make PHOTO -o DIR%s", c.NArg(), more)}
	}
	name := c.Args().First()
	return work(c, name, func(limit int64) ([]byte, error) { return readPhoto(name, limit) })
}

// makeDemo makes a sign of the photo that comes with the program.
func makeDemo(c *cli.Context) error {
	if c.NArg() != 0 {
		return usageError{fmt.Errorf("demo takes no photo, %q given: inkchannel demo -o DIR", c.Args().First())}
	}
	return work(c, demoName, func(int64) ([]byte, error) { return demoPhoto, nil })
}

// runCategory is what the flags that are no stage's stand under.
const runCategory = "run"

// outFlag says where to write to.
func outFlag(usage string) cli.Flag {
	return &cli.StringFlag{Name: flagOut, Aliases: []string{"o"}, Usage: usage, Category: runCategory}
}

func reviewFlags(table stage.Table) []cli.Flag {
	return append(settingFlags(table), settingsFlag(),
		outFlag("folder that the page may write to; for a finished run, its own folder by default"),
		&cli.StringFlag{
			Name: flagPhoto, Category: runCategory,
			Usage: "the photo of a finished run, if it is not next to the folder",
		},
		&cli.IntFlag{Name: flagPort, Usage: "port on 127.0.0.1; 0 picks a free one", Category: runCategory},
		&cli.BoolFlag{Name: flagOpen, Usage: "open the page in the browser", Category: runCategory},
		&cli.BoolFlag{Name: flagPhone, Usage: "also take the photo from a phone on the local network", Category: runCategory})
}

// batchMemory is how much memory a batch takes unless it is told otherwise, MB.
const batchMemory = 2500

func batchFlags(table stage.Table) []cli.Flag {
	return append(runFlags(table), queueFlag("hand the photos to workers on other machines through this NATS server, as nats://HOST"), &cli.Float64Flag{
		Name: flagMemory, Value: batchMemory, Category: runCategory,
		Usage: "memory to use; decides how many photos are worked on at a time [MB]",
	})
}

func paperFlags(table stage.Table) []cli.Flag {
	sheets := &cli.StringFlag{Name: flagSheets, Usage: "sheets to lay side by side for a large drawing, in place of one: 2x1 for two beside each other"}
	return append(settingFlags(table), settingsFlag(), sheets, outFlag("write to this PDF file, which must be new"))
}

// metaTable is where the app keeps its table of stages.
const metaTable = "table"

// tableOf is the app's table of stages.
func tableOf(c *cli.Context) stage.Table { return c.App.Metadata[metaTable].(stage.Table) }

// Flags that are not settings of a stage.
const (
	flagOut      = "out"
	flagUntil    = "until"
	flagSettings = "settings"
	flagQuiet    = "quiet"
	flagStrip    = "strip"
	flagStrips   = "strips"
	flagFoot     = "foot"
	flagPort     = "port"
	flagPhoto    = "photo"
	flagPhone    = "phone"
	flagOpen     = "open"
	flagStrict   = "strict"
	flagBare     = "no-pictures"
	flagOnly     = "only"
	flagPrices   = "prices"
	flagMemory   = "memory"
	flagQueue    = "queue"
	flagPatience = "patience"
	flagTries    = "tries"
)

func runFlags(table stage.Table) []cli.Flag {
	flags := []cli.Flag{
		outFlag("folder to write to; an earlier run in it is replaced"),
		&cli.StringFlag{
			Name:     flagUntil,
			Usage:    "stop after this step: " + strings.Join(table.Names(), ", "),
			Category: runCategory,
		},
		settingsFlag(),
		&cli.BoolFlag{Name: flagQuiet, Usage: "print nothing but errors", Category: runCategory},
		&cli.StringFlag{
			Name: flagOnly,
			Usage: "write only what is for these, with commas: " + strings.Join(folder.Groups(), ", ") +
				"; run.yaml and summary.json always",
			Category: runCategory,
		},
		&cli.StringFlag{
			Name:     flagPrices,
			Usage:    "say what the sign costs by this price list; inkchannel prices prints one to change",
			Category: runCategory,
		},
		&cli.BoolFlag{
			Name:     flagBare,
			Usage:    "make no pictures, and neither review.html nor assembly.html, which are made of them",
			Category: runCategory,
		},
		&cli.BoolFlag{
			Name:     flagStrict,
			Usage:    "exit with code 3 if a step is not sure of its result; the files are still written",
			Category: runCategory,
		},
	}
	return append(flags, settingFlags(table)...)
}

func settingsFlag() cli.Flag {
	return &cli.StringFlag{
		Name:     flagSettings,
		Usage:    "read settings from the run.yaml of an earlier run; flags override it",
		Category: runCategory,
	}
}

// settingFlags are the flags of all stages' settings.
func settingFlags(table stage.Table) []cli.Flag {
	flags := []cli.Flag{
		&cli.StringFlag{
			Name:     flagStrip,
			Usage:    "use this strip from the library; flags for single values override it",
			Category: runCategory,
		},
		&cli.StringFlag{
			Name:     flagStrips,
			Usage:    "read the strip library from this file; inkchannel strips prints the built-in one",
			Category: runCategory,
		},
		&cli.StringFlag{
			Name:     flagFoot,
			Usage:    "put the foot of this STL file under the sign, in place of one with a stand: its flat rear below, its top along y",
			Category: runCategory,
		},
	}
	def := table.Default()
	for _, k := range table.Settings() {
		help := k.Help
		if k.Unit != "" {
			help += " [" + k.Unit + "]"
		}
		flags = append(flags, &cli.StringFlag{Name: k.Flag, Usage: help, DefaultText: k.Get(def), Category: k.Stage})
	}
	return flags
}

// flagsFirst moves a command's flags before its photo, so that both orders
// work. A word after a flag that takes a value belongs to it.
func flagsFirst(app *cli.App, args []string) []string {
	if len(args) < 3 {
		return args
	}
	command := app.Command(args[1])
	var flags, rest []string
	for i := 2; i < len(args); i++ {
		a := args[i]
		switch {
		case a == "--":
			rest = append(rest, args[i+1:]...)
			i = len(args)
		case len(a) < 2 || a[0] != '-':
			rest = append(rest, a)
		default:
			flags = append(flags, a)
			if !takesValue(command, strings.TrimLeft(a, "-")) {
				continue
			}
			if i+1 == len(args) { // the parser says what is missing
				return append(append([]string{}, args[:2]...), flags...)
			}
			i++
			flags = append(flags, args[i])
		}
	}
	out := append(append([]string{}, args[:2]...), flags...)
	if len(rest) > 0 {
		out = append(append(out, "--"), rest...)
	}
	return out
}

// takesValue reports whether a flag of a command, written without =, is followed by a
// value: all are but those that are on or off, and the help that every command has.
func takesValue(command *cli.Command, name string) bool {
	if strings.Contains(name, "=") || slices.Contains(cli.HelpFlag.Names(), name) {
		return false
	}
	if command == nil {
		return true
	}
	for _, f := range command.Flags {
		if _, onOff := f.(*cli.BoolFlag); onOff && slices.Contains(f.Names(), name) {
			return false
		}
	}
	return true
}

// orLines is a command that takes a file of lines as well as a photo, which it says of a file that is
// neither.
func orLines(do cli.ActionFunc) cli.ActionFunc {
	return func(c *cli.Context) error {
		err := do(c)
		if errors.Is(err, vision.ErrNotPhoto) {
			err = fmt.Errorf("%w, a PDF of one page, or an SVG file of lines", err)
		}
		return err
	}
}

// readPhoto reads a file of at most limit bytes.
func readPhoto(name string, limit int64) ([]byte, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %v; give the path of a photo", name, plain(err))
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: not a file; give the path of a photo", name)
	}
	if info.Size() > limit {
		return nil, fmt.Errorf(
			"%s: %d MB is too large for a photo within the megapixel limit; shrink it", name, info.Size()>>20,
		)
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %v; check that you may read it", name, plain(err))
	}
	if data, err = asPicture(data); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return data, nil
}

// plain strips the path off a file error, as the message names it already.
func plain(err error) error {
	if pe, ok := err.(*os.PathError); ok {
		return pe.Err
	}
	return err
}

// printSteps writes the table of stages and flags.
func printSteps(out io.Writer, table stage.Table) error {
	def := table.Default()
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	for i, s := range table.Stages() {
		fmt.Fprintf(w, "%d %s: %s\n", i+1, s.Name, s.Does)
		for _, k := range s.Settings {
			fmt.Fprintf(w, "    --%s\t%s\t%s\t%s\n", k.Flag, k.Get(def), k.Unit, k.Help)
		}
		if len(s.Settings) == 0 {
			fmt.Fprintf(w, "    no settings\n")
		}
	}
	return w.Flush()
}

// withOwn makes the app's table one for what the maker brings along.
func withOwn(c *cli.Context) error {
	name := c.String(flagFoot)
	if name == "" {
		return nil
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return fmt.Errorf("foot %s: %v; give an STL file in mm", name, plain(err))
	}
	mesh, err := folder.ReadSTL(data)
	if err == nil {
		var foot solid.Solid
		if foot, err = solid.Sliced(mesh, footLayer); err == nil {
			c.App.Metadata[metaTable] = pipeline.TableFor(pipeline.Own{Foot: foot, FootName: filepath.Base(name)})
			return nil
		}
	}
	return fmt.Errorf("foot %s: %w; give an STL file of a closed body, in mm", name, err)
}

// footLayer is the height, mm, of the layers that a foot with slanting walls is built of.
const footLayer = 0.2

// strips is the library of strips: the user's own, or the built-in one.
func strips(c *cli.Context) ([]power.Strip, error) {
	name := c.String(flagStrips)
	if name == "" {
		return power.Library()
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf(
			"strip library %s: %v; give a file like the one that inkchannel strips prints", name, plain(err),
		)
	}
	list, err := power.ReadStrips(data)
	if err != nil {
		return nil, fmt.Errorf("strip library %s: %w", filepath.Base(name), err)
	}
	return list, nil
}

// useStrip takes the strip named by --strip, or the first of --strips.
func useStrip(c *cli.Context, s stage.Settings) (stage.Settings, error) {
	if !c.IsSet(flagStrip) && !c.IsSet(flagStrips) {
		return s, nil
	}
	list, err := strips(c)
	if err != nil {
		return s, err
	}
	var names []string
	for _, t := range list {
		if t.Name == c.String(flagStrip) || !c.IsSet(flagStrip) {
			return pipeline.UseStrip(s, t), nil
		}
		names = append(names, t.Name)
	}
	return s, usageError{
		fmt.Errorf("--strip: there is no strip %q; the library has %s", c.String(flagStrip), strings.Join(names, ", ")),
	}
}

// settingsOf is the defaults, changed by the settings file, changed by flags.
func settingsOf(c *cli.Context) (stage.Settings, error) {
	return changed(c, tableOf(c).Default())
}

// changed is s changed by the settings file, changed by flags.
func changed(c *cli.Context, s stage.Settings) (stage.Settings, error) {
	table := tableOf(c)
	if name := c.String(flagSettings); name != "" {
		data, err := os.ReadFile(name)
		if err != nil {
			return s, fmt.Errorf("settings file %s: %v; give a file that an earlier run wrote", name, plain(err))
		}
		if s, err = table.ReadSettings(s, data); err != nil {
			return s, fmt.Errorf("settings file %s: %w", filepath.Base(name), err)
		}
	}
	s, err := useStrip(c, s)
	if err != nil {
		return s, err
	}
	for _, k := range table.Settings() {
		if c.IsSet(k.Flag) {
			if s, err = k.Set(s, c.String(k.Flag)); err != nil {
				return s, usageError{fmt.Errorf("--%w", err)}
			}
		}
	}
	if !c.IsSet("spacing") && slices.ContainsFunc(widths(), c.IsSet) {
		s = pipeline.SpacedForChannels(s)
	}
	return s, nil
}

// widths are the flags that say how wide a channel is.
func widths() []string { return []string{"strip-width", "strip-clearance", "wall", "line-width"} }
