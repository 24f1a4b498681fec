package record

import (
	"testing"
	"time"

	"flitch/process"
)

func TestSiteWritesNumbers(t *testing.T) {
	c, f := Site{}, Site{Fahrenheit: true}
	for _, row := range []struct{ got, want string }{
		{c.Temp(54.44), "54.4 °C"}, {f.Temp(54.44), "130.0 °F"},
		{c.Temp(-0.04), "0.0 °C"}, {f.Temp(-40), "-40.0 °F"},
		{c.Rate(3.2), "+3.2 °C/h"}, {f.Rate(-10), "−18.0 °F/h"}, {c.Rate(-0.01), "±0.0 °C/h"},
		{c.Value(process.Humidity, 71.25), "71.2 %"}, {c.Value(process.Door, 1), "1.0"},
		{c.Stamp(time.Time{}), "–"},
	} {
		if row.got != row.want {
			t.Errorf("got %q, want %q", row.got, row.want)
		}
	}
	if got := f.FromDegrees(f.Degrees(61.3)); got < 61.2999 || got > 61.3001 {
		t.Errorf("61.3 °C to °F and back is %v", got)
	}
}

// The hour that comes twice is told apart by the zone.
func TestStampTellsTheTwoNightHoursApart(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	first := time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC)
	s := Site{Zone: zone}
	if a, b := s.Stamp(first), s.Stamp(first.Add(time.Hour)); a != "Sun 25 Oct 2026 02:30 CEST" || b != "Sun 25 Oct 2026 02:30 CET" {
		t.Errorf("got %q and %q", a, b)
	}
}

func TestWordsOfAClock(t *testing.T) {
	for _, row := range []struct {
		clock        process.Clock
		verdict, sum string
	}{
		{process.Clock{Sum: 3.667, Limit: 6, Unit: "h", Running: true}, "running", "3 h 40 min of at most 6 h"},
		{process.Clock{Sum: 5.24, Limit: 5, Unit: "d", AtLeast: true, Verdict: process.Met}, "met", "5.2 d of at least 5.0 d"},
		{process.Clock{Sum: 12.4, Limit: 120, Unit: "min"}, "not started", "12 min of at most 120 min"},
		{process.Clock{Limit: 6, Unit: "h", Verdict: process.NotMeasured, Running: true}, "not measured", "0 h of at most 6 h"},
	} {
		if v, s := Verdict(row.clock), Sum(row.clock); v != row.verdict || s != row.sum {
			t.Errorf("got %q, %q; want %q, %q", v, s, row.verdict, row.sum)
		}
	}
}

func TestSpanNeverOverstates(t *testing.T) {
	for d, want := range map[time.Duration]string{
		-time.Second: "0 s", 119 * time.Second: "119 s", 179 * time.Second: "2 min",
		3*time.Hour + 5*time.Minute + 59*time.Second: "3 h 05 min", 53 * time.Hour: "2 d 5 h",
	} {
		if got := Span(d); got != want {
			t.Errorf("%v: got %q, want %q", d, got, want)
		}
	}
}

func TestCountedFindsWhatIsMissing(t *testing.T) {
	data, err := Counted(func(yield func(Row) error) error { return yieldAll(sampleRows(), yield) }, sampleProbes())
	if err != nil {
		t.Fatal(err)
	}
	slow, chamber := data[0], data[1]
	if slow.LongestGap != 50*time.Minute || !slow.GapFrom.Equal(at("01:00")) {
		t.Errorf("longest gap %v from %v, want 50 min from 01:00", slow.LongestGap, slow.GapFrom)
	}
	if got, want := slow.Percent(), "93.3"; got != want { // 50 of 750 min missing
		t.Errorf("coverage %s, want %s", got, want)
	}
	if slow.Suspect != 1 || slow.Late != 1 || slow.Bad != 0 {
		t.Errorf("suspect %d, late %d, bad %d; want 1, 1, 0", slow.Suspect, slow.Late, slow.Bad)
	}
	if core := data[2]; core.Bad != 1 || core.Count != core.Good+1 {
		t.Errorf("core: %d bad of %d, want 1", core.Bad, core.Count)
	}
	if chamber.Count != 142 {
		t.Errorf("chamber: %d readings, want 142", chamber.Count)
	}
}

func TestProbeThatNeverSpokeCoversNothing(t *testing.T) {
	data, err := Counted(nil, sampleProbes())
	if err != nil {
		t.Fatal(err)
	}
	if data[0].Percent() != "0.0" || data[0].LongestGap != 12*time.Hour+30*time.Minute {
		t.Errorf("got %s %%, longest gap %v", data[0].Percent(), data[0].LongestGap)
	}
}

// Days past a check are days; a probe that failed one is not ten thousand days late.
func TestDaysPastACheck(t *testing.T) {
	if got := (Site{}).Quantity(process.CheckFailed, "d"); got != "failed" {
		t.Errorf("a failed check is shown as %q", got)
	}
	if got := (Site{}).Quantity(2, "d"); got != "2.0 d" {
		t.Errorf("two days are shown as %q", got)
	}
}
