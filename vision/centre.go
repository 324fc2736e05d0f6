package vision

import (
	"bytes"
	"math"
	"slices"

	"inkchannel/geom"
)

// Centring. The edge of a pen line lies half the pen's width from where the
// pen went, also in corners, where lines cross, and round a line's end. So the
// centrelines are moved until the edge points of the ink lie just that far
// from them: nonlinear least squares over the chains' vertices, with a small
// weight on each chain's second differences. It undoes what thinning bent, and
// places lines to a fraction of a pixel.

// stiffness weighs second differences against edge points.
const stiffness = 2.0

// centreRounds is how many times edge points are matched anew.
const centreRounds = 9

// An edgePoint is a place on the ink's edge.
type edgePoint = geom.Point

// inkEdgePoints finds, between each ink pixel and each neighbour without ink,
// the place where the level passes the threshold.
func inkEdgePoints(ink *Ink) []edgePoint {
	rows := make([][]edgePoint, ink.Mask.H-1)
	inBands(len(rows), func(y0, y1 int) {
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
}

// bulges tells whether an edge point at distance over from the pen's edge
// belongs to an overshoot on the far side of a tee.
func (c *centrer) bulges(q geom.Point, over, r float64) bool {
	if over < 0.05*r+0.25 {
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
	step := min(max(0.5*pen, 3), 6)
	for round := range centreRounds {
		if round%3 == 0 {
			for i := range g.links {
				g.links[i].pts = g.links[i].pts.Resampled(step)
			}
		}
		c := newCentrer(g, through, tees, pen)
		c.solve(edges)
		c.store()
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
	chain, seg int
	t          float64
	dist       float64
	out        geom.Point // unit vector from the centreline to the edge point
	q          geom.Point
}

// matches finds the nearest segment for each edge point, within reach.
func (c *centrer) matches(edges []edgePoint) []match {
	reach := 2.4*c.pen + 3
	grid := newSegmentGrid(c, reach)
	out := make([]match, len(edges))
	inBands(len(edges), func(i0, i1 int) {
		for i := i0; i < i1; i++ {
			q := edges[i]
			best := match{chain: -1, dist: reach, q: q}
			for _, s := range grid.near(q) {
				at := c.chains[s[0]].at
				f, t := geom.Foot(c.p[at[s[1]]], c.p[at[s[1]+1]], q)
				if d := f.Dist(q); d < best.dist {
					best = match{chain: int(s[0]), seg: int(s[1]), t: t, dist: d, out: q.Sub(f), q: q}
				}
			}
			if best.dist < 0.2 { // on the line itself: no direction
				best.chain = -1
			} else {
				best.out = best.out.Mul(1 / best.dist)
			}
			out[i] = best
		}
	})
	return out
}

// radii estimates the pen's radius along each chain from the matches, as it
// changes with the hand's pressure.
func (c *centrer) radii(ms []match) {
	const half = 10 // vertices either way that are averaged
	sum := make([][]float64, len(c.chains))
	num := make([][]float64, len(c.chains))
	for i, ch := range c.chains {
		sum[i], num[i] = make([]float64, len(ch.at)+1), make([]float64, len(ch.at)+1)
	}
	for _, m := range ms {
		if m.chain < 0 {
			continue
		}
		r := c.g.links[m.chain].r
		if m.dist > 0.75*r && m.dist < 1.25*r+0.5 {
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
			if n := num[i][b] - num[i][a]; n >= 20 {
				ch.r[k] = min(max((sum[i][b]-sum[i][a])/n, 0.85*r-0.3), 1.15*r+0.3)
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
func (c *centrer) solve(edges []edgePoint) {
	ms := c.matches(edges)
	c.radii(ms)
	s := &system{diag: make([]sym, len(c.p)), rhs: make([]geom.Point, len(c.p)), bends: c.bends, keep: 0.05}
	first := make([]int, len(c.chains)) // index of each chain's first pair
	for i, ch := range c.chains {
		first[i] = len(s.pair)
		for k := 1; k < len(ch.at); k++ {
			s.pair = append(s.pair, pairBlock{a: ch.at[k-1], b: ch.at[k]})
		}
	}
	scale := 0.45*c.pen + 1.2
	weights, used := 0.0, 0
	for _, m := range ms {
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

// apply returns the system's matrix times v.
func (s *system) apply(v []geom.Point) []geom.Point {
	out := make([]geom.Point, len(v))
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
	return out
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
	scaled := func(r []geom.Point) []geom.Point {
		z := make([]geom.Point, n)
		for i := range r {
			z[i] = geom.Pt(r[i].X*inv[i].X, r[i].Y*inv[i].Y)
		}
		return z
	}
	r := s.apply(x)
	for i := range r {
		r[i] = s.rhs[i].Sub(r[i])
	}
	z := scaled(r)
	d := append([]geom.Point(nil), z...)
	rz := dot(r, z)
	for range 60 {
		ad := s.apply(d)
		q := dot(d, ad)
		if q <= 0 || rz < 1e-9*float64(n) {
			return
		}
		alpha := rz / q
		for i := range x {
			x[i] = x[i].Add(d[i].Mul(alpha))
			r[i] = r[i].Sub(ad[i].Mul(alpha))
		}
		z = scaled(r)
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
	cells [][][2]int32 // chain and segment
}

// newSegmentGrid enters each segment in all cells within reach of it, so that
// a look-up reads one cell.
func newSegmentGrid(c *centrer, reach float64) *segmentGrid {
	b := geom.Bounds(c.p)
	cell := max(reach, 8)
	g := &segmentGrid{cell: cell, w: int((b.Max.X+reach)/cell) + 2, h: int((b.Max.Y+reach)/cell) + 2}
	g.cells = make([][][2]int32, g.w*g.h)
	for i, ch := range c.chains {
		for k := 1; k < len(ch.at); k++ {
			s := geom.Bounds([]geom.Point{c.p[ch.at[k-1]], c.p[ch.at[k]]})
			x0, x1 := g.clampX(s.Min.X-reach), g.clampX(s.Max.X+reach)
			y0, y1 := g.clampY(s.Min.Y-reach), g.clampY(s.Max.Y+reach)
			for y := y0; y <= y1; y++ {
				for x := x0; x <= x1; x++ {
					g.cells[y*g.w+x] = append(g.cells[y*g.w+x], [2]int32{int32(i), int32(k - 1)})
				}
			}
		}
	}
	return g
}

func (g *segmentGrid) clampX(x float64) int { return clampCell(x/g.cell, g.w) }
func (g *segmentGrid) clampY(y float64) int { return clampCell(y/g.cell, g.h) }

func clampCell(v float64, n int) int {
	if math.IsNaN(v) {
		return 0
	}
	return int(min(max(v, 0), float64(n-1)))
}

func (g *segmentGrid) near(q geom.Point) [][2]int32 {
	return g.cells[g.clampY(q.Y)*g.w+g.clampX(q.X)]
}
