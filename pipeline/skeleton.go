package pipeline

import (
	"fmt"
	"image"
	"image/color"

	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageSkeleton thins the ink.
const StageSkeleton = "skeleton"

// SkeletonFound is the ink without the dots, thinned to one pixel.
type SkeletonFound struct{ Lines *vision.Bitmap }

func skeletonStage() stage.Stage {
	type settings = struct{}
	type in struct{ Dots DotsFound }
	return stage.Define(stage.Spec[settings, in, SkeletonFound]{
		Name: StageSkeleton, Does: "thin the ink to lines one pixel wide",
		Run: func(_ settings, in in) (SkeletonFound, stage.Report, error) {
			f := SkeletonFound{vision.Thin(in.Dots.Rest.Mask)}
			return f, stage.Report{
				Found: fmt.Sprintf("%d px of skeleton from %d px of ink", f.Lines.Count(), in.Dots.Rest.Mask.Count()),
			}, nil
		},
		Show: stage.Show{Picture: drawSkeleton, Drawn: true, OnSheet: true},
	})
}

// drawSkeleton draws the one pixel wide lines, made thick enough to see, in
// the ink they came from.
func drawSkeleton(r stage.Results, text string) (*image.RGBA, error) {
	m := stage.Of[DotsFound](r).Rest.Mask
	pic := vision.NewColour(m.W, m.H)
	put := func(i int, c color.RGBA) { pic.Pix[3*i], pic.Pix[3*i+1], pic.Pix[3*i+2] = c.B, c.G, c.R }
	for i, v := range m.Pix {
		if v != 0 {
			put(i, picture.InkTint)
		} else {
			put(i, picture.PaperTint)
		}
	}
	for i, v := range stage.Of[SkeletonFound](r).Lines.Pix {
		if v == 0 {
			continue
		}
		x, y := i%m.W, i/m.W
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if u, w := x+dx, y+dy; u >= 0 && w >= 0 && u < m.W && w < m.H {
					put(w*m.W+u, picture.MarkMain)
				}
			}
		}
	}
	return picture.ImageOf(picture.New(pic, 0, text))
}
