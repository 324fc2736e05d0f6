package vision

import (
	"gocv.io/x/gocv"

	"inkchannel/geom"
)

// Whether lines go on across where paper seems to end. px of the small copy, found on real photographs with
// shadows laid over them.
const (
	crossDark  = 0.9 // of the light about it that a line has at most
	crossFrom  = 3   // from the edge to either side where a line is looked for,
	crossTo    = 7   // to here,
	crossAside = 4   // and so far along it, for a line may cross askew
	crossEvery = 2   // along the edge
	crossRuns  = 2   // stretches of the edge at least that have a line on both sides
	crossClear = 10  // from the picture's border
	crossNone  = 6   // places without a line that part two of them
)

// linesOf marks what is narrow and darker than what is about it: lines, in light and in shade.
func linesOf(g *Grey) (*Bitmap, error) {
	light, err := g.lightestWithin(tableLine / 2)
	if err != nil {
		return nil, err
	}
	if light, err = light.darkestWithin(tableLine / 2); err != nil {
		return nil, err
	}
	b := NewBitmap(g.W, g.H)
	for i, v := range g.Pix {
		if float64(v) < crossDark*float64(light.Pix[i]) {
			b.Pix[i] = 1
		}
	}
	return b, nil
}

// isCrossed tells whether lines go on across the edge of what seems to be paper in a picture: then it is a shadow's,
// and what lies beyond is paper too.
func isCrossed(pic *Grey, paper *Bitmap) (bool, error) {
	lines, err := linesOf(pic)
	if err != nil {
		return false, err
	}
	contours := gocv.FindContours(paper.mat(), gocv.RetrievalExternal, gocv.ChainApproxNone)
	defer contours.Close()
	runs := 0
	for i := range contours.Size() {
		since := crossNone
		for k, p := range contours.At(i).ToPoints() {
			if k%crossEvery > 0 || min(p.X, p.Y, paper.W-1-p.X, paper.H-1-p.Y) < crossClear {
				continue
			}
			at, in := geom.Pt(float64(p.X)+0.5, float64(p.Y)+0.5), inwards(paper, p.X, p.Y, crossTo)
			if since++; lines.near(at, in) && lines.near(at, in.Mul(-1)) {
				if since > crossNone {
					runs++
				}
				since = 0
			}
		}
	}
	return runs >= crossRuns, nil
}

// near tells whether something of the set lies to that side of a place on an edge.
func (b *Bitmap) near(edge, way geom.Point) bool {
	for d := crossFrom; d <= crossTo; d++ {
		for a := -crossAside; a <= crossAside; a++ {
			p := edge.Add(way.Mul(float64(d))).Add(way.Perp().Mul(float64(a)))
			if x, y := int(p.X), int(p.Y); p.X >= 0 && p.Y >= 0 && x < b.W && y < b.H && b.Pix[y*b.W+x] != 0 {
				return true
			}
		}
	}
	return false
}

// inwards is the direction into a set from a place on its edge: to where most of it lies within so many px.
func inwards(b *Bitmap, x, y, reach int) (in geom.Point) {
	for dy := -reach; dy <= reach; dy += 2 {
		for dx := -reach; dx <= reach; dx += 2 {
			if px, py := x+dx, y+dy; px >= 0 && py >= 0 && px < b.W && py < b.H && b.Pix[py*b.W+px] != 0 {
				in = in.Add(geom.Pt(float64(dx), float64(dy)))
			}
		}
	}
	return in.Unit()
}
