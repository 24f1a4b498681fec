package outbox

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"sync"
	"time"

	"flitch/alerts"
)

// Clock is the time the loop lives by. Deadlines of sends are real time.
type Clock interface {
	Now() time.Time
	After(d time.Duration) <-chan time.Time
}

// A Channel is one way to a person.
type Channel interface {
	Name() string
	// Deadline is the longest that Send may take.
	Deadline() time.Duration
	// Send returns what the other side answered. An error is an
	// *alerts.SendError, or is taken as one that may pass.
	Send(ctx context.Context, m alerts.Message) (receipt string, err error)
}

// Store keeps messages and the attempts to send them.
type Store interface {
	DueMessages(channel string, now time.Time, limit int) ([]alerts.QueuedMessage, error)
	NextDue(channel string) (time.Time, bool, error)
	BeginAttempt(message int64, at time.Time) error
	Settle(alerts.Settlement) error
	// Hurry makes all messages of a channel due that wait for another attempt.
	Hurry(channel string, at time.Time) error
}

// A Failure is a message that did not get through.
type Failure struct {
	Message  alerts.Message
	Attempts int    // made so far
	Final    bool   // nothing more is tried; false only for a ring that is late and still tried
	Error    string // of the last attempt
}

// Options are what a loop may be given beside its store, clock and channels.
type Options struct {
	Backoff Backoff
	Seed    uint64 // of the jitter
	// Failed hears of every message that has failed for good, and once of a ring
	// that has not got through in RingPatience.
	// It is called from the channel's goroutine, and delays only that channel.
	Failed func(Failure)
	// Divert stores the end of an attempt that Failed hears of, and in the same
	// transaction what goes another way instead: stored after it, that would be lost by a
	// stop in between. It may call Wake. While it fails it is called again, and after a
	// restart once more for a ring that is late yet. Nil: the end is stored alone.
	Divert func(alerts.Settlement, Failure) error
	// Observe hears of every settled attempt.
	Observe func(channel string, s alerts.Settlement, took time.Duration)
	Log     *slog.Logger
}

// An Outbox is the delivery loop.
type Outbox struct {
	store Store
	clock Clock
	Options

	mu     sync.Mutex
	lanes  map[string]*lane
	opened int             // lanes so far, for the seed of the next
	run    context.Context // nil before Run and after its end
	group  sync.WaitGroup
}

// New returns a loop over channels, whose names must differ. It does nothing
// before Run.
func New(store Store, clock Clock, channels []Channel, o Options) (*Outbox, error) {
	box := &Outbox{store: store, clock: clock, Options: o.complete(), lanes: make(map[string]*lane, len(channels))}
	for _, c := range channels {
		if err := box.Open(c); err != nil {
			return nil, err
		}
	}
	return box, nil
}

func (o Options) complete() Options {
	o.Backoff = o.Backoff.complete()
	if o.Failed == nil {
		o.Failed = func(Failure) {}
	}
	if o.Observe == nil {
		o.Observe = func(string, alerts.Settlement, time.Duration) {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	return o
}

// Run sends until ctx ends and every channel's goroutine has come back. A send
// that ctx cuts off stays without an end. It may be called once.
func (o *Outbox) Run(ctx context.Context) error {
	o.mu.Lock()
	o.run = ctx
	for _, l := range o.lanes {
		o.start(l)
	}
	o.mu.Unlock()
	<-ctx.Done()
	o.mu.Lock()
	o.run = nil
	o.mu.Unlock()
	o.group.Wait()
	return nil
}

// Wake says that messages were stored. It never blocks.
func (o *Outbox) Wake() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, l := range o.lanes {
		select {
		case l.wake <- struct{}{}:
		default: // it has been told already
		}
	}
}

// SendUnstored sends m at once through its channel, for news that cannot be
// stored: the disk itself has failed. It is tried once.
func (o *Outbox) SendUnstored(ctx context.Context, m alerts.Message) error {
	o.mu.Lock()
	l, ok := o.lanes[m.Channel]
	o.mu.Unlock()
	if !ok {
		return fmt.Errorf("outbox: no channel named %q", m.Channel)
	}
	ctx, cancel := context.WithTimeout(ctx, l.channel.Deadline())
	defer cancel()
	_, err := l.channel.Send(ctx, m)
	return err
}
