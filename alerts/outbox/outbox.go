package outbox

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
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
	// that has not got through in RingPatience. It may store messages and call Wake.
	// It is called from the channel's goroutine, and delays only that channel.
	Failed func(Failure)
	// Observe hears of every settled attempt.
	Observe func(channel string, s alerts.Settlement, took time.Duration)
	Log     *slog.Logger
}

// An Outbox is the delivery loop.
type Outbox struct {
	lanes map[string]*lane
	order []*lane
}

// New returns a loop over channels, whose names must differ. It does nothing
// before Run.
func New(store Store, clock Clock, channels []Channel, o Options) (*Outbox, error) {
	o = o.complete()
	box := &Outbox{lanes: make(map[string]*lane, len(channels))}
	for i, c := range channels {
		if _, double := box.lanes[c.Name()]; double {
			return nil, fmt.Errorf("outbox: two channels are named %q", c.Name())
		}
		l := &lane{
			store: store, clock: clock, channel: c, Options: o,
			random:    rand.New(rand.NewPCG(o.Seed, uint64(i))),
			wake:      make(chan struct{}, 1),
			unsettled: map[int64]alerts.Settlement{},
			late:      map[int64]bool{},
		}
		box.lanes[c.Name()] = l
		box.order = append(box.order, l)
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
// that ctx cuts off stays without an end.
func (o *Outbox) Run(ctx context.Context) error {
	var lanes sync.WaitGroup
	for _, l := range o.order {
		lanes.Go(func() { l.run(ctx) })
	}
	lanes.Wait()
	return nil
}

// Wake says that messages were stored. It never blocks.
func (o *Outbox) Wake() {
	for _, l := range o.order {
		select {
		case l.wake <- struct{}{}:
		default: // it has been told already
		}
	}
}

// SendUnstored sends m at once through its channel, for news that cannot be
// stored: the disk itself has failed. It is tried once.
func (o *Outbox) SendUnstored(ctx context.Context, m alerts.Message) error {
	l, ok := o.lanes[m.Channel]
	if !ok {
		return fmt.Errorf("outbox: no channel named %q", m.Channel)
	}
	ctx, cancel := context.WithTimeout(ctx, l.channel.Deadline())
	defer cancel()
	_, err := l.channel.Send(ctx, m)
	return err
}
