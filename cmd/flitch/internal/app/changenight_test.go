package app

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"flitch/process"
)

// Both nights in which the clocks are changed, with sensors that tell the time on the wall:
// every reading counts once and at its time, a warm fridge rings after as many minutes as
// ever, and the hour that is missing or comes twice tells nobody anything.
func TestTheNightsOfTheClockChange(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	nights := 0
	for name, evening := range map[string]time.Time{
		"an ordinary night": time.Date(2031, 3, 20, 22, 0, 0, 0, zone),
		"spring":            time.Date(2031, 3, 29, 22, 0, 0, 0, zone),
		"autumn":            time.Date(2031, 10, 25, 22, 0, 0, 0, zone),
	} {
		t.Run(name, func(t *testing.T) {
			nights++
			s := newShop(t)
			s.cfg.Site.Zone = zone
			for i := range s.cfg.Probes {
				if p := &s.cfg.Probes[i].Payload; p.TimeFormat != "" {
					p.TimeFormat, p.Zone = "local", zone
				}
			}
			s.clock = NewStepped(evening)
			s.open()
			s.begin(raw)
			const minutes = 7 * 60
			warm, rang := 5*60, -1
			for i := 1; i <= minutes; i++ {
				now := evening.Add(time.Duration(i) * minute)
				s.clock.Step(now)
				value := 3.0
				if i > warm {
					value = 9
				}
				s.say("shop/slow", fmt.Sprintf(`{"t":%q,"v":%.1f}`, now.In(zone).Format("2006-01-02 15:04:05"), value))
				s.say("shop/spare", "3.1")
				s.settle()
				heard := s.phone.heard()
				if slices.Contains(heard, "C2 raised ring") && rang < 0 {
					rang = i - warm
				}
				if i <= warm && len(heard) > 0 {
					t.Errorf("at %v the phone heard %q", now, heard)
				}
			}
			if rang < 0 || rang > 61 {
				t.Errorf("the warm fridge rang after %d min", rang)
			}
			count, suspect, last := 0, 0, time.Time{}
			if err := s.app.db.EachReading([]string{"slow"}, evening, evening.Add(24*time.Hour), func(_ int64, r process.Reading) error {
				if !last.IsZero() && r.Measured.Sub(last) != minute {
					t.Errorf("%v between %v and %v", r.Measured.Sub(last), last, r.Measured)
				}
				last = r.Measured
				count++
				if r.Quality != process.Good {
					suspect++
				}
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			if count != minutes || suspect != 0 {
				t.Errorf("%d readings, %d of them suspect, of %d", count, suspect, minutes)
			}
			for _, c := range s.batch().Clocks(s.clock.Now()) {
				if c.Name == process.ClockCold && (c.Sum < 115 || c.Sum > 121) {
					t.Errorf("the fridge was warm for two hours, the clock says %v min", c.Sum)
				}
			}
		})
	}
	t.Logf("%d nights, two of them with a change", nights)
}
