package vision

import (
	"math"
	"slices"
	"sort"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
)

// Dropping what is no pen line, and joining what is one junction; radii are the
// pen's. Found on the accuracy sets where no reason is given.
const (
	mostNext   = 4    // neighbours that count, at most: no two of them touch on the ring of eight
	spurLong   = 8    // radii: longer dead ends are lines, however broad
	spurNarrow = 0.8  // radii of its length for which a dead end must have the pen's own width to be a line
	leastSharp = 6    // degrees: sharper corners are taken as so sharp, or their forks would lie anywhere
	forkFar    = 1.5  // times the fork's distance that discs say,
	forkPen    = 1.2  // radii more,
	forkFill   = 2.4  // px more over the sine of half the angle, for what the lens fills: a corner's tip is shorter
	narrowPen  = 1.08 // radii up to which ink, but for radiusNoise, has the pen's own width
	hairDark   = 0.3  // of the usual darkness: a short dead end that is paler is the paper's grain, smeared by a filter
	evenMost   = 1.5  // pen radii: what is evenly broader is no line of this pen
	evenStray  = 0.25 // of a line's own radius, that it varies along a short line
	leastCross = 5    // degrees: lines that cross at less are taken to, or they would share ink without end
	crossReach = 2.2  // times their discs' radii together that junctions may be apart to be one crossing at any angle
)

// A graph is a skeleton as nodes and links. All lengths are px.
type graph struct {
	nodes  []node
	links  []link
	mm     float64 // length of a px, for what is told of doubts
	doubts []Doubt
	level  *Grey           // of the ink
	joined []geom.Polyline // lines that join ends by hand
}

// A node is an end, a junction, or the place where a closed line is cut open.
type node struct {
	at geom.Point
	r  float64 // radius of the greatest disc of ink about it
}

// A link is a line between nodes a and b; pts starts and ends at them.
type link struct {
	a, b int
	pts  geom.Polyline
	rad  []float64 // radius of the ink at each of pts
	r    float64   // the pen's radius along the link
	dead bool
}

// skeletonGraph follows the lines of mask's skeleton.
//
// Two skeleton pixels that touch by a corner count as neighbours only where no
// third one touches both by an edge, so that a corner is no junction.
func skeletonGraph(skel *Bitmap, mask *Bitmap) *graph {
	t := &tracer{Bitmap: skel, mask: mask, owner: map[int]int{}, used: make([]bool, len(skel.Pix)), g: &graph{}}
	on := slices.Collect(skel.all())
	for _, i := range on {
		if _, taken := t.owner[i]; !taken && len(t.next(i)) != 2 {
			t.addNode(i)
		}
	}
	for _, i := range on {
		if id, ok := t.owner[i]; ok {
			for _, j := range t.next(i) {
				t.follow(id, i, j)
			}
		}
	}
	// What is left are closed lines without a junction; cut each open.
	for _, i := range on {
		if _, ok := t.owner[i]; ok || t.used[i] {
			continue
		}
		t.addNode(i)
		t.follow(t.owner[i], i, t.next(i)[0])
	}
	t.radii()
	return t.g
}

// radii measures the ink along all links.
func (t *tracer) radii() {
	parallel.Each(len(t.g.links), func(i int) {
		l := &t.g.links[i]
		l.rad = make([]float64, len(l.pts))
		l.rad[0], l.rad[len(l.pts)-1] = t.g.nodes[l.a].r, t.g.nodes[l.b].r
		for k, p := range l.pts[1 : len(l.pts)-1] {
			l.rad[k+1] = t.radius(int(p.Y)*t.W + int(p.X))
		}
	})
}

type tracer struct {
	*Bitmap
	mask  *Bitmap
	owner map[int]int // node of a pixel that belongs to one
	used  []bool      // by pixel: lies on a line already followed
	g     *graph
}

// next lists the neighbours of pixel i.
func (t *tracer) next(i int) []int {
	x, y := i%t.W, i/t.W
	q := t.around(x, y)
	out := make([]int, 0, mostNext)
	for k, v := range q {
		if v == 0 || k%2 == 1 && (q[k-1] != 0 || q[(k+1)%8] != 0) {
			continue
		}
		out = append(out, i+ring8[k][1]*t.W+ring8[k][0])
	}
	return out
}

func (t *tracer) centre(i int) geom.Point {
	return geom.Pt(float64(i%t.W)+0.5, float64(i/t.W)+0.5)
}

// radius is the distance from the pixel's centre to the ink's edge, which lies
// half a pixel before the centre of the first pixel without ink.
func (t *tracer) radius(i int) float64 { return max(inkRadius(t.mask, i%t.W, i/t.W)-0.5, 0.5) }

// addNode makes a node of pixel i and, if it is a junction, of the junction
// pixels that touch it.
func (t *tracer) addNode(i int) {
	id := len(t.g.nodes)
	var sum geom.Point
	n, r := 0.0, 0.0
	t.owner[i] = id
	for stack := []int{i}; len(stack) > 0; {
		j := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		sum, n, r = sum.Add(t.centre(j)), n+1, max(r, t.radius(j))
		near := t.next(j)
		if len(near) < 3 {
			continue
		}
		for _, k := range near {
			if _, taken := t.owner[k]; !taken && len(t.next(k)) > 2 {
				t.owner[k] = id
				stack = append(stack, k)
			}
		}
	}
	t.g.nodes = append(t.g.nodes, node{sum.Mul(1 / n), r})
}

// follow walks from pixel i of node id over j to the next node and adds the
// link, unless it was walked from the other side.
func (t *tracer) follow(id, i, j int) {
	if t.used[j] {
		return
	}
	first := i
	l := link{a: id, pts: geom.Polyline{t.g.nodes[id].at}}
	for {
		if to, ok := t.owner[j]; ok {
			direct := len(l.pts) == 1
			if direct && (to == id || j < first) { // walked, or will be, the other way
				return
			}
			l.b = to
			l.pts = append(l.pts, t.g.nodes[to].at)
			t.g.links = append(t.g.links, l)
			return
		}
		t.used[j] = true
		l.pts = append(l.pts, t.centre(j))
		// Go on to the neighbour not come from; near a node both may be
		// possible, so prefer the node's pixel.
		step := -1
		for _, k := range t.next(j) {
			if k == i {
				continue
			}
			if _, ok := t.owner[k]; ok {
				step = k
				break
			}
			if !t.used[k] {
				step = k
			}
		}
		if step < 0 {
			// A closed line ends next to the pixel it started from.
			l.b = id
			l.pts = append(l.pts, t.g.nodes[id].at)
			t.g.links = append(t.g.links, l)
			return
		}
		i, j = j, step
	}
}

// A branch is a link seen from one of its ends.
type branch struct {
	link int
	end  bool // seen from its b end
}

// branches lists what leaves each node.
func (g *graph) branches() [][]branch {
	out := make([][]branch, len(g.nodes))
	for i, l := range g.links {
		if !l.dead {
			out[l.a] = append(out[l.a], branch{i, false})
			out[l.b] = append(out[l.b], branch{i, true})
		}
	}
	return out
}

// away returns the link's points and radii from the branch's end on.
func (g *graph) away(b branch) (geom.Polyline, []float64) {
	l := g.links[b.link]
	if !b.end {
		return l.pts, l.rad
	}
	rad := make([]float64, len(l.rad))
	for i, r := range l.rad {
		rad[len(rad)-1-i] = r
	}
	return l.pts.Reversed(), rad
}

// penRadius is the median radius of the ink along all links.
func (g *graph) penRadius() float64 {
	var all []float64
	for _, l := range g.links {
		if !l.dead {
			all = append(all, l.rad...)
		}
	}
	return median(all)
}

// median of v, 0 if v is empty; v is sorted by it.
func median(v []float64) float64 { return quantile(v, 0.5) }

// quantile is the value below which the share q, less than 1, of v lies, 0 if v is
// empty; v is sorted by it.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[int(q*float64(len(v)))]
}

// deadEnd returns the free end and the junction of a link that has one of each.
func (l link) deadEnd(at [][]branch) (tip, junction int, ok bool) {
	tip, junction = l.a, l.b
	if len(at[tip]) != 1 {
		tip, junction = junction, tip
	}
	return tip, junction, !l.dead && l.a != l.b && len(at[tip]) == 1 && len(at[junction]) >= 3
}

// between tells how much longer a link between two junctions is than their discs
// of ink reach, 1 if just as long; ok is false for any other link.
func (g *graph) between(l link, at [][]branch) (over float64, ok bool) {
	if l.dead || l.a == l.b || len(at[l.a]) < 3 || len(at[l.b]) < 3 {
		return 0, false
	}
	return (l.pts.Length() - 1) / (g.nodes[l.a].r + g.nodes[l.b].r), true
}

// prune drops dead ends that are no pen lines of their own: those by which the
// ink hardly sticks out of the junction (length + radius at the tip − radius
// at the junction is how far it does), those that never narrow to the pen's
// width, and the tips of sharp corners. The least go first, one a junction at
// a time, until none is under least.
func (g *graph) prune(least float64) int {
	dropped := 0
	pen := g.penRadius()
	usual := g.usualDarkness()
	for {
		g.measure()
		at := g.branches()
		type spur struct {
			link, junction int
			out            float64
			doubtful       bool
			corner         bool
		}
		var spurs []spur
		for i, l := range g.links {
			tip, j, ok := l.deadEnd(at)
			if !ok {
				continue
			}
			length := l.pts.Length()
			own := max(pen, g.evenRadius(i, j, pen))
			wide := length < spurLong*pen && g.narrow(i, own)-max(own-g.nodes[tip].r, 0) < spurNarrow*own
			limit, atCorner := g.cornerTip(i, at[j], j, pen)
			corner := atCorner && length < limit
			hair := length < spurLong*pen && g.darkness(l) < hairDark*usual
			if out := length + g.nodes[tip].r - g.nodes[j].r; out < least || wide || corner || hair {
				spurs = append(
					spurs,
					spur{
						link:     i,
						junction: j,
						out:      out,
						doubtful: out > doubtSpur*2*pen && !corner && !hair,
						corner:   corner,
					},
				)
			}
		}
		if len(spurs) == 0 {
			return dropped
		}
		sort.Slice(spurs, func(i, j int) bool { return spurs[i].out < spurs[j].out })
		touched := map[int]bool{}
		for _, s := range spurs {
			if !touched[s.junction] {
				touched[s.junction] = true
				g.links[s.link].dead = true
				dropped++
				if s.corner { // the pen was at the tip
					tip := g.links[s.link].a + g.links[s.link].b - s.junction
					g.place(s.junction, g.nodes[tip].at)
				}
				if s.doubtful {
					g.doubt(
						g.nodes[s.junction].at, s.out,
						"an end that sticks out by %.1f mm was removed; it may be a real line", s.out*g.mm,
					)
				}
			}
		}
		g.mergeThrough()
	}
}

// cornerTip tells how long the dead end i at junction j is at most if it is the tip of
// a sharp corner of one pen line; ok is false where it cannot be one. The skeleton of
// a corner of angle α, drawn with a pen of radius r, forks where a disc touches both
// outer sides and the inner vertex: x = r(1−s)/(s(1+s)) from the corner, with
// s = sin(α/2).
func (g *graph) cornerTip(i int, at []branch, j int, pen float64) (limit float64, ok bool) {
	if len(at) != 3 {
		return 0, false
	}
	legs := g.arms(j, at, i)
	if len(legs) != 2 {
		return 0, false
	}
	l := g.links[i]
	out := l.pts[len(l.pts)-1].Sub(l.pts[0])
	if l.b == j {
		out = out.Mul(-1)
	}
	// The corner points away from both legs.
	const sharp, aside = 80, 30 // degrees
	ang := legs[0].dir.Angle(legs[1].dir)
	mid := legs[0].dir.Add(legs[1].dir)
	if ang > sharp || mid.Angle(out) > aside {
		return 0, false
	}
	s := math.Sin(geom.Radians(max(ang, leastSharp)) / 2)
	r := max(pen, (legs[0].r+legs[1].r)/2)
	x := r * (1 - s) / (s * (1 + s))
	// Thinning forks a little farther out than the discs say, and the lens
	// fills the inner vertex where it is narrower than a pixel or two.
	return forkFar*x + forkPen*r + forkFill/s, true
}

// narrow is how much of a link's length has the pen's own width.
func (g *graph) narrow(i int, pen float64) float64 {
	l := g.links[i]
	s := 0.0
	for k := 1; k < len(l.pts); k++ {
		if l.rad[k] < narrowPen*pen+radiusNoise {
			s += l.pts[k-1].Dist(l.pts[k])
		}
	}
	return s
}

// darkness is how much darker than ink's edge a link's ink is, the median along it, of the
// level; 0 without one.
func (g *graph) darkness(l link) float64 {
	var all []float64
	for _, p := range l.pts {
		all = append(all, g.levelAt(p))
	}
	return median(all)
}

// usualDarkness is the median over all links.
func (g *graph) usualDarkness() float64 {
	var all []float64
	for _, l := range g.links {
		if !l.dead {
			for _, p := range l.pts {
				all = append(all, g.levelAt(p))
			}
		}
	}
	return median(all)
}

// levelAt is how much darker than ink's edge a place is.
func (g *graph) levelAt(p geom.Point) float64 {
	if g.level == nil {
		return 0
	}
	x, y := min(max(int(p.X), 0), g.level.W-1), min(max(int(p.Y), 0), g.level.H-1)
	return float64(g.level.Pix[y*g.level.W+x]) - inkEdge
}

// evenRadius is the radius of ink along link i beyond the disc of its junction j, if it is
// even there as a pen's line is and a blot is not, and not much broader than the pen;
// 0 if not. Felt pens draw up to half as broad again along one drawing.
func (g *graph) evenRadius(i, j int, pen float64) float64 {
	l := g.links[i]
	var own []float64
	for k, p := range l.pts {
		if p.Dist(g.nodes[j].at) > g.nodes[j].r {
			own = append(own, l.rad[k])
		}
	}
	if len(own) < max(int(pen), 1) {
		return 0
	}
	r := median(own) // sorts them
	if r > evenMost*pen || own[len(own)-1]-own[0] > evenStray*r+2*radiusNoise {
		return 0
	}
	return r
}

// mergeThrough makes one link of two that meet at a node nothing else leaves.
func (g *graph) mergeThrough() {
	at := g.branches()
	for n, bs := range at {
		if len(bs) != 2 || bs[0].link == bs[1].link {
			continue
		}
		in, inRad := g.away(bs[0])
		out, outRad := g.away(bs[1])
		one := link{a: g.far(bs[0]), b: g.far(bs[1])}
		one.pts = append(in.Reversed(), out[1:]...)
		for i := len(inRad) - 1; i >= 0; i-- {
			one.rad = append(one.rad, inRad[i])
		}
		one.rad = append(one.rad, outRad[1:]...)
		g.links[bs[0].link].dead, g.links[bs[1].link].dead = true, true
		g.links = append(g.links, one)
		at[n] = nil
		for _, end := range []int{one.a, one.b} {
			at[end] = g.branchesOf(end)
		}
	}
}

// branchesOf lists what leaves node n.
func (g *graph) branchesOf(n int) []branch {
	var out []branch
	for i, l := range g.links {
		if l.dead {
			continue
		}
		if l.a == n {
			out = append(out, branch{i, false})
		}
		if l.b == n {
			out = append(out, branch{i, true})
		}
	}
	return out
}

// far is the node at a branch's other end.
func (g *graph) far(b branch) int {
	if b.end {
		return g.links[b.link].a
	}
	return g.links[b.link].b
}

// contract makes one junction of two whose discs of ink overlap along the
// link between them, and of two between which pen lines cross at a shallow
// angle: where lines of half-width r cross at an angle α the skeleton runs
// along their common ink for up to about r/sin(α/2) each way.
func (g *graph) contract() {
	for {
		at := g.branches()
		best, least, doubtful := -1, 1.0, false
		for i, l := range g.links {
			over, ok := g.between(l, at)
			switch {
			case !ok:
			case over < least:
				best, least, doubtful = i, over, over > doubtMerge
			case best < 0:
				if bend, ok := g.crossesAlong(i, at); ok {
					best, least, doubtful = i, 1, bend > doubtBend
				}
			}
		}
		if best < 0 {
			break
		}
		if doubtful {
			g.doubt(
				g.nodes[g.links[best].a].at, g.links[best].pts.Length(), "two junctions %.1f mm apart were merged into one",
				g.links[best].pts.Length()*g.mm,
			)
		}
		g.collapse(best)
	}
	at := g.branches()
	for _, l := range g.links {
		if over, ok := g.between(l, at); ok && over < doubtApart {
			g.doubt(g.nodes[l.a].at, l.pts.Length(), "two junctions only %.1f mm apart may be one", l.pts.Length()*g.mm)
		}
	}
}

// crossesAlong tells whether two pen lines cross within link i: at each of
// its junctions two more lines leave, and each goes straight on into one of
// the other junction's, on the other side. The link is then no longer than two
// lines that cross at their angle share ink. bend is how far the lines turn, at
// most, in degrees.
func (g *graph) crossesAlong(i int, at [][]branch) (bend float64, ok bool) {
	l := g.links[i]
	if len(at[l.a]) != 3 || len(at[l.b]) != 3 {
		return 0, false
	}
	p, q := g.arms(l.a, at[l.a], i), g.arms(l.b, at[l.b], i)
	if len(p) != 2 || len(q) != 2 {
		return 0, false
	}
	const straight = 30 // degrees, entry and exit together
	one, other := math.Max(turn(p[0], q[0]), turn(p[1], q[1])), math.Max(turn(p[0], q[1]), turn(p[1], q[0]))
	if bend = min(one, other); bend > straight {
		return 0, false
	}
	const spare = 1.3 // arms are seen beyond where the lines bend
	angle := min(p[0].dir.Angle(p[1].dir), q[0].dir.Angle(q[1].dir))
	shared := 2 * l.r / math.Sin(geom.Radians(max(angle, leastCross))/2)
	long := max(spare*shared, crossReach*(g.nodes[l.a].r+g.nodes[l.b].r))
	return bend, l.pts.Length() < long && crosswise(p, q, one < other)
}

// crosswise reports whether lines that go on from p[0] to q[0] and from p[1] to
// q[1], if straight, or else from p[0] to q[1] and from p[1] to q[0], change
// sides on the way, rather than just touch.
func crosswise(p, q []arm, straight bool) bool {
	if !straight {
		q = []arm{q[1], q[0]}
	}
	_, ok := crossing(
		bridge(p[0], q[0]).Flatten(geom.Polyline{p[0].at}, flatTol),
		bridge(p[1], q[1]).Flatten(geom.Polyline{p[1].at}, 0.05),
	)
	return ok
}

// collapse makes one node of a link's two.
func (g *graph) collapse(i int) {
	l := g.links[i]
	mid := l.pts.At(l.pts.Length() / 2)
	g.links[i].dead = true
	g.nodes[l.a] = node{mid, math.Max(g.nodes[l.a].r, g.nodes[l.b].r)}
	for k := range g.links {
		m := &g.links[k]
		if m.a == l.b {
			m.a = l.a
		}
		if m.b == l.b {
			m.b = l.a
		}
	}
	g.place(l.a, mid)
}

// place moves node n, and the links' ends there.
func (g *graph) place(n int, at geom.Point) {
	g.nodes[n].at = at
	for i := range g.links {
		l := &g.links[i]
		if l.a == n {
			l.pts[0] = at
		}
		if l.b == n {
			l.pts[len(l.pts)-1] = at
		}
	}
}
