package picture

import (
	"image"
	"image/color"
	"math"

	"inkchannel/geom"
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
	for _, m := range scene {
		_, hi := m.Mesh.Bounds()
		t.front = hi.Z
		for i := range m.Mesh.Triangles {
			t.triangle(m, i)
		}
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			var sum [3]int
			for dy := range fine {
				for dx := range fine {
					c := t.pix[(y*fine+dy)*t.W+x*fine+dx]
					sum[0], sum[1], sum[2] = sum[0]+int(c.R), sum[1]+int(c.G), sum[2]+int(c.B)
				}
			}
			out.SetRGBA(
				x, y,
				color.RGBA{uint8(sum[0] / fine / fine), uint8(sum[1] / fine / fine), uint8(sum[2] / fine / fine), 255},
			)
		}
	}
	return Shot{out, t}
}

// A viewer rasterises triangles with a depth buffer.
type viewer struct {
	W, H   int
	pix    []color.RGBA
	depth  []float32
	K      float64 // px per mm
	ox, oy float64
	front  float64 // z of the thing's front, where the walls end

	sinTurn, cosTurn, sinTip, cosTip float64
}

func newViewer(scene []Thing, w, h int, v View) *viewer {
	t := &viewer{W: w, H: h, pix: make([]color.RGBA, w*h), depth: make([]float32, w*h)}
	for i := range t.pix {
		t.pix[i] = GroundTint
		t.depth[i] = float32(math.Inf(-1))
	}
	t.sinTurn, t.cosTurn = math.Sincos(geom.Radians(v.Turn))
	t.sinTip, t.cosTip = math.Sincos(geom.Radians(v.Tip))
	t.K = 1
	var pts []geom.Point
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

func (t *viewer) triangle(th Thing, i int) {
	m := th.Mesh
	a, b, c := m.Corners(i)
	n := m.Normal(i)
	x0, y0, z0 := t.project(a)
	x1, y1, z1 := t.project(b)
	x2, y2, z2 := t.project(c)
	area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
	if area >= 0 { // seen from behind (picture's y points down)
		return
	}
	col := t.shade(th, n, a.Z)
	minX, maxX := max(int(min(x0, x1, x2)), 0), min(int(max(x0, x1, x2))+1, t.W-1)
	minY, maxY := max(int(min(y0, y1, y2)), 0), min(int(max(y0, y1, y2))+1, t.H-1)
	for y := minY; y <= maxY; y++ {
		for x := minX; x <= maxX; x++ {
			px, py := float64(x)+0.5, float64(y)+0.5
			u := ((x1-px)*(y2-py) - (x2-px)*(y1-py)) / area
			v := ((x2-px)*(y0-py) - (x0-px)*(y2-py)) / area
			s := 1 - u - v
			if u < 0 || v < 0 || s < 0 {
				continue
			}
			z := float32(u*z0 + v*z1 + s*z2)
			if o := y*t.W + x; z > t.depth[o] {
				t.depth[o], t.pix[o] = z, col
			}
		}
	}
}

// shade lights a facet by its normal. In a channel the rims of the walls are
// paler and the floor of the slot is amber.
func (t *viewer) shade(th Thing, n solid.Vertex, z float64) color.RGBA {
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
		case z > t.front-1e-6:
			base, d = [3]float64{255, 252, 244}, 1
		}
	}
	return color.RGBA{uint8(base[0] * d), uint8(base[1] * d), uint8(base[2] * d), 255}
}
