// Package letters sets words in single lines, each stroke a line of light: the Hershey fonts, smoothed
// where their corners stand for a curve, with accents, in several rows.
package letters
