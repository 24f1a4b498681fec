package process

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"
	"time"

	"flitch/ingest/signal"
)

// smoke reads chamber and core each minute; core gives the core's value.
func smoke(d *diary, from time.Duration, minutes int, core func(m int) float64) {
	for m := range minutes {
		at := from + time.Duration(m)*minute
		d.read("chamber", at, 110)
		d.read("core", at, core(m))
	}
}

// rising is a core that rises a tenth of a degree a minute with a little noise.
func rising(m int) float64 { return 50 + 0.1*float64(m) + 0.1*float64(m%3) }

func (d *diary) told(name string) (out []Happening) {
	for _, h := range d.batch.Happenings {
		if h.Name == name {
			out = append(out, h)
		}
	}
	return out
}

// A single wrong reading of 85 °C would meet the row of 70 °C at once.
func TestASpikeEarnsNothing(t *testing.T) {
	for _, every := range []time.Duration{minute, 5 * time.Second} {
		d := newDiary(t)
		s := cook(d)
		for n := range 200 {
			v := 60.0 + float64(n%3)/10
			if n == 100 {
				v = 85
			}
			d.read("core", s+time.Duration(n)*every, v)
		}
		if c := d.clock(ClockLethality); c.Verdict == Met && c.Limit == 0 || len(d.told(Spike)) != 1 {
			t.Errorf("every %s: %+v, told %+v", every, c, d.batch.Happenings)
		}
		if d.batch.track("core").Bad != 1 {
			t.Errorf("%d bad", d.batch.track("core").Bad)
		}
	}
}

// A lone spike in a fridge is no time out of the cold, nor a finding.
func TestASpikeInTheFridge(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, hour, 5*minute, 3, 3)
	d.read("slow", 65*minute, 20)
	d.line("slow", 70*minute, 2*hour, 5*minute, 3, 3)
	d.want(ClockCold, 0, Running)

	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Place: "alder", Placement: Product, Interval: 5 * minute}}, noon)
	for i, v := range []float64{3, 3, 20, 3, 3} {
		at := noon.Add(time.Duration(i) * 5 * minute)
		for _, f := range StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: v}}, nil) {
			if f.Value == 20 {
				t.Errorf("a spike was found: %+v", f)
			}
		}
	}
}

// A probe that hangs in the smoke for ten minutes reads hot enough for every row.
func TestAPulledProbeEarnsNothing(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	smoke(d, s, 180, func(m int) float64 {
		if m >= 100 && m < 110 {
			return 108 + float64(m%2)
		}
		return 50 + 0.04*float64(m) + 0.1*float64(m%3)
	})
	out := d.told("probe-out")
	if len(out) != 1 || out[0].To.IsZero() {
		t.Fatalf("told %+v", d.batch.Happenings)
	}
	core := d.batch.track("core")
	if c := d.clock(ClockLethality); c.Verdict == Met || core.Lethal.Highest > 70 || core.Last.Value > 70 {
		t.Errorf("%+v, highest %.1f", c, core.Lethal.Highest)
	}
	if n := flaggedFor(core, signal.Rate); n < 10 || n > 20 || core.Bad != n+flaggedFor(core, signal.AboveAir) {
		t.Errorf("%d flagged, %d bad: %+v", n, core.Bad, core.Flagged)
	}
	if core.GapCount != 1 || core.Longest < 10*minute {
		t.Errorf("%d gaps, the longest %s, want one of at least the 10 min it was out", core.GapCount, core.Longest)
	}
}

// A probe that sticks at 66 °C would hold any row; its twenty minutes are taken back.
func TestAStuckProbeEarnsNothing(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	smoke(d, s, 160, rising)
	smoke(d, s+160*minute, 40, func(int) float64 { return 66.9 })
	if len(d.told("stuck")) != 1 {
		t.Fatalf("told %+v", d.batch.Happenings)
	}
	if v := d.batch.track("core").Last; v.At.After(noon.Add(s + 161*minute)) {
		t.Errorf("the newest believed reading is of %s", v.At)
	}
	if core := d.batch.track("core"); flaggedFor(core, signal.Flat) < 38 || flaggedFor(core, signal.Flat) > 40 {
		t.Errorf("flagged %+v", core.Flagged)
	}
	d.stage(s+200*minute, StageChill)
	sum := d.clock(ClockLethality).Sum
	live := newDiary(t)
	s = cook(live)
	smoke(live, s, 161, rising)
	if want := live.clock(ClockLethality).Sum; sum > want+1e-9 {
		t.Errorf("stuck: %.2f min, before it stuck %.2f", sum, want)
	}
}

// In the chill, a probe that falls out of the meat into cold air must not end a leg.
func TestAPulledProbeEndsNoLeg(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	smoke(d, s, 200, func(m int) float64 { return math.Min(66, 40+float64(m)*0.2) + 0.1*float64(m%3) })
	d.stage(s+200*minute, StageChill)
	for m := 200; m < 300; m++ {
		v := 66 - 0.1*float64(m-200)
		if m >= 230 {
			v = 4
		}
		d.read("core", s+time.Duration(m)*minute, v+0.05*float64(m%2))
	}
	if leg := d.batch.track("core").Legs[0]; !leg.End.IsZero() {
		t.Errorf("%+v, told %+v", leg, d.batch.Happenings)
	}
}

// What a batch knows of its probes survives the way over the stored form.
func TestWatchesSurviveARestart(t *testing.T) {
	a, b := newDiary(t), newDiary(t)
	cook(b)
	s := cook(a)
	for m := range 240 {
		v := rising(m)
		if m > 100 && m < 115 {
			v = 105
		}
		for _, d := range []*diary{a, b} {
			d.read("chamber", s+time.Duration(m)*minute, 110)
			d.read("core", s+time.Duration(m)*minute, v)
		}
		state, err := json.Marshal(b.batch)
		if err != nil {
			t.Fatal(err)
		}
		b.batch = new(Batch)
		if err := json.Unmarshal(state, b.batch); err != nil {
			t.Fatal(err)
		}
	}
	if got, want := b.batch.Clocks(b.batch.Now), a.batch.Clocks(a.batch.Now); !reflect.DeepEqual(got, want) {
		t.Errorf("restarted each minute:\n%+v\nnever:\n%+v", got, want)
	}
	if !reflect.DeepEqual(a.batch.Happenings, b.batch.Happenings) || len(a.batch.Happenings) == 0 {
		t.Errorf("told %+v, restarted %+v", a.batch.Happenings, b.batch.Happenings)
	}
}
