package app

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt"
	"flitch/process"
	"flitch/process/plans"
	"flitch/store"
)

// dawn is when the stories of these tests begin.
var dawn = time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)

// A shop is the whole daemon under test: real database, real MQTT, a real HTTP
// receiver for a phone, and a clock that the test steps.
type shop struct {
	t     testing.TB
	cfg   *config.Config
	clock *Stepped
	phone *testPhone
	app   *App
	out   *mqtt.Publisher
	stop  context.CancelFunc
	done  chan error

	supervisor Supervisor
	instead    Clock        // of clock, which it goes by
	machine    *testMachine // instead of clock, whose time nobody may jump with
	log        slog.Handler
	made       func() // called when the daemon is made and does not run yet; nil: nothing
}

func newShop(t testing.TB) *shop {
	t.Helper()
	s := &shop{t: t, clock: NewStepped(dawn), phone: newTestPhone(), log: slog.DiscardHandler}
	t.Cleanup(s.phone.server.Close)
	s.cfg = testConfig(filepath.Join(t.TempDir(), "flitch.db"), s.phone.server.URL)
	if err := store.Create(s.cfg.Site.Database); err != nil {
		t.Fatal(err)
	}
	return s
}

func testConfig(database, phone string) *config.Config {
	probe := func(name, place string, p process.Placement) config.Probe {
		return config.Probe{Name: name, Place: place, Measures: p, Payload: config.Payload{Topic: "shop/" + name, Value: "/v", Time: "/t",
			TimeFormat: "rfc3339", Unit: "C"}, Interval: time.Minute, Uncertainty: 0.5}
	}
	bare := config.Probe{Name: "spare", Place: "alder", Measures: process.Air, Payload: config.Payload{Topic: "shop/spare", Unit: "C"}, Interval: time.Minute}
	return &config.Config{
		Site:   config.Site{Name: "Plover Shed", Zone: time.UTC, Units: "C", Database: database},
		Page:   config.Page{Listen: "127.0.0.1:0"},
		Broker: config.Broker{Mode: config.Embedded, Listen: "127.0.0.1:0", Anonymous: true, MaxRate: 1e6},
		Places: []config.Place{{Name: "alder", Kind: process.WhereFridge}, {Name: "kettle", Kind: process.WhereSmoker, Fuel: config.Electric}},
		Probes: []config.Probe{probe("slow", "alder", process.Product), probe("chamber", "kettle", process.Chamber),
			probe("core", "kettle", process.Core), bare},
		Channels: []config.Channel{{Name: "phone", Kind: "http", Level: "tell", Deadline: 5 * time.Second,
			Text: map[string]string{"url": phone}, Secrets: map[string]config.Secret{}}},
	}
}

// open starts the daemon; it is stopped at the end of the test if not before.
func (s *shop) open() {
	s.t.Helper()
	var err error
	options := Options{Clock: s.clock, Log: slog.New(s.log), Version: "test", Supervisor: s.supervisor}
	if s.instead != nil {
		options.Clock = s.instead
	}
	if s.machine != nil {
		options.Clock, options.Machine = nil, s.machine
	}
	if s.app, err = New(s.cfg, options); err != nil {
		s.t.Fatal(err)
	}
	if s.made != nil {
		s.made()
	}
	ctx, stop := context.WithCancel(context.Background())
	s.stop, s.done = stop, make(chan error, 1)
	go func() { s.done <- s.app.Run(ctx) }()
	s.t.Cleanup(s.close)
	if s.app.BrokerAddress() == "" {
		return
	}
	reach := mqtt.Config{URL: "tcp://" + s.app.BrokerAddress(), ClientID: "probes"}
	if s.cfg.Broker.TLS == config.Own {
		reach.URL, reach.CAFile = "ssl://"+s.app.BrokerAddress(), RootFile(s.cfg.Site.Database)
	}
	if s.out, err = mqtt.NewPublisher(s.patience(), reach); err != nil {
		s.t.Fatal(err)
	}
}

// close stops the daemon the way SIGTERM does.
func (s *shop) close() {
	if s.stop == nil {
		return
	}
	if s.out != nil {
		s.out.Close()
		s.out = nil
	}
	s.stop()
	s.stop = nil
	if err := <-s.done; err != nil {
		s.t.Errorf("the daemon ended with %v", err)
	}
}

func (s *shop) patience() context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
	s.t.Cleanup(cancel)
	return ctx
}

// at moves the clock to a time after dawn and waits for the daemon.
func (s *shop) at(after time.Duration) {
	s.t.Helper()
	s.clock.Step(dawn.Add(after))
	s.settle()
}

func (s *shop) settle() {
	s.t.Helper()
	if err := s.app.Settle(s.patience()); err != nil {
		s.t.Fatal(err)
	}
}

// say publishes a payload and waits until it is on disk.
func (s *shop) say(topic, payload string) {
	s.t.Helper()
	if err := s.out.PublishWait(s.patience(), topic, []byte(payload), 1); err != nil {
		s.t.Fatalf("publish %s to %s: %v", payload, topic, err)
	}
}

// read publishes a reading of a probe, measured now.
func (s *shop) read(probe string, value float64) {
	s.t.Helper()
	s.say("shop/"+probe, fmt.Sprintf(`{"t":%q,"v":%.2f}`, s.clock.Now().Format(time.RFC3339Nano), value))
}

// every runs do at each step from one time to another, both included.
func (s *shop) every(step, from, to time.Duration, do func(after time.Duration)) {
	s.t.Helper()
	for after := from; after <= to; after += step {
		s.clock.Step(dawn.Add(after))
		do(after)
		s.settle()
	}
}

func (s *shop) try(c process.Command) error {
	if c.ID == "" {
		c.ID = rand.Text()
	}
	if c.By == "" {
		c.By = "T.V."
	}
	if c.Batch == "" && c.Kind != process.CommandAcknowledge {
		c.Batch = "PS-02"
	}
	return s.app.Do(s.patience(), c)
}

func (s *shop) must(c process.Command) {
	s.t.Helper()
	if err := s.try(c); err != nil {
		s.t.Fatalf("%s: %v", c.Kind, err)
	}
	s.settle()
}

// begin starts the batch PS-02 by a built-in plan.
func (s *shop) begin(plan string) {
	s.t.Helper()
	batch, err := resolve(s.cfg, Request{Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		s.t.Fatal(err)
	}
	s.must(process.Command{Kind: process.CommandNew, New: &batch})
}

// enter goes through the stages of the plan up to the named one, at once.
func (s *shop) enter(plan string, name process.StageName) {
	s.t.Helper()
	p, err := plans.BuiltIn(plan)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, stage := range p.Stages[1:] {
		if stage.Optional && stage.Name != name {
			continue
		}
		s.must(process.Command{Kind: process.CommandStage, Stage: stage.Name})
		if stage.Name == name {
			return
		}
	}
	s.t.Fatalf("plan %s has no stage %s", plan, name)
}

func (s *shop) batch() *process.Batch {
	s.t.Helper()
	b, err := (&reader{app: s.app}).load("PS-02")
	if err != nil {
		s.t.Fatal(err)
	}
	return b
}

func (s *shop) clockOf(name process.ClockName) process.Clock {
	s.t.Helper()
	b := s.batch()
	for _, c := range b.Clocks(s.clock.Now()) {
		if c.Name == name {
			return c
		}
	}
	s.t.Fatalf("no clock %s", name)
	return process.Clock{}
}

// A testPhone receives messages and can be told to fail.
type testPhone struct {
	server *httptest.Server
	mu     sync.Mutex
	status int           // answered instead of 200
	takes  time.Duration // how long an answer takes once the message is there
	inside atomic.Int64  // messages that are here and not answered
	got    []ring
}

// A ring is one message as it reached the phone.
type ring struct {
	Alarm   int64  `json:"alarm"`
	Message int64  `json:"message"`
	Kind    string `json:"kind"`
	Entry   string `json:"entry"`
	Level   string `json:"level"`
	Title   string `json:"title"`
	Text    string `json:"text"`
}

func newTestPhone() *testPhone {
	p := &testPhone{}
	p.server = httptest.NewServer(p)
	return p
}

func (p *testPhone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m ring
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	p.inside.Add(1)
	defer p.inside.Add(-1)
	p.mu.Lock()
	status := p.status
	if status == 0 {
		p.got = append(p.got, m)
	}
	p.mu.Unlock()
	if status != 0 {
		w.WriteHeader(status)
		return
	}
	<-time.After(p.takes)
}

func (p *testPhone) answer(status int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.status = status
}

// heard returns what has come since the last call, as "H3 raised ring".
func (p *testPhone) heard() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	var out []string
	for _, m := range p.got {
		out = append(out, fmt.Sprintf("%s %s %s", m.Entry, m.Kind, m.Level))
	}
	p.got = nil
	return out
}
