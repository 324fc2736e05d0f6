package pipeline

import (
	"image"
	"image/color"
	"math"

	"inkchannel/geom"
)

// The view of the part: turned about the vertical axis, then tipped back, so
// that the open front and the walls show. Degrees.
const (
	viewTurn = -11
	viewTip  = 25
)

// render draws a mesh of w by h px as seen in parallel projection, lit from
// the upper left, twice as fine and then averaged.
func render(m *geom.Mesh, w, h int) *image.RGBA {
	const fine = 2
	t := newViewer(m, w*fine, h*fine)
	for i := range m.Triangles {
		t.triangle(m, i)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			var sum [3]int
			for dy := range fine {
				for dx := range fine {
					c := t.pix[(y*fine+dy)*t.w+x*fine+dx]
					sum[0], sum[1], sum[2] = sum[0]+int(c.R), sum[1]+int(c.G), sum[2]+int(c.B)
				}
			}
			out.SetRGBA(x, y, color.RGBA{uint8(sum[0] / fine / fine), uint8(sum[1] / fine / fine), uint8(sum[2] / fine / fine), 255})
		}
	}
	return out
}

// A viewer rasterises triangles with a depth buffer.
type viewer struct {
	w, h   int
	pix    []color.RGBA
	depth  []float32
	k      float64 // px per mm
	ox, oy float64
	mid    geom.Vertex
	front  float64 // z of the front, where the walls end
}

func newViewer(m *geom.Mesh, w, h int) *viewer {
	t := &viewer{w: w, h: h, pix: make([]color.RGBA, w*h), depth: make([]float32, w*h)}
	for i := range t.pix {
		t.pix[i] = groundTint
		t.depth[i] = float32(math.Inf(-1))
	}
	lo, hi := m.Bounds()
	t.mid = geom.Vertex{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2, Z: (lo.Z + hi.Z) / 2}
	t.front = hi.Z
	t.k = 1
	var pts []geom.Point
	for _, v := range m.Vertices {
		x, y, _ := t.project(v)
		pts = append(pts, geom.Pt(x, y))
	}
	b := geom.Bounds(pts)
	size := b.Size()
	t.k = 0.92 * min(float64(w)/max(size.X, 1), float64(h)/max(size.Y, 1))
	c := b.Min.Lerp(b.Max, 0.5).Mul(t.k)
	t.ox, t.oy = float64(w)/2-c.X, float64(h)/2-c.Y
	return t
}

// project returns picture coordinates and the nearness to the viewer.
func (t *viewer) project(v geom.Vertex) (x, y, near float64) {
	sa, ca := math.Sincos(geom.Radians(viewTurn))
	sb, cb := math.Sincos(geom.Radians(viewTip))
	px, py, pz := v.X-t.mid.X, v.Y-t.mid.Y, v.Z-t.mid.Z
	px, pz = px*ca+pz*sa, -px*sa+pz*ca
	py, pz = py*cb-pz*sb, py*sb+pz*cb
	return px*t.k + t.ox, -py*t.k + t.oy, pz
}

func (t *viewer) triangle(m *geom.Mesh, i int) {
	a, b, c := m.Corners(i)
	n := m.Normal(i)
	x0, y0, z0 := t.project(a)
	x1, y1, z1 := t.project(b)
	x2, y2, z2 := t.project(c)
	area := (x1-x0)*(y2-y0) - (x2-x0)*(y1-y0)
	if area >= 0 { // seen from behind (picture's y points down)
		return
	}
	col := t.shade(n, a.Z)
	minX, maxX := max(int(min(x0, x1, x2)), 0), min(int(max(x0, x1, x2))+1, t.w-1)
	minY, maxY := max(int(min(y0, y1, y2)), 0), min(int(max(y0, y1, y2))+1, t.h-1)
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
			if o := y*t.w + x; z > t.depth[o] {
				t.depth[o], t.pix[o] = z, col
			}
		}
	}
}

// shade lights a facet by its normal: walls in a warm grey, their rims at the
// front paler, and the floor of the slot, where the strip lies, in amber.
func (t *viewer) shade(n geom.Vertex, z float64) color.RGBA {
	l := geom.Vertex{X: -0.42, Y: 0.62, Z: 0.66}
	d := 0.34 + 0.66*max(n.X*l.X+n.Y*l.Y+n.Z*l.Z, 0)
	base := [3]float64{226, 208, 182}
	if n.Z > 0.9 {
		base = [3]float64{255, 178, 60}
		if z > t.front-1e-6 {
			base = [3]float64{255, 252, 244}
			d = 1
		}
	}
	return color.RGBA{uint8(base[0] * d), uint8(base[1] * d), uint8(base[2] * d), 255}
}
