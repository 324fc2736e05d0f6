// Package folder is a run's folder: one table of the files that a run writes, what
// writes each, and the writing itself, all or nothing.
package folder
