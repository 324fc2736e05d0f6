// Package geom is the plane geometry of lines: points, polylines, curves, networks of
// strokes, and the smoothing that makes curves of strokes. It is pure Go; what needs
// areas and solids is in geom/solid.
//
// Lengths are mm unless a name says px, angles degrees unless a comment says radians.
// The frames that places can be in are told by Frame.
package geom
