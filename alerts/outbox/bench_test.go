package outbox

import (
	"context"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
	"flitch/store"
)

// wallClock is real time, which is fake inside a synctest bubble.
type wallClock struct{}

func (wallClock) Now() time.Time                         { return time.Now() }
func (wallClock) After(d time.Duration) <-chan time.Time { return time.After(d) }

// shelf is the real store, on a disk that can be told to refuse.
type shelf struct {
	*store.DB
	mu     sync.Mutex
	refuse error // of BeginAttempt and Settle, while set
}

func (s *shelf) fault(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.refuse = err
}

func (s *shelf) faulty() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.refuse
}

func (s *shelf) BeginAttempt(message int64, at time.Time) error {
	if err := s.faulty(); err != nil {
		return err
	}
	return s.DB.BeginAttempt(message, at)
}

func (s *shelf) Settle(end alerts.Settlement) error {
	if err := s.faulty(); err != nil {
		return err
	}
	return s.DB.Settle(end)
}

// A delivery is one message as a phone saw it, and when.
type delivery struct {
	after time.Duration
	alerts.Message
}

// phone is the other side: it answers by script, the last line again and again.
type phone struct {
	name   string
	mu     sync.Mutex
	script []error
	seen   []delivery
	began  time.Time
	hold   chan struct{} // when not nil, Send waits for it
}

func newPhone(name string, script ...error) *phone {
	return &phone{name: name, script: script, began: time.Now()}
}

func (p *phone) Name() string            { return p.name }
func (p *phone) Deadline() time.Duration { return 10 * time.Second }

func (p *phone) Send(ctx context.Context, m alerts.Message) (string, error) {
	p.mu.Lock()
	p.seen = append(p.seen, delivery{time.Since(p.began), m})
	var err error
	if len(p.script) > 0 {
		err = p.script[0]
	}
	if len(p.script) > 1 {
		p.script = p.script[1:]
	}
	hold := p.hold
	p.mu.Unlock()
	if hold != nil {
		select {
		case <-hold:
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
	return "taken", err
}

func (p *phone) got() []delivery {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]delivery(nil), p.seen...)
}

// A bench is a store with a running loop, inside a bubble of fake time.
type bench struct {
	t        *testing.T
	path     string
	db       *store.DB
	shelf    *shelf
	box      *Outbox
	failures []Failure
	ends     []alerts.Settlement
	mu       sync.Mutex
	stop     func()
	divert   func(alerts.Settlement, Failure) error // set before start
	clock    Clock                                  // nil: real time
}

// newBench opens a new store. The loop runs after start.
func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{t: t, path: filepath.Join(t.TempDir(), "flitch.db")}
	if err := store.Create(b.path); err != nil {
		t.Fatal(err)
	}
	b.open()
	return b
}

func (b *bench) open() {
	b.t.Helper()
	db, err := store.Open(b.path)
	if err != nil {
		b.t.Fatal(err)
	}
	b.db, b.shelf = db, &shelf{DB: db}
}

func (b *bench) start(phones ...*phone) {
	b.t.Helper()
	channels := make([]Channel, len(phones))
	for i, p := range phones {
		channels[i] = p
	}
	if b.clock == nil {
		b.clock = wallClock{}
	}
	box, err := New(b.shelf, b.clock, channels, Options{
		Failed: func(f Failure) {
			b.mu.Lock()
			b.failures = append(b.failures, f)
			b.mu.Unlock()
		},
		Divert: b.divert,
		Observe: func(_ string, s alerts.Settlement, _ time.Duration) {
			b.mu.Lock()
			b.ends = append(b.ends, s)
			b.mu.Unlock()
		},
	})
	if err != nil {
		b.t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); _ = box.Run(ctx) }()
	b.box = box
	b.stop = func() { cancel(); <-done }
}

// close ends loop and store, as the bubble demands.
func (b *bench) close() {
	b.t.Helper()
	if b.stop != nil {
		b.stop()
	}
	if err := b.db.Close(); err != nil {
		b.t.Error(err)
	}
}

// pass lets time pass and everything that comes due happen.
func (b *bench) pass(d time.Duration) { time.Sleep(d); synctest.Wait() }

func (b *bench) enqueue(messages ...alerts.Message) (ids []int64) {
	b.t.Helper()
	err := b.db.Update(func(tx *store.Tx) error {
		for _, m := range messages {
			id, err := tx.Enqueue(m)
			if err != nil {
				return err
			}
			ids = append(ids, id)
		}
		return nil
	})
	if err != nil {
		b.t.Fatal(err)
	}
	if b.box != nil {
		b.box.Wake()
	}
	return ids
}

// record returns what is stored about one message.
func (b *bench) record(alarm, id int64) store.MessageRecord {
	b.t.Helper()
	all, err := b.db.MessagesOf(alarm)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, m := range all {
		if m.ID == id {
			return m
		}
	}
	b.t.Fatalf("message %d is gone", id)
	return store.MessageRecord{}
}

func ring(alarm int64) alerts.Message {
	return alerts.Message{
		Alarm: alarm, Kind: alerts.Raised, Entry: "H3", Level: alerts.Ring, Channel: "pocket",
		Subject: "RING Fire going out: batch OL-31-09", Body: "Do first: Relight.", Due: time.Now(),
	}
}

func tell(alarm int64) alerts.Message {
	m := ring(alarm)
	m.Level, m.Entry, m.Subject = alerts.Tell, "C1", "Fridge a little warm: fridge alder"
	return m
}

var busy = &alerts.SendError{Retry: true, Text: "answered 503 Service Unavailable"}
