package vision

import (
	"fmt"
	"math"

	"inkchannel/geom"
)

// What a person says about the traced lines by pointing at them. Places are px
// here; errors name them in mm, as the settings do.

// pointReach is how far from a line, in mm, a place may be that means it.
const pointReach = 4

// An editor changes a graph by hand.
type editor struct {
	*graph
	pxPerMm float64
}

func (e editor) name(p geom.Point) string {
	return fmt.Sprintf("x %.1f, y %.1f mm", p.X/e.pxPerMm, p.Y/e.pxPerMm)
}

func (e editor) reach() float64 { return pointReach * e.pxPerMm }

// drop takes out the link nearest to each place, up to the junctions or ends
// where it stops. It returns the edge points that are left once those of the
// dropped links' ink are gone, as they would pull at what stays.
func (e editor) drop(places []geom.Point, edges []edgePoint) ([]edgePoint, error) {
	for _, p := range places {
		best, least := -1, e.reach()
		for i, l := range e.links {
			if d := l.pts.DistanceTo(p); !l.dead && d < least {
				best, least = i, d
			}
		}
		if best < 0 {
			return nil, fmt.Errorf("there is no line to remove within %d mm of %s", pointReach, e.name(p))
		}
		edges = e.forget(best, edges)
		e.links[best].dead = true
	}
	e.mergeThrough()
	return edges, nil
}

// forget returns the edge points without those about link i's own ink: what
// lies beyond the discs of ink about its junctions.
func (e editor) forget(i int, edges []edgePoint) []edgePoint {
	l := e.links[i]
	total, r := l.pts.Length(), e.penRadius()
	skip := [2]float64{}
	for k, n := range [2]int{l.a, l.b} {
		if len(e.branchesOf(n)) > 1 {
			skip[k] = e.nodes[n].r
		} else {
			skip[k] = -2 * r // the ink goes on past an end
		}
	}
	var own geom.Polyline
	s := 0.0
	for k, p := range l.pts {
		if k > 0 {
			s += l.pts[k-1].Dist(p)
		}
		if s >= skip[0] && total-s >= skip[1] {
			own = append(own, p)
		}
	}
	if len(own) < 2 {
		return edges
	}
	box := geom.Bounds(own)
	reach := 1.3*r + 1
	var out []edgePoint
	for _, q := range edges {
		near := q.X > box.Min.X-reach && q.X < box.Max.X+reach && q.Y > box.Min.Y-reach && q.Y < box.Max.Y+reach
		if !near || own.DistanceTo(q) > reach {
			out = append(out, q)
		}
	}
	return out
}

// join draws a line between the free ends nearest to each two places: smoothly
// on from both where they look at each other, else straight.
func (e editor) join(places []geom.Point) error {
	for i := 0; i+1 < len(places); i += 2 {
		e.measure() // the links' radii, by which arms are found
		var node [2]int
		for k, p := range places[i : i+2] {
			if node[k] = e.endNear(p); node[k] < 0 {
				return fmt.Errorf("there is no free end to join within %d mm of %s", pointReach, e.name(p))
			}
		}
		if node[0] == node[1] {
			return fmt.Errorf(
				"%s and %s are at the same free end, which cannot be joined to itself", e.name(places[i]),
				e.name(places[i+1]),
			)
		}
		a, b := e.arm(e.branchesOf(node[0])[0], 0), e.arm(e.branchesOf(node[1])[0], 0)
		a.at, b.at = e.nodes[node[0]].at, e.nodes[node[1]].at
		l := link{a: node[0], b: node[1], pts: geom.Polyline{a.at, b.at}}
		if turn(a, b) < maxTurn {
			l.pts = bridge(a, b).Flatten(geom.Polyline{a.at}, flatTol)
		}
		l.pts = l.pts.Resampled(1)
		r := e.penRadius()
		for range l.pts {
			l.rad = append(l.rad, r)
		}
		e.links = append(e.links, l)
		e.joined = append(e.joined, l.pts)
		e.mergeThrough()
	}
	return nil
}

// endNear is the free end nearest to p, -1 if none is within reach.
func (e editor) endNear(p geom.Point) int {
	best, least := -1, e.reach()
	for n, bs := range e.branches() {
		if d := e.nodes[n].at.Dist(p); len(bs) == 1 && d < least {
			best, least = n, d
		}
	}
	return best
}

// passes tells, for each two places on lines that meet at a junction, which of
// its branches run on into each other.
func (e editor) passes(places []geom.Point) (pairing, error) {
	out := pairing{}
	at := e.branches()
	for i := 0; i+1 < len(places); i += 2 {
		p, q := places[i], places[i+1]
		var best [2]branch
		least := math.Inf(1)
		for n, bs := range at {
			if len(bs) < 3 {
				continue
			}
			// Two lines may meet at two junctions: the nearer one is meant.
			far := 0.2 * (e.nodes[n].at.Dist(p) + e.nodes[n].at.Dist(q))
			for _, b := range bs {
				dp := e.nearHalf(b).DistanceTo(p)
				if dp > e.reach() || dp+far > least {
					continue
				}
				for _, c := range bs {
					if dq := e.nearHalf(c).DistanceTo(q); b != c && dq <= e.reach() && dp+dq+far < least {
						best, least = [2]branch{b, c}, dp+dq+far
					}
				}
			}
		}
		if math.IsInf(least, 1) {
			return nil, fmt.Errorf(
				"no two lines that meet at a junction lie within %d mm of %s and %s, so there is nothing to "+
					"continue there", pointReach, e.name(p), e.name(q),
			)
		}
		for _, b := range best {
			if _, taken := out[b]; taken {
				return nil, fmt.Errorf("the line at %s or %s is continued twice at one junction", e.name(p), e.name(q))
			}
		}
		out[best[0]], out[best[1]] = best[1], best[0]
	}
	return out, nil
}

// nearHalf is the half of a branch's line that is nearer to its node.
func (e editor) nearHalf(b branch) geom.Polyline {
	pts, _ := e.away(b)
	half := pts.Length() / 2
	s := 0.0
	for i := 1; i < len(pts); i++ {
		d := pts[i-1].Dist(pts[i])
		if s+d >= half {
			return append(append(geom.Polyline{}, pts[:i]...), pts.At(half))
		}
		s += d
	}
	return pts
}
