package folder

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"

	"inkchannel/pipeline"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

//go:embed page.html
var pageHTML string

// A pageStep is one stage on the page.
type pageStep struct {
	Number            int
	Name, Does, Found string
	Notes             []string
	Sure              string // empty where the stage only computed
	Unsure            bool
	Image             template.URL // a data URL of ours
}

// litSide is the longer side of the picture of the lit sign, px.
const litSide = 1000

// Page writes a run as one HTML file that needs nothing else: every stage's picture
// with what was found, the sign lit, and the parts list. It has no script.
func Page(r Run) ([]byte, error) {
	var page pageData
	for _, s := range r.Results.Steps {
		p, err := pageStepOf(r, s)
		if err != nil {
			return nil, err
		}
		page.Steps = append(page.Steps, p)
	}
	list, ok := stage.Inputs[papers.ListIn](r.Results)
	if lit, all := stage.Inputs[pipeline.LitIn](r.Results); ok && all {
		page.Headline = headline(list)
		page.Items = papers.PartsList(list, PartFile)
		img, err := picture.EncodeJPEG(pipeline.Lit(lit, litSide))
		if err != nil {
			return nil, err
		}
		page.Lit = dataURL(img)
	}
	return page.html()
}

// A pageData is what the page's template is filled with.
type pageData struct {
	Headline string
	Lit      template.URL
	Steps    []pageStep
	Items    []papers.Item
}

// Alt is the alternative text of a step's picture.
func (pageData) Alt() string { return "What this step found" }

func (p pageData) html() ([]byte, error) {
	t, err := template.New("page").Parse(pageHTML)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	return b.Bytes(), nil
}

func pageStepOf(r Run, s stage.Step) (pageStep, error) {
	i, err := r.Table.Index(s.Stage)
	if err != nil {
		return pageStep{}, err
	}
	p := pageStep{
		Number: i + 1,
		Name:   s.Stage,
		Does:   r.Table.Stages()[i].Does,
		Found:  s.Found,
		Notes:  s.Notes,
		Unsure: s.Unsure(),
	}
	if s.Confidence != nil {
		p.Sure = s.Confidence.String()
	}
	if r.Pictures != nil {
		if jpeg := r.Pictures.onPage(s.Stage); jpeg != nil {
			p.Image = dataURL(jpeg)
		}
	}
	return p, nil
}

func headline(in papers.ListIn) string {
	return fmt.Sprintf("%s to print on %s, %s of strip, %.1f W.",
		stage.Count(len(in.Beds.Prints), "piece", "pieces"), stage.Count(in.Beds.Layout.Beds, "bed", "beds"),
		stage.Count(in.Strips.Laid(), "piece", "pieces"), in.Power.Watts)
}

func dataURL(jpeg []byte) template.URL { return template.URL(picture.DataURL(jpeg)) }
