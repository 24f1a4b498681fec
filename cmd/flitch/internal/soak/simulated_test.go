package soak

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// A step of the simulated run, and how often its things happen, in steps. Five seconds is
// how often the probes of the house send.
const (
	stepOf      = 5 * time.Second
	askEvery    = 5
	streamEvery = 60
	leaveEvery  = 200 // a sensor goes away and comes back
	looks       = 90  // measurements of a run
)

// Three simulated days at speed (FLITCH_SOAK_HOURS=72; less with go test) through the one app,
// its own broker and a real client, on a clock that is stepped: the same measures stay flat.
// It does not run beside other tests: what it measures is its own process.
func TestSimulatedDaysStayFlat(t *testing.T) {
	hours := number(t, "FLITCH_SOAK_HOURS", 1)
	s := newSimulated(t, time.Duration(hours)*time.Hour)
	defer s.close()
	began := time.Now()
	for at := time.Duration(0); at < s.lasts; at += stepOf {
		s.step(at)
	}
	took := time.Since(began)
	if n := s.y.failed.Load(); n > 0 {
		t.Errorf("%d requests failed, the last: %v", n, s.y.why.Load())
	}
	for name, n := range map[string]int64{"batches": s.y.batches.Load(), "messages": s.y.rings.Load(), "answers": s.y.answers.Load(), "rubbish": s.y.rubbish.Load(), "reconnects": s.y.reconnects.Load(), "streams": s.y.streams.Load()} {
		if n == 0 {
			t.Errorf("there were no %s", name)
		}
	}
	s.measured.report(t, "simulated", s.lasts, false)
	line("simulated_hours", float64(hours), "h", 0)
	atLeast("simulated_speed", s.lasts.Seconds()/took.Seconds(), "times", 1)
	line("simulated_injected", s.y.injected(), "readings+faults", 0)
	t.Logf("%d hours in %s: %d readings, %d payloads of rubbish, %d reconnects, %d streams dropped, %d requests, %d batches, %d messages, %d answers", hours, took.Round(time.Second),
		s.y.acked.Load(), s.y.rubbish.Load(), s.y.reconnects.Load(), s.y.streams.Load(), s.y.asked.Load(), s.y.batches.Load(), s.y.rings.Load(), s.y.answers.Load())
}

// simulated is the app in this process, with what acts on it.
type simulated struct {
	*daemon
	t        *testing.T
	lasts    time.Duration
	y        tally
	clock    *app.Stepped
	app      *app.App
	out      []*mqtt.Publisher // of each sensor
	began    time.Time         // on the clock
	measured course
	batch    int           // that runs
	staged   time.Duration // when it came to its stage
	steps    int
	close    func()
}

func newSimulated(t *testing.T, lasts time.Duration) *simulated {
	t.Helper()
	s := &simulated{t: t, lasts: lasts, began: time.Date(2031, time.March, 4, 6, 0, 0, 0, time.UTC), measured: course{}}
	phone := newPhone(&s.y)
	folder := t.TempDir()
	prepare(t, folder, houseText(mqtttest.FreeAddress(t), mqtttest.FreeAddress(t), phone.URL, stepOf.String()))
	cfg, err := config.Load(filepath.Join(folder, "flitch.toml"))
	if err != nil {
		t.Fatal(err)
	}
	s.clock = app.NewStepped(s.began)
	if s.app, err = app.New(cfg, app.Options{Clock: s.clock, Log: silent, Version: "soak"}); err != nil {
		t.Fatal(err)
	}
	s.daemon = &daemon{folder: folder, page: s.app.Address(), broker: s.app.BrokerAddress()}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.app.Run(ctx) }()
	for _, sensor := range sensors() {
		s.out = append(s.out, s.connect(sensor))
	}
	s.close = func() {
		for _, out := range s.out {
			out.Close()
		}
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		phone.Close()
	}
	return s
}

func (s *simulated) connect(one sensor) *mqtt.Publisher {
	s.t.Helper()
	out, err := mqtt.NewPublisher(s.t.Context(), mqtt.Config{URL: "tcp://" + s.broker, ClientID: one.name})
	if err != nil {
		s.t.Fatal(err)
	}
	return out
}

// step moves the clock, lets every sensor speak and waits until all is evaluated; then people
// do what is due.
func (s *simulated) step(at time.Duration) {
	s.t.Helper()
	s.steps++
	s.clock.Step(s.began.Add(at))
	s.speak(at)
	if err := s.app.Settle(s.t.Context()); err != nil {
		s.t.Fatal(err)
	}
	s.work(at)
	if s.steps%askEvery == 0 {
		paths := []string{"/", "/api/glance", "/alarms", "/api/alarms", "/probes", "/metrics", "/api/places", s.path("/glance"), s.path(""), s.path("/chart.svg?width=600"), s.path("/entries")}
		s.get(s.t.Context(), paths[s.steps/askEvery%len(paths)], &s.y)
	}
	if s.steps%streamEvery == 0 {
		ctx, hangUp := context.WithCancel(s.t.Context())
		if stream := s.stream(ctx); stream != nil {
			stream.Body.Close()
			s.y.streams.Add(1)
		}
		hangUp()
	}
	if s.steps%leaveEvery == 0 {
		i := s.steps / leaveEvery % len(s.out)
		s.out[i].Close()
		s.out[i] = s.connect(sensors()[i])
		s.y.reconnects.Add(1)
	}
	if every := max(1, int(s.lasts/stepOf)/looks); s.steps%every == 0 {
		runtime.GC()
		if err := s.measured.look(s.daemon, at); err != nil {
			s.t.Error(err)
		}
	}
}

// speak publishes what every sensor measures, at once, and waits for the acknowledgements.
func (s *simulated) speak(at time.Duration) {
	s.t.Helper()
	period := s.lasts / 6
	warm := at%period > period*2/3
	var answers []<-chan error
	for i, one := range sensors() {
		if rand.IntN(500) == 0 {
			answers = append(answers, s.out[i].Publish(s.t.Context(), one.topic(), []byte(rubbish[rand.IntN(len(rubbish))]), 1))
			s.y.rubbish.Add(1)
		}
		answers = append(answers, s.out[i].Publish(s.t.Context(), one.topic(), payload(one.value(at, warm), s.began.Add(at)), 1))
		s.y.acked.Add(1)
	}
	for _, a := range answers {
		if err := <-a; err != nil {
			s.t.Fatal(err)
		}
	}
}

func (s *simulated) id() string              { return fmt.Sprintf("SIM-%d", s.batch) }
func (s *simulated) path(rest string) string { return "/batches/" + s.id() + rest }

// work begins a batch, takes it on when a stage has lasted long enough, and closes it.
func (s *simulated) work(at time.Duration) {
	s.t.Helper()
	say := func(kind string, more map[string]any) bool {
		body := map[string]any{"kind": kind, "batch": s.id(), "by": "T.V."}
		for key, v := range more {
			body[key] = v
		}
		return s.tell(s.t.Context(), &s.y, body)
	}
	switch stage := s.lasts / 130; {
	case s.batch == 0:
		s.batch++
		say("new", map[string]any{"new": newBatch})
		s.staged = at
	case at-s.staged > stage:
		say("note", map[string]any{"text": "smells of oak"})
		if !s.takeOn(say) {
			say("disposition", map[string]any{"disposition": "discard", "text": "made of numbers"})
			if say("close", map[string]any{"text": "for the soak"}) {
				s.y.batches.Add(1)
			}
			s.batch++
			say("new", map[string]any{"new": newBatch})
		}
		s.staged = at
	}
}

// takeOn begins the next stage of the batch; false when there is none.
func (s *simulated) takeOn(say func(string, map[string]any) bool) bool {
	next := s.nextStage(s.t.Context(), s.id())
	return next != "" && say("stage", map[string]any{"stage": next, "text": "for the soak"})
}
