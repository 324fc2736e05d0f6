package vision_test

import (
	"fmt"

	"inkchannel/vision"
)

// A bar of ink, 5 px thick, is thinned to a line of one pixel.
func ExampleThin() {
	ink := vision.NewBitmap(60, 20)
	for y := 8; y < 13; y++ {
		for x := 5; x < 55; x++ {
			ink.Pix[y*ink.W+x] = 1
		}
	}
	line := vision.Thin(ink)
	rows := map[int]bool{}
	for i, v := range line.Pix {
		if v != 0 {
			rows[i/line.W] = true
		}
	}
	fmt.Println(ink.Count(), "px become a line", len(rows), "px thick")
	// Output: 250 px become a line 1 px thick
}

func ExamplePage_Size() {
	short, long, _ := vision.PageA4.Size()
	fmt.Println(short, long, "mm")
	// Output: 210 297 mm
}
