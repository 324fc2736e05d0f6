package geom

import "math"

// A Polyline is a chain of points joined by straight lines.
type Polyline []Point

// Length returns the sum of the segments' lengths.
func (pl Polyline) Length() float64 {
	sum := 0.0
	for i := 1; i < len(pl); i++ {
		sum += pl[i-1].Dist(pl[i])
	}
	return sum
}

// Middle is the middle of lines by their length, the mean of all their places; the origin if they have none.
func Middle(lines []Polyline) Point {
	var sum Point
	length := 0.0
	for _, l := range lines {
		for i := 1; i < len(l); i++ {
			d := l[i-1].Dist(l[i])
			sum, length = sum.Add(l[i-1].Lerp(l[i], 0.5).Mul(d)), length+d
		}
	}
	if length == 0 {
		return Point{}
	}
	return Pt(sum.X/length, sum.Y/length)
}

// TotalLength returns the sum of the lengths of all.
func TotalLength[L interface{ Length() float64 }](all []L) float64 {
	sum := 0.0
	for _, l := range all {
		sum += l.Length()
	}
	return sum
}

// Reversed returns pl run the other way.
func (pl Polyline) Reversed() Polyline {
	out := make(Polyline, len(pl))
	for i, p := range pl {
		out[len(pl)-1-i] = p
	}
	return out
}

// Scaled returns pl with each coordinate multiplied by k.
func (pl Polyline) Scaled(k float64) Polyline {
	out := make(Polyline, len(pl))
	for i, p := range pl {
		out[i] = p.Mul(k)
	}
	return out
}

// At returns the point at arc length s from the start, clamped to the ends.
func (pl Polyline) At(s float64) Point {
	for i := 1; i < len(pl); i++ {
		d := pl[i-1].Dist(pl[i])
		if s <= d && d > 0 {
			return pl[i-1].Lerp(pl[i], max(s, 0)/d)
		}
		s -= d
	}
	return pl[len(pl)-1]
}

// AtDistance returns the point at arc length d from the start, given the arc
// length s of each point; a closed chain goes on past its ends, another stops
// there.
func (pl Polyline) AtDistance(s []float64, d float64, closed bool) Point {
	lo, hi := 0, len(s)-1
	if l := s[hi]; closed && l > 0 {
		d = math.Mod(math.Mod(d, l)+l, l)
	}
	if d <= 0 {
		return pl[0]
	}
	if d >= s[hi] {
		return pl[hi]
	}
	for hi-lo > 1 {
		if m := (lo + hi) / 2; s[m] <= d {
			lo = m
		} else {
			hi = m
		}
	}
	step := s[hi] - s[lo]
	if step == 0 {
		return pl[lo]
	}
	return pl[lo].Lerp(pl[hi], (d-s[lo])/step)
}

// Resampled returns pl with its points spread evenly, as near to step apart
// as a whole number of steps allows. Both ends are kept exactly; a chain with
// no length comes back as its two ends.
func (pl Polyline) Resampled(step float64) Polyline {
	if len(pl) < 2 {
		return pl
	}
	total := pl.Length()
	n := max(int(total/step+0.5), 1)
	out := make(Polyline, 0, n+1)
	out = append(out, pl[0])
	i, done := 1, 0.0
	for k := 1; k < n; k++ {
		want := total * float64(k) / float64(n)
		for i < len(pl)-1 && done+pl[i-1].Dist(pl[i]) < want {
			done += pl[i-1].Dist(pl[i])
			i++
		}
		d := pl[i-1].Dist(pl[i])
		if d == 0 {
			out = append(out, pl[i])
			continue
		}
		out = append(out, pl[i-1].Lerp(pl[i], (want-done)/d))
	}
	return append(out, pl[len(pl)-1])
}

// Foot returns the point of segment a–b nearest to p, and how far along the
// segment it lies, from 0 at a to 1 at b.
func Foot(a, b, p Point) (foot Point, t float64) {
	ab := b.Sub(a)
	n := ab.Dot(ab)
	if n == 0 {
		return a, 0
	}
	t = min(max(p.Sub(a).Dot(ab)/n, 0), 1)
	return a.Lerp(b, t), t
}

// Nearest returns the place of pl nearest to p: the segment, from point i to point
// i + 1, the share t along it, the place itself and its distance; the first at a
// draw. A chain of one point has that, a chain of none is infinitely far.
func (pl Polyline) Nearest(p Point) (i int, t float64, at Point, distance float64) {
	if len(pl) == 1 {
		return 0, 0, pl[0], pl[0].Dist(p)
	}
	least := math.Inf(1) // of the squares
	for k := 1; k < len(pl); k++ {
		f, share := Foot(pl[k-1], pl[k], p)
		off := f.Sub(p)
		if d := off.Dot(off); d < least {
			i, t, at, least = k-1, share, f, d
		}
	}
	return i, t, at, math.Sqrt(least)
}

// DistanceTo returns the distance from p to the nearest point of pl.
func (pl Polyline) DistanceTo(p Point) float64 {
	_, _, _, d := pl.Nearest(p)
	return d
}

// Encloses reports whether p lies within the outline that pl makes, its end joined to its
// start: a ray from p crosses it an odd number of times. On the outline either may be said.
func (pl Polyline) Encloses(p Point) bool {
	in := false
	for i, a := range pl {
		b := pl[(i+1)%len(pl)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}
