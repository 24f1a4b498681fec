package ingest_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/ingesttest"
	"flitch/process"
)

type wall = ingesttest.Wall // inside a synctest bubble its time is the bubble's

var (
	newShelf = ingesttest.NewShelf
	mappings = ingesttest.Mappings
	errDisk  = ingesttest.ErrDisk
)

// counts is an observer that remembers.
type counts struct {
	mu                                     sync.Mutex
	stored, dup, unmapped, commits, failed int
	suspect, bad                           int
	rejected                               map[string]int
}

func (c *counts) add(n *int, by int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	*n += by
}
func (c *counts) Stored(n int)            { c.add(&c.stored, n) }
func (c *counts) Duplicate(n int)         { c.add(&c.dup, n) }
func (c *counts) Unmapped()               { c.add(&c.unmapped, 1) }
func (c *counts) Committed(time.Duration) { c.add(&c.commits, 1) }
func (c *counts) StoreFailed()            { c.add(&c.failed, 1) }
func (c *counts) Doubtful(q process.Quality) {
	if q == process.Bad {
		c.add(&c.bad, 1)
	} else {
		c.add(&c.suspect, 1)
	}
}
func (c *counts) Rejected(class string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.rejected == nil {
		c.rejected = map[string]int{}
	}
	c.rejected[class]++
}

// a probe of the invented shop.
func probe(name string, p process.Placement) process.PlacedProbe {
	return process.PlacedProbe{Probe: name, Place: "alder", Placement: p, Interval: 5 * time.Second}
}

// A running intake.
type running struct{ *ingesttest.Running }

func start(t testing.TB, s ingest.Store, maps []ingest.Mapping, o ingest.Options) running {
	t.Helper()
	return running{ingesttest.Start(t, s, maps, o)}
}

// acks remembers acknowledgements in the order they come.
type acks struct {
	mu  sync.Mutex
	got []int
}

func (a *acks) of(i int) func() {
	return func() {
		a.mu.Lock()
		defer a.mu.Unlock()
		a.got = append(a.got, i)
	}
}

func (a *acks) list() []int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return append([]int(nil), a.got...)
}

// submit puts a message in and fails the test if it is not taken.
func (r running) submit(t testing.TB, topic, payload string, ack func()) {
	t.Helper()
	if err := r.Submit(context.Background(), ingest.Message{Topic: topic, Payload: []byte(payload), Ack: ack}); err != nil {
		t.Fatal(err)
	}
}
