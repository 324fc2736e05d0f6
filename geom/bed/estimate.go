package bed

import (
	"math"

	"inkchannel/geom/solid"
)

// PrintSettings are what the estimate needs to know of the printer; the
// defaults are common practice, no source.
type PrintSettings struct {
	Filament float64 // mm, diameter
	Flow     float64 // mm³/s that the printer lays down, stops included
	Layer    float64 // mm, height of a printed layer
	Change   float64 // s, for each layer
}

// DefaultPrint returns a common printer's.
func DefaultPrint() PrintSettings {
	return PrintSettings{Filament: 1.75, Flow: 6, Layer: 0.2, Change: 3}
}

// An Estimate is what a print takes.
type Estimate struct {
	Volume  float64 // mm³ of the solid
	Plastic float64 // mm³ laid down
	Grams   float64
	Metres  float64 // of filament
	Seconds float64
}

// Add returns both estimates together.
func (e Estimate) Add(f Estimate) Estimate {
	return Estimate{
		Volume: e.Volume + f.Volume, Plastic: e.Plastic + f.Plastic,
		Grams: e.Grams + f.Grams, Metres: e.Metres + f.Metres, Seconds: e.Seconds + f.Seconds,
	}
}

// Estimate tells what one part takes:
//
//	plastic as p.Laid tells, grams as p.Grams
//	metres  = plastic / (π/4·Filament²) / 1000
//	seconds = plastic / Flow + height / Layer · Change
//
// The time is rough: it knows neither speeds nor accelerations.
func (s PrintSettings) Estimate(m *solid.Mesh, p solid.Plastic) Estimate {
	e := Estimate{Volume: m.Volume()}
	e.Plastic = p.Laid(e.Volume, m.Surface())
	e.Metres = e.Plastic / (math.Pi / 4 * s.Filament * s.Filament) / 1000
	e.Grams = p.Grams(e.Plastic)
	lo, hi := m.Bounds()
	e.Seconds = e.Plastic/s.Flow + math.Ceil((hi.Z-lo.Z)/s.Layer)*s.Change
	return e
}
