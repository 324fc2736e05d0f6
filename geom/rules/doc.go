// Package rules finds where lines do not fit strip or printer: too near each other,
// bent too tight, cramped junctions, weak walls. It spreads and rounds them where that
// is asked. Lengths are mm, angles degrees.
package rules
