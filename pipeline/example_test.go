package pipeline_test

import (
	"context"
	"fmt"

	"inkchannel/geom"
	"inkchannel/pipeline"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/stage"
)

// A line that is known already, as far as its pieces of strip.
func ExampleRunLine() {
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(20, 60), geom.Pt(170, 60))}, 0.1)
	r, err := pipeline.RunLine(context.Background(), line, geom.Pt(200, 200), stage.Run{
		Settings: pipeline.DefaultSettings(), Until: pipeline.StageStrips,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range stage.Of[pipeline.StripsFound](r).Pieces {
		fmt.Printf("%.0f mm of strip on %.0f mm of line\n", p.Strip, p.Path)
	}
	// Output: 150 mm of strip on 150 mm of line
}

// A strip of the library sets what belongs to it.
func ExampleTable() {
	table := pipeline.Table()
	set, err := table.Set(table.Default(), "bed-width", "180")
	if err != nil {
		fmt.Println(err)
		return
	}
	k, err := table.Setting("bed-width")
	fmt.Println(k.Get(set), k.Unit, err)
	_, err = table.Set(set, "bed-width", "wide")
	fmt.Println(err)
	// Output:
	// 180 mm <nil>
	// bed-width: "wide" is not a number from 40 to 2000 mm
}

func Example_partFile() {
	fmt.Println(folder.PartFile("channel 1, piece 2 of 3"))
	// Output: part-channel-1-piece-2-of-3.stl
}
