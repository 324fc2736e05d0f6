package rules

import (
	"errors"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/lsq"
)

// A Spreading is what Spread did.
type Spreading struct {
	Line  geom.Centreline
	Moved float64 // mm that a point moved at most
	Left  []Tight // what is still too near
}

// The weights of what the lines resist: being moved, stretched or turned, and
// bent. Nodes are spreadStep mm apart.
const (
	spreadStep   = 4.0
	holdWeight   = 0.01
	turnWeight   = 0.5
	bendWeight   = 1.0
	apartWeight  = 2000.0
	apartMargin  = 0.02 // mm beyond the least spacing that is aimed at
	spreadRounds = 12
)

// Spread moves lines that are too near apart by as little as keeps their shape:
// it minimises an elastic energy of the points' shifts in which places nearer
// than the least spacing push each other off, and measures anew until none is
// left. Lines that meet stay together.
//
// What is still too near when no point may move further than the settings'
// Spread is in Left, and the line is then given as it was.
//
// It returns an error for settings that are not over 0.
func Spread(c geom.Centreline, set SpacingSettings) (Spreading, error) {
	if !(set.Spread > 0) {
		return Spreading{}, errors.New("the limit for spreading lines must be over 0 mm")
	}
	tight, err := Spacing(c, set)
	if err != nil || len(tight) == 0 {
		return Spreading{Line: c}, err
	}
	s := newSpreader(c)
	now := c
	for range spreadRounds {
		s.push(now, set)
		s.problem.Solve()
		now = s.moved()
		left, err := Spacing(now, set)
		if err != nil {
			return Spreading{}, err
		}
		if s.farthest() > set.Spread {
			return Spreading{Line: c, Left: tight}, nil
		}
		if len(left) == 0 {
			return Spreading{Line: now, Moved: s.farthest()}, nil
		}
	}
	return Spreading{Line: c, Left: tight}, nil
}

// A spreader holds the shifts of nodes along the curves.
type spreader struct {
	c       geom.Centreline
	fine    []geom.Curve // pieces no longer than spreadStep
	rulers  []*geom.Ruler
	nodes   [][]int // of each curve, at its pieces' ends
	where   []geom.Point
	problem lsq.Problem
	elastic []lsq.Term
}

func newSpreader(c geom.Centreline) *spreader {
	s := &spreader{c: c}
	byKnot := map[int]int{}
	node := func(knot int, at geom.Point) int {
		if n, ok := byKnot[knot]; ok && knot >= 0 {
			return n
		}
		n := len(s.where)
		s.where = append(s.where, at)
		if knot >= 0 {
			byKnot[knot] = n
		}
		return n
	}
	for _, k := range c.Curves {
		f, knots := finer(k)
		s.fine = append(s.fine, f)
		s.rulers = append(s.rulers, geom.NewRuler(f))
		var ns []int
		for i := range len(f.Pieces) + 1 {
			at := f.Pieces[max(i-1, 0)][3]
			if i == 0 {
				at = f.Pieces[0][0]
			}
			if i == len(f.Pieces) && k.Closed {
				ns = append(ns, ns[0])
				continue
			}
			ns = append(ns, node(knots[i], at))
		}
		s.nodes = append(s.nodes, ns)
	}
	s.problem.X = make([]float64, 2*len(s.where))
	s.tension()
	return s
}

// finer cuts a curve's pieces to steps and tells which of its ends are knots,
// −1 for those that are not.
func finer(k geom.Curve) (geom.Curve, []int) {
	out := geom.Curve{Closed: k.Closed, Ink: k.Ink, Corners: k.Corners}
	knotAt := map[int]int{}
	for _, st := range k.Stops {
		knotAt[st.Piece] = st.Knot
	}
	var knots []int
	for i, p := range k.Pieces {
		n := max(int(math.Ceil(geom.Curve{Pieces: []geom.Cubic{p}}.Length()/spreadStep)), 1)
		for j := range n {
			knot := -1
			if id, ok := knotAt[i]; ok && j == 0 {
				knot = id
				out.Stops = append(out.Stops, geom.Stop{Knot: id, Piece: len(out.Pieces)})
			}
			knots = append(knots, knot)
			out.Pieces = append(out.Pieces, p.Between(float64(j)/float64(n), float64(j+1)/float64(n)))
		}
	}
	last := -1
	if id, ok := knotAt[len(k.Pieces)]; ok {
		last = id
		out.Stops = append(out.Stops, geom.Stop{Knot: id, Piece: len(out.Pieces)})
	}
	return out, append(knots, last)
}

// tension makes the terms by which lines resist.
func (s *spreader) tension() {
	for i := range s.where {
		s.elastic = append(
			s.elastic,
			lsq.Term{
				Vars:      []int{2 * i, 2*i + 1},
				N:         2,
				Weight:    holdWeight,
				Residuals: func(v, out []float64) { copy(out, v) },
			},
		)
	}
	for c, ns := range s.nodes {
		for i := 1; i < len(ns); i++ {
			s.elastic = append(
				s.elastic,
				lsq.Term{Vars: pairVars(ns[i-1], ns[i]), N: 2, Weight: turnWeight, Residuals: func(v, out []float64) {
					out[0], out[1] = v[2]-v[0], v[3]-v[1]
				}},
			)
		}
		for i := 1; i+1 < len(ns); i++ {
			s.bend(ns[i-1], ns[i], ns[i+1])
		}
		if s.fine[c].Closed && len(ns) > 3 {
			s.bend(ns[len(ns)-2], ns[0], ns[1])
		}
	}
}

func (s *spreader) bend(a, b, c int) {
	if a == c {
		return
	}
	s.elastic = append(
		s.elastic,
		lsq.Term{Vars: append(pairVars(a, b), 2*c, 2*c+1), N: 2, Weight: bendWeight, Residuals: func(v, out []float64) {
			out[0], out[1] = v[0]-2*v[2]+v[4], v[1]-2*v[3]+v[5]
		}},
	)
}

func pairVars(a, b int) []int { return []int{2 * a, 2*a + 1, 2 * b, 2*b + 1} }

// push adds, for places too near on the line as it is now, terms that push them
// apart; those of earlier rounds stay, as they hold what was won. Places are
// told by their distance along, as a share of the curve.
func (s *spreader) push(now geom.Centreline, set SpacingSettings) {
	m := newSpacer(now, set.Least)
	if len(s.problem.Terms) == 0 {
		s.problem.Terms = append(s.problem.Terms, s.elastic...)
	}
	for _, group := range m.groups(m.pairs()) {
		if _, ok := m.nearest(group); !ok {
			continue
		}
		for _, p := range nearestOfCells(group) {
			a := s.anchor(int(p.a.track), p.s/m.tracks[p.a.track].length())
			b := s.anchor(int(p.b.track), p.t/m.tracks[p.b.track].length())
			vars := append(pairVars(a.n0, a.n1), pairVars(b.n0, b.n1)...)
			s.problem.Terms = append(
				s.problem.Terms,
				lsq.Term{Vars: vars, N: 1, Weight: apartWeight, Residuals: func(v, out []float64) {
					x := a.at.X + (1-a.f)*v[0] + a.f*v[2] - b.at.X - (1-b.f)*v[4] - b.f*v[6]
					y := a.at.Y + (1-a.f)*v[1] + a.f*v[3] - b.at.Y - (1-b.f)*v[5] - b.f*v[7]
					out[0] = max(set.Least+apartMargin-math.Hypot(x, y), 0)
				}},
			)
		}
	}
}

// nearestOfCells keeps, of pairs, the nearest for each 2 mm along both tracks,
// in their order.
func nearestOfCells(group []closePair) []closePair {
	at := map[[2]int32]int{}
	var out []closePair
	for _, p := range group {
		key := [2]int32{int32(p.s / 2), int32(p.t / 2)}
		i, ok := at[key]
		if !ok {
			at[key] = len(out)
			out = append(out, p)
		} else if p.d < out[i].d {
			out[i] = p
		}
	}
	return out
}

// An anchor is a place between two nodes, as it was before any move.
type anchor struct {
	n0, n1 int
	f      float64
	at     geom.Point
}

func (s *spreader) anchor(curve int, share float64) anchor {
	r := s.rulers[curve]
	d := share * r.Length()
	i := 0
	for i+1 < len(s.fine[curve].Pieces) && r.Piece(i+1) < d {
		i++
	}
	a, b := r.Piece(i), r.Piece(i+1)
	f := 0.0
	if b > a {
		f = min(max((d-a)/(b-a), 0), 1)
	}
	return anchor{n0: s.nodes[curve][i], n1: s.nodes[curve][i+1], f: f, at: r.At(d)}
}

func (s *spreader) shift(node int) geom.Point {
	return geom.Pt(s.problem.X[2*node], s.problem.X[2*node+1])
}

func (s *spreader) farthest() float64 {
	far := 0.0
	for i := range s.where {
		far = max(far, s.shift(i).Norm())
	}
	return far
}

// moved is the centreline with the shifts done; curves that do not move stay as
// they are.
func (s *spreader) moved() geom.Centreline {
	out := geom.Centreline{Stray: s.c.Stray, Knots: append([]geom.Knot{}, s.c.Knots...)}
	for i := range s.fine {
		far := 0.0
		for _, n := range s.nodes[i] {
			far = max(far, s.shift(n).Norm())
		}
		if far < 1e-6 {
			out.Curves = append(out.Curves, s.c.Curves[i])
			continue
		}
		r := s.rulers[i]
		k := r.Displaced(func(d float64) geom.Point {
			a := s.anchor(i, d/r.Length())
			return s.shift(a.n0).Lerp(s.shift(a.n1), a.f)
		})
		for _, st := range k.Stops {
			at := k.Pieces[len(k.Pieces)-1][3]
			if st.Piece < len(k.Pieces) {
				at = k.Pieces[st.Piece][0]
			}
			out.Knots[st.Knot].At = at
		}
		out.Curves = append(out.Curves, k)
	}
	return out
}
