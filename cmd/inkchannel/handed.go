package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"time"

	"github.com/urfave/cli/v2"

	"inkchannel/cmd/inkchannel/queue"
	"inkchannel/pipeline/folder"
	"inkchannel/pipeline/papers"
	"inkchannel/pipeline/stage"
	"inkchannel/vision"
)

// handedMost is how many photos of a batch are on the queue at a time, so that its server holds no more.
const handedMost = 64

// mostResult bounds what a worker sends back, bytes.
const mostResult = 1 << 30

// queueFlag says where the queue is.
func queueFlag(usage string) cli.Flag {
	return &cli.StringFlag{
		Name: flagQueue, Category: runCategory,
		Usage: usage + "; NATS_CREDS, NATS_NKEY, NATS_USER, NATS_PASSWORD, NATS_CA, NATS_CERT and NATS_KEY are taken from the environment",
	}
}

// handedOut has a batch's photos made by workers elsewhere, each as of says; end ends that.
func handedOut(c *cli.Context, address string, each sign, of func(*entry) (sign, error), show *progress) (do func(context.Context, *entry) (outcome, error), end func(), err error) {
	if c.String(flagFoot) != "" {
		return nil, nil, usageError{fmt.Errorf("--%s is a file that workers elsewhere have not; leave out --%s", flagFoot, flagQueue)}
	}
	if err := queue.Address(address); err != nil {
		return nil, nil, usageError{err}
	}
	q, err := queue.Connect(c.Context, address, queue.DefaultLimits())
	if err != nil {
		return nil, nil, err
	}
	b, err := q.NewBatch(c.Context)
	if err != nil {
		q.Close()
		return nil, nil, fmt.Errorf("the queue at %s: %w", address, err)
	}
	job := queue.Job{
		Until: each.until, Only: each.files.only, Bare: each.files.bare, Program: version(),
	}
	if each.prices != nil {
		job.Prices = each.prices.Text
	}
	alive := make(chan struct{}, handedMost)
	go waiting(c.Context, alive, show)
	do = func(ctx context.Context, e *entry) (o outcome, err error) {
		s, err := of(e)
		if err != nil {
			return o, err
		}
		photo, err := readPhoto(e.photo, photoLimit(s.settings))
		if err != nil {
			return o, err
		}
		j := job
		j.Name, j.Settings = filepath.Base(e.photo), s.table.WriteSettings(s.settings, "")
		done, result, err := b.Do(ctx, j, photo)
		alive <- struct{}{}
		if err != nil {
			return o, err
		}
		if err := json.Unmarshal(done.Outcome, &o); err != nil {
			return o, fmt.Errorf("%s: a worker's answer: %w", e.photo, err)
		}
		files, err := folder.Unzip(result, mostResult)
		if err != nil {
			return o, fmt.Errorf("%s: a worker's result: %w", e.photo, err)
		}
		return o, folder.Write(each.table, e.dir, files)
	}
	return do, func() { close(alive); b.Close(); q.Close() }, nil
}

// silence is how long nothing comes back before that is said.
const silence = 20 * time.Second

// waiting says so where nothing comes back for a while; alive tells of what does, and ends it when it is
// closed.
func waiting(ctx context.Context, alive <-chan struct{}, show *progress) {
	for {
		select {
		case <-ctx.Done():
			for range alive { // so that nobody waits to tell
			}
			return
		case _, more := <-alive:
			if !more {
				return
			}
		case <-time.After(silence):
			show.line("still waiting: nothing came back for %s; does the server run, and inkchannel work on some machine?", seconds(silence))
		}
	}
}

// workFlags are those of the command work.
func workFlags() []cli.Flag {
	return []cli.Flag{
		queueFlag("take jobs from this NATS server, as nats://HOST"),
		&cli.Float64Flag{
			Name: flagMemory, Value: batchMemory, Category: runCategory,
			Usage: "memory to use; decides how many photos are worked on at a time [MB]",
		},
		&cli.DurationFlag{Name: flagPatience, Value: queue.DefaultLimits().Patience, Category: runCategory, Usage: "a worker silent for longer has its photo taken back"},
		&cli.IntFlag{Name: flagTries, Value: queue.DefaultLimits().Tries, Category: runCategory, Usage: "a photo that stopped so many workers is given up"},
		&cli.BoolFlag{Name: flagQuiet, Usage: "print nothing but errors", Category: runCategory},
	}
}

// workOnQueue makes signs of the photos that batches hand out, until it is stopped.
func workOnQueue(c *cli.Context) error {
	if c.NArg() != 0 {
		return usageError{fmt.Errorf("work takes photos from a queue, %q given: inkchannel work --queue nats://HOST", c.Args().First())}
	}
	address := c.String(flagQueue)
	if address == "" {
		return usageError{errors.New("no queue given; add --queue nats://HOST")}
	}
	if err := queue.Address(address); err != nil {
		return usageError{err}
	}
	limits := queue.DefaultLimits()
	if limits.Patience = c.Duration(flagPatience); limits.Patience < time.Second {
		return usageError{fmt.Errorf("--%s is at least 1s", flagPatience)}
	}
	if limits.Tries = c.Int(flagTries); limits.Tries < 1 {
		return usageError{fmt.Errorf("--%s is at least 1", flagTries)}
	}
	q, err := queue.Connect(c.Context, address, limits)
	if err != nil {
		return err
	}
	defer q.Close()
	table := tableOf(c)
	slots := batchWorkers(
		runtime.NumCPU(), c.Float64(flagMemory), stage.SettingsOf[vision.LoadSettings](table.Default()).WorkMegapixels,
	)
	say := func(format string, a ...any) {
		if !c.Bool(flagQuiet) {
			fmt.Fprintf(c.App.Writer, format+"\n", a...)
		}
	}
	q.OnLoss(func(away bool) {
		if away {
			say("the queue's server is away; waiting for it")
		} else {
			say("the queue's server is there again")
		}
	})
	say("working on the queue at %s, %s at a time; stop with Ctrl-C", address, stage.Count(slots, "photo", "photos"))
	return q.Work(c.Context, version(), slots, func(ctx context.Context, j queue.Job, photo []byte) ([]byte, json.RawMessage, error) {
		return makeJob(ctx, table, j, photo)
	}, func(j queue.Job, err error) {
		if err != nil {
			say("failed %v", err)
			return
		}
		say("made %s", j.Name)
	})
}

// makeJob makes the files of a job's sign, as one archive.
func makeJob(ctx context.Context, table stage.Table, j queue.Job, photo []byte) ([]byte, json.RawMessage, error) {
	s := sign{table: table, name: j.Name, data: photo, until: j.Until, files: files{j.Only, j.Bare}}
	var err error
	if s.settings, err = table.ReadSettings(table.Default(), j.Settings); err != nil {
		return nil, nil, err
	}
	if j.Prices != nil {
		p, err := papers.ReadPrices(j.Prices)
		if err != nil {
			return nil, nil, err
		}
		s.prices = &p
	}
	r, made, err := makeFiles(ctx, s, func(stage.Step) {})
	if err != nil {
		return nil, nil, err
	}
	var b bytes.Buffer
	if err := folder.Zip(&b, made); err != nil {
		return nil, nil, err
	}
	found, err := json.Marshal(outcomeOf(s, r))
	return b.Bytes(), found, err
}
