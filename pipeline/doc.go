// Package pipeline is the way from a photograph to a sign that can be printed and
// wired: its stages, a file for each, and the table that puts them in order.
//
// Adding a stage takes one file, with a function that returns it, and one line in
// Table. Order, sessions, flags, the settings file, the pictures, the page and the
// list of steps follow from the table. Places are in one of these frames, and only
// the named functions lead from one to another:
//
//   - px of the photo file, upright: what corners and dots given by hand are in;
//     vision.Photo's ToFile and FromFile;
//   - px of the working photo, which may be smaller: vision.Sheet's InPhoto and
//     FromPhoto;
//   - px and mm of the sheet, mm of the sign: geom.Frame.
package pipeline
