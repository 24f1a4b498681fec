package app

import (
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// Rows of the record say which readings did not count, also those that were found out by
// the ones around them; what was bad on the way in keeps its own reason.
func TestRowsSayWhatDidNotCount(t *testing.T) {
	noon := time.Date(2031, 4, 7, 12, 0, 0, 0, time.UTC)
	at := func(m int) time.Time { return noon.Add(time.Duration(m) * time.Minute) }
	list := []process.Flagged{{Reason: "spike", Count: 1, Spans: []process.Gap{{From: at(3), To: at(3)}}},
		{Reason: "pair drift", Count: 9, Spans: []process.Gap{{From: at(10), To: at(20)}}}}
	for _, c := range []struct {
		minute  int
		quality process.Quality
		want    process.Quality
		reason  string
	}{
		{2, process.Good, process.Good, ""}, {3, process.Good, process.Bad, "alone between its neighbours"}, {3, process.Suspect, process.Bad, "alone between its neighbours"},
		{3, process.Bad, process.Bad, "own"}, {15, process.Good, process.Suspect, "drifting apart from its pair: counted, and in doubt"}, {21, process.Good, process.Good, ""},
	} {
		r := record.Row{Measured: at(c.minute), Quality: c.quality}
		if c.quality == process.Bad {
			r.Reason = "own"
		}
		if got := marked(r, list); got.Quality != c.want || got.Reason != c.reason {
			t.Errorf("minute %d, %s: %s %q", c.minute, c.quality, got.Quality, got.Reason)
		}
	}
	if part := during(list[1], at(0), at(5)); len(part.Spans) != 0 {
		t.Errorf("%+v is not of that time", part)
	}
}

// A row of a sensor that was turned over is in °C, and says how it came.
func TestRowsAreInTheUnitThatWasSaid(t *testing.T) {
	noon := time.Date(2031, 4, 7, 12, 0, 0, 0, time.UTC)
	u := process.UnitAsk{Turns: []process.UnitTurn{{From: noon, Was: process.ToFahrenheit}, {From: noon.Add(time.Hour)}}}
	for after, want := range map[time.Duration]float64{-time.Minute: 39.2, 0: 4, 59 * time.Minute: 4, time.Hour: 39.2} {
		r := asTold(process.Reading{Measured: noon.Add(after), Value: 39.2}, &u)
		if r.Value != want || (want == 4) != (r.Reason == "came as 39.2, and is in the unit that a person said the sensor sends") {
			t.Errorf("%s: %v %q", after, r.Value, r.Reason)
		}
	}
	if r := asTold(process.Reading{Measured: noon, Value: -127, Quality: process.Bad}, &u); r.Value != -127 {
		t.Errorf("%+v", r)
	}
}
