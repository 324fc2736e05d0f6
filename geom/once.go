package geom

import "math"

// How Once tells a line that lies on another, by shares of the drawing's longer side.
const (
	onceStep  = 1e-3 // between the places that are looked at
	onceOff   = 5e-5 // that they are off each other
	onceLeast = 1e-2 // that must be so to count
	onceTurn  = 5e-3 // sine of the angle between them
	onceMost  = 2e3  // of line, all in all: with more, none is looked at
)

// Once leaves out of curves every stretch that lies on an earlier curve, or on what the same curve has
// drawn before, and returns how long in all those were, in the unit of the curves. What is left of a curve that loses one is open.
// Lines that only touch, cross or part from each other smoothly stay whole. A drawing of very much line
// for its size is left as it is.
func Once(curves []Curve) (out []Curve, twice float64) {
	size := BoundsOf(curves, 1).Size()
	long := max(size.X, size.Y)
	rulers, total := Rulers(curves), 0.0
	for _, r := range rulers {
		total += r.Length()
	}
	if long == 0 || total > onceMost*long {
		return curves, 0
	}
	o := once{step: onceStep * long, near: NewGrid[drawnAt](2 * onceStep * long), long: long}
	for i, c := range curves {
		r := rulers[i]
		kept := o.kept(i, r)
		if len(kept) == 1 && kept[0] == [2]float64{0, r.Length()} {
			out = append(out, c)
			continue
		}
		left := r.Length()
		for _, k := range kept {
			left -= k[1] - k[0]
			out = append(out, Curve{Pieces: r.Sub(k[0], k[1]), Corners: c.Corners, Ink: c.Ink})
		}
		twice += left
	}
	return out, twice
}

// A once keeps places that were drawn.
type once struct {
	step, long float64
	near       *Grid[drawnAt]
}

type drawnAt struct {
	curve      int
	s          float64
	at, toward Point
}

// kept are the stretches of curve i, from and to along it, that lie on nothing drawn before. Each goes on
// for a step on what it meets.
func (o once) kept(i int, r *Ruler) (kept [][2]float64) {
	l := r.Length()
	n := max(int(math.Ceil(l/o.step)), 1)
	step := l / float64(n)
	from, on := 0.0, 0 // where what is kept began, and how many places in a row lie on others
	for k := range n + 2 {
		s := float64(k) * step
		if k <= n {
			d := drawnAt{i, s, r.At(s), r.Heading(s)}
			lies := o.has(d)
			o.near.Put(d.at, d)
			if lies {
				on++
				continue
			}
		}
		if first := s - float64(on)*step; s-step-first >= onceLeast*o.long {
			if first > step {
				kept = append(kept, [2]float64{from, first})
			}
			from = s - step
		}
		on = 0
	}
	if l-from > step {
		kept = append(kept, [2]float64{from, l})
	}
	return kept
}

// has tells whether a place lies on one drawn before: near by on the same curve, only if the line came
// back.
func (o once) has(d drawnAt) bool {
	for q := range o.near.Near(d.at) {
		away := d.at.Sub(q.at)
		if q.curve == d.curve && d.s-q.s < 2*onceLeast*o.long && d.toward.Dot(q.toward) > 0 {
			continue
		}
		if math.Abs(away.Dot(q.toward)) <= o.step && math.Abs(away.Cross(q.toward)) <= onceOff*o.long &&
			math.Abs(d.toward.Cross(q.toward)) <= onceTurn {
			return true
		}
	}
	return false
}
