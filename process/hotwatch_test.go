package process

import (
	"math"
	"testing"
	"time"
)

// minuteOf ticks and returns what was found of a measure.
func (d *diary) seen(m Measure, after time.Duration) Finding {
	d.t.Helper()
	d.found = d.found[:0]
	d.tick(after)
	for _, f := range d.found {
		if f.Measure == m {
			return f
		}
	}
	d.t.Fatalf("nothing is said of %s", m)
	return Finding{}
}

func (d *diary) wantSeen(m Measure, after time.Duration, state State, value float64) {
	d.t.Helper()
	if f := d.seen(m, after); f.State != state || state == Known && (f.Value < value-0.05 || f.Value > value+0.05) {
		d.t.Errorf("%s at %s: state %d value %.2f, want %d, %.2f", m, after, f.State, f.Value, state, value)
	}
}

// Alarm table H1: 33 K over the set point, 149 °C, or 11 K a minute for two minutes.
func TestFlames(t *testing.T) {
	for name, c := range map[string]struct {
		chamber []float64 // a minute each, set point 100 °C
		want    float64
	}{
		"even":                {[]float64{100, 101, 100}, 0},
		"just under":          {[]float64{120, 128, 132.9}, 0},
		"over the set point":  {[]float64{120, 128, 134}, 1},
		"lit":                 {[]float64{40, 60, 80}, 0}, // a fire that is lit rises as fast
		"rising like a fire":  {[]float64{100, 112, 124}, 1},
		"one fast minute":     {[]float64{100, 101, 113}, 0},
		"hotter than any may": {[]float64{140, 145, 150}, 1},
	} {
		d := newDiary(t)
		s := cook(d)
		for i, v := range c.chamber {
			d.read("chamber", s+time.Duration(i)*minute, v)
		}
		if f := d.seen(MeasureFlare, s+2*minute); yes(f.Value >= 0) != c.want {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// The measure is in kelvins over what no smoker should reach, so that a house may move
// its limit; a rise as of a fire is beyond any.
func TestAFlareHasASize(t *testing.T) {
	for _, c := range []struct {
		chamber []float64
		want    float64
	}{{[]float64{100, 100, 100}, -33}, {[]float64{130, 135, 140}, 7}, {[]float64{150, 152, 154}, 21}, {[]float64{100, 112, 124}, FlareSure}} {
		d := newDiary(t)
		s := cook(d)
		for i, v := range c.chamber {
			d.read("chamber", s+time.Duration(i)*minute, v)
		}
		if f := d.seen(MeasureFlare, s+2*minute); math.Abs(f.Value-c.want) > 1e-9 {
			t.Errorf("%v: %+v", c, f)
		}
	}
}

func TestHotSideMeasures(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	smoke(d, s, 60, func(m int) float64 { return 55 + 0.1*float64(m) + 0.1*float64(m%3) })
	at := s + 59*minute
	last := d.batch.track("core").Last.Value
	d.wantSeen(MeasureChamberOver, at, Known, 10)
	d.wantSeen(MeasureCoreLeft, at, Known, 65-last)
	d.wantSeen(MeasureCoreOver, at, Known, last-65)
	d.wantSeen(MeasureCoreSpread, at, Over, 0) // one core
	d.wantSeen(MeasureNoChill, at, Over, 0)
	d.wantSeen(MeasureNearAmbient, at, Over, 0) // no probe in the room
	d.wantSeen(MeasureCoreFall, at, Known, 0)
	for m := range 8 { // it slides out, slowly
		d.read("chamber", at+time.Duration(m+1)*minute, 110)
		d.read("core", at+time.Duration(m+1)*minute, last-0.5*float64(m+1))
	}
	d.wantSeen(MeasureCoreFall, at+8*minute, Known, 4)
	d.wantSeen(MeasureCoreFall, at+30*minute, Unknown, 0) // and is heard no more
	d.stage(at+31*minute, StageChill)
	d.wantSeen(MeasureCoreFall, at+32*minute, Over, 0)
}

// From five hours on the come-up time is told only if it will be too long.
func TestComeUpWarnsBeforeItsLimit(t *testing.T) {
	for name, c := range map[string]struct {
		rate float64 // K/h after five hours at 30 °C
		want float64
	}{"in time": {40, 4.99}, "too slow": {8, 5.2}} {
		d := newDiary(t)
		s := cook(d)
		d.line("core", s, s+5*hour, minute, 12, 30)
		d.line("core", s+5*hour+minute, s+5*hour+25*minute, minute, 30, 30+c.rate*25/60)
		f := d.seen(MeasureComeUp, s+5*hour+25*minute)
		if f.State != Known || (c.want >= 5) != (f.Value >= 5) {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

func TestCookedAndNotChilling(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+hour, minute, 62, 66)
	d.stage(s+hour, StageRest) // no time is given for it in this plan
	d.line("core", s+61*minute, s+100*minute, minute, 66, 65.6)
	d.wantSeen(MeasureNoChill, s+100*minute, Known, 40)
	d.line("core", s+101*minute, s+120*minute, minute, 65, 55)
	d.wantSeen(MeasureNoChill, s+120*minute, Known, 0)
	d.stage(s+121*minute, StageChill)
	d.wantSeen(MeasureNoChill, s+122*minute, Over, 0)
}

func TestCureTimeLeft(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, 4*day, 5*minute, 4, 4)
	d.wantSeen(MeasureCureLeft, 4*day, Known, 24)
	d.stage(4*day, StageRinse)
	d.wantSeen(MeasureCureLeft, 4*day+minute, Over, 0)
}

// A dry sock reads the dry bulb, and looks better than it is.
func TestDrySock(t *testing.T) {
	d := moistDiary(t, "jerky-wet-bulb", WetBulb)
	s := cook(d)
	d.line("chamber", s, s+10*minute, minute, 76, 76)
	d.line("moist", s, s+10*minute, minute, 52.2, 52.2)
	d.wantSeen(MeasureTooDry, s+10*minute, Known, 51.67-52.2)
	d.line("chamber", s+11*minute, s+14*minute, minute, 76, 76)
	d.line("moist", s+11*minute, s+14*minute, minute, 75.8, 75.8)
	d.wantSeen(MeasureTooDry, s+14*minute, Known, 100)
}

// A place: a door, the mains, a stuck sensor and a clock nobody believes.
func TestPlaceMeasures(t *testing.T) {
	probes := []PlacedProbe{
		{Probe: "slow", Placement: Product, Interval: 5 * minute}, {Probe: "air", Placement: Air, Interval: minute},
		{Probe: "door", Placement: Door, Interval: 5 * minute}, {Probe: "mains", Placement: Power, Interval: 5 * minute},
	}
	p := NewPlace("alder", WhereFridge, probes, noon)
	p.Occupied = true
	read := func(probe string, after time.Duration, v float64) {
		at := noon.Add(after)
		StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: probe, Measured: at, Received: at, Value: v}}, nil)
	}
	seen := func(m Measure, after time.Duration) Finding {
		for _, f := range StepPlace(p, Input{Kind: InputTick, At: noon.Add(after)}, nil) {
			if f.Measure == m {
				return f
			}
		}
		t.Fatalf("nothing of %s", m)
		return Finding{}
	}
	for m := range 60 {
		after := time.Duration(m) * minute
		read("air", after, 3+0.1*float64(m%3))
		read("slow", after, 3.4)
		read("door", after, yes(m >= 40))
		read("mains", after, yes(m < 50))
	}
	if f := seen(MeasureDoor, 47*minute+12*minute); f.State != Known || f.Value >= 10 {
		t.Errorf("a door open in cold air: %+v", f)
	}
	if f := seen(MeasureMains, 59*minute); f.Value < 8.9 {
		t.Errorf("mains: %+v", f)
	}
	for m := 60; m < 70; m++ {
		read("air", time.Duration(m)*minute, 4.5+0.1*float64(m-60))
		read("slow", time.Duration(m)*minute, 3.4)
		read("door", time.Duration(m)*minute, 1)
	}
	if f := seen(MeasureDoor, 69*minute); f.Value < 10 {
		t.Errorf("a door open in warming air: %+v", f)
	}
	at := noon.Add(70 * minute)
	StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Device: time.Unix(0, 0), Quality: Suspect, Value: 3.4}}, nil)
	if f := seen(MeasureClock, 70*minute); f.Value != 1 {
		t.Errorf("clock: %+v", f)
	}
}

// A power cut that late readings tell of is told once, with its length, and by no limit
// of the mains that are there now.
func TestMainsThatWereOff(t *testing.T) {
	p := NewPlace("shed", WhereFridge, []PlacedProbe{{Probe: "mains", Placement: Power, Interval: 5 * minute}}, noon)
	read := func(measured, received time.Duration, v float64) {
		StepPlace(p, Input{Kind: InputReading, At: noon.Add(received), Reading: Reading{Probe: "mains", Measured: noon.Add(measured), Received: noon.Add(received), Value: v}}, nil)
	}
	told := func(after time.Duration) (was []float64) {
		for _, f := range StepPlace(p, Input{Kind: InputTick, At: noon.Add(after)}, nil) {
			switch {
			case f.Measure == MeasureMainsLate && f.Value != 0:
				was = append(was, f.Value)
			case f.Measure == MeasureMains && f.Value != 0:
				t.Errorf("mains off now: %+v", f)
			}
		}
		return was
	}
	read(0, 0, 80)
	read(6*hour, 6*hour, 80)
	for m := 5 * minute; m < 5*hour; m += 5 * minute {
		v := 0.0
		if m < hour {
			v = 80
		}
		read(m, 6*hour, v)
	}
	if was := told(6*hour + minute); len(was) != 1 || was[0] != 235 {
		t.Errorf("told %v, want 235 min once", was)
	}
	if was := told(6*hour + 2*minute); len(was) != 0 {
		t.Errorf("told again: %v", was)
	}
}

// A sensor that reads the same for hours is told; one with steps of half a degree
// only after four times as long.
func TestFlatSensor(t *testing.T) {
	for step, want := range map[float64]float64{0.1: 7, 0.5: 7.0 / 4} {
		p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Placement: Product, Interval: 5 * minute}}, noon)
		p.Occupied = true
		var found []Finding
		for m := time.Duration(-10) * minute; m <= 7*hour; m += 5 * minute {
			v := 3.0
			if m < 0 {
				v += step
			}
			at := noon.Add(m)
			StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: v}}, nil)
		}
		found = StepPlace(p, Input{Kind: InputTick, At: noon.Add(7 * hour)}, nil)
		for _, f := range found {
			if f.Measure == MeasureFlat && (f.Value < want-0.1 || f.Value > want+0.1) {
				t.Errorf("steps of %g: %+v, want %.2f h", step, f, want)
			}
		}
	}
}
