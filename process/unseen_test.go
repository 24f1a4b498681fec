package process

import (
	"math"
	"testing"
	"time"
)

// twoCores is a batch of two pieces with a core in each.
func twoCores(t *testing.T) *diary {
	d := newDiary(t)
	d.batch.Pieces = append(d.batch.Pieces, Piece{Name: "B", GreenG: 2268, ThicknessMM: 38})
	d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "core-b", Place: "kettle", Placement: Core, Piece: "B", Interval: minute, Uncertainty: 0.5}, d.batch.Plan))
	return d
}

// cooked takes one core through the fire to 70 °C, and says when it is out.
func cooked(d *diary, probes ...string) time.Duration {
	s := cook(d)
	for m := time.Duration(0); m <= 4*hour; m += minute {
		for _, probe := range probes {
			d.read(probe, s+m, 4+66*m.Hours()/4)
		}
	}
	d.stage(s+4*hour, StageChill)
	return s + 4*hour
}

// One core that did all it should says nothing of a piece whose core never spoke.
func TestACoreThatNeverSpokeIsNotMeasured(t *testing.T) {
	d := twoCores(t)
	off := cooked(d, "core")
	d.line("core", off, off+3*hour, minute, 70, 3)
	d.say(off+4*hour, Command{Kind: CommandClose})
	for _, name := range []ClockName{ClockLethality, ClockChillA, ClockChillB} {
		if got := d.clock(name); got.Verdict != NotMeasured {
			t.Errorf("%+v", got)
		}
	}
	if got := d.clock(ClockComeUp); got.Verdict != Met { // four hours of fire fit under six
		t.Errorf("%+v", got)
	}
}

// A second probe in a piece that is measured is no second piece.
func TestASpareProbeAsksNothing(t *testing.T) {
	d := twoCores(t)
	d.batch.track("core-b").Probe.Piece = "A"
	off := cooked(d, "core")
	d.line("core", off, off+3*hour, minute, 70, 3)
	for _, name := range []ClockName{ClockLethality, ClockComeUp, ClockChillA, ClockChillB} {
		if got := d.clock(name); got.Verdict != Met {
			t.Errorf("%+v", got)
		}
	}
}

// A core that falls silent hot, or that is not through when the batch is closed, keeps
// the leg of the other from being the leg of the batch.
func TestALegIsOverWhenAllAre(t *testing.T) {
	d := twoCores(t)
	off := cooked(d, "core", "core-b")
	d.line("core", off, off+3*hour, minute, 70, 3)
	if got := d.clock(ClockChillA); got.Verdict != Running {
		t.Errorf("open: %+v", got)
	}
	d.say(off+3*hour, Command{Kind: CommandClose})
	if got := d.clock(ClockChillA); got.Verdict != NotMeasured {
		t.Errorf("closed: %+v", got)
	}
}

// A core first heard cold, hours after the fire, has not chilled since the batch was
// packed but since the fire was out.
func TestAChillNobodySawCountsFromTheFire(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Stages = append(d.batch.Plan.Stages, StagePlan{Name: StagePack, Where: WhereRoom, Button: true})
	s := cook(d)
	d.stage(s+4*hour, StageChill)
	d.line("core", s+20*hour, s+21*hour, minute, 20, 12)
	d.stage(s+21*hour, StagePack)
	d.line("core", s+21*hour, s+22*hour, minute, 12, 4)
	if got := d.clock(ClockChillB); got.Verdict != NotMet || got.Sum < 17 {
		t.Errorf("%+v", got)
	}
}

// Two days of cure before the fridge was first heard are two days that nobody saw.
func TestAFridgeHeardLateIsNotMeasured(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 2*day, 5*day, 5*minute, 3, 3)
	cook(d)
	if got := d.clock(ClockCold); got.Verdict != NotMeasured {
		t.Errorf("%+v", got)
	}
}

// A core first heard in the middle of the come-up may have been in it since the fire
// was lit; one that was still cold was not.
func TestACoreHeardLateMayHaveComeUpSlowly(t *testing.T) {
	for _, c := range []struct {
		first float64
		want  Verdict
	}{{30, NotMeasured}, {8, Met}} {
		d := newDiary(t)
		s := cook(d)
		d.line("core", s+5*hour, s+8*hour, minute, c.first, 64)
		d.stage(s+8*hour, StageChill)
		if got := d.clock(ClockComeUp); got.Verdict != c.want {
			t.Errorf("first at %g °C: %+v", c.first, got)
		}
	}
}

// The come-up of the batch is not over while one core is still in it.
func TestComeUpRunsForTheLastCore(t *testing.T) {
	d := twoCores(t)
	s := cook(d)
	for m := time.Duration(0); m <= 4*hour; m += minute {
		d.read("core", s+m, 4+66*m.Hours()/4)
		d.read("core-b", s+m, 4+10*m.Hours()/4)
	}
	if got := d.clock(ClockComeUp); got.Verdict != Running {
		t.Errorf("%+v", got)
	}
}

// Sausage whose room fell silent for most of its time, before a pH was measured.
func TestDegreeHoursNobodySaw(t *testing.T) {
	for _, c := range []struct{ from, to time.Duration }{{0, 10 * hour}, {50 * hour, 60 * hour}} {
		d := newDiary(t)
		d.batch.Plan.Ferment = FermentRule{Limit: "us", Stages: []StageName{StageSmoke}}
		s := cook(d)
		d.line("chamber", s+c.from, s+c.to, minute, 30, 30)
		d.say(s+60*hour, Command{Kind: CommandReading, Placement: PH, Value: 5.2})
		if got := d.clock(ClockFerment); got.Verdict != NotMeasured {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

// Half an hour of moist air is not the whole of a cook of five, whenever it was seen.
func TestHumidityIsOfTheWholeCook(t *testing.T) {
	for _, from := range []time.Duration{0, 4*hour + 30*minute} {
		d := moistDiary(t, "whole-90", Humidity)
		s := cook(d)
		d.line("core", s, s+5*hour, minute, 4, 50)
		d.line("moist", s+from, s+from+30*minute, minute, 95, 95)
		d.stage(s+5*hour, StageChill)
		if got := d.clock(ClockHumidity); got.Verdict != NotMeasured {
			t.Errorf("from %s: %+v", from, got)
		}
	}
}

// Without a row to be met the share of the cook is not known before the end either.
func TestHumidityWaitsForTheEndWithoutARow(t *testing.T) {
	d := moistDiary(t, "whole-90", Humidity)
	d.batch.Plan.Lethality = LethalityRule{}
	s := cook(d)
	d.line("core", s, s+hour, minute, 4, 20)
	d.line("moist", s, s+hour, minute, 95, 95)
	if got := d.clock(ClockHumidity); got.Verdict != Running {
		t.Errorf("%+v", got)
	}
	d.stage(s+hour, StageChill)
	if got := d.clock(ClockHumidity); got.Verdict != Met {
		t.Errorf("at the end: %+v", got)
	}
}

// A wet bulb tells nothing beside a chamber that fell silent: not how moist the air is,
// and not whether its sock is wet.
func TestAWetBulbNeedsItsChamber(t *testing.T) {
	for _, option := range []string{"jerky-wet-bulb", "quarter-90"} {
		d := moistDiary(t, option, WetBulb)
		s := cook(d)
		d.line("chamber", s, s+10*minute, minute, 58, 58)
		d.line("moist", s, s+3*hour, minute, 57, 57)
		d.line("core", s, s+3*hour, minute, 4, 40)
		d.stage(s+3*hour, StageChill)
		if got := d.clock(ClockHumidity); got.Verdict != NotMeasured {
			t.Errorf("%s: %+v", option, got)
		}
	}
}

// The piece was taken off the scale: what it reads now is not what the meat weighs.
func TestAnEmptyScaleWeighsNothing(t *testing.T) {
	d := dryDiary(t)
	d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "scale", Placement: Weight, Piece: "A", Interval: hour}, d.batch.Plan))
	d.line("scale", 2*day, 3*day, hour, 2150, 2140)
	d.line("scale", 3*day+hour, 4*day, hour, 12, 12)
	if got := d.clock(ClockDrying); got.Verdict == Met {
		t.Errorf("%+v", got)
	}
}

func TestAPlanWithoutLimitsIsNotMeasured(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan = Plan{Name: "bare", Stages: []StagePlan{{Name: StageStore, Where: WhereRoom, Button: true}}}
	if got := d.batch.Verdict(d.batch.Now); got != NotMeasured {
		t.Errorf("%q", got)
	}
}

func TestALimitHasToBeANumber(t *testing.T) {
	for _, limit := range []float64{math.NaN(), math.Inf(1), -1} {
		p := testPlan()
		before := len(p.Problems())
		p.Cold.LimitMinutes = limit
		if len(p.Problems()) != before+1 {
			t.Errorf("limit %g: %v", limit, p.Problems())
		}
		p = testPlan()
		p.Cold.AboveC = limit * 1000
		if len(p.Problems()) != before+1 {
			t.Errorf("above %g: %v", limit, p.Problems())
		}
	}
}

// Degrees Fahrenheit that pass for Celsius: a core is not hotter than boiling water, nor
// than the air around it.
func TestDegreesOfAnotherUnitAreNotMeasured(t *testing.T) {
	f := func(c float64) float64 { return c*1.8 + 32 }
	for name, c := range map[string]struct{ chamber, peak float64 }{
		"both wrong": {f(75), f(57)}, "core wrong": {75, f(40)}, "core wrong, no chamber": {0, f(57)},
	} {
		d := newDiary(t)
		s := cook(d)
		for m := time.Duration(0); m <= 4*hour; m += minute {
			if c.chamber > 0 {
				d.read("chamber", s+m, c.chamber+float64(m/minute%3))
			}
			d.read("core", s+m, f(4)+(c.peak-f(4))*m.Hours()/4)
		}
		d.stage(s+4*hour, StageChill)
		for _, clock := range []ClockName{ClockLethality, ClockComeUp} {
			if got := d.clock(clock); got.Verdict != NotMeasured {
				t.Errorf("%s: %+v", name, got)
			}
		}
	}
}

// What a core can be is believed beside a chamber in its colder corner, and beside one
// of which part was not seen.
func TestAHotCoreIsBelieved(t *testing.T) {
	for name, from := range map[string]time.Duration{"seen": 0, "heard late": 3 * hour, "never": 5 * hour} {
		d := newDiary(t)
		s := cook(d)
		for m := time.Duration(0); m <= 4*hour; m += minute {
			if m >= from {
				d.read("chamber", s+m, 62+float64(m/minute%3))
			}
			d.read("core", s+m, 4+66*m.Hours()/4)
		}
		d.stage(s+4*hour, StageChill)
		if got := d.clock(ClockLethality); got.Verdict != Met {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// A file that tells of the chill alone: its legs count from where the core passed them,
// or from the beginning when it was below already.
func TestAChillWithoutItsCook(t *testing.T) {
	for first, lethal := range map[float64]Verdict{70: Met, 40: NotMeasured} { // an hour over 60 °C is one, with or without a fire
		d := newDiary(t)
		for i := range d.batch.Plan.Stages {
			d.batch.Plan.Stages[i].Optional = true
		}
		d.stage(0, StageChill)
		d.line("core", minute, 20*hour, minute, first, 3)
		if got := d.clock(ClockChillA); got.Verdict != NotMet || got.From.Before(noon) {
			t.Errorf("from %g °C: %+v", first, got)
		}
		if got := d.clock(ClockLethality); got.Verdict != lethal {
			t.Errorf("from %g °C: %+v", first, got)
		}
	}
}
