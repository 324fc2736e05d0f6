package specimen

import (
	"image/color"
	"math"
	"math/rand"

	"inkchannel/geom"
)

// A Drawing is what the hand means to draw, in mm on the sheet (y down).
type Drawing struct {
	Name     string
	Strokes  []geom.Polyline
	PenWidth float64 // mm
	Pen      color.RGBA
	Pens     []color.RGBA  // of each stroke, if they differ
	Sheet    geom.Point    // width and height, mm
	Dots     [2]geom.Point // centres of the reference dots, mm
	DotSize  float64       // diameter, mm
	Touch    Touch         // how the pen lies on the paper
}

// Common pens.
var (
	Black = color.RGBA{28, 27, 30, 255}
	Blue  = color.RGBA{38, 62, 158, 255}
	Red   = color.RGBA{186, 34, 44, 255}
	Green = color.RGBA{22, 122, 62, 255}

	Graphite = color.RGBA{96, 96, 100, 255} // a soft pencil's
)

// OnA4 lays strokes drawn in a box of the given size (mm) in the middle of an
// A4 sheet (ISO 216: 210 × 297 mm), upright or turned to landscape, with the
// two dots 100 mm apart near the lower edge.
func OnA4(name string, strokes []geom.Polyline, pen float64, landscape bool) Drawing {
	sheet := geom.Pt(210, 297)
	if landscape {
		sheet = geom.Pt(297, 210)
	}
	room := geom.Rect{Min: geom.Pt(16, 16), Max: geom.Pt(sheet.X-16, sheet.Y-38)}
	d := Drawing{
		Name: name, PenWidth: pen, Pen: Black, Sheet: sheet, DotSize: 4,
		Strokes: fill(strokes, room, pen),
	}
	d.Dots = [2]geom.Point{
		geom.Pt(sheet.X/2-50, sheet.Y-20), geom.Pt(sheet.X/2+50, sheet.Y-20),
	}
	return d
}

// fill scales strokes evenly to fill room, less half a pen all round.
func fill(strokes []geom.Polyline, room geom.Rect, pen float64) []geom.Polyline {
	var all []geom.Point
	for _, s := range strokes {
		all = append(all, s...)
	}
	b := geom.Bounds(all)
	size, want := b.Size(), room.Size().Sub(geom.Pt(pen, pen))
	k := math.Inf(1)
	if size.X > 0 {
		k = want.X / size.X
	}
	if size.Y > 0 {
		k = min(k, want.Y/size.Y)
	}
	mid, to := b.Min.Lerp(b.Max, 0.5), room.Min.Lerp(room.Max, 0.5)
	out := make([]geom.Polyline, len(strokes))
	for i, s := range strokes {
		for _, p := range s {
			out[i] = append(out[i], p.Sub(mid).Mul(k).Add(to))
		}
	}
	return out
}

// Unsteady returns d drawn by an unsteady hand: each stroke point is moved by
// a smooth field over the sheet of about amount mm, the same for all strokes,
// so that strokes that met still meet.
func (d Drawing) Unsteady(amount float64, seed int64) Drawing {
	rng := rand.New(rand.NewSource(seed))
	type wave struct {
		k      geom.Point
		phase  float64
		move   geom.Point
		weight float64
	}
	var waves []wave
	// Slow drift of the arm and a quicker tremor of the fingers.
	for _, band := range []struct{ length, share float64 }{{90, 0.6}, {45, 0.3}, {22, 0.1}} {
		for range 6 {
			a, m := rng.Float64()*2*math.Pi, rng.Float64()*2*math.Pi
			waves = append(waves, wave{
				k:     geom.Pt(math.Cos(a), math.Sin(a)).Mul(2 * math.Pi / band.length),
				phase: rng.Float64() * 2 * math.Pi,
				move:  geom.Pt(math.Cos(m), math.Sin(m)), weight: amount * band.share / math.Sqrt(3),
			})
		}
	}
	out := d
	out.Strokes = make([]geom.Polyline, len(d.Strokes))
	for i, s := range d.Strokes {
		for _, p := range dense(s, 0.5) {
			q := p
			for _, w := range waves {
				q = q.Add(w.move.Mul(w.weight * math.Sin(w.k.Dot(p)+w.phase)))
			}
			out.Strokes[i] = append(out.Strokes[i], q)
		}
	}
	return out
}

// dense returns pl with points added so that no segment is longer than step.
func dense(pl geom.Polyline, step float64) geom.Polyline {
	out := geom.Polyline{pl[0]}
	for i := 1; i < len(pl); i++ {
		n := int(math.Ceil(pl[i-1].Dist(pl[i]) / step))
		for k := 1; k < n; k++ {
			out = append(out, pl[i-1].Lerp(pl[i], float64(k)/float64(n)))
		}
		out = append(out, pl[i])
	}
	return out
}

// line joins points given as x, y pairs by straight lines.
func line(xy ...float64) geom.Polyline {
	var out geom.Polyline
	for i := 0; i+1 < len(xy); i += 2 {
		out = append(out, geom.Pt(xy[i], xy[i+1]))
	}
	return out
}

// ring is line closed.
func ring(xy ...float64) geom.Polyline { return line(append(xy, xy[0], xy[1])...) }

// spline runs a centripetal Catmull–Rom curve through points given as x, y
// pairs.
func spline(xy ...float64) geom.Polyline {
	p := line(xy...)
	ends := append(append(geom.Polyline{p[0].Mul(2).Sub(p[1])}, p...),
		p[len(p)-1].Mul(2).Sub(p[len(p)-2]))
	return catmullRom(ends)
}

// loop runs a closed Catmull–Rom curve through points given as x, y pairs.
func loop(xy ...float64) geom.Polyline {
	p := line(xy...)
	n := len(p)
	out := catmullRom(append(append(geom.Polyline{p[n-1]}, p...), p[0], p[1]))
	out[len(out)-1] = out[0]
	return out
}

func catmullRom(p geom.Polyline) geom.Polyline {
	out := geom.Polyline{p[1]}
	for i := 1; i+2 < len(p); i++ {
		t0 := 0.0
		t1 := t0 + math.Sqrt(p[i-1].Dist(p[i]))
		t2 := t1 + math.Sqrt(p[i].Dist(p[i+1]))
		t3 := t2 + math.Sqrt(p[i+1].Dist(p[i+2]))
		for k := 1; k <= 24; k++ {
			t := t1 + (t2-t1)*float64(k)/24
			a1 := p[i-1].Lerp(p[i], (t-t0)/(t1-t0))
			a2 := p[i].Lerp(p[i+1], (t-t1)/(t2-t1))
			a3 := p[i+1].Lerp(p[i+2], (t-t2)/(t3-t2))
			b1 := a1.Lerp(a2, (t-t0)/(t2-t0))
			b2 := a2.Lerp(a3, (t-t1)/(t3-t1))
			out = append(out, b1.Lerp(b2, (t-t1)/(t2-t1)))
		}
	}
	return out
}

// arc is an arc of an ellipse about (cx, cy) from angle a0 to a1, in degrees
// clockwise as seen on the sheet.
func arc(cx, cy, rx, ry, a0, a1 float64) geom.Polyline {
	n := max(int(math.Abs(a1-a0)/2), 8)
	var out geom.Polyline
	for i := 0; i <= n; i++ {
		a := geom.Radians(a0 + (a1-a0)*float64(i)/float64(n))
		out = append(out, geom.Pt(cx+rx*math.Cos(a), cy+ry*math.Sin(a)))
	}
	if math.Abs(a1-a0) >= 360 {
		out[n] = out[0]
	}
	return out
}

func circle(cx, cy, r float64) geom.Polyline { return arc(cx, cy, r, r, 0, 360) }
