package process

import (
	"encoding/json"
	"math"
	"testing"
	"time"
)

// pairOf is a fridge with two slow probes; off is by how much the second reads more,
// by the minute.
func pairOf(t *testing.T, days int, off func(minute int) float64, each func(p *Place, at time.Time, found []Finding)) *Place {
	t.Helper()
	p := NewPlace("alder", WhereFridge, []PlacedProbe{
		{Probe: "top", Place: "alder", Placement: Product, Interval: 5 * minute},
		{Probe: "bottom", Place: "alder", Placement: Product, Interval: 5 * minute},
		{Probe: "air", Place: "alder", Placement: Air, Interval: 5 * minute}}, noon)
	p.Occupied = true
	read := func(probe string, at time.Time, v float64) {
		StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: probe, Measured: at, Received: at, Value: math.Round(v*100) / 100}}, nil)
	}
	for m := range days * 24 * 60 {
		at := noon.Add(time.Duration(m) * minute)
		if m%5 == 0 {
			slow := 3.5 + 0.2*math.Sin(float64(m)/200)
			read("top", at, slow+0.05*math.Sin(float64(m)))
			read("bottom", at, slow+0.05*math.Cos(float64(m))+off(m))
			read("air", at, 3+2*math.Sin(float64(m)/7))
		}
		found := StepPlace(p, Input{Kind: InputTick, At: at}, nil)
		each(p, at, found)
		if m%777 == 0 { // as after a restart
			state, err := json.Marshal(p)
			if err != nil {
				t.Fatal(err)
			}
			again := NewPlace(p.Name, p.Kind, nil, noon)
			for i := range p.Probes {
				again.Probes = append(again.Probes, PlaceProbe{Probe: p.Probes[i].Probe, Air: p.Probes[i].Air})
			}
			stored := new(Place)
			if err := json.Unmarshal(state, stored); err != nil {
				t.Fatal(err)
			}
			again.Recall(stored)
			again.Occupied = true
			*p = *again
		}
	}
	return p
}

const pairSubject = "probes top and bottom of fridge alder"

// Two probes of a kind that differ by the same all along do not drift; one that goes off
// by half a degree is told within hours, and until both were in ice.
func TestAPairDrifts(t *testing.T) {
	const from = 3 * 24 * 60
	drift := func(m int) float64 { return 0.4 + 0.5*math.Min(1, math.Max(0, float64(m-from)/(12*60))) }
	var told time.Time
	p := pairOf(t, 5, drift, func(p *Place, at time.Time, found []Finding) {
		if f, ok := findingOf(found, MeasurePair, pairSubject); ok && f.State == Known && f.Value > 0 && told.IsZero() {
			told = at
		}
	})
	if late := told.Sub(noon.Add(from * minute)); late < 0 || late > 12*hour {
		t.Errorf("told %s after it began", late)
	}
	for i := range p.Probes[:2] {
		if f := p.Probes[i].Flagged; len(f) != 1 || f[0].Reason != "pair drift" || f[0].Count < 300 || len(f[0].Spans) > 4 {
			t.Errorf("%s: %+v", p.Probes[i].Probe.Probe, f)
		}
	}
	check := func(probe string, readC float64) Finding {
		at := noon.Add(5 * 24 * hour)
		found := StepPlace(p, Input{Kind: InputCommand, At: at, Command: Command{Kind: CommandChecked, By: "T.V.", At: at, Typed: at,
			Check: &CheckSaid{Probe: probe, Method: CheckIce, ReadC: readC}}}, nil)
		found = StepPlace(p, Input{Kind: InputTick, At: at}, found)
		f, _ := findingOf(found, MeasurePair, pairSubject)
		return f
	}
	if f := check("top", 0.1); f.Value == 0 {
		t.Error("one good check ended it")
	}
	if f := check("bottom", 3); f.Value == 0 {
		t.Error("a failed check ended it")
	}
	if f := check("bottom", 0.2); f.Value != 0 {
		t.Errorf("both were checked and good: %+v", f)
	}
}

func TestAPairThatHoldsIsNotTold(t *testing.T) {
	pairOf(t, 6, func(int) float64 { return 1.2 }, func(_ *Place, at time.Time, found []Finding) {
		for _, f := range found {
			if f.Measure == MeasurePair && f.Value != 0 {
				t.Fatalf("%s: %+v", at, f)
			}
			if f.Measure == MeasurePair && f.Subject != pairSubject {
				t.Fatalf("%+v: no such pair", f)
			}
		}
	})
}
