package app

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/process"
)

func newDesk(t *testing.T) (d *sensorDesk, clock *Stepped, told func() string) {
	t.Helper()
	clock = NewStepped(dawn)
	a := &App{clock: clock, cfg: &config.Config{Probes: []config.Probe{
		{Name: "slow", Interval: time.Minute, Payload: config.Payload{Protocol: config.Homie}},
		{Name: "sleepy", Interval: 5 * time.Minute, Payload: config.Payload{Protocol: config.Homie}}}}}
	d = a.buildSensors()
	var words []string
	d.say = func(_ context.Context, w process.SensorWord, at time.Time) error {
		words = append(words, fmt.Sprintf("%s gone=%t asks=%q at %s", w.Probe, w.Gone, w.Asks, at.Sub(dawn)))
		return nil
	}
	d.places = func() []*process.Place {
		return []*process.Place{{Probes: []process.PlaceProbe{{Probe: process.PlacedProbe{Probe: "slow"}, Asks: "an old thing"}, {Probe: process.PlacedProbe{Probe: "sleepy"}}}}}
	}
	return d, clock, func() string {
		d.tell(t.Context())
		out := strings.Join(words, "; ")
		words = nil
		return out
	}
}

// A goodbye counts when nothing followed it for one interval and a minute: a new
// connection ends the one before with its will, and a sensor that sleeps says it each
// time.
func TestAGoodbyeCountsWhenItLasts(t *testing.T) {
	d, clock, told := newDesk(t)
	word := func(probe string, gone bool) {
		d.hear(ingest.Said{SensorWord: process.SensorWord{Probe: probe, Gone: gone}, Back: !gone, At: clock.Now()})
	}
	word("slow", true)
	word("sleepy", true)
	clock.Step(dawn.Add(time.Second))
	word("slow", false)
	clock.Step(dawn.Add(4 * time.Minute))
	if got := told(); got != "" {
		t.Error(got)
	}
	word("slow", true)
	word("sleepy", false)
	word("sleepy", true)
	clock.Step(dawn.Add(5 * time.Minute))
	word("slow", true) // said once more
	clock.Step(dawn.Add(6 * time.Minute))
	if got := told(); got != `slow gone=true asks="" at 4m0s` {
		t.Error(got)
	}
	clock.Step(dawn.Add(10 * time.Minute))
	if got := told(); got != `sleepy gone=true asks="" at 4m0s` {
		t.Error(got)
	}
	if got := told(); got != "" {
		t.Error("told twice:", got)
	}
}

func TestWhatADeviceAsksFor(t *testing.T) {
	d, _, told := newDesk(t)
	asks := func(id, text string) {
		d.hear(ingest.Said{SensorWord: process.SensorWord{Probe: "slow", Words: id, Asks: text}})
	}
	asks("state", "")
	if got := told(); got != "" {
		t.Error(got)
	}
	asks("battery", "low")
	asks("battery", "low")
	asks("aerial", "loose")
	if got := told(); got != `slow gone=false asks="loose; low" at 0s` {
		t.Error(got)
	}
	asks("aerial", "loose")
	asks("battery", "")
	if got := told(); got != `slow gone=false asks="loose" at 0s` {
		t.Error(got)
	}
	for i := range 3 * asksKept {
		asks(fmt.Sprint(i), "x")
	}
	if n := len(d.asks["slow"]); n != asksKept {
		t.Errorf("%d things are kept", n)
	}
}

// What was asked for before a start and is not heard of again is over.
func TestWhatIsNoLongerAskedFor(t *testing.T) {
	d, _, told := newDesk(t)
	d.forgotten()
	if got := told(); got != `slow gone=false asks="" at 0s` {
		t.Error(got)
	}
}

// From a last will to the phone, through our own broker.
func TestALastWillReachesThePhone(t *testing.T) {
	s := newShop(t)
	s.cfg.Probes[0].Payload = config.Payload{Protocol: config.Homie, Topic: "homie/5/fridge/bottle/temperature", Scale: 1}
	s.open()
	s.say("homie/5/fridge/$description", `{"nodes":{"bottle":{"properties":{"temperature":{"unit":"°F"}}}}}`)
	s.say("homie/5/fridge/$state", "ready")
	s.begin("belly-dry-cured")
	s.every(time.Minute, minute, 20*minute, func(time.Duration) { s.say("homie/5/fridge/bottle/temperature", "38.3") })
	if told := s.phone.heard(); len(told) != 0 {
		t.Errorf("while all is well told %v", told)
	}
	s.say("homie/5/fridge/$state", "lost")
	var told []string
	after := 20 * minute
	if !s.until(func() bool {
		after += 10 * time.Second
		s.clock.Step(dawn.Add(after))
		s.settle()
		told = append(told, s.phone.heard()...)
		return len(told) > 0 || after > 28*minute
	}) || len(told) != 1 || told[0] != "B2g raised tell" {
		t.Errorf("%s after the last reading told %v", after-20*minute, told)
	}
	if b := s.batch(); !b.Tracks[0].Absent.Lasts() || b.Tracks[0].Samples != 20 {
		t.Errorf("%+v", b.Tracks[0])
	}
}
