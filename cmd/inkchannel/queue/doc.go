// Package queue hands jobs to workers on other machines through NATS JetStream, and their results back:
// a work queue for the jobs, an object store each for photos and results, and a stream of what is done.
//
// A job is done at least once, and its result is the same however often: it goes to one place, whose
// bytes depend on the job alone. A worker says every few seconds that it is at work; one that is silent
// for longer than Patience has its job taken back, and a job that came back Tries times is given up.
package queue
