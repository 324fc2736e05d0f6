package lsq

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// A Term is a few residuals of a least squares problem that depend on a few of
// its unknowns.
type Term struct {
	Vars []int
	// Residuals puts the residuals at the unknowns v, in the order of Vars,
	// into out, whose length is N. It is called from several goroutines.
	Residuals func(v, out []float64)
	N         int
	Weight    float64 // of the residuals; not used for conditions
}

// A Problem is a nonlinear least squares problem with conditions: minimise the
// weighted sum of squared residuals of Terms so that those of Conditions are
// all zero.
type Problem struct {
	X          []float64 // the unknowns; the solver starts from here
	Terms      []Term
	Conditions []Term
	// Shared are unknowns that many terms share, as the direction of parallel
	// lines: without them the others fall into small blocks.
	Shared []int
}

// The solver's measures.
const (
	lsqRounds    = 14   // of multipliers
	lsqSteps     = 40   // of Gauss and Newton in each
	lsqStiff     = 1e3  // the conditions' first weight
	lsqTight     = 1e-7 // a condition is met
	lsqDense     = 500  // unknowns that a dense matrix is made for
	lsqDamp      = 1e-9
	lsqNumerical = 1e-6 // step of numerical derivatives
)

// Solve improves X by Gauss–Newton steps; conditions are held by the method of
// multipliers (M. J. D. Powell and M. R. Hestenes, both 1969, cited from
// memory). Unknowns that no terms tie together are solved apart, on all cores, so
// the work grows with the number of independent groups only. It returns, for each
// condition, the largest of its residuals that is left.
func (p *Problem) Solve() []float64 {
	left := make([]float64, len(p.Conditions))
	groups := p.groups()
	parallel.Each(len(groups), func(i int) {
		g := groups[i]
		g.solve(p)
		for _, c := range g.conditions {
			for _, r := range p.eval(p.Conditions[c]) {
				left[c] = max(left[c], math.Abs(r))
			}
		}
	})
	return left
}

// A lsqGroup is unknowns that hang together.
type lsqGroup struct {
	vars       []int
	local      map[int]int
	terms      []int
	conditions []int
	shared     []int // local numbers
	lambda     [][]float64
	scratch    lsqScratch
}

// A lsqScratch is memory that each linearisation uses anew.
type lsqScratch struct {
	rows          []lsqRow
	a             []float64 // all rows'
	v, r0, lo, hi []float64
	at            [][]int // each term's unknowns by their local numbers
}

// take returns n zeros of the memory for rows.
func (s *lsqScratch) take(n int) []float64 {
	if len(s.a)+n > cap(s.a) { // the rows so far keep what they have
		s.a = make([]float64, 0, 2*cap(s.a)+n)
	}
	s.a = s.a[:len(s.a)+n]
	out := s.a[len(s.a)-n:]
	clear(out)
	return out[:n:n]
}

func (p *Problem) groups() []*lsqGroup {
	set := geom.NewForest(len(p.X))
	root := set.Root
	for _, list := range [][]Term{p.Terms, p.Conditions} {
		for _, t := range list {
			for _, v := range t.Vars[1:] {
				set.Join(v, t.Vars[0])
			}
		}
	}
	by := map[int]*lsqGroup{}
	var out []*lsqGroup
	for i := range p.X {
		r := root(i)
		if by[r] == nil {
			by[r] = &lsqGroup{local: map[int]int{}}
			out = append(out, by[r])
		}
		by[r].local[i] = len(by[r].vars)
		by[r].vars = append(by[r].vars, i)
	}
	for _, i := range p.Shared {
		g := by[root(i)]
		g.shared = append(g.shared, g.local[i])
	}
	for i, t := range p.Terms {
		g := by[root(t.Vars[0])]
		g.terms = append(g.terms, i)
	}
	for i, t := range p.Conditions {
		g := by[root(t.Vars[0])]
		g.conditions = append(g.conditions, i)
		g.lambda = append(g.lambda, make([]float64, t.N))
	}
	return out
}

func (p *Problem) eval(t Term) []float64 {
	v := make([]float64, len(t.Vars))
	for i, k := range t.Vars {
		v[i] = p.X[k]
	}
	out := make([]float64, t.N)
	t.Residuals(v, out)
	return out
}

func (g *lsqGroup) solve(p *Problem) {
	mu := lsqStiff
	rounds := 1
	if len(g.conditions) > 0 {
		rounds = lsqRounds
	}
	last := math.Inf(1)
	for range rounds {
		// The multipliers move the solution by about what the conditions are
		// off, so more than a share of that is not worth a step; without any
		// conditions, or in the last rounds, it is.
		enough := max(1e-9, 0.1*min(last, 0.01))
		if rounds == 1 {
			enough = 1e-10
		}
		for range lsqSteps {
			if g.step(p, mu) < enough {
				break
			}
		}
		worst := 0.0
		for i, c := range g.conditions {
			for k, r := range p.eval(p.Conditions[c]) {
				g.lambda[i][k] += mu * r
				worst = max(worst, math.Abs(r))
			}
		}
		if worst < lsqTight {
			return
		}
		if worst > last/4 && mu < 1e9 {
			mu *= 10
		}
		last = worst
	}
}

// A lsqRow is one linearised residual: Σ a·dx + r.
type lsqRow struct {
	at []int
	a  []float64
	r  float64
}

// rows linearises the group's terms about X, and its conditions with their
// multipliers: √μ·(c + λ/μ). The rows are good until it is called again.
func (g *lsqGroup) rows(p *Problem, mu float64) []lsqRow {
	w := &g.scratch
	w.rows, w.a = w.rows[:0], w.a[:0]
	done := 0
	add := func(t Term, weight float64, shift []float64) {
		if done == len(w.at) {
			at := make([]int, len(t.Vars))
			for i, k := range t.Vars {
				at[i] = g.local[k]
			}
			w.at = append(w.at, at)
		}
		n, at := len(t.Vars), w.at[done]
		done++
		w.v = append(w.v[:0], make([]float64, n)...)
		for _, b := range []*[]float64{&w.r0, &w.lo, &w.hi} {
			*b = append((*b)[:0], make([]float64, t.N)...)
		}
		v, r0, lo, hi := w.v, w.r0, w.lo, w.hi
		for i, k := range t.Vars {
			v[i] = p.X[k]
		}
		t.Residuals(v, r0)
		first := len(w.rows)
		for k := range t.N {
			r := r0[k]
			if shift != nil {
				r += shift[k] / mu
			}
			w.rows = append(w.rows, lsqRow{at, w.take(n), weight * r})
		}
		rows := w.rows[first:]
		for i, x := range v {
			h := lsqNumerical * max(1, math.Abs(x))
			v[i] = x - h
			t.Residuals(v, lo)
			v[i] = x + h
			t.Residuals(v, hi)
			v[i] = x
			for k := range rows {
				rows[k].a[i] = weight * (hi[k] - lo[k]) / (2 * h)
			}
		}
	}
	for _, i := range g.terms {
		add(p.Terms[i], math.Sqrt(p.Terms[i].Weight), nil)
	}
	for i, c := range g.conditions {
		add(p.Conditions[c], math.Sqrt(mu), g.lambda[i])
	}
	return w.rows
}

// step does one Gauss–Newton step and returns how far it moved X at most.
func (g *lsqGroup) step(p *Problem, mu float64) float64 {
	rows := g.rows(p, mu)
	n := len(g.vars)
	dx := solveRows(rows, n, g.shared)
	before := cost(rows)
	old := make([]float64, n)
	for i, v := range g.vars {
		old[i] = p.X[v]
	}
	for k := 1.0; k > 1e-4; k /= 2 {
		far := 0.0
		for i, v := range g.vars {
			p.X[v] = old[i] + k*dx[i]
			far = max(far, math.Abs(k*dx[i]))
		}
		if far < 1e-12 || g.value(p, mu) <= before*(1+1e-12) {
			return far
		}
	}
	for i, v := range g.vars {
		p.X[v] = old[i]
	}
	return 0
}

func cost(rows []lsqRow) float64 {
	sum := 0.0
	for _, r := range rows {
		sum += r.r * r.r
	}
	return sum
}

// value is what the steps bring down.
func (g *lsqGroup) value(p *Problem, mu float64) float64 {
	sum := 0.0
	for _, i := range g.terms {
		for _, r := range p.eval(p.Terms[i]) {
			sum += p.Terms[i].Weight * r * r
		}
	}
	for i, c := range g.conditions {
		for k, r := range p.eval(p.Conditions[c]) {
			r += g.lambda[i][k] / mu
			sum += mu * r * r
		}
	}
	return sum
}

// solveRows solves the normal equations of rows in n unknowns, some of which
// are shared. Without those the others fall into small blocks: these are
// eliminated first, block by block (Schur's complement), so the work grows with
// their number only.
func solveRows(rows []lsqRow, n int, shared []int) []float64 {
	hub, block, blocks := splitAtHubs(rows, n, shared)
	largest := 0
	for _, b := range blocks {
		largest = max(largest, len(b))
	}
	hubs := len(shared)
	if largest > lsqDense || hubs > lsqDense {
		if n <= lsqDense {
			return denseStep(rows, n)
		}
		return sparseStep(rows, n)
	}
	if x, ok := schurStep(rows, n, hub, hubs, block, blocks); ok {
		return x
	}
	return sparseStep(rows, n)
}

// splitAtHubs numbers the shared unknowns, −1 for others, and gathers the
// others in blocks that no row ties together.
func splitAtHubs(rows []lsqRow, n int, shared []int) (hub, block []int, blocks [][]int) {
	hub, block = make([]int, n), make([]int, n)
	set := geom.NewForest(n)
	root := set.Root
	for i := range hub {
		hub[i] = -1
	}
	for k, i := range shared {
		hub[i] = k
	}
	for _, r := range rows {
		first := -1
		for _, u := range r.at {
			switch {
			case hub[u] >= 0:
			case first < 0:
				first = u
			default:
				set.Join(u, first)
			}
		}
	}
	number := map[int]int{}
	for i := range n {
		if hub[i] >= 0 {
			block[i] = -1
			continue
		}
		r := root(i)
		if _, ok := number[r]; !ok {
			number[r] = len(blocks)
			blocks = append(blocks, nil)
		}
		block[i] = number[r]
		blocks[number[r]] = append(blocks[number[r]], i)
	}
	return hub, block, blocks
}

// An eliminated block is its factors, and its ties to the hubs.
type eliminated struct {
	chol  mat.Cholesky
	b     *mat.VecDense
	cross *mat.Dense // block by its hubs
	hubs  []int
}

// A hubSystem is the normal equations of the shared unknowns alone; s is nil without
// such.
type hubSystem struct {
	s   *mat.SymDense
	rhs []float64
}

// schurStep solves the normal equations by eliminating blocks (Schur's complement).
func schurStep(rows []lsqRow, n int, hub []int, hubs int, block []int, blocks [][]int) ([]float64, bool) {
	at := make([]int, n) // in its block
	for _, b := range blocks {
		for k, i := range b {
			at[i] = k
		}
	}
	sys, mine := gather(rows, hub, hubs, block, len(blocks))
	all := make([]eliminated, len(blocks))
	for i, vars := range blocks {
		if !all[i].eliminate(mine[i], len(vars), hub, at) || !all[i].takeOff(sys) {
			return nil, false
		}
	}
	return backSubstitute(n, hub, sys, blocks, all)
}

// gather returns the hubs' own equations and each block's rows.
func gather(rows []lsqRow, hub []int, hubs int, block []int, blocks int) (sys hubSystem, mine [][]lsqRow) {
	mine = make([][]lsqRow, blocks)
	if hubs > 0 {
		sys = hubSystem{s: mat.NewSymDense(hubs, nil), rhs: make([]float64, hubs)}
		for i := range hubs {
			sys.s.SetSym(i, i, lsqDamp)
		}
	}
	for _, r := range rows {
		b := -1
		for _, u := range r.at {
			if hub[u] < 0 {
				b = block[u]
			}
		}
		if b >= 0 {
			mine[b] = append(mine[b], r)
		}
		for i, u := range r.at {
			if hub[u] < 0 {
				continue
			}
			sys.rhs[hub[u]] -= r.a[i] * r.r
			for k, v := range r.at {
				if hub[v] >= hub[u] {
					sys.s.SetSym(hub[u], hub[v], sys.s.At(hub[u], hub[v])+r.a[i]*r.a[k])
				}
			}
		}
	}
	return sys, mine
}

// eliminate factors a block of m unknowns with its rows. It reports false where that
// cannot be done.
func (k *eliminated) eliminate(rows []lsqRow, m int, hub, at []int) bool {
	a := mat.NewSymDense(m, nil)
	k.b = mat.NewVecDense(m, nil)
	local := map[int]int{}
	for _, r := range rows {
		for _, u := range r.at {
			if _, ok := local[u]; hub[u] >= 0 && !ok {
				local[u] = len(k.hubs)
				k.hubs = append(k.hubs, hub[u])
			}
		}
	}
	if len(k.hubs) > 0 {
		k.cross = mat.NewDense(m, len(k.hubs), nil)
	}
	for _, r := range rows {
		for x, u := range r.at {
			if hub[u] >= 0 {
				continue
			}
			k.b.SetVec(at[u], k.b.AtVec(at[u])-r.a[x]*r.r)
			for y, v := range r.at {
				switch {
				case hub[v] >= 0:
					k.cross.Set(at[u], local[v], k.cross.At(at[u], local[v])+r.a[x]*r.a[y])
				case at[u] <= at[v]:
					a.SetSym(at[u], at[v], a.At(at[u], at[v])+r.a[x]*r.a[y])
				}
			}
		}
	}
	for j := range m {
		a.SetSym(j, j, a.At(j, j)*(1+lsqDamp)+lsqDamp)
	}
	return k.chol.Factorize(a)
}

// takeOff takes the block's part off the hubs' equations. It reports false where that
// cannot be done.
func (k *eliminated) takeOff(sys hubSystem) bool {
	if len(k.hubs) == 0 {
		return true
	}
	var ac mat.Dense
	if k.chol.SolveTo(&ac, k.cross) != nil {
		return false
	}
	m := k.b.Len()
	for p, h := range k.hubs {
		for j := range m {
			sys.rhs[h] -= ac.At(j, p) * k.b.AtVec(j)
		}
		for q, g := range k.hubs {
			if g < h {
				continue
			}
			sum := 0.0
			for j := range m {
				sum += k.cross.At(j, p) * ac.At(j, q)
			}
			sys.s.SetSym(h, g, sys.s.At(h, g)-sum)
		}
	}
	return true
}

// backSubstitute solves for the hubs and from them for the blocks.
func backSubstitute(n int, hub []int, sys hubSystem, blocks [][]int, all []eliminated) ([]float64, bool) {
	out := make([]float64, n)
	var xs []float64
	if hubs := len(sys.rhs); hubs > 0 {
		var c mat.Cholesky
		x := mat.NewVecDense(hubs, nil)
		if !c.Factorize(sys.s) || c.SolveVecTo(x, mat.NewVecDense(hubs, sys.rhs)) != nil {
			return nil, false
		}
		xs = x.RawVector().Data
		for i, h := range hub {
			if h >= 0 {
				out[i] = xs[h]
			}
		}
	}
	for i, vars := range blocks {
		k := &all[i]
		for p, h := range k.hubs {
			for j := range vars {
				k.b.SetVec(j, k.b.AtVec(j)-k.cross.At(j, p)*xs[h])
			}
		}
		x := mat.NewVecDense(len(vars), nil)
		if k.chol.SolveVecTo(x, k.b) != nil {
			return nil, false
		}
		for j, v := range vars {
			out[v] = x.AtVec(j)
		}
	}
	return out, true
}

// A Normal is the normal equations of weighted rows in a few unknowns.
type Normal struct {
	a *mat.SymDense
	b *mat.VecDense
}

// NewNormal returns the normal equations of no rows in n unknowns.
func NewNormal(n int) *Normal { return &Normal{a: mat.NewSymDense(n, nil), b: mat.NewVecDense(n, nil)} }

// Add adds a row: residual r, slopes a of the unknowns at, weight w.
func (e *Normal) Add(w float64, at []int, a []float64, r float64) {
	for i, u := range at {
		e.b.SetVec(u, e.b.AtVec(u)+w*a[i]*r)
		for k, v := range at {
			if u <= v {
				e.a.SetSym(u, v, e.a.At(u, v)+w*a[i]*a[k])
			}
		}
	}
}

// Solve solves the equations, their diagonal damped by a share of itself and by an
// amount, which keeps what no row says anything of. It reports false where they have
// no solution.
func (e *Normal) Solve(share, amount float64) ([]float64, bool) {
	n := e.b.Len()
	for k := range n {
		e.a.SetSym(k, k, e.a.At(k, k)*(1+share)+amount)
	}
	var chol mat.Cholesky
	x := mat.NewVecDense(n, nil)
	if !chol.Factorize(e.a) || chol.SolveVecTo(x, e.b) != nil {
		return nil, false
	}
	return x.RawVector().Data, true
}

// denseStep solves the normal equations by Cholesky's factors.
func denseStep(rows []lsqRow, n int) []float64 {
	e := NewNormal(n)
	for _, r := range rows {
		e.Add(1, r.at, r.a, -r.r)
	}
	if x, ok := e.Solve(lsqDamp, lsqDamp); ok {
		return x
	}
	return sparseStep(rows, n)
}

// sparseStep solves the normal equations by conjugate gradients, scaled by
// their diagonal (M. R. Hestenes and E. Stiefel, 1952).
func sparseStep(rows []lsqRow, n int) []float64 {
	x, r, inv := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range inv {
		inv[i] = lsqDamp
	}
	for _, row := range rows {
		for i, u := range row.at {
			r[u] -= row.a[i] * row.r
			inv[u] += row.a[i] * row.a[i]
		}
	}
	for i := range inv {
		inv[i] = 1 / inv[i]
	}
	apply := func(v []float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = lsqDamp * v[i]
		}
		for _, row := range rows {
			s := 0.0
			for i, u := range row.at {
				s += row.a[i] * v[u]
			}
			for i, u := range row.at {
				out[u] += row.a[i] * s
			}
		}
		return out
	}
	z, d := make([]float64, n), make([]float64, n)
	rz := 0.0
	for i := range r {
		z[i] = r[i] * inv[i]
		d[i] = z[i]
		rz += r[i] * z[i]
	}
	first := rz
	for range 400 {
		if rz <= 1e-18*first || rz == 0 {
			break
		}
		ad := apply(d)
		q := 0.0
		for i := range d {
			q += d[i] * ad[i]
		}
		if q <= 0 {
			break
		}
		alpha, next := rz/q, 0.0
		for i := range x {
			x[i] += alpha * d[i]
			r[i] -= alpha * ad[i]
			z[i] = r[i] * inv[i]
			next += r[i] * z[i]
		}
		for i := range d {
			d[i] = z[i] + d[i]*next/rz
		}
		rz = next
	}
	return x
}
