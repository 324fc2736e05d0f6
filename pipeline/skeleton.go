package pipeline

import (
	"cmp"
	"fmt"
	"image"
	"image/color"
	"slices"

	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// StageSkeleton thins the ink.
const StageSkeleton = "skeleton"

// SkeletonFound is the ink without the dots, thinned to one pixel.
type SkeletonFound struct{ vision.Lines }

func skeletonStage() stage.Stage {
	type settings = struct{}
	type in struct{ Dots DotsFound }
	return stage.Define(stage.Spec[settings, in, SkeletonFound]{
		Name: StageSkeleton, Does: "thin the ink to lines one pixel wide",
		Run: func(_ settings, in in) (SkeletonFound, stage.Report, error) {
			return thinInk(in.Dots)
		},
		Show: stage.Show{Picture: drawSkeleton, Drawn: true, OnSheet: true},
	})
}

func thinInk(dots DotsFound) (f SkeletonFound, rep stage.Report, err error) {
	if f.Lines, err = vision.ThinInk(dots.Rest, dots.PxPerMm); err != nil {
		return f, rep, err
	}
	rep.Found = fmt.Sprintf("%d px of skeleton from %d px of ink", f.Skeleton.Count(), f.Ink.Mask.Count())
	if n := len(f.Slivers); n > 0 {
		rep.Note(
			"%s of paper between lines drawn twice closed, the longest about %s", stage.Count(n, "sliver", "slivers"),
			first(f.Slivers, dots),
		)
	}
	if n := len(f.Areas); n > 0 {
		rep.Note(
			"%s followed as an outline: ink much broader than the pen, the largest about %s; draw the lines that shall glow",
			stage.Count(n, "filled area is", "filled areas are"), first(f.Areas, dots),
		)
	}
	n, err := f.Skeleton.EvenLines()
	if n > 0 {
		rep.Judge(
			0.4, "%d straight lines evenly apart run across the sheet; if they are printed, not drawn, --ink-offset leaves "+
				"out what is paler than the pen", n,
		)
	}
	return f, rep, err
}

// first is the place of the doubt with most at stake.
func first(all []vision.Doubt, dots DotsFound) string {
	most := slices.MaxFunc(all, func(a, b vision.Doubt) int { return cmp.Compare(a.Stake, b.Stake) })
	at := dots.Frame.Mm(most.At)
	return fmt.Sprintf("x %.1f, y %.1f mm", at.X, at.Y)
}

// drawSkeleton draws the one pixel wide lines, made thick enough to see, in
// the ink they came from.
func drawSkeleton(r stage.Results, text string) (*image.RGBA, error) {
	m := stage.Of[SkeletonFound](r).Ink.Mask
	pic := vision.NewColour(m.W, m.H)
	put := func(i int, c color.RGBA) { pic.Pix[3*i], pic.Pix[3*i+1], pic.Pix[3*i+2] = c.B, c.G, c.R }
	for i, v := range m.Pix {
		if v != 0 {
			put(i, picture.InkTint)
		} else {
			put(i, picture.PaperTint)
		}
	}
	for i, v := range stage.Of[SkeletonFound](r).Skeleton.Pix {
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
