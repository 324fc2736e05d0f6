package desk

import (
	"fmt"
	"slices"

	"inkchannel/pipeline"
	"inkchannel/pipeline/stage"
)

// A kit is a choice that sets several settings at once.
type kit struct {
	flag, help string
	choices    []string
	now        string // the choice that the settings of now are, "own" if none
	use        func(s stage.Settings, choice int) stage.Settings
}

// ownKit is what a kit is called that is none of the choices.
const ownKit = "own"

// beds are common printers' beds, width and depth in mm; common practice, no source.
var beds = [][2]float64{{150, 150}, {180, 180}, {200, 200}, {220, 220}, {235, 235}, {250, 210}, {300, 300}, {350, 350}}

// kits are the strips of the library, and common beds, beside some settings.
func (d *Desk) kits(set stage.Settings) []kit {
	strip := kit{flag: "strip", help: "a strip of the library: its width, cut marks, volts, watts and bend"}
	for _, t := range d.job.Strips {
		name := fmt.Sprintf("%s: %g mm, %g V, %g W/m", t.Name, t.Width, t.Volts, t.Watts)
		strip.choices = append(strip.choices, name)
		if pipeline.UsesStrip(set, t) {
			strip.now = name
		}
	}
	strip.use = func(s stage.Settings, i int) stage.Settings { return pipeline.UseStrip(s, d.job.Strips[i]) }
	b := kit{flag: "bed", help: "a common size of printer's bed, width by depth in mm"}
	is := stage.SettingsOf[pipeline.BedsSettings](set).Bed
	for _, size := range beds {
		b.choices = append(b.choices, fmt.Sprintf("%g by %g", size[0], size[1]))
		if is.Width == size[0] && is.Depth == size[1] {
			b.now = b.choices[len(b.choices)-1]
		}
	}
	b.use = func(s stage.Settings, i int) stage.Settings {
		return stage.With(s, func(s *pipeline.BedsSettings) { s.Bed.Width, s.Bed.Depth = beds[i][0], beds[i][1] })
	}
	out := []kit{strip, b}
	for i := range out {
		if out[i].now == "" {
			out[i].now = ownKit
		}
	}
	return out
}

// useKit is the settings of now with a choice of a kit; ok is false if there is no such kit.
func (d *Desk) useKit(now stage.Settings, flag, choice string) (next stage.Settings, ok bool, err error) {
	for _, k := range d.kits(now) {
		if k.flag != flag {
			continue
		}
		i := slices.Index(k.choices, choice)
		if i < 0 {
			return next, true, fmt.Errorf("%s: there is no %q", flag, choice)
		}
		return k.use(now, i), true, nil
	}
	return next, false, nil
}

// kitStates are the kits as the page shows them.
func (d *Desk) kitStates() (out []settingState) {
	first := d.kits(d.table.Default())
	for i, k := range d.kits(d.session.Settings()) {
		choices := k.choices
		if k.now == ownKit {
			choices = append(slices.Clone(choices), ownKit)
		}
		if len(k.choices) > 0 {
			out = append(out, settingState{Flag: k.flag, Help: k.help, Value: k.now, Default: first[i].now, Choices: choices})
		}
	}
	return out
}
