// Package power computes what feeds the strip: currents, voltage drops, wires,
// fuses and supplies, from a library of strips.
package power
