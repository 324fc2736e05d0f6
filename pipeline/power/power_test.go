package power

import (
	"fmt"
	"math"
	"slices"
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
		{"three metres", []Load{{Strip: 3, Channel: 30}}, []int{2}, 30, 2.5},
		{"long, in two runs", []Load{{Strip: 3, Chain: 1.5, Channel: 30}}, []int{1}, 30, 2.5},
		// 0.89 A: 18 W with headroom would be 1.5 A, which a fuse of 1.25 A needs at least.
		{"a word", []Load{{Strip: 1.4875, Channel: 30}}, []int{1}, 18, 1.25},
		// 1.2 A, 18 W with headroom; but 1.6 A · 12 V are 19.2 W.
		{"a fuse that 18 W could not blow", []Load{{Strip: 2, Channel: 30}}, []int{1}, 24, 1.6},
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

// The wire of a lead is the thinnest that its fuse protects and that loses little enough, worked out
// anew from IEC 60228's wires by Ohm's law for both conductors.
func TestLead(t *testing.T) {
	half := HookUp()[4]
	for _, c := range []struct {
		name string
		s    Strip
		load Load
		lead float64
	}{
		{"the fuse decides", Strip{Volts: 48, Watts: 48, Run: 50}, Load{Strip: 8}, 0.01},
		{"a fuse just large enough", Strip{Volts: 12, Watts: 4.8, Run: 5}, Load{Strip: 1}, 0.1},
		{"a long lead decides", Strip{Volts: 12, Watts: 7.2, Run: 5}, Load{Strip: 2}, 12},
		{"the wire inside is the lead's", Strip{Volts: 12, Watts: 7.2, Run: 5}, Load{Strip: 2, Hidden: 4}, 3},
		{"a thinner wire inside", Strip{Volts: 12, Watts: 7.2, Run: 5}, Load{Strip: 2, Hidden: 1, Inside: half}, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := Default()
			set.Lead = c.lead
			f, err := Feed(c.s, []Load{c.load}, set)
			require.NoError(t, err)
			k := f.Circuits[0]
			amps := c.load.Strip * c.s.Watts / c.s.Volts
			fuse := fuses[slices.IndexFunc(fuses, func(f float64) bool { return f >= 1.25*amps })]
			assert.Equal(t, fuse, k.Fuse)
			lost := func(w Wire) float64 {
				inside := w.Ohms
				if c.load.Inside.Ohms > 0 {
					inside = c.load.Inside.Ohms
				}
				return 2 * amps * (c.lead*w.Ohms + c.load.Hidden*inside)
			}
			all := Flexible()
			at := slices.IndexFunc(all, func(w Wire) bool { return w.Amps >= fuse && lost(w) <= 0.03*c.s.Volts })
			assert.Equal(t, all[at], k.Wire)
			assert.InDelta(t, lost(k.Wire), k.WireDrop, 1e-9)
			assert.GreaterOrEqual(t, k.Gauge.Area, 0.97*k.Wire.Area, "the American gauge is as thick")
			assert.Less(t, k.Gauge.Area, 1.45*k.Wire.Area, "and not the next thicker one")
		})
	}
	for area, name := range map[float64]string{0.5: "AWG 20", 0.52: "AWG 20", 0.75: "AWG 18", 1: "AWG 16", 1.5: "AWG 14", 2.5: "AWG 12", 4: "AWG 10"} {
		assert.Equal(t, name, gauge(Wire{Area: area}).Name, "%g mm2", area)
	}
}

// A run is fed at as many points as its drop and the strip's longest run ask for, the limits included.
func TestFeeds(t *testing.T) {
	for _, c := range []struct {
		name  string
		s     Strip
		l     float64
		feeds int
		drop  float64
	}{
		{"as long as it may be", Strip{Volts: 16, Watts: 1, Run: 5}, 5, 1, 0},
		{"a little longer", Strip{Volts: 16, Watts: 1, Run: 5}, 5.01, 2, 0},
		{"two runs from both ends", Strip{Volts: 16, Watts: 1, Run: 5}, 10, 2, 0},
		{"four runs", Strip{Volts: 16, Watts: 1, Run: 5}, 20, 3, 0},
		{"as much drop as there may be", Strip{Volts: 16, Watts: 16, Ohms: 8, Run: 5}, 1, 1, 4},
		{"more drop", Strip{Volts: 16, Watts: 16, Ohms: 8.1, Run: 5}, 1, 2, 8.1 / 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := Default()
			set.Drop = 25
			f, err := Feed(c.s, []Load{{Strip: 0.1}, {Strip: c.l}}, set)
			require.NoError(t, err)
			k := f.Circuits[1]
			assert.Equal(t, c.feeds, k.Feeds)
			assert.InDelta(t, c.drop, k.StripDrop, 1e-9)
			assert.InDelta(t, f.Circuits[0].Amps+k.Amps, f.Amps, 1e-9)
			assert.InDelta(t, (0.1+c.l)*c.s.Watts, f.Watts, 1e-9)
			if notes := strings.Join(f.Notes, "\n"); c.feeds > 1 {
				assert.Contains(t, notes, fmt.Sprintf("circuit 2: feed its %.2f m of strip in one run at %d points", c.l, c.feeds))
			} else {
				assert.Empty(t, notes)
			}
		})
	}
}

// A channel may come to 10 °C below where its plastic softens, and no nearer.
func TestWarmChannel(t *testing.T) {
	for _, c := range []struct {
		softens float64
		told    bool
	}{{60, false}, {59, true}} {
		set := Default()
		set.Softens = c.softens
		// 10 W/m off 50 mm at 8 W/(m²·K): 25 °C above the air.
		f, err := Feed(Strip{Volts: 12, Watts: 10, Run: 5}, []Load{{Strip: 1, Channel: 50}}, set)
		require.NoError(t, err)
		assert.InDelta(t, 50, f.Circuits[0].Warm, 1e-9)
		assert.Equal(t, c.told, strings.Contains(strings.Join(f.Notes, " "), "circuit 1: the channel may reach about 50 °C"), "%g", c.softens)
	}
}

func TestSettingsLimits(t *testing.T) {
	s := Strip{Volts: 12, Watts: 7, Run: 5}
	_, err := Feed(s, []Load{{Strip: 1}}, Settings{Drop: 3, Ambient: 25, Softens: 60})
	require.NoError(t, err, "no lead and no headroom")
	for _, set := range []Settings{{Lead: -1, Drop: 3}, {Drop: 3, Headroom: -1}, {Drop: 0}, {Drop: -3}} {
		_, err := Feed(s, nil, set)
		assert.ErrorContains(t, err, "0 or more", "%+v", set)
	}
	_, err = Feed(s, []Load{{Strip: 1}, {Strip: 200}}, Default())
	assert.ErrorContains(t, err, "circuit 2: ")
}

// What loses more on its wires than it should is told. Behind the channels wires have no room to be
// thicker: then the lead is the thinnest that its fuse protects and that loses no more than half.
func TestDim(t *testing.T) {
	s := Strip{Volts: 12, Watts: 6, Run: 5}
	slim := HookUp()[slices.IndexFunc(HookUp(), func(w Wire) bool { return w.Area == 0.5 })]
	for _, c := range []struct {
		name   string
		load   Load
		lead   float64
		dim    bool
		copper float64 // mm², of the lead
	}{
		{"short wires", Load{Strip: 4, Hidden: 0.5, Inside: slim}, 1.5, false, 0.5},
		{"long ones behind the channels", Load{Strip: 4, Hidden: 6, Inside: slim}, 1.5, true, 0.75},
		{"a long lead", Load{Strip: 4, Hidden: 0.5, Inside: slim}, 200, true, 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := Default()
			set.Lead = c.lead
			f, err := Feed(s, []Load{c.load}, set)
			require.NoError(t, err)
			k := f.Circuits[0]
			assert.Equal(t, c.dim, k.Dim)
			assert.Equal(t, c.dim, k.WireDrop > set.Drop/100*s.Volts)
			assert.Equal(t, c.copper, k.Wire.Area, k.Wire.Name)
			assert.GreaterOrEqual(t, k.Wire.Amps, k.Fuse)
		})
	}
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
		{"a current that needs a thick wire", 3.2, 1, 0.36, 0.75},
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
	assert.Equal(t, 0.08, Signal().Area)
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
		{"no YAML", "- {name: [\n", "line 1 is not valid YAML"},
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
	for _, volts := range []string{"1", "60"} {
		_, err := ReadStrips([]byte(strings.Replace(good, "volts: 12", "volts: "+volts, 1)))
		assert.NoError(t, err, "the limits themselves")
	}
	for _, volts := range []string{"NaN", "0.9", "61", "-Inf"} {
		_, err := ReadStrips([]byte(strings.Replace(good, "volts: 12", "volts: "+volts, 1)))
		assert.ErrorContains(t, err, "is not a number from 1 to 60", volts)
	}
	lib, err := Library()
	require.NoError(t, err)
	for _, s := range lib {
		assert.False(t, math.IsInf(s.Amps(), 0))
	}
}

// No wire of the tables carries just what a fuse lets through: whether it may or may not is no question.
func TestNoWireAtAFuse(t *testing.T) {
	for _, w := range slices.Concat(Flexible(), HookUp()) {
		assert.NotContains(t, fuses, w.Amps, w.Name)
	}
}
