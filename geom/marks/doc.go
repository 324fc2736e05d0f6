// Package marks is about the marks printed on the sheets of a drawing larger than one sheet,
// by which photographs of it are put together: where they are, what they look like, and the
// adjustment that finds from them how the sheets lie and from where they were seen.
//
// Lengths are mm, unless px are named; y points down.
package marks
