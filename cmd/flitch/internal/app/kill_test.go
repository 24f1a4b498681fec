package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

const (
	someKills = 220 // in both broker modes together
	earlyKill = 10  // each tenth comes while the daemon starts
	timedLife = 5   // each fifth life is watched until it evaluates
)

const (
	// killSeed in the environment chooses other moments to kill at.
	killSeed = "FLITCH_TEST_KILL_SEED"
	// killCount in the environment is how many kills there are, in both modes together.
	killCount = "FLITCH_KILLS"
)

// Promise 1 and 2: what was acknowledged is on disk once, what was due is
// delivered, each message at most once more for each kill.
func TestKilledAtRandomWithTheEmbeddedBroker(t *testing.T) {
	s := newSlaughter(t, 11)
	s.spec.Broker = mqtttest.FreeAddress(t)
	s.run(s.spec.Broker)
	s.tally("embedded")
}

func TestKilledAtRandomBehindMosquitto(t *testing.T) {
	outside := mqtttest.StartMosquitto(t)
	s := newSlaughter(t, 12)
	s.spec.Outside = outside.URL()
	s.run(outside.Addr)
	s.tally("mosquitto")
}

// A slaughter is one run of kills with all that watches it.
type slaughter struct {
	t        *testing.T
	spec     victimSpec
	random   *rand.Rand
	phone    *testPhone
	senders  []*sender
	duty     *answerer
	kills    int
	deaths   []time.Time // after each kill
	began    time.Time   // when the life of now was started
	during   map[string]int
	again    []time.Duration // from a start after a kill to the first evaluation
	absorbed int             // readings that came again and were dropped, as far as was seen
}

func newSlaughter(t *testing.T, seed uint64) *slaughter {
	t.Helper()
	if own := os.Getenv(killSeed); own != "" {
		n, err := strconv.ParseUint(own, 10, 64)
		if err != nil {
			t.Fatalf("%s: %v", killSeed, err)
		}
		seed += n
	}
	t.Logf("moments of seed %d; %s adds to it", seed, killSeed)
	s := &slaughter{t: t, kills: (sizeFrom(t, killCount, someKills) + 1) / 2, during: map[string]int{}, random: rand.New(rand.NewPCG(seed, 0)), phone: newTestPhone()}
	s.phone.takes = 20 * time.Millisecond // as a real one does: so that some are cut off by a kill
	t.Cleanup(s.phone.server.Close)
	s.spec = victimSpec{Database: filepath.Join(t.TempDir(), "flitch.db"), Page: mqtttest.FreeAddress(t), Phone: s.phone.server.URL}
	if err := store.Create(s.spec.Database); err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *slaughter) run(broker string) {
	s.t.Helper()
	began := time.Now()
	s.senders = senders(broker)
	s.duty = &answerer{page: s.spec.Page, taken: map[int64]int{}}
	v := s.spec.start(s.t)
	v.ready()
	s.prepare()
	late, stopLate := context.WithTimeout(context.Background(), 2*time.Minute+time.Duration(s.kills)*2*time.Second)
	defer stopLate()
	publish, stopPublishing := context.WithCancel(late)
	answering, stopAnswering := context.WithCancel(late)
	var helpers sync.WaitGroup
	defer helpers.Wait()
	defer stopLate() // also when the test gives up
	for _, one := range s.senders {
		helpers.Go(func() { one.run(publish, late) })
	}
	helpers.Go(func() { s.duty.run(answering) })
	for n := range s.kills {
		s.kill(v)
		s.began = time.Now()
		v = s.spec.start(s.t)
		if n%earlyKill != earlyKill-1 {
			v.ready()
		}
		if n%timedLife == 0 {
			s.evaluates()
		}
	}
	v.ready()
	stopPublishing()
	s.drain(late)
	stopAnswering()
	helpers.Wait()
	s.absorbed += s.metric("flitch_intake_duplicates_total")
	v.end()
	s.t.Logf("%d kills in %.0f s", len(s.deaths), time.Since(began).Seconds())
	s.examine()
}

// kill ends a life after a random while. Half-way it asks how many readings came
// again, which nobody will know afterwards.
func (s *slaughter) kill(v *victim) {
	s.t.Helper()
	while := time.Duration(10+s.random.IntN(190)) * time.Millisecond
	<-time.After(while / 2)
	s.absorbed += s.metric("flitch_intake_duplicates_total")
	<-time.After(while / 2)
	doing := s.doing(v)
	v.kill()
	s.deaths = append(s.deaths, time.Now())
	for _, what := range doing {
		s.during[what]++
	}
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
	for deadline := time.Now().Add(time.Minute); s.metric("flitch_intake_stored_total") == 0; {
		if time.Now().After(deadline) {
			s.t.Fatal("flitch did not subscribe")
		}
		if err := mqtttest.Pub(s.t, strings.TrimPrefix(s.spec.Outside, "tcp://"), "shop/spare", "3.0", 1); err != nil {
			s.t.Fatal(err)
		}
	}
}

// metric returns a counter of the life that is running; 0 when nobody answers.
func (s *slaughter) metric(name string) (n int) {
	response, err := http.Get("http://" + s.spec.Page + "/metrics")
	if err != nil {
		return 0
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, name+" "); ok {
			fmt.Sscan(rest, &n)
		}
	}
	return n
}

// drain waits until all is acknowledged, stored, evaluated, answered and sent, and
// stays so for a while: a message may be on its way between two of these.
func (s *slaughter) drain(ctx context.Context) {
	s.t.Helper()
	for quiet := 0; quiet < 20; quiet++ {
		if ctx.Err() != nil {
			s.t.Fatalf("not all is done: %s", s.undone(context.Background()))
		}
		pause(ctx, 25*time.Millisecond)
		if s.undone(ctx) != "" {
			quiet = 0
		}
	}
}

// undone says what there is still to do, or nothing.
func (s *slaughter) undone(ctx context.Context) string {
	for _, one := range s.senders {
		if n := one.unacked(); n > 0 {
			return fmt.Sprintf("%d readings of %s are not acknowledged", n, one.probe)
		}
	}
	db, err := store.OpenReadOnly(s.spec.Database)
	if err != nil {
		return err.Error()
	}
	defer db.Close()
	if lost := s.unstored(db); lost != "" {
		return lost
	}
	if n := len(s.duty.unanswered()) + len(s.duty.standing(ctx)); n > 0 {
		return fmt.Sprintf("%d alarms are not answered", n)
	}
	if _, some, err := db.OldestDue(time.Now()); some || err != nil {
		return fmt.Sprintf("a message is due (%v)", err)
	}
	return ""
}

// unstored: behind an outside broker an acknowledgement comes before the reading
// is on disk here. The newest one is the last to arrive; what is missing before it
// stays missing.
func (s *slaughter) unstored(db *store.DB) string {
	for _, one := range s.senders {
		newest := time.UnixMilli(one.time(len(one.times) - 1))
		if has, err := db.HasReading(one.probe, newest); !has || err != nil {
			return fmt.Sprintf("the newest reading of %s is not stored (%v)", one.probe, err)
		}
	}
	return ""
}

// all returns every message that reached the phone.
func (p *testPhone) all() []ring {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]ring(nil), p.got...)
}
