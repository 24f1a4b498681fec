package process

import (
	"testing"
	"time"
)

// University of Wisconsin fermentation form (2012, seen): a room at 80 °F may take 60 h
// under 1200, at 100 °F 25 h under 1000, and hours are rounded down.
func TestDegreeHoursThroughStep(t *testing.T) {
	for _, c := range []struct {
		roomF, hours float64
		limit        float64
		want         Verdict
	}{{80, 59, 1200, Met}, {80, 61, 1200, NotMet}, {100, 24, 1000, Met}, {100, 26, 1000, NotMet}, {110, 17, 900, Met}, {110, 19, 900, NotMet}} {
		d := newDiary(t)
		d.batch.track("chamber").Probe.Uncertainty = 0
		d.batch.Plan.Ferment = FermentRule{Limit: "us", Stages: []StageName{StageSmoke}}
		s := cook(d)
		end := s + hoursOf(c.hours)
		d.line("chamber", s, end, minute, fahrenheit(c.roomF), fahrenheit(c.roomF))
		d.say(end, Command{Kind: CommandReading, Placement: PH, Value: 5.4})
		if v := d.clock(ClockFerment).Verdict; v == Met {
			t.Errorf("%+v: met at pH 5.4", c)
		}
		d.say(end, Command{Kind: CommandReading, Placement: PH, Value: 5.2})
		d.line("chamber", end+minute, end+hour, minute, fahrenheit(c.roomF), fahrenheit(c.roomF))
		if got := d.clock(ClockFerment); got.Verdict != c.want || got.Limit != c.limit {
			t.Errorf("%+v: %+v", c, got)
		}
	}
}

func TestNoPHIsNotMeasured(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Ferment = FermentRule{Limit: "us", Stages: []StageName{StageSmoke}}
	s := cook(d)
	d.line("chamber", s, s+hour, minute, 30, 30)
	d.stage(s+hour, StageRest)
	if got := d.clock(ClockFerment); got.Verdict != NotMeasured || len(got.Uncertain) == 0 {
		t.Errorf("%+v", got)
	}
}

// An hour of gap at 30 °C and 40 °C counts at 40 °C: the warmer end.
func TestDegreeHoursGap(t *testing.T) {
	d := newDiary(t)
	d.batch.track("chamber").Probe.Uncertainty = 0
	d.batch.Plan.Ferment = FermentRule{Limit: "canada", Stages: []StageName{StageSmoke}}
	s := cook(d)
	d.read("chamber", s, 30)
	d.read("chamber", s+hour, 40)
	d.want(ClockFerment, 40-15.6, Running)
}

// moistDiary is a cook with a humidity probe.
func moistDiary(t *testing.T, option string, placement Placement) *diary {
	d := newDiary(t)
	d.batch.Plan.Humidity = HumidityRule{Option: option}
	d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "moist", Place: "kettle", Placement: placement, Interval: minute}, d.batch.Plan))
	return d
}

// FSIS-GD-2021-14 p. 26, option 3: 90 % for a quarter of the cook, at least an hour.
func TestHumidityForAQuarterOfTheCook(t *testing.T) {
	for _, c := range []struct {
		moist time.Duration
		want  Verdict
	}{{61 * minute, NotMet}, {74 * minute, NotMet}, {91 * minute, Met}} {
		d := moistDiary(t, "quarter-90", Humidity)
		s := cook(d)
		for m := time.Duration(0); m <= 6*hour; m += minute {
			rh := 40.0
			if m < c.moist {
				rh = 92
			}
			d.read("moist", s+m, rh)
			d.read("core", s+m, 20+40*m.Hours()/6)
		}
		d.stage(s+6*hour, StageChill)
		if got := d.clock(ClockHumidity); got.Verdict != c.want {
			t.Errorf("%s: %+v", c.moist, got)
		}
	}
}

// A gap of the probe earns nothing.
func TestHumidityGapEarnsNothing(t *testing.T) {
	d := moistDiary(t, "quarter-90", Humidity)
	s := cook(d)
	d.line("moist", s, s+20*minute, minute, 95, 95)
	d.line("moist", s+80*minute, s+100*minute, minute, 95, 95)
	d.want(ClockHumidity, 40.0/60, Running)
}

// The wet bulb of jerky, 125 °F for an hour; and a wet bulb read as humidity: 90 °C dry
// and 85 °C wet is 82 % by ASHRAE's equation (PsychroLib 1.1.1), under 90 %.
func TestWetBulbOptions(t *testing.T) {
	for _, c := range []struct {
		option     string
		dry, wet   float64
		minutes    time.Duration
		want       float64 // hours earned
		wantByRule Verdict
	}{
		{"jerky-wet-bulb", 76, 52, 61, 61.0 / 60, Met},
		{"jerky-wet-bulb", 76, 51, 61, 0, NotMet},
		{"quarter-90", 90, 85, 120, 0, NotMet},
		{"quarter-90", 90, 88.5, 120, 119.0 / 60, Met}, // the first minute has no humidity before it
	} {
		d := moistDiary(t, c.option, WetBulb)
		s := cook(d)
		for m := time.Duration(0); m <= c.minutes; m++ {
			d.read("chamber", s+m*minute, c.dry)
			d.read("moist", s+m*minute, c.wet)
			d.read("core", s+m*minute, 30)
		}
		d.stage(s+c.minutes*minute, StageChill)
		d.want(ClockHumidity, c.want, c.wantByRule)
	}
}

// dryDiary is a country ham that hangs.
func dryDiary(t *testing.T) *diary {
	d := newDiary(t)
	d.batch.Plan.Drying = DryingRule{Loss: 0.18, Stages: []StageName{StageRest}}
	d.stage(day, StageRinse)
	d.stage(day, StageSmoke)
	d.stage(2*day, StageRest)
	return d
}

func (d *diary) weigh(after time.Duration, grams float64) {
	d.t.Helper()
	d.say(after, Command{Kind: CommandWeighed, Value: grams})
}

func TestDryingByWeight(t *testing.T) {
	d := dryDiary(t)
	if v := d.clock(ClockDrying).Verdict; v != Running {
		t.Errorf("before any weighing: %q", v)
	}
	d.weigh(2*day, 2150)
	d.weigh(12*day, 1950)
	d.want(ClockDrying, 100*(1-1950.0/2268), Running)
	f := d.batch.DryingForecasts()
	if len(f) != 1 || f[0].Promised || !f[0].At.After(noon.Add(12*day)) || f[0].Low.After(f[0].At) || f[0].High.Before(f[0].At) {
		t.Fatalf("forecast %+v", f)
	}
	d.weigh(20*day, 1850)
	d.want(ClockDrying, 100*(1-1850.0/2268), Met)
}

func TestUnweighedIsNotMeasured(t *testing.T) {
	d := dryDiary(t)
	d.stage(20*day, StageChill)
	if got := d.clock(ClockDrying); got.Verdict != NotMeasured {
		t.Errorf("%+v", got)
	}
}

func TestWeighingsThatCannotBe(t *testing.T) {
	d := dryDiary(t)
	for _, grams := range []float64{0, -5, 18.5, 18500, 3500} {
		c := Command{Kind: CommandWeighed, By: "T.V.", At: noon.Add(3 * day), Value: grams}
		if err := Check(d.batch, c, c.At); err == nil {
			t.Errorf("%g g was taken", grams)
		}
	}
}

// A scale under the piece weighs now and then; the same clock follows.
func TestScale(t *testing.T) {
	d := dryDiary(t)
	d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "scale", Placement: Weight, Piece: "A", Interval: hour}, d.batch.Plan))
	d.line("scale", 2*day, 12*day, hour, 2150, 1800)
	if n := len(d.batch.weighings("A")); n != 41 {
		t.Errorf("%d weighings in ten days, want one each 6 h", n)
	}
	d.want(ClockDrying, 100*(1-1800.0/2268), Met)
}

// Water 0.65, protein 0.19, salt 5 %, 18 % lost: by cure.Product, which is checked
// against its own table.
func TestWaterActivityIsAnEstimate(t *testing.T) {
	d := dryDiary(t)
	d.batch.Plan.Cure.Water, d.batch.Plan.Cure.SaltPct, d.batch.Plan.Drying.Protein = 0.65, 5, 0.19
	d.weigh(20*day, 0.82*2268)
	e := d.estimate("water activity")
	if !(e.Value > 0.85 && e.Value < 0.97) || e.High-e.Low < 0.02 || e.Provenance != "memory" {
		t.Errorf("%+v", e)
	}
}

// Counted after the chill: one is missing until it is found.
func TestAPieceIsMissing(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.say(s, Command{Kind: CommandCounted, Value: 0}) // in the smoker: not yet asked
	d.wantSeen(MeasureMissing, s+minute, Over, 0)
	d.stage(s+hour, StageChill)
	d.say(s+3*hour, Command{Kind: CommandCounted, Value: 0})
	d.wantSeen(MeasureMissing, s+3*hour, Known, 1)
	d.say(s+4*hour, Command{Kind: CommandCounted, Value: 1})
	d.wantSeen(MeasureMissing, s+4*hour, Known, 0)
}

func TestKeepingTime(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Keep = KeepRule{Days: 7, Rule: "a week", Source: "test"}
	d.batch.Plan.Stages = append(d.batch.Plan.Stages, StagePlan{Name: StagePack, Where: WhereRoom, Button: true})
	s := cook(d)
	d.stage(s+hour, StageChill)
	d.stage(s+2*hour, StagePack)
	d.wantSeen(MeasureKeepLeft, s+2*hour+4*day, Known, 3)
	d.want(ClockKeep, 4, Running)
	d.tick(s + 2*hour + 8*day)
	d.want(ClockKeep, 8, NotMet)
}

// A dry sock earns nothing, and leaves the clock not measured.
func TestADrySockEarnsNothing(t *testing.T) {
	d := moistDiary(t, "jerky-wet-bulb", WetBulb)
	s := cook(d)
	for m := range 180 {
		wet := 52.2
		if m >= 30 {
			wet = 75.8
		}
		d.read("chamber", s+time.Duration(m)*minute, 76)
		d.read("moist", s+time.Duration(m)*minute, wet)
		d.read("core", s+time.Duration(m)*minute, 30)
	}
	d.stage(s+3*hour, StageChill)
	if c := d.clock(ClockHumidity); c.Verdict != NotMeasured || c.Sum > 0.55 {
		t.Errorf("%+v", c)
	}
}
