package nights

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// Every kind of fault comes, a fault a day, and none is missed. A year is a command:
// flitch nights.
func TestNights(t *testing.T) {
	t.Parallel()
	r, err := live(Request{Seed: 3, Nights: 58, Faults: 54})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Faults) != 54 {
		t.Errorf("%d faults, want 54", len(r.Faults))
	}
	for _, k := range kinds() {
		took, missed := r.times(k.name)
		if len(took)+missed == 0 {
			t.Errorf("%s never came", k.name)
		}
		if missed > 0 {
			t.Errorf("%s was missed %d times, and rung for after %s", k.name, missed, took)
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
}

// The nights can fail: without their lines of the catalogue faults are missed.
func TestNightsMissWhatNothingRingsFor(t *testing.T) {
	t.Parallel()
	without := []string{"B2", "B5", "B6", "C6", "C8", "K2", "K4", "B1", "H1", "H2", "H12"}
	r, err := live(Request{Seed: 3, Nights: 14, Faults: 10, Without: without})
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
