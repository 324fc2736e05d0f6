package strip

import (
	"cmp"
	"math"
	"slices"

	"inkchannel/geom"
)

// A Fit says how far lines may change so that strip, which is cut only at its marks, fills
// them.
type Fit struct {
	End   float64 // mm by which a free end may move along its line
	Size  float64 // share by which the drawing, or a closed line by itself, may grow or shrink
	Apart float64 // mm that what is moved keeps from other lines
	Stay  bool    // the box about all lines stays as it is
	Grow  bool    // the drawing may only grow: its lines are as near each other as may be
}

// A Change is what was done to a line: its end moved by so many mm, or a closed line's
// size, 1 for as it was.
type Change struct {
	Curve int
	At    geom.Point // the end as it is now, the middle of a closed line
	By    float64
	Size  float64

	from geom.Point // the end as it was
}

const (
	fitSlack  = 0.05 // mm that a line is longer than its strip, for rounding
	fitLeast  = 0.5  // mm left over that are not worth a change
	sizeSlack = 0.3  // mm by which a length at another size may differ: rounded bends keep their radius
	sizeCost  = 100  // mm of dark that the drawing's whole size is worth,
	shapeCost = 200  // and its width by its height
	loopSide  = 1    // mm by which a small closed line may grow or shrink to each side in any case
	sizeSteps = 10   // sizes that are tried to either side
)

// Sizes returns the sizes of the drawing, its width and height by those that it has, at which
// least of it stays dark in stretches that matter, the best first and at most n; ends and
// closed lines are taken as Fitted mends them.
func (p Plan) Sizes(set Settings, n int) []geom.Point {
	var all []sized
	p.eachSize(set, 1, func(s sized) { all = append(all, s) })
	slices.SortStableFunc(all, func(a, b sized) int { return cmp.Compare(a.cost, b.cost) })
	var out []geom.Point
	for _, o := range all[:min(n, len(all))] {
		out = append(out, o.size)
	}
	return out
}

// Around returns the sizes that the drawing may have about one, off by half of what Sizes' differ by: its width, its
// height or both.
func (f Fit) Around(size geom.Point) (out []geom.Point) {
	step := f.Size / sizeSteps / 2
	for i := -1.0; i <= 1; i++ {
		for k := -1.0; k <= 1; k++ {
			at := size.Add(geom.Pt(i, k).Mul(step))
			off := max(math.Abs(at.X-1), math.Abs(at.Y-1))
			if at == size || off > f.Size+sizeGrain || f.Grow && min(at.X, at.Y) < 1-sizeGrain {
				continue
			}
			out = append(out, at)
		}
	}
	return out
}

// sizeGrain is how far two sizes may differ by rounding.
const sizeGrain = 1e-9

// A sized is a size and what it costs: what stays dark, mm, and what it is off.
type sized struct {
	size       geom.Point
	dark, cost float64
}

// eachSize goes over the sizes that the drawing may have, every so many steps.
func (p Plan) eachSize(set Settings, every int, each func(sized)) {
	step := set.Fit.Size / sizeSteps
	for i := -sizeSteps; i <= sizeSteps; i += every {
		for k := -sizeSteps; k <= sizeSteps; k += every {
			size := geom.Pt(1+float64(i)*step, 1+float64(k)*step)
			if set.Fit.Grow && min(i, k) < 0 || step == 0 && (i != 0 || k != 0) {
				continue
			}
			off := math.Abs(size.X-1) + math.Abs(size.Y-1)
			dark := p.darkAt(size, set)
			each(sized{size, dark, dark + sizeCost/2*off + shapeCost*math.Abs(size.X-size.Y)})
		}
	}
}

// darkAt is the length that stays dark at a size.
func (p Plan) darkAt(size geom.Point, set Settings) (sum float64) {
	for _, q := range p.Pieces {
		was := q.Path
		q.Path = q.extent.Dot(size)
		slack := min(sizeSlack, math.Abs(q.Path-was))
		q.Path -= slack
		if by := q.wanted(set); len(by) > 0 && q.mends(by[0], set.Fit) {
			q.Path += by[0]
			slack = 0
		}
		set.cut(&q)
		q.Path, q.Gaps[0], q.Gaps[1] = q.Path+slack, q.Gaps[0]+slack/2, q.Gaps[1]+slack/2
		sum += q.shared(set).cost()
	}
	return sum
}

// wanted is by how much a piece may become longer to be filled, the least first; none if it is
// about full.
func (p Piece) wanted(set Settings) []float64 {
	gaps := p.gapsAtLeast(set)
	room := p.Path - gaps[0] - gaps[1]
	left := room - math.Floor(max(room+1e-6, 0)/set.Cut)*set.Cut
	shorter, longer := fitSlack-left, set.Cut+fitSlack-left
	switch {
	case room < set.Cut:
		return []float64{longer}
	case left < fitLeast:
		return nil
	case left < set.Cut/2:
		return []float64{shorter, longer}
	default:
		return []float64{longer, shorter}
	}
}

// mends tells whether a piece may become so much longer, at its free ends or by its own
// size on top of the drawing's.
func (p Piece) mends(by float64, fit Fit) bool {
	if p.loop() {
		return fit.Size > 0 && math.Abs(by) <= max(fit.Size*p.Path, 2*math.Pi*loopSide)+1e-9
	}
	return p.free() > 0 && math.Abs(by) <= float64(p.free())*fit.End+1e-9
}

// loop tells whether a piece is a closed line that meets no other.
func (p Piece) loop() bool { return p.Start.Node == p.End.Node && !p.meets }

// free is how many of a piece's ends are free.
func (p Piece) free() (n int) {
	for _, e := range []Place{p.Start, p.End} {
		if e.Free && !p.Closed {
			n++
		}
	}
	return n
}

// Fitted returns the lines that the plan covers, changed so that strip fills its pieces: free
// ends are moved along their lines, and closed lines that meet no other grow or shrink about
// their middle. What would come too near to another line is left.
func (p Plan) Fitted(c geom.Centreline, set Settings) (geom.Centreline, []Change) {
	out := c
	out.Curves, out.Knots = slices.Clone(c.Curves), slices.Clone(c.Knots)
	var changes []Change
	for _, q := range p.Pieces {
		for _, by := range q.wanted(set) {
			if !q.mends(by, set.Fit) {
				continue
			}
			was := geom.Centreline{Curves: slices.Clone(out.Curves), Knots: slices.Clone(out.Knots)}
			made := q.changed(&out, by)
			if set.Fit.Stay && !sameBox(was.Curves, out.Curves) {
				out.Curves, out.Knots = was.Curves, was.Knots
				continue
			}
			if by < 0 || apart(was.Curves, out.Curves, made, set.Fit.Apart) {
				changes = append(changes, made...)
				break
			}
			out.Curves, out.Knots = was.Curves, was.Knots
		}
	}
	return out, changes
}

// changed makes a piece's lines so much longer.
func (p Piece) changed(c *geom.Centreline, by float64) (out []Change) {
	if p.loop() {
		k := p.Spans[0].Curve
		about, size := middle(c.Curves[k]), (p.Path+by)/p.Path
		scaled := func(q geom.Point) geom.Point { return about.Add(q.Sub(about).Mul(size)) }
		c.Curves[k] = geom.Centreline{Curves: []geom.Curve{c.Curves[k]}}.Mapped(scaled).Curves[0]
		for _, s := range c.Curves[k].Stops {
			c.Knots[s.Knot].At = c.Curves[k].Pieces[s.Piece%len(c.Curves[k].Pieces)][0]
		}
		return []Change{{Curve: k, At: about, Size: size}}
	}
	by /= float64(p.free())
	first, last := p.Spans[0], p.Spans[len(p.Spans)-1]
	move := func(s Span, atStart bool) {
		var ends [2]float64
		which := 1
		if atStart {
			which = 0
		}
		ends[which] = by
		now := c.Curves[s.Curve].EndsMoved(ends[0], ends[1])
		c.Curves[s.Curve] = now
		tip, stop := now.Pieces[0][0], now.Stops[0]
		if !atStart {
			tip, stop = now.Pieces[len(now.Pieces)-1][3], now.Stops[len(now.Stops)-1]
		}
		out = append(out, Change{Curve: s.Curve, At: tip, By: by, Size: 1, from: c.Knots[stop.Knot].At})
		c.Knots[stop.Knot].At = tip
	}
	if p.Start.Free {
		move(first, first.From < first.To)
	}
	if p.End.Free {
		move(last, last.From > last.To)
	}
	return out
}

// middle is the middle of a curve's box.
func middle(c geom.Curve) geom.Point {
	b := geom.Bounds(c.Flatten(0.1))
	return b.Min.Lerp(b.Max, 0.5)
}

// apart tells whether what became longer keeps its distance from the other lines, or does not
// come nearer to them.
func apart(was, now []geom.Curve, made []Change, least float64) bool {
	for _, m := range made {
		mine := now[m.Curve].Flatten(flat)
		for i := range now {
			other := now[i].Flatten(flat)
			var d, before float64
			switch {
			case m.Size != 1 && i == m.Curve:
				continue
			case m.Size != 1:
				d, before = gap(mine, other), gap(was[m.Curve].Flatten(flat), other)
			default:
				if i == m.Curve {
					other = beyond(mine, m.At, 2*least)
				}
				d = min(other.DistanceTo(m.At), other.DistanceTo(m.At.Lerp(m.from, 0.5)))
				before = other.DistanceTo(m.from)
			}
			if d < min(least, before)-1e-6 {
				return false
			}
		}
	}
	return true
}

// sameBox tells whether the box about the lines is about as it was.
func sameBox(was, now []geom.Curve) bool {
	a, b := geom.BoundsOf(was, flat), geom.BoundsOf(now, flat)
	return max(a.Min.Dist(b.Min), a.Max.Dist(b.Max)) < boxStays
}

// boxStays is how far, mm, the corners of the box about the lines may go.
const boxStays = 0.3

// flat is how far, mm, a polyline may stray from its curve where distances are looked at.
const flat = 0.05

// gap is how near two lines come to each other at their points.
func gap(a, b geom.Polyline) float64 {
	d := math.Inf(1)
	for _, q := range a.Resampled(1) {
		d = min(d, b.DistanceTo(q))
	}
	return d
}

// beyond is the line more than so many mm along it from its end at a tip.
func beyond(line geom.Polyline, tip geom.Point, far float64) geom.Polyline {
	if line[0].Dist(tip) < line[len(line)-1].Dist(tip) {
		line = line.Reversed()
	}
	return line.Resampled(1)[:max(int(line.Length()-far), 0)]
}
