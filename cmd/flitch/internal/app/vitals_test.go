package app

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/process"
)

// A battery that flaps about its limit is told by the middle of its day.
func TestTheMiddleOfADayIsTold(t *testing.T) {
	var said []process.Vital
	clock := NewStepped(dawn)
	a := &App{clock: clock, cfg: &config.Config{Site: config.Site{Zone: time.UTC}, Probes: []config.Probe{
		{Name: "slow", Battery: config.Vital{Pointer: "/b", Unit: "%", Low: 20}, Signal: config.Vital{Pointer: "/s", Unit: "dBm", Low: -85}}}}}
	d := a.buildVitals()
	d.say = func(_ context.Context, v process.Vital) error {
		said = append(said, v)
		return nil
	}
	for hour, battery := range []float64{22, 19, 22, 18, 23, 255, -1} { // the last two are no percent; then 1 is heard
		clock.Step(dawn.Add(time.Duration(hour) * time.Hour))
		for range 5 { // the first of an hour counts
			d.hear(ingest.Vital{Probe: "slow", Kind: process.VitalBattery, Value: battery})
			battery = 1
		}
		d.hear(ingest.Vital{Probe: "slow", Kind: process.VitalSignal, Value: 0}) // no value of dBm
	}
	d.tell(context.Background())
	want := []process.Vital{{Probe: "slow", Kind: process.VitalBattery, Value: 19, Low: 20, Unit: "%"}}
	if !slices.Equal(said, want) {
		t.Errorf("said %+v, want %+v", said, want)
	}
	if d.tell(context.Background()); len(said) != 1 {
		t.Errorf("said again with nothing heard: %+v", said)
	}
}

func TestTheHourIsOnTheWall(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	d := &vitalDesk{zone: zone}
	for at := time.Date(2031, 3, 25, 0, 0, 0, 0, time.UTC); at.Month() < time.May; at = at.Add(5 * time.Hour) {
		next := d.hourAfter(at)
		if local := next.In(zone); local.Hour() != 9 || !next.After(at) || next.Sub(at) > 25*time.Hour {
			t.Errorf("after %s: %s", at, local)
		}
	}
}

// From the payload to the phone: told at nine, not at night.
func TestALowBatteryReachesThePhoneAtNine(t *testing.T) {
	s := newShop(t)
	s.cfg.Probes[0].Battery = config.Vital{Pointer: "/power/battery", Unit: "%", Low: 20}
	s.open()
	say := func(after time.Duration) {
		s.say("shop/slow", fmt.Sprintf(`{"t":%q,"v":3.5,"power":{"battery":12}}`, dawn.Add(after).Format(time.RFC3339Nano)))
	}
	s.every(30*minute, 0, 150*minute, say)
	if told := s.phone.heard(); len(told) != 0 {
		t.Errorf("before nine told %v", told)
	}
	var told []string
	if !s.until(func() bool {
		s.clock.Step(dawn.Add(3 * time.Hour))
		s.settle()
		told = append(told, s.phone.heard()...)
		return len(told) > 0
	}) {
		t.Fatal("nothing told at nine")
	}
	if len(told) != 1 || told[0] != "B4 raised tell" {
		t.Errorf("told %v", told)
	}
}
