package pipeline

import (
	"inkchannel/geom/rules"
	"inkchannel/pipeline/power"
	"inkchannel/pipeline/stage"
)

// betweenChannels is the room, mm, left between the channels of neighbouring
// lines; common practice, no source.
const betweenChannels = 0.5

// UseStrip returns the settings with a strip of a library: its width, its bend, its
// cut marks, its electrical values, and a spacing that leaves some room between
// channels.
func UseStrip(s stage.Settings, t power.Strip) stage.Settings {
	s = stage.With(s, func(r *StripRoom) { r.Width = t.Width })
	s = stage.With(s, func(b *rules.BendSettings) { b.Radius = t.Bend })
	s = stage.With(s, func(p *StripsSettings) {
		p.Name, p.Cut, p.Volts, p.Watts, p.Kind = t.Name, t.Cut, t.Volts, t.Watts, t.Kind
	})
	s = stage.With(s, func(p *PowerSettings) { p.LEDs, p.Run, p.Ohms = t.LEDs, t.Run, t.Ohms })
	least := channelSpacing(s)
	return stage.With(s, func(r *rules.SpacingSettings) { r.Least = least })
}

// UsesStrip tells whether settings are those of a strip: its name, width, cut marks and power.
func UsesStrip(s stage.Settings, t power.Strip) bool {
	p := stage.SettingsOf[StripsSettings](s)
	return p.Name == t.Name && p.Cut == t.Cut && p.Volts == t.Volts && p.Watts == t.Watts &&
		stage.SettingsOf[StripRoom](s).Width == t.Width
}

// SpacedForChannels returns the settings with a spacing that is no less than what the channels'
// width asks for.
func SpacedForChannels(s stage.Settings) stage.Settings {
	least := channelSpacing(s)
	return stage.With(s, func(r *rules.SpacingSettings) { r.Least = max(r.Least, least) })
}

// channelSpacing is the spacing for the strip and the walls of the settings, mm.
func channelSpacing(s stage.Settings) float64 {
	channel := stage.SettingsOf[ChannelSettings](s)
	return roomySpacing(stage.SettingsOf[StripRoom](s).Slot(), rules.WholeWall(channel.Wall, channel.Line))
}

// roomySpacing is how far apart, mm, lines are whose channels leave some room
// between them.
func roomySpacing(slot, wall float64) float64 { return slot + 2*wall + betweenChannels }
