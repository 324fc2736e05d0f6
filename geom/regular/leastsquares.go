package regular

import (
	"math"

	"inkchannel/geom"
)

// FitLine returns the line from which the points' distances, squared and
// summed, are least: a point of it and its unit direction, from the first
// point towards the last.
func FitLine(p []geom.Point) (at, dir geom.Point) {
	for _, q := range p {
		at = at.Add(q)
	}
	at = at.Mul(1 / float64(len(p)))
	var xx, xy, yy float64
	for _, q := range p {
		d := q.Sub(at)
		xx, xy, yy = xx+d.X*d.X, xy+d.X*d.Y, yy+d.Y*d.Y
	}
	s, c := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	dir = geom.Pt(c, s)
	if p[len(p)-1].Sub(p[0]).Dot(dir) < 0 {
		dir = dir.Mul(-1)
	}
	return at, dir
}

// FitCircle returns the circle from which the points' distances, squared and
// summed, are least: Gauss–Newton steps on centre and radius, as in W. Gander,
// G. H. Golub and R. Strebel, "Least-squares fitting of circles and ellipses",
// BIT 34 (1994), 558–578, starting from I. Kåsa's linear fit. ok is false for
// points that lie on a line.
func FitCircle(p []geom.Point) (centre geom.Point, radius float64, ok bool) {
	centre, radius, ok = linearCircle(p)
	if !ok {
		return centre, radius, false
	}
	for range 50 {
		// Residual |p − c| − r; its derivatives are −u and −1, u the unit
		// vector from the centre.
		var a [3][4]float64
		for _, q := range p {
			d := q.Sub(centre)
			n := d.Norm()
			if n == 0 {
				continue
			}
			row := [4]float64{-d.X / n, -d.Y / n, -1, n - radius}
			for i := range 3 {
				for k := range 4 {
					a[i][k] += row[i] * row[k]
				}
			}
		}
		x, solved := solve3(a)
		if !solved {
			return centre, radius, false
		}
		centre, radius = centre.Sub(geom.Pt(x[0], x[1])), radius-x[2]
		if math.Abs(x[0])+math.Abs(x[1])+math.Abs(x[2]) < 1e-12*(1+radius) {
			break
		}
	}
	return centre, radius, radius > 0 && !math.IsInf(radius, 0) && !math.IsNaN(radius)
}

// linearCircle minimises the sum of (|p − c|² − r²)², which is linear.
func linearCircle(p []geom.Point) (centre geom.Point, radius float64, ok bool) {
	var mean geom.Point
	for _, q := range p {
		mean = mean.Add(q)
	}
	mean = mean.Mul(1 / float64(len(p)))
	var a [3][4]float64
	for _, q := range p {
		d := q.Sub(mean)
		row := [4]float64{2 * d.X, 2 * d.Y, 1, d.Dot(d)}
		for i := range 3 {
			for k := range 4 {
				a[i][k] += row[i] * row[k]
			}
		}
	}
	x, ok := solve3(a)
	if !ok {
		return mean, 0, false
	}
	c := geom.Pt(x[0], x[1])
	return mean.Add(c), math.Sqrt(x[2] + c.Dot(c)), true
}

// solve3 solves three linear equations by elimination with pivots.
func solve3(a [3][4]float64) (x [3]float64, ok bool) {
	for i := range 3 {
		p := i
		for k := i + 1; k < 3; k++ {
			if math.Abs(a[k][i]) > math.Abs(a[p][i]) {
				p = k
			}
		}
		a[i], a[p] = a[p], a[i]
		if math.Abs(a[i][i]) < 1e-12 {
			return x, false
		}
		for k := i + 1; k < 3; k++ {
			f := a[k][i] / a[i][i]
			for j := i; j < 4; j++ {
				a[k][j] -= f * a[i][j]
			}
		}
	}
	for i := 2; i >= 0; i-- {
		x[i] = a[i][3]
		for k := i + 1; k < 3; k++ {
			x[i] -= a[i][k] * x[k]
		}
		x[i] /= a[i][i]
	}
	return x, true
}

// lineStray is how far points lie from their best line at most.
func lineStray(p []geom.Point) float64 {
	at, dir := FitLine(p)
	worst := 0.0
	for _, q := range p {
		worst = max(worst, math.Abs(q.Sub(at).Cross(dir)))
	}
	return worst
}

// An arcFit is a circle through points and how far they turn about it.
type arcFit struct {
	radius float64
	sweep  float64 // degrees, signed from x towards y
	stray  float64
}

// fitArc fits a circle quickly, by the linear fit only, and tells how far the
// points stray from it.
func fitArc(p []geom.Point) (arcFit, bool) {
	c, r, ok := linearCircle(p)
	if !ok || math.IsNaN(r) || r > 1e4 {
		return arcFit{}, false
	}
	f := arcFit{radius: r}
	for i, q := range p {
		f.stray = max(f.stray, math.Abs(q.Dist(c)-r))
		if i > 0 {
			a, b := p[i-1].Sub(c), q.Sub(c)
			f.sweep += geom.Degrees(math.Atan2(a.Cross(b), a.Dot(b)))
		}
	}
	return f, true
}
