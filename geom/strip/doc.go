// Package strip plans how LED strip covers a sign's lines: which pieces, in
// which order, and the hidden jumpers between them.
//
// Lengths are mm, angles degrees.
package strip
