package specimen

import (
	"image/color"
	"maps"
	"math"
	"slices"

	"inkchannel/geom"
)

// Teapot is the demo drawing: a tea room's teapot with steam above it.
func Teapot() []geom.Polyline {
	return []geom.Polyline{
		// Body, from the lid's left round the belly to the lid's right.
		spline(-34, -30, -52, -14, -58, 10, -48, 34, -24, 46, 0, 48, 24, 46, 48, 34, 58, 10, 52, -14, 34, -30),
		// Rim of the lid.
		spline(-34, -30, -12, -33, 12, -33, 34, -30),
		// Dome of the lid with its knob.
		spline(-34, -30, -26, -42, -9, -49, 9, -49, 26, -42, 34, -30),
		spline(-6, -48.8, -9.5, -56, -6, -63, 0, -65, 6, -63, 9.5, -56, 6, -48.8),
		// Spout.
		spline(-57, 14, -72, 8, -80, -8, -86, -24, -98, -32),
		spline(-98, -32, -90, -36, -80, -34, -72, -24, -66, -14, -54.2, -10),
		// Handle.
		spline(54.2, -10, 72, -22, 90, -12, 92, 8, 78, 26, 54.5, 24),
		// Steam.
		spline(-98, -48, -104, -58, -96, -68, -103, -80),
		spline(-84, -50, -90, -62, -81, -74, -88, -88),
	}
}

// Plain returns the drawings of the plain set: at least forty, drawn on A4
// with pens of 0.7 to 6 mm by a slightly unsteady hand. words are strokes of
// single-line lettering to add, by name. Variant 0 is the set; others draw the
// same with another hand and with pens 0.7 or 1.4 times as broad, to tell
// whether what works on the set works beyond it.
func Plain(words map[string][]geom.Polyline, variant int) []Drawing {
	type item struct {
		name    string
		pen     float64
		wide    bool
		strokes []geom.Polyline
	}
	items := []item{
		{"teapot", 1.6, true, Teapot()},
		{"cup", 2, false, []geom.Polyline{
			spline(-40, -30, -38, 10, -26, 34, 0, 40, 26, 34, 38, 10, 40, -30),
			line(-40, -30, 40, -30),
			spline(39.3, -12, 58, -16, 66, 0, 56, 16, 35, 18),
			arc(0, 52, 58, 10, 20, 160),
			spline(-12, -44, -18, -56, -8, -66, -14, -80),
			spline(12, -44, 6, -56, 16, -66, 10, -80),
		}},
		{"leaf", 1.2, false, []geom.Polyline{
			spline(0, 60, -30, 30, -36, -10, 0, -60), spline(0, 60, 30, 30, 36, -10, 0, -60),
			line(0, 84, 0, -30), line(0, 30, -18, 10), line(0, 30, 18, 10), line(0, 4, -16, -14), line(0, 4, 16, -14),
		}},
		{"heart", 3, false, []geom.Polyline{
			spline(0, -20, -14, -44, -42, -44, -52, -16, -30, 18, 0, 48), spline(0, -20, 14, -44, 42, -44, 52, -16, 30, 18, 0, 48),
		}},
		{"pentagram", 1.5, false, []geom.Polyline{polygon(5, 2, 60)}},
		{"star", 2.5, false, []geom.Polyline{starOutline(5, 60, 25)}},
		{"house", 1, false, []geom.Polyline{
			ring(-40, 0, 40, 0, 40, 60, -40, 60), line(-40, 0, 0, -40, 40, 0), line(-10, 60, -10, 28, 12, 28, 12, 60),
			ring(20, 16, 32, 16, 32, 30, 20, 30),
		}},
		{"spiral", 2, false, []geom.Polyline{spiral(3.2, 14)}},
		{"eight", 3, false, []geom.Polyline{lissajous(1, 2, 0)}},
		{"wave", 4, true, []geom.Polyline{spline(-80, 0, -60, -20, -40, 0, -20, 20, 0, 0, 20, -20, 40, 0, 60, 20, 80, 0)}},
		{"circle", 6, false, []geom.Polyline{circle(0, 0, 50)}},
		{"target", 2, false, []geom.Polyline{circle(0, 0, 60), circle(0, 0, 40), circle(0, 0, 20)}},
		{"cross", 6, false, []geom.Polyline{line(-50, -60, 50, 60), line(50, -60, -50, 60)}},
		{"shallow-cross", 3, true, []geom.Polyline{line(-80, -25, 80, 25), line(-80, 25, 80, -25)}},
		{"hash", 2, false, []geom.Polyline{
			line(-20, -60, -20, 60), line(20, -60, 20, 60), line(-60, -20, 60, -20), line(-60, 20, 60, 20),
		}},
		{"ladder", 3, false, []geom.Polyline{
			line(-30, -80, -30, 80), line(30, -80, 30, 80), line(-30, -50, 30, -50), line(-30, -16, 30, -16), line(-30, 18, 30, 18), line(-30, 52, 30, 52),
		}},
		{"zigzag", 4, true, []geom.Polyline{line(-80, 20, -50, -20, -20, 20, 10, -20, 40, 20, 70, -20)}},
		{"fish", 2, true, []geom.Polyline{spline(70, -24, 40, 6, 0, 26, -40, 20, -60, 0, -40, -20, 0, -26, 40, -6, 70, 24), circle(-36, -4, 4)}},
		{"tree", 2.5, false, []geom.Polyline{
			line(0, 80, 0, -60), line(0, 40, -40, 0), line(0, 40, 40, 0), line(0, 0, -30, -30), line(0, 0, 30, -30), line(0, -30, -16, -50), line(0, -30, 16, -50),
		}},
		{"flower", 1.5, false, []geom.Polyline{rose(5, 60)}},
		{"key", 3, true, []geom.Polyline{circle(-60, 0, 24), line(-36, 0, 70, 0), line(70, 0, 70, 22), line(50, 0, 50, 18)}},
		{"anchor", 3, false, []geom.Polyline{
			circle(0, -66, 10), line(0, -56, 0, 60), line(-26, -38, 26, -38), spline(-56, 14, -48, 40, -24, 56, 0, 60, 24, 56, 48, 40, 56, 14),
		}},
		{"moon", 5, false, []geom.Polyline{joined(arc(0, 0, 60, 60, 60, 300), spline(30, -52, 0, -34, -10, 0, 0, 34, 30, 52))}},
		{"sun", 2, false, append([]geom.Polyline{circle(0, 0, 28)}, rays(12, 38, 62)...)},
		{"cat", 1.4, false, []geom.Polyline{
			loop(0, -34, 24, -32, 44, -8, 42, 22, 22, 42, 0, 46, -22, 42, -42, 22, -44, -8, -24, -32),
			line(-30.6, -27, -42, -66, -8, -34), line(30.6, -27, 42, -66, 8, -34), line(-8, 10, 8, 10, 0, 20, -8, 10),
			line(14, 18, 70, 10), line(14, 22, 70, 28), line(-14, 18, -70, 10), line(-14, 22, -70, 28), circle(-18, -6, 6), circle(18, -6, 6),
		}},
		{"bird", 1, true, []geom.Polyline{
			spline(-70, 0, -54, -14, -36, -8, -10, -20, 30, -16, 70, -40), spline(-70, 0, -40, 18, 0, 26, 34, 10, 70, -40), spline(-6, -4, 10, 14, 34, -2),
		}},
		{"boat", 2, true, []geom.Polyline{
			line(-60, 30, 60, 30, 40, 56, -40, 56, -60, 30), line(0, 30, 0, -60), line(0, -60, 46, 16, 0, 16), line(0, -44, -34, 16, 0, 16),
		}},
		{"trefoil", 3, false, []geom.Polyline{trefoil(30)}},
		{"arrow", 5, true, []geom.Polyline{line(-70, 0, 70, 0), line(36, -34, 70, 0, 36, 34)}},
		{"asterisk", 2, false, []geom.Polyline{line(0, -60, 0, 60), line(-52, -30, 52, 30), line(-52, 30, 52, -30)}},
		{"square", 6, false, []geom.Polyline{ring(-50, -50, 50, -50, 50, 50, -50, 50)}},
		{"triangle", 3, false, []geom.Polyline{ring(0, -56, 50, 30, -50, 30)}},
		{"letter-r", 4, false, []geom.Polyline{line(-30, 60, -30, -60), spline(-30, -60, 10, -60, 34, -42, 34, -14, 10, 4, -30, 4), line(10, 4, 40, 60)}},
		{"lattice", 0.7, false, []geom.Polyline{
			line(-60, -60, 60, 60), line(60, -60, -60, 60), line(-60, 0, 0, -60), line(0, -60, 60, 0), line(60, 0, 0, 60), line(0, 60, -60, 0),
		}},
		{"bolt", 3, false, []geom.Polyline{ring(10, -70, -34, 10, -4, 10, -14, 70, 34, -16, 4, -16)}},
		{"umbrella", 2, false, []geom.Polyline{
			arc(0, 0, 60, 60, 180, 360), spline(-60, 0, -40, -12, -20, 0), spline(-20, 0, 0, -12, 20, 0), spline(20, 0, 40, -12, 60, 0),
			joined(line(0, -60, 0, 56), arc(-10, 56, 10, 14, 0, 180)),
		}},
	}
	for _, w := range slices.Sorted(maps.Keys(words)) {
		items = append(items, item{w, 0.9 + 0.3*float64(len(items)%6), true, words[w]})
	}
	var out []Drawing
	for i, it := range items {
		pen := min(max(it.pen*[]float64{1, 0.7, 1.4}[variant%3], 0.6), 6)
		d := OnA4(it.name, it.strokes, pen, it.wide)
		d.Pen = []color.RGBA{Black, Blue, Red, Green}[i%4]
		out = append(out, d.Unsteady(0.8, int64(100+i+1000*variant)))
	}
	return out
}

// polygon is a star polygon {n/step} of circumradius r drawn in one go.
func polygon(n, step int, r float64) geom.Polyline {
	var out geom.Polyline
	for i := 0; i <= n; i++ {
		a := 2*math.Pi*float64(i*step%n)/float64(n) - math.Pi/2
		out = append(out, geom.Pt(r*math.Cos(a), r*math.Sin(a)))
	}
	return out
}

func starOutline(n int, outer, inner float64) geom.Polyline {
	var out geom.Polyline
	for i := 0; i <= 2*n; i++ {
		a, r := math.Pi*float64(i%(2*n))/float64(n)-math.Pi/2, outer
		if i%2 == 1 {
			r = inner
		}
		out = append(out, geom.Pt(r*math.Cos(a), r*math.Sin(a)))
	}
	return out
}

func spiral(turns, pitch float64) geom.Polyline {
	var out geom.Polyline
	for a := 1.0; a <= turns*2*math.Pi; a += 0.05 {
		r := pitch * a / (2 * math.Pi)
		out = append(out, geom.Pt(r*math.Cos(a), r*math.Sin(a)))
	}
	return out
}

func parametric(f func(t float64) geom.Point) geom.Polyline {
	var out geom.Polyline
	for i := 0; i <= 400; i++ {
		out = append(out, f(2*math.Pi*float64(i%400)/400))
	}
	return out
}

func lissajous(a, b, phase float64) geom.Polyline {
	return parametric(func(t float64) geom.Point {
		return geom.Pt(30*math.Sin(b*t+phase), 60*math.Sin(a*t))
	})
}

func rose(petals int, r float64) geom.Polyline {
	return parametric(func(t float64) geom.Point {
		k := r * (0.62 + 0.38*math.Cos(float64(petals)*t))
		return geom.Pt(k*math.Cos(t), k*math.Sin(t))
	})
}

func trefoil(r float64) geom.Polyline {
	return parametric(func(t float64) geom.Point {
		return geom.Pt(r*(math.Sin(t)+2*math.Sin(2*t)), r*(math.Cos(t)-2*math.Cos(2*t)))
	})
}

func rays(n int, from, to float64) []geom.Polyline {
	var out []geom.Polyline
	for i := range n {
		d := geom.Pt(math.Cos(2*math.Pi*float64(i)/float64(n)), math.Sin(2*math.Pi*float64(i)/float64(n)))
		out = append(out, geom.Polyline{d.Mul(from), d.Mul(to)})
	}
	return out
}

// joined chains polylines into one and closes nothing.
func joined(pls ...geom.Polyline) geom.Polyline {
	var out geom.Polyline
	for _, pl := range pls {
		out = append(out, pl...)
	}
	return out
}

// Demo is the drawing of the bundled photo: the teapot in blue-black, drawn
// a little unsteadily on A4 with a broad felt pen.
func Demo() Drawing {
	d := OnA4("teapot", Teapot(), 2.2, true)
	return d.Unsteady(1, 11)
}

// DemoView is the bundled photo's view: held in the hand, a little tilted,
// with the photographer's shadow on the sheet.
func DemoView() View {
	return View{
		Name: "demo", Width: 4000, Tilt: 15, Azimuth: 15, Roll: -4, Fill: 0.9, Blur: 1.1, Gradient: 0.18,
		Vignette: 0.15, Shadow: 0.22, Penumbra: 90, Warmth: 0.06, Exposure: 0.9, Noise: 3, Quality: 90, Seed: 5,
	}
}
