// Package regular makes hand-drawn centrelines regular: strokes that are
// nearly lines, arcs and circles become exactly so, and a drawing that is
// nearly upright or symmetric becomes exactly so.
//
// Lengths are mm, angles degrees, places in the sheet's frame.
package regular
