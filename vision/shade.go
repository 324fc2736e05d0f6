package vision

import (
	"math"
	"slices"

	"inkchannel/geom/parallel"
)

// Where the window is part in a hard shadow and part in the light, the paper around is taken to be lit. Paper
// in the shadow would be ink there, though it is no darker than the paper next to it. Shares of the light.
const (
	shadeBare  = 0.05 // by which bare paper is darker than the paper around at most
	shadeAlike = 0.06 // by which paper in one shadow differs
	shadeStep  = 0.1  // by which a shadow is darker than the light beside it at least
	shadeLeast = 0.4  // of the sheet's lightest: paper is no darker in a shadow
	shadeRim   = 0.5  // mm over which the edge of a hard shadow fades
)

// shade makes the paper's light that of the bare paper beside it where pic is as light as that. Both are of
// one size, at px to the mm. It takes no more steps, across or down, than twice the window px over which the paper
// was worked out: a line may lead into a shadow as dark as it is.
func shade(pic, paper *Colour, px float64, window int) {
	from := bareIn(pic, paper)
	light := slices.Clone(paper.Pix)
	rim := int(shadeRim*px + 0.5)
	for _, i := range spread(pic, paper, from, 2*window) {
		if p := light[3*from[i]:]; darker(p, light[3*i:]) {
			paper.darken(i%pic.W, i/pic.W, rim, p)
		}
	}
}

// bareIn tells for each pixel that is bare paper its own index, for others -1.
func bareIn(pic, paper *Colour) []int {
	from := make([]int, pic.W*pic.H)
	least := uint8(shadeLeast * float64(slices.Max(paper.Pix)))
	parallel.Bands(pic.H, func(y0, y1 int) {
		for i := y0 * pic.W; i < y1*pic.W; i++ {
			p, q := pic.Pix[3*i:], paper.Pix[3*i:]
			if from[i] = -1; max(p[0], p[1], p[2]) > least && nearLight(p, q, shadeBare) {
				from[i] = i
			}
		}
	})
	return from
}

// spread goes so many steps from what is bare to what is as light as that, tells in from which pixel each
// that it reaches came from, and returns these.
func spread(pic, paper *Colour, from []int, steps int) (reached []int) {
	w := pic.W
	beside := [4]int{-1, 1, -w, w}
	step := func(i int) {
		if x, y := i%w, i/w; x == 0 || y == 0 || x == w-1 || y == pic.H-1 {
			return
		}
		for _, d := range beside {
			j := i + d
			if from[j] < 0 && nearLight(pic.Pix[3*j:], paper.Pix[3*from[i]:], shadeAlike) {
				from[j] = from[i]
				reached = append(reached, j)
			}
		}
	}
	for i := range from {
		if from[i] == i {
			step(i)
		}
	}
	for done := 0; steps > 0 && done < len(reached); steps-- {
		wave := reached[done:]
		done = len(reached)
		for _, i := range wave {
			step(i)
		}
	}
	return reached
}

// nearLight tells whether each channel of a pixel is within a share of another's.
func nearLight(p, q []uint8, share float64) bool {
	for k := range 3 {
		if math.Abs(float64(p[k])-float64(q[k])) > share*float64(q[k]) {
			return false
		}
	}
	return true
}

// darker tells whether a pixel is darker than another by a shadow's step in each channel.
func darker(p, q []uint8) bool {
	for k := range 3 {
		if float64(p[k]) > (1-shadeStep)*float64(q[k]) {
			return false
		}
	}
	return true
}

// darken makes what lies within reach px of a place no lighter than p.
func (c *Colour) darken(x, y, reach int, p []uint8) {
	for v := max(y-reach, 0); v <= min(y+reach, c.H-1); v++ {
		for u := max(x-reach, 0); u <= min(x+reach, c.W-1); u++ {
			q := c.Pix[3*(v*c.W+u):]
			for k := range 3 {
				q[k] = min(q[k], p[k])
			}
		}
	}
}
