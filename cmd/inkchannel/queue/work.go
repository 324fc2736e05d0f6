package queue

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"inkchannel/geom/parallel"
)

// A Maker does a job and returns its result and what it found. An error is the photo's: the job is not
// tried again.
type Maker func(ctx context.Context, j Job, photo []byte) (result []byte, outcome json.RawMessage, err error)

// Work takes jobs until ctx ends, so many at a time, and tells of each. Jobs for another version of the
// program are left for others. It returns an error only if it cannot begin.
func (q *Queue) Work(ctx context.Context, program string, slots int, make Maker, told func(Job, error)) error {
	jobs, err := q.js.CreateOrUpdateConsumer(ctx, streamJobs, jetstream.ConsumerConfig{
		Durable: consumer, AckPolicy: jetstream.AckExplicitPolicy, AckWait: q.limits.Patience, MaxDeliver: -1,
	})
	if err != nil {
		return err
	}
	var wg sync.WaitGroup
	for range max(slots, 1) {
		wg.Go(func() {
			for ctx.Err() == nil {
				m, err := jobs.Next(jetstream.FetchMaxWait(2 * time.Second))
				if err != nil { // nothing to do, or the server is away
					if !errors.Is(err, jetstream.ErrNoMessages) && !errors.Is(err, context.DeadlineExceeded) {
						pause(ctx, 300*time.Millisecond)
					}
					continue
				}
				q.one(ctx, program, m, make, told)
			}
		})
	}
	wg.Wait()
	return nil
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

// one does one job.
func (q *Queue) one(ctx context.Context, program string, m jetstream.Msg, make Maker, told func(Job, error)) {
	var j Job
	if err := json.Unmarshal(m.Data(), &j); err != nil {
		_ = m.Term() // nobody can do it
		return
	}
	if j.Program != program {
		_ = m.NakWithDelay(5 * time.Second)
		return
	}
	beating, stop := context.WithCancel(ctx)
	defer stop()
	go beat(beating, m, q.limits.Patience/4)
	tries := uint64(1)
	if about, err := m.Metadata(); err == nil {
		tries = about.NumDelivered
	}
	d := Done{ID: j.ID}
	if tries > uint64(q.limits.Tries) {
		d.Error = fmt.Sprintf("%s: given up after %d tries: whoever worked on it stopped without a word", j.Name, q.limits.Tries)
	} else if err := q.try(ctx, j, make, &d); err != nil {
		if ctx.Err() != nil || tries < uint64(q.limits.Tries) {
			_ = m.NakWithDelay(500 * time.Millisecond) // somebody else may have more luck
			return
		}
		d.Error = err.Error()
	}
	text, err := json.Marshal(d)
	if err != nil {
		return
	}
	_, err = again(ctx, func(ctx context.Context) (*jetstream.PubAck, error) {
		return q.js.Publish(ctx, subjectDone+"."+j.Batch, text, jetstream.WithMsgID(j.Batch+j.ID))
	})
	if err != nil {
		return // it comes back
	}
	_, _ = again(ctx, func(ctx context.Context) (struct{}, error) { return struct{}{}, m.DoubleAck(ctx) })
	if d.Error != "" {
		err = errors.New(d.Error)
	}
	told(j, err)
}

// beat says every now and then that a job is being worked on.
func beat(ctx context.Context, m jetstream.Msg, every time.Duration) {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			_ = m.InProgress()
		}
	}
}

// try does a job and stores its result. An error is none of the photo's: it may be tried again.
func (q *Queue) try(ctx context.Context, j Job, make Maker, d *Done) (err error) {
	at := objectName(j)
	photo, err := again(ctx, func(ctx context.Context) ([]byte, error) { return q.photos.GetBytes(ctx, at) })
	if errors.Is(err, jetstream.ErrObjectNotFound) {
		d.Error = "its photo is no longer on the server"
		return nil
	}
	if err != nil {
		return err
	}
	if sum := sha256.Sum256(photo); hex.EncodeToString(sum[:]) != j.Photo {
		return errors.New("the photo was damaged on its way")
	}
	result, outcome, err := guarded(ctx, j, photo, make)
	var fault *panicError
	switch {
	case errors.As(err, &fault) || ctx.Err() != nil:
		return err
	case err != nil:
		d.Error = err.Error()
		return nil
	}
	if _, err := again(ctx, func(ctx context.Context) (*jetstream.ObjectInfo, error) { return q.signs.PutBytes(ctx, at, result) }); err != nil {
		return err
	}
	sum := sha256.Sum256(result)
	d.Sum, d.Outcome = hex.EncodeToString(sum[:]), outcome
	return nil
}

// A panicError is a fault of ours.
type panicError struct{ what any }

// Error is what was wrong.
func (e *panicError) Error() string { return fmt.Sprintf("a fault of the program: %v", e.what) }

// guarded makes a panic an error, so that one photo does not stop a worker.
func guarded(ctx context.Context, j Job, photo []byte, make Maker) (result []byte, outcome json.RawMessage, err error) {
	if r := parallel.Caught(func() { result, outcome, err = make(ctx, j, photo) }); r != nil {
		err = &panicError{r}
	}
	return result, outcome, err
}
