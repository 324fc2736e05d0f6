package vision

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// Matching edge points to lines and weighing them; radii are the pen's. Where a
// share of a radius stands with px, the px are what blur and noise add whatever
// the pen. Found on the accuracy sets where no reason is given.
const (
	bulgeShare   = 0.05 // radii beyond the pen's edge that an edge point's distance may be from noise,
	bulgePx      = 0.25 // px, and this more, before it is an overshoot's
	vertexLeast  = 3    // px between a line's vertices at least: nearer ones would follow noise,
	vertexMost   = 6    // and at most, so that they can follow bends
	onLine       = 0.2  // px from a line within which an edge point gives no direction
	matchReach   = 2.4  // radii from the line,
	matchReachPx = 3    // px, and this more, within which edge points are looked for
	edgeOff      = 0.25 // of its radius that a line's edge points may be off to tell how broad it is,
	edgeOffPx    = 0.5  // px, and this more outwards
	leastMatches = 20   // edge points about a vertex, of fewer of which no radius is told
	pressure     = 0.15 // of its radius that a line may be broader or thinner somewhere by the hand's pressure,
	pressurePx   = 0.3  // px, and this more
	keepWeight   = 0.05 // weight that holds a vertex where it is, an edge point's being 1 at most: where none are, it stays
	robustPen    = 0.45 // radii from the pen's edge,
	robustPx     = 1.2  // px, and this more, at which an edge point has half its weight
	innerSteps   = 30   // of conjugate gradients at most; the next solve goes on from there
	innerRest    = 1e-9 // weight times px² that may be left a vertex: less moves nothing
	leastCell    = 8    // px, a grid cell's side at least: smaller ones cost more than they save
)

// Centring. The edge of a pen line lies half the pen's width from where the
// pen went, also in corners, where lines cross, and round a line's end. So the
// centrelines are moved until the edge points of the ink lie just that far
// from them: nonlinear least squares over the chains' vertices, with a small
// weight on each chain's second differences. It undoes what thinning bent, and
// places lines to a fraction of a pixel.

// stiffness weighs second differences against edge points.
const stiffness = 2.0

// centreRounds is how many times the lines get vertices anew and edge points are
// matched to them; rematches how many times after each the matches are mended.
const centreRounds, rematches = 2, 2

// An edgePoint is a place on the ink's edge.
type edgePoint = geom.Point

// inkEdgePoints finds, between each ink pixel and each neighbour without ink,
// the place where the level passes the threshold.
func inkEdgePoints(ink *Ink) []edgePoint {
	rows := make([][]edgePoint, ink.Mask.H-1)
	parallel.Bands(len(rows), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			rows[y] = rowEdges(ink, y)
		}
	})
	return slices.Concat(rows...)
}

// rowEdges finds the edge points between the pixels of row y and from them to
// those below.
func rowEdges(ink *Ink, y int) []edgePoint {
	m, lv, w := ink.Mask.Pix, ink.Level.Pix, ink.Mask.W
	// Where there is no ink in both rows there is no edge.
	lo, hi := w, -1
	for _, row := range [][]uint8{m[y*w : (y+1)*w], m[(y+1)*w : (y+2)*w]} {
		if i := bytes.IndexByte(row, 1); i >= 0 {
			lo, hi = min(lo, i-1), max(hi, bytes.LastIndexByte(row, 1)+1)
		}
	}
	var out []edgePoint
	add := func(i, j int, dx, dy float64) {
		a, b := float64(lv[i])-(inkEdge-0.5), float64(lv[j])-(inkEdge-0.5)
		if a*b >= 0 {
			return
		}
		t := a / (a - b)
		out = append(out, geom.Pt(float64(i%w)+0.5+t*dx, float64(i/w)+0.5+t*dy))
	}
	for x := max(lo, 0); x <= min(hi, w-2); x++ {
		i := y*w + x
		// Eight pixels like those to their right and below have no edge.
		for ; x+9 < w; x, i = x+8, i+8 {
			if v := binary.LittleEndian.Uint64(m[i:]); v != binary.LittleEndian.Uint64(m[i+1:]) ||
				v != binary.LittleEndian.Uint64(m[i+w:]) {
				break
			}
		}
		if m[i] != m[i+1] {
			add(i, i+1, 1, 0)
		}
		if m[i] != m[i+w] {
			add(i, i+w, 0, 1)
		}
	}
	return out
}

// A chain is a link's vertices, as indices into the centrer's points.
type chain struct {
	at []int
	r  []float64 // the pen's radius at each vertex
}

// A centrer holds the least squares problem.
type centrer struct {
	g      *graph
	p      []geom.Point
	chains []chain
	bends  [][3]int // vertices whose second difference is kept small
	pen    float64
	tees   []tee
	sides  []side  // all chains', one after the other
	every  []int32 // their indices
	ms     []match
}

// bulges reports whether an edge point at distance over from the pen's edge
// belongs to an overshoot on the far side of a tee.
func (c *centrer) bulges(q geom.Point, over, r float64) bool {
	if over < bulgeShare*r+bulgePx {
		return false
	}
	for _, t := range c.tees {
		d := q.Sub(c.p[t.node])
		if d.Norm() < t.reach && d.Dot(t.side) < 0 {
			return true
		}
	}
	return false
}

// centre moves the graph's links onto the middle of the ink whose edge points
// are given.
func (g *graph) centre(edges []edgePoint, through pairing, tees []tee) {
	pen := g.penRadius()
	step := min(max(0.5*pen, vertexLeast), vertexMost)
	for range centreRounds {
		for i := range g.links {
			g.links[i].pts = g.links[i].pts.Resampled(step)
		}
		c := newCentrer(g, through, tees, pen)
		c.match(edges)
		c.solve()
		c.store()
		for range rematches {
			c.rematch()
			c.solve()
			c.store()
		}
	}
}

func newCentrer(g *graph, through pairing, tees []tee, pen float64) *centrer {
	c := &centrer{g: g, pen: pen, tees: tees, chains: make([]chain, len(g.links))}
	for _, n := range g.nodes {
		c.p = append(c.p, n.at)
	}
	for i, l := range g.links {
		if l.dead {
			continue
		}
		ch := chain{at: []int{l.a}, r: []float64{l.r}}
		for _, q := range l.pts[1 : len(l.pts)-1] {
			ch.at, ch.r = append(ch.at, len(c.p)), append(ch.r, l.r)
			c.p = append(c.p, q)
		}
		ch.at, ch.r = append(ch.at, l.b), append(ch.r, l.r)
		c.chains[i] = ch
		for k := 1; k+1 < len(ch.at); k++ {
			c.bends = append(c.bends, [3]int{ch.at[k-1], ch.at[k], ch.at[k+1]})
		}
	}
	second := func(b branch) int {
		at := c.chains[b.link].at
		if b.end {
			return at[len(at)-2]
		}
		return at[1]
	}
	for n, bs := range g.branches() {
		for _, b := range bs {
			if o, ok := through[b]; ok && less(b, o) {
				c.bends = append(c.bends, [3]int{second(b), n, second(o)})
			}
		}
	}
	return c
}

func less(a, b branch) bool {
	return a.link < b.link || a.link == b.link && !a.end && b.end
}

// A match ties an edge point to the segment nearest to it.
type match struct {
	side       int // index of the segment
	chain, seg int // chain is −1 where there is none
	t          float64
	dist       float64
	out        geom.Point // unit vector from the centreline to the edge point
	q          geom.Point
}

// A side is a segment of a chain, ready to measure distances from.
type side struct {
	chain, seg int32
	a, d       geom.Point // its start, and from there to its end
	inv        float64    // one over its squared length, 0 if that is 0
}

// measureSides makes all chains' segments ready.
func (c *centrer) measureSides() {
	c.sides = c.sides[:0]
	for i, ch := range c.chains {
		for k := 1; k < len(ch.at); k++ {
			s := side{chain: int32(i), seg: int32(k - 1), a: c.p[ch.at[k-1]]}
			s.d = c.p[ch.at[k]].Sub(s.a)
			if n := s.d.Dot(s.d); n > 0 {
				s.inv = 1 / n
			}
			c.sides = append(c.sides, s)
		}
	}
}

// off is the way from the place on the side nearest to q, a share t along it, to
// q.
func (s *side) off(q geom.Point) (v geom.Point, t float64) {
	v = q.Sub(s.a)
	t = min(max(v.Dot(s.d)*s.inv, 0), 1)
	return v.Sub(s.d.Mul(t)), t
}

// nearest matches q to the nearest of the sides named, nearer than reach.
func (c *centrer) nearest(q geom.Point, reach float64, sides []int32) match {
	m := match{chain: -1, q: q}
	best, least := int32(-1), reach*reach
	var way geom.Point
	for _, k := range sides {
		if v, t := c.sides[k].off(q); v.Dot(v) < least {
			best, least, way, m.t = k, v.Dot(v), v, t
		}
	}
	if best < 0 {
		return m
	}
	m.side, m.dist = int(best), math.Sqrt(least)
	if m.dist < onLine { // on the line itself: no direction
		return m
	}
	m.chain, m.seg, m.out = int(c.sides[best].chain), int(c.sides[best].seg), way.Mul(1/m.dist)
	return m
}

// match finds the nearest segment for each edge point, within reach.
func (c *centrer) match(edges []edgePoint) {
	c.measureSides()
	c.every = make([]int32, len(c.sides))
	for i := range c.every {
		c.every[i] = int32(i)
	}
	reach := matchReach*c.pen + matchReachPx
	grid := newSegmentGrid(c, reach)
	c.ms = make([]match, len(edges))
	parallel.Bands(len(edges), func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			c.ms[i] = c.nearest(edges[i], reach, grid.near(edges[i]))
		}
	})
}

// rematch matches each edge point anew, to the same segment or one that is
// hardly farther along its chain: lines have moved by little since.
func (c *centrer) rematch() {
	c.measureSides()
	parallel.Bands(len(c.ms), func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			if m := c.ms[i]; m.chain >= 0 {
				c.ms[i] = c.nearest(m.q, math.Inf(1), c.beside(m.side))
			}
		}
	})
}

// beside are the sides of the same chain about side k.
func (c *centrer) beside(k int) []int32 {
	const along = 2
	lo, hi := max(k-along, 0), min(k+along, len(c.sides)-1)
	for c.sides[lo].chain != c.sides[k].chain {
		lo++
	}
	for c.sides[hi].chain != c.sides[k].chain {
		hi--
	}
	return c.every[lo : hi+1]
}

// radii estimates the pen's radius along each chain from the matches, as it
// changes with the hand's pressure.
func (c *centrer) radii() {
	const half = 10 // vertices either way that are averaged
	sum := make([][]float64, len(c.chains))
	num := make([][]float64, len(c.chains))
	for i, ch := range c.chains {
		sum[i], num[i] = make([]float64, len(ch.at)+1), make([]float64, len(ch.at)+1)
	}
	for _, m := range c.ms {
		if m.chain < 0 {
			continue
		}
		r := c.g.links[m.chain].r
		if m.dist > (1-edgeOff)*r && m.dist < (1+edgeOff)*r+edgeOffPx {
			sum[m.chain][m.seg+1] += m.dist
			num[m.chain][m.seg+1]++
		}
	}
	for i := range c.chains {
		ch := &c.chains[i]
		for k := 1; k < len(sum[i]); k++ {
			sum[i][k] += sum[i][k-1]
			num[i][k] += num[i][k-1]
		}
		r := c.g.links[i].r
		for k := range ch.at {
			a, b := max(k-half, 0), min(k+half, len(ch.at)-1)
			ch.r[k] = r
			if n := num[i][b] - num[i][a]; n >= leastMatches {
				ch.r[k] = min(max((sum[i][b]-sum[i][a])/n, (1-pressure)*r-pressurePx), (1+pressure)*r+pressurePx)
			}
		}
	}
}

// sym is a symmetric 2 × 2 matrix.
type sym struct{ xx, xy, yy float64 }

func (m sym) mul(v geom.Point) geom.Point {
	return geom.Pt(m.xx*v.X+m.xy*v.Y, m.xy*v.X+m.yy*v.Y)
}

func (m *sym) add(n geom.Point, w float64) {
	m.xx += w * n.X * n.X
	m.xy += w * n.X * n.Y
	m.yy += w * n.Y * n.Y
}

// system is the normal equations: a block for each vertex and one for each
// pair of vertices that share a segment, plus the bends.
type system struct {
	diag  []sym
	pair  []pairBlock
	rhs   []geom.Point
	bends [][3]int
	keep  float64 // weight that holds each vertex where it is
	stiff float64
}

type pairBlock struct {
	a, b int
	m    sym
}

// solve does one Gauss–Newton step.
func (c *centrer) solve() {
	c.radii()
	s := &system{diag: make([]sym, len(c.p)), rhs: make([]geom.Point, len(c.p)), bends: c.bends, keep: keepWeight}
	first := make([]int, len(c.chains)) // index of each chain's first pair
	for i, ch := range c.chains {
		first[i] = len(s.pair)
		for k := 1; k < len(ch.at); k++ {
			s.pair = append(s.pair, pairBlock{a: ch.at[k-1], b: ch.at[k]})
		}
	}
	scale := robustPen*c.pen + robustPx
	weights, used := 0.0, 0
	for _, m := range c.ms {
		if m.chain < 0 {
			continue
		}
		ch := c.chains[m.chain]
		r := ch.r[m.seg] + (ch.r[m.seg+1]-ch.r[m.seg])*m.t
		if c.bulges(m.q, m.dist-r, r) {
			continue
		}
		e := (m.dist - r) / scale
		w := 1 / (1 + e*e)
		a, b := ch.at[m.seg], ch.at[m.seg+1]
		u, t := 1-m.t, m.t
		want := m.q.Sub(m.out.Mul(r)).Dot(m.out)
		s.diag[a].add(m.out, w*u*u)
		s.diag[b].add(m.out, w*t*t)
		s.pair[first[m.chain]+m.seg].m.add(m.out, w*u*t)
		s.rhs[a] = s.rhs[a].Add(m.out.Mul(w * u * want))
		s.rhs[b] = s.rhs[b].Add(m.out.Mul(w * t * want))
		weights += w
		used++
	}
	if used == 0 {
		return
	}
	s.stiff = stiffness * weights / float64(max(len(s.pair), 1))
	for i, p := range c.p {
		s.diag[i].xx += s.keep
		s.diag[i].yy += s.keep
		s.rhs[i] = s.rhs[i].Add(p.Mul(s.keep))
	}
	s.conjugateGradients(c.p)
}

// apply puts the system's matrix times v into out.
func (s *system) apply(v, out []geom.Point) {
	for i, m := range s.diag {
		out[i] = m.mul(v[i])
	}
	for _, b := range s.pair {
		out[b.a] = out[b.a].Add(b.m.mul(v[b.b]))
		out[b.b] = out[b.b].Add(b.m.mul(v[b.a]))
	}
	for _, b := range s.bends {
		d := v[b[0]].Sub(v[b[1]].Mul(2)).Add(v[b[2]]).Mul(s.stiff)
		out[b[0]] = out[b[0]].Add(d)
		out[b[1]] = out[b[1]].Sub(d.Mul(2))
		out[b[2]] = out[b[2]].Add(d)
	}
}

// conjugateGradients improves x towards the solution (M. R. Hestenes and
// E. Stiefel, 1952), scaled by the diagonal.
func (s *system) conjugateGradients(x []geom.Point) {
	n := len(x)
	inv := make([]geom.Point, n)
	for i, m := range s.diag {
		inv[i] = geom.Pt(m.xx, m.yy)
	}
	for _, b := range s.bends {
		for k, w := range [3]float64{1, 4, 1} {
			inv[b[k]] = inv[b[k]].Add(geom.Pt(w*s.stiff, w*s.stiff))
		}
	}
	for i, v := range inv {
		inv[i] = geom.Pt(1/v.X, 1/v.Y)
	}
	dot := func(a, b []geom.Point) float64 {
		sum := 0.0
		for i := range a {
			sum += a[i].Dot(b[i])
		}
		return sum
	}
	r, z, ad := make([]geom.Point, n), make([]geom.Point, n), make([]geom.Point, n)
	scale := func() {
		for i, v := range r {
			z[i] = geom.Pt(v.X*inv[i].X, v.Y*inv[i].Y)
		}
	}
	s.apply(x, r)
	for i := range r {
		r[i] = s.rhs[i].Sub(r[i])
	}
	scale()
	d := slices.Clone(z)
	rz := dot(r, z)
	for range innerSteps {
		s.apply(d, ad)
		q := dot(d, ad)
		if q <= 0 || rz < innerRest*float64(n) {
			return
		}
		alpha := rz / q
		for i := range x {
			x[i] = x[i].Add(d[i].Mul(alpha))
			r[i] = r[i].Sub(ad[i].Mul(alpha))
		}
		scale()
		next := dot(r, z)
		for i := range d {
			d[i] = z[i].Add(d[i].Mul(next / rz))
		}
		rz = next
	}
}

// store writes the vertices back to the graph.
func (c *centrer) store() {
	for i := range c.g.nodes {
		c.g.nodes[i].at = c.p[i]
	}
	for i, ch := range c.chains {
		if c.g.links[i].dead {
			continue
		}
		pts := make(geom.Polyline, len(ch.at))
		mean := 0.0
		for k, j := range ch.at {
			pts[k] = c.p[j]
			mean += ch.r[k] / float64(len(ch.at))
		}
		c.g.links[i].pts = pts
		c.g.links[i].r = mean
	}
}

// A segmentGrid sorts segments into square cells for quick look-up.
type segmentGrid struct {
	cell  float64
	w, h  int
	first []int32 // cell k's are entries first[k] to first[k+1] of all
	all   []int32 // indices of sides
}

// newSegmentGrid enters each segment in all cells within reach of it, so that
// a look-up reads one cell.
func newSegmentGrid(c *centrer, reach float64) *segmentGrid {
	b := geom.Bounds(c.p)
	cell := max(reach, leastCell)
	g := &segmentGrid{cell: cell, w: int((b.Max.X+reach)/cell) + 2, h: int((b.Max.Y+reach)/cell) + 2}
	// Each cell's entries are counted, then put after one another.
	g.first = make([]int32, g.w*g.h+1)
	g.eachCell(c.sides, reach, func(cell int, _ int32) { g.first[cell+1]++ })
	for k := 1; k < len(g.first); k++ {
		g.first[k] += g.first[k-1]
	}
	g.all = make([]int32, g.first[len(g.first)-1])
	next := slices.Clone(g.first)
	g.eachCell(c.sides, reach, func(cell int, side int32) {
		g.all[next[cell]] = side
		next[cell]++
	})
	return g
}

// eachCell calls f for each side with each cell within reach of it.
func (g *segmentGrid) eachCell(sides []side, reach float64, f func(cell int, side int32)) {
	for i, s := range sides {
		e := s.a.Add(s.d)
		x0, x1 := g.clampX(min(s.a.X, e.X)-reach), g.clampX(max(s.a.X, e.X)+reach)
		y0, y1 := g.clampY(min(s.a.Y, e.Y)-reach), g.clampY(max(s.a.Y, e.Y)+reach)
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				f(y*g.w+x, int32(i))
			}
		}
	}
}

func (g *segmentGrid) clampX(x float64) int { return clampCell(x/g.cell, g.w) }
func (g *segmentGrid) clampY(y float64) int { return clampCell(y/g.cell, g.h) }

func clampCell(v float64, n int) int {
	if math.IsNaN(v) {
		return 0
	}
	return int(min(max(v, 0), float64(n-1)))
}

// near are the sides that may lie within reach of q.
func (g *segmentGrid) near(q geom.Point) []int32 {
	k := g.clampY(q.Y)*g.w + g.clampX(q.X)
	return g.all[g.first[k]:g.first[k+1]]
}
