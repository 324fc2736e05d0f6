package vision

import (
	"fmt"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// What a pen filled, and what it left between two passes of one line; in pen widths.
// Found on the made photographs of lines drawn twice.
const (
	areaWide   = 4.0  // an area's broadest disc of ink is at least so wide
	areaRim    = 1.0  // of an area stay as its outline
	sliverGap  = 0.75 // of paper between two passes along one line, at most
	sliverLong = 2.5  // times the distance of the two that they run side by side, at least
	sliverArea = 40.0 // square pen widths: more paper is no sliver
	sliverTurn = 60   // degrees that a line which splits in two turns from its own way at most
	sliverPass = 4    // rounds of closing slivers: each pass more beside the others takes one
	areaLook   = 3    // px from one pixel of skeleton that is looked at to the next
)

// Lines are the ink's lines, one pixel wide.
type Lines struct {
	Ink      *Ink    // with slivers closed and areas hollow
	Skeleton *Bitmap // of that ink
	// Slivers tell of paper that was closed between two passes of one line, Areas of ink
	// much broader than the pen, of which only the outline is left. Places are px of the
	// sheet's picture.
	Slivers, Areas []Doubt
}

// ThinInk thins the ink to lines. A line drawn twice, with slivers of paper between, is
// one; an area filled with ink is its outline. pxPerMm is the scale. The ink given stays
// as it is.
//
// It returns an error only where OpenCV fails.
func ThinInk(ink *Ink, pxPerMm float64) (Lines, error) {
	l := Lines{Ink: ink, Skeleton: Thin(ink.Mask)}
	wide, areas := l.look()
	if wide == 0 {
		return l, nil
	}
	if len(areas) > 0 {
		if err := l.hollow(areas, wide, pxPerMm); err != nil {
			return l, err
		}
	}
	for range sliverPass {
		paper, holes := slivers(l.Ink.Mask, wide)
		if len(holes) == 0 {
			break
		}
		g := skeletonGraph(l.Skeleton, l.Ink.Mask)
		g.prune(max(wide/2, noiseSpur))
		g.contract()
		if !l.close(g.lenses(wide), paper, holes, pxPerMm) {
			break
		}
	}
	return l, nil
}

// look returns the pen's width along the skeleton, px, 0 if there is none, and places in
// areas much broader.
func (l *Lines) look() (wide float64, areas []geom.Point) {
	var all []float64
	var at []geom.Point
	for i := range l.Skeleton.all() {
		if x, y := i%l.Skeleton.W, i/l.Skeleton.W; (x+y)%areaLook == 0 {
			all = append(all, max(inkRadius(l.Ink.Mask, x, y)-0.5, 0.5))
			at = append(at, geom.Pt(float64(x), float64(y)))
		}
	}
	wide = 2 * median(slices.Clone(all))
	for k, r := range all {
		if r > areaWide*wide/2 {
			areas = append(areas, at[k])
		}
	}
	return wide, areas
}

// own makes the ink l's own, to be changed.
func (l *Lines) own() {
	ink := *l.Ink
	mask, level := *ink.Mask, *ink.Level
	mask.Pix, level.Pix = slices.Clone(mask.Pix), slices.Clone(level.Pix)
	ink.Mask, ink.Level = &mask, &level
	l.Ink = &ink
}

// hollow leaves a rim as broad as the pen of the areas that hold the places given.
func (l *Lines) hollow(at []geom.Point, wide, pxPerMm float64) error {
	ink := piecesOf(l.Ink.Mask, 1, true)
	seen := map[int]bool{}
	l.own()
	for _, p := range at {
		k := ink.at(int(p.X), int(p.Y))
		if k < 0 || seen[k] {
			continue
		}
		seen[k] = true
		q := ink.list[k]
		n, mid, err := l.hollowWithin(image.Rect(q.x0, q.y0, q.x1, q.y1), wide)
		if err != nil {
			return err
		}
		if n > 0 {
			l.Areas = append(l.Areas, Doubt{At: mid, Stake: float64(n) / wide, Weak: true, Why: fmt.Sprintf(
				"%.0f mm² are filled with ink; only their outline is followed", float64(n)/(pxPerMm*pxPerMm),
			)})
		}
	}
	l.Skeleton = Thin(l.Ink.Mask)
	return nil
}

// hollowWithin hollows the areas in a part of the picture, and tells how many pixels it
// took and their middle.
func (l *Lines) hollowWithin(r image.Rectangle, wide float64) (n int, mid geom.Point, err error) {
	mask := l.Ink.Mask
	part := NewBitmap(r.Dx()+2, r.Dy()+2) // a rim without ink
	for y := r.Min.Y; y < r.Max.Y; y++ {
		copy(part.Pix[(y-r.Min.Y+1)*part.W+1:], mask.Pix[y*mask.W+r.Min.X:y*mask.W+r.Max.X])
	}
	deep, err := depths(part)
	if err != nil {
		return 0, mid, err
	}
	// What lies within the reach of discs as broad as an area's is no pen's line.
	reach := float32(areaWide * wide / 2)
	outside := NewBitmap(part.W, part.H)
	for i, d := range deep {
		if d < reach {
			outside.Pix[i] = 1
		}
	}
	off, err := depths(outside)
	if err != nil {
		return 0, mid, err
	}
	rim := float32(areaRim * wide)
	for i := range deep {
		if deep[i] <= rim || off[i] >= reach-rim {
			continue
		}
		x, y := i%part.W-1+r.Min.X, i/part.W-1+r.Min.Y
		mask.Pix[y*mask.W+x], l.Ink.Level.Pix[y*mask.W+x] = 0, 0
		mid = mid.Add(geom.Pt(float64(x), float64(y)))
		n++
	}
	return n, mid.Mul(1 / float64(max(n, 1))), nil
}

// depths is the distance of each pixel of the set from the nearest outside it, px.
func depths(b *Bitmap) ([]float32, error) {
	src, dst, labels := b.mat(), gocv.NewMat(), gocv.NewMat()
	defer src.Close()
	defer dst.Close()
	defer labels.Close()
	gocv.DistanceTransform(src, &dst, &labels, gocv.DistL2, gocv.DistanceMask5, gocv.DistanceLabelCComp)
	d, err := dst.DataPtrFloat32()
	return slices.Clone(d), err
}

// slivers are the pieces of paper, and which of them are small narrow holes in the ink of a pen
// of that width, px.
func slivers(mask *Bitmap, wide float64) (paper *pieces, holes []int) {
	paper = piecesOf(mask, 0, false)
	for k, p := range paper.list {
		w, h := float64(p.x1-p.x0), float64(p.y1-p.y0)
		if p.x0 > 0 && p.y0 > 0 && p.x1 < mask.W && p.y1 < mask.H &&
			float64(p.area) < sliverArea*wide*wide && float64(p.area) < sliverGap*wide*math.Hypot(w, h) {
			holes = append(holes, k)
		}
	}
	return paper, holes
}

// A lens is what two lines make that run side by side from one place to another.
type lens struct{ a, b geom.Polyline }

// outline is the lens's.
func (l lens) outline() geom.Polyline { return append(slices.Clone(l.a), l.b.Reversed()...) }

// narrow tells whether the two are a pen of that width's two passes along one line.
func (l lens) narrow(wide float64) bool {
	gap := max(apart(l.a, l.b), apart(l.b, l.a))
	return gap < (1+sliverGap)*wide && min(l.a.Length(), l.b.Length()) > sliverLong*gap
}

// lenses are the outlines of the narrow lenses of the graph that go on as one line at both
// ends, or end there.
func (g *graph) lenses(wide float64) []geom.Polyline {
	at := g.branches()
	var out []geom.Polyline
	add := func(l lens, nodes ...int) {
		for k, n := range nodes {
			far := l.a[len(l.a)-1]
			if k > 0 {
				far = l.a[0]
			}
			if !g.goesOn(n, far, at[n]) {
				return
			}
		}
		if l.narrow(wide) {
			out = append(out, l.outline())
		}
	}
	between := map[[2]int][]int{}
	for i, l := range g.links {
		switch {
		case l.dead:
		case l.a == l.b && len(at[l.a]) == 3: // two passes that meet at the line's end
			add(g.folded(i), l.a)
		case l.a != l.b:
			ends := [2]int{min(l.a, l.b), max(l.a, l.b)}
			for _, j := range between[ends] {
				two := lens{l.pts, g.links[j].pts}
				if l.a != g.links[j].a {
					two.b = two.b.Reversed()
				}
				add(two, l.a, l.b)
			}
			between[ends] = append(between[ends], i)
		}
	}
	return out
}

// folded is a link that comes back to its node, as two lines to the place farthest off.
func (g *graph) folded(i int) lens {
	pts := g.links[i].pts
	tip := 0
	for k, p := range pts {
		if p.Dist(pts[0]) > pts[tip].Dist(pts[0]) {
			tip = k
		}
	}
	return lens{pts[:tip+1], pts[tip:].Reversed()}
}

// goesOn tells whether at node n, which the branches leave, a line goes on straight away
// from a place that two of them run to; or nothing does.
func (g *graph) goesOn(n int, from geom.Point, at []branch) bool {
	way := g.nodes[n].at.Sub(from)
	if len(at) <= 2 {
		return true
	}
	for _, b := range at {
		pts, _ := g.away(b)
		if ahead := pts.At(min(2*g.nodes[n].r, pts.Length())).Sub(pts[0]); ahead.Angle(way) < sliverTurn {
			return true
		}
	}
	return false
}

// apart is how far a line strays from another.
func apart(a, b geom.Polyline) float64 {
	most := 0.0
	for _, p := range a {
		most = max(most, b.DistanceTo(p))
	}
	return most
}

// close fills the holes within the lenses, and tells whether there were any.
func (l *Lines) close(lenses []geom.Polyline, paper *pieces, holes []int, pxPerMm float64) bool {
	fill := map[int]bool{}
	for _, h := range holes {
		p := paper.list[h]
		mid := geom.Pt(p.sumX/float64(p.area), p.sumY/float64(p.area))
		if slices.ContainsFunc(lenses, func(o geom.Polyline) bool { return o.Encloses(mid) }) {
			fill[h] = true
			long := math.Hypot(float64(p.x1-p.x0), float64(p.y1-p.y0))
			l.Slivers = append(l.Slivers, Doubt{At: mid, Stake: long, Weak: true, Why: fmt.Sprintf(
				"%.1f mm of paper between two lines was closed, for one line drawn twice", long/pxPerMm,
			)})
		}
	}
	if len(fill) == 0 {
		return false
	}
	l.own()
	paper.set(l.Ink.Mask, 1, func(k int) bool { return fill[k] })
	for _, r := range paper.runs {
		if fill[r.piece] {
			for i := r.y*l.Ink.Level.W + r.x0; i < r.y*l.Ink.Level.W+r.x1; i++ {
				l.Ink.Level.Pix[i] = max(l.Ink.Level.Pix[i], inkFilled)
			}
		}
	}
	l.Skeleton = Thin(l.Ink.Mask)
	return true
}

// inkFilled is the level of paper that counts as ink.
const inkFilled = inkEdge + 64
