package app

import (
	"slices"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
)

// One ring a week at its hour on the wall, also in the weeks in which the clocks
// change and when the hour itself is skipped or comes twice.
func TestTheTestRingComesOnceAWeek(t *testing.T) {
	for _, name := range []string{"Europe/Lisbon", "America/New_York", "Australia/Lord_Howe", "UTC"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []config.TestRing{{On: true, Day: time.Sunday, Hour: 11}, {On: true, Day: time.Sunday, Hour: 1, Minute: 30}, {On: true, Day: time.Sunday, Hour: 2, Minute: 15}} {
			at := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)
			for week := range 52 {
				next := testAfter(c, zone, at)
				local := next.In(zone)
				if local.Weekday() != time.Sunday || c.Hour == 11 && local.Format("15:04") != "11:00" {
					t.Errorf("%s: rings at %v", name, local)
				}
				if gap := next.Sub(at); week > 0 && (gap < 167*time.Hour || gap > 169*time.Hour) {
					t.Errorf("%s: %v after the last, at %v", name, gap, local)
				}
				if before := testBefore(c, zone, next); !before.Equal(next) {
					t.Errorf("%s: at %v the latest is %v", name, next, before)
				}
				if before := testBefore(c, zone, next.Add(-time.Second)); week > 0 && !before.Equal(at) {
					t.Errorf("%s: just before %v the latest is %v", name, next, before)
				}
				at = next
			}
		}
	}
}

// dawn is a Monday, 06:00 UTC.
func TestTheTestRingGoesTheWholeWayOnce(t *testing.T) {
	s := newShop(t)
	s.cfg.TestRing = config.TestRing{On: true, Day: time.Monday, Hour: 11}
	s.open()
	rung := func() int {
		n := 0
		for _, h := range s.phone.heard() {
			if h == " test ring" {
				n++
			}
		}
		return n
	}
	s.every(10*minute, 0, 290*minute, func(time.Duration) {})
	if n := rung(); n != 0 {
		t.Errorf("%d rings before its hour", n)
	}
	heard := 0
	if !s.until(func() bool { s.clock.Step(dawn.Add(5 * time.Hour)); s.settle(); heard += rung(); return heard > 0 }) {
		t.Fatal("no ring at its hour")
	}
	s.close()
	s.clock.Step(dawn.Add(6 * time.Hour))
	s.open()
	s.every(10*minute, 361*minute, 480*minute, func(time.Duration) {})
	if heard += rung(); heard != 1 {
		t.Errorf("%d rings with a restart in between, want 1", heard)
	}
	s.close()
	s.clock.Step(dawn.Add(7*24*time.Hour + 14*time.Hour))
	s.open()
	s.every(10*minute, 7*24*time.Hour+14*time.Hour, 7*24*time.Hour+15*time.Hour, func(time.Duration) {})
	if n := rung(); n != 0 {
		t.Error("rings nine hours late, no longer at a civil hour")
	}
}

// A way that the test does not get through is told on the other one.
func TestAWayThatFailsItsTestIsAnAlarm(t *testing.T) {
	s := newShop(t)
	other := newTestPhone()
	t.Cleanup(other.server.Close)
	s.cfg.Channels = append(s.cfg.Channels, config.Channel{Name: "other", Kind: "http", Level: "ring", Deadline: 5 * time.Second,
		Text: map[string]string{"url": other.server.URL}, Secrets: map[string]config.Secret{}})
	s.cfg.TestRing = config.TestRing{On: true, Day: time.Monday, Hour: 6}
	s.phone.answer(500)
	s.open()
	var heard []string
	if !s.until(func() bool {
		s.clock.Step(s.clock.Now().Add(minute))
		s.settle()
		heard = append(heard, other.heard()...)
		return slices.Contains(heard, "B7 raised ring")
	}) {
		t.Errorf("the other phone heard %q", heard)
	}
	if !slices.Contains(heard, " test ring") {
		t.Errorf("the other way was not tried out: %q", heard)
	}
}
