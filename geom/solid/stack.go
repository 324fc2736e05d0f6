package solid

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/twpayne/go-geos"

	"inkchannel/geom"
)

// cosQuarter is the cosine of half the angle between corners of a circle with
// n of them a quarter.
func cosQuarter(n int) float64 { return math.Cos(math.Pi / 4 / float64(n)) }

// A layer is solid between two heights over a plan region.
type layer struct {
	z0, z1 float64
	plan   *geos.Geom
}

// A face is a piece of the plane that no layer's outline cuts.
type face struct {
	rings [][]int32 // the outline anticlockwise, holes clockwise: the face is to the left
	tris  [][3]int32
	solid []bool // for each layer
}

// about tells whether the face is solid below and above a level.
func (f face) about(level int) (below, above bool) {
	return level > 0 && f.solid[level-1], level < len(f.solid) && f.solid[level]
}

// stack makes one mesh of layers that lie on one another.
//
// All outlines together are cut at each other into one arrangement of faces
// whose corners lie on the grid; caps and walls are made of those faces' own
// corners only. So wherever two facets meet they share whole edges. The mesh
// is not checked.
func stack(ctx *geos.Context, layers []layer, grid float64) (*Mesh, error) {
	for i := 1; i < len(layers); i++ {
		if layers[i].z0 != layers[i-1].z1 {
			return nil, fmt.Errorf(
				"layer %d starts at %g mm but the one below ends at %g mm", i, layers[i].z0, layers[i-1].z1,
			)
		}
	}
	a, err := arrange(ctx, layers, grid)
	if err != nil {
		return nil, err
	}
	m := newMeshMaker(a, layers)
	m.caps()
	m.walls()
	return m.mesh, nil
}

type arrangement struct {
	pts   []geom.Point
	index map[geom.Point]int32
	faces []face
	ctx   *geos.Context
	last  bool // faces are taken as they are
}

func (a *arrangement) vertex(p geom.Point) int32 {
	if i, ok := a.index[p]; ok {
		return i
	}
	i := int32(len(a.pts))
	a.pts = append(a.pts, p)
	a.index[p] = i
	return i
}

// mostCuts bounds how often faces are cut.
const mostCuts = 12

// arrange cuts the plane into faces. A face that the triangulation fails on,
// which happens with corners a grid step apart, or with a tail that is solid where the rest is
// not, is cut in two by a straight line through its middle, and all is arranged anew with that
// line.
func arrange(ctx *geos.Context, layers []layer, grid float64) (*arrangement, error) {
	var cuts []*geos.Geom
	for tries := range mostCuts + 1 {
		a := &arrangement{ctx: ctx, index: map[geom.Point]int32{}, last: tries == mostCuts}
		err := a.build(layers, cuts, grid)
		var stuck *stuckError
		if !errors.As(err, &stuck) || a.last {
			return a, err
		}
		for _, b := range stuck.boxes {
			mid, size := b.Min.Lerp(b.Max, 0.5), b.Size()
			from, to := geom.Pt(mid.X, b.Min.Y-1), geom.Pt(mid.X, b.Max.Y+1)
			if size.Y > size.X {
				from, to = geom.Pt(b.Min.X-1, mid.Y), geom.Pt(b.Max.X+1, mid.Y)
			}
			cuts = append(cuts, ctx.NewLineString(coords([]geom.Point{from, to}, false)))
		}
	}
	return nil, nil // not reached: the last try returns
}

// A stuckError is faces that must be cut.
type stuckError struct {
	boxes []geom.Rect
	err   error
}

// Error is what was wrong.
func (e *stuckError) Error() string { return e.err.Error() }

func (a *arrangement) build(layers []layer, cuts []*geos.Geom, grid float64) error {
	var lines []*geos.Geom
	for _, c := range cuts {
		lines = append(lines, c.Clone())
	}
	var plans []*geos.Geom // each different plan once
	which := make([]int, len(layers))
	for i, l := range layers {
		which[i] = -1
		for k, p := range plans {
			if p == l.plan {
				which[i] = k
			}
		}
		if which[i] < 0 {
			which[i] = len(plans)
			plans = append(plans, l.plan)
		}
	}
	lines = append(lines, outlines(a.ctx, plans)...)
	noded := a.ctx.NewCollection(geos.TypeIDGeometryCollection, lines).UnaryUnionPrec(grid)
	parts := a.ctx.Polygonize([]*geos.Geom{noded})
	prepared := make([]*geos.PrepGeom, len(plans))
	for i, p := range plans {
		prepared[i] = p.Prepare()
	}
	var cut []*geos.Geom // the faces
	var tailed []geom.Rect
	for i := range parts.NumGeometries() {
		g := parts.Geometry(i)
		f := face{solid: make([]bool, len(layers))}
		any := false
		inside, tail := within(prepared, g, grid)
		if tail {
			tailed = append(tailed, geom.Bounds(ringOf(g.ExteriorRing())))
		}
		for k := range layers {
			f.solid[k] = inside[which[k]]
			any = any || f.solid[k]
		}
		if !any {
			continue
		}
		a.outline(&f, g)
		a.faces, cut = append(a.faces, f), append(cut, g)
	}
	if len(tailed) > 0 && !a.last {
		return &stuckError{tailed, errors.New("a face has a tail")}
	}
	for i, t := range triangulated(cut) {
		if err := a.fill(&a.faces[i], t); err != nil {
			return &stuckError{[]geom.Rect{geom.Bounds(ringOf(cut[i].ExteriorRing()))}, err}
		}
	}
	return nil
}

// within tells which plans a face is in, and whether a tail of it is in others than the rest.
func within(plans []*geos.PrepGeom, face *geos.Geom, grid float64) (in []bool, tail bool) {
	in = make([]bool, len(plans))
	p := face.PointOnSurface()
	q := wellInside(face, p, grid)
	for k, plan := range plans {
		in[k] = plan.Intersects(q)
		tail = tail || p != q && in[k] != plan.Intersects(p)
	}
	return in, tail
}

// wellInside is p, a point inside a face; or if that lies in a tail of it that is a few grid steps
// thin, where rounding decides what a point is in, one as deep as there is.
func wellInside(face, p *geos.Geom, grid float64) *geos.Geom {
	const clear, deep = 10, 20 // grid steps
	edge := face.Boundary()
	if !p.DistanceWithin(edge, clear*grid) {
		return p
	}
	if q := face.MaximumInscribedCircle(clear * grid).Point(0); !q.DistanceWithin(edge, deep*grid) {
		return q
	}
	return p
}

// outlines are all rings of the plans, those that several have once.
func outlines(ctx *geos.Context, plans []*geos.Geom) []*geos.Geom {
	var out []*geos.Geom
	seen := map[string]bool{}
	add := func(r geom.Ring) {
		r = canonical(r)
		key := make([]byte, 0, 16*len(r))
		for _, p := range r {
			key = binary.LittleEndian.AppendUint64(key, math.Float64bits(p.X))
			key = binary.LittleEndian.AppendUint64(key, math.Float64bits(p.Y))
		}
		if !seen[string(key)] {
			seen[string(key)] = true
			out = append(out, ctx.NewLineString(coords(r, true)))
		}
	}
	for _, g := range plans {
		for _, p := range regionOf(g) {
			add(p.Outline)
			for _, h := range p.Holes {
				add(h)
			}
		}
	}
	return out
}

// outline gives the face the rings of polygon g.
func (a *arrangement) outline(f *face, g *geos.Geom) {
	ring := func(r geom.Ring, anticlockwise bool) {
		ids := make([]int32, len(r))
		for i, p := range r {
			ids[i] = a.vertex(p)
		}
		if (r.Area() > 0) != anticlockwise {
			slices.Reverse(ids)
		}
		f.rings = append(f.rings, ids)
	}
	ring(ringOf(g.ExteriorRing()), true)
	for k := range g.NumInteriorRings() {
		ring(ringOf(g.InteriorRing(k)), false)
	}
}

// fill gives the face its triangles. It returns an error if they do not make up
// the face, or have corners of their own.
func (a *arrangement) fill(f *face, t triangulation) error {
	if t.err != nil {
		return t.err
	}
	known := len(a.pts)
	for _, c := range t.corners {
		ids := [3]int32{a.vertex(c[0]), a.vertex(c[1]), a.vertex(c[2])}
		if geom.Ring(c[:]).Area() < 0 {
			ids[1], ids[2] = ids[2], ids[1]
		}
		f.tris = append(f.tris, ids)
	}
	// Euler: a polygon with h holes and n corners has n + 2h − 2 triangles, and
	// two fewer for each corner where rings touch.
	distinct := map[int32]bool{}
	corners := 0
	for _, r := range f.rings {
		corners += len(r)
		for _, p := range r {
			distinct[p] = true
		}
	}
	touches := corners - len(distinct)
	if want := corners + 2*(len(f.rings)-1-touches) - 2; len(f.tris) != want || len(a.pts) != known {
		p := a.pts[f.rings[0][0]]
		return fmt.Errorf(
			"triangulation near x %.2f, y %.2f mm gave %d triangles, want %d, and %d new corners", p.X, p.Y,
			len(f.tris), want, len(a.pts)-known,
		)
	}
	return nil
}

// A meshMaker raises an arrangement's faces to a mesh.
type meshMaker struct {
	*arrangement
	layers []layer
	z      []float64
	at     map[[2]int32]int32 // mesh vertex of a plan corner at a level
	mesh   *Mesh
}

func newMeshMaker(a *arrangement, layers []layer) *meshMaker {
	m := &meshMaker{arrangement: a, layers: layers, at: map[[2]int32]int32{}, mesh: &Mesh{}}
	for _, l := range layers {
		m.z = append(m.z, l.z0)
	}
	m.z = append(m.z, layers[len(layers)-1].z1)
	return m
}

func (m *meshMaker) vertex3(p int32, level int) int32 {
	key := [2]int32{p, int32(level)}
	if i, ok := m.at[key]; ok {
		return i
	}
	i := int32(len(m.mesh.Vertices))
	q := m.pts[p]
	m.mesh.Vertices = append(m.mesh.Vertices, Vertex{q.X, q.Y, m.z[level]})
	m.at[key] = i
	return i
}

func (m *meshMaker) triangle(a, b, c int32) {
	m.mesh.Triangles = append(m.mesh.Triangles, [3]int32{a, b, c})
}

// caps closes each face at each level where solid meets air.
func (m *meshMaker) caps() {
	for _, f := range m.faces {
		for level := range m.z {
			below, above := f.about(level)
			if below == above {
				continue
			}
			for _, t := range f.tris {
				a, b, c := m.vertex3(t[0], level), m.vertex3(t[1], level), m.vertex3(t[2], level)
				if below { // looks up
					m.triangle(a, b, c)
				} else {
					m.triangle(a, c, b)
				}
			}
		}
	}
}

// steps lists, for each plan corner, the levels at which a face there begins
// or ends: where its upright line must have a vertex.
func (m *meshMaker) steps() [][]int {
	seen := make([]map[int]bool, len(m.pts))
	for _, f := range m.faces {
		for level := range m.z {
			below, above := f.about(level)
			if below == above {
				continue
			}
			for _, r := range f.rings {
				for _, p := range r {
					if seen[p] == nil {
						seen[p] = map[int]bool{}
					}
					seen[p][level] = true
				}
			}
		}
	}
	out := make([][]int, len(m.pts))
	for p, levels := range seen {
		for l := range m.z {
			if levels[l] {
				out[p] = append(out[p], l)
			}
		}
	}
	return out
}

// walls stands on each edge that has solid to its left and none to its right,
// over as many layers at once as that holds for.
func (m *meshMaker) walls() {
	left := map[[2]int32]int{}
	for i, f := range m.faces {
		for _, r := range f.rings {
			for k, a := range r {
				left[[2]int32{a, r[(k+1)%len(r)]}] = i
			}
		}
	}
	steps := m.steps()
	for i := range m.faces {
		f := &m.faces[i]
		for _, r := range f.rings {
			for k, a := range r {
				b := r[(k+1)%len(r)]
				other, ok := left[[2]int32{b, a}]
				bare := func(l int) bool {
					return l < len(m.layers) && f.solid[l] && !(ok && m.faces[other].solid[l])
				}
				for l := 0; l < len(m.layers); l++ {
					if !bare(l) {
						continue
					}
					from := l
					for bare(l + 1) {
						l++
					}
					m.wall(a, b, between(steps[a], from, l+1), between(steps[b], from, l+1))
				}
			}
		}
	}
}

// between returns those of the rising levels from a to b, both included.
func between(levels []int, a, b int) []int {
	var out []int
	for _, l := range levels {
		if l >= a && l <= b {
			out = append(out, l)
		}
	}
	return out
}

// wall fills the upright strip between the vertices of corner a at levels up
// and those of corner b at levels down its other side.
func (m *meshMaker) wall(a, b int32, la, lb []int) {
	for i, j := 0, 0; i+1 < len(la) || j+1 < len(lb); {
		at, to := m.vertex3(a, la[i]), m.vertex3(b, lb[j])
		if i+1 == len(la) || j+1 < len(lb) && lb[j+1] <= la[i+1] {
			j++
			m.triangle(at, to, m.vertex3(b, lb[j]))
			continue
		}
		i++
		m.triangle(at, to, m.vertex3(a, la[i]))
	}
}
