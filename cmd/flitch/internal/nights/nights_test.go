package nights

import (
	"maps"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"flitch/alerts"
)

// Every kind of fault comes, a fault a day, and none is missed. A year is a command:
// flitch nights.
func TestNights(t *testing.T) {
	t.Parallel()
	const nights = 78 // two cooks a week, and a deck of their faults
	r, err := live(Request{Seed: 3, Nights: nights, Faults: nights - quietEnds})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Faults) != nights-quietEnds {
		t.Errorf("%d faults, want %d", len(r.Faults), nights-quietEnds)
	}
	r.allCame(t, kinds())
}

// allCame wants each of the kinds to have come, and each time to have been told of by
// each of its lines.
func (r *Report) allCame(t *testing.T, of []kind) {
	t.Helper()
	for _, k := range of {
		took, missed := r.times(k.name)
		if len(took)+missed == 0 {
			t.Errorf("%s never came", k.name)
		}
		if missed > 0 {
			t.Errorf("%s was missed %d times, and told of after %s", k.name, missed, took)
		}
		for i, a := range k.also {
			if took, missed := r.further(k.name, i); missed > 0 {
				t.Errorf("%s was missed by %s %d times, and told of after %s", k.name, a.line, missed, took)
			}
		}
	}
}

// What rings in quiet nights is at most one in thirty, and in so few none.
func TestQuietNights(t *testing.T) {
	t.Parallel()
	r, err := Run(Request{Seed: 3, Nights: 21, Faults: 3})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Faults) != 3 || r.Quiet < 16 {
		t.Fatalf("%d faults, %.0f quiet nights: the test tests too little", len(r.Faults), r.Quiet)
	}
	if len(r.False) > 0 {
		t.Errorf("%d false rings in %.0f quiet nights: %+v", len(r.False), r.Quiet, r.False)
	}
	for id, told := range r.Tells {
		if told.Judged > told.True {
			t.Errorf("%s told %d times, and the meat says %d of %d", id, told.Number, told.True, told.Judged)
		}
	}
	r.allCame(t, dues())
}

// The nights can fail: without their lines of the catalogue faults are missed.
func TestNightsMissWhatNothingRingsFor(t *testing.T) {
	t.Parallel()
	without := []string{"B2", "B5", "B6", "C6", "C8", "C9", "H14", "K1", "K4", "B1", "H1", "H2", "H12"}
	r, err := live(Request{Seed: 3, Nights: 21, Faults: 17, Without: without})
	if err != nil {
		t.Fatal(err)
	}
	silent := 0
	for _, f := range r.Faults {
		if slices.ContainsFunc(f.kind.rings, func(line string) bool { return !slices.Contains(without, line) }) {
			continue
		}
		if silent++; f.Alarm != "" {
			t.Errorf("%s was rung for by %s, which was left out", f.Kind, f.Alarm)
		}
	}
	if silent < 4 || r.Missed < silent {
		t.Errorf("%d faults had no line left, %d were missed", silent, r.Missed)
	}
}

// unexercised are the lines of the catalogue that no night asks for, and why.
var unexercised = map[string]string{
	"B9d":  "no two probes of a kind lie side by side in these places: pairs are tried in process (TestAPairDrifts, TestAPairThatHoldsIsNotTold)",
	"B10s": "a disk that is slow or damaged is tried with the built binary (baddisk): no night has a disk",
	"B10d": "the same",
	"B6m":  "the clock of these nights is the year's: one that steps is tried in stories of the app (TheClockJumps) and with the program (AClockThatIsWrong)",
	"B8":   "no signal has its measure: who does not answer is followed with the people, and tried in alerts (Unanswered) and in the app with two phones",
}

// No line of the catalogue goes unasked: for each there is a kind, or a due, of which
// nothing else may tell in its place.
func TestEveryLineIsAskedFor(t *testing.T) {
	asked := map[string]bool{}
	for _, k := range slices.Concat(kinds(), dues()) {
		if len(k.rings) == 1 {
			asked[k.rings[0]] = true
		}
		for _, a := range k.also {
			asked[a.line] = true
		}
	}
	excused := maps.Clone(unexercised)
	for _, e := range alerts.Catalogue(alerts.Wood) {
		why := excused[e.ID]
		if asked[e.ID] == (why != "") {
			t.Errorf("%s %s: asked for %v, reason %q", e.ID, e.Title, asked[e.ID], why)
		}
		delete(asked, e.ID)
		delete(excused, e.ID)
	}
	if len(asked)+len(excused) > 0 {
		t.Errorf("no line of the catalogue: %v, %v", asked, excused)
	}
}

// The same seed is the same nights.
func TestNightsRepeat(t *testing.T) {
	t.Parallel()
	a, err := Run(Request{Seed: 5, Nights: 7, Faults: 2})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Run(Request{Seed: 5, Nights: 7, Faults: 2})
	if err != nil || len(a.Faults) != 2 || len(b.Faults) != 2 || a.Quiet != b.Quiet {
		t.Fatalf("%v, %v, %v", a, b, err)
	}
	for i := range a.Faults {
		if a.Faults[i].At != b.Faults[i].At || a.Faults[i].Alarm != b.Faults[i].Alarm {
			t.Errorf("%+v, then %+v", a.Faults[i], b.Faults[i])
		}
	}
}

// No kind is starved: in whole decks each comes as often as the others, and none twice
// in a row.
func TestDecksAreEven(t *testing.T) {
	d := newDeck(rand.New(rand.NewPCG(1, 2)), inCure)
	drawn, last := map[string]int{}, ""
	for i := range 10 * len(d.all) {
		k := d.draw(time.Weekday(i % 7))
		if k.name == last || !k.able(time.Weekday(i%7)) {
			t.Errorf("%s on day %d after %s", k.name, i, last)
		}
		last = k.name
		drawn[k.name]++
	}
	for _, k := range d.all {
		if n := drawn[k.name]; n < 9 || n > 11 {
			t.Errorf("%s came %d times in ten decks", k.name, n)
		}
	}
}
