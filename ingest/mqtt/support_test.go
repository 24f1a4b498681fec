package mqtt_test

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/store"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// patience is how long a real peer may take for anything.
const patience = 20 * time.Second

type wall struct{}

func (wall) Now() time.Time                         { return time.Now() }
func (wall) After(d time.Duration) <-chan time.Time { return time.After(d) }

func quietLog() *slog.Logger { return slog.New(slog.DiscardHandler) }

// shelf is the real store as the intake sees it, with faults to order.
type shelf struct {
	*store.DB
	path string
	mu   sync.Mutex
	fail error         // returned instead of storing
	gate chan struct{} // when set, each commit waits for one value, or its closing
}

func (s *shelf) CommitIntake(readings []process.Reading, rejected []decode.Rejection) (ingest.Committed, error) {
	s.mu.Lock()
	fail, gate := s.fail, s.gate
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
	return &shelf{DB: db, path: path}
}

// values returns the stored values of a probe, by time measured.
func (s *shelf) values(t testing.TB, probe string) []float64 {
	t.Helper()
	var all []float64
	err := s.EachReading([]string{probe}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
		all = append(all, r.Value)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// mappings: one bare number per message on alder/slow, one timed object on
// kettle/core.
func mappings() []ingest.Mapping {
	return []ingest.Mapping{
		{Topic: "alder/slow", Probe: process.PlacedProbe{Probe: "alder-slow", Placement: process.Product}},
		{Topic: "kettle/core", Probe: process.PlacedProbe{Probe: "core-a", Placement: process.Core}, Value: "/t", Time: "/at", TimeFormat: "unix-ms"},
	}
}

// stored counts the readings and duplicates that went through an intake, and lets
// a test wait for them.
type stored struct {
	mu      sync.Mutex
	n, dup  int
	changed chan struct{} // closed and replaced at each change
}

func newStored() *stored { return &stored{changed: make(chan struct{})} }

func (s *stored) add(n, dup int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.n += n
	s.dup += dup
	close(s.changed)
	s.changed = make(chan struct{})
}

func (s *stored) Stored(n int)             { s.add(n, 0) }
func (s *stored) Duplicate(n int)          { s.add(0, n) }
func (s *stored) Rejected(string)          {}
func (s *stored) Unmapped()                {}
func (s *stored) Committed(time.Duration)  {}
func (s *stored) Doubtful(process.Quality) {}
func (s *stored) StoreFailed()             {}

func (s *stored) state() (n, dup int, changed <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.n, s.dup, s.changed
}

// wait returns when n readings are stored and dup were absorbed.
func (s *stored) wait(t testing.TB, n, dup int) {
	t.Helper()
	deadline := time.After(patience)
	for {
		gotN, gotDup, changed := s.state()
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
	stop := sync.OnceValue(func() error { cancel(); return <-ended })
	t.Cleanup(func() { _ = stop() })
	return &running{Intake: in, stop: stop}
}
