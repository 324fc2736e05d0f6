package lines

import (
	"fmt"
	"image/color"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// svg is a drawing of 200 by 100 mm, a unit a mm.
func svg(inside string) []byte {
	return []byte(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">` + inside + `</svg>`)
}

func TestRead(t *testing.T) {
	for _, c := range []struct {
		name   string
		inside string
		length float64
		on     []geom.Point // on the lines
		curves int
	}{
		{"line", `<line x1="10" y1="20" x2="40" y2="60"/>`, 50, []geom.Point{{X: 25, Y: 40}}, 1},
		{"circle", `<circle cx="50" cy="50" r="30"/>`, 60 * math.Pi, []geom.Point{{X: 80, Y: 50}, {X: 50, Y: 20}}, 1},
		{"ellipse", `<ellipse cx="50" cy="50" rx="40" ry="20"/>`, 193.769, []geom.Point{{X: 90, Y: 50}, {X: 50, Y: 30}}, 1},
		{"rectangle", `<rect x="10" y="10" width="50" height="30"/>`, 160, []geom.Point{{X: 10, Y: 10}, {X: 60, Y: 40}}, 1},
		{"rounded rectangle", `<rect x="10" y="10" width="50" height="30" rx="5"/>`, 160 - 40 + 10*math.Pi, []geom.Point{{X: 15, Y: 10}, {X: 60, Y: 20}}, 1},
		{"polyline", `<polyline points="10,10 40,10 40,50"/>`, 70, []geom.Point{{X: 40, Y: 30}}, 1},
		{"polygon", `<polygon points="10 10 40 10 40 50"/>`, 120, []geom.Point{{X: 25, Y: 30}}, 1},
		// The pie of SVG 1.1, 8.3.8 (from memory), a tenth as large: two radii and three quarters of a circle.
		{"arc", `<path d="M30,20 h-15 a15,15 0 1,0 15,-15 z"/>`, 30 + 0.75*30*math.Pi, []geom.Point{{X: 15, Y: 20}, {X: 30, Y: 35}, {X: 45, Y: 20}}, 1},
		{"quadratic", `<path d="M20 30 Q 40 5 60 30 T 100 30"/>`, 2 * 48.78, []geom.Point{{X: 40, Y: 17.5}, {X: 80, Y: 42.5}}, 1},
		{"smooth cubic after a line goes straight off", `<path d="M10 10 L 40 10 S 70 10 70 40"/>`, 77.59, []geom.Point{{X: 70, Y: 40}}, 1},
		{"several in one path, the second there and back", `<path d="M10 10 h 20 m 0 20 h 20 z"/>`, 20 + 20, nil, 2},
		{"a group moved and turned", `<g transform="translate(100 50) rotate(90)"><line x1="0" y1="0" x2="30" y2="0"/></g>`, 30, []geom.Point{{X: 100, Y: 80}}, 1},
		{"turned about a place", `<line x1="60" y1="50" x2="90" y2="50" transform="rotate(90, 60, 50)"/>`, 30, []geom.Point{{X: 60, Y: 80}}, 1},
		{"nested scales", `<g transform="scale(2)"><g transform="scale(1,3)"><line x1="10" y1="5" x2="10" y2="10"/></g></g>`, 30, []geom.Point{{X: 20, Y: 30}, {X: 20, Y: 60}}, 1},
		{"matrix", `<line x1="0" y1="0" x2="10" y2="0" transform="matrix(0 2 -2 0 50 10)"/>`, 20, []geom.Point{{X: 50, Y: 30}}, 1},
		{"skewed", `<line x1="0" y1="0" x2="0" y2="30" transform="translate(20) skewX(45)"/>`, 30 * math.Sqrt2, []geom.Point{{X: 50, Y: 30}}, 1},
		{"hidden, and what is only defined", `<g display="none"><line x2="9"/></g><defs><circle cx="50" cy="50" r="20"/></defs><line style="visibility:hidden" x2="50"/><line x1="10" y1="10" x2="40" y2="10"/>`, 30, nil, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Read(svg(c.inside))
			require.NoError(t, err)
			assert.Equal(t, geom.Pt(200, 100), d.Size)
			assert.Len(t, d.Curves, c.curves)
			assert.InEpsilon(t, c.length, geom.TotalLength(d.Curves), 0.01)
			for _, p := range c.on {
				near := math.Inf(1)
				for _, k := range d.Curves {
					near = min(near, k.Flatten(0.005).DistanceTo(p))
				}
				assert.InDelta(t, 0, near, 0.02, "%v", p)
			}
		})
	}
}

func TestReadSize(t *testing.T) {
	const line = `<line x1="10" y1="10" x2="60" y2="10"/></svg>`
	for _, c := range []struct {
		head    string
		size    geom.Point
		length  float64
		guessed bool
	}{
		{`<svg width="10cm" height="5cm" viewBox="0 0 100 50">`, geom.Pt(100, 50), 50, false},
		{`<svg width="4in" height="2in" viewBox="0 0 400 200">`, geom.Pt(101.6, 50.8), 12.7, false},
		{`<svg width="72pt" height="36pt" viewBox="0 0 72 36">`, geom.Pt(25.4, 12.7), 50.0 / 72 * 25.4, false},
		{`<svg width="96" height="48" viewBox="0 0 96 48">`, geom.Pt(25.4, 12.7), 50 * 25.4 / 96, true},
		{`<svg width="100%" height="100%" viewBox="0 0 96 48">`, geom.Pt(25.4, 12.7), 50 * 25.4 / 96, true},
		{`<svg width="200mm" viewBox="0 0 100 50">`, geom.Pt(200, 100), 100, false},
		{`<svg width="200mm" height="200mm" viewBox="0 0 100 50">`, geom.Pt(200, 200), 100, false},
		{`<svg>`, geom.Pt(50*25.4/96+20, 20), 50 * 25.4 / 96, true}, // no sheet: one is put around
	} {
		t.Run(c.head, func(t *testing.T) {
			d, err := Read([]byte(c.head + line))
			require.NoError(t, err)
			assert.InDelta(t, 0, c.size.Dist(d.Size), 1e-6, "%v", d.Size)
			assert.InDelta(t, c.length, geom.TotalLength(d.Curves), 0.01)
			assert.Equal(t, c.guessed, d.Guessed)
		})
	}
}

func TestReadColours(t *testing.T) {
	d, err := Read(svg(`<g stroke="red"><line x1="10" y1="10" x2="40" y2="10"/><line stroke="#00f" x1="10" y1="20" x2="40" y2="20"/>
		<line style="stroke: rgb(0, 128, 0)" x1="10" y1="30" x2="40" y2="30"/></g><line x1="10" y1="40" x2="40" y2="40"/><text x="4">tea</text><text>room</text><image/>`))
	require.NoError(t, err)
	assert.Equal(t, []color.RGBA{{255, 0, 0, 255}, {0, 0, 255, 255}, {0, 128, 0, 255}, {0, 0, 0, 255}}, d.Inks)
	for i, c := range d.Curves {
		assert.Equal(t, i, c.Ink)
	}
	assert.Equal(t, []string{"1 × image", "2 × text"}, d.Unused)
}

// What nobody sees in the drawing is no line (SVG 1.1, 11.2 to 11.4): without a stroke and a fill.
func TestReadUnseen(t *testing.T) {
	const line = `<line x1="10" y1="10" x2="40" y2="10"/>`
	for _, c := range []struct {
		name, text string
		lines      int
		unused     []string
	}{
		{"as SVG has it, filled", `<path d="M10 10h20v20z"/>`, 1, nil},
		{"neither", `<path d="M10 10h20v20z" fill="none"/>` + line, 1, []string{"1 × path without stroke and fill"}},
		{"both said to be none", `<g style="fill:none;stroke:none"><path d="M10 10h20v20z"/></g>` + line, 1, []string{"1 × path without stroke and fill"}},
		{"a stroke alone", `<path d="M10 10h20v20z" fill="none" stroke="red"/>`, 1, nil},
		{"the text's colour", `<path d="M10 10h20v20z" fill="none" stroke="currentColor"/>`, 1, nil},
		{"another paint", `<path d="M10 10h20v20z" fill="none" stroke="url(#glow)"/>`, 1, []string{`1 × stroke="url(#glow)"`}},
		{"perhaps by a rule", `<style>#pot path{stroke:red}</style><g id="pot"><path d="M10 10h20v20z" fill="none"/></g>`, 1, []string{"1 × rule of the style sheet, for #pot path"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Read(svg(c.text))
			require.NoError(t, err)
			assert.Len(t, d.Curves, c.lines)
			assert.Equal(t, c.unused, d.Unused)
		})
	}
}

func TestReadErrors(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "no SVG drawing"},
		{"a photo", "\xff\xd8\xff\xe0JFIF", "no SVG drawing"},
		{"another XML", "<html></html>", "no svg element"},
		{"cut off", string(svg(`<line x2="50"/>`)[:100]), "no SVG drawing"},
		{"nothing in it", string(svg(`<text>tea</text>`)), "no line in it"},
		{"bad path", string(svg(`<path d="M 10 10 L 20 x"/>`)), "line 1: path:"},
		{"path without a command", string(svg(`<path d="10 10 20 20"/>`)), "starts with no command"},
		{"bad transform", string(svg(`<line x2="50" transform="turn(4)"/>`)), "transform"},
		{"bad number", string(svg(`<circle cx="a" r="20"/>`)), `cx "a" is not a number`},
		{"an odd number of places", string(svg(`<polyline points="10 10 20"/>`)), "a number is missing at the end"},
		{"bad view box", `<svg viewBox="0 0 0 5"><line x2="50"/></svg>`, "view box"},
		{"bad unit", `<svg width="5ells"><line x2="50"/></svg>`, "no length"},
		{"beyond all", string(svg(`<line x2="1e309"/>`)), "not a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read([]byte(c.text))
			assert.ErrorContains(t, err, c.want)
		})
	}
	for _, k := range []float64{0.01, 100} {
		d, err := Read(svg(fmt.Sprintf(`<line x2="100" transform="scale(%g)"/>`, k)))
		require.NoError(t, err)
		assert.ErrorContains(t, Check(d.Extent(geom.Frame{Size: d.Size})), "a sign is 5 to 5000 mm")
	}
}

func FuzzRead(f *testing.F) {
	f.Add(svg(`<path d="M30,20 h-15 a15,15 0 1,0 15,-15 z" transform="scale(2)"/>`))
	f.Add(svg(`<g stroke="#00f"><polyline points="1,2 3,4"/></g>`))
	f.Add(svg(`<defs><path id="a" d="M0 0 H9"/><symbol id="b"><use href="#a"/></symbol></defs><use href="#b" x="3"/>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read(data)
		if err == nil && len(d.Curves) == 0 {
			t.Error("neither lines nor an error")
		}
	})
}

// What an editor put there twice is one line: the spine that both sides of an open book share.
func TestLinesDrawnTwice(t *testing.T) {
	d, err := Read([]byte(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">` +
		`<path d="M20,60 L100,80 V180 L20,160 Z"/><path d="M180,60 L100,80 V180 L180,160 Z"/></svg>`))
	require.NoError(t, err)
	assert.InDelta(t, 100, d.Twice, 1)
	var length float64
	for _, c := range d.Curves {
		length += geom.NewRuler(c).Length()
	}
	assert.InDelta(t, 100+100+100+4*math.Hypot(80, 20), length, 1)
}

// Colours and hiding by a style sheet (CSS 2.1, 6.4.3): an element's own style goes before rules for its id, they
// before those for its classes and for all of its kind, and these before its attributes. Other rules are named.
func TestReadStyleSheet(t *testing.T) {
	d, err := Read(svg(`<style type="text/css"><![CDATA[ /* .a { stroke: #0f0 } */
		.a, .b { stroke: #f00; fill: none }
		.b { stroke: #00f }
		.h { display: none }
		polyline { stroke: #0f0 }
		#pot { stroke: #00f }
		g > path { stroke: #0f0 } ]]></style>
		<line class="a" stroke="#123456" x1="10" y1="10" x2="40" y2="10"/><line class="b" x1="10" y1="20" x2="40" y2="20"/>
		<line class="a" style="stroke:#00f" x1="10" y1="30" x2="40" y2="30"/><line class="h" x1="10" y1="40" x2="40" y2="40"/>
		<g class="a"><line x1="10" y1="50" x2="40" y2="50"/></g>
		<line id="pot" class="a" x1="10" y1="60" x2="40" y2="60"/>
		<polyline stroke="#f00" points="10,70 40,70"/><polyline class="a" points="10,80 40,80"/>`))
	require.NoError(t, err)
	require.Equal(t, []color.RGBA{{255, 0, 0, 255}, {0, 0, 255, 255}, {0, 255, 0, 255}}, d.Inks)
	var inks []int
	for _, c := range d.Curves {
		inks = append(inks, c.Ink)
	}
	assert.Equal(t, []int{0, 1, 1, 0, 1, 2, 0}, inks)
	assert.Equal(t, []string{"1 × rule of the style sheet, for g > path"}, d.Unused)
}

// Lengths of shapes may have units (SVG 1.1, 4.2), of which 96 px are an inch (CSS 2.1, 4.3.2).
func TestReadShapeUnits(t *testing.T) {
	d, err := Read([]byte(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm">
		<line x1="1in" y1="1cm" x2="101.6mm" y2="10mm"/><circle cx="5e1" cy="150" r="1.5em"/></svg>`))
	assert.ErrorContains(t, err, `r "1.5em" is not a number`)
	d, err = Read([]byte(`<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm">
		<line x1="1in" y1="1cm" x2="101.6mm" y2="10mm"/><circle cx="1e2" cy="150" r="48px"/></svg>`))
	require.NoError(t, err)
	require.Len(t, d.Curves, 2)
	assert.InDelta(t, 76.2, d.Curves[0].Length(), 1e-6)
	assert.InDelta(t, 2*math.Pi*12.7, d.Curves[1].Length(), 0.05)
}

// What is seen otherwise than it is read is left out and named, not drawn.
func TestReadNamesWhatItLeaves(t *testing.T) {
	const line = `<path d="M10 10 H60" stroke="#000"/>`
	for _, c := range []struct {
		name, text string
		lines      int
		unused     []string
	}{
		{"a drawing within", `<svg x="20" y="20" width="100" height="100" viewBox="0 0 10 10"><path d="M0 0H10"/></svg>`, 1, []string{"1 × svg within it"}},
		{"the sheet's ground", `<rect width="200" height="150" fill="#fff"/>`, 1, []string{"1 × white rect without a stroke"}},
		{"a white frame with a stroke", `<rect width="200" height="150" fill="white" stroke="black"/>`, 2, nil},
		{"a fill handed on", `<g fill="white"><rect width="200" height="150"/></g>`, 1, []string{"1 × white rect without a stroke"}},
		{"a size in %", `<rect width="100%" height="100%"/>`, 1, []string{"1 × rect with a size in %"}},
		{"a colour that nobody knows", `<path d="M10 50 H60" stroke="reddish"/>`, 2, []string{`1 × stroke="reddish"`}},
		{"no colour of its own", `<path d="M10 50 H60" stroke="currentColor"/>`, 2, nil},
		{"clipped", `<g clip-path="url(#a)"><path d="M10 50 H60" stroke="#000"/></g>`, 2, []string{"1 × clip-path"}},
		{"not seen", `<path d="M10 50 H60" stroke="#000" opacity="0"/><path d="M10 60 H60" stroke="#000" stroke-opacity="0"/>`, 1, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Read(svg(line + c.text))
			require.NoError(t, err)
			assert.Len(t, d.Curves, c.lines)
			assert.Equal(t, c.unused, d.Unused)
		})
	}
	_, err := Read(svg(`<use href="#a"/>`))
	assert.ErrorContains(t, err, `no line in it (but 1 × use of "#a")`)
}

// Copies (SVG 1.1, 5.6) lie where their use moves them, with the use's transform and stroke.
func TestReadUse(t *testing.T) {
	const leaf = `<defs><path id="leaf" d="M0 0 H10" fill="none"/><g id="twig"><use href="#leaf" y="5"/><use href="#leaf" y="8"/></g></defs>`
	nested := strings.Repeat("<g>", deepest+1) + strings.Repeat("</g>", deepest+1)
	for _, c := range []struct {
		name, text string
		from       []geom.Point // of each line
		unused     []string
		err        string
	}{
		{"moved", leaf + `<use href="#leaf" x="20" y="30" stroke="red"/>`, []geom.Point{{X: 20, Y: 30}}, nil, ""},
		{"by the older name", leaf + `<use xlink:href="#leaf" x="20" stroke="red"/>`, []geom.Point{{X: 20}}, nil, ""},
		{"before what it copies", `<use href="#leaf" x="20" stroke="red"/>` + leaf, []geom.Point{{X: 20}}, nil, ""},
		{"turned, then moved in that", leaf + `<use href="#leaf" x="10" transform="translate(50,0) rotate(90)" stroke="red"/>`, []geom.Point{{X: 50, Y: 10}}, nil, ""},
		{"a group of copies", leaf + `<use href="#twig" x="20" stroke="red"/>`, []geom.Point{{X: 20, Y: 5}, {X: 20, Y: 8}}, nil, ""},
		{"a symbol", `<symbol id="s"><path d="M1 2 H9"/></symbol><use href="#s" x="20"/>`, []geom.Point{{X: 21, Y: 2}}, nil, ""},
		{"a symbol with a view box", `<symbol id="s" viewBox="0 0 9 9"><path d="M1 2 H9"/></symbol><use href="#s"/><path d="M1 2 H9"/>`, []geom.Point{{X: 1, Y: 2}}, []string{"1 × symbol with a view box"}, ""},
		{"of nothing", `<use href="#none"/><path d="M1 2 H9"/>`, []geom.Point{{X: 1, Y: 2}}, []string{`1 × use of "#none"`}, ""},
		{"of itself", `<g id="me"><use href="#me"/><path d="M1 2 H9"/></g>`, []geom.Point{{X: 1, Y: 2}}, []string{`1 × use of "#me"`}, ""},
		{"hidden", leaf + `<use href="#leaf" display="none" stroke="red"/><path d="M1 2 H9"/>`, []geom.Point{{X: 1, Y: 2}}, nil, ""},
		{"ever more", `<g id="me"><use href="#me"/><use href="#me"/><path d="M1 2 H9"/></g>`, nil, nil, "uses draw over 20000 elements"},
		{"a place that is none", leaf + `<use href="#leaf" x="left"/>`, nil, nil, `x "left" is not a number`},
		{"too deep", nested, nil, nil, "over 1000 deep"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, err := Read(svg(c.text))
			if c.err != "" {
				require.ErrorContains(t, err, c.err)
				return
			}
			require.NoError(t, err)
			require.Len(t, d.Curves, len(c.from))
			for i, k := range d.Curves {
				assert.InDelta(t, 0, k.Pieces[0][0].Dist(c.from[i]), 1e-9, "%v", k.Pieces[0][0])
			}
			assert.Equal(t, c.unused, d.Unused)
		})
	}
}
