package strip_test

import (
	"fmt"

	"inkchannel/geom"
	"inkchannel/geom/strip"
)

// A T takes two pieces: one runs through, the other ends at its side.
func ExampleRoute() {
	tee := geom.Join([]geom.Curve{
		geom.Lines(geom.Pt(0, 0), geom.Pt(100, 0)),
		geom.Lines(geom.Pt(50, 0), geom.Pt(50, 80)),
	}, 0.1)
	plan, err := strip.Route(tee, nil, geom.Pt(50, 80), strip.Settings{Turn: 20, Cut: 12.5, Half: 2.5})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range plan.Pieces {
		fmt.Printf("%.1f of %.0f mm\n", p.Strip, p.Path)
	}
	// Output:
	// 100.0 of 100 mm
	// 75.0 of 80 mm
}
