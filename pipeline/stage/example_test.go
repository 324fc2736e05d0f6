package stage_test

import (
	"context"
	"fmt"
	"reflect"

	"inkchannel/pipeline/stage"
)

// A chain of one stage, which counts the letters of a word.
func ExampleDefine() {
	type word struct{ Text string }
	type count struct{ Letters int }
	type settings struct{ Times float64 }
	type in struct{ Word word }
	table, err := stage.NewTable([]reflect.Type{stage.Given[word]()}, stage.Define(stage.Spec[settings, in, count]{
		Name: "count", Does: "count letters", Default: settings{Times: 1},
		Settings: []stage.Setting{
			stage.Number("times", "times", "how often", 1, 9, func(s *settings) *float64 { return &s.Times }),
		},
		Run: func(set settings, in in) (count, stage.Report, error) {
			return count{len(in.Word.Text) * int(set.Times)}, stage.Report{}, nil
		},
	}))
	if err != nil {
		fmt.Println(err)
		return
	}
	set, err := table.Set(table.Default(), "times", "2")
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := table.Run(context.Background(), stage.Results{}.With(word{"teapot"}), stage.Run{Settings: set})
	fmt.Println(stage.Of[count](r).Letters, err)
	// Output: 12 <nil>
}
