package main

import (
	"testing"
	"time"
)

func TestATimeToCome(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ now, text, want string }{
		{"2031-02-04T22:10:00+01:00", "07:00", "2031-02-05T07:00:00+01:00"},
		{"2031-02-05T02:10:30+01:00", "03:40", "2031-02-05T03:40:00+01:00"},
		{"2031-02-05T03:40:00+01:00", "03:40", "2031-02-06T03:40:00+01:00"},
		{"2031-02-05T02:10:00+01:00", "2031-02-05T03:40:00Z", "2031-02-05T04:40:00+01:00"},
		{"2031-03-29T22:10:00+01:00", "07:00", "2031-03-30T07:00:00+02:00"}, // clocks go forward
		{"2031-03-29T22:10:00+01:00", "02:30", "2031-03-31T02:30:00+02:00"}, // that one is jumped over
		{"2031-10-25T22:10:00+02:00", "02:30", "2031-10-26T02:30:00+02:00"}, // comes twice
		{"2031-02-05T02:10:00+01:00", "2031-02-05T00:00:00Z", ""},
		{"2031-02-05T02:10:00+01:00", "25:00", ""},
		{"2031-02-05T02:10:00+01:00", "", ""},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if at, err := parseAhead(c.text, now.UTC(), vienna); err == nil {
			got = at.In(vienna).Format(time.RFC3339)
		}
		if got != c.want {
			t.Errorf("at %s, %q is %q, want %q", c.now, c.text, got, c.want)
		}
	}
}
