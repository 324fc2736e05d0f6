package bed_test

import (
	"fmt"

	"inkchannel/geom/bed"
	"inkchannel/geom/solid"
)

// A cube of 20 mm in PLA (1.24 g/cm³, from memory).
func ExamplePrintSettings_Estimate() {
	cube, err := solid.Solid{{Z0: 0, Z1: 20, Plan: solid.Box(0, 0, 20, 20)}}.Mesh(0.001)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f g\n", bed.DefaultPrint().Estimate(cube, solid.Plastic{Density: 1.24, Shell: 1, Infill: 20}).Grams)
	// Output: 4.36 g
}

func ExampleLay() {
	square := solid.Box(0, 0, 150, 150)
	block := bed.Block{Name: "plate", Solid: solid.Solid{{Z0: 0, Z1: 5, Plan: square}}, Shadow: square}
	l, err := bed.Lay([]bed.Block{block, block}, bed.Default(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(l.Beds, "beds")
	// Output: 2 beds
}
