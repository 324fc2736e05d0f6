package picture

import (
	"image"
	"image/color"
	"math"

	"inkchannel/geom"
	"inkchannel/geom/parallel"
	"inkchannel/geom/solid"
)

// A View is the direction that a scene is seen from: turned about the vertical
// axis, then tipped back. Degrees.
type View struct{ Turn, Tip float64 }

// FrontView is the view of the channel alone, so that its open front and walls
// show.
func FrontView() View { return View{Turn: -11, Tip: 25} }

// PartsView is the view of the parts pulled apart.
func PartsView() View { return View{Turn: -38, Tip: 24} }

// A Thing is a part in a scene.
type Thing struct {
	Mesh   *solid.Mesh
	Colour color.RGBA
	// Floor is the height, mm, of the slot's floor, which is drawn in amber, as the
	// strip lies there; 0 for none. The walls' rims are pale then.
	Floor float64
}

// FaceView is the view into the slots, almost from straight before them.
func FaceView() View { return View{Turn: -5, Tip: 9} }

// RearView is the view of the sign from behind.
func RearView() View { return View{Turn: 180 - 10, Tip: 14} }

// A Shot is a picture of a scene.
type Shot struct {
	Image *image.RGBA
	view  *viewer
}

// At is where a place of the scene lies on the picture, px.
func (s Shot) At(v solid.Vertex) geom.Point {
	x, y, _ := s.view.project(v)
	return geom.Pt(x/fine, y/fine)
}

// fine is how many times as fine scenes are drawn as they are shown.
const fine = 2

// Scene is the picture of a shot.
func Scene(scene []Thing, w, h int, v View) *image.RGBA { return Take(scene, w, h, v).Image }

// Take draws things, on a picture of w by h px, as seen in parallel projection,
// lit from the upper left, twice as fine and then averaged.
func Take(scene []Thing, w, h int, v View) Shot {
	t := newViewer(scene, w*fine, h*fine, v)
	facets := t.facets(scene)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	parallel.Bands(h, func(from, to int) {
		r := newRows(w*fine, stripRows*fine)
		for ; from < to; from += stripRows { // so few that their depths stay near the processor
			r.start(from*fine, min(from+stripRows, to)*fine)
			for k := range facets {
				r.fill(&facets[k])
			}
			r.average(out, from)
		}
	})
	return Shot{out, t}
}

// stripRows is how many rows of a picture are drawn at a time.
const stripRows = 32

// A facet is a triangle on the picture, px, with its nearness at the corners.
type facet struct {
	x, y, near [3]float64
	area       float64 // twice the triangle's, below 0 for one that is seen
	col        uint32
}

// facets projects the triangles that are seen from before.
func (t *viewer) facets(scene []Thing) []facet {
	var out []facet
	for _, th := range scene {
		_, hi := th.Mesh.Bounds()
		at := make([][3]float64, len(th.Mesh.Vertices))
		for i, v := range th.Mesh.Vertices {
			at[i][0], at[i][1], at[i][2] = t.project(v)
		}
		for i, c := range th.Mesh.Triangles {
			var f facet
			for k, v := range c {
				f.x[k], f.y[k], f.near[k] = at[v][0], at[v][1], at[v][2]
			}
			f.area = (f.x[1]-f.x[0])*(f.y[2]-f.y[0]) - (f.x[2]-f.x[0])*(f.y[1]-f.y[0])
			if f.area >= 0 { // seen from behind (picture's y points down)
				continue
			}
			f.col = packed(t.shade(th, th.Mesh.Normal(i), th.Mesh.Vertices[c[0]].Z, hi.Z))
			out = append(out, f)
		}
	}
	return out
}

// rows are some of a picture's rows, with a depth buffer.
type rows struct {
	w, from, to int
	pix         []uint32 // packed by packed
	depth       []float32
}

// packed is a colour in one number, a byte each.
func packed(c color.RGBA) uint32 { return uint32(c.R) | uint32(c.G)<<8 | uint32(c.B)<<16 }

// newRows returns room for so many rows of w px.
func newRows(w, most int) *rows {
	return &rows{w: w, pix: make([]uint32, w*most), depth: make([]float32, w*most)}
}

// start begins a strip of rows with nothing drawn.
func (r *rows) start(from, to int) {
	r.from, r.to = from, to
	ground, far := packed(GroundTint), float32(math.Inf(-1))
	for i := range r.pix {
		r.pix[i], r.depth[i] = ground, far
	}
}

// fill draws those pixels of a facet whose middles lie in it and that nothing nearer covers.
func (r *rows) fill(f *facet) {
	top, bottom := max(int(min(f.y[0], f.y[1], f.y[2])), r.from), min(int(max(f.y[0], f.y[1], f.y[2]))+1, r.to-1)
	if top > bottom {
		return
	}
	left, right := max(int(min(f.x[0], f.x[1], f.x[2])), 0), min(int(max(f.x[0], f.x[1], f.x[2]))+1, r.w-1)
	// The share of each corner falls or grows by so much from one pixel to the next.
	step := [3]float64{(f.y[1] - f.y[2]) / f.area, (f.y[2] - f.y[0]) / f.area, (f.y[0] - f.y[1]) / f.area}
	deeper := step[0]*f.near[0] + step[1]*f.near[1] + step[2]*f.near[2]
	for y := top; y <= bottom; y++ {
		// The corners' shares at the row's first pixel, and the pixels where none is below 0.
		py := float64(y) + 0.5
		first, last := float64(left), float64(right)
		near := 0.0
		for k := range 3 {
			i, j := (k+1)%3, (k+2)%3
			share := (f.x[i]*(f.y[j]-py) - f.x[j]*(f.y[i]-py)) / f.area // at x = 0
			share += 0.5 * step[k]
			near += share * f.near[k]
			switch {
			case step[k] > 0:
				first = max(first, math.Ceil(-share/step[k]))
			case step[k] < 0:
				last = min(last, math.Floor(-share/step[k]))
			case share < 0:
				last = -1
			}
		}
		o := (y - r.from) * r.w
		for x := int(first); x <= int(last); x++ {
			if z := float32(near + float64(x)*deeper); z > r.depth[o+x] {
				r.depth[o+x], r.pix[o+x] = z, f.col
			}
		}
	}
}

// average writes the rows, a pixel for each square of fine by fine, to a picture from a row on.
func (r *rows) average(out *image.RGBA, from int) {
	for y := range (r.to - r.from) / fine {
		line := out.Pix[(from+y)*out.Stride:]
		for x := range r.w / fine {
			var redBlue, green uint32 // two sums in one number: sums of bytes leave room
			for dy := range fine {
				o := (y*fine+dy)*r.w + x*fine
				for _, c := range r.pix[o : o+fine] {
					redBlue, green = redBlue+c&0xff00ff, green+c>>8&0xff
				}
			}
			px := line[4*x : 4*x+4]
			px[0], px[1], px[2], px[3] = uint8(redBlue&0xffff/fine/fine), uint8(green/fine/fine), uint8(redBlue>>16/fine/fine), 255
		}
	}
}

// A viewer knows where on a picture a place of the scene lies.
type viewer struct {
	K      float64 // px per mm
	ox, oy float64

	sinTurn, cosTurn, sinTip, cosTip float64
}

func newViewer(scene []Thing, w, h int, v View) *viewer {
	t := &viewer{K: 1}
	t.sinTurn, t.cosTurn = math.Sincos(geom.Radians(v.Turn))
	t.sinTip, t.cosTip = math.Sincos(geom.Radians(v.Tip))
	n := 0
	for _, m := range scene {
		n += len(m.Mesh.Vertices)
	}
	pts := make([]geom.Point, 0, n)
	for _, m := range scene {
		for _, v := range m.Mesh.Vertices {
			x, y, _ := t.project(v)
			pts = append(pts, geom.Pt(x, y))
		}
	}
	b := geom.Bounds(pts)
	size := b.Size()
	t.K = 0.92 * min(float64(w)/max(size.X, 1), float64(h)/max(size.Y, 1))
	c := b.Min.Lerp(b.Max, 0.5).Mul(t.K)
	t.ox, t.oy = float64(w)/2-c.X, float64(h)/2-c.Y
	return t
}

// project returns picture coordinates and the nearness to the viewer.
func (t *viewer) project(v solid.Vertex) (x, y, near float64) {
	px, py, pz := v.X, v.Y, v.Z
	px, pz = px*t.cosTurn+pz*t.sinTurn, -px*t.sinTurn+pz*t.cosTurn
	py, pz = py*t.cosTip-pz*t.sinTip, py*t.sinTip+pz*t.cosTip
	return px*t.K + t.ox, -py*t.K + t.oy, pz
}

// shade lights a facet by its normal. In a channel the rims of the walls are
// paler and the floor of the slot is amber; they end at the height front.
func (t *viewer) shade(th Thing, n solid.Vertex, z, front float64) color.RGBA {
	l := solid.Vertex{X: -0.42, Y: 0.62, Z: 0.66}
	if t.cosTurn < 0 { // the light stays on the viewer's side
		l.X, l.Z = -l.X, -l.Z
	}
	d := 0.34 + 0.66*max(n.X*l.X+n.Y*l.Y+n.Z*l.Z, 0)
	base := [3]float64{float64(th.Colour.R), float64(th.Colour.G), float64(th.Colour.B)}
	if th.Floor > 0 && n.Z > 0.9 {
		switch {
		case math.Abs(z-th.Floor) < 1e-6:
			base = [3]float64{255, 178, 60}
		case z > front-1e-6:
			base, d = [3]float64{255, 252, 244}, 1
		}
	}
	return color.RGBA{uint8(base[0] * d), uint8(base[1] * d), uint8(base[2] * d), 255}
}
