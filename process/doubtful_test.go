package process

import (
	"math"
	"testing"
	"time"

	"flitch/ingest/signal"
)

func flaggedFor(t *Track, f signal.Fault) int64 {
	for _, one := range t.Flagged {
		if one.Reason == f.String() {
			return one.Count
		}
	}
	return 0
}

func findingOf(found []Finding, m Measure, subject string) (f Finding, ok bool) {
	for _, one := range found {
		if one.Measure == m && (subject == "" || one.Subject == subject) {
			f, ok = one, true
		}
	}
	return f, ok
}

// A soaked probe climbs over the air that heats it, a little each minute: no jump, and no
// meat. It earns nothing, and is silent.
func TestACoreAboveItsAir(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	for m := range 200 {
		at := s + time.Duration(m)*minute
		d.read("chamber", at, 70+0.3*float64(m%3))
		d.read("core", at, min(40+0.3*float64(m)+0.1*float64(m%3), 90))
	}
	core := d.batch.track("core")
	if core.Last.Value > 70.6+aboveAirK+core.Probe.Uncertainty {
		t.Errorf("%+v was believed in air of 70.6 °C", core.Last)
	}
	if n := flaggedFor(core, signal.AboveAir); n < 30 || core.Bad < n {
		t.Errorf("%d flagged, %d bad: %+v", n, core.Bad, core.Flagged)
	}
	if c := d.clock(ClockLethality); c.Verdict == Met {
		t.Errorf("%+v", c)
	}
	d.found = d.found[:0]
	d.tick(s + 200*minute)
	if f, _ := findingOf(d.found, MeasureSilenceHot, core.subject(d.batch)); f.Value < 0 {
		t.Errorf("a core that cannot be is no silence: %+v", f)
	}
}

// Meat is warmer than a chamber whose fire went out, and stays believed.
func TestACoreAboveALostFire(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	for m := range 180 {
		at := s + time.Duration(m)*minute
		d.read("chamber", at, 20+90*math.Exp(-max(0, float64(m-60))/30)+0.2*float64(m%2))
		d.read("core", at, 60-0.02*float64(m)+0.1*float64(m%3))
	}
	if core := d.batch.track("core"); flaggedFor(core, signal.AboveAir) != 0 || core.Last.At != noon.Add(s+179*minute) {
		t.Errorf("flagged %+v", core.Flagged)
	}
}

// A thick piece cannot rise 3 K a minute; a probe that slides out does. What it read on
// the way earns nothing.
func TestACoreFasterThanItsSize(t *testing.T) {
	for _, c := range []struct {
		mm   float64
		told bool
	}{{76, true}, {6, false}} {
		d := newDiary(t)
		d.log[0].Command.New.Pieces[0].ThicknessMM = c.mm
		d.batch = Start(d.log[0])
		s := cook(d)
		for m := range 120 {
			at := s + time.Duration(m)*minute
			d.read("chamber", at, 110+0.3*float64(m%3))
			d.read("core", at, 45+0.05*float64(m)+0.1*float64(m%3)+2*max(0, min(10, float64(m-100))))
		}
		out := d.told("probe-out")
		if (len(out) == 1) != c.told {
			t.Fatalf("%g mm: told %+v, limit %.2f K/min", c.mm, d.batch.Happenings, d.batch.rateLimit(d.batch.track("core")))
		}
		core := d.batch.track("core")
		if c.told && (core.Last.Value > 52.5 || core.Lethal.Highest > 52.5) {
			t.Errorf("%g mm: %+v, highest %.1f", c.mm, core.Last, core.Lethal.Highest)
		}
	}
}

// The limit is twice the ceiling of the piece, at least 0.5 K/min, and the usual one for
// a size nobody gave.
func TestRateLimitOfASize(t *testing.T) {
	for mm, want := range map[float64]struct{ low, high float64 }{1: {2.5, 2.5}, 6: {10, 25}, 38: {2.2, 4.5}, 150: {0.5, 0.7}, 400: {0.5, 0.5}} {
		d := newDiary(t)
		d.log[0].Command.New.Pieces[0].ThicknessMM = mm
		d.batch = Start(d.log[0])
		cook(d)
		if got := d.batch.rateLimit(d.batch.track("core")); got < want.low || got > want.high {
			t.Errorf("%g mm: %.2f K/min, want %.2f to %.2f", mm, got, want.low, want.high)
		}
	}
}

// The sock runs dry: what the wet bulb reads from then on is left out, and told.
func TestADrySock(t *testing.T) {
	d := newDiary(t)
	probes := append(d.log[0].Command.New.Probes, PlacedProbe{Probe: "wick", Place: "kettle", Placement: WetBulb, Interval: minute})
	d.log[0].Command.New.Probes = probes
	d.log[0].Command.New.Plan.Humidity = HumidityRule{Option: "wb-60min-no-table", Rule: "wet bulb", Source: "test"}
	d.batch = Start(d.log[0])
	s := cook(d)
	for m := range 60 {
		at := s + time.Duration(m)*minute
		d.read("chamber", at, 77+0.1*float64(m%3))
		d.read("core", at, 20+0.2*float64(m))
		d.read("wick", at, 54+min(23, max(0, 2.3*float64(m-30)))+0.1*float64(m%3))
	}
	wick := d.batch.track("wick")
	if n := flaggedFor(wick, signal.DrySock); n < 15 || n > 22 || wick.Last.Value > 76.6 {
		t.Errorf("%d flagged, newest %v: %+v", n, wick.Last, wick.Flagged)
	}
	if !d.batch.drySock() {
		t.Error("nobody is told")
	}
}

// A fridge sensor that stood still for six hours tells nothing since it began: neither
// that it was cold, nor that the cure went on.
func TestAFridgeThatStandsStill(t *testing.T) {
	d, want := newDiary(t), newDiary(t)
	fine := func(d *diary, until time.Duration) {
		for at := time.Duration(0); at <= until; at += 5 * minute {
			d.read("slow", at, 3+0.1*float64(int(at/(10*minute))%4))
		}
	}
	fine(d, 24*hour)
	fine(want, 24*hour)
	d.line("slow", 24*hour+5*minute, 40*hour, 5*minute, 3.7, 3.7)
	want.read("slow", 24*hour+5*minute, 3.7)
	got, sum := d.batch.track("slow"), want.batch.track("slow")
	if got.Cure != sum.Cure || got.Cold != sum.Cold || got.Last != sum.Last || !got.Torn {
		t.Errorf("stood still: cure %+v, newest %v; before it did: %+v, %v", got.Cure, got.Last, sum.Cure, sum.Last)
	}
	if n := flaggedFor(got, signal.Flat); n != got.Sieve.Run.N-1 || n < 180 {
		t.Errorf("%d flagged of %d", n, got.Sieve.Run.N)
	}
	d.read("slow", 40*hour+5*minute, 3.9)
	d.read("slow", 40*hour+10*minute, 3.8)
	if got.Cold.Blind < 15*60 || got.Last.Value != 3.8 {
		t.Errorf("the time it stood still: %+v, newest %v", got.Cold, got.Last)
	}
	d.stage(120*hour, StageRinse)
	if c := d.clock(ClockCold); c.Verdict == Met {
		t.Errorf("%+v", c)
	}
}

// The place says nothing of the product while its sensor stands still: an alarm that
// rings goes on.
func TestStandingStillClearsNothing(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Place: "alder", Placement: Product, Interval: 5 * minute}}, noon)
	p.Occupied = true
	var last Finding
	for i := range 300 {
		at := noon.Add(time.Duration(i) * 5 * minute)
		v := 3 + 0.1*float64(i%5)
		if i > 150 {
			v = 3
		}
		found := StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: v}}, nil)
		last, _ = findingOf(found, MeasureOccupied, "")
	}
	if last.State != Unknown {
		t.Errorf("%+v", last)
	}
}

// A chamber that stands still is told as a stuck probe, and neither as a fire that burns
// nor as one that is out.
func TestAChamberThatStandsStill(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.found = nil
	for m := range 90 {
		at := s + time.Duration(m)*minute
		d.read("core", at, 20+0.2*float64(m)+0.1*float64(m%3))
		v := 100 + 0.7*float64(m%3)
		if m >= 50 {
			v = 99.4
		}
		d.found = d.found[:0]
		d.read("chamber", at, v)
		d.tick(at)
	}
	chamber := d.batch.track("chamber")
	if f, ok := findingOf(d.found, MeasureStuck, chamber.subject(d.batch)); !ok || f.State != Known || f.Value < 38 {
		t.Errorf("%+v", f)
	}
	for _, m := range []Measure{MeasureFlare, MeasureChamberOver, MeasureLid} {
		if f, ok := findingOf(d.found, m, ""); !ok || f.State != Unknown {
			t.Errorf("%+v", f)
		}
	}
	if _, ok := findingOf(d.found, MeasureChamberDeficit, ""); ok {
		t.Error("a deficit of a chamber that stands still")
	}
	if n := flaggedFor(chamber, signal.Flat); n != 39 || chamber.Last.At != noon.Add(s+50*minute) {
		t.Errorf("%d flagged, newest %v", n, chamber.Last)
	}
	d.read("chamber", s+90*minute, 101)
	if f, _ := findingOf(d.found, MeasureFlare, ""); chamber.Doubted() || f.State != Unknown && f.State != Known {
		t.Errorf("moves again: %+v", f)
	}
}

// A controller that holds to the degree stands still honestly.
func TestACoarseChamberMayStandStill(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	for m := range 180 {
		d.read("chamber", s+time.Duration(m)*minute, 100+float64(m/25%2))
		d.read("core", s+time.Duration(m)*minute, 20+0.2*float64(m))
	}
	if f := d.batch.track("chamber").Flagged; len(f) > 0 {
		t.Errorf("%+v", f)
	}
}

// A fire that rises faster than any smoker is in no sum, and is told with the second
// reading that shows it; a wire that opens once is never told.
func TestFlamesDoNotWait(t *testing.T) {
	for name, c := range map[string]struct {
		values []float64 // after an hour at 100 °C
		at     int       // index at which flames are told; -1: never
	}{
		"a fire, 31 °F a minute": {[]float64{117, 134, 151, 168}, 1},
		"70 K a minute":          {[]float64{170, 240, 310, 330}, 1},
		"80 K and 80 K again":    {[]float64{180, 260, 270}, 1},
		"a wire opens once":      {[]float64{320, 100.3, 100.1, 99.8}, -1},
		"twice in ten minutes":   {[]float64{320, 100.3, 100, 100.2, 330, 99.9, 100.4}, -1},
		"out of range":           {[]float64{1093, 1093, 1093, 1093}, -1},
	} {
		d := newDiary(t)
		s := cook(d)
		for m := range 60 {
			d.read("chamber", s+time.Duration(m)*minute, 100+0.4*float64(m%3))
		}
		told := -1
		for i, v := range c.values {
			d.found = d.found[:0]
			d.read("chamber", s+time.Duration(60+i)*minute, v)
			if f, ok := findingOf(d.found, MeasureFlare, ""); ok && f.State == Known && f.Value >= 0 && told < 0 {
				told = i
			}
		}
		if told != c.at {
			t.Errorf("%s: told with reading %d, want %d", name, told, c.at)
		}
	}
}

// A chamber that changes faster than it can is in no sum.
func TestTooFastIsInNoSum(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	for m, v := range []float64{100, 100.2, 100.1, 190, 195, 100.5, 100.2, 100.3} {
		d.read("chamber", s+time.Duration(m)*minute, v)
	}
	chamber := d.batch.track("chamber")
	if n := flaggedFor(chamber, signal.Rate); n != 2 { // up, and down
		t.Errorf("%d too fast: %+v", n, chamber.Flagged)
	}
}

// What was left out is kept by its times, as many as there is room for, and all counted.
func TestFlaggedIsCounted(t *testing.T) {
	var list []Flagged
	for i := range 200 {
		at := noon.Add(time.Duration(i) * minute)
		list = flag(list, signal.Spike, at, at, 1)
		if i%2 == 1 {
			believedNow(list, false)
		}
	}
	f := list[0]
	if f.Count != 200 || len(f.Spans) != maxSpans || f.More != 100-maxSpans || f.Last != noon.Add(199*minute) {
		t.Errorf("%d, %d spans and %d more", f.Count, len(f.Spans), f.More)
	}
	if FlaggedAt(list, noon.Add(30*time.Second)) != "spike" || FlaggedAt(list, noon.Add(90*time.Second)) != "" || FlaggedAt(list, noon.Add(minute)) != "spike" {
		t.Error("not by its times")
	}
}

// Thin meat is quick only while the air is much warmer: a strip at 60 °C cannot be at the
// 77 °C of its air a minute later.
func TestAStripThatFellOut(t *testing.T) {
	d := newDiary(t)
	d.log[0].Command.New.Pieces[0].ThicknessMM = 6
	d.batch = Start(d.log[0])
	s := cook(d)
	for m := range 90 {
		at := s + time.Duration(m)*minute
		d.read("chamber", at, 77+0.1*float64(m%3))
		core := 8 + 52*(1-math.Exp(-float64(m)/8)) // 5 K/min at first
		if m >= 70 {
			core = 76.5
		}
		d.read("core", at, core+0.1*float64(m%3))
	}
	if out := d.told("probe-out"); len(out) != 1 || out[0].From.Sub(noon.Add(s+70*minute)) > minute {
		t.Fatalf("told %+v", d.batch.Happenings)
	}
	if core := d.batch.track("core"); core.Lethal.Highest > 61 {
		t.Errorf("%.1f °C was believed", core.Lethal.Highest)
	}
}
