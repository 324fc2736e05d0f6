package queue

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// A Job is one photo and how a sign is made of it.
type Job struct {
	ID       string // by what it says and the photo: the same job has the same
	Batch    string // who waits for it
	Name     string // of the photo
	Photo    string // SHA-256 of the photo, hexadecimal
	Settings []byte // run.yaml
	Until    string // the last step, empty for all
	Only     string // what files are for, empty for all
	Bare     bool   // without pictures
	Prices   []byte // a price list, nil for none
	Program  string // whose version works on it
}

// identified is the job with its ID.
func (j Job) identified() Job {
	j.ID, j.Batch = "", ""
	text, _ := json.Marshal(j) // of texts only
	sum := sha256.Sum256(text)
	j.ID = hex.EncodeToString(sum[:16])
	return j
}

// A Done tells what became of a job.
type Done struct {
	ID      string
	Sum     string          // SHA-256 of the result, hexadecimal
	Outcome json.RawMessage // what the worker found
	Error   string          // why there is none, empty for a result
}

// Limits bound what the queue takes and how long it waits.
type Limits struct {
	Patience time.Duration // a worker silent for longer is dead
	Tries    int           // of one job
	Store    int64         // bytes of photos, and again of results, on the server
	Jobs     int64         // that wait at most
	Keep     time.Duration // what nobody fetched is kept
}

// DefaultLimits suit photos of some MB.
func DefaultLimits() Limits {
	return Limits{Patience: 30 * time.Second, Tries: 3, Store: 4 << 30, Jobs: 100_000, Keep: 24 * time.Hour}
}

// Names on the server.
const (
	streamJobs   = "INKCHANNEL_JOBS"
	streamDone   = "INKCHANNEL_DONE"
	bucketPhotos = "INKCHANNEL_PHOTOS"
	bucketSigns  = "INKCHANNEL_SIGNS"
	consumer     = "workers"
	subjectJobs  = "inkchannel.jobs"
	subjectDone  = "inkchannel.done"
)

// A Queue is a connection to a server.
type Queue struct {
	nc            *nats.Conn
	js            jetstream.JetStream
	photos, signs jetstream.ObjectStore
	limits        Limits
}

// Address checks a server's address: nats:// or tls:// and a host, without a password, which others would
// read in the list of processes.
func Address(address string) error {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "nats" && u.Scheme != "tls" {
		return errors.New("the queue's address is not nats://HOST or tls://HOST, with :PORT if it is not 4222")
	}
	if u.User != nil {
		return errors.New("the queue's address holds a name or password, which others on this computer can read; " +
			"give a file with NATS_CREDS, or NATS_USER and NATS_PASSWORD, in the environment")
	}
	return nil
}

// credentials are read from the environment by the names that the NATS tools use.
func credentials() ([]nats.Option, error) {
	var out []nats.Option
	for _, name := range []string{"NATS_CREDS", "NATS_NKEY", "NATS_CA", "NATS_CERT", "NATS_KEY"} {
		if file := os.Getenv(name); file != "" {
			if _, err := os.Stat(file); err != nil {
				return nil, fmt.Errorf("%s names %s, which is not there or cannot be read; give it a file, or unset it", name, file)
			}
		}
	}
	if file := os.Getenv("NATS_CREDS"); file != "" {
		out = append(out, nats.UserCredentials(file))
	}
	if file := os.Getenv("NATS_NKEY"); file != "" {
		key, err := nats.NkeyOptionFromSeed(file)
		if err != nil {
			return nil, fmt.Errorf("NATS_NKEY: %w", err)
		}
		out = append(out, key)
	}
	if user := os.Getenv("NATS_USER"); user != "" {
		if password := os.Getenv("NATS_PASSWORD"); password != "" {
			out = append(out, nats.UserInfo(user, password))
		} else {
			out = append(out, nats.Token(user))
		}
	}
	if file := os.Getenv("NATS_CA"); file != "" {
		out = append(out, nats.RootCAs(file))
	}
	if file := os.Getenv("NATS_CERT"); file != "" {
		out = append(out, nats.ClientCert(file, os.Getenv("NATS_KEY")))
	}
	return out, nil
}

// Connect connects to a server and makes sure of what the queue needs there. It returns an error if that
// cannot be done within half a minute; later on a lost connection is made again.
func Connect(ctx context.Context, address string, l Limits) (*Queue, error) {
	if err := Address(address); err != nil {
		return nil, err
	}
	options, err := credentials()
	if err != nil {
		return nil, err
	}
	options = append(options, nats.Name("inkchannel"), nats.MaxReconnects(-1), nats.ReconnectWait(300*time.Millisecond))
	nc, err := nats.Connect(address, options...)
	if errors.Is(err, nats.ErrAuthorization) || errors.Is(err, nats.ErrAuthExpired) || errors.Is(err, nats.ErrAuthRevoked) {
		return nil, fmt.Errorf("the queue at %s: %v; set NATS_USER and NATS_PASSWORD, or NATS_CREDS, to what this server takes", address, err)
	}
	if err != nil {
		return nil, fmt.Errorf("the queue at %s: %v; check the address, and that nats-server runs there with JetStream (-js)", address, err)
	}
	q := &Queue{nc: nc, limits: l}
	ctx, stop := context.WithTimeout(ctx, 30*time.Second)
	defer stop()
	if err := q.prepare(ctx); err != nil {
		nc.Close()
		return nil, fmt.Errorf("the queue at %s: %w; check that nats-server runs there with JetStream (-js)", address, err)
	}
	return q, nil
}

// Close ends the connection.
func (q *Queue) Close() { q.nc.Close() }

// OnLoss has it told when the server is away, and when it is there again; not when the queue is closed.
func (q *Queue) OnLoss(told func(away bool)) {
	q.nc.SetDisconnectErrHandler(func(nc *nats.Conn, _ error) {
		if !nc.IsClosed() {
			told(true)
		}
	})
	q.nc.SetReconnectHandler(func(*nats.Conn) { told(false) })
}

func (q *Queue) prepare(ctx context.Context) (err error) {
	if q.js, err = jetstream.New(q.nc); err != nil {
		return err
	}
	if _, err = q.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name: streamJobs, Subjects: []string{subjectJobs}, Retention: jetstream.WorkQueuePolicy, Storage: jetstream.FileStorage,
		MaxMsgs: q.limits.Jobs, Discard: jetstream.DiscardNew, Duplicates: time.Hour,
	}); err != nil {
		return err
	}
	if _, err = q.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name: streamDone, Subjects: []string{subjectDone + ".>"}, Storage: jetstream.FileStorage, MaxAge: q.limits.Keep,
		MaxBytes: 256 << 20, Discard: jetstream.DiscardOld,
	}); err != nil {
		return err
	}
	for bucket, store := range map[string]*jetstream.ObjectStore{bucketPhotos: &q.photos, bucketSigns: &q.signs} {
		if *store, err = q.js.CreateOrUpdateObjectStore(ctx, jetstream.ObjectStoreConfig{
			Bucket: bucket, TTL: q.limits.Keep, MaxBytes: q.limits.Store, Storage: jetstream.FileStorage,
		}); err != nil {
			return err
		}
	}
	return nil
}

// again does something until it works or ctx ends, as the server may be away for a while. What it is asked while it
// goes away has no answer, so the first try is given up soon; a large photo on a slow line needs a longer one.
func again[T any](ctx context.Context, do func(context.Context) (T, error)) (T, error) {
	wait, most := 100*time.Millisecond, 4*time.Second
	for ; ; wait, most = min(2*wait, 3*time.Second), min(2*most, time.Minute) {
		try, stop := context.WithTimeout(ctx, most)
		v, err := do(try)
		stop()
		if err == nil || ctx.Err() != nil || errors.Is(err, jetstream.ErrObjectNotFound) {
			return v, cmp.Or(ctx.Err(), err)
		}
		select {
		case <-ctx.Done():
			return v, ctx.Err()
		case <-time.After(wait):
		}
	}
}

// Waiting is how many jobs are on the queue, those being worked on too.
func (q *Queue) Waiting(ctx context.Context) (int, error) {
	jobs, err := q.js.Stream(ctx, streamJobs)
	if err != nil {
		return 0, err
	}
	return int(jobs.CachedInfo().State.Msgs), nil
}

// A Batch hands jobs out and waits for what becomes of them. Many may do so at once.
type Batch struct {
	*Queue
	id   string
	mu   sync.Mutex
	wait map[string]chan Done
	stop func()
}

// NewBatch starts a batch; Close ends it.
func (q *Queue) NewBatch(ctx context.Context) (*Batch, error) {
	key := make([]byte, 8)
	if _, err := rand.Read(key); err != nil {
		return nil, err
	}
	b := &Batch{Queue: q, id: hex.EncodeToString(key), wait: map[string]chan Done{}}
	c, err := q.js.OrderedConsumer(ctx, streamDone, jetstream.OrderedConsumerConfig{FilterSubjects: []string{subjectDone + "." + b.id}})
	if err != nil {
		return nil, err
	}
	consuming, err := c.Consume(b.done)
	if err != nil {
		return nil, err
	}
	b.stop = consuming.Stop
	return b, nil
}

// Close stops waiting.
func (b *Batch) Close() { b.stop() }

// done hands a message to who waits for it; one of a job done twice finds nobody.
func (b *Batch) done(m jetstream.Msg) {
	var d Done
	if json.Unmarshal(m.Data(), &d) != nil {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if c, ok := b.wait[d.ID]; ok {
		delete(b.wait, d.ID)
		c <- d
	}
}

// Do has a job done and returns what the worker found and its result. It returns the worker's error, and
// one where ctx ends first.
func (b *Batch) Do(ctx context.Context, j Job, photo []byte) (Done, []byte, error) {
	sum := sha256.Sum256(photo)
	j.Photo = hex.EncodeToString(sum[:])
	j = j.identified()
	j.Batch = b.id
	at := objectName(j)
	came := make(chan Done, 1)
	b.mu.Lock()
	b.wait[j.ID] = came
	b.mu.Unlock()
	defer func() {
		b.mu.Lock()
		delete(b.wait, j.ID)
		b.mu.Unlock()
	}()
	if _, err := again(ctx, func(ctx context.Context) (*jetstream.ObjectInfo, error) { return b.photos.PutBytes(ctx, at, photo) }); err != nil {
		return Done{}, nil, err
	}
	text, err := json.Marshal(j)
	if err != nil {
		return Done{}, nil, err
	}
	defer b.tidy(at)
	ack, err := again(ctx, func(ctx context.Context) (*jetstream.PubAck, error) {
		return b.js.Publish(ctx, subjectJobs, text, jetstream.WithMsgID(b.id+j.ID))
	})
	if err != nil {
		return Done{}, nil, err
	}
	var d Done
	select {
	case <-ctx.Done():
		b.takeBack(ack.Sequence)
		return d, nil, ctx.Err()
	case d = <-came:
	}
	if d.Error != "" {
		return d, nil, errors.New(d.Error)
	}
	result, err := again(ctx, func(ctx context.Context) ([]byte, error) { return b.signs.GetBytes(ctx, at) })
	if err != nil {
		return d, nil, fmt.Errorf("the result cannot be fetched: %w", err)
	}
	if got := sha256.Sum256(result); hex.EncodeToString(got[:]) != d.Sum {
		return d, nil, errors.New("the result was damaged on its way")
	}
	return d, result, nil
}

// tidying is how long is tried to take things off the server; what stays is dropped with time.
const tidying = 3 * time.Second

// tidy takes a job's photo and result off the server.
func (b *Batch) tidy(at string) {
	ctx, stop := context.WithTimeout(context.Background(), tidying)
	defer stop()
	for _, store := range []jetstream.ObjectStore{b.photos, b.signs} {
		_ = store.Delete(ctx, at)
	}
}

// takeBack takes a job that nobody waits for any more off the queue.
func (b *Batch) takeBack(sequence uint64) {
	ctx, stop := context.WithTimeout(context.Background(), tidying)
	defer stop()
	if jobs, err := b.js.Stream(ctx, streamJobs); err == nil {
		_ = jobs.DeleteMsg(ctx, sequence)
	}
}

// objectName is where a job's photo and its result are, each in its own store.
func objectName(j Job) string { return j.Batch + "-" + j.ID }
