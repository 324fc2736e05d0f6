package marks

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"inkchannel/geom"
)

// A Seen is where a photograph shows a mark, px: its disc, and the last of its dots and bars.
type Seen struct {
	Mark
	At       geom.Point
	Dot, Bar geom.Point
}

// A Pose is where a sheet's upper left corner lies, and how it is turned, radians clockwise.
type Pose struct {
	At   geom.Point
	Turn float64
}

// Apply takes a place of the sheet to the drawing.
func (p Pose) Apply(q geom.Point) geom.Point {
	sin, cos := math.Sincos(p.Turn)
	return p.At.Add(geom.Pt(cos*q.X-sin*q.Y, sin*q.X+cos*q.Y))
}

// Outline is a sheet's of a size, larger by so much all round, clockwise from its upper left corner.
func (p Pose) Outline(size geom.Point, by float64) [4]geom.Point {
	return [4]geom.Point{
		p.Apply(geom.Pt(-by, -by)), p.Apply(geom.Pt(size.X+by, -by)), p.Apply(geom.Pt(size.X+by, size.Y+by)),
		p.Apply(geom.Pt(-by, size.Y+by)),
	}
}

// A Plan is how the sheets lie, in the frame of the one of the least number, and how the photographs
// see them.
type Plan struct {
	Sheets map[int]Pose
	Views  []geom.Homography // from a photograph's px to mm of the drawing
	Rest   []float64         // mm, root mean square, that each photograph's marks lie off in the end
	Worst  float64           // mm, the most that one does,
	At     Seen              // which,
	Of     int               // and of which photograph
	// Wide and High are how large the marks themselves are seen, along their sheets' x and y, by how
	// large they are printed: sheets of another size than was said make them something else than 1.
	Wide, High float64
}

// Apart is how far two sheets lie apart that lie side by side or one below the other, mm, less than 0 where
// they overlap; ok is false for sheets that are no such neighbours.
func (p Plan) Apart(a, b int, size geom.Point) (gap float64, ok bool) {
	mid := size.Mul(0.5)
	d := p.Sheets[b].Apply(mid).Sub(p.Sheets[a].Apply(mid))
	gap = math.Abs(d.X) - size.X
	if math.Abs(d.X)*size.Y < math.Abs(d.Y)*size.X {
		gap, d = math.Abs(d.Y)-size.Y, geom.Pt(d.Y*size.X/size.Y, d.X*size.Y/size.X)
	}
	return gap, math.Abs(d.Y) < size.Y/2 && math.Abs(gap) < min(size.X, size.Y)/2
}

// Order is the numbers of the sheets that are placed, least first.
func (p Plan) Order() []int { return slices.Sorted(maps.Keys(p.Sheets)) }

// Bounds is the box of all sheets, mm.
func (p Plan) Bounds(size geom.Point) geom.Rect {
	var all []geom.Point
	for _, pose := range p.Sheets {
		o := pose.Outline(size, 0)
		all = append(all, o[:]...)
	}
	return geom.Bounds(all)
}

// leastKnown are the marks that a photograph must show of sheets whose places are known, and
// leastShared those of a sheet whose place is to be told.
const leastKnown, leastShared = 4, 2

// rounds of Gauss and Newton's method: it ends where it stays after a few.
const rounds = 12

// Adjust finds how sheets of a size, mm, lie and were seen, so that the squares of the distances
// between where each mark is and where each photograph puts it are least together. Sheets are
// rigid and flat; photographs are without distortion.
//
// It returns an error that names the photograph, counted from 0 as Unplaced has it, that cannot be
// put to the others.
func Adjust(photos [][]Seen, size geom.Point) (Plan, error) {
	p := Plan{Sheets: map[int]Pose{}, Views: make([]geom.Homography, len(photos))}
	first := Most + 1
	for _, seen := range photos {
		for _, s := range seen {
			first = min(first, s.Sheet)
		}
	}
	if first > Most {
		return p, Unplaced{0}
	}
	p.Sheets[first] = Pose{}
	if err := p.begin(photos, size); err != nil {
		return p, err
	}
	for range rounds {
		if err := p.step(photos, size, first); err != nil {
			return p, err
		}
	}
	p.judge(photos, size)
	return p, nil
}

// Unplaced tells of a photograph that shows too few marks in common with the others.
type Unplaced struct{ Photo int }

func (u Unplaced) Error() string {
	return fmt.Sprintf(
		"photo %d shows too few marks: of each sheet in it at least %d, and at least %d of sheets that another photo leads to",
		u.Photo+1, leastShared, leastKnown,
	)
}

// begin places photographs by sheets and sheets by photographs, from the first sheet on.
func (p *Plan) begin(photos [][]Seen, size geom.Point) error {
	placed := make([]bool, len(photos))
	for again := true; again; {
		again = false
		for i, seen := range photos {
			if placed[i] {
				continue
			}
			var from, to []geom.Point
			for _, s := range seen {
				if pose, ok := p.Sheets[s.Sheet]; ok {
					from, to = append(from, s.At), append(to, pose.Apply(s.Mark.At(size)))
				}
			}
			if len(from) < leastKnown {
				continue
			}
			v, ok := viewOf(from, to)
			if !ok {
				continue
			}
			p.Views[i], placed[i], again = v, true, true
			p.placeSheets(seen, v, size)
		}
	}
	if i := slices.Index(placed, false); i >= 0 {
		return Unplaced{i}
	}
	return nil
}

// placeSheets places the sheets that a photograph shows at least two marks of.
func (p *Plan) placeSheets(seen []Seen, v geom.Homography, size geom.Point) {
	of := map[int][][2]geom.Point{}
	for _, s := range seen {
		if _, ok := p.Sheets[s.Sheet]; !ok {
			of[s.Sheet] = append(of[s.Sheet], [2]geom.Point{s.Mark.At(size), v.Apply(s.At)})
		}
	}
	for sheet, pairs := range of {
		if len(pairs) >= leastShared {
			p.Sheets[sheet] = poseOf(pairs)
		}
	}
}

// poseOf is the rigid move that takes the first of each pair nearest to the second (least squares).
func poseOf(pairs [][2]geom.Point) Pose {
	var a, b geom.Point
	n := 1 / float64(len(pairs))
	for _, q := range pairs {
		a, b = a.Add(q[0].Mul(n)), b.Add(q[1].Mul(n))
	}
	dot, cross := 0.0, 0.0
	for _, q := range pairs {
		u, v := q[0].Sub(a), q[1].Sub(b)
		dot, cross = dot+u.Dot(v), cross+u.Cross(v)
	}
	p := Pose{Turn: math.Atan2(cross, dot)}
	p.At = b.Sub(p.Apply(a))
	return p
}

// viewOf is the homography that takes from nearest to to, by its linear equations; ok is false where
// they lie along a line.
func viewOf(from, to []geom.Point) (geom.Homography, bool) {
	norm := normal(from)
	a, b := mat.NewDense(2*len(from), 8, nil), mat.NewVecDense(2*len(from), nil)
	for i := range from {
		q, t := norm.apply(from[i]), to[i]
		a.SetRow(2*i, []float64{q.X, q.Y, 1, 0, 0, 0, -t.X * q.X, -t.X * q.Y})
		a.SetRow(2*i+1, []float64{0, 0, 0, q.X, q.Y, 1, -t.Y * q.X, -t.Y * q.Y})
		b.SetVec(2*i, t.X)
		b.SetVec(2*i+1, t.Y)
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return geom.Homography{}, false
	}
	return norm.then([8]float64(x.RawVector().Data)), true
}

// A normalised frame brings px near 1, so that equations in them are well conditioned.
type normalised struct {
	middle geom.Point
	size   float64
}

func normal(at []geom.Point) normalised {
	box := geom.Bounds(at)
	return normalised{box.Min.Lerp(box.Max, 0.5), max(box.Size().Norm()/2, 1)}
}

func (n normalised) apply(p geom.Point) geom.Point { return p.Sub(n.middle).Mul(1 / n.size) }

// homography takes px to the frame.
func (n normalised) homography() geom.Homography {
	k := 1 / n.size
	return geom.Homography{k, 0, -k * n.middle.X, 0, k, -k * n.middle.Y, 0, 0, 1}
}

// then is the view of px that takes normalised ones by eight numbers.
func (n normalised) then(g [8]float64) geom.Homography {
	return n.homography().Then(geom.Homography{g[0], g[1], g[2], g[3], g[4], g[5], g[6], g[7], 1})
}

// of is the eight numbers by which normalised px are taken as by a view.
func (n normalised) of(v geom.Homography) (g [8]float64) {
	full := n.homography().Inverse().Then(v)
	for i := range g {
		g[i] = full[i] / full[8]
	}
	return g
}

// step improves all views and poses but the first's together.
func (p *Plan) step(photos [][]Seen, size geom.Point, first int) error {
	sheets := slices.DeleteFunc(p.Order(), func(s int) bool { return s == first })
	n, rows := 8*len(photos)+3*len(sheets), 0
	for _, seen := range photos {
		rows += 2 * len(seen)
	}
	jac, rest := mat.NewDense(rows, n, nil), mat.NewVecDense(rows, nil)
	norms, row := make([]normalised, len(photos)), 0
	for i, seen := range photos {
		var at []geom.Point
		for _, s := range seen {
			at = append(at, s.At)
		}
		norms[i] = normal(at)
		g := norms[i].of(p.Views[i])
		for _, s := range seen {
			pose, ok := p.Sheets[s.Sheet]
			if !ok {
				continue // a single mark of a sheet that nothing places
			}
			q, m := norms[i].apply(s.At), s.Mark.At(size)
			w := g[6]*q.X + g[7]*q.Y + 1
			is := geom.Pt((g[0]*q.X+g[1]*q.Y+g[2])/w, (g[3]*q.X+g[4]*q.Y+g[5])/w)
			off := is.Sub(pose.Apply(m))
			rest.SetVec(row, -off.X)
			rest.SetVec(row+1, -off.Y)
			for k, v := range []float64{q.X / w, q.Y / w, 1 / w} {
				jac.Set(row, 8*i+k, v)
				jac.Set(row+1, 8*i+3+k, v)
			}
			for k, v := range []float64{q.X / w, q.Y / w} {
				jac.Set(row, 8*i+6+k, -is.X*v)
				jac.Set(row+1, 8*i+6+k, -is.Y*v)
			}
			if k := slices.Index(sheets, s.Sheet); k >= 0 {
				at := 8*len(photos) + 3*k
				sin, cos := math.Sincos(pose.Turn)
				jac.Set(row, at, -1)
				jac.Set(row+1, at+1, -1)
				jac.Set(row, at+2, sin*m.X+cos*m.Y)
				jac.Set(row+1, at+2, sin*m.Y-cos*m.X)
			}
			row += 2
		}
	}
	x, ok := leastSquares(jac, rest)
	if !ok {
		return Unplaced{len(photos) - 1}
	}
	for i := range photos {
		g := norms[i].of(p.Views[i])
		for k := range g {
			g[k] += x[8*i+k]
		}
		p.Views[i] = norms[i].then(g)
	}
	for k, s := range sheets {
		at, pose := 8*len(photos)+3*k, p.Sheets[s]
		p.Sheets[s] = Pose{pose.At.Add(geom.Pt(x[at], x[at+1])), pose.Turn + x[at+2]}
	}
	return nil
}

// slight keeps what nothing tells, as of four marks that a photograph fits exactly, where it is.
const slight = 1e-9

// leastSquares solves a·x = b in the sense of least squares, by the normal equations.
func leastSquares(a *mat.Dense, b *mat.VecDense) ([]float64, bool) {
	_, n := a.Dims()
	var normal mat.SymDense
	normal.SymOuterK(1, a.T())
	for i := range n {
		normal.SetSym(i, i, normal.At(i, i)*(1+slight)+slight)
	}
	var right, x mat.VecDense
	right.MulVec(a.T(), b)
	var chol mat.Cholesky
	if !chol.Factorize(&normal) || chol.SolveVecTo(&x, &right) != nil {
		return nil, false
	}
	return x.RawVector().Data, true
}

// judge works out what the marks lie off, and how large they are.
func (p *Plan) judge(photos [][]Seen, size geom.Point) {
	var dots, dotsAre, bars, barsAre float64
	defer func() { p.Wide, p.High = dots/dotsAre, bars/barsAre }()
	for i, seen := range photos {
		for _, s := range seen {
			at := p.Views[i].Apply(s.At)
			dots, dotsAre = dots+at.Dist(p.Views[i].Apply(s.Dot)), dotsAre+DotFirst+float64(s.Sheet-1)*DotNext
			bars, barsAre = bars+at.Dist(p.Views[i].Apply(s.Bar)), barsAre+BarFirst+float64(s.Corner-1)*BarNext
		}
		sum, n := 0.0, 0
		for _, s := range seen {
			pose, ok := p.Sheets[s.Sheet]
			if !ok {
				continue
			}
			d := p.Views[i].Apply(s.At).Dist(pose.Apply(s.Mark.At(size)))
			sum, n = sum+d*d, n+1
			if d > p.Worst {
				p.Worst, p.At, p.Of = d, s, i
			}
		}
		p.Rest = append(p.Rest, math.Sqrt(sum/float64(max(n, 1))))
	}
}
