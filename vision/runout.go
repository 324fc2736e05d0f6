package vision

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// A sheet of which one side lies beyond the photo's border, and paper of which
// less is seen. Found on real photographs where no reason is given.
const (
	openShare  = 1.0 // of the picture by which an outline may reach out of it, or it is cut off where its first edge leaves
	openSeen   = 0.8 // of each of its three sides that shows an edge
	openBorder = 2   // px from the copy's border where it is looked whether paper reaches it
	openSides  = 0.3 // of the copy's longer side that the edges which leave it are seen at least

	tableShare  = 0.04 // of the copy that is table at least, in one piece by its border,
	tableDark   = 0.6  // so much as light as the paper at most: a shadow on paper is lighter,
	tableTint   = 0.08 // or else of another tint, as shares of its channels
	shadeDark   = 0.25 // and so much at least as light as what paper in a shadow is,
	shadeTint   = 0.06 // of the paper's tint but for so much
	tableLine   = 15   // px: what is narrower is a pen's line, no table
	paperRim    = 8    // px along the paper's edge that are taken for table
	paperEdge   = 0.7  // of the places where paper and table meet that show an edge
	fillLike    = 0.85 // of the copy that is as light and of the tint as paper, where paper is all that is seen:
	fillDark    = 0.7  // so much as light as the lightest of its neighbourhood,
	fillTint    = 0.05 // and off the usual tint by at most so much, as shares of its channels
	fillNear    = 30   // px to either side that are that neighbourhood: wider than what is drawn
	besideShare = 0.2  // of a side of the picture along which a table shows
	besideDeep  = 8    // px deep at least: a scan has a rim
	fillFirst   = 15   // px, side of the square that paper's light goes on over the table from, at first,
	fillLast    = 255  // and at last
)

// A Border is a side of the photo.
type Border int

// The sides of a photo, clockwise.
const (
	Top Border = iota
	Right
	Bottom
	Left
)

// String names the side.
func (b Border) String() string { return [...]string{"top", "right", "bottom", "left"}[b] }

// bestOpen is the outline, of a sheet that runs out of the picture at one side, that
// most edge and area speak for: two edges leave it there, and a third lies across.
// What the fourth side is like is worked out from the usual lens: its vanishing point lies at right
// angles to that of the two that leave (Hartley and Zisserman, "Multiple View
// Geometry", 2nd edition, 8.6, from memory).
func bestOpen(pic *Colour, lines []edgeLine, support float64) (best outline) {
	most := 0.0
	for a := range lines {
		for b := range a {
			for c := range lines {
				if c == a || c == b {
					continue
				}
				q, side, seen := openQuad(pic, lines[a], lines[b], lines[c])
				if score := seen * math.Pow(quadArea(q), areaSay); seen >= max(support, openSeen) && score > most && !isDark(pic, q) {
					most, best = score, outline{corners: q, seen: seen, out: []Border{side}}
				}
			}
		}
	}
	return best
}

// openQuad is the outline with a and b leaving the picture and c across, and the
// share of its worst side along which an edge is seen, paper being lighter than the
// table on all three, or darker; 0 if they make none.
func openQuad(pic *Colour, a, b, c edgeLine) (q [4]geom.Point, at Border, seen float64) {
	size := geom.Pt(float64(pic.W), float64(pic.H))
	least := openSides * max(size.X, size.Y)
	inside := func(p geom.Point) bool { return p.X > 0 && p.Y > 0 && p.X < size.X && p.Y < size.Y }
	var near, exit [2]geom.Point
	for i, l := range []edgeLine{a, b} {
		u, _, sine := geom.Meet(l.p, l.d, c.p, c.d)
		near[i] = l.p.Add(l.d.Mul(u))
		if math.Abs(sine) < math.Sin(geom.Radians(quadAngle)) || !inside(near[i]) {
			return q, 0, 0
		}
	}
	if right, left := c.seen(near[0], near[1]); max(right, left) < openSeen || near[0].Dist(near[1]) < least {
		return q, 0, 0
	}
	// Both leave on the same side of c, and through the same border.
	var sides [2]Border
	for i, l := range []edgeLine{a, b} {
		best := -1.0
		for _, d := range []geom.Point{l.d, l.d.Mul(-1)} {
			p, side := leaves(near[i], d, size)
			right, left := l.seen(near[i], p)
			if s := max(right, left) * p.Dist(near[i]); s > best {
				best, exit[i], sides[i] = s, p, side
			}
		}
		if exit[i].Dist(near[i]) < least {
			return q, 0, 0
		}
	}
	across := near[1].Sub(near[0])
	if sides[0] != sides[1] || across.Cross(exit[0].Sub(near[0]))*across.Cross(exit[1].Sub(near[1])) <= 0 {
		return q, 0, 0
	}
	mid := near[0].Add(near[1]).Add(exit[0]).Add(exit[1]).Mul(0.25)
	lighter, darker := c.around(near[0], near[1], mid)
	for i, l := range []edgeLine{a, b} {
		light, dark := l.around(near[i], exit[i], mid)
		lighter, darker = min(lighter, light), min(darker, dark)
	}
	far, ok := farSide(near, exit, size)
	if !ok {
		return q, 0, 0
	}
	q = clockwise([4]geom.Point{near[0], near[1], far[1], far[0]})
	if !convex(q) || quadArea(q) < leastQuad*size.X*size.Y {
		return q, 0, 0
	}
	return q, sides[0], max(lighter, darker)
}

// leaves is where the way from p in direction d leaves a picture of that size.
func leaves(p, d, size geom.Point) (at geom.Point, side Border) {
	best := math.Inf(1)
	for _, b := range []struct {
		side Border
		gap  float64
		v    float64
	}{
		{Top, -p.Y, d.Y}, {Right, size.X - p.X, d.X}, {Bottom, size.Y - p.Y, d.Y}, {Left, -p.X, d.X},
	} {
		if t := b.gap / b.v; t > 0 && t < best {
			best, side = t, b.side
		}
	}
	return p.Add(d.Mul(best)), side
}

// farSide is where the sheet's side across from near, which nobody sees, is put
// on the two that leave the picture at exit: where the last of them does, or,
// where that is far out, the first.
func farSide(near, exit [2]geom.Point, size geom.Point) (far [2]geom.Point, ok bool) {
	type vec = [3]float64
	mid := size.Mul(0.5)
	f := usualFocal * max(size.X, size.Y)
	at := func(p geom.Point) vec { return vec{(p.X - mid.X) / f, (p.Y - mid.Y) / f, 1} }
	line := func(p, q geom.Point) vec { return cross3(at(p), at(q)) }
	sides := [2]vec{line(near[0], exit[0]), line(near[1], exit[1])}
	v1 := cross3(sides[0], sides[1])         // where the sides that leave meet
	v2 := cross3(line(near[0], near[1]), v1) // where those across do: on theirs, at a right angle to v1
	for _, first := range []bool{false, true} {
		var outs [2]float64
		var pair [2][2]geom.Point
		for i := range 2 {
			l := cross3(at(exit[i]), v2)
			for k := range 2 {
				p := cross3(l, sides[k])
				if math.Abs(p[2]) < parallelSides {
					return far, false
				}
				pair[i][k] = geom.Pt(p[0]/p[2]*f+mid.X, p[1]/p[2]*f+mid.Y)
			}
			outs[i] = quadArea([4]geom.Point{near[0], near[1], pair[i][1], pair[i][0]})
		}
		i := 0
		if outs[1] > outs[0] != first {
			i = 1
		}
		if far = pair[i]; first || outs[i] < (1+openShare)*outs[1-i] {
			return far, true
		}
	}
	return far, true
}

// refineOpen is refineQuad for a sheet that runs out of the photo: what is not
// seen of it is worked out anew from what is.
func refineOpen(photo *Colour, q [4]geom.Point, out Border) (corners [4]geom.Point, stray float64) {
	q, stray, _ = refineQuad(photo, q)
	size := geom.Pt(float64(photo.W), float64(photo.H))
	far := 0 // the side that is not seen: it lies furthest out
	towards := [4]geom.Point{{Y: -1}, {X: 1}, {Y: 1}, {X: -1}}[out]
	for i := range q {
		if q[i].Add(q[(i+1)%4]).Dot(towards) > q[far].Add(q[(far+1)%4]).Dot(towards) {
			far = i
		}
	}
	a, b := (far+3)%4, (far+2)%4 // seen, next to the side's start and end
	near := [2]geom.Point{q[a], q[b]}
	var exit [2]geom.Point
	exit[0], _ = leaves(near[0], q[far].Sub(q[a]), size)
	exit[1], _ = leaves(near[1], q[(far+1)%4].Sub(q[b]), size)
	if ends, ok := farSide(near, exit, size); ok {
		q[far], q[(far+1)%4] = ends[0], ends[1]
	}
	return q, stray
}

func cross3(a, b [3]float64) [3]float64 {
	return [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// A region is the part of a small copy that is paper, and the borders of the
// picture that it runs out at.
type region struct {
	paper *Bitmap
	out   []Border
	share float64 // of the copy that is paper
}

// paperRegion tells the paper from a table beside it where no outline is seen;
// ok is false where no table is seen either, so that all of the picture is paper.
func paperRegion(pic *Colour) (r region, ok bool, err error) {
	m := paperMaps(pic)[1]
	src, light := m.mat(), gocv.NewMat()
	defer src.Close()
	defer light.Close()
	gocv.Threshold(src, &light, 0, 255, gocv.ThresholdBinary|gocv.ThresholdOtsu)
	kernel := gocv.GetStructuringElement(gocv.MorphRect, image.Pt(tableLine, tableLine))
	defer kernel.Close()
	gocv.MorphologyEx(light, &light, gocv.MorphClose, kernel) // the pen's lines are on paper
	gocv.MorphologyEx(light, &light, gocv.MorphOpen, kernel)  // what is narrow is none
	paper, err := largestPiece(light)
	if err != nil || paper == nil {
		return region{}, false, err
	}
	n := paper.Count()
	r = region{paper: paper, share: float64(n) / float64(pic.W*pic.H)}
	other, alike := otherStuff(pic, paper)
	if 1-r.share < tableShare || !other || !endsInEdge(pic, paper) {
		return region{}, false, nil
	}
	if alike {
		if crossed, err := isCrossed(m, paper); err != nil || crossed {
			return region{}, false, err
		}
	}
	r.out = bordersOf(paper)
	return r, true, nil
}

// largestPiece is the largest connected piece of bin with its holes filled, nil
// if there is none.
func largestPiece(bin gocv.Mat) (*Bitmap, error) {
	contours := gocv.FindContours(bin, gocv.RetrievalExternal, gocv.ChainApproxNone)
	defer contours.Close()
	best, most := -1, 0.0
	for i := range contours.Size() {
		if a := gocv.ContourArea(contours.At(i)); a > most {
			best, most = i, a
		}
	}
	if best < 0 {
		return nil, nil
	}
	b := NewBitmap(bin.Cols(), bin.Rows())
	m := b.mat()
	defer m.Close()
	gocv.DrawContours(&m, contours, best, color.RGBA{B: 1}, -1)
	return b, nil
}

// otherStuff reports whether what lies about the paper is darker or of another
// tint than it is: not paper in the shadow. It may still be that, in a deep one, if it is alike.
func otherStuff(pic *Colour, paper *Bitmap) (other, alike bool) {
	var sums [2][3]float64
	for i, v := range paper.Pix {
		for c := range 3 {
			sums[v][c] += float64(pic.Pix[3*i+c])
		}
	}
	n := float64(paper.Count())
	rest := float64(len(paper.Pix)) - n
	light := [2]float64{}
	for k, of := range []float64{rest, n} {
		for c := range 3 {
			sums[k][c] /= max(of, 1)
			light[k] += sums[k][c]
		}
	}
	tint := 0.0
	for c := range 3 {
		tint = max(tint, math.Abs(sums[0][c]/max(light[0], 1)-sums[1][c]/max(light[1], 1)))
	}
	return light[0] < tableDark*light[1] || tint > tableTint, tint < shadeTint && light[0] > shadeDark*light[1]
}

// endsInEdge reports whether the paper ends in an edge where it ends inside the
// picture: a shadow fades.
func endsInEdge(pic *Colour, paper *Bitmap) bool {
	const every = 6 // px
	b := &bands{pic: pic}
	seen, all := 0, 0
	at := func(x, y int) float64 {
		if x < 0 || y < 0 || x >= paper.W || y >= paper.H {
			return 0
		}
		return float64(paper.Pix[y*paper.W+x])
	}
	for y := bandTo; y < paper.H-bandTo; y++ {
		for x := bandTo; x < paper.W-bandTo; x++ {
			// An edge that runs level is met going down, others going across.
			across, down := at(x, y) != at(x-1, y) && y%every == 0, at(x, y) != at(x, y-1) && x%every == 0
			if !across && !down {
				continue
			}
			all++
			if lighter, _ := b.edge(geom.Pt(float64(x), float64(y)), inwards(paper, x, y, every)); lighter != 0 {
				seen++
			}
		}
	}
	return all > 0 && float64(seen) >= paperEdge*float64(all)
}

// bordersOf are the sides of the picture that a set of pixels reaches along a
// good part.
func bordersOf(b *Bitmap) (out []Border) {
	const least = 0.05
	for side := Top; side <= Left; side++ {
		if b.alongBorder(side, openBorder) > least {
			out = append(out, side)
		}
	}
	return out
}

// alongBorder is the share of the places so many px from a side of the picture that are set.
func (b *Bitmap) alongBorder(side Border, deep int) float64 {
	n, all := 0, b.W
	if side == Left || side == Right {
		all = b.H
	}
	for i := range all {
		x, y := i, deep
		switch side {
		case Bottom:
			y = b.H - 1 - deep
		case Left:
			x, y = deep, i
		case Right:
			x, y = b.W-1-deep, i
		}
		n += int(b.Pix[y*b.W+x])
	}
	return float64(n) / float64(all)
}

// onlyPaper is the photo with the paper's light going on where there is none.
// pic is its small copy, that the region is in px of.
func (r region) onlyPaper(photo, pic *Colour) (*Colour, error) {
	inner := NewGrey(pic.W, pic.H)
	for i, v := range r.paper.Pix {
		inner.Pix[i] = 255 * v
	}
	inner, err := inner.darkestWithin(paperRim)
	if err != nil {
		return nil, err
	}
	light, err := r.light(pic, inner)
	if err != nil {
		return nil, err
	}
	if light, err = light.into(photo.W, photo.H, resizedTo(photo.W, photo.H)); err != nil {
		return nil, err
	}
	out := NewColour(photo.W, photo.H)
	copy(out.Pix, photo.Pix)
	kx, ky := float64(pic.W)/float64(photo.W), float64(pic.H)/float64(photo.H)
	for y := range photo.H {
		row := int(float64(y)*ky) * pic.W
		for x := range photo.W {
			if inner.Pix[row+int(float64(x)*kx)] == 0 {
				i := 3 * (y*photo.W + x)
				copy(out.Pix[i:i+3], light.Pix[i:i+3])
			}
		}
	}
	return out, nil
}

// resizedTo makes a picture of w by h px, between pixels in proportion.
func resizedTo(w, h int) func(src gocv.Mat, dst *gocv.Mat) {
	return func(src gocv.Mat, dst *gocv.Mat) {
		gocv.Resize(src, dst, image.Pt(w, h), 0, 0, gocv.InterpolationLinear)
	}
}

// light is how light the paper is, or would be if it went on: the mean of what of it
// lies near, of all of it where nothing does.
func (r region) light(pic *Colour, inner *Grey) (*Colour, error) {
	kept := NewColour(pic.W, pic.H)
	var mean [3]float64
	n := 0.0
	for i, v := range inner.Pix {
		if v == 0 {
			continue
		}
		n++
		for c := range 3 {
			kept.Pix[3*i+c] = pic.Pix[3*i+c]
			mean[c] += float64(pic.Pix[3*i+c])
		}
	}
	out, done := NewColour(pic.W, pic.H), make([]bool, len(inner.Pix))
	for side := fillFirst; side <= fillLast; side = 2*side + 1 {
		if err := fillFrom(out, done, kept, inner, side); err != nil {
			return nil, err
		}
	}
	for i := range done {
		for c := 0; c < 3 && !done[i]; c++ {
			out.Pix[3*i+c] = uint8(mean[c] / max(n, 1))
		}
	}
	return out, nil
}

// fillFrom sets those pixels of out that are not done, and have enough of what is
// kept within a square of that side, to its mean.
func fillFrom(out *Colour, done []bool, kept *Colour, inner *Grey, side int) error {
	blur := func(src gocv.Mat, dst *gocv.Mat) { gocv.Blur(src, dst, image.Pt(side, side)) }
	sum, err := kept.into(kept.W, kept.H, blur)
	if err != nil {
		return err
	}
	weight, share := inner.mat(), NewGrey(inner.W, inner.H)
	defer weight.Close()
	m := share.mat()
	defer m.Close()
	blur(weight, &m)
	const few = 48 // of 255: less of the paper near says little
	for i, v := range share.Pix {
		if done[i] || v < few {
			continue
		}
		done[i] = true
		for c := range 3 {
			out.Pix[3*i+c] = uint8(min(255*float64(sum.Pix[3*i+c])/float64(v), 255))
		}
	}
	return nil
}

// paperFills reports whether all that a small copy shows is paper, but for what is
// drawn on it, and at which sides of the picture something else shows all the same.
func paperFills(pic *Colour) (fills bool, beside []Border, err error) {
	light := paperMaps(pic)[0]
	lightest, err := light.lightestWithin(fillNear)
	if err != nil {
		return false, nil, err
	}
	tint := func(i, c int) float64 {
		b, g, r := float64(pic.Pix[3*i]), float64(pic.Pix[3*i+1]), float64(pic.Pix[3*i+2])
		return []float64{b, g, r}[c] / max(b+g+r, 1)
	}
	var usual [3]float64
	for c := range usual {
		var all []float64
		for i := 0; i < len(light.Pix); i += 7 {
			all = append(all, tint(i, c))
		}
		usual[c] = median(all)
	}
	like, other := 0, NewBitmap(pic.W, pic.H)
	for i, v := range light.Pix {
		off := 0.0
		for c := range usual {
			off = max(off, math.Abs(tint(i, c)-usual[c]))
		}
		if float64(v) > fillDark*float64(lightest.Pix[i]) && off < fillTint {
			like++
		} else {
			other.Pix[i] = 1
		}
	}
	for side := Top; side <= Left; side++ {
		if other.alongBorder(side, openBorder) > besideShare && other.alongBorder(side, besideDeep) > besideShare {
			beside = append(beside, side)
		}
	}
	return float64(like) > fillLike*float64(len(light.Pix)), beside, nil
}
