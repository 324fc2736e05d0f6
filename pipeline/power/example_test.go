package power_test

import (
	"fmt"

	"inkchannel/pipeline/power"
)

func ExampleFeed() {
	f, err := power.Feed(power.DefaultStrip(), []power.Load{{Strip: 2}}, power.Default())
	if err != nil {
		fmt.Println(err)
		return
	}
	c := f.Circuits[0]
	fmt.Printf("%.1f A, fuse %g A, supply %g W\n", c.Amps, c.Fuse, f.Supply)
	// Output: 1.2 A, fuse 1.6 A, supply 24 W
}

// The diameter of AWG 20 (ASTM B258) is 0.8118 mm.
func ExampleAWG() {
	fmt.Printf("%.4f mm\n", power.AWG(20).Diameter())
	// Output: 0.8118 mm
}
