// Package vision turns a photograph of a pen drawing into centrelines. Each
// stage is one file with one exported entry: Load, Rectify, FindInk, FindDots,
// Thin and Trace, in that order.
//
// Images are plain values. Lengths are pixels unless a name or a comment says
// mm. A pixel (x, y) covers the square from (x, y) to (x+1, y+1); its centre
// is at (x+0.5, y+0.5). Settings are in mm and degrees; a stage takes the
// scale in pixels per mm beside them.
package vision
