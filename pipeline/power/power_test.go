package power

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ASTM B258-02, table 1: diameters of solid round wires in mils (from memory).
func TestAWGTable(t *testing.T) {
	for n, mils := range map[int]float64{0: 324.9, 4: 204.3, 8: 128.5, 10: 101.9, 12: 80.8, 14: 64.1, 16: 50.8, 18: 40.3, 20: 32.0, 22: 25.3, 24: 20.1, 26: 15.9, 30: 10.0, 36: 5.0} {
		assert.InDelta(t, mils, AWG(n).Diameter()/0.0254, 0.06, "AWG %d", n)
	}
}

// IEC 60228 class 5 allows a flexible conductor at most a few per cent more
// resistance than solid copper of its nominal area would have.
func TestFlexible(t *testing.T) {
	last := 0.0
	for _, w := range Flexible() {
		assert.Greater(t, w.Area, last)
		last = w.Area
		solid := Copper / (w.Area * 1e-6)
		assert.Greater(t, w.Ohms, solid)
		assert.Less(t, w.Ohms, 1.16*solid)
	}
}

// Worked example as electrical handbooks give it (from memory): 16 A through
// 100 ft of AWG 12 and back, by 2·K·I·L/cmil with K = 12.9 at 75 °C and 6530
// circular mils, lose 6.32 V. K allows for stranding, some 2 %.
func TestHandbookDrop(t *testing.T) {
	w := AWG(12)
	hot := 1 + 0.00393*(75-20) // copper's temperature coefficient, IEC 60028
	assert.InEpsilon(t, 6.32, 2*30.48*w.Ohms*hot*16, 0.03)
}

// Closed form against a sum over many small loads.
func TestStripDrop(t *testing.T) {
	s := Strip{Volts: 12, Watts: 12, Ohms: 0.4}
	const n = 20000
	l := 5.0
	sum, current := 0.0, s.Amps()*l
	for range n { // each bit of track carries what lies beyond it
		sum += s.Ohms * l / n * current
		current -= s.Amps() * l / n
	}
	assert.InEpsilon(t, sum, StripDrop(s, l, 1), 1e-3)
	assert.InEpsilon(t, StripDrop(s, l/2, 1), StripDrop(s, l, 2), 1e-9, "both ends: two halves fed at one end")
	assert.InEpsilon(t, StripDrop(s, l/4, 1), StripDrop(s, l, 3), 1e-9, "and the middle: four quarters")
}

func TestFeed(t *testing.T) {
	lib, err := Library()
	require.NoError(t, err)
	s := lib[0]
	for _, c := range []struct {
		name   string
		loads  []Load
		feeds  []int
		supply float64
		fuse   float64
	}{
		{"small sign", []Load{{Strip: 0.8, Hidden: 0.1, Channel: 30}}, []int{1}, 12, 0.63},
		// 7.2 W/m · 3 m = 21.6 W; 27 W with 25 % headroom.
		{"three metres", []Load{{Strip: 3, Channel: 30}}, []int{2}, 30, 3},
		{"long, in two runs", []Load{{Strip: 3, Chain: 1.5, Channel: 30}}, []int{1}, 30, 3},
		{"two circuits", []Load{{Strip: 1, Channel: 30}, {Strip: 0.5, Channel: 30}}, []int{1, 1}, 18, 0.8},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := Feed(s, c.loads, Default())
			require.NoError(t, err)
			for i, k := range f.Circuits {
				assert.Equal(t, c.feeds[i], k.Feeds)
				assert.LessOrEqual(t, k.WireDrop, 0.03*12+1e-9)
				assert.LessOrEqual(t, k.StripDrop, 0.03*12+1e-9)
				assert.GreaterOrEqual(t, k.Fuse, 1.25*k.Amps)
				assert.GreaterOrEqual(t, k.Wire.Amps, k.Fuse, "the fuse protects the wire")
				assert.InDelta(t, c.loads[i].Strip*7.2/12, k.Amps, 1e-9)
			}
			assert.Equal(t, c.supply, f.Supply)
			assert.Equal(t, c.fuse, f.Circuits[0].Fuse)
		})
	}
	_, err = Feed(s, []Load{{Strip: 200, Channel: 30}}, Default())
	assert.ErrorContains(t, err, "fuse")
	_, err = Feed(s, nil, Settings{})
	assert.ErrorContains(t, err, "over 0")
	f, err := Feed(Strip{Volts: 12, Watts: 20, Run: 5}, []Load{{Strip: 1, Channel: 37}}, Default())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(f.Notes, " "), "softens")
	assert.InDelta(t, 25+20/(8*0.037), f.Circuits[0].Warm, 1e-9)
}

// The thinnest wire that the fuse protects and that loses little enough. The
// resistances are held against IEC 60228 class 5 where both tables have a wire.
func TestInside(t *testing.T) {
	for _, c := range []struct {
		name          string
		amps, m, lost float64
		area          float64
	}{
		{"a small sign", 0.5, 1, 0.36, 0.08},
		{"hardly any current", 0.02, 0.1, 0.36, 0.08},
		{"a fuse of 1 A", 0.7, 0.5, 0.36, 0.14},
		{"more current, a larger fuse", 1.5, 1, 0.36, 0.34},
		{"a long way, still slim", 0.5, 6, 0.36, 0.25},
		{"a long way", 0.5, 10, 0.36, 0.34},
		{"so long that it would take a thick wire", 0.5, 60, 0.4, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, err := Inside(c.amps, c.m, c.lost)
			require.NoError(t, err)
			assert.Equal(t, c.area, w.Area)
			lost := 2 * c.m * w.Ohms * c.amps
			switch {
			case w.Area < slimInside:
				assert.LessOrEqual(t, lost, c.lost)
			case w.Area < mostInside:
				assert.LessOrEqual(t, lost, 2*c.lost)
			}
		})
	}
	_, err := Inside(40, 1, 1)
	assert.ErrorContains(t, err, "fuse")
	_, err = Inside(20, 1, 1)
	assert.ErrorContains(t, err, "higher voltage")
	for _, h := range HookUp() {
		for _, f := range Flexible() {
			if f.Area == h.Area {
				assert.InEpsilon(t, f.Ohms, h.Ohms, 0.04, h.Name)
			}
		}
	}
}

func TestReadStrips(t *testing.T) {
	good := "- {name: a, width: 5, height: 2, cut: 25, volts: 12, watts: 7, leds: 60, bend: 5, run: 5, ohms: 0.3, kind: plain}\n"
	list, err := ReadStrips([]byte("# mine\n" + good))
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, Strip{Name: "a", Width: 5, Cut: 25, Volts: 12, Watts: 7, LEDs: 60, Bend: 5, Run: 5, Ohms: 0.3, Kind: Plain}, list[0])
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "no strip"},
		{"no list", "a: 1\n", "line 1: expected a list of strips"},
		{"no YAML", "- {name: [\n", "not YAML"},
		{"unknown key", "\n" + strings.Replace(good, "leds", "lamps", 1), `line 2: a strip has no "lamps"`},
		{"no number", strings.Replace(good, "volts: 12", "volts: twelve", 1), `line 1: volts "twelve" is not a number from 1 to 60 (V)`},
		{"out of range", strings.Replace(good, "volts: 12", "volts: 230", 1), `volts "230"`},
		{"missing", strings.Replace(good, "cut: 25, ", "", 1), `line 1: strip "a" has no cut`},
		{"twice", good + good, `line 2: strip "a" appears twice`},
		{"kind", strings.Replace(good, "plain", "fancy", 1), `kind "fancy"`},
		{"name", strings.Replace(good, "name: a, ", "", 1), "no name"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ReadStrips([]byte(c.text))
			require.ErrorContains(t, err, c.want)
			assert.NotContains(t, err.Error(), "\n")
		})
	}
	lib, err := Library()
	require.NoError(t, err)
	for _, s := range lib {
		assert.False(t, math.IsInf(s.Amps(), 0))
	}
}
