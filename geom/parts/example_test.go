package parts_test

import (
	"fmt"

	"inkchannel/geom"
	"inkchannel/geom/parts"
)

// The parts of an arch that stands by itself.
func ExampleBuild() {
	arch := geom.Join([]geom.Curve{geom.Arc(geom.Pt(100, 60), 60, 0, 180)}, 0.1)
	s := parts.Default()
	s.Hold = parts.HoldKeyhole
	s.Coupon = false
	sign, err := parts.Build(arch, nil, s)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range sign.Parts {
		fmt.Println(p.Name)
	}
	// Output: channel
}
