package papers

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"inkchannel/geom/parallel"
	"inkchannel/geom/parts"
	"inkchannel/geom/rules"
	"inkchannel/pipeline"
	"inkchannel/pipeline/picture"
)

//go:embed assembly.html
var assemblyHTML string

// An assemblyPage is what the page's template is filled with.
type assemblyPage struct {
	Cautions []string
	Items    []Item
	Printing string
	Prints   []printRow
	Steps    []pageStep
	Tables   []table
}

type printRow struct{ Name, Size, Layers, Grams, Side string }

type pageStep struct {
	Step
	Number int
	Needs  string
	Image  template.URL // a data URL of ours
}

// AssemblyPage writes the same as Assembly, with a picture for each step and how to print the
// pieces, as one HTML file that needs nothing else. It returns an error where a picture cannot
// be made.
func AssemblyPage(in AssemblyIn, files FileNames) ([]byte, error) {
	list := in.List()
	page := assemblyPage{
		Cautions: cautions(list), Items: PartsList(list, files.Part), Printing: printing(in), Tables: tables(list),
	}
	for i, p := range in.Beds.Prints {
		lo, hi := p.Mesh.Bounds()
		page.Prints = append(page.Prints, printRow{
			Name:   p.Name,
			Size:   fmt.Sprintf("%.1f × %.1f × %.1f", hi.X-lo.X, hi.Y-lo.Y, hi.Z-lo.Z),
			Layers: fmt.Sprintf("%.0f", math.Ceil((hi.Z-lo.Z)/in.Beds.Layer-1e-6)),
			Grams:  fmt.Sprintf("%.0f", p.Estimate.Grams),
			Side:   sideDown(in.Parts, p.Name) + turnedOn(in.Beds, i),
		})
	}
	steps := Steps(list, files)
	page.Steps = make([]pageStep, len(steps))
	err := parallel.Try(len(steps), func(i int) error {
		img, err := steps[i].look.draw(in)
		if err != nil {
			return fmt.Errorf("picture of step %d: %w", i+1, err)
		}
		page.Steps[i] = pageStep{Step: steps[i], Number: i + 1, Needs: strings.Join(steps[i].Need, ", ")}
		if img == nil {
			return nil
		}
		data, err := picture.EncodeJPEG(img)
		page.Steps[i].Image = template.URL(picture.DataURL(data))
		return err
	})
	if err != nil {
		return nil, err
	}
	t, err := template.New("assembly").Funcs(template.FuncMap{"marked": marked}).Parse(assemblyHTML)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = t.Execute(&b, page)
	return b.Bytes(), err
}

// marked is a text whose words between backquotes are code.
func marked(text string) template.HTML {
	var b strings.Builder
	for i, part := range strings.Split(text, "`") {
		part = template.HTMLEscapeString(part)
		if i%2 == 1 {
			part = "<code>" + part + "</code>"
		}
		b.WriteString(part)
	}
	return template.HTML(b.String())
}

// printing tells how the pieces are printed; common practice, no source.
func printing(in AssemblyIn) string {
	support := "without support"
	if slices.ContainsFunc(in.Walls.Weak, func(w pipeline.WeakPart) bool { return w.Kind == rules.WeakCeiling }) {
		support = "without support but under the ceilings that the step walls of the review names"
	}
	return fmt.Sprintf(
		"All pieces are printed as their files lie, %s. Layers of %g mm, walls, top and bottom %g mm thick, %g %% "+
			"infill; walls are whole lines of %g mm. Take a plastic that bears warmth: common PLA softens at about 60 °C, "+
			"PETG at about 75 °C. White or pale channels throw most light.",
		support, in.Beds.Layer, in.Parts.Plastic.Shell, in.Parts.Plastic.Infill, in.Channel.Line,
	)
}

// turnedOn tells by how much a piece is turned that the bed takes only askew.
func turnedOn(beds pipeline.BedsFound, i int) string {
	if at := beds.Layout.Places[i]; at.Askew() {
		return fmt.Sprintf(", turned by %.1f°", at.Best)
	}
	return ""
}

// sideDown names the side that a piece lies on when it is printed.
func sideDown(f pipeline.PartsFound, name string) string {
	for _, p := range f.Parts {
		switch {
		case !strings.HasPrefix(name, p.Name):
		case p.Name == parts.NameLid:
			return "its underside"
		case p.Pose.Flip && p.Pose.Stand:
			return "its top"
		case p.Pose.Flip:
			return "its face"
		}
	}
	return "its rear"
}
