package regular

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"inkchannel/geom"
)

// Straighten says by what a drawing is turned upright.
type Straighten string

// What a drawing may be turned upright by.
const (
	StraightenNo    Straighten = "no"
	StraightenAxis  Straighten = "axis"  // its axis of symmetry
	StraightenLines Straighten = "lines" // its longest straight lines
)

// Mirror says how a drawing is made symmetric.
type Mirror string

// How a drawing may be made symmetric.
const (
	MirrorNo      Mirror = "no"
	MirrorAverage Mirror = "average" // both halves give in by half
	MirrorLeft    Mirror = "left"    // the left half is copied; the upper one at a level axis
	MirrorRight   Mirror = "right"   // the right half is copied; the lower one at a level axis
)

// SymmetrySettings tune Symmetrise.
type SymmetrySettings struct {
	Straighten Straighten
	Mirror     Mirror
	// Axis is two points of the axis of symmetry by hand, mm in the sheet's
	// frame; none looks for it.
	Axis []geom.Point
	// Reach is how far apart the two halves of a pair may be, mm: averaging
	// moves a point by at most half of it.
	Reach float64
	// MostTurn is the largest turn that straightens, degrees.
	MostTurn float64
}

// DefaultSymmetry returns settings that leave a drawing as it is.
func DefaultSymmetry() SymmetrySettings {
	return SymmetrySettings{Straighten: StraightenNo, Mirror: MirrorNo, Reach: 6, MostTurn: 30}
}

// An Axis is a line that a drawing is nearly symmetric about.
type Axis struct {
	At, Dir geom.Point // a point of it and its unit direction, upwards or to the right
	Share   float64    // of the drawing that has a partner across it, 0 to 1
	Off     float64    // mm, mean distance between partners
}

// side is the distance of p from the axis, positive to the right of its
// direction as seen on the sheet (y down).
func (a Axis) side(p geom.Point) float64 { return a.Dir.Cross(p.Sub(a.At)) }

// reflect returns p across the axis.
func (a Axis) reflect(p geom.Point) geom.Point {
	return p.Mirrored(a.At, a.Dir)
}

// Symmetric is what Symmetrise did.
type Symmetric struct {
	Line  geom.Centreline
	Turn  float64 // degrees that the drawing was turned, clockwise as seen
	Axis  *Axis   // of symmetry, after turning; nil if none was looked for
	Moved float64 // mm that mirroring moved a point at most
	Kept  int     // strokes without a partner, left as drawn on their side
}

// Symmetrise turns a drawing upright and makes it symmetric, as the settings
// ask. Strokes that cross the axis at more than 50 degrees cross it squarely
// afterwards, so that the halves join smoothly; strokes along it are laid on
// it.
//
// It returns an error if no axis is found or the drawing would have to be
// turned too far.
func Symmetrise(c geom.Centreline, set SymmetrySettings) (Symmetric, error) {
	out := Symmetric{Line: c}
	if len(c.Curves) == 0 || set.Straighten == StraightenNo && set.Mirror == MirrorNo {
		return out, nil
	}
	if !(set.Reach > 0) {
		return out, errors.New("the reach of mirroring must be over 0 mm")
	}
	var axis Axis
	if set.Mirror != MirrorNo || set.Straighten == StraightenAxis {
		var err error
		if axis, err = axisOf(c, set); err != nil {
			return out, err
		}
		out.Axis = &axis
	}
	if set.Straighten != StraightenNo {
		dir := axis.Dir
		if set.Straighten == StraightenLines {
			dir = mainDirection(c)
		}
		turn := nearestQuarter(dir)
		if math.Abs(turn) > set.MostTurn {
			return out, fmt.Errorf(
				"the drawing would have to be turned by %.0f° to stand upright, more than the limit of %g°; draw "+
					"it straighter or raise the limit of turns", math.Abs(turn), set.MostTurn,
			)
		}
		out.Turn = turn
		mid := middle(c)
		rot := rotation(turn, mid)
		out.Line = c.Mapped(rot)
		if out.Axis != nil {
			at := rot(axis.At)
			axis.Dir = orient(rot(axis.At.Add(axis.Dir)).Sub(at).Unit())
			// Exactly upright or level.
			if math.Abs(axis.Dir.X) < 1e-9 || set.Straighten == StraightenAxis && math.Abs(axis.Dir.X) < 0.5 {
				axis.Dir = geom.Pt(0, -1)
			} else if set.Straighten == StraightenAxis {
				axis.Dir = geom.Pt(1, 0)
			}
			axis.At = at
		}
	}
	switch set.Mirror {
	case MirrorNo:
	case MirrorAverage:
		average(&out, axis, set.Reach)
	default:
		copyHalf(&out, axis, set.Mirror == MirrorRight)
	}
	return out, nil
}

func middle(c geom.Centreline) geom.Point {
	r := bounds(c)
	return r.Min.Lerp(r.Max, 0.5)
}

func bounds(c geom.Centreline) geom.Rect { return geom.BoundsOf(c.Curves, 0.1) }

// rotation turns by an angle in degrees, from x towards y, about a point.
func rotation(turn float64, about geom.Point) func(geom.Point) geom.Point {
	s, c := math.Sincos(geom.Radians(turn))
	return func(p geom.Point) geom.Point {
		d := p.Sub(about)
		return about.Add(geom.Pt(c*d.X-s*d.Y, s*d.X+c*d.Y))
	}
}

// orient makes a direction point upwards on the sheet, or to the right if it is
// level.
func orient(d geom.Point) geom.Point {
	if d.Y > 1e-9 || math.Abs(d.Y) <= 1e-9 && d.X < 0 {
		return d.Mul(-1)
	}
	return d
}

// nearestQuarter is the turn, in degrees, that makes a direction level or
// upright, whichever is nearer.
func nearestQuarter(d geom.Point) float64 {
	a := geom.Degrees(math.Atan2(d.Y, d.X))
	return 90*math.Round(a/90) - a
}

// mainDirection is the direction, level or upright taken for one, that straight
// stretches have on the whole: the mean of their directions' fourth powers as
// complex numbers, weighted by length and straightness.
func mainDirection(c geom.Centreline) geom.Point {
	var x, y float64
	const span = 12.0
	for _, k := range c.Curves {
		r := geom.NewRuler(k)
		for s := span / 2; s < r.Length()-span/2; s += 2 {
			a, m, b := r.At(s-span/2), r.At(s), r.At(s+span/2)
			d := b.Sub(a)
			bow := math.Abs(m.Sub(a).Cross(d.Unit()))
			w := math.Exp(-bow * bow / (0.15 * 0.15))
			t := 4 * math.Atan2(d.Y, d.X)
			x, y = x+w*math.Cos(t), y+w*math.Sin(t)
		}
	}
	t := math.Atan2(y, x) / 4
	return geom.Pt(math.Cos(t), math.Sin(t))
}

// axisOf finds the axis, or takes the one given.
func axisOf(c geom.Centreline, set SymmetrySettings) (Axis, error) {
	f := newAxisFinder(c, set.Reach)
	if len(set.Axis) == 2 {
		d := set.Axis[1].Sub(set.Axis[0]).Unit()
		if d == (geom.Point{}) {
			return Axis{}, errors.New("the two points of the mirror axis are the same; give two different points")
		}
		a := Axis{At: set.Axis[0], Dir: orient(d)}
		a.Share, a.Off = f.score(a)
		return a, nil
	}
	a := f.find()
	if a.Share < 0.5 {
		return Axis{}, fmt.Errorf(
			"no axis of symmetry was found: at best %.0f %% of the lines have a partner within %g mm; give two "+
				"points of the axis by hand", 100*a.Share, set.Reach,
		)
	}
	return a, nil
}

// An axisFinder looks for the axis that most points have a partner across.
type axisFinder struct {
	pts   []geom.Point
	near  *geom.Grid[geom.Point]
	reach float64
}

// axisStep is the distance of the points that stand for the lines, mm.
const axisStep = 2.0

func newAxisFinder(c geom.Centreline, reach float64) *axisFinder {
	f := &axisFinder{near: geom.NewGrid[geom.Point](reach), reach: reach}
	for _, k := range c.Curves {
		f.pts = append(f.pts, k.Flatten(0.05).Resampled(axisStep)...)
	}
	for _, p := range f.pts {
		f.near.Put(p, p)
	}
	return f
}

// partner is the point nearest to p within reach.
func (f *axisFinder) partner(p geom.Point) (q geom.Point, ok bool) {
	best := f.reach
	for v := range f.near.Near(p) {
		if d := v.Dist(p); d < best {
			best, q, ok = d, v, true
		}
	}
	return q, ok
}

func (f *axisFinder) score(a Axis) (share, off float64) {
	n := 0
	for _, p := range f.pts {
		if q, ok := f.partner(a.reflect(p)); ok {
			n++
			off += q.Dist(a.reflect(p))
		}
	}
	if n == 0 {
		return 0, 0
	}
	return float64(n) / float64(len(f.pts)), off / float64(n)
}

// find tries axes through the middle at every few degrees, shifted sideways a
// little, improves the best by matching points to their partners again and
// again, and returns the best of all.
func (f *axisFinder) find() Axis {
	var mid geom.Point
	for _, p := range f.pts {
		mid = mid.Add(p)
	}
	mid = mid.Mul(1 / float64(len(f.pts)))
	r := geom.Bounds(f.pts)
	size := r.Size().Norm()
	var tries []Axis
	for deg := 0.0; deg < 180; deg += 4 {
		s, c := math.Sincos(geom.Radians(deg))
		dir := orient(geom.Pt(c, s))
		for k := -4.0; k <= 4; k++ {
			a := Axis{At: mid.Add(dir.Perp().Mul(k * size / 40)), Dir: dir}
			a.Share, a.Off = f.score(a)
			tries = append(tries, a)
		}
	}
	value := func(a Axis) float64 { return a.Share - 0.5*a.Off/f.reach }
	slices.SortStableFunc(tries, func(a, b Axis) int { return cmp.Compare(value(b), value(a)) })
	best := tries[0]
	for _, a := range tries[:min(6, len(tries))] {
		a = f.improve(a)
		if value(a) > value(best)+1e-9 {
			best = a
		}
	}
	return best
}

// improve fits the axis to pairs of points and partners: its direction is half
// the angle of Σ p·q as complex numbers about their means, and it passes half
// way between the means.
func (f *axisFinder) improve(a Axis) Axis {
	for range 30 {
		var ps, qs []geom.Point
		for _, p := range f.pts {
			if q, ok := f.partner(a.reflect(p)); ok {
				ps, qs = append(ps, p), append(qs, q)
			}
		}
		if len(ps) < 8 {
			break
		}
		var pm, qm geom.Point
		for i := range ps {
			pm, qm = pm.Add(ps[i]), qm.Add(qs[i])
		}
		pm, qm = pm.Mul(1/float64(len(ps))), qm.Mul(1/float64(len(ps)))
		var x, y float64
		for i := range ps {
			p, q := ps[i].Sub(pm), qs[i].Sub(qm)
			x, y = x+p.X*q.X-p.Y*q.Y, y+p.X*q.Y+p.Y*q.X
		}
		t := math.Atan2(y, x) / 2
		next := Axis{At: pm.Lerp(qm, 0.5), Dir: orient(geom.Pt(math.Cos(t), math.Sin(t)))}
		still := math.Abs(next.Dir.Cross(a.Dir)) < 1e-7 && math.Abs(next.side(a.At)) < 1e-5
		next.Share, next.Off = f.score(next)
		a = next
		if still {
			break
		}
	}
	return a
}
