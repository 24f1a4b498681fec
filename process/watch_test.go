package process

import (
	"math"
	"testing"
	"time"
)

// last returns the newest finding of a measure.
func (d *diary) last(m Measure) (Finding, bool) {
	for i := len(d.found) - 1; i >= 0; i-- {
		if d.found[i].Measure == m {
			return d.found[i], true
		}
	}
	return Finding{}, false
}

func (d *diary) wantFinding(m Measure, state State, value float64) {
	d.t.Helper()
	f, ok := d.last(m)
	if !ok || f.State != state || (state == Known && math.Abs(f.Value-value) > 1e-6) {
		d.t.Errorf("%s: %+v (found %v), want state %d value %g", m, f, ok, state, value)
	}
}

func TestFireIsWatchedOnceTheSetPointWasReached(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("chamber", s, s+30*minute, minute, 20, 90)
	if f, ok := d.last(MeasureChamberDeficit); ok && f.State == Known {
		t.Errorf("a chamber still heating up is no lost fire: %+v", f)
	}
	d.line("chamber", s+31*minute, s+60*minute, minute, 98, 100)
	d.wantFinding(MeasureChamberDeficit, Known, 0)
	d.line("chamber", s+61*minute, s+90*minute, minute, 99, 60)
	d.wantFinding(MeasureChamberDeficit, Known, 40)
	d.line("chamber", s+91*minute, s+100*minute, minute, 62, 75) // relit
	d.wantFinding(MeasureChamberDeficit, Unknown, 0)
	d.stage(s+101*minute, StageChill)
	d.wantFinding(MeasureChamberDeficit, Over, 0)
}

func TestCoreThatDoesNotRise(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+60*minute, minute, 20, 56)
	if f, _ := d.last(MeasureNoRise); f.Value > 5 {
		t.Errorf("a rising core: %+v", f)
	}
	d.line("core", s+61*minute, s+120*minute, minute, 56, 56.4)
	f, _ := d.last(MeasureNoRise)
	if f.State != Known || f.Value < 55 {
		t.Errorf("an hour of stall: %+v", f)
	}
	d.line("core", s+121*minute, s+140*minute, minute, 57, 66)
	d.wantFinding(MeasureNoRise, Over, 0)
}

// The target alone is not enough: the row of the table has to be met too.
func TestCoreHeldNeedsItsRow(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Stages[2].CoreC = 60
	s := cook(d)
	d.line("core", s, s+10*minute, minute, 60.6, 60.6)
	d.wantFinding(MeasureCoreHeld, Known, 0)
	d.line("core", s+11*minute, s+13*minute, minute, 60.6, 60.6)
	d.wantFinding(MeasureCoreHeld, Known, 1)
}

func TestSilenceOfAProbeInACook(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+10*minute, minute, 20, 21)
	d.line("chamber", s, s+10*minute, minute, 90, 99)
	d.tick(s + 11*minute)
	if f := d.silence("core"); f.State != Known || f.Value != 1-5 {
		t.Errorf("heard a minute ago, five allowed: %+v", f)
	}
	d.tick(s + 18*minute)
	if f := d.silence("core"); f.Value != 8-5 {
		t.Errorf("silent for eight minutes: %+v", f)
	}
	d.read("core", s+19*minute, 22)
	d.tick(s + 19*minute)
	if f := d.silence("core"); f.Value < 0 {
		t.Errorf("one reading does not end a silence: %+v", f)
	}
	d.read("core", s+20*minute, 22)
	d.tick(s + 20*minute)
	if f := d.silence("core"); f.Value >= 0 {
		t.Errorf("two readings end it: %+v", f)
	}
}

func (d *diary) silence(probe string) Finding {
	for i := len(d.found) - 1; i >= 0; i-- {
		if d.found[i].Measure == MeasureSilenceHot && d.found[i].Subject == "probe "+probe+" of batch OL-1" {
			return d.found[i]
		}
	}
	d.t.Fatalf("no finding on the silence of %s", probe)
	return Finding{}
}

// A lumped body in air of known temperature: the forecast must tell its own end.
func TestChillForecast(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.read("core", s, 70)
	d.stage(s+minute, StageChill)
	tau := 7.0 // hours: leg A takes 5.6 h, allowed are 5
	for at := minute; at < 4*hour; at += minute {
		d.read("slow", s+at, 2)
		d.read("core", s+at, 2+68*math.Exp(-(at-minute).Hours()/tau))
	}
	late := (tau*math.Log((490.0/9-0.5-2)/(80.0/3-0.5-2)) - 5) * 60
	f, ok := d.last(MeasureChillLate)
	if !ok || f.State != Known || math.Abs(f.Value-late) > 2 {
		t.Errorf("forecast %+v, want late by %.1f min", f, late)
	}
	if f.Subject != "chill A of batch OL-1" {
		t.Errorf("subject %q", f.Subject)
	}
}

func TestChillForecastInWarmAirIsHopeless(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.read("core", s, 70)
	d.stage(s+minute, StageChill)
	for at := minute; at < 4*hour; at += minute {
		d.read("slow", s+at, 27)
		d.read("core", s+at, 27+43*math.Exp(-(at-minute).Hours()/3))
	}
	if f, ok := d.last(MeasureChillLate); !ok || f.State != Known || f.Value < 12*60 {
		t.Errorf("air warmer than the leg's end: %+v", f)
	}
}

func TestALegThatIsOverItsTime(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.read("core", s, 70)
	d.stage(s+minute, StageChill)
	d.line("core", s+2*minute, s+6*hour, minute, 70, 40) // 5 h after the start it is still warm
	d.tick(s + 6*hour)
	c := d.clock(ClockChillA)
	f, ok := d.last(MeasureChillOver)
	if !ok || math.Abs(f.Value-(c.Sum-5)*60) > 1e-6 {
		t.Errorf("%+v, clock at %.2f h", f, c.Sum)
	}
}

// Stored readings that a device sends hours later move the clocks and ring nobody.
func TestBackfillIsCountedAndRingsNobody(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.found = nil
	for i := range 60 {
		at := noon.Add(s + time.Duration(i)*minute)
		d.take(Input{Kind: InputReading, At: at.Add(3 * hour), Reading: Reading{Probe: "chamber", Measured: at, Received: at.Add(3 * hour), Value: 100}})
		d.take(Input{Kind: InputReading, At: at.Add(3 * hour), Reading: Reading{Probe: "core", Measured: at, Received: at.Add(3 * hour), Value: 62}})
	}
	if len(d.found) > 0 {
		t.Errorf("backfill found %+v", d.found[0])
	}
	d.want(ClockLethality, 59, Met)
}

func TestPlaceWatch(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Placement: Product, Interval: 5 * minute}}, noon)
	read := func(after time.Duration, v float64, q Quality) []Finding {
		at := noon.Add(after)
		return StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: v, Quality: q}}, nil)
	}
	f := read(0, 3.5, Good)
	if len(f) != 2 || f[0].Measure != MeasureProduct || f[0].Value != 3.5 || f[1].State != Over {
		t.Errorf("empty fridge: %+v", f)
	}
	p.Occupied = true
	if f = read(5*minute, 6, Good); f[1].State != Known || f[1].Value != 6 || f[1].Subject != "fridge alder" {
		t.Errorf("batch inside: %+v", f)
	}
	if f = read(10*minute, -127, Bad); len(f) != 0 {
		t.Errorf("a bad sample: %+v", f)
	}
	silent := StepPlace(p, Input{Kind: InputTick, At: noon.Add(50 * minute)}, nil)
	if len(silent) == 0 || silent[0].Measure != MeasureSilenceCold || silent[0].Value != 45 {
		t.Errorf("silent for 45 min: %+v", silent)
	}
}

// One wrong reading in a row of good ones is no silence.
func TestABadReadingIsNoSilence(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+20*minute, minute, 20, 24)
	at := noon.Add(s + 21*minute)
	d.take(Input{Kind: InputReading, At: at, Reading: Reading{Probe: "core", Measured: at, Received: at, Quality: Bad, Value: -127}})
	for m := 22 * minute; m < 30*minute; m += minute {
		d.read("core", s+m, 25)
		d.found = d.found[:0]
		d.tick(s + m)
		for _, f := range d.found {
			if f.Measure == MeasureSilenceHot && f.Subject == "probe core of batch OL-1" && f.State == Known && f.Value >= 0 {
				t.Fatalf("a silence after %s: %+v", m, f)
			}
		}
	}
}
