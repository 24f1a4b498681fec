package nights

import (
	"testing"
)

// No fault is missed, and what rings in quiet nights is at most one in thirty. Six
// weeks here; a year is a command: flitch nights.
func TestNights(t *testing.T) {
	for _, seed := range []uint64{3} {
		r, err := Run(Request{Seed: seed, Nights: 42, Faults: 22})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Faults) < 20 || r.Quiet < 14 {
			t.Fatalf("seed %d: %d faults, %.0f quiet nights: the test tests too little", seed, len(r.Faults), r.Quiet)
		}
		for _, f := range r.Faults {
			if f.Alarm == "" {
				t.Errorf("seed %d: %s of %s was missed", seed, f.Kind, f.At)
			}
		}
		if float64(len(r.False)) > max(1, r.Quiet/30) {
			t.Errorf("seed %d: %d false rings in %.0f quiet nights: %+v", seed, len(r.False), r.Quiet, r.False)
		}
	}
}

// The nights can fail: without a line of the catalogue its faults are missed.
func TestNightsMissWhatNothingRingsFor(t *testing.T) {
	for _, without := range []string{"B5"} {
		r, err := Run(Request{Seed: 3, Nights: 21, Faults: 14, Without: []string{without}})
		if err != nil {
			t.Fatal(err)
		}
		if r.Missed == 0 {
			t.Errorf("nothing is missed without %s", without)
		}
	}
}

// The same seed is the same nights.
func TestNightsRepeat(t *testing.T) {
	a, err := Run(Request{Seed: 5, Nights: 7, Faults: 3})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Run(Request{Seed: 5, Nights: 7, Faults: 3})
	if err != nil || len(a.Faults) != len(b.Faults) || a.Quiet != b.Quiet {
		t.Fatalf("%v, %v, %v", a, b, err)
	}
	for i := range a.Faults {
		if a.Faults[i].At != b.Faults[i].At || a.Faults[i].Alarm != b.Faults[i].Alarm {
			t.Errorf("%+v, then %+v", a.Faults[i], b.Faults[i])
		}
	}
}
