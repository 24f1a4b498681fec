package app

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/process"
	"flitch/store"
)

// A battery that flaps about its limit is told by the middle of its day.
func TestTheMiddleOfADayIsTold(t *testing.T) {
	var said []process.Vital
	clock := NewStepped(dawn)
	a := &App{clock: clock, db: newDB(t), log: slog.New(slog.DiscardHandler), cfg: &config.Config{Site: config.Site{Zone: time.UTC}, Probes: []config.Probe{
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

func newDB(t *testing.T) *store.DB {
	t.Helper()
	path := filepath.Join(t.TempDir(), "flitch.db")
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// A restart in the middle of a day keeps what the day has told: the middle is that of
// the whole day, and one whose hour passed while flitch was off is told at the start.
func TestARestartKeepsTheBatteriesOfTheDay(t *testing.T) {
	db, clock := newDB(t), NewStepped(dawn)
	var said []process.Vital
	desk := func() *vitalDesk {
		a := &App{clock: clock, db: db, log: slog.New(slog.DiscardHandler), cfg: &config.Config{Site: config.Site{Zone: time.UTC}, Probes: []config.Probe{
			{Name: "slow", Battery: config.Vital{Pointer: "/b", Unit: "%", Low: 20}}}}}
		d := a.buildVitals()
		d.say = func(_ context.Context, v process.Vital) error {
			said = append(said, v)
			return nil
		}
		return d
	}
	hear := func(d *vitalDesk, after time.Duration, battery float64) {
		clock.Step(dawn.Add(after))
		d.hear(ingest.Vital{Probe: "slow", Kind: process.VitalBattery, Value: battery})
	}
	d := desk()
	for i, battery := range []float64{18, 17, 19} { // 06:00 to 08:00
		hear(d, time.Duration(i)*time.Hour, battery)
	}
	d = desk() // a restart at half past eight
	clock.Step(dawn.Add(150 * time.Minute))
	if d.recall() {
		t.Error("its hour is to come")
	}
	hear(d, 151*time.Minute, 90) // within the hour of the last: not taken
	clock.Step(dawn.Add(3 * time.Hour))
	d.tell(context.Background())
	if len(said) != 1 || said[0].Value != 18 {
		t.Fatalf("at nine said %+v, want 18", said)
	}
	hear(d, 5*time.Hour, 16)
	d = desk()
	clock.Step(dawn.Add(30 * time.Hour)) // off until noon of the next day
	if !d.recall() {
		t.Error("nine o'clock of the second day passed")
	}
	d.tell(context.Background())
	if len(said) != 2 || said[1].Value != 16 {
		t.Errorf("said %+v", said)
	}
	if d = desk(); d.recall() || len(d.heard) != 0 {
		t.Errorf("after all was said %v is left", d.heard)
	}
}
