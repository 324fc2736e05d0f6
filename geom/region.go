package geom

// A Ring is a closed chain of points; the last joins the first and is not
// repeated.
type Ring []Point

// Area returns the ring's area, positive when it runs anticlockwise with y up.
func (r Ring) Area() float64 {
	sum := 0.0
	for i, p := range r {
		sum += p.Cross(r[(i+1)%len(r)])
	}
	return sum / 2
}

// A Polygon is an outline less its holes.
type Polygon struct {
	Outline Ring
	Holes   []Ring
}

// A Region is a plane area: polygons that do not overlap.
type Region []Polygon

// Rings returns the region's outlines, each before its holes.
func (r Region) Rings() []Ring {
	var out []Ring
	for _, p := range r {
		out = append(append(out, p.Outline), p.Holes...)
	}
	return out
}

// Bounds returns the box around the region.
func (r Region) Bounds() Rect {
	var all []Point
	for _, p := range r {
		all = append(all, p.Outline...)
	}
	return Bounds(all)
}

// Mapped returns the region with f applied to every corner.
func (r Region) Mapped(f func(Point) Point) Region {
	out := make(Region, len(r))
	for i, a := range r {
		out[i].Outline = a.Outline.Mapped(f)
		for _, h := range a.Holes {
			out[i].Holes = append(out[i].Holes, h.Mapped(f))
		}
	}
	return out
}

// Mapped returns the ring with f applied to every corner.
func (r Ring) Mapped(f func(Point) Point) Ring {
	out := make(Ring, len(r))
	for i, p := range r {
		out[i] = f(p)
	}
	return out
}
