package strip

import (
	"slices"

	"inkchannel/geom"
)

// A Dark is a stretch of line that no strip lights; where several meet in a node that stays
// dark, the longest way through it.
type Dark struct {
	Piece  int
	At     geom.Point // its middle
	Length float64    // mm
}

// Dark lists the stretches longer than least, mm, that stay dark: no strip, half mm to
// either side of its line, lies on them.
func (p Plan) Dark(c geom.Centreline, half, least float64) []Dark {
	rulers := geom.Rulers(c.Curves)
	strips := p.laid(rulers)
	var all []Dark
	atNode := map[int]int{} // of what meets there, which of all they are together
	arms := map[int][]float64{}
	for i, q := range p.Pieces {
		for _, d := range q.dark(i, rulers, strips, half) {
			here := Dark{i, at(q, rulers, (d[0]+d[1])/2), d[1] - d[0]}
			node, ok := q.nodeIn(d)
			if !ok {
				all = append(all, here)
				continue
			}
			arms[node] = append(arms[node], here.Length)
			if k, more := atNode[node]; more {
				all[k].At, all[k].Length = q.placeOf(node), longestWay(arms[node])
				continue
			}
			atNode[node] = len(all)
			all = append(all, here)
		}
	}
	return slices.DeleteFunc(all, func(d Dark) bool { return d.Length <= least })
}

// longestWay is the longest way through a node, from the lengths of its arms.
func longestWay(arms []float64) float64 {
	long := slices.Sorted(slices.Values(arms))
	return long[len(long)-1] + long[len(long)-2]
}

// dark are the stretches of piece i, from and to mm along it, that no strip lights.
func (p Piece) dark(i int, rulers []*geom.Ruler, strips []lay, half float64) (out [][2]float64) {
	for _, d := range p.bare() {
		from, middle := d[0], (d[0]+d[1])/2
		lines := p.lights(strips, i, min(int(2*middle/p.Path), 1), at(p, rulers, middle), (d[1]-d[0])/2+half+lightReach)
		for s := d[0]; s < d[1]+darkStep; s += darkStep {
			if s < d[1] && !onAny(lines, at(p, rulers, min(s, d[1])), half) {
				continue
			}
			if to := min(s, d[1]); to-from > darkStep {
				out = append(out, [2]float64{from, to})
			}
			from = s + darkStep
		}
	}
	return out
}

// nodeIn is the node that a stretch of a piece begins or ends with, or goes over.
func (p Piece) nodeIn(d [2]float64) (node int, ok bool) {
	switch {
	case d[0] < darkStep, p.Closed && d[0] < p.Path && d[1] > p.Path:
		return p.Start.Node, true
	case d[1] > p.Path-darkStep:
		return p.End.Node, true
	}
	return 0, false
}

// placeOf is where the piece has a node at its start or end.
func (p Piece) placeOf(node int) geom.Point {
	if p.Start.Node == node {
		return p.Start.At
	}
	return p.End.At
}

// darkStep is how far apart, mm, the places are where it is looked whether a line is lit.
const darkStep = 0.1

// lightReach is how much further than it lights, mm, strip is looked at: its points are 1 mm apart.
const lightReach = 3

// A lay is the line on which a piece's strip lies, and the box about it; no line for none.
type lay struct {
	line geom.Polyline
	box  geom.Rect
}

// laid are where the pieces' strip lies.
func (p Plan) laid(rulers []*geom.Ruler) []lay {
	out := make([]lay, len(p.Pieces))
	for i, q := range p.Pieces {
		out[i] = q.laid(rulers)
	}
	return out
}

// laid is where a piece's strip lies.
func (p Piece) laid(rulers []*geom.Ruler) (out lay) {
	if p.Strip == 0 {
		return out
	}
	end := p.Path - p.Gaps[1]
	for s := p.Gaps[0]; s < end-leastStep; s++ {
		out.line = append(out.line, at(p, rulers, s))
	}
	out.line = append(out.line, at(p, rulers, end))
	out.box = geom.Bounds(out.line)
	return out
}

// leastStep is how far before its last point, mm, a line's last but one is: they tell which way its end heads.
const leastStep = 0.01

// near tells whether a place may be so near to the strip.
func (l lay) near(p geom.Point, far float64) bool {
	return len(l.line) > 1 && p.X > l.box.Min.X-far && p.X < l.box.Max.X+far && p.Y > l.box.Min.Y-far && p.Y < l.box.Max.Y+far
}

// beyondOwn is the line without what is near a start, 0, or an end, 1.
func beyondOwn(line geom.Polyline, end int) geom.Polyline {
	if end == 0 {
		return line[min(ownEnds, len(line)):]
	}
	return line[:max(len(line)-ownEnds, 0)]
}

// lights are the lines of strip that may light places so near to one at an end of piece i, of its own what
// is not near its ends, or near to that end only where it comes back to it round a corner.
func (p Piece) lights(strips []lay, i, end int, about geom.Point, reach float64) (out []geom.Polyline) {
	for k, s := range strips {
		if !s.near(about, reach) {
			continue
		}
		line := s.line
		if k == i {
			line = beyondOwn(line, end)
			if p.Closed || p.Start.Node != p.End.Node {
				line = beyondOwn(line, 1-end)
			}
		}
		out = append(out, within(line, about, reach)...)
	}
	return out
}

// within are the parts of a line that are so near to a place, of two points and more.
func within(line geom.Polyline, about geom.Point, reach float64) (out []geom.Polyline) {
	from := 0
	for j := range len(line) + 1 {
		if j < len(line) && line[j].Dist(about) < reach {
			continue
		}
		if j-from > 1 {
			out = append(out, line[from:j])
		}
		from = j + 1
	}
	return out
}

// onAny tells whether a place is lit by one of the lines of strip.
func onAny(lines []geom.Polyline, at geom.Point, half float64) bool {
	return slices.ContainsFunc(lines, func(l geom.Polyline) bool {
		off, past := from(l, at)
		return off < half && past < endGlow
	})
}

// endGlow is how far past its square end, mm, strip lights a line that it ends at.
const endGlow = 1

// from is how far a place is from a line, mm, and how far past the end that it is nearest to, 0
// for none: strip ends square there.
func from(line geom.Polyline, p geom.Point) (off, past float64) {
	off = line.DistanceTo(p)
	n := len(line)
	for _, e := range [][2]geom.Point{{line[0], line[1]}, {line[n-1], line[n-2]}} {
		if p.Dist(e[0]) <= off+1e-9 {
			past = max(past, p.Sub(e[0]).Dot(e[0].Sub(e[1]).Unit()))
		}
	}
	return off, past
}

// ownEnds is how much of either end of a piece's own strip, mm, is not asked whether it passes
// beside the end.
const ownEnds = 10

// bare are the stretches of a piece without strip of its own, from and to mm along it; where it
// is closed they are one, which ends beyond its end.
func (p Piece) bare() [][2]float64 {
	switch {
	case p.Strip == 0:
		return [][2]float64{{0, p.Path}}
	case p.Closed:
		return [][2]float64{{p.Path - p.Gaps[1], p.Path + p.Gaps[0]}}
	default:
		return [][2]float64{{0, p.Gaps[0]}, {p.Path - p.Gaps[1], p.Path}}
	}
}

// unlit is the length of the stretches longer than least at a piece's ends that no strip lights,
// as far as is known before others are laid.
func (p Piece) unlit(least float64) (sum float64) {
	dark := []float64{p.Gaps[0] - p.lit[0], p.Gaps[1] - p.lit[1]}
	switch {
	case p.Strip == 0:
		dark = []float64{p.Path - p.lit[0] - p.lit[1]}
	case p.round():
		dark = []float64{p.Gaps[0] + p.Gaps[1]}
	}
	for _, d := range dark {
		if d > least {
			sum += d
		}
	}
	return sum
}

// at is the place s mm along a piece.
func at(p Piece, rulers []*geom.Ruler, s float64) geom.Point {
	if p.Closed && s > p.Path {
		s -= p.Path
	}
	for _, q := range p.Spans {
		if s <= q.Length() {
			t := q.From + s
			if q.To < q.From {
				t = q.From - s
			}
			return rulers[q.Curve].At(t)
		}
		s -= q.Length()
	}
	return p.End.At
}
