// Package hand changes a centreline as its maker says: moves, draws and rubs out lines, joins
// ends, makes stretches straight or round. What a change is about is named by places near the
// lines, so that it keeps its meaning while the lines differ a little.
//
// Lengths are mm.
package hand
