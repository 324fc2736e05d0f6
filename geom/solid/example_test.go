package solid_test

import (
	"fmt"

	"inkchannel/geom"
	"inkchannel/geom/solid"
)

// A box with a pocket, as a watertight mesh.
func ExampleSolid_Mesh() {
	box := solid.Solid{{Z0: 0, Z1: 10, Plan: solid.Box(0, 0, 40, 20)}}
	box = box.Cut(4, 10, solid.Box(10, 5, 20, 15))
	mesh, err := box.Mesh(0.001)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f mm3, sound: %t\n", mesh.Volume(), mesh.Check().Err() == nil)
	// Output: 7400 mm3, sound: true
}

// A straight line of 100 mm becomes a channel 107 by 7 by 15 mm.
func ExampleBuildChannel() {
	line := geom.Join([]geom.Curve{geom.Lines(geom.Pt(20, 50), geom.Pt(120, 50))}, 0.1)
	ch, err := solid.BuildChannel(line, 200, solid.DefaultChannel())
	if err != nil {
		fmt.Println(err)
		return
	}
	lo, hi := ch.Solid.Bounds()
	fmt.Printf("%.0f by %.0f by %.0f mm\n", hi.X-lo.X, hi.Y-lo.Y, hi.Z-lo.Z)
	// Output: 107 by 7 by 15 mm
}
