package geom_test

import (
	"fmt"

	"inkchannel/geom"
)

// A stroke as traced becomes a smooth curve.
func ExampleSmooth() {
	stroke := geom.Arc(geom.Pt(50, 50), 40, 0, 180).Flatten(0.05)
	curves, err := geom.Smooth(geom.Network{
		Knots:   []geom.Knot{{At: stroke[0], Degree: 1}, {At: stroke[len(stroke)-1], Degree: 1}},
		Strokes: []geom.Stroke{{Runs: []geom.Polyline{stroke}, Knots: []int{0, 1}}},
	}, geom.DefaultSmooth())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d curve, %.0f mm\n", len(curves.Curves), curves.Length())
	// Output: 1 curve, 126 mm
}

// Curves that meet share a knot and are cut there.
func ExampleJoin() {
	line := geom.Join([]geom.Curve{
		geom.Lines(geom.Pt(0, 50), geom.Pt(100, 50)),
		geom.Lines(geom.Pt(50, 0), geom.Pt(50, 50)),
	}, 0.1)
	for _, k := range line.Knots {
		fmt.Printf("%.0f,%.0f %d\n", k.At.X, k.At.Y, k.Degree)
	}
	// Output:
	// 0,50 1
	// 50,50 3
	// 100,50 1
	// 50,0 1
}

func ExamplePolyline_Nearest() {
	way := geom.Polyline{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}}
	i, t, at, distance := way.Nearest(geom.Pt(12, 5))
	fmt.Println(i, t, at, distance)
	// Output: 1 0.5 {10 5} 2
}

// The sheet's y points down, the sign's up.
func ExampleFrame() {
	sheet := geom.Frame{Size: geom.Pt(297, 210), PxPerMm: 8}
	p := sheet.Mm(geom.Pt(800, 80))
	fmt.Println(p, sheet.Sign(p), sheet.Sheet(sheet.Sign(p)) == p)
	// Output: {100 10} {100 200} true
}

func ExampleNearestOf() {
	rulers := geom.Rulers([]geom.Curve{geom.Lines(geom.Pt(0, 0), geom.Pt(100, 0)), geom.Lines(geom.Pt(0, 40), geom.Pt(100, 40))})
	i, along, distance := geom.NearestOf(rulers, geom.Pt(30, 38))
	fmt.Printf("%d %.0f %.0f\n", i, along, distance)
	// Output: 1 30 2
}

func ExampleGrid() {
	g := geom.NewGrid[string](10)
	g.Put(geom.Pt(12, 3), "near")
	g.Put(geom.Pt(95, 3), "far")
	for name := range g.Near(geom.Pt(8, 1)) {
		fmt.Println(name)
	}
	// Output: near
}
