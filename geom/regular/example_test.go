package regular_test

import (
	"fmt"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/regular"
)

// A line drawn by an unsteady hand is made straight.
func ExampleShapes() {
	wobbly := geom.Curve{}
	at := func(x float64) geom.Point { return geom.Pt(x, 50+0.2*math.Sin(x/9)) }
	for x := 0.0; x < 90; x += 3 {
		wobbly.Pieces = append(wobbly.Pieces, geom.StraightCubic(at(x), at(x+3)))
	}
	r, err := regular.Shapes(geom.Join([]geom.Curve{wobbly}, 0.05), regular.DefaultShapes())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(len(r.Shapes), r.Shapes[0].Kind)
	// Output: 1 line
}

func ExampleFitCircle() {
	centre, radius, ok := regular.FitCircle(geom.Arc(geom.Pt(30, 40), 25, 10, 200).Flatten(0.01))
	fmt.Printf("%.1f,%.1f %.1f %t\n", centre.X, centre.Y, radius, ok)
	// Output: 30.0,40.0 25.0 true
}
