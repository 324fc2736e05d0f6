package papers_test

import (
	"fmt"

	"inkchannel/pipeline"
	"inkchannel/pipeline/papers"
	"inkchannel/vision"
)

// Paper to draw on, as the default settings ask for it.
func ExamplePlanPaper() {
	_, run := papers.PaperFor(pipeline.DefaultSettings())
	p, err := papers.PlanPaper(vision.PageA4, run)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%g by %g mm, dots %.0f mm apart\n", p.Width, p.Height, p.Dots[0].Dist(p.Dots[1]))
	// Output: 297 by 210 mm, dots 100 mm apart
}
