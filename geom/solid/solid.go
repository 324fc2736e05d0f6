package solid

import (
	"slices"

	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// A Layer is solid between two heights over a plan.
type Layer struct {
	Z0, Z1 float64
	Plan   Plan
}

// A Solid is a part built of layers that lie on one another, lowest first: any
// shape whose faces are level or upright. It is how a printer makes it.
type Solid []Layer

// levels returns the solid with layer limits at z0 and z1 too, and empty
// layers where it did not reach before.
func (s Solid) levels(z0, z1 float64) Solid {
	if len(s) == 0 {
		return Solid{{z0, z1, Plan{}}}
	}
	var out Solid
	if z0 < s[0].Z0 {
		out = append(out, Layer{z0, min(z1, s[0].Z0), Plan{}})
		if z1 < s[0].Z0 {
			out = append(out, Layer{z1, s[0].Z0, Plan{}})
		}
	}
	for _, l := range s {
		cuts := []float64{l.Z0}
		for _, z := range []float64{z0, z1} {
			if z > l.Z0 && z < l.Z1 {
				cuts = append(cuts, z)
			}
		}
		slices.Sort(cuts)
		cuts = append(cuts, l.Z1)
		for i := 1; i < len(cuts); i++ {
			if cuts[i] > cuts[i-1] {
				out = append(out, Layer{cuts[i-1], cuts[i], l.Plan})
			}
		}
	}
	if top := s[len(s)-1].Z1; z1 > top {
		if z0 > top {
			out = append(out, Layer{top, z0, Plan{}})
		}
		out = append(out, Layer{max(z0, top), z1, Plan{}})
	}
	return out
}

// Each returns the solid with f applied to the plans between z0 and z1.
func (s Solid) Each(z0, z1 float64, f func(Plan) Plan) Solid {
	out := s.levels(z0, z1)
	for i, l := range out {
		if l.Z0 >= z0 && l.Z1 <= z1 {
			// Layers of one plan stay of one plan, which the mesher likes.
			if i > 0 && out[i-1].Z0 >= z0 && s.at(l.Z0, l.Z1).g == s.at(out[i-1].Z0, out[i-1].Z1).g {
				out[i].Plan = out[i-1].Plan
				continue
			}
			out[i].Plan = f(l.Plan)
		}
	}
	return out
}

// at is the plan of s in the layer that holds z0 to z1.
func (s Solid) at(z0, z1 float64) Plan {
	return s.At((z0 + z1) / 2)
}

// Add returns the solid joined with plan p raised from z0 to z1.
func (s Solid) Add(z0, z1 float64, p Plan) Solid {
	return s.Each(z0, z1, func(q Plan) Plan { return q.Or(p) })
}

// Cut returns the solid without plan p between z0 and z1.
func (s Solid) Cut(z0, z1 float64, p Plan) Solid {
	return s.Each(z0, z1, func(q Plan) Plan { return q.Less(p) })
}

// How an edge on the printer's bed is drawn in: over two layers of 0.2 mm, the lowest by all and
// the next by half, so that neither hangs out further than it is high; common practice, no source.
const (
	reliefLayer = 0.2
	reliefSteps = 2
)

// Relieved returns the solid with the edges of its lowest face drawn in by so many mm where they
// lie over zone, outlines and holes alike: a printer's first layers spread by about as much, and
// would jam where parts go into each other. What is too thin for that stays.
func (s Solid) Relieved(by float64, zone Plan) Solid {
	if by <= 0 || zone.Empty() || len(s) == 0 {
		return s
	}
	for k := range reliefSteps {
		z, in := s[0].Z0+float64(k)*reliefLayer, by*float64(reliefSteps-k)/reliefSteps
		s = s.Each(z, z+reliefLayer, func(p Plan) Plan {
			var out []Plan
			for _, part := range p.Parts() {
				if !part.And(zone).Empty() {
					if left := part.Less(part.Less(part.Grow(-in)).And(zone)); !left.Empty() {
						part = left
					}
				}
				out = append(out, part)
			}
			return Union(out...)
		})
	}
	return s
}

// Keep returns the part of the solid over plan p, at all heights.
func (s Solid) Keep(p Plan) Solid {
	if len(s) == 0 {
		return s
	}
	return s.Each(s[0].Z0, s[len(s)-1].Z1, func(q Plan) Plan { return q.And(p) })
}

// Parted returns the solid's pieces over each of the plans, which are apart: an area of a layer goes
// whole to the plan that it lies in, and is dropped if it lies in none.
func (s Solid) Parted(plans []Plan) []Solid {
	boxes := make([]geom.Rect, len(plans))
	within := make([]func(geom.Point) bool, len(plans))
	for i, p := range plans {
		boxes[i], within[i] = p.Bounds(), p.Locator()
	}
	out := make([]Solid, len(plans))
	for k, l := range s {
		of := make([]Plan, len(plans))
		if k > 0 && s.SamePlan(k, k-1) {
			for i := range of {
				of[i] = out[i][k-1].Plan
			}
		} else {
			areas := make([]geom.Region, len(plans))
			for _, a := range l.Plan.Region() {
				box, at := geom.Bounds(a.Outline), PlanOf(geom.Region{a}).Inside()
				for i := range plans {
					if boxes[i].Overlaps(box) && within[i](at) {
						areas[i] = append(areas[i], a)
						break
					}
				}
			}
			for i, r := range areas {
				of[i] = PlanOf(r)
			}
		}
		for i, p := range of {
			out[i] = append(out[i], Layer{l.Z0, l.Z1, p})
		}
	}
	return out
}

// At returns the plan at height z.
func (s Solid) At(z float64) Plan {
	for _, l := range s {
		if z >= l.Z0 && z < l.Z1 {
			return l.Plan
		}
	}
	return Plan{}
}

// Mapped returns the solid with f applied to each plan, once to those that
// neighbouring layers share.
func (s Solid) Mapped(f func(Plan) Plan) Solid {
	out := slices.Clone(s)
	for i, l := range s {
		if i > 0 && s.SamePlan(i, i-1) {
			out[i].Plan = out[i-1].Plan
			continue
		}
		out[i].Plan = f(l.Plan)
	}
	return out
}

// Apart returns a copy that GEOS can work on beside others: all plans else, being made of each other,
// take turns.
func (s Solid) Apart() Solid { return s.in(geos.NewContext()) }

// in is a copy in a context of GEOS.
func (s Solid) in(ctx *geos.Context) Solid {
	return s.Mapped(func(p Plan) Plan {
		if p.g == nil {
			return p
		}
		return Plan{ctx.Clone(p.g)}
	})
}

// SamePlan reports whether layers i and j have one plan.
func (s Solid) SamePlan(i, j int) bool { return s[i].Plan.g == s[j].Plan.g }

// Shadow returns the area that the solid covers seen from above, with corners beside the grid where
// layers cross, which is found in half the time.
func (s Solid) Shadow() Plan {
	var all []Plan
	for i, l := range s {
		if i == 0 || !s.SamePlan(i, i-1) {
			all = append(all, l.Plan)
		}
	}
	return joined(all, (*geos.Geom).UnaryUnion)
}

// Hull returns the corners of the smallest convex polygon around the solid's
// shadow, anticlockwise with y up.
func (s Solid) Hull() geom.Ring {
	var all geom.Ring
	for i, l := range s {
		if (i == 0 || !s.SamePlan(i, i-1)) && !l.Plan.Empty() {
			all = append(all, l.Plan.Hull()...)
		}
	}
	if len(all) == 0 {
		return nil
	}
	return Area(all...).Hull()
}

// Volume returns the volume in mm³.
func (s Solid) Volume() float64 {
	sum := 0.0
	for _, l := range s {
		sum += (l.Z1 - l.Z0) * l.Plan.Size()
	}
	return sum
}

// Surface returns the area of all faces, upright and level, in mm².
func (s Solid) Surface() float64 {
	sum := 0.0
	for i, l := range s {
		sum += (l.Z1 - l.Z0) * l.Plan.Perimeter()
		if i == 0 {
			sum += l.Plan.Size()
			continue
		}
		if !s.SamePlan(i, i-1) { // what one of two layers has and the other has not
			below := s[i-1].Plan
			sum += below.Size() + l.Plan.Size() - 2*below.Shared(l.Plan)
		}
	}
	if n := len(s); n > 0 {
		sum += s[n-1].Plan.Size()
	}
	return sum
}

// Centre returns the centre of volume.
func (s Solid) Centre() Vertex {
	var c Vertex
	sum := 0.0
	for _, l := range s {
		if l.Plan.Empty() {
			continue
		}
		v := (l.Z1 - l.Z0) * l.Plan.Size()
		p := l.Plan.Centroid()
		c.X, c.Y, c.Z, sum = c.X+v*p.X, c.Y+v*p.Y, c.Z+v*(l.Z0+l.Z1)/2, sum+v
	}
	if sum == 0 {
		return c
	}
	return Vertex{c.X / sum, c.Y / sum, c.Z / sum}
}

// Mesh returns the solid's surface, its corners on a grid of the given step,
// mm. Where the solid touches itself in a line only, which is no surface, the
// line is thickened by some steps of the grid.
//
// It returns an error for a solid whose surface would not be watertight.
func (s Solid) Mesh(grid float64) (m *Mesh, err error) {
	defer Guard("meshing a part", &err)
	ctx := geos.NewContext()
	s = s.in(ctx)
	for range 6 {
		var layers []layer
		if layers, err = s.meshLayers(grid); err != nil {
			return nil, err
		}
		if m, err = stack(ctx, layers, grid); err != nil {
			return nil, err
		}
		check := m.Check()
		if check.NonManifold == 0 {
			return m, check.Err()
		}
		s = s.thickened(m.crowded(), 10*grid)
	}
	return nil, m.Check().Err()
}

// meshLayers is the solid's layers on the grid, equal neighbours merged.
func (s Solid) meshLayers(grid float64) ([]layer, error) {
	var layers []layer
	for i, l := range s {
		if l.Plan.Empty() && (len(layers) == 0 || i == len(s)-1) {
			continue
		}
		if n := len(layers); n > 0 && i > 0 && s.SamePlan(i, i-1) {
			layers[n-1].z1 = l.Z1
			continue
		}
		g, err := onGrid(l.Plan.geom(), grid)
		if err != nil {
			return nil, err
		}
		layers = append(layers, layer{l.Z0, l.Z1, g})
	}
	return layers, nil
}

// thickened is the solid with a strip of half width d about each edge, in the
// layers that have it in or between them.
func (s Solid) thickened(edges [][2]Vertex, d float64) Solid {
	out := slices.Clone(s)
	for _, e := range edges {
		a, b := geom.Pt(e[0].X, e[0].Y), geom.Pt(e[1].X, e[1].Y)
		along := b.Sub(a).Unit().Mul(d)
		if a == b {
			along = geom.Pt(d, 0)
		}
		across := along.Perp()
		patch := Area(a.Sub(along), a.Add(across), b.Add(across), b.Add(along), b.Sub(across), a.Sub(across))
		if a == b {
			patch = Area(a.Sub(along), a.Sub(across), a.Add(along), a.Add(across))
		}
		z0, z1 := min(e[0].Z, e[1].Z), max(e[0].Z, e[1].Z)
		for i, l := range s {
			if l.Z1 >= z0 && l.Z0 <= z1 && (z0 == z1 || l.Z1 > z0 && l.Z0 < z1) && !l.Plan.Empty() {
				out[i].Plan = out[i].Plan.Or(patch)
			}
		}
	}
	return out
}
