package alerts

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// byTheClock follows an entry minute by minute while its value runs from one number at the
// rate of a clock, and lists what it says by the clock on the wall.
func byTheClock(t *testing.T, id string, zone *time.Location, from time.Time, value, perHour float64, span time.Duration) (said []string) {
	t.Helper()
	e := catalogued(t, id)
	e.Zone = zone
	var a Alarm
	number := int64(0)
	next := func() int64 { number++; return number }
	for at := from; at.Sub(from) <= span; at = at.Add(time.Minute) {
		s := Signal{Subject: "batch OL-1", Measure: e.Measure, At: at, Value: value + perHour*at.Sub(from).Hours()}
		for _, ev := range append(Step(e, &a, s, next), Tick(e, &a, at)...) {
			said = append(said, at.In(zone).Format("2 Jan 15:04 ")+string(ev.Kind))
		}
	}
	return said
}

// The cure and the keeping of a batch are told at nine by the clock on the wall, on the
// day before, on the day and three days later, whatever minute the limit is passed at,
// and also over the two nights in which the clocks are set.
func TestStepsOfTheDayAreToldAtNine(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		id       string
		from     time.Time
		ready    time.Time
		want     string
		unit     float64 // hours in the unit of the measure
		heardFor time.Duration
	}{
		"K3, ready in the night": {id: "K3", from: time.Date(2031, 2, 3, 11, 17, 0, 0, zone), ready: time.Date(2031, 2, 7, 3, 17, 0, 0, zone),
			want: "6 Feb 09:00 raised, 7 Feb 09:00 worsened, 10 Feb 09:00 worsened", unit: 1, heardFor: 9 * 24 * time.Hour},
		"K3, ready in the evening": {id: "K3", from: time.Date(2031, 2, 3, 11, 17, 0, 0, zone), ready: time.Date(2031, 2, 7, 21, 40, 0, 0, zone),
			want: "6 Feb 09:00 raised, 7 Feb 09:00 worsened, 10 Feb 09:00 worsened", unit: 1, heardFor: 9 * 24 * time.Hour},
		"K3, clocks go forward": {id: "K3", from: time.Date(2031, 3, 27, 11, 17, 0, 0, zone), ready: time.Date(2031, 3, 30, 12, 0, 0, 0, zone),
			want: "29 Mar 09:00 raised, 30 Mar 09:00 worsened, 2 Apr 09:00 worsened", unit: 1, heardFor: 7 * 24 * time.Hour},
		"K3, clocks go back": {id: "K3", from: time.Date(2031, 10, 23, 11, 17, 0, 0, zone), ready: time.Date(2031, 10, 26, 12, 0, 0, 0, zone),
			want: "25 Oct 09:00 raised, 26 Oct 09:00 worsened, 29 Oct 09:00 worsened", unit: 1, heardFor: 7 * 24 * time.Hour},
		"L5": {id: "L5", from: time.Date(2031, 3, 25, 16, 40, 0, 0, zone), ready: time.Date(2031, 4, 1, 16, 40, 0, 0, zone),
			want: "29 Mar 09:00 raised, 2 Apr 09:00 worsened", unit: 24, heardFor: 9 * 24 * time.Hour},
		"K3, begun at nine with a day to go": {id: "K3", from: time.Date(2031, 2, 3, 9, 0, 0, 0, zone), ready: time.Date(2031, 2, 4, 9, 0, 0, 0, zone),
			want: "3 Feb 09:00 raised, 4 Feb 09:00 worsened, 7 Feb 09:00 worsened", unit: 1, heardFor: 5 * 24 * time.Hour},
	} {
		t.Run(name, func(t *testing.T) {
			got := strings.Join(byTheClock(t, c.id, zone, c.from, c.ready.Sub(c.from).Hours()/c.unit, -1/c.unit, c.heardFor), ", ")
			if got != c.want {
				t.Errorf("told %s\nwant %s", got, c.want)
			}
		})
	}
}

// The hour that was slept through is caught up with once, by the first sample after it.
func TestNineIsCaughtUpWithAfterADowntime(t *testing.T) {
	e := catalogued(t, "K3")
	var a Alarm
	at := time.Date(2031, 2, 3, 20, 0, 0, 0, time.UTC)
	take := func(at time.Time, left float64) []Event {
		return Step(e, &a, Signal{Subject: "batch OL-1", Measure: e.Measure, At: at, Value: left}, func() int64 { return 1 })
	}
	if got := take(at, 30); len(got) > 0 {
		t.Errorf("in the evening %+v", got)
	}
	if got := take(at.Add(15*time.Hour), 15.5); len(got) != 1 || got[0].Kind != Raised {
		t.Errorf("at eleven after a stop %+v, want it raised", got)
	}
	if got := take(at.Add(16*time.Hour), 14.5); len(got) > 0 {
		t.Errorf("at twelve %+v: it has looked today", got)
	}
}

// A message says when the question really comes next.
func TestAMessageSaysWhenItAsksAgain(t *testing.T) {
	e := catalogued(t, "K1")
	var a Alarm
	at := time.Date(2031, 2, 3, 18, 0, 0, 0, time.UTC)
	var says []string
	for minute := range 50 * 60 {
		now := at.Add(time.Duration(minute) * time.Minute)
		for _, ev := range Step(e, &a, Signal{Subject: "batch OL-1", Measure: e.Measure, At: now, Value: 23 + now.Sub(at).Hours()}, func() int64 { return 1 }) {
			says = append(says, Policy{}.again(e, ev))
		}
	}
	want := "Asks again at 21:00 UTC unless somebody answers.|Asks again at Tue 4 Feb 21:00 UTC unless somebody answers.|" + // raised, and 2 h later
		"Asks again at 09:00 UTC unless somebody answers.|Asks again at Wed 5 Feb 09:00 UTC unless somebody answers.|Asks again at Thu 6 Feb 09:00 UTC unless somebody answers."
	if got := strings.Join(says, "|"); got != want {
		t.Errorf("says %s", got)
	}
}

// A house that turns at six in the evening is asked then on each day without a turn, two
// hours later, and after a day and a half at once; over both changes of the clocks.
func TestTurnsAreAskedForAtTheHourOfTheHouse(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	entries := TurnsAt(Catalogue(Electric), 18*time.Hour)
	if err := CheckCatalogue(entries); err != nil {
		t.Fatal(err)
	}
	if again := TurnsAt(Catalogue(Electric), 0); again[slices.IndexFunc(again, func(e Entry) bool { return e.ID == "K1" })].Hour != 0 {
		t.Error("without an hour there is one")
	}
	for name, c := range map[string]struct {
		turned []string // local; the first begins the cure
		until  string
		want   string
	}{
		"each evening, one late, one left out": {[]string{"2031-02-03 18:10", "2031-02-04 19:30", "2031-02-05 17:00"}, "2031-02-08 09:00",
			"4 Feb 18:00 raised, 4 Feb 19:30 cleared, 6 Feb 18:00 raised, 6 Feb 20:00 repeated, 7 Feb 05:00 worsened, 7 Feb 07:00 repeated, 7 Feb 18:00 repeated"},
		"turned in the morning":            {[]string{"2031-02-03 08:00", "2031-02-04 07:00", "2031-02-05 09:00"}, "2031-02-06 12:00", ""},
		"turned late in the evening":       {[]string{"2031-02-03 23:50", "2031-02-04 18:30"}, "2031-02-05 12:00", "4 Feb 18:00 raised, 4 Feb 18:30 cleared"},
		"the night the clocks go forward":  {[]string{"2031-03-29 18:30", "2031-03-30 18:40"}, "2031-03-31 12:00", "30 Mar 18:00 raised, 30 Mar 18:40 cleared"},
		"the night the clocks go back":     {[]string{"2031-10-25 18:30", "2031-10-26 18:40"}, "2031-10-27 12:00", "26 Oct 18:00 raised, 26 Oct 18:40 cleared"},
		"turned already, logged afterward": {[]string{"2031-02-03 18:10", "2031-02-04 15:00"}, "2031-02-05 12:00", ""},
	} {
		t.Run(name, func(t *testing.T) {
			at := func(text string) time.Time {
				t.Helper()
				moment, err := time.ParseInLocation("2006-01-02 15:04", text, zone)
				if err != nil {
					t.Fatal(err)
				}
				return moment
			}
			e := entries[slices.IndexFunc(entries, func(e Entry) bool { return e.ID == "K1" })]
			e.Zone = zone
			var a Alarm
			var said []string
			for now := at(c.turned[0]); now.Before(at(c.until)); now = now.Add(time.Minute) {
				last := at(c.turned[0])
				for _, turn := range c.turned {
					if !at(turn).After(now) {
						last = at(turn)
					}
				}
				for _, ev := range Step(e, &a, Signal{Subject: "batch OL-1", Measure: e.Measure, At: now, Value: now.Sub(last).Hours()}, func() int64 { return 1 }) {
					said = append(said, now.In(zone).Format("2 Jan 15:04 ")+string(ev.Kind))
				}
			}
			if got := strings.Join(said, ", "); got != c.want {
				t.Errorf("said %s\nwant %s", got, c.want)
			}
		})
	}
}
