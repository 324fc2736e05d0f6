package pipeline

import (
	"fmt"
	"image"
	"image/color"
	"slices"

	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageInk tells ink from paper.
const StageInk = "ink"

// InkFound is what counts as ink on the sheet, dots included.
type InkFound struct {
	*vision.Ink
	Set vision.InkSettings // by which it was found
}

func inkStage() stage.Stage {
	type settings = vision.InkSettings
	type in struct{ Sheet SheetFound }
	return stage.Define(stage.Spec[settings, in, InkFound]{
		Name: StageInk, Does: "even out the light and separate ink from paper",
		Default: vision.DefaultInk(),
		Settings: []stage.Setting{
			stage.Choice("lines", "what becomes lines: pen (what is drawn), outline (the outlines of things that lie on the sheet), or auto (outlines if something broad and dark lies there)", []vision.LinesOf{vision.LinesAuto, vision.LinesPen, vision.LinesOutline}, func(s *settings) *vision.LinesOf { return &s.Lines }),
			stage.Choice("ink-method", "what each pixel is compared with: paper (the paper around it), mean (the mean around it) or otsu (one level for all)", []vision.InkMethod{vision.InkPaper, vision.InkMean, vision.InkOtsu}, func(s *settings) *vision.InkMethod { return &s.Method }),
			stage.Number("ink-window", "mm", "size of the area over which the paper's brightness is measured; must be wider than any pen line", 2, 60, func(s *settings) *float64 { return &s.Window }),
			stage.Number("ink-offset", "%", "how much darker than the paper counts as ink; 0 works it out from the drawing", 0, 95, func(s *settings) *float64 { return &s.Offset }),
			stage.Number("smallest-mark", "mm²", "remove spots smaller than this", 0, 100, func(s *settings) *float64 { return &s.Speckle }).Called("ink/speckle"),
			stage.Number("hole", "mm²", "fill gaps in the ink smaller than this; 0 follows the pen: a quarter of its width squared, at most 0.25 mm²", 0, 100, func(s *settings) *float64 { return &s.Hole }),
			stage.Number("margin", "mm", "width of the border along the paper's edge that is ignored; a fifth of it along the photo's own border, where paper fills it", 0, 50, func(s *settings) *float64 { return &s.Margin }),
		},
		Run:  func(set settings, in in) (InkFound, stage.Report, error) { return findInk(set, in.Sheet) },
		Show: stage.Show{Picture: drawInk, OnSheet: true},
	})
}

// photoMargin is what of the margin is left out along the photo's border, where paper
// fills it.
const photoMargin = 0.2

func findInk(set vision.InkSettings, sheet SheetFound) (f InkFound, rep stage.Report, err error) {
	px := sheet.PxPerMm
	if sheet.Fills { // no table and no paper's edge to leave out
		set.Margin *= photoMargin
	}
	byItself := set.Lines == vision.LinesAuto
	if byItself {
		if set.Lines, err = linesOf(sheet, set); err != nil {
			return f, rep, err
		}
	}
	f.Ink, err = inkOf(sheet.Image, px, set)
	if byItself && set.Lines == vision.LinesOutline && err != nil { // a closer look shows none
		set.Lines = vision.LinesPen
		f.Ink, err = inkOf(sheet.Image, px, set)
	}
	if err != nil {
		return f, rep, err
	}
	if f.Set = set; byItself && set.Lines == vision.LinesOutline {
		rep.Note("something broad and dark lies on the sheet: its outline is followed; --lines pen follows what is drawn")
	}
	if set.Lines == vision.LinesOutline {
		rep.Found = stage.Count(f.Spots, "outline or mark", "outlines and marks")
		rep.Judge(0.8, "outlines of things have no pen line that could tell their width")
		if byItself && f.Spots > fewMarks {
			rep.Judge(0.4, "much is drawn beside what lies on the sheet, which may be a shadow; --lines pen or outline says what is meant")
		}
		return f, rep, nil
	}
	rep.Found = fmt.Sprintf(
		"%s, %.0f mm², %.0f %% darker than the paper (threshold %.0f %%), %s removed",
		stage.Count(f.Spots, "mark", "marks"), float64(f.Mask.Count())/(px*px), 100*f.Darkness, 100*f.Cut,
		stage.Count(f.Dropped, "speck", "specks"),
	)
	if r := f.Ruling; r.Lines > 0 {
		rep.Note(
			"ruled paper: %d printed lines %.1f mm apart, up to %.0f %% darker than the paper, were left out; "+
				"--ink-offset sets the threshold by hand", r.Lines, r.Spacing, 100*r.Dark,
		)
	} else if f.Pale > 0 && f.Pale < f.Cut {
		rep.Found += fmt.Sprintf(", pale lines from %.0f %%", 100*f.Pale)
	}
	if f.Noisy {
		rep.Note("pale lines were not taken: the picture's noise is as dark as they would be; photograph in better light")
	}
	if f.Shadows > 0 {
		rep.Found += fmt.Sprintf(", %s left out", stage.Count(f.Shadows, "pale mark along a shadow's edge", "pale marks along a shadow's edge"))
	}
	if f.Between > 0 {
		rep.Found += fmt.Sprintf(", %s left out", stage.Count(f.Between, "place of paper between lighter ones", "places of paper between lighter ones"))
	}
	switch n := f.AtEdge; {
	case n == 1:
		rep.Note("1 mark that runs off the sheet's edge was removed: the tip of a shadow, or the table")
	case n > 1:
		rep.Note("%d marks that run off the sheet's edge were removed: tips of shadows, or the table", n)
	}
	judgeInk(&rep, f.Ink, float64(f.Mask.Count())/(px*px), set.Speckle)
	return f, rep, nil
}

// linesOf tells whether a thing lies on a whole sheet.
func linesOf(sheet SheetFound, set vision.InkSettings) (vision.LinesOf, error) {
	if !sheet.Found && !sheet.Fills { // a table is broad and dark too
		return vision.LinesPen, nil
	}
	_, ok, err := vision.FindThing(sheet.Image, sheet.PxPerMm, set)
	if err != nil || !ok {
		return vision.LinesPen, err
	}
	return vision.LinesOutline, nil
}

// inkOf is the ink of what becomes lines.
func inkOf(sheet *vision.Colour, px float64, set vision.InkSettings) (*vision.Ink, error) {
	if set.Lines == vision.LinesOutline {
		return vision.FindOutlines(sheet, px, set)
	}
	return vision.FindInk(sheet, px, set)
}

// paleInk is the darkness, as a share of the paper's, under which ink is in doubt.
// Found on the wide accuracy set.
const paleInk = 0.25

// Of a few marks each spot or gap that might be one counts; of many, how much ink
// they may be, as a share. Found on the wide accuracy set and on real photographs.
const (
	fewMarks    = 12
	specksShare = 0.02
)

// judgeInk judges ink of so many mm², of which spots smaller than speckle were removed.
func judgeInk(rep *stage.Report, i *vision.Ink, area, speckle float64) {
	share := i.Share()
	switch {
	case share > vision.MostInk:
		rep.Judge(0.1, "%.0f %% of the picture is taken for ink; where no paper is, nothing can be read", 100*share)
	case i.Darkness < paleInk:
		rep.Judge(0.3, "the ink is only %.0f %% darker than the paper", 100*i.Darkness)
	case i.Slight+i.Faint > 0:
		sure := 0.4
		if share := speckle * float64(i.Slight+i.Faint) / area; i.Spots > fewMarks {
			sure = max(0.95-0.45*share/specksShare, 0.1)
		}
		if i.Slight > 0 {
			rep.Judge(
				sure, "%s barely larger than what is removed",
				stage.Count(i.Slight, "spot or gap is", "spots or gaps are"),
			)
			return
		}
		rep.Judge(
			sure, "%s nearly large enough to keep",
			stage.Count(i.Faint, "removed spot or gap is", "removed spots or gaps are"),
		)
	default:
		rep.Judge(0.95, "ink %.0f %% darker than the paper", 100*i.Darkness)
	}
}

// insideInk is the colour of ink but for its rim on the picture.
func insideInk() color.RGBA { return color.RGBA{120, 182, 226, 255} }

// drawInk tints what counts as ink on the rectified sheet.
func drawInk(r stage.Results, text string) (*image.RGBA, error) {
	pic := *stage.Of[SheetFound](r).Image
	pic.Pix = slices.Clone(pic.Pix)
	m := stage.Of[InkFound](r).Mask
	for i, v := range m.Pix {
		if v == 0 {
			continue
		}
		x := i % m.W
		edge := x == 0 || x == m.W-1 || i < m.W || i >= len(m.Pix)-m.W ||
			m.Pix[i-1]&m.Pix[i+1]&m.Pix[i-m.W]&m.Pix[i+m.W] == 0
		col := insideInk()
		if edge {
			col = picture.MarkMain
		}
		pic.Pix[3*i], pic.Pix[3*i+1], pic.Pix[3*i+2] = col.B, col.G, col.R
	}
	return picture.ImageOf(picture.New(&pic, 0.1, text))
}
