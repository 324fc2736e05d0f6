// Package solid makes areas and bodies of lines, by GEOS: a Plan is a plane area that
// can be joined with and cut by others, a Solid a stack of plans, a Mesh its surface of
// triangles, watertight and checked. A Channel is the body about centrelines.
//
// Lengths are mm: x to the right, y up, z towards the viewer.
package solid
