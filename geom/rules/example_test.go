package rules_test

import (
	"fmt"

	"inkchannel/geom"
	"inkchannel/geom/rules"
)

func ExampleSpacing() {
	rails := geom.Join([]geom.Curve{
		geom.Lines(geom.Pt(0, 0), geom.Pt(100, 0)),
		geom.Lines(geom.Pt(0, 6), geom.Pt(100, 6)),
	}, 0.1)
	tight, err := rules.Spacing(rails, rules.DefaultSpacing())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d place, %.1f mm apart over %.0f mm\n", len(tight), tight[0].Distance, tight[0].Length)
	// Output: 1 place, 6.0 mm apart over 98 mm
}

func ExampleBends() {
	corner := geom.Join([]geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(50, 0), geom.Pt(50, 50))}, 0.1)
	_, bends, err := rules.Bends(corner, rules.DefaultBends())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("turns by %.0f degrees, rounded: %t\n", bends[0].Turn, bends[0].Rounded)
	// Output: turns by 90 degrees, rounded: true
}

func ExampleWholeWall() {
	fmt.Printf("%.2f mm\n", rules.WholeWall(1, 0.42))
	// Output: 1.26 mm
}
