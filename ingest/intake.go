package ingest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"
)

// ErrStopped is returned by Submit once the intake stops.
var ErrStopped = errors.New("the intake has stopped")

// An Intake is the one way in for readings.
type Intake struct {
	store  Store
	clock  Clock
	opts   Options
	routes *directory

	queue   chan *item
	large   chan struct{} // a place for each message with many readings that waits
	closing chan struct{} // closed when Run begins to stop

	entry   sync.RWMutex // held for reading by every Submit under way
	stopped bool         // under entry
	failing string       // of Run alone: what the store last said, "" if it works
	held    hold         // of Run alone: what came in while it fails
	waiting atomic.Int64 // readings that were taken and are not on disk
}

// A message with more readings than largeFrom is large; largeMax of them may wait at
// once, however long the queue is: a flood of stored readings must not eat up the
// memory of a small board. While the store fails what was taken out of the queue gives its
// places back: it is bounded as a hold, and a Submit that waits for hours would stop the one
// loop that hears an outside broker. Own bounds.
const (
	largeFrom = 100
	largeMax  = 8
)

// New prepares an intake; Run makes it work. The error lists every mapping that
// cannot be read.
func New(store Store, clock Clock, mappings []Mapping, opts Options) (*Intake, error) {
	routes, err := newDirectory(mappings)
	if err != nil {
		return nil, err
	}
	opts = opts.withDefaults()
	return &Intake{
		store: store, clock: clock, opts: opts, routes: routes,
		queue: make(chan *item, opts.Queue), large: make(chan struct{}, largeMax), closing: make(chan struct{}),
	}, nil
}

// Reads reports whether any mapping reads the topic.
func (in *Intake) Reads(topic string) bool { return in.routes.reads(topic) }

// Topics returns the topics that are read, sorted; + stands for any one part.
func (in *Intake) Topics() []string { return in.routes.topics() }

// Waiting returns how many messages wait in the queue, and how many may.
func (in *Intake) Waiting() (n, most int) { return len(in.queue), cap(in.queue) }

// Submit decodes m and queues it. It blocks while the queue is full, until ctx
// ends or the intake stops (ErrStopped); then m is not taken and will not be
// acknowledged.
func (in *Intake) Submit(ctx context.Context, m Message) error {
	arrived := m.Received.IsZero() // now
	if arrived {
		m.Received = in.clock.Now()
	}
	m.Received = stamped(m.Received)
	it := decoded(m, in.routes.of(m.Topic))
	in.routes.protocols.take(m, it)
	if arrived {
		in.witness(it)
		it.received = stamped(in.clock.Now())
	}

	in.entry.RLock()
	defer in.entry.RUnlock()
	if in.stopped {
		return ErrStopped
	}
	if it.large = len(it.values)+len(it.refused) > largeFrom; it.large {
		if err := put(ctx, in.large, struct{}{}, in.closing); err != nil {
			return err
		}
	}
	err := put(ctx, in.queue, it, in.closing)
	if err != nil && it.large {
		<-in.large
	}
	return err
}

// stamped is a time as it is stored.
func stamped(t time.Time) time.Time { return t.UTC().Truncate(time.Millisecond) }

// witness hands on what the clocks of sensors show: one of them may know the time, and we
// may not.
func (in *Intake) witness(it *item) {
	if it.retained {
		return
	}
	for _, v := range it.values {
		if s := v.sample; !s.Device.IsZero() && !s.Backfill && s.Again == 0 {
			in.opts.Witness(v.route.probe.Probe, s.Device)
		}
	}
}

// put waits for room in to, until ctx ends or closing closes.
func put[T any](ctx context.Context, to chan<- T, what T, closing <-chan struct{}) error {
	select {
	case to <- what:
		return nil
	default:
	}
	select {
	case to <- what:
		return nil
	case <-closing:
		return ErrStopped
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Run stores what is submitted until ctx ends. Then it refuses new messages,
// stores and acknowledges those that were taken, and returns nil; or an error that
// says how many it had to leave unstored and unacknowledged. It may be called once.
func (in *Intake) Run(ctx context.Context) error {
	if err := in.recall(); err != nil { // then the first readings are dated as of probes nobody knows
		in.fails(err)
	}
	giveUp, release := in.patience(ctx)
	defer release()
	acks, acked := startAcker()
	err := in.work(ctx, giveUp, acks)
	close(acks)
	<-acked
	return err
}

// recall reads back what the tracks have to know about the readings on disk.
func (in *Intake) recall() error {
	newest, err := in.store.NewestDeviceTimes()
	if err != nil {
		return fmt.Errorf("read newest device times: %w", err)
	}
	latest, err := in.store.LatestReadings()
	if err != nil {
		return fmt.Errorf("read latest readings: %w", err)
	}
	for probe, t := range in.routes.tracks {
		if at, ok := newest[probe]; ok {
			t.known, t.newest, t.last = true, at.UnixMilli(), at.UnixMilli()
		}
		if r, ok := latest[probe]; ok {
			t.top = r.Measured.UnixMilli()
		}
	}
	return nil
}

// patience returns a channel that closes StopWithin after ctx ended.
func (in *Intake) patience(ctx context.Context) (giveUp <-chan struct{}, release func()) {
	over, done := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		select {
		case <-ctx.Done():
		case <-done:
			return
		}
		select {
		case <-in.clock.After(in.opts.StopWithin):
			close(over)
		case <-done:
		}
	})
	return over, func() { close(done); wg.Wait() }
}

// close turns new messages away and waits until every Submit under way has left.
func (in *Intake) close() {
	close(in.closing)
	in.entry.Lock()
	in.stopped = true
	in.entry.Unlock()
}
