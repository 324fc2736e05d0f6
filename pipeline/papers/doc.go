// Package papers writes what a maker works by: paper to draw on, the cut sheet, the
// parts list and the steps of assembly. Each says by a struct of its own what it
// needs to know of a run; lengths are mm.
package papers
