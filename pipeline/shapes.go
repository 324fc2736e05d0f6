package pipeline

import (
	"fmt"
	"image"

	"inkchannel/geom"
	"inkchannel/geom/regular"
	"inkchannel/pipeline/picture"
	"inkchannel/pipeline/stage"
)

// StageShapes makes nearly straight and round strokes exactly so.
const StageShapes = "shapes"

// ShapesFound is the line with its straight and round strokes made exactly so.
type ShapesFound struct{ regular.Regular }

func shapesStage() stage.Stage {
	type settings = regular.ShapeSettings
	type in struct{ Symmetry SymmetryFound }
	return stage.Define(stage.Spec[settings, in, ShapesFound]{
		Name: StageShapes, Does: "make nearly straight strokes straight, and nearly round ones round",
		Default: regular.DefaultShapes(),
		Settings: []stage.Setting{
			stage.Number("shape-tolerance", "mm", "strokes this close to a line, arc or circle are made exactly that; 0 leaves everything as drawn", 0, 5, func(s *settings) *float64 { return &s.Tolerance }),
			stage.Number("tangent-angle", "degrees", "shapes that meet at less than this angle become tangent", 0, 45, func(s *settings) *float64 { return &s.Tangent }),
			stage.Number("parallel-angle", "degrees", "lines within this angle of each other become parallel", 0, 20, func(s *settings) *float64 { return &s.Parallel }),
			stage.Number("equal-radius", "%", "radii that differ by less than this become equal", 0, 50, func(s *settings) *float64 { return &s.Radius }),
		},
		Run:  func(set settings, in in) (ShapesFound, stage.Report, error) { return makeShapes(set, in.Symmetry) },
		Show: stage.Show{Picture: drawShapes, OnSheet: true},
	})
}

func makeShapes(set regular.ShapeSettings, upright SymmetryFound) (f ShapesFound, rep stage.Report, err error) {
	if f.Regular, err = regular.Shapes(upright.Line, set); err != nil {
		return f, rep, err
	}
	count := map[regular.Kind]int{}
	for _, sh := range f.Shapes {
		count[sh.Kind]++
	}
	if len(f.Shapes) == 0 {
		rep.Found = "left as drawn"
		return f, rep, nil
	}
	rep.Found = fmt.Sprintf(
		"%s, %s, %s; %s, %s, %s; points moved by at most %.2f mm",
		stage.Count(count[regular.Line], "line", "lines"), stage.Count(count[regular.Arc], "arc", "arcs"),
		stage.Count(count[regular.Circle], "circle", "circles"),
		stage.Count(f.Tangent, "tangent joint", "tangent joints"),
		stage.Count(f.Parallel, "parallel line", "parallel lines"),
		stage.Count(f.Equal, "equal radius", "equal radii"), f.Moved,
	)
	return f, rep, nil
}

// drawShapes shows what became a line, an arc or a circle.
func drawShapes(r stage.Results, text string) (*image.RGBA, error) {
	c, px, err := onSheet(r, 0.7, text)
	if err != nil {
		return nil, err
	}
	f := stage.Of[ShapesFound](r)
	c.Curves(f.Line, px, 3, picture.InkTint)
	for _, s := range f.Shapes {
		if s.Kind == regular.Line {
			c.SetColor(picture.MarkMain)
			c.SetLineWidth(4)
			c.Path([]geom.Point{s.From, s.To}, px, false)
			c.Stroke()
			c.Spot(s.From, px, 4, picture.MarkMain)
			c.Spot(s.To, px, 4, picture.MarkMain)
			continue
		}
		arc := s.Flatten()
		c.SetColor(picture.MarkOther)
		c.SetLineWidth(4)
		c.Path(arc, px, false)
		c.Stroke()
		c.Label(arc.At(arc.Length()/2), px, fmt.Sprintf("%s, radius %.1f mm", s.Kind, s.Radius), picture.MarkOther)
	}
	return c.Image, nil
}
