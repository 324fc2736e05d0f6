package vision

import (
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
)

// How near a choice must have been to its limit to be doubtful, as shares of
// the limit. Found on the wide accuracy set: wrong readings lie within.
const (
	doubtSpur   = 1.0  // pen widths that a dropped end stuck out at least
	doubtKept   = 1.7  // a kept end that sticks out less
	doubtTip    = 1.8  // a kept end at a corner that is shorter, by how long a corner's tip is: legs that bend have longer ones
	doubtMerge  = 0.8  // junctions taken for one that lay farther apart
	doubtBend   = 15   // degrees by which lines turn that cross along a shared stretch
	doubtApart  = 1.35 // junctions kept two that lie nearer
	doubtGap    = 1.0  // pen widths without ink between an end and another line,
	doubtGapMM  = 1.2  // or mm, if that is more,
	doubtAhead  = 55   // degrees off the end's direction at most,
	doubtTouch  = 0.4  // or pen widths without ink whichever way it lies
	doubtDark   = 0.3  // of the usual contrast beyond what counts as ink
	doubtWide   = 1.45 // times as broad as the pen's line
	doubtBeside = 50   // degrees between two arms that leave side by side
	doubtOwn    = 8    // pen radii along a line from its end that are its own last stretch, no gap
	doubtShort  = 3    // pen radii: a line shorter than this from the same place is no other line to meet
	joinedNear  = 2    // px of a line that joins ends by hand
	doubtLong   = 4    // pen radii that a broad line is long at least; a shorter one is a blot
)

// doubt notes that the lines at a place could be read another way, and how much
// line, px, would then be another.
func (g *graph) doubt(at geom.Point, stake float64, why string, args ...any) {
	g.doubts = append(g.doubts, Doubt{At: at, Stake: stake, Why: fmt.Sprintf(why, args...)})
}

// doubtWeakly is doubt where it says little if there are many such places.
func (g *graph) doubtWeakly(at geom.Point, stake float64, why string, args ...any) {
	g.doubts = append(g.doubts, Doubt{At: at, Stake: stake, Why: fmt.Sprintf(why, args...), Weak: true})
}

// doubtEnds notes dead ends that were kept but hardly stick out of the ink they
// leave, or may be the tip of a sharp corner.
func (g *graph) doubtEnds(least float64) {
	at, pen := g.branches(), g.penRadius()
	for i, l := range g.links {
		tip, j, ok := l.deadEnd(at)
		if !ok {
			continue
		}
		length := l.pts.Length()
		if limit, ok := g.cornerTip(i, at[j], j, pen); ok && length < doubtTip*limit {
			g.doubt(g.nodes[tip].at, length, "two lines meet in a tail of %.1f mm; it may be a sharp corner", length*g.mm)
		} else if out := length + g.nodes[tip].r - g.nodes[j].r; out < doubtKept*least {
			g.doubtWeakly(g.nodes[tip].at, out, "an end sticks out by only %.1f mm; it may be a slip of the pen", out*g.mm)
		}
	}
}

// doubtGaps notes free ends that stop just short of other ink.
func (g *graph) doubtGaps() {
	pen := g.penRadius()
	for n, bs := range g.branches() {
		if len(bs) != 1 {
			continue
		}
		p, mine := g.nodes[n].at, bs[0].link
		best, nearest := math.Inf(1), p
		ahead := g.endDirection(bs[0], pen)
		for i, l := range g.links {
			if l.dead {
				continue
			}
			pts := l.pts
			if i == mine { // but for the line's own last stretch
				pts, _ = g.away(bs[0])
				pts = after(pts, doubtOwn*pen)
			}
			if len(pts) < 2 || g.far(bs[0]) == l.a && i != mine && l.pts.Length() < doubtShort*pen {
				continue
			}
			if _, _, at, d := pts.Nearest(p); d-l.r < best {
				best, nearest = d-l.r, at
			}
		}
		reach := max(doubtGap*2*pen, doubtGapMM/g.mm)
		if nearest.Sub(p).Angle(ahead) > doubtAhead {
			reach = doubtTouch * 2 * pen
		}
		if gap := best - g.nodes[n].r; gap > 0 && gap < reach {
			g.doubt(p, gap, "a line ends %.1f mm from another; they may be meant to meet", gap*g.mm)
		}
	}
}

// endDirection is where a line that ends in b's node, by a pen of that radius, would
// go on to.
func (g *graph) endDirection(b branch, pen float64) geom.Point {
	pts, _ := g.away(b)
	far := pts.At(min(doubtOwn*pen/2, pts.Length()))
	return pts[0].Sub(far)
}

// after is what of pl lies further than s along it.
func after(pl geom.Polyline, s float64) geom.Polyline {
	for i := 1; i < len(pl); i++ {
		if s -= pl[i-1].Dist(pl[i]); s < 0 {
			return pl[i:]
		}
	}
	return nil
}

// doubtPale notes stretches where a line is hardly darker than what counts as
// ink.
func (g *graph) doubtPale() {
	pale := doubtDark * g.usualDarkness()
	pen := g.penRadius()
	for _, l := range g.links {
		run := 0.0
		for i := 1; i < len(l.pts) && !l.dead; i++ {
			if g.levelAt(l.pts[i]) > pale || g.isJoined(l.pts[i]) {
				run = 0
				continue
			}
			before := run
			run += l.pts[i-1].Dist(l.pts[i])
			if least := max(2*pen, noiseSpur); before < least && run >= least {
				g.doubtWeakly(l.pts[i], run, "a line is so pale that it may not be a line, or may have a gap")
			}
		}
	}
}

// isJoined tells whether a line is at a place because ends were joined there by hand: who did that wants it
// without ink.
func (g *graph) isJoined(p geom.Point) bool {
	return slices.ContainsFunc(g.joined, func(l geom.Polyline) bool { return l.DistanceTo(p) <= joinedNear })
}

// doubtWidths notes lines much broader than the pen: two that run side by side
// share their ink.
func (g *graph) doubtWidths() {
	pen := g.penRadius()
	for _, l := range g.links {
		if !l.dead && l.r > doubtWide*pen && l.pts.Length() > doubtLong*pen {
			g.doubtWeakly(
				l.pts.At(l.pts.Length()/2), l.pts.Length(),
				"a line is %.1f mm wide where the pen's is %.1f mm; it may be two lines side by side", 2*l.r*g.mm,
				2*pen*g.mm,
			)
		}
	}
}

// doubtShared notes stretches that two lines which touch run along as one: at
// both ends two arms leave side by side.
func (g *graph) doubtShared() {
	at := g.branches()
	for i, l := range g.links {
		if l.dead || l.a == l.b || len(at[l.a]) != 3 || len(at[l.b]) != 3 {
			continue
		}
		p, q := g.arms(l.a, at[l.a], i), g.arms(l.b, at[l.b], i)
		if len(p) == 2 && len(q) == 2 && p[0].dir.Angle(p[1].dir) < doubtBeside &&
			q[0].dir.Angle(q[1].dir) < doubtBeside {
			g.doubt(
				l.pts.At(l.pts.Length()/2), l.pts.Length(),
				"two lines run as one for %.1f mm; they may be meant to cross or to touch", l.pts.Length()*g.mm,
			)
		}
	}
}
