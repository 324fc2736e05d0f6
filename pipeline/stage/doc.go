// Package stage is what a chain of stages is made of. A stage is one value that
// says all about itself: its name, its settings with their flags, which earlier
// results it reads, how it runs, its picture, the problems it sees. A Table puts
// stages in order; a run, a Session, flags and the settings file follow from it.
//
// A stage is handed its own settings and the results that it reads, nothing else.
// Both are plain types, so that reading what is not there does not compile, and a
// stage that reads what no stage before it finds is refused when the table is
// made. Results are never changed once they are found: that is what lets a session
// keep them.
//
// The package knows nothing of what the stages do.
package stage
