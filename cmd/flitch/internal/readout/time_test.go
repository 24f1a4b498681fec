package readout

import (
	"strings"
	"testing"
	"time"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func TestTimesAsLoggersWriteThem(t *testing.T) {
	lisbon := zone(t, "Europe/Lisbon")
	for _, c := range []struct {
		format string
		zone   *time.Location
		text   string
		want   string
	}{
		{RFC3339, nil, "2031-04-07T12:00:00+02:00", "2031-04-07T10:00:00Z"},
		{RFC3339, nil, "2031-04-07T12:00:00.1239Z", "2031-04-07T12:00:00.123Z"},
		{Unix, nil, "1933329600", "2031-04-07T12:00:00Z"},
		{UnixMS, nil, "1933329600005", "2031-04-07T12:00:00.005Z"},
		{"DD.MM.YYYY hh:mm:ss", lisbon, "07.04.2031 13:00:00", "2031-04-07T12:00:00Z"},
		{"DD.MM.YYYY hh:mm:ss", time.UTC, "7.4.2031 3:04:05", "2031-04-07T03:04:05Z"},
		{"YYYY-MM-DD hh:mm:ss", time.UTC, "2031-04-07 12:00:00.250", "2031-04-07T12:00:00.25Z"},
		{"MM/DD/YY hh:mm:ss AM", time.UTC, "04/07/31 12:00:00 AM", "2031-04-07T00:00:00Z"},
		{"MM/DD/YY hh:mm AM", time.UTC, "4/7/31 1:05 PM", "2031-04-07T13:05:00Z"},
		{"DD-MMM-YYYY hh:mm", time.UTC, "07-Apr-2031 12:00", "2031-04-07T12:00:00Z"},
	} {
		clock, err := NewClock(c.format, c.zone)
		if err != nil {
			t.Errorf("%s: %v", c.format, err)
			continue
		}
		got, err := clock.Read(c.text)
		if err != nil || got.Format(time.RFC3339Nano) != c.want {
			t.Errorf("%s as %s: %s, %v; want %s", c.text, c.format, got.Format(time.RFC3339Nano), err, c.want)
		}
	}
}

func TestTimesThatAreRefused(t *testing.T) {
	lisbon := zone(t, "Europe/Lisbon")
	for _, c := range []struct {
		format string
		zone   *time.Location
		text   string
		say    string
	}{
		{RFC3339, nil, "2031-04-07 12:00", "is not written as rfc3339"},
		{RFC3339, nil, "1969-04-07T12:00:00Z", "was not set"},
		{Unix, nil, "1933329600005", "not a number of seconds"},
		{Unix, nil, "-5", "not a number of seconds"},
		{Unix, nil, "1.9e9", "not a number of seconds"},
		{UnixMS, nil, "", "not a number of milliseconds"},
		{"DD.MM.YYYY hh:mm", time.UTC, "13.13.2031 10:00", "is not written as"},
		{"DD.MM.YYYY hh:mm", time.UTC, "29.02.2031 10:00", "is not written as"},
		{"MM/DD/YYYY hh:mm", time.UTC, "25/11/2031 10:00", "is not written as"},
		{"DD.MM.YYYY hh:mm", lisbon, "30.03.2031 01:30", "went forward"},
		{"DD.MM.YYYY hh:mm", time.UTC, "01.01.0001 00:00", "was not set"},
	} {
		clock, err := NewClock(c.format, c.zone)
		if err == nil {
			_, err = clock.Read(c.text)
		}
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s as %s: %v, want %q", c.text, c.format, err, c.say)
		}
	}
	for format, z := range map[string]*time.Location{"DD.MM.YYYY hh:mm": nil, RFC3339: time.UTC, Unix: time.UTC, "DD.MM hh:mm": time.UTC, "": time.UTC, "ISO": time.UTC} {
		if _, err := NewClock(format, z); err == nil {
			t.Errorf("%q in %v was taken", format, z)
		}
	}
}

// A logger that goes through the autumn night on the wall clock: each row is five minutes
// after the one before, though an hour of them reads the same twice.
func TestTheHourThatComesTwice(t *testing.T) {
	lisbon := zone(t, "Europe/Lisbon")
	clock, err := NewClock("YYYY-MM-DD hh:mm:ss", lisbon)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2031, 10, 25, 23, 0, 0, 0, time.UTC) // the clocks go back at 01:00 UTC
	for range 60 {
		got, err := clock.Read(at.In(lisbon).Format("2006-01-02 15:04:05"))
		if err != nil || !got.Equal(at) {
			t.Errorf("%s read as %s, %v", at, got, err)
		}
		at = at.Add(5 * time.Minute)
	}
	if clock.Twice() != 24 {
		t.Errorf("%d times in the hour that came twice, want 24", clock.Twice())
	}
}
