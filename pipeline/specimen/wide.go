package specimen

import (
	"fmt"
	"image/color"
	"math/rand"
	"path/filepath"
	"strings"

	"inkchannel/geom"
	"inkchannel/geom/rules"
)

// widePens are the pens of the wide set, mm.
var widePens = []float64{0.4, 0.6, 0.9, 1.3, 1.8, 2.5, 3.5, 5}

// A WideSet is each of npm's feather-icons, and words of random letters of
// Hershey's fonts, drawn with pens of 0.4 to 5 mm by unsteady hands whose ends
// stop short or run over. The pen is the broadest, up to one drawn by lot, with
// which the drawing is not ambiguous; a word that is with any pen is replaced,
// an icon is drawn with the finest.
type WideSet struct {
	Words int
	icons []string
	fonts []namedFont
}

type namedFont struct {
	name string
	HersheyFont
}

// NewWideSet returns the set with that many words. It returns an error when
// icons or fonts are not installed.
func NewWideSet(npm string, words int) (*WideSet, error) {
	names, err := Icons(npm)
	if err != nil {
		return nil, err
	}
	w := &WideSet{Words: words, icons: names}
	for _, name := range []string{"futural", "rowmans", "scripts", "greeks"} {
		font, err := LoadHershey(name)
		if err != nil {
			return nil, err
		}
		w.fonts = append(w.fonts, namedFont{name, font})
	}
	return w, nil
}

// Len is how many drawings the set has, icons first.
func (w *WideSet) Len() int { return len(w.icons) + w.Words }

// Drawing makes drawing i. clear is false for an icon that means two things with
// any pen: lines that meet within less than the pen is wide, or lie on each
// other.
func (w *WideSet) Drawing(i int) (d Drawing, clear bool, err error) {
	if i < len(w.icons) {
		line, err := Icon(w.icons[i], 1)
		if err != nil {
			return d, false, err
		}
		var strokes []geom.Polyline
		for _, c := range line.Curves {
			strokes = append(strokes, c.Flatten(0.002))
		}
		// A hand that slips so that the icon could mean two things draws again.
		for try := 0; try < 6 && !clear; try++ {
			d, clear = hand("icon "+strings.TrimSuffix(filepath.Base(w.icons[i]), ".svg"), strokes, false, i+1000*try)
		}
		return d, clear, nil
	}
	rng := rand.New(rand.NewSource(int64(i)))
	font := w.fonts[i%len(w.fonts)]
	for !clear {
		text := ""
		for range 2 + rng.Intn(3) {
			text += string(rune([]int{'A', 'a'}[rng.Intn(2)] + rng.Intn(26)))
		}
		d, clear = hand("word "+font.name+" "+text, font.Word(text, 4), true, i)
	}
	return d, true, nil
}

// hand draws strokes with the broadest pen that leaves no doubt what is meant,
// of those up to one drawn by lot. clear is false if no pen does.
func hand(name string, strokes []geom.Polyline, wide bool, seed int) (d Drawing, clear bool) {
	rng := rand.New(rand.NewSource(int64(seed)))
	pen := rng.Intn(len(widePens))
	tremor := 0.3 + 1.2*rng.Float64()
	for ; pen >= 0 && !clear; pen-- {
		w := widePens[pen]
		d = OnA4(fmt.Sprintf("%s, pen %g", name, w), strokes, w, wide)
		d.Pen = []color.RGBA{Black, Blue, Red, Green}[seed%4]
		d.DotSize = max(3, 1.5*w)
		d = d.Unsteady(tremor, int64(seed)).careless(0.3*w, int64(seed))
		clear = d.clear()
	}
	return d, clear
}

// careless returns d with each open stroke's ends moved along it by up to
// reach mm: short of where they should stop, or over it.
func (d Drawing) careless(reach float64, seed int64) Drawing {
	rng := rand.New(rand.NewSource(seed + 5))
	out := d
	out.Strokes = make([]geom.Polyline, len(d.Strokes))
	for i, s := range d.Strokes {
		a, b := reach*(2*rng.Float64()-1), reach*(2*rng.Float64()-1)
		if s[0].Dist(s[len(s)-1]) > 1e-6 && s.Length() > 4*reach {
			s = moved(moved(s, a).Reversed(), b).Reversed()
		}
		out.Strokes[i] = s
	}
	return out
}

// moved returns pl with its start moved on along it by far mm, or back if far
// is under 0.
func moved(pl geom.Polyline, far float64) geom.Polyline {
	if far < 0 {
		return append(geom.Polyline{pl[0].Add(pl[0].Sub(pl[1]).Unit().Mul(-far))}, pl[1:]...)
	}
	s := 0.0
	for i := 1; i < len(pl); i++ {
		l := pl[i-1].Dist(pl[i])
		if s+l > far {
			return append(geom.Polyline{pl[i-1].Lerp(pl[i], (far-s)/l)}, pl[i:]...)
		}
		s += l
	}
	return pl
}

// clear tells whether the drawing means the same to an eye that takes the pen
// for a little finer or broader, and has room between its lines. Loops that the
// ink fills do not count: they are seen as filled, whatever the pen.
func (d Drawing) clear() bool {
	want := inked(d.Strokes, d.PenWidth, 0).Topology()
	for _, k := range []float64{0.7, 1.6} {
		if inked(d.Strokes, k*d.PenWidth, 0).Topology() != want {
			return false
		}
	}
	var curves []geom.Curve
	for _, s := range d.Strokes {
		curves = append(curves, geom.Lines(s.Resampled(2)...)) // coarse enough, and quick to join
	}
	line := geom.Join(curves, 0.6*d.PenWidth)
	stops := 0
	for _, c := range line.Curves {
		stops += len(c.Stops)
	}
	if stops > 6*len(line.Knots) { // strokes that lie on each other
		return false
	}
	tight, err := rules.Spacing(line, rules.SpacingSettings{Least: 1.6*d.PenWidth + 0.5})
	return err == nil && len(tight) == 0 && !d.hairpins()
}

// hairpins tells whether a stroke turns back on itself so sharply that its two
// sides share their ink for several pen widths.
func (d Drawing) hairpins() bool {
	for _, s := range d.Strokes {
		p := s.Resampled(max(1.5*d.PenWidth, 1))
		for i := 1; i+1 < len(p); i++ {
			if turn := p[i].Sub(p[i-1]).Angle(p[i+1].Sub(p[i])); turn > 150 {
				return true
			}
		}
	}
	return false
}

// A Condition is a way to photograph a drawing.
type Condition struct {
	Name  string
	Hard  bool // what a maker should not do, but does
	Paper Paper
	View  View
	Touch Touch
	Pen   color.RGBA // in place of the drawing's own, unless zero
	Most  float64    // mm, the broadest pen it is for, 0 for any
}

// For tells whether the condition is for a pen of d's width.
func (c Condition) For(d Drawing) bool { return c.Most == 0 || d.PenWidth <= c.Most }

// By is how the condition's pen draws d.
func (c Condition) By(d Drawing) Drawing {
	d.Touch = c.Touch
	if c.Pen != (color.RGBA{}) {
		d.Pen = c.Pen
	}
	return d
}

// Conditions are those of the wide set, seeded so that each drawing is
// seen a little otherwise.
func Conditions(seed int64) []Condition {
	rng := rand.New(rand.NewSource(seed + 3))
	base := View{
		Width: 3000, Tilt: 8 + 6*rng.Float64(), Azimuth: 360 * rng.Float64(),
		Roll: 12*rng.Float64() - 6, Fill: 0.88, Blur: 0.9,
		Gradient: 0.12, Vignette: 0.12, Penumbra: 40, Exposure: 0.9, Noise: 3, Quality: 90, Seed: seed + 1,
	}
	flat, steep, shadow, dim, curled, message, barrel := base, base, base, base, base, base, base
	flat.Tilt = 2
	steep.Tilt = 35
	shadow.Shadow, shadow.Penumbra = 0.55, 6
	dim.Exposure, dim.Warmth, dim.Noise, dim.Gradient = 0.35, 0.45, 9, 0.3
	curled.Curl = 4
	barrel.K1, barrel.K2 = 0.06*(2*rng.Float64()-1), 0.01 // what phones leave uncorrected, common practice, no source
	message.Width, message.Quality, message.Blur, message.Noise = 1600, 50, 0.7, 4
	return []Condition{
		{Name: "flat", Hard: false, Paper: White(), View: flat},
		{Name: "ruled paper", Hard: false, Paper: Ruled(), View: base},
		{Name: "squared paper", Hard: false, Paper: SquaredPaper(), View: base},
		{Name: "tilted 35 degrees", Hard: true, Paper: White(), View: steep},
		{Name: "hard shadow", Hard: true, Paper: White(), View: shadow},
		{Name: "dim, warm, noisy", Hard: true, Paper: White(), View: dim},
		{Name: "coloured, curled", Hard: true, Paper: Coloured(), View: curled},
		{Name: "messenger's JPEG", Hard: true, Paper: White(), View: message},
		{Name: "lens that bends", Paper: White(), View: barrel},
		{Name: "uneven pen", Hard: true, Paper: White(), View: base, Touch: UnevenPen()},
		{Name: "lines drawn twice", Hard: true, Paper: White(), View: base, Touch: Retraced(), Most: 1.8},
		{Name: "pencil", Hard: true, Paper: White(), View: base, Touch: Pencilled(), Pen: Graphite, Most: 0.9},
	}
}
