package app

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/store"
)

// Beats come every so often, wait longer and longer for a far side that is away,
// stop without proof, and are back soon after it is.
func TestTheHeartbeatKeepsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		var beats, tries []time.Duration
		var away, stalled error
		var mu sync.Mutex // the loop against the test; held by the test but while it waits
		mu.Lock()
		defer mu.Unlock()
		h := &heartbeat{clock: Wall{}, every: 5 * time.Minute, log: slog.New(slog.DiscardHandler),
			proof: func(context.Context) (beat, error) {
				mu.Lock()
				defer mu.Unlock()
				return beat{}, stalled
			},
			send: func(context.Context, beat) error {
				mu.Lock()
				defer mu.Unlock()
				tries = append(tries, time.Since(began))
				if away == nil {
					beats = append(beats, time.Since(began))
				}
				return away
			}}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- h.run(ctx) }()
		pass := func(until time.Duration) {
			mu.Unlock()
			time.Sleep(until - time.Since(began))
			synctest.Wait()
			mu.Lock()
		}
		pass(10*time.Minute + time.Second)
		if want := []time.Duration{0, 5 * time.Minute, 10 * time.Minute}; !slices.Equal(beats, want) {
			t.Errorf("beats at %v, want %v", beats, want)
		}
		away = errors.New("answered 503")
		pass(16 * time.Minute)
		if want := []time.Duration{900e9, 910e9, 930e9}; !slices.Equal(tries[3:], want) { // 15:00, 10 s and 20 s later
			t.Errorf("tries at %v, want %v", tries[3:], want)
		}
		if got := h.wrong(); got != "the beat did not get through: answered 503" {
			t.Errorf("says %q", got)
		}
		away, stalled = nil, errors.New("the engine stands still")
		pass(40 * time.Minute)
		if len(beats) != 3 || h.wrong() != "no beat sent: the engine stands still" {
			t.Errorf("%d beats without proof, says %q", len(beats), h.wrong())
		}
		stalled = nil
		pass(41 * time.Minute)
		if len(beats) != 4 || h.wrong() != "" {
			t.Errorf("%d beats after all is well, says %q", len(beats), h.wrong())
		}
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// A monitor is who rings outside when beats stay away.
type monitor struct {
	server *httptest.Server
	mu     sync.Mutex
	got    []beat
	bearer string
}

func newMonitor(t *testing.T) *monitor {
	m := &monitor{}
	m.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var b beat
		if err := json.NewDecoder(r.Body).Decode(&b); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		m.mu.Lock()
		defer m.mu.Unlock()
		m.got, m.bearer = append(m.got, b), r.Header.Get("Authorization")
	}))
	t.Cleanup(m.server.Close)
	return m
}

func (m *monitor) beats() []beat {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.got)
}

func (s *shop) beating(t *testing.T) *monitor {
	m := newMonitor(t)
	s.cfg.Heartbeat = config.Heartbeat{URL: config.NewSecret(m.server.URL + "/a-token"), Method: http.MethodPost,
		Bearer: config.NewSecret("seven"), Every: 5 * time.Minute, Deadline: time.Second}
	return m
}

// trouble is what /healthz says of the heartbeat.
func (s *shop) trouble() string {
	for _, f := range s.app.health(s.t.Context()) {
		if f.Name == "heartbeat" {
			return f.Text
		}
	}
	return ""
}

// A beat is proof of work: it stops when no readings come, when the engine stands
// still and when messages wait, and comes back by itself.
func TestTheHeartbeatIsProofOfWork(t *testing.T) {
	s := newShop(t)
	m := s.beating(t)
	s.open()
	if !s.until(func() bool { return len(m.beats()) == 1 }) {
		t.Fatal("no beat at the start, with no batch to watch")
	}
	s.begin(raw)
	// ahead steps the clock by a second at a time, so that the loop is at its wait.
	ahead := func(reading bool, until func() bool) bool {
		return s.until(func() bool {
			s.clock.Step(s.clock.Now().Add(10 * time.Second))
			if reading {
				s.read("slow", 3)
			}
			return until()
		})
	}
	if !ahead(true, func() bool { return len(m.beats()) == 3 }) {
		t.Fatalf("%d beats, says %q", len(m.beats()), s.trouble())
	}
	last := m.beats()[2]
	if last.Readings == 0 || last.Batches != 1 || last.Site != "Plover Shed" || last.Beat != 3 || last.Input == 0 || m.bearer != "Bearer seven" {
		t.Errorf("beat %+v, %q", last, m.bearer)
	}
	if !ahead(false, func() bool { return strings.Contains(s.trouble(), "no reading has come in for") }) {
		t.Errorf("without readings it says %q", s.trouble())
	}
	silent := len(m.beats())
	if !ahead(true, func() bool { return len(m.beats()) > silent && s.trouble() == "" }) {
		t.Fatalf("readings are back, and it says %q", s.trouble())
	}
	s.stall(t, func() {
		stalled := len(m.beats())
		ok := s.until(func() bool {
			s.clock.Step(s.clock.Now().Add(10 * time.Second))
			return strings.Contains(s.trouble(), "not evaluated")
		})
		if !ok || len(m.beats()) > stalled+1 { // one may have been under way
			t.Errorf("the engine stands still: %d beats, says %q", len(m.beats())-stalled, s.trouble())
		}
	})
	stalled := len(m.beats())
	if !ahead(true, func() bool { return len(m.beats()) > stalled && s.trouble() == "" }) {
		t.Errorf("the engine works again, and it says %q", s.trouble())
	}
	err := s.app.db.Update(func(tx *store.Tx) error {
		_, err := tx.Enqueue(alerts.Message{Kind: alerts.TestRing, Level: alerts.Ring, Channel: "no longer there", Due: s.clock.Now()})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if !ahead(true, func() bool { return strings.Contains(s.trouble(), "a message has been waiting to be delivered") }) {
		t.Errorf("a message is stuck, and it says %q", s.trouble())
	}
}

// stall keeps the engine from writing while do runs.
func (s *shop) stall(t *testing.T, do func()) {
	t.Helper()
	held, release, done := make(chan struct{}), make(chan struct{}), make(chan error, 1)
	go func() {
		done <- s.app.db.Update(func(*store.Tx) error { close(held); <-release; return nil })
	}()
	<-held
	do()
	close(release)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// No error of the heartbeat shows its address, and nothing follows to another one.
func TestTheHeartbeatKeepsItsAddress(t *testing.T) {
	elsewhere := newMonitor(t)
	astray := httptest.NewServer(http.RedirectHandler(elsewhere.server.URL, http.StatusTemporaryRedirect))
	t.Cleanup(astray.Close)
	for _, address := range []string{astray.URL + "/a-token", "http://127.0.0.1:1/a-token"} {
		s := newShop(t)
		s.cfg.Heartbeat = config.Heartbeat{URL: config.NewSecret(address), Method: http.MethodGet, Every: time.Minute, Deadline: time.Second}
		s.open()
		if !s.until(func() bool { return s.trouble() != "" }) || strings.Contains(s.trouble(), "a-token") {
			t.Errorf("says %q", s.trouble())
		}
	}
	if len(elsewhere.beats()) > 0 {
		t.Error("the beat went somewhere else")
	}
}
