// Package parts makes the parts of a sign from its centrelines: the channels,
// the backboard that joins them, the foot and the stand or what hangs the sign
// on a wall, a cover and a test piece.
//
// Lengths are mm, angles degrees. The sign's frame: x to the right, y up, z
// towards the viewer, the channels' rear on z = 0.
package parts
