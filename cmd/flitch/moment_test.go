package main

import (
	"strings"
	"testing"
	"time"
)

func TestParseMoment(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	summer := time.Date(2031, 5, 2, 21, 14, 0, 0, time.UTC)   // 22:14 there
	autumn := time.Date(2031, 10, 26, 12, 0, 0, 0, time.UTC)  // the clocks went back at 02:00
	spring := time.Date(2031, 3, 30, 12, 0, 0, 0, time.UTC)   // the clocks went forward at 01:00
	midnight := time.Date(2031, 5, 1, 23, 10, 0, 0, time.UTC) // 00:10 on the 2nd there
	for _, c := range []struct {
		text string
		now  time.Time
		want string // RFC 3339 in UTC, or the start of the hint
	}{
		{"21:40", summer, "2031-05-02T20:40:00Z"},
		{"22:15", summer, "2031-05-02T21:15:00Z"}, // a minute early is rounding
		{"2031-05-01T23:50:00+01:00", summer, "2031-05-01T22:50:00Z"},
		{"00:00", midnight, "2031-05-01T23:00:00Z"},
		{"23:50", midnight, "--at 2031-05-01T23:50:00+01:00 if you mean the day before"},
		{"2031-05-03T00:00:00Z", summer, "--at 2031-05-02T01:00:00+01:00 if"},
		{"01:30", autumn, "--at 2031-10-26T01:30:00+01:00 or --at 2031-10-26T01:30:00Z"},
		{"02:30", autumn, "2031-10-26T02:30:00Z"},
		{"01:30", spring, "--at 2031-03-30T02:30:00+01:00"},
		{"9pm", summer, "--at 21:40 (today)"},
		{"25:00", summer, "--at 21:40 (today)"},
	} {
		at, err := parseMoment(c.text, c.now, lisbon)
		got := at.UTC().Format(time.RFC3339)
		if err != nil {
			got = err.(*complaint).Try
		}
		if !strings.HasPrefix(got, c.want) {
			t.Errorf("--at %s at %s: %s (%v), want %s", c.text, c.now, got, err, c.want)
		}
	}
	if at, err := parseMoment("", summer, lisbon); err != nil || !at.IsZero() {
		t.Errorf("nothing typed is %v, %v", at, err)
	}
}
