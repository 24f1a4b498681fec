package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// kills in each of the two broker modes: 200 and more in all.
const kills = 110

// Promise 1 and 2: what was acknowledged is on disk once, what was due is
// delivered, each message at most once more for each kill.
func TestKilledAtRandomWithTheEmbeddedBroker(t *testing.T) {
	s := newSlaughter(t)
	s.spec.Broker = freeAddress(t)
	s.run(s.spec.Broker, 11)
}

func TestKilledAtRandomBehindMosquitto(t *testing.T) {
	outside := mqtttest.StartMosquitto(t)
	s := newSlaughter(t)
	s.spec.Outside = outside.URL()
	s.run(outside.Addr, 12)
}

// A slaughter is one run of kills with all that watches it.
type slaughter struct {
	t      *testing.T
	spec   victimSpec
	phone  *testPhone
	sender *sender
	duty   *answerer
}

func newSlaughter(t *testing.T) *slaughter {
	t.Helper()
	s := &slaughter{t: t, phone: newTestPhone()}
	t.Cleanup(s.phone.server.Close)
	s.spec = victimSpec{Database: filepath.Join(t.TempDir(), "flitch.db"), Page: freeAddress(t), Phone: s.phone.server.URL}
	if err := store.Create(s.spec.Database); err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *slaughter) run(broker string, seed uint64) {
	s.t.Helper()
	s.sender = &sender{addr: broker, acked: map[int]bool{}}
	s.duty = &answerer{page: s.spec.Page, taken: map[int64]bool{}}
	random := rand.New(rand.NewPCG(seed, 0))

	v := s.spec.start(s.t)
	s.prepare()
	late, stopLate := context.WithTimeout(context.Background(), 5*time.Minute)
	defer stopLate()
	publish, stopPublishing := context.WithCancel(late)
	answering, stopAnswering := context.WithCancel(late)
	var helpers sync.WaitGroup
	helpers.Go(func() { s.sender.run(publish, late) })
	helpers.Go(func() { s.duty.run(answering) })
	for range kills {
		v.kill(time.Duration(10+random.IntN(190)) * time.Millisecond)
		v = s.spec.start(s.t)
	}
	stopPublishing()
	s.drain(late)
	stopAnswering()
	helpers.Wait()
	v.end()
	s.t.Logf("seed %d: %d kills, %d readings, %d sent again, %d alarms answered, %d messages received",
		seed, kills, len(s.sender.times), s.sender.again, len(s.duty.taken), len(s.phone.all()))
	s.examine()
}

// prepare starts a batch that is being smoked, and with an outside broker waits
// until flitch has subscribed: before that nobody promises anything.
func (s *slaughter) prepare() {
	s.t.Helper()
	say := func(kind string, more map[string]any) {
		s.t.Helper()
		body := map[string]any{"id": kind + fmt.Sprint(more["stage"]), "kind": kind, "batch": "PS-02", "by": "T.V."}
		for k, v := range more {
			body[k] = v
		}
		text, err := json.Marshal(body)
		if err == nil {
			err = s.duty.post(context.Background(), text)
		}
		if err != nil {
			s.t.Fatalf("%s: %v", kind, err)
		}
	}
	say("new", map[string]any{"new": map[string]any{"plan": raw, "fridge": "alder", "smoker": "kettle",
		"pieces": []map[string]any{{"name": "A", "green_g": 2268, "thickness_mm": 38}}}})
	for _, stage := range []string{"rinse", "dry", "smoke"} {
		say("stage", map[string]any{"stage": stage})
	}
	if s.spec.Outside == "" {
		return
	}
	host, port, _ := net.SplitHostPort(strings.TrimPrefix(s.spec.Outside, "tcp://"))
	for deadline := time.Now().Add(20 * time.Second); !s.heard("flitch_intake_stored_total 0"); {
		if time.Now().After(deadline) {
			s.t.Fatal("flitch did not subscribe")
		}
		if err := mqtttest.Pub(s.t, net.JoinHostPort(host, port), "shop/spare", "3.0", 1); err != nil {
			s.t.Fatal(err)
		}
	}
}

// heard reports whether the metrics are there and do not hold the line.
func (s *slaughter) heard(not string) bool {
	response, err := http.Get("http://" + s.spec.Page + "/metrics")
	if err != nil {
		return false
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		return false
	}
	return strings.Contains(string(text), "flitch_intake_stored_total") && !strings.Contains(string(text), not+"\n")
}

// drain waits until everything is acknowledged, evaluated, answered and sent.
func (s *slaughter) drain(ctx context.Context) {
	s.t.Helper()
	quiet := 0
	for quiet < 20 {
		if ctx.Err() != nil {
			s.t.Fatalf("still %d readings unacknowledged or alarms unanswered", s.sender.unacked())
		}
		pause(ctx, 25*time.Millisecond)
		quiet++
		if s.sender.unacked() > 0 || len(s.duty.standing(ctx)) > 0 || !s.heard("\x00") || s.waiting() {
			quiet = 0
		}
	}
}

// waiting reports whether a message is due and not sent.
func (s *slaughter) waiting() bool {
	db, err := store.OpenReadOnly(s.spec.Database)
	if err != nil {
		return true
	}
	defer db.Close()
	_, some, err := db.OldestDue(time.Now())
	return some || err != nil
}

// all returns every message that reached the phone.
func (p *testPhone) all() []ring {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]ring(nil), p.got...)
}
