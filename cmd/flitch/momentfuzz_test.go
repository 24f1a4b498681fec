package main

import (
	"testing"
	"time"
)

// A time that is typed is one of today or before, or a time to come, and never another.
func FuzzMoments(f *testing.F) {
	for _, s := range []string{"", "07:00", "23:59", "24:00", "2031-05-02T12:00:00Z", "2031-05-02T12:00:00+14:00", "9999-12-31T23:59:59Z", "-1:00"} {
		f.Add(s)
	}
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		f.Fatal(err)
	}
	now := time.Date(2031, 3, 30, 0, 30, 0, 0, time.UTC) // in the night of a clock change
	f.Fuzz(func(t *testing.T, text string) {
		if at, err := parseMoment(text, now, zone); err == nil && at.After(now.Add(earlyBy)) {
			t.Errorf("%q happened at %s", text, at)
		}
		if at, err := parseAhead(text, now, zone); err == nil && !at.After(now) {
			t.Errorf("%q is to come at %s", text, at)
		}
	})
}
