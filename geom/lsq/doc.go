// Package lsq solves least squares problems whose residuals each depend on a few
// unknowns, some of them as conditions that must hold: Gauss and Newton's method with
// multipliers (the augmented Lagrangian). Unknowns that no residual ties together are
// solved apart, and those that many share are eliminated last, so that cost grows in
// line with the number of residuals.
package lsq
