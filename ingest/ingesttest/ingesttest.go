// Package ingesttest runs a real intake on the real store for the tests of the way
// in and of both doors to it, and lets them order faults and wait for what was stored. For tests only.
package ingesttest

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/store"
)

// Patience is how long a real peer may take for anything.
const Patience = 60 * time.Second

// Wall is the clock of the machine.
type Wall struct{}

// Now implements ingest.Clock.
func (Wall) Now() time.Time { return time.Now() }

// After implements ingest.Clock.
func (Wall) After(d time.Duration) <-chan time.Time { return time.After(d) }

// QuietLog is a log that nobody reads.
func QuietLog() *slog.Logger { return slog.New(slog.DiscardHandler) }

// Shelf is the real store as the intake sees it, with faults to order.
type Shelf struct {
	*store.DB
	Path    string
	Gate    chan struct{} // when set, each commit waits for one value, or its closing; set it before the start
	mu      sync.Mutex
	fail    error // returned instead of storing
	commits int
}

// CommitIntake implements ingest.Store.
func (s *Shelf) CommitIntake(readings []process.Reading, rejected []decode.Rejection) (ingest.Committed, error) {
	s.mu.Lock()
	fail := s.fail
	s.commits++
	s.mu.Unlock()
	if s.Gate != nil {
		<-s.Gate
	}
	if fail != nil {
		return ingest.Committed{}, fail
	}
	done, err := s.DB.CommitIntake(readings, rejected)
	return ingest.Committed(done), err
}

// HasReading implements ingest.Store.
func (s *Shelf) HasReading(probe string, measured time.Time) (bool, error) {
	s.mu.Lock()
	fail := s.fail
	s.mu.Unlock()
	if fail != nil {
		return false, fail
	}
	return s.DB.HasReading(probe, measured)
}

// Commits is how many commits were tried.
func (s *Shelf) Commits() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.commits
}

// SetFail makes every commit and every look-up fail, or with nil work again.
func (s *Shelf) SetFail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fail = err
}

// ErrDisk is a fault to order.
var ErrDisk = errors.New("database or disk is full")

// NewShelf makes a database that lives as long as the test.
func NewShelf(t testing.TB) *Shelf {
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
	return &Shelf{DB: db, Path: path}
}

// Series returns the stored readings of a probe, by time measured.
func (s *Shelf) Series(t testing.TB, probe string) []process.Reading {
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

// Values returns the stored values of a probe, by time measured.
func (s *Shelf) Values(t testing.TB, probe string) []float64 {
	t.Helper()
	var all []float64
	for _, r := range s.Series(t, probe) {
		all = append(all, r.Value)
	}
	return all
}

// Mappings: one bare number per message on alder/slow, one timed object on
// kettle/core.
func Mappings() []ingest.Mapping {
	return []ingest.Mapping{
		{Topic: "alder/slow", Probe: process.PlacedProbe{Probe: "alder-slow", Placement: process.Product}},
		{Topic: "kettle/core", Probe: process.PlacedProbe{Probe: "core-a", Placement: process.Core}, Spec: decode.Spec{Value: "/t", Time: "/at", TimeFormat: "unix-ms"}},
	}
}

// Counts counts the readings and duplicates that went through an intake, and lets
// a test wait for them.
type Counts struct {
	mu      sync.Mutex
	n, dup  int
	changed chan struct{} // closed and replaced at each change
}

// NewCounts returns counts of nothing yet.
func NewCounts() *Counts { return &Counts{changed: make(chan struct{})} }

func (s *Counts) add(n, dup int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.n += n
	s.dup += dup
	close(s.changed)
	s.changed = make(chan struct{})
}

// The rest of ingest.Observer.

func (s *Counts) Stored(n int)             { s.add(n, 0) }
func (s *Counts) Duplicate(n int)          { s.add(0, n) }
func (s *Counts) Rejected(string)          {}
func (s *Counts) Unmapped()                {}
func (s *Counts) Committed(time.Duration)  {}
func (s *Counts) Doubtful(process.Quality) {}
func (s *Counts) StoreFailed()             {}

// State returns the counts, and a channel that closes when they change.
func (s *Counts) State() (n, dup int, changed <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.n, s.dup, s.changed
}

// Wait returns when n readings are stored and dup were absorbed.
func (s *Counts) Wait(t testing.TB, n, dup int) {
	t.Helper()
	deadline := time.After(Patience)
	for {
		gotN, gotDup, changed := s.State()
		if gotN >= n && gotDup >= dup {
			return
		}
		select {
		case <-changed:
		case <-deadline:
			t.Fatalf("%d stored and %d absorbed, want %d and %d", gotN, gotDup, n, dup)
		}
	}
}

// A Running is an intake at work.
type Running struct {
	*ingest.Intake
	Stop func() error // ends it and returns what Run returned, each time the same
}

// Start runs an intake until Stop is called, or the test ends.
func Start(t testing.TB, s ingest.Store, maps []ingest.Mapping, o ingest.Options) *Running {
	t.Helper()
	in, err := ingest.New(s, Wall{}, maps, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- in.Run(ctx) }()
	stop := sync.OnceValue(func() error { cancel(); return <-ended })
	t.Cleanup(func() { _ = stop() })
	return &Running{Intake: in, Stop: stop}
}
