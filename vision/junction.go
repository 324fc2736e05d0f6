package vision

import (
	"math"
	"slices"

	"inkchannel/geom"
)

// Where a branch is trusted and how it goes on from there; radii are the pen's
// along it unless said otherwise. Found on the accuracy sets where no reason is
// given.
const (
	teeReach     = 2.2  // radii from a tee's node that the bulge of an overshoot may be
	leastRadii   = 8    // measured points of a link; of fewer no middle half tells the pen's radius
	thinLink     = 0.6  // of the drawing's pen radius: a link's is believed down to here,
	broadLink    = 1.5  // and up to here; beyond it is noise or another line's ink
	armShare     = 0.45 // of a branch that may be thrown away: less than half, as its other end may lose as much,
	armShareFree = 0.75 // or more if the other end is free and keeps its own
	armLeave     = 0.8  // of the node's disc of ink within which no branch is trusted
	armNarrow    = 1.06 // radii that the ink has narrowed to where it is the branch's own,
	radiusNoise  = 0.3  // px, and this more, which a radius counted in whole pixels may be off
	armFurther   = 0.4  // radii further on to where the bend has faded
	armSpan      = 2.5  // radii over which a branch's direction is taken,
	armSpanLeast = 8    // px, but at least this: over less the pixels' steps show,
	armSpanShare = 0.2  // and of the branch, which is taken even where less is left of it
	dirSteps     = 16   // steps between the points whose principal axis is a direction
	mostFree     = 9    // branches whose pairings are all tried: more pens meet nowhere, and would take long
	flatTol      = 0.05 // px that a chain may lie from its curve: far less than lines are placed to
	meetReach    = 2    // radii of the node's disc of ink,
	meetReachPx  = 2    // px, and this more, within which lines that cross there meet
	rayReach     = 3    // radii of that disc by which a line that ends is drawn on past the node
	handleParts  = 3    // parts of a gap, one of which is each handle: a straight cubic then runs evenly
	leastDet     = 0.05 // of the arms' normal equations; for two arms the sine squared between them: 13 degrees
)

// Near a junction the skeleton of a thick line is bent: it runs where the
// greatest discs fit, not where the pen went. So what lies within the bent
// stretch is thrown away and drawn anew from each branch's own direction
// beyond it.

// An arm is a branch at a junction with its direction beyond the bend.
type arm struct {
	branch
	cut float64    // arc length from the node to where the branch is trusted
	at  geom.Point // that place
	dir geom.Point // unit vector there, towards the junction
	r   float64    // the pen's radius along the branch
}

// A pairing tells, for each branch at a node, which other it runs straight on
// into.
type pairing map[branch]branch

// maxTurn is the most, in degrees, that a line going straight through a
// junction may turn, entry and exit together.
const maxTurn = 70

// A tee is a junction where lines end on one side of a line that goes straight
// on. The end may overshoot: its ink then bulges out on the line's far side,
// which must not pull the line along.
type tee struct {
	node  int
	side  geom.Point // unit vector from the line towards what ends at it
	reach float64    // how far from the node a bulge may be, px
}

// straightOn is the most, in degrees, that the line of a tee turns.
const straightOn = 38

// teeAt returns the tee at node n, if its arms make one.
func teeAt(n int, at geom.Point, arms []arm, pairs [][2]int) (tee, bool) {
	if len(pairs) != 1 || len(arms) < 3 || turn(arms[pairs[0][0]], arms[pairs[0][1]]) > straightOn {
		return tee{}, false
	}
	a, b := arms[pairs[0][0]], arms[pairs[0][1]]
	side := b.at.Sub(a.at).Unit().Perp()
	sense, r := 0.0, a.r
	for i, m := range arms {
		if i == pairs[0][0] || i == pairs[0][1] {
			continue
		}
		s := m.at.Sub(at).Dot(side)
		if sense*s < 0 {
			return tee{}, false
		}
		sense, r = s, max(r, m.r)
	}
	if sense < 0 {
		side = side.Mul(-1)
	}
	return tee{n, side, teeReach * r}, true
}

// rebuild redraws all junctions. It returns which branches pass straight
// through them, and the tees. Those of said pass in any case.
func (g *graph) rebuild(said pairing) (pairing, []tee) {
	var tees []tee
	through := pairing{}
	for n, bs := range g.branches() {
		if len(bs) == 2 { // a closed line goes on where it was cut open
			through[bs[0]], through[bs[1]] = bs[1], bs[0]
		}
		if len(bs) < 3 {
			continue
		}
		arms := g.arms(n, bs, -1)
		pairs := pairUp(arms, said)
		at := meetingPoint(arms, pairs, g.nodes[n])
		for _, p := range pairs {
			through[arms[p[0]].branch] = arms[p[1]].branch
			through[arms[p[1]].branch] = arms[p[0]].branch
		}
		if t, ok := teeAt(n, at, arms, pairs); ok {
			tees = append(tees, t)
		}
		g.redraw(n, at, arms, pairs)
	}
	return through, tees
}

// measure sets each link's pen radius.
func (g *graph) measure() {
	pen := g.penRadius()
	for i := range g.links {
		g.links[i].r = linkRadius(g.links[i], pen)
	}
}

// linkRadius is the median radius along a link's middle half.
func linkRadius(l link, pen float64) float64 {
	n := len(l.rad)
	if n < leastRadii {
		return pen
	}
	return min(max(median(append([]float64(nil), l.rad[n/4:n-n/4]...)), thinLink*pen), broadLink*pen)
}

// arm finds where the branch's ink has narrowed to the pen's own width, and
// its direction there.
func (g *graph) arm(b branch, nodeR float64) arm {
	pts, rad := g.away(b)
	l := g.links[b.link]
	total := pts.Length()
	limit := armShare * total
	if len(g.branchesOf(g.far(b))) == 1 {
		limit = armShareFree * total
	}
	s, i := 0.0, 1
	for ; i < len(pts); i++ {
		s += pts[i-1].Dist(pts[i])
		if s > limit || s > armLeave*nodeR && rad[i] < armNarrow*l.r+radiusNoise {
			break
		}
	}
	s = min(s+armFurther*l.r, limit)
	a := arm{branch: b, cut: s, at: pts.At(s), r: l.r}
	span := min(max(armSpan*l.r, armSpanLeast), max(total-s, armSpanShare*total))
	a.dir = direction(pts, s, s+span)
	return a
}

// arms are the arms of the branches bs at node n, but for those of link but.
func (g *graph) arms(n int, bs []branch, but int) []arm {
	var out []arm
	for _, b := range bs {
		if b.link != but {
			out = append(out, g.arm(b, g.nodes[n].r))
		}
	}
	return out
}

// direction is the unit vector from arc length s1 back to s0, by the principal
// axis of the points between.
func direction(pts geom.Polyline, s0, s1 float64) geom.Point {
	var p []geom.Point
	var mid geom.Point
	for k := range dirSteps + 1 {
		q := pts.At(s0 + (s1-s0)*float64(k)/dirSteps)
		p = append(p, q)
		mid = mid.Add(q)
	}
	mid = mid.Mul(1 / float64(len(p)))
	var xx, xy, yy float64
	for _, q := range p {
		d := q.Sub(mid)
		xx += d.X * d.X
		xy += d.X * d.Y
		yy += d.Y * d.Y
	}
	d := principalAxis(xx, xy, yy)
	if d.Dot(p[0].Sub(p[len(p)-1])) < 0 {
		d = d.Mul(-1)
	}
	return d
}

// principalAxis is the unit vector along which points with these second moments
// about their mean spread most.
func principalAxis(xx, xy, yy float64) geom.Point {
	t := 0.5 * math.Atan2(2*xy, xx-yy)
	return geom.Pt(math.Cos(t), math.Sin(t))
}

// turn is how far a line bends that enters by arm a and leaves by arm b.
func turn(a, b arm) float64 {
	if a.link == b.link && a.end == b.end {
		return math.Inf(1)
	}
	chord := b.at.Sub(a.at)
	return a.dir.Angle(chord) + chord.Angle(b.dir.Mul(-1))
}

// pairUp finds the pairs of arms that run straight on into one another: those
// of said, and of the others the pairing with most pairs, and of those the one
// that bends least.
func pairUp(arms []arm, said pairing) [][2]int {
	var sure [][2]int
	var free []int
	for i, a := range arms {
		o, ok := said[a.branch]
		if !ok {
			free = append(free, i)
			continue
		}
		if k := slices.IndexFunc(arms, func(b arm) bool { return b.branch == o }); k > i {
			sure = append(sure, [2]int{i, k})
		}
	}
	return append(sure, straightest(arms, free[:min(len(free), mostFree)])...) // more than nine pens meet nowhere
}

// straightest pairs those of the arms that are free.
func straightest(arms []arm, free []int) [][2]int {
	best, bestBend := [][2]int(nil), 0.0
	var try func(free []int, pairs [][2]int, bend float64)
	try = func(free []int, pairs [][2]int, bend float64) {
		if len(pairs) > len(best) || len(pairs) == len(best) && bend < bestBend {
			best, bestBend = append([][2]int(nil), pairs...), bend
		}
		if len(free) < 2 {
			return
		}
		first, rest := free[0], free[1:]
		for k, other := range rest {
			if t := turn(arms[first], arms[other]); t <= maxTurn {
				left := append(append([]int(nil), rest[:k]...), rest[k+1:]...)
				try(left, append(pairs, [2]int{first, other}), bend+t)
			}
		}
		try(rest, pairs, bend) // leave the first one out
	}
	try(free, nil, 0)
	return best
}

// meetingPoint is where the pen lines cross: that of the through lines, or of
// a through line and what butts against it, or the point nearest to all.
func meetingPoint(arms []arm, pairs [][2]int, n node) geom.Point {
	inPair := map[int]bool{}
	var curves []geom.Polyline
	for _, p := range pairs {
		inPair[p[0]], inPair[p[1]] = true, true
		curves = append(curves, bridge(arms[p[0]], arms[p[1]]).Flatten(geom.Polyline{arms[p[0]].at}, flatTol))
	}
	var sum geom.Point
	hits := 0
	add := func(p geom.Point, ok bool) {
		if ok && p.Dist(n.at) < meetReach*n.r+meetReachPx {
			sum, hits = sum.Add(p), hits+1
		}
	}
	for i := range curves {
		for j := i + 1; j < len(curves); j++ {
			add(crossing(curves[i], curves[j]))
		}
	}
	if hits == 0 && len(curves) > 0 {
		for i, a := range arms {
			if !inPair[i] {
				ray := geom.Polyline{a.at, a.at.Add(a.dir.Mul(a.cut + rayReach*n.r))}
				add(crossing(curves[0], ray))
			}
		}
	}
	if hits > 0 {
		return sum.Mul(1 / float64(hits))
	}
	if len(curves) > 0 {
		_, _, at, _ := curves[0].Nearest(n.at)
		return at
	}
	return leastSquaresMeet(arms, n)
}

// bridge joins two arms smoothly: a cubic with handles a third of the gap.
func bridge(a, b arm) geom.Cubic {
	h := a.at.Dist(b.at) / handleParts
	return geom.Cubic{a.at, a.at.Add(a.dir.Mul(h)), b.at.Add(b.dir.Mul(h)), b.at}
}

// crossing is the first point where two chains cross.
func crossing(p, q geom.Polyline) (geom.Point, bool) {
	for i := 1; i < len(p); i++ {
		for j := 1; j < len(q); j++ {
			if t, _, ok := geom.Cross(p[i-1], p[i], q[j-1], q[j]); ok {
				return p[i-1].Lerp(p[i], t), true
			}
		}
	}
	return geom.Point{}, false
}

// leastSquaresMeet is the point with the least sum of squared distances to
// the arms' lines, kept within the junction's ink.
func leastSquaresMeet(arms []arm, n node) geom.Point {
	var a, b, c, x, y float64
	for _, m := range arms {
		// Distance to the line: (I − dir dirᵀ)(p − at).
		xx, xy, yy := 1-m.dir.X*m.dir.X, -m.dir.X*m.dir.Y, 1-m.dir.Y*m.dir.Y
		a, b, c = a+xx, b+xy, c+yy
		x += xx*m.at.X + xy*m.at.Y
		y += xy*m.at.X + yy*m.at.Y
	}
	det := a*c - b*b
	if det < leastDet {
		return n.at
	}
	p := geom.Pt((c*x-b*y)/det, (a*y-b*x)/det)
	if d := p.Dist(n.at); d > n.r {
		return n.at.Lerp(p, n.r/d)
	}
	return p
}

// redraw moves node n to at and redraws its arms up to where they are
// trusted: a through line along its bridge's direction, others straight in.
func (g *graph) redraw(n int, at geom.Point, arms []arm, pairs [][2]int) {
	g.nodes[n].at = at
	along := map[int]geom.Point{} // direction at the node, away from it
	for _, p := range pairs {
		a, b := arms[p[0]], arms[p[1]]
		d := b.at.Sub(at).Unit().Sub(a.at.Sub(at).Unit()).Unit()
		along[p[0]], along[p[1]] = d.Mul(-1), d
	}
	for i, a := range arms {
		h := at.Dist(a.at) / handleParts
		out, ok := along[i]
		if !ok {
			out = a.at.Sub(at).Unit()
		}
		c := geom.Cubic{at, at.Add(out.Mul(h)), a.at.Add(a.dir.Mul(h)), a.at}
		g.splice(a, c.Flatten(geom.Polyline{at}, flatTol))
	}
}

// splice puts head in the place of the arm's first stretch.
func (g *graph) splice(a arm, head geom.Polyline) {
	pts, _ := g.away(a.branch)
	s := 0.0
	tail := len(pts) - 1
	for i := 1; i < len(pts); i++ {
		s += pts[i-1].Dist(pts[i])
		if s > a.cut {
			tail = i
			break
		}
	}
	out := append(head, pts[tail:]...)
	l := &g.links[a.link]
	if a.end {
		out = out.Reversed()
	}
	l.pts, l.rad = out, make([]float64, len(out))
	for i := range l.rad {
		l.rad[i] = l.r
	}
}
