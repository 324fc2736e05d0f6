// Package specimen makes photographs of pen drawings whose centrelines are
// known: it draws strokes on a sheet with an unsteady hand, lays the sheet on
// a table, and photographs it with a tilted, blurred and noisy camera.
//
// It serves the tests, the accuracy table and the bundled demo photo, and is
// no part of the tool. All it makes is invented; the same seed gives the same
// photograph.
package specimen
