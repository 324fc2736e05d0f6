// Package strip plans how LED strip covers a sign's lines: which pieces, how they are
// soldered together, and where wires feed them.
//
// Lengths are mm, angles degrees.
package strip
