package solid

// A Plastic is how parts are filled, and with what.
type Plastic struct {
	Density float64 // g/cm³; PLA 1.24, from memory
	Shell   float64 // mm of solid plastic under every surface,
	Infill  float64 // %, and what of the rest is plastic
}

// Laid is how much plastic, mm³, a part of a volume, mm³, and a surface, mm², takes:
//
//	shell + (volume − shell)·Infill, shell = min(volume, surface·Shell)
func (p Plastic) Laid(volume, surface float64) float64 {
	shell := min(volume, surface*p.Shell)
	return shell + (volume-shell)*p.Infill/100
}

// Grams is the mass, g, of so much plastic, mm³.
func (p Plastic) Grams(laid float64) float64 { return laid * p.Density / 1000 }
