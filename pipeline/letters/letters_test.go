package letters

import (
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// The fonts are Debian's package hershey-fonts-data, byte for byte.
func TestFontsAreDebians(t *testing.T) {
	for name, file := range map[string]string{"plain": "futural", "cursive": "cursive"} {
		want, err := os.ReadFile("/usr/share/hershey-fonts/" + file + ".jhf")
		require.NoError(t, err)
		got, err := files.ReadFile("hershey/" + name + ".jhf")
		require.NoError(t, err)
		assert.Equal(t, want, got, name)
	}
	assert.Equal(t, []string{"cursive", "plain"}, Fonts())
}

// Places as the data's own letters spell them: T is RFR[ and KFYF, each letter's distance from R.
func TestGlyph(t *testing.T) {
	f, err := Load("plain")
	require.NoError(t, err)
	at := func(s string) geom.Point { return geom.Pt(float64(int(s[0])-'R'), float64(int(s[1])-'R')) }
	assert.Equal(t, Glyph{Left: -8, Right: 8, Strokes: []geom.Polyline{{at("RF"), at("R[")}, {at("KF"), at("YF")}}}, f.glyphs['T'])
	assert.Equal(t, []geom.Polyline{{geom.Pt(0, 3.5), geom.Pt(0, 6.5)}}, f.glyphs['.'].Strokes, "the ring V Q, W R, X S of a dot is a short stroke")
	assert.Len(t, f.glyphs, 96, "ASCII from the space on")
	_, err = Load("none")
	assert.ErrorContains(t, err, `no font "none"; there are cursive, plain`)
}

// Every letter passes its font's points within two fifths of a unit, a hundredth of its height or two,
// and its stems and corners exactly.
func TestLettersFollowTheFont(t *testing.T) {
	for _, name := range Fonts() {
		f, err := Load(name)
		require.NoError(t, err)
		const k = 80 / 21.0
		for c, g := range f.glyphs {
			for _, s := range g.Strokes {
				line := s.Scaled(k)
				curve := strokeOf(line, k)
				require.NotEmpty(t, curve.Pieces)
				way := curve.Flatten(0.01)
				for i, p := range line {
					assert.Less(t, way.DistanceTo(p), 0.42*k, "%s %q point %d", name, c, i)
					if i > 0 && p.Dist(line[i-1]) >= stem*k && !(curve.Closed && round(line)) {
						mid := p.Lerp(line[i-1], 0.5)
						assert.Less(t, way.DistanceTo(mid), 1e-9, "%s %q: a stem is straight", name, c)
					}
				}
			}
		}
	}
}

// An O is the same on both sides, wherever it stands.
func TestRoundLettersAreEven(t *testing.T) {
	for _, rows := range [][]string{{"O"}, {"o"}, {"0"}, {"HO", "Ô"}} {
		curves, _, err := Words(rows, Default())
		require.NoError(t, err)
		for _, c := range curves {
			if !c.Closed {
				continue
			}
			way := c.Flatten(0.01)
			box := geom.Bounds(way)
			for _, p := range way {
				over := geom.Pt(box.Min.X+box.Max.X-p.X, p.Y)
				assert.Less(t, way.DistanceTo(over), 0.05, rows)
			}
		}
	}
}

// What is written is as high as was asked for, each letter hangs together, and words stand apart.
func TestWords(t *testing.T) {
	for _, c := range []struct {
		name  string
		rows  []string
		set   Settings
		parts int
		high  float64 // mm of lines, 0 for one row of capitals
	}{
		{"capitals", []string{"TEA"}, Settings{Font: "plain", Height: 80, Pitch: 1.7}, 3, 80},
		{"two rows", []string{"TEA", "HERE"}, Settings{Font: "plain", Height: 40, Pitch: 2}, 7, 120},
		{"a row with a gap", []string{"HI HI"}, Settings{Font: "plain", Height: 40, Gap: 10, Pitch: 2}, 4, 40},
		{"accents", []string{"ÀÄ"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 5, 42 + 2*7},
		{"composed and not", []string{"A\u0300A\u0308"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 5, 42 + 2*7},
		{"i without its dot", []string{"Eí"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 3, 42},
		{"written i without its dot", []string{"nïn"}, Settings{Font: "cursive", Height: 80, Pitch: 2}, 3, 0},
		{"written i with it", []string{"nin"}, Settings{Font: "cursive", Height: 80, Pitch: 2}, 2, 0},
		{"i that has none", []string{"ıi"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 3, 0},
		{"strokes across", []string{"HØłŁH"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 5, 0},
		{"bars across", []string{"HđĐħĦ"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 5, 0},
		{"a question", []string{"H¿?¡H"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 8, 0},
		{"typed by a phone", []string{"H’–H"}, Settings{Font: "plain", Height: 42, Pitch: 2}, 4, 42},
		{"written on", []string{"nun"}, Settings{Font: "cursive", Height: 80, Pitch: 2}, 1, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			curves, size, err := Words(c.rows, c.set)
			require.NoError(t, err)
			box := geom.BoundsOf(curves, 0.01)
			if c.high > 0 {
				assert.InDelta(t, c.high, box.Size().Y, 0.35*c.set.Height/21)
			}
			assert.InDelta(t, margin, box.Min.X, 0.5)
			assert.InDelta(t, size.X-margin, box.Max.X, 0.5)
			assert.Equal(t, c.parts, parts(geom.Join(curves, 0.2)))
		})
	}
	for _, c := range []struct {
		name, text string
		set        Settings
		want       string
	}{
		{"no letter", "  ", Default(), "no letter"},
		{"unknown", "茶", Default(), `the font plain has no '茶'`},
		{"two unknown", "茶 tea 室 茶", Default(), `the font plain has no '室', '茶'; write the words without them`},
		{"two rows in one", "tea\nroom", Default(), "a line break within a row; give each row by itself"},
		{"unknown accent", "a\u0331", Default(), "no accent U+0331; write the words without it"},
		{"too low", "T", Settings{Font: "plain", Height: 1, Pitch: 2}, "10 to 2000 mm"},
		{"gap", "T", Settings{Font: "plain", Height: 80, Gap: -90, Pitch: 2}, "gap"},
		{"pitch", "T", Settings{Font: "plain", Height: 80}, "rows"},
		{"font", "T", Settings{Font: "x", Height: 80, Pitch: 2}, "no font"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := Words([]string{c.text}, c.set)
			assert.ErrorContains(t, err, c.want)
		})
	}
	_, _, err := Words([]string{"茶 tea", "room 室"}, Default())
	assert.ErrorContains(t, err, `no '室', '茶'; write the words without them`, "of all rows")
	curves, size, err := Samples(Default())
	require.NoError(t, err)
	assert.Less(t, geom.BoundsOf(curves, 0.1).Max.Y, size.Y)
}

// parts counts what hangs together by knots.
func parts(c geom.Centreline) int {
	f := geom.NewForest(len(c.Knots))
	for _, k := range c.Curves {
		for _, s := range k.Stops[1:] {
			f.Join(k.Stops[0].Knot, s.Knot)
		}
	}
	var roots []int
	for i := range c.Knots {
		roots = append(roots, f.Root(i))
	}
	slices.Sort(roots)
	return len(slices.Compact(roots))
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("12345  6JZRFR[ RKFYF\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := Parse(data)
		if err != nil && len(list) > 0 {
			t.Error("glyphs and an error")
		}
	})
}

// Accents beside each other are as far apart as channels must be, 60 mm high (7.5 mm: common practice, no
// source).
func TestAccentsKeepApart(t *testing.T) {
	for _, row := range []string{"îï", "ĩí", "ĩîĩ", "ïï", "ÌÍ"} {
		t.Run(row, func(t *testing.T) {
			set := Default()
			set.Height = 60
			curves, _, err := Words([]string{row}, set)
			require.NoError(t, err)
			for i, a := range curves {
				for _, b := range curves[:i] {
					near := 1e9
					for _, p := range a.Flatten(0.1).Resampled(0.5) {
						near = min(near, b.Flatten(0.1).DistanceTo(p))
					}
					assert.GreaterOrEqual(t, near, 7.5)
				}
			}
		})
	}
}

// Letters and signs that are drawn for this program stand between the font's lines, and hang together.
func TestOtherLetters(t *testing.T) {
	for c, g := range other() {
		t.Run(string(c), func(t *testing.T) {
			var pts []geom.Point
			var curves []geom.Curve
			for _, s := range g.Strokes {
				pts = append(pts, s...)
				curves = append(curves, geom.Lines(s...))
			}
			box := geom.Bounds(pts)
			assert.GreaterOrEqual(t, box.Min.X, g.Left+1)
			assert.LessOrEqual(t, box.Max.X, g.Right-1)
			assert.GreaterOrEqual(t, box.Min.Y, float64(capTop))
			assert.InDelta(t, baseline, box.Max.Y, 0.5)
			for i, k := range curves {
				near := 1e9
				for j, o := range curves {
					for _, p := range k.Flatten(0.01).Resampled(0.1) {
						if i != j {
							near = min(near, o.Flatten(0.01).DistanceTo(p))
						}
					}
				}
				if len(curves) > 1 {
					assert.Less(t, near, 0.06, "stroke %d meets another", i)
				}
			}
		})
	}
}
