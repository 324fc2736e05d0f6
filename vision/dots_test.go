package vision

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

func TestFindDots(t *testing.T) {
	// 60 mm apart at 10 px a mm, unless a case says otherwise.
	for _, c := range []struct {
		name   string
		change func(*scene)
		set    func(*DotSettings)
		page   Page
		want   [2]geom.Point
	}{
		{"plain", func(*scene) {}, nil, PageA4, [2]geom.Point{{X: 100, Y: 600}, {X: 700, Y: 600}}},
		{"no page known", func(*scene) {}, nil, PageFree, [2]geom.Point{{X: 100, Y: 600}, {X: 700, Y: 600}}},
		{"between pixels", func(s *scene) { s.dots = []geom.Point{{X: 100.3, Y: 600.7}, {X: 699.6, Y: 610.2}} }, nil, PageA4, [2]geom.Point{{X: 100.3, Y: 600.7}, {X: 699.6, Y: 610.2}}},
		{"small dots", func(s *scene) { s.dotPx = 16 }, nil, PageA4, [2]geom.Point{{X: 100, Y: 600}, {X: 700, Y: 600}}},
		{"a third dot, told by the page", func(s *scene) { s.dots = append(s.dots, geom.Pt(400, 300)) }, nil, PageA4, [2]geom.Point{{X: 100, Y: 600}, {X: 700, Y: 600}}},
		{"beside full stops as far apart", func(s *scene) {
			s.pen, s.dotPx = 14, 38
			for _, p := range []geom.Point{{X: 100, Y: 330}, {X: 700, Y: 330}, {X: 150, Y: 420}, {X: 750, Y: 420}} {
				s.lines = append(s.lines, geom.Polyline{p, p.Add(geom.Pt(1, 0))})
			}
		}, nil, PageA4, [2]geom.Point{{X: 100, Y: 600}, {X: 700, Y: 600}}},
		{"by hand, a little off", func(s *scene) { s.dots = append(s.dots, geom.Pt(400, 300)) },
			func(s *DotSettings) { s.Places = []geom.Point{{X: 405, Y: 297}, {X: 690, Y: 606}} }, PageA4, [2]geom.Point{{X: 400, Y: 300}, {X: 700, Y: 600}}},
		{"by hand where there is none", func(*scene) {},
			func(s *DotSettings) { s.Places = []geom.Point{{X: 300, Y: 500}, {X: 50, Y: 50}} }, PageA4, [2]geom.Point{{X: 50, Y: 50}, {X: 300, Y: 500}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := testScene()
			c.change(&s)
			ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			set := DefaultDots()
			set.Distance = 60
			if c.set != nil {
				c.set(&set)
			}
			before := ink.Mask.Count()
			d, err := FindDots(ink, c.page, scenePxPerMm, set)
			require.NoError(t, err)
			for i := range c.want {
				assert.Less(t, d.Pair[i].Centre.Dist(c.want[i]), 0.25)
			}
			assert.InEpsilon(t, c.want[0].Dist(c.want[1])/60, d.PxPerMm, 1e-3)
			assert.Equal(t, before, ink.Mask.Count(), "the ink given is left alone")
			for _, p := range d.Pair {
				assert.Zero(t, d.Rest.Mask.Pix[int(p.Centre.Y)*s.w+int(p.Centre.X)], "the dots are gone from the rest")
			}
		})
	}
}

func TestFindDotsRefuses(t *testing.T) {
	ring := geom.Polyline{}
	for i := range 37 {
		ring = append(ring, geom.Pt(400+16*math.Cos(float64(i)*math.Pi/18), 500+16*math.Sin(float64(i)*math.Pi/18)))
	}
	for _, c := range []struct {
		name   string
		change func(*scene)
		page   Page
		want   string
		seen   int
	}{
		{"none", func(s *scene) { s.dots = nil }, PageA4, "no reference dot found", 0},
		{"one", func(s *scene) { s.dots = s.dots[:1] }, PageA4, "only one reference dot", 1},
		{"a small ring is no dot", func(s *scene) { s.dots = s.dots[:1]; s.pen = 8; s.lines = append(s.lines, ring) }, PageA4, "only one reference dot", 1},
		{"a short stroke is no dot", func(s *scene) {
			s.dots = s.dots[:1]
			s.lines = append(s.lines, geom.Polyline{geom.Pt(400, 520), geom.Pt(440, 520)})
		}, PageA4, "only one reference dot", 1},
		{"a dot against a line is no dot", func(s *scene) { s.dots[1] = geom.Pt(400, 205) }, PageA4, "only one reference dot", 1},
		{"three and no page", func(s *scene) { s.dots = append(s.dots, geom.Pt(400, 300)) }, PageFree, "without a known page size", 3},
		{"two pairs that fit", func(s *scene) { s.dots = append(s.dots, geom.Pt(100, 300), geom.Pt(700, 300)); s.lines = nil }, PageA4, "2 pairs", 4},
		{"two at quite another distance", func(s *scene) { s.dots[1] = geom.Pt(300, 600) }, PageA4, "are 20 mm apart", 2},
		{"full stops, by how far apart they are", func(s *scene) { s.dotPx = 9 }, PageFree, "one is 0.9 mm wide, not 1.2 to 9 mm", 2},
		{"spots near each other", func(s *scene) { s.dots = []geom.Point{{X: 100, Y: 600}, {X: 250, Y: 600}} }, PageFree, "mm wide, not 1.2 to 9 mm", 2},
		{"three, none fits", func(s *scene) { s.dots = []geom.Point{{X: 100, Y: 600}, {X: 300, Y: 600}, {X: 400, Y: 450}} }, PageA4, "no two are 60 mm apart", 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := testScene()
			c.change(&s)
			ink, err := FindInk(s.draw(), scenePxPerMm, DefaultInk())
			require.NoError(t, err)
			set := DefaultDots()
			set.Distance = 60
			_, err = FindDots(ink, c.page, scenePxPerMm, set)
			var de *DotError
			require.ErrorAs(t, err, &de)
			assert.ErrorContains(t, err, c.want)
			assert.Len(t, de.Candidates, c.seen)
		})
	}
}

func TestBestPage(t *testing.T) {
	for _, c := range []struct {
		name  string
		page  Page
		apart float64 // px between dots 100 mm apart, on a sheet taken for 10 px a mm
		want  Page
		off   float64
	}{
		{"A4 it is", PageA4, 1000, PageA4, 0},
		{"A4, dots 3 % wide", PageA4, 1030, PageA4, 1/1.03 - 1},
		{"A3", PageA4, 1000 / 1.41421356, PageA3, 0},
		{"letter", PageLetter, 990, PageLetter, 1/0.99 - 1},
		{"free", PageFree, 555, PageFree, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			page, off := bestPage(c.page, 10, c.apart, 100)
			assert.Equal(t, c.want, page)
			assert.InDelta(t, c.off, off, 1e-6)
		})
	}
}
