package process

import (
	"slices"
	"testing"
	"time"
)

var wordT0 = time.Date(2031, 5, 2, 21, 0, 0, 0, time.UTC)

func wordAt(min float64) time.Time { return wordT0.Add(time.Duration(min * float64(time.Minute))) }

func heardAt(probe string, min float64, v float64) Input {
	at := wordAt(min)
	return Input{Kind: InputReading, At: at, Reading: Reading{Probe: probe, Measured: at, Received: at, Value: v}}
}

func saidAt(min float64, w SensorWord) Input {
	return Input{Kind: InputCommand, At: wordAt(min), Command: Command{Kind: CommandSensor, At: wordAt(min), Sensor: &w}}
}

func tickAt(min float64) Input { return Input{Kind: InputTick, At: wordAt(min)} }

// find is the last finding of the measure.
func find(t *testing.T, found []Finding, m Measure) Finding {
	t.Helper()
	for i := len(found) - 1; i >= 0; i-- {
		if found[i].Measure == m {
			return found[i]
		}
	}
	t.Fatalf("no finding of %s in %+v", m, found)
	return Finding{}
}

// A fridge probe counts as silent when its device says that it is gone, until a fresh
// reading comes: neither a stored one nor time ends it.
func TestAFridgeProbeThatSaysItIsGone(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "bottle", Place: "alder", Placement: Product, Interval: time.Minute}}, wordT0)
	p.Occupied = true
	silence := func(min float64) Finding {
		return find(t, StepPlace(p, tickAt(min), nil), MeasureSilenceCold)
	}
	gone := func(min float64) Finding { return find(t, StepPlace(p, tickAt(min), nil), MeasureGoneCold) }
	for i := range 5 {
		StepPlace(p, heardAt("bottle", float64(i), 3.5), nil)
	}
	if f := silence(5); f.State != Known || f.Value != 1 {
		t.Errorf("before: %+v", f)
	}
	found := StepPlace(p, saidAt(5.5, SensorWord{Probe: "bottle", Gone: true, Words: "last will"}), nil)
	if f := find(t, found, MeasureGoneCold); f.State != Known || f.Value != 0 || f.Subject != "probe bottle of fridge alder" {
		t.Errorf("at the word: %+v", f)
	}
	if t1 := p.Probe("bottle"); t1.heard(p.Now) || t1.Absent.Words != "last will" {
		t.Errorf("%+v", t1.Absent)
	}
	stored := heardAt("bottle", 8, 3.6)
	stored.Reading.Measured = wordAt(-120)
	StepPlace(p, stored, nil)
	if f := gone(9.5); f.Value != 4 {
		t.Errorf("after a stored reading: %+v", f)
	}
	if f := silence(50); f.Value != 46 {
		t.Errorf("silence is counted as it always is: %+v", f)
	}
	StepPlace(p, heardAt("bottle", 51, 3.6), nil)
	if f := gone(51.5); f.State != Unknown {
		t.Errorf("one reading: %+v", f)
	}
	StepPlace(p, heardAt("bottle", 52, 3.6), nil)
	if f := gone(52.5); f.State != Known || f.Value != -1 {
		t.Errorf("two readings: %+v", f)
	}
	p.Occupied = false
	if f := gone(53); f.State != Over {
		t.Errorf("empty: %+v", f)
	}
}

// A word that comes after the reading that proves it wrong does nothing.
func TestAnOldWordOfAProbe(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "bottle", Place: "alder", Placement: Product, Interval: time.Minute}}, wordT0)
	StepPlace(p, heardAt("bottle", 3, 3.5), nil)
	late := saidAt(2, SensorWord{Probe: "bottle", Gone: true})
	late.At = wordAt(4)
	StepPlace(p, late, nil)
	StepPlace(p, saidAt(5, SensorWord{Probe: "nobody", Gone: true}), nil)
	if p.Probe("bottle").Absent != nil {
		t.Error("believed")
	}
	for _, f := range StepPlace(p, tickAt(6), nil) {
		if f.Measure == MeasureGoneCold {
			t.Errorf("told of a device that never said so: %+v", f)
		}
	}
}

func TestASensorThatAsks(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "bottle", Place: "alder", Placement: Product, Interval: time.Minute}}, wordT0)
	for min, asks := range []string{"battery at 8%", ""} {
		f := find(t, StepPlace(p, saidAt(float64(min), SensorWord{Probe: "bottle", Asks: asks}), nil), MeasureAsks)
		if f.Value != float64(1-min) || f.Subject != "probe bottle of fridge alder" || p.Probe("bottle").Asks != asks {
			t.Errorf("%q: %+v", asks, f)
		}
	}
}

// In a cook it is over its limit at once, and a recount of the batch does not forget it.
func TestACoreThatSaysItIsGone(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+10*minute, minute, 20, 22)
	d.found = nil
	d.tick(s + 10*minute + 30*time.Second)
	at := noon.Add(s + 11*minute)
	d.take(Input{Kind: InputCommand, At: at, Command: Command{Kind: CommandSensor, At: at, Sensor: &SensorWord{Probe: "core", Gone: true, Words: "DDEATH"}}})
	if f := find(t, d.found, MeasureGoneHot); f.Value != 0 || f.State != Known || f.Subject != "probe core of batch OL-1" {
		t.Errorf("%+v", f)
	}
	if !d.batch.track("core").Old(at) || d.batch.track("chamber").Absent != nil {
		t.Error("the core is not old, or the chamber is gone too")
	}
	fresh := Recount(d.log[0], slices.Values(d.log[1:len(d.log)-1]))
	fresh.KeepAbsences(d.batch)
	if a := fresh.track("core").Absent; a == nil || a.Words != "DDEATH" {
		t.Errorf("%+v", a)
	}
	d.read("core", s+13*minute, 22)
	d.read("core", s+14*minute, 22)
	if a := d.batch.track("core").Absent; a.Lasts() || !a.Until.Equal(noon.Add(s+13*minute)) {
		t.Errorf("after a fresh reading %+v", a)
	}
}
