package ingest_test

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/store"
)

// wall is the clock of a test, which inside a synctest bubble is the bubble's.
type wall struct{}

func (wall) Now() time.Time                         { return time.Now() }
func (wall) After(d time.Duration) <-chan time.Time { return time.After(d) }

// shelf is the real store as the intake sees it, with faults to order.
type shelf struct {
	*store.DB
	mu      sync.Mutex
	fail    error         // returned instead of storing
	gate    chan struct{} // when set, each commit waits for one value
	commits int
}

func (s *shelf) CommitIntake(readings []process.Reading, rejected []decode.Rejection) (ingest.Committed, error) {
	s.mu.Lock()
	fail, gate := s.fail, s.gate
	s.commits++
	s.mu.Unlock()
	if gate != nil {
		<-gate
	}
	if fail != nil {
		return ingest.Committed{}, fail
	}
	done, err := s.DB.CommitIntake(readings, rejected)
	return ingest.Committed(done), err
}

func (s *shelf) HasReading(probe string, measured time.Time) (bool, error) {
	s.mu.Lock()
	fail := s.fail
	s.mu.Unlock()
	if fail != nil {
		return false, fail
	}
	return s.DB.HasReading(probe, measured)
}

func (s *shelf) setFail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fail = err
}

var errDisk = errors.New("database or disk is full")

// newShelf makes a database that lives as long as the test.
func newShelf(t testing.TB) *shelf {
	t.Helper()
	path := filepath.Join(t.TempDir(), "flitch.db")
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return &shelf{DB: db}
}

// series returns the stored readings of a probe, by time measured.
func (s *shelf) series(t testing.TB, probe string) []process.Reading {
	t.Helper()
	var all []process.Reading
	err := s.EachReading([]string{probe}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
		all = append(all, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

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

// One bare number per message, and one timed object.
func mappings() []ingest.Mapping {
	return []ingest.Mapping{
		{Topic: "alder/slow", Probe: probe("alder-slow", process.Product), Unit: "C"},
		{Topic: "kettle/core", Probe: probe("core-a", process.Core), Value: "/t", Time: "/at", TimeFormat: "unix-ms"},
	}
}

// A running intake.
type running struct {
	*ingest.Intake
	stop func() error
}

// start runs an intake until stop is called, or the test ends.
func start(t testing.TB, s ingest.Store, maps []ingest.Mapping, o ingest.Options) *running {
	t.Helper()
	in, err := ingest.New(s, wall{}, maps, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- in.Run(ctx) }()
	var once sync.Once
	var result error
	r := &running{Intake: in, stop: func() error {
		once.Do(func() { cancel(); result = <-ended })
		return result
	}}
	t.Cleanup(func() { _ = r.stop() })
	return r
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
func (r *running) submit(t testing.TB, topic, payload string, ack func()) {
	t.Helper()
	if err := r.Submit(context.Background(), ingest.Message{Topic: topic, Payload: []byte(payload), Ack: ack}); err != nil {
		t.Fatal(err)
	}
}
