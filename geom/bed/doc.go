// Package bed fits a sign's parts to a printer's bed: turns them, cuts the
// channels where they are too large, lays the pieces out on as few beds as it
// finds, and estimates the print.
//
// Lengths are mm, angles degrees.
package bed
