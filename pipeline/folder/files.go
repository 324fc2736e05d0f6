package folder

import (
	"slices"
	"strconv"
	"strings"

	"inkchannel/geom/parallel"
	"inkchannel/pipeline"
	"inkchannel/pipeline/cutting"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
)

// Names of files that other packages ask for.
const (
	FileCentreline   = "centreline.svg"
	FileChannel      = "channel.stl"
	FileSign         = "sign.3mf"
	FileCutSheet     = "cut-sheet.pdf"
	FileDrillSheet   = "drill-sheet.pdf"
	FileWireSheet    = "wire-sheet.pdf"
	FileDimensions   = "dimensions.pdf"
	FileAssembly     = "assembly.md"
	FileAssemblyPage = "assembly.html"
	FilePage         = "review.html"
	FileSettings     = "run.yaml"
	FileSummary      = pipeline.FileSummary
)

// A Run is a run as far as it went, with what its files are made of.
type Run struct {
	Table    stage.Table
	Results  stage.Results
	Settings stage.Settings
	Pictures *Pictures // of the stages that ran; nil for none
	Wanted   Wanted
	Prices   *papers.Prices // of what the sign is made of; nil for none
}

// A Wanted tells of which kinds files are wanted; of all if it is nil.
type Wanted func(Kind) bool

// of reports whether files of a kind are wanted.
func (w Wanted) of(k Kind) bool { return w == nil || w(k) }

// Shows reports whether the stages' pictures are needed for what is wanted.
func (w Wanted) Shows() bool {
	return slices.ContainsFunc(Kinds(), func(k Kind) bool { return (k.For == ForPictures || k.For == ForPage) && w.of(k) })
}

// A Kind is one kind of file that a run writes.
type Kind struct {
	Name  string                      // of the file, or its form, as part-*.stl
	What  string                      // what it is, in a few words
	For   string                      // what it is for, one of the Groups
	shows bool                        // pictures, or is a page of them
	write func(r Run) ([]File, error) // none where the run did not come so far
}

// What files are for.
const (
	ForPictures = "pictures"
	ForLines    = "lines"
	ForParts    = "parts"
	ForCutting  = "cutting"
	ForStrip    = "strip"
	ForWiring   = "wiring"
	ForBuilding = "building"
	ForPage     = "page"
	forRun      = "run" // always written: by them a folder is told from others
)

// Groups lists what files are for.
func Groups() []string {
	return []string{ForPictures, ForLines, ForParts, ForCutting, ForStrip, ForWiring, ForBuilding, ForPage}
}

// Bare wants no pictures, nor pages that are made of them.
func Bare(k Kind) bool { return !k.shows }

// Only wants the kinds of some Groups, and those that tell of the run.
func Only(groups []string) Wanted {
	return func(k Kind) bool { return k.For == forRun || slices.Contains(groups, k.For) }
}

// Kinds lists the files that a run writes, in order: the one place that knows them.
func Kinds() []Kind {
	return slices.Concat(
		of(ForPictures,
			Kind{Name: "01-photo.jpg …", What: "what each step found, a picture each", shows: true, write: stagePictures},
			Kind{Name: fileContact, What: "all these pictures on one", shows: true, write: contact},
		),
		of(ForLines,
			Kind{
				Name:  FileCentreline,
				What:  "the lines the sign is made on, at true size (SVG 1.1, mm of the sheet)",
				write: lines,
			},
		),
		of(ForParts,
			one(
				FileSign,
				"all pieces to print in one file (3MF core specification), in mm, named and coloured, laid out on the "+
					"beds side by side", func(_ Run, f pipeline.BedsFound) ([]byte, error) { return ThreeMF(f) },
			),
			Kind{Name: partForm, What: "each piece alone, the way up that it is printed, not turned on the bed yet; `test-piece.stl` to find the strip's clearance", write: partFiles},
			Kind{Name: FileChannel, What: "the channels as one body, of a run that stops before the parts", write: channelFile},
		),
		of(ForCutting,
			one(
				"outlines.dxf", "for who cuts acrylic or wood: centrelines, channels, slots, backboard and holes on layers "+
					"of their own (DXF R12, mm of the sign, y up)",
				func(_ Run, in outlinesIn) ([]byte, error) { return cutting.DXF(in.layers(), in.Dots.Frame.Size), nil },
			),
			one(
				"outlines.svg", "the same as SVG 1.1, at true size",
				func(_ Run, in outlinesIn) ([]byte, error) { return cutting.SVG(in.layers(), in.Dots.Frame.Size), nil },
			),
			one(
				FileDimensions, "the sign from the front and from its side with its main dimensions, on one page",
				func(_ Run, in papers.DimensionsIn) ([]byte, error) { return papers.Dimensions(in) },
			),
		),
		of(ForStrip,
			one(
				FileCutSheet,
				"the strip's pieces at true size, with cut marks, numbers and polarity, tiled onto A4 or Letter, a "+
					"ruler on each page",
				func(_ Run, in papers.CutSheetIn) ([]byte, error) { return papers.CutSheet(in) },
			),
		),
		of(ForWiring,
			Kind{
				Name: FileWireSheet,
				What: "the wires behind the channels at true size, seen from behind, with the numbers of wires, branches and " +
					"holes; of a sign that has some",
				write: sheetOf(FileWireSheet, papers.WireSheet),
			},
			one(
				"wiring.svg",
				"the wiring diagram (symbols of IEC 60617)",
				func(_ Run, in pipeline.WiringIn) ([]byte, error) {
					return pipeline.Wiring(in).SVG("Wiring diagram"), nil
				},
			),
		),
		of(ForBuilding,
			Kind{
				Name:  FileDrillSheet,
				What:  "where a wall sign's screws go, at true size, to stick to the wall; with keyholes or ears",
				write: sheetOf(FileDrillSheet, papers.DrillSheet),
			},
			one(
				"parts-list.csv", "what to print and buy",
				func(_ Run, in papers.ListIn) ([]byte, error) { return papers.PartsCSV(papers.PartsList(in, PartFile)) },
			),
			one(
				"price.csv", "what all that costs, by the price list given with `--prices`",
				func(r Run, in papers.ListIn) ([]byte, error) {
					if r.Prices == nil {
						return nil, nil
					}
					return papers.PriceCSV(papers.PriceOf(in, *r.Prices), r.Prices.Currency)
				},
			),
			one(
				FileAssembly, "what to print and buy, the pieces of strip, the steps, cautions",
				func(_ Run, in papers.ListIn) ([]byte, error) { return papers.Assembly(in, FileNames()), nil },
			),
			showing(one(
				FileAssemblyPage, "the same with a picture for each step, to read beside the bench or to print",
				func(_ Run, in papers.AssemblyIn) ([]byte, error) { return papers.AssemblyPage(in, FileNames()) },
			)),
		),
		of(ForPage,
			Kind{
				Name:  FilePage,
				shows: true,
				What:  "all steps on one page, with the sign lit at night; one file to send to somebody or print",
				write: func(r Run) ([]File, error) { return single(FilePage)(Page(r)) },
			},
		),
		of(forRun,
			Kind{
				Name:  FileSettings,
				What:  "all settings; `--settings run.yaml` repeats the run exactly",
				write: settingsFile,
			},
			Kind{
				Name: FileSummary,
				What: "what was found, for other programs: every place that breaks a rule, every piece with size, " +
					"grams and place on the bed",
				write: func(r Run) ([]File, error) { return single(FileSummary)(Summarise(r.Results)) },
			},
		),
	)
}

// of is kinds that are for something.
func of(group string, kinds ...Kind) []Kind {
	for i := range kinds {
		kinds[i].For = group
	}
	return kinds
}

// showing is a kind that shows pictures.
func showing(k Kind) Kind {
	k.shows = true
	return k
}

// one is a file of a run that has found all that In has fields for, or In itself
// where that is a result.
func one[In any](name, what string, write func(Run, In) ([]byte, error)) Kind {
	return Kind{Name: name, What: what, write: func(r Run) ([]File, error) {
		in, ok := stage.Found[In](r.Results)
		if !ok {
			in, ok = stage.Inputs[In](r.Results)
		}
		if !ok {
			return nil, nil
		}
		data, err := write(r, in)
		if data == nil {
			return nil, err
		}
		return single(name)(data, err)
	}}
}

// sheetOf is a sheet that not every sign has: its writer gives nil then.
func sheetOf[In any](name string, write func(In) ([]byte, error)) func(Run) ([]File, error) {
	return func(r Run) ([]File, error) {
		in, ok := stage.Inputs[In](r.Results)
		if !ok {
			return nil, nil
		}
		data, err := write(in)
		if data == nil {
			return nil, err
		}
		return single(name)(data, err)
	}
}

// single makes a file of its data.
func single(name string) func([]byte, error) ([]File, error) {
	return func(data []byte, err error) ([]File, error) {
		if err != nil {
			return nil, err
		}
		return []File{{Name: name, Data: data}}, nil
	}
}

// Files returns all files of a run.
func Files(r Run) ([]File, error) {
	kinds := slices.DeleteFunc(Kinds(), func(k Kind) bool { return !r.Wanted.of(k) })
	of := make([][]File, len(kinds))
	err := parallel.Try(len(kinds), func(i int) (err error) {
		of[i], err = kinds[i].write(r)
		return err
	})
	return slices.Concat(of...), err
}

// What is what the file of a name is, empty for one that no run writes, and for a step's picture.
func What(name string) string {
	if strings.HasPrefix(name, partPrefix) && strings.HasSuffix(name, ".stl") || name == fileTestPiece {
		return "a piece alone, as it is printed"
	}
	for _, k := range Kinds() {
		if k.Name == name {
			return k.What
		}
	}
	return ""
}

func stagePictures(r Run) ([]File, error) {
	if r.Pictures == nil {
		return nil, nil
	}
	return r.Pictures.files()
}

// fileContact is the picture of all pictures.
const fileContact = "contact-sheet.jpg"

func contact(r Run) ([]File, error) {
	if r.Pictures == nil {
		return nil, nil
	}
	return single(fileContact)(r.Pictures.contactSheet())
}

func lines(r Run) ([]File, error) {
	line, ok := pipeline.LineOf(r.Results)
	if !ok || len(line.Curves) == 0 {
		return nil, nil
	}
	frame := stage.Of[pipeline.DotsFound](r.Results).Frame
	colours, _ := stage.Found[pipeline.ColoursFound](r.Results)
	return single(FileCentreline)(SVG(frame.PlanLine(line), frame.Size, colours.All), nil)
}

func partFiles(r Run) ([]File, error) {
	beds, _ := stage.Found[pipeline.BedsFound](r.Results)
	var out []File
	for _, p := range slices.Concat(beds.Prints, beds.Extras) {
		data, err := STL(p.Mesh, "inkchannel "+p.Name+", mm")
		if err != nil {
			return nil, err
		}
		out = append(out, File{Name: PartFile(p.Name), Data: data})
	}
	return out, nil
}

func channelFile(r Run) ([]File, error) {
	f, ok := stage.Found[pipeline.ChannelFound](r.Results)
	if !ok || r.Results.Ran(pipeline.StageBeds) {
		return nil, nil
	}
	return single(FileChannel)(STL(f.Solid, "inkchannel channel, mm"))
}

// FileNames are the names of files that the texts of a run point to.
func FileNames() papers.FileNames {
	return papers.FileNames{
		Sign: FileSign, CutSheet: FileCutSheet, WireSheet: FileWireSheet, DrillSheet: FileDrillSheet, Part: PartFile,
	}
}

// settingsSay is what a settings file says of itself.
const settingsSay = "All settings of a run. Repeat it by: inkchannel make PHOTO -o DIR --settings THIS"

func settingsFile(r Run) ([]File, error) {
	say := settingsSay
	if f, ok := stage.Found[pipeline.PartsFound](r.Results); ok && f.OwnFoot != "" {
		say += " --foot " + f.OwnFoot
	}
	return single(FileSettings)(r.Table.WriteSettings(r.Settings, say), nil)
}

// isRunFile reports whether a run of a table may write a file of that name.
func isRunFile(table stage.Table, name string) bool {
	if name == fileTestPiece || strings.HasPrefix(name, partPrefix) && strings.HasSuffix(name, ".stl") {
		return true
	}
	for _, k := range Kinds() {
		if k.Name == name {
			return true
		}
	}
	// A stage's picture; earlier versions numbered the stages otherwise.
	base, ext, _ := strings.Cut(name, ".")
	number, stageName, _ := strings.Cut(base, "-")
	_, err := strconv.Atoi(number)
	_, unknown := table.Index(stageName)
	return err == nil && (ext == "jpg" || ext == "png") && unknown == nil
}
