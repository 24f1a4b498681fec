package alerts

import (
	"testing"
	"time"
)

func TestQuietHoursEnd(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	hm := func(h, m int) time.Duration { return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute }
	night := Quiet{hm(22, 0), hm(6, 30)}
	for _, c := range []struct {
		name    string
		quiet   Quiet
		at, end string // RFC 3339; no end: not quiet
	}{
		{"the minute before", night, "2031-02-04T21:59:00+01:00", ""},
		{"the first minute", night, "2031-02-04T22:00:00+01:00", "2031-02-05T06:30:00+01:00"},
		{"midnight", night, "2031-02-05T00:00:00+01:00", "2031-02-05T06:30:00+01:00"},
		{"the last second", night, "2031-02-05T06:29:59+01:00", "2031-02-05T06:30:00+01:00"},
		{"the end", night, "2031-02-05T06:30:00+01:00", ""},
		{"over a new year", night, "2031-12-31T23:10:00+01:00", "2032-01-01T06:30:00+01:00"},
		{"by day", Quiet{hm(13, 0), hm(14, 0)}, "2031-02-05T13:30:00+01:00", "2031-02-05T14:00:00+01:00"},
		{"until midnight", Quiet{hm(22, 0), 0}, "2031-02-05T23:59:00+01:00", "2031-02-06T00:00:00+01:00"},
		{"from midnight", Quiet{0, hm(6, 0)}, "2031-02-05T00:00:00+01:00", "2031-02-05T06:00:00+01:00"},
		{"never", Quiet{}, "2031-02-05T00:00:00+01:00", ""},
		// The clocks go forward from 02:00 to 03:00 on 30 March 2031.
		{"the short night", night, "2031-03-29T23:00:00+01:00", "2031-03-30T06:30:00+02:00"},
		{"an end that is jumped over", Quiet{hm(22, 0), hm(2, 30)}, "2031-03-30T01:59:00+01:00", "2031-03-30T03:00:00+02:00"},
		{"after it", Quiet{hm(22, 0), hm(2, 30)}, "2031-03-30T03:00:00+02:00", ""},
		{"a beginning that is jumped over", Quiet{hm(2, 30), hm(6, 0)}, "2031-03-30T03:00:00+02:00", "2031-03-30T06:00:00+02:00"},
		// They go back from 03:00 to 02:00 on 26 October 2031.
		{"the long night", night, "2031-10-25T23:00:00+02:00", "2031-10-26T06:30:00+01:00"},
		{"an end that comes twice", Quiet{hm(22, 0), hm(2, 30)}, "2031-10-26T02:45:00+02:00", "2031-10-26T02:30:00+01:00"},
		{"is the second", Quiet{hm(22, 0), hm(2, 30)}, "2031-10-26T02:30:00+01:00", ""},
		{"a beginning that comes twice", Quiet{hm(2, 30), hm(6, 0)}, "2031-10-26T02:30:00+02:00", "2031-10-26T06:00:00+01:00"},
		{"stays", Quiet{hm(2, 30), hm(6, 0)}, "2031-10-26T02:10:00+01:00", "2031-10-26T06:00:00+01:00"},
	} {
		t.Run(c.name, func(t *testing.T) {
			at, err := time.Parse(time.RFC3339, c.at)
			if err != nil {
				t.Fatal(err)
			}
			end, quiet := c.quiet.End(at.UTC(), vienna)
			got := ""
			if quiet {
				got = end.In(vienna).Format(time.RFC3339)
			}
			if got != c.end {
				t.Errorf("%s ends at %q, want %q", c.at, got, c.end)
			}
		})
	}
}

// Every seventh minute of two years, the nights of a change too: quiet exactly when
// the wall clock says so, and the end is never quiet itself.
func TestQuietAgreesWithTheWallClock(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	q := Quiet{22 * time.Hour, 6*time.Hour + 30*time.Minute}
	quietMinutes := 0
	for at := time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2033; at = at.Add(7 * time.Minute) {
		local := at.In(vienna)
		clock := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
		want := clock >= q.From || clock < q.To
		end, got := q.End(at, vienna)
		if got != want {
			t.Fatalf("%s: quiet %v, want %v", local, got, want)
		}
		if !got {
			continue
		}
		quietMinutes++
		if _, still := q.End(end, vienna); still || end.Sub(at) > 10*time.Hour || !end.After(at) {
			t.Fatalf("%s: ends at %s", local, end.In(vienna))
		}
	}
	if quietMinutes == 0 {
		t.Fatal("never quiet")
	}
}
