package app

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/process"
)

// flitch is off at nine, on an ordinary day and on both days of a change of the clocks: the
// batteries of the day before are told at the start, whichever minute after nine that is, and not
// before nine.
func TestNineThatPassedWhileOffIsFoundOnTheDaysOfAChange(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, day := range []time.Time{time.Date(2031, 5, 11, 0, 0, 0, 0, zone), time.Date(2031, 3, 30, 0, 0, 0, 0, zone), time.Date(2031, 10, 26, 0, 0, 0, 0, zone)} {
		for minutes := 8*60 + 30; minutes <= 10*60+30; minutes += 30 {
			at := time.Date(day.Year(), day.Month(), day.Day(), 0, minutes, 0, 0, zone)
			clock := NewStepped(at.Add(-20 * hour)) // after nine of the day before
			a := &App{clock: clock, db: newDB(t), log: slog.New(slog.DiscardHandler), cfg: &config.Config{Site: config.Site{Zone: zone}, Probes: []config.Probe{
				{Name: "slow", Battery: config.Vital{Pointer: "/b", Unit: "%", Low: 20}}}}}
			d := a.buildVitals()
			d.say = func(context.Context, process.Vital) error { return nil }
			d.hear(ingest.Vital{Probe: "slow", Kind: process.VitalBattery, Value: 18})
			clock.Step(at)
			if got, want := a.buildVitals().recall(), minutes >= 9*60; got != want {
				t.Errorf("a start at %v: nine has passed: %v", at, got)
			}
		}
	}
}
