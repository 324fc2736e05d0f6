package vision

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// pl makes a polyline of x, y pairs.
func pl(xy ...float64) geom.Polyline {
	var out geom.Polyline
	for i := 0; i+1 < len(xy); i += 2 {
		out = append(out, geom.Pt(xy[i], xy[i+1]))
	}
	return out
}

func arcLine(cx, cy, r, a0, a1 float64) geom.Polyline {
	var out geom.Polyline
	for i := 0; i <= 90; i++ {
		a := geom.Radians(a0 + (a1-a0)*float64(i)/90)
		out = append(out, geom.Pt(cx+r*math.Cos(a), cy+r*math.Sin(a)))
	}
	return out
}

// traceScene finds the ink of a scene without dots and traces it.
func traceScene(t *testing.T, s scene) Tracing {
	t.Helper()
	tr, err := traceBy(t, s, DefaultTrace())
	require.NoError(t, err)
	return tr
}

// traceBy is traceScene by some settings.
func traceBy(t *testing.T, s scene, set TraceSettings) (Tracing, error) {
	t.Helper()
	s.dots = nil
	ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	return Trace(ink, Thin(ink.Mask), scenePxPerMm, set)
}

// stray is the largest distance from the traced lines to the drawn ones.
func stray(tr Tracing, drawn []geom.Polyline) float64 {
	worst := 0.0
	for _, s := range tr.Strokes {
		for _, r := range s.Runs {
			for _, p := range r {
				best := math.Inf(1)
				for _, l := range drawn {
					best = min(best, l.DistanceTo(p))
				}
				worst = max(worst, best)
			}
		}
	}
	return worst
}

// missed is the largest distance from the drawn lines to the traced ones.
func missed(tr Tracing, drawn []geom.Polyline) float64 {
	worst := 0.0
	for _, l := range drawn {
		for _, p := range l.Resampled(3) {
			best := math.Inf(1)
			for _, s := range tr.Strokes {
				for _, r := range s.Runs {
					best = min(best, r.DistanceTo(p))
				}
			}
			worst = max(worst, best)
		}
	}
	return worst
}

func TestTrace(t *testing.T) {
	for _, c := range []struct {
		name    string
		lines   []geom.Polyline
		want    geom.Topology
		strokes int
	}{
		{"line", []geom.Polyline{pl(150, 150, 700, 300)}, geom.Topology{Parts: 1, Ends: 2}, 1},
		{"ring", []geom.Polyline{arcLine(450, 350, 200, 0, 360)}, geom.Topology{Parts: 1, Loops: 1}, 1},
		{"square corner", []geom.Polyline{pl(150, 550, 150, 150, 700, 150)}, geom.Topology{Parts: 1, Ends: 2}, 1},
		{"corner of 36 degrees", []geom.Polyline{pl(200, 100, 700, 350, 200, 512)}, geom.Topology{Parts: 1, Ends: 2}, 1},
		{"T", []geom.Polyline{pl(150, 300, 700, 300), pl(420, 300, 420, 600)}, geom.Topology{Parts: 1, Ends: 3, Junctions: 1}, 2},
		{"Y", []geom.Polyline{pl(450, 350, 450, 600), pl(450, 350, 230, 150), pl(450, 350, 670, 150)}, geom.Topology{Parts: 1, Ends: 3, Junctions: 1}, 2},
		{"square crossing", []geom.Polyline{pl(150, 350, 750, 350), pl(450, 100, 450, 600)}, geom.Topology{Parts: 1, Ends: 4, Junctions: 1}, 2},
		{"crossing at 35 degrees", []geom.Polyline{pl(150, 250, 750, 450), pl(150, 450, 750, 250)}, geom.Topology{Parts: 1, Ends: 4, Junctions: 1}, 2},
		{"crossing at 22 degrees", []geom.Polyline{pl(50, 272, 850, 428), pl(50, 428, 850, 272)}, geom.Topology{Parts: 1, Ends: 4, Junctions: 1}, 2},
		{"three lines through a point", []geom.Polyline{pl(450, 100, 450, 600), pl(230, 220, 670, 480), pl(230, 480, 670, 220)}, geom.Topology{Parts: 1, Ends: 6, Junctions: 1}, 3},
		{"loop that crosses itself", []geom.Polyline{append(append(pl(375, 640), arcLine(450, 250, 130, 30, -210)...), pl(525, 640)...)}, geom.Topology{Parts: 1, Ends: 2, Junctions: 1, Loops: 1}, 0},
	} {
		for _, pen := range []float64{7, 18, 60} { // 0.7, 1.8 and 6 mm
			t.Run(c.name+map[float64]string{7: ", thin", 18: "", 60: ", thick"}[pen], func(t *testing.T) {
				tr := traceScene(t, scene{w: 900, h: 700, pen: pen, colour: [3]uint8{30, 30, 30}, lines: c.lines})
				assert.Equal(t, c.want, tr.Topology())
				if c.strokes > 0 {
					assert.Len(t, tr.Strokes, c.strokes)
				}
				assert.InDelta(t, pen, tr.PenWidth, 0.04*pen+0.5)
				// 0.15 mm for a pen of any width, corners and junctions included.
				assert.Less(t, stray(tr, c.lines), 1.5+0.03*pen)
				assert.Less(t, missed(tr, c.lines), 1.5+0.06*pen)
			})
		}
	}
}

// A felt pen presses broader on an arrow's wing; the wing is short, never as narrow as the
// median line, and was once dropped as a blot.
func TestTraceBroaderArm(t *testing.T) {
	wing := pl(450, 350, 422, 322)
	s := scene{w: 900, h: 700, pen: 12, colour: [3]uint8{30, 30, 30}, lines: []geom.Polyline{pl(100, 350, 800, 350)}}
	broad := s
	broad.lines, broad.pen = []geom.Polyline{wing}, 16
	ink, err := FindInk(overdrawn(s.draw(), broad.draw()), scenePxPerMm, DefaultInk())
	require.NoError(t, err)
	tr, err := Trace(ink, Thin(ink.Mask), scenePxPerMm, DefaultTrace())
	require.NoError(t, err)
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 3, Junctions: 1}, tr.Topology())
	assert.Less(t, missed(tr, []geom.Polyline{wing}), 3.0, "px")
}

// overdrawn is a, with b's pixels where they are darker.
func overdrawn(a, b *Colour) *Colour {
	for i, v := range b.Pix {
		a.Pix[i] = min(a.Pix[i], v)
	}
	return a
}

// A line that goes straight on past the end of another stays straight, though
// that one overshoots it a little.
func TestTraceOvershoot(t *testing.T) {
	line := pl(150, 300, 750, 300)
	tr := traceScene(t, scene{w: 900, h: 700, pen: 20, colour: [3]uint8{30, 30, 30}, lines: []geom.Polyline{line, pl(430, 308, 400, 600)}})
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 3, Junctions: 1}, tr.Topology())
	for _, s := range tr.Strokes {
		for _, r := range s.Runs {
			if r[len(r)/2].Y > 320 { // the one that ends here
				continue
			}
			for _, p := range r {
				assert.InDelta(t, 300, p.Y, 1.5)
			}
		}
	}
	for _, k := range tr.Knots {
		if k.Degree == 3 {
			assert.InDelta(t, 300, k.At.Y, 1.5)
		}
	}
}

// Runs share their knots exactly.
func TestTraceSharesKnots(t *testing.T) {
	tr := traceScene(t, scene{w: 900, h: 700, pen: 18, colour: [3]uint8{30, 30, 30},
		lines: []geom.Polyline{pl(150, 350, 750, 350), pl(450, 100, 450, 600), arcLine(450, 350, 150, 0, 360)}})
	assert.Equal(t, geom.Topology{Parts: 1, Ends: 4, Junctions: 5, Loops: 4}, tr.Topology())
	for _, s := range tr.Strokes {
		require.Len(t, s.Knots, len(s.Runs)+1)
		for i, r := range s.Runs {
			assert.Equal(t, tr.Knots[s.Knots[i]].At, r[0])
			assert.Equal(t, tr.Knots[s.Knots[i+1]].At, r[len(r)-1])
		}
	}
}

func TestTraceDropsShort(t *testing.T) {
	s := scene{w: 900, h: 700, pen: 12, colour: [3]uint8{30, 30, 30}, lines: []geom.Polyline{pl(150, 350, 750, 350), pl(300, 500, 318, 500)}}
	tr := traceScene(t, s)
	assert.Equal(t, 1, tr.Short)
	assert.Len(t, tr.Strokes, 1)
}

func TestTraceRefusesNothing(t *testing.T) {
	b := NewBitmap(50, 50)
	_, err := Trace(&Ink{Mask: b, Level: NewGrey(50, 50)}, b, 10, DefaultTrace())
	assert.ErrorContains(t, err, "no pen line")
}

// Whatever the bitmap, tracing ends without a panic and its runs meet their
// knots.
func TestTraceRandom(t *testing.T) {
	rng := rand.New(rand.NewSource(2))
	for name, b := range bitmaps(1500) {
		level := NewGrey(b.W, b.H)
		for i, v := range b.Pix {
			level.Pix[i] = 40 + 180*v + uint8(rng.Intn(20))
		}
		tr, err := Trace(&Ink{Mask: b, Level: level}, Thin(b), 1, DefaultTrace())
		if err != nil {
			continue
		}
		for _, s := range tr.Strokes {
			for i, r := range s.Runs {
				require.GreaterOrEqual(t, len(r), 2, name)
				require.Equal(t, tr.Knots[s.Knots[i]].At, r[0], name)
				for _, p := range r {
					require.False(t, math.IsNaN(p.X+p.Y), name)
				}
			}
		}
	}
}

// A matched filter smears the paper's grain beside a faint line into hairs, paler than the
// line; an arm as dark as the line stays.
func TestTraceHair(t *testing.T) {
	for _, c := range []struct {
		name string
		dark uint8 // of the arm, beyond ink's edge
		ends int
	}{{"a hair", 15, 2}, {"an arm", 70, 3}} {
		t.Run(c.name, func(t *testing.T) {
			b, level := NewBitmap(400, 200), NewGrey(400, 200)
			stroke := func(from, to geom.Point, half float64, dark uint8) {
				for i := range b.Pix {
					p := geom.Pt(float64(i%400)+0.5, float64(i/400)+0.5)
					if f, _ := geom.Foot(from, to, p); f.Dist(p) <= half && level.Pix[i] < inkEdge+dark {
						b.Pix[i], level.Pix[i] = 1, inkEdge+dark
					}
				}
			}
			stroke(geom.Pt(30, 100), geom.Pt(370, 100), 3.5, 80)
			stroke(geom.Pt(200, 100), geom.Pt(212, 88), 2.5, c.dark)
			tr, err := Trace(&Ink{Mask: b, Level: level}, Thin(b), 5, DefaultTrace())
			require.NoError(t, err)
			assert.Equal(t, c.ends, tr.Topology().Ends)
		})
	}
}
