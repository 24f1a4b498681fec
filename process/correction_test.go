package process

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/testdata/published"
)

// judged is a check of the slow probe of the bench, as the daemon logs it.
func (p *Place) judged(after time.Duration, said CheckSaid) CheckSaid {
	said.Probe = "slow"
	said = p.Probe("slow").Judge(said, noon.Add(after))
	c := Command{Kind: CommandChecked, By: "T.V.", At: noon.Add(after), Typed: noon.Add(after), Check: &said}
	StepPlace(p, Input{Kind: InputCommand, At: c.At, Command: c}, nil)
	return said
}

func twoPoints(iceC, boilC, pa float64, further ...CheckPoint) CheckSaid {
	return CheckSaid{Method: CheckIce, ReadC: iceC, Correct: true, Further: append([]CheckPoint{{Method: CheckBoiling, ReadC: boilC, PressurePa: pa}}, further...)}
}

// The published two-point table through the door that people use, to 1e-4 °C.
func TestTwoPointsAsPublished(t *testing.T) {
	table, err := published.Read("two_point_calibration.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range table.Rows {
		said := newBench().judged(hour, twoPoints(row.Num(t, "reading_ice_C"), row.Num(t, "reading_boil_C"), row.Num(t, "P_Pa")))
		c := said.After()
		for what, off := range map[string]float64{
			"gain": c.Gain - row.Num(t, "gain"), "offset": c.OffsetC - row.Num(t, "offset_C"),
			"boils": said.Further[0].TrueC - row.Num(t, "T_boil_ref_C"), "corrected": c.Of(row.Num(t, "reading_C")) - row.Num(t, "corrected_C"),
		} {
			if !(math.Abs(off) <= 1e-4) || !said.Good() {
				t.Errorf("%s: %s is %g off, in use %v", row.Where(), what, off, said.Good())
			}
		}
	}
}

func TestWhatIsCorrectedAndWhatIsReplaced(t *testing.T) {
	const sea = 101_325
	for _, c := range []struct {
		what    string
		said    CheckSaid
		good    bool
		offset  float64
		verdict string
	}{
		{"within and left alone", CheckSaid{Method: CheckIce, ReadC: 1}, true, 0, "within 1.1 K"},
		{"off and not corrected", CheckSaid{Method: CheckIce, ReadC: 1.5}, false, 0, "out of use, not within 1.1 K"},
		{"one point", CheckSaid{Method: CheckIce, ReadC: 1.5, Correct: true}, true, -1.5, "corrected from then on, sent − 1.500 °C"},
		{"ice at its end", CheckSaid{Method: CheckIce, ReadC: -2, Correct: true}, true, 2, "sent + 2.000 °C"},
		{"ice beyond it", CheckSaid{Method: CheckIce, ReadC: 2.1, Correct: true}, false, 0, "out of use, too far off to be corrected: gain 1.000, 2.1 °C in ice; replace it"},
		{"beside a needle", CheckSaid{Method: CheckCompare, ReadC: 62, TrueC: 60.5, Correct: true}, true, -1.5, "sent − 1.500 °C"},
		{"gain at its end", twoPoints(0, 99.9743/1.0299, sea), true, 0, "1.02990 × sent"},
		{"gain beyond it", twoPoints(0, 99.9743/1.031, sea), false, 0, "gain 1.031"},
		{"gain below", twoPoints(0, 99.9743/0.969, sea), false, 0, "gain 0.969"},
		{"boiling below ice", twoPoints(1, 0.5, sea), false, 0, "replace it"},
		{"boiling as ice", twoPoints(1, 1, sea), false, 0, "replace it"},
		{"third point off", twoPoints(0, 99.9743, sea, CheckPoint{Method: CheckCompare, ReadC: 62, TrueC: 60}), false, 0, "not within 1.1 K"},
		{"a warm ice bath beside a needle", CheckSaid{Method: CheckIce, ReadC: 0.8, Correct: true, Further: []CheckPoint{{Method: CheckCompare, ReadC: 60, TrueC: 60.4}}}, false, 0, "not within"},
	} {
		p := newBench()
		said := p.judged(hour, c.said)
		if said.Good() != c.good || math.Abs(said.After().OffsetC-c.offset) > 1e-6 || !strings.Contains(said.Verdict(), c.verdict) {
			t.Errorf("%s: in use %v, %+v, %q", c.what, said.Good(), said.After(), said.Verdict())
		}
		if _, err := json.Marshal(said); err != nil {
			t.Errorf("%s cannot be logged: %v", c.what, err)
		}
		if failed := p.Probe("slow").Failed() != nil; failed == c.good {
			t.Errorf("%s: failed %v", c.what, failed)
		}
	}
}

// People read what flitch shows, corrected already; the correction is of what the probe
// sends, and its bounds too.
func TestACorrectionOnACorrection(t *testing.T) {
	p := newBench()
	p.judged(hour, twoPoints(0.4, 99.2, 101_325))
	gain := p.Probe("slow").InForce().Gain
	said := p.judged(30*day, CheckSaid{Method: CheckIce, ReadC: 0.7, Correct: true})
	if c := said.After(); c.Gain != gain || math.Abs(c.Of(0.4+0.7/gain)) > 1e-9 || said.Before().Gain != gain || said.Result.Adjusted != 2 {
		t.Errorf("%+v", said.Result)
	}
	said = p.judged(60*day, CheckSaid{Method: CheckIce, ReadC: 0.7, Correct: true})
	if !said.Good() || !strings.Contains(said.Words(), "corrected at 3 checks running: replace it") {
		t.Errorf("%s", said.Words())
	}
	said = p.judged(90*day, CheckSaid{Method: CheckIce, ReadC: 0.7, Correct: true}) // 2.4 K of what it sends
	if said.Good() {
		t.Errorf("drifted away step by step, and %s", said.Words())
	}
	if p.Probe("slow").InForce() != said.Before() {
		t.Error("a correction that was refused is in force")
	}
}

// What another probe is told of begins anew: no correction, and no doubt of the old one.
func TestAProbeThatWasReplaced(t *testing.T) {
	p := newBench()
	p.judged(day, twoPoints(0.4, 99.2, 101_325))
	slow := p.Probe("slow")
	shown := slow.InForce().Of(0.3) // the new one sends 0.3 °C in ice
	said := p.judged(2*day, CheckSaid{Method: CheckIce, ReadC: shown, Replaced: true})
	if !said.Good() || !slow.InForce().None() || math.Abs(said.Result.ResidualK-0.3) > 1e-9 || !strings.HasPrefix(said.Words(), "replaced, and the new one read") {
		t.Errorf("%s %+v", said.Words(), said.Result)
	}
	said = p.judged(3*day, CheckSaid{Method: CheckIce, ReadC: 1.8, Replaced: true, Correct: true})
	if c := slow.InForce(); !said.Good() || c.gain() != 1 || c.OffsetC != -1.8 || said.Result.Adjusted != 1 || slow.InDoubt(noon.Add(2*day), noon.Add(3*day)) != nil {
		t.Errorf("%s %+v", said.Words(), said.Result)
	}
	if said = p.judged(4*day, CheckSaid{Method: CheckIce, ReadC: 3, Replaced: true}); said.Good() || !slow.InForce().None() {
		t.Errorf("%s", said.Words())
	}
}

func TestUncertaintyOfACheck(t *testing.T) {
	const sea = 101_325
	third := func(readC float64) CheckPoint { return CheckPoint{Method: CheckCompare, ReadC: readC, TrueC: 60} }
	p := newBench()
	slow := p.Probe("slow")
	slow.Probe.Uncertainty = 0.5
	for i, c := range []struct {
		said CheckSaid
		want float64
	}{
		{CheckSaid{Method: CheckIce, ReadC: 0.2}, 0.5},    // less than configured
		{CheckSaid{Method: CheckIce, ReadC: -0.9}, 0.9},   // seen to be off by more, and left so
		{twoPoints(0, 99.9743, sea), 0.5},                 // no third point: as configured
		{twoPoints(0, 99.9743, sea, third(60.1)), 0.3},    // the floor
		{CheckSaid{Method: CheckIce, ReadC: 0.2}, 0.3},    // the third point is remembered
		{CheckSaid{Method: CheckIce, ReadC: 0.4}, 0.4},    // and what was seen since
		{twoPoints(0, 99.9743, sea, third(60.7)), 0.7},    // what the third point shows
		{CheckSaid{Method: CheckIce, Correct: true}, 0.5}, // a new correction knows nothing of it
		{twoPoints(0, 99.9743, sea, third(58.95)), 1.05},  //
		{CheckSaid{Method: CheckIce, ReadC: 3}, 3},        // out of use
	} {
		p.judged(time.Duration(i+1)*day, c.said)
		if got := slow.Uncertainty(); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("check %d: %.4f K, want %.2f", i, got, c.want)
		}
	}
}

// A probe found off and corrected is in use, and what it told before is in doubt.
func TestACorrectedProbePutsWhatWasBeforeInDoubt(t *testing.T) {
	p := newBench()
	p.judged(10*day, CheckSaid{Method: CheckIce, ReadC: 0.2})
	said := p.judged(40*day, CheckSaid{Method: CheckIce, ReadC: 1.8, Correct: true})
	slow := p.Probe("slow")
	for span, want := range map[[2]time.Duration]bool{{0, 9 * day}: false, {11 * day, 39 * day}: true, {40*day + hour, 50 * day}: false, {39 * day, 50 * day}: true} {
		if bad := slow.InDoubt(noon.Add(span[0]), noon.Add(span[1])); (bad != nil) != want {
			t.Errorf("%v: %+v", span, bad)
		}
	}
	if slow.Failed() != nil || slow.LastGood(noon.Add(41*day)).ReadC != 1.8 || !said.FoundOff() {
		t.Errorf("failed %+v", slow.Failed())
	}
}

// checked says a check of a probe in a diary, as the daemon logs it.
func (d *diary) checked(after, typed time.Duration, said CheckSaid) {
	bench := NewPlace("x", WhereFridge, []PlacedProbe{{Probe: said.Probe}}, noon)
	said = bench.Probes[0].Judge(said, noon.Add(after))
	d.take(Input{Kind: InputCommand, At: noon.Add(typed), Command: Command{Kind: CommandChecked, By: "T.V.", At: noon.Add(after), Typed: noon.Add(typed), Check: &said}})
}

// What is credited follows the correction and the uncertainty, from the check on.
func TestLethalityFollowsTheCheck(t *testing.T) {
	run := func(checks ...CheckSaid) *diary {
		d := newDiary(t)
		s := cook(d)
		d.line("core", s, s+4*hour, minute, 5, 61)
		for _, c := range checks {
			c.Probe = "core"
			d.checked(s+4*hour+time.Second, s+4*hour+time.Second, c)
		}
		d.line("core", s+4*hour+minute, s+5*hour, minute, 61, 61)
		return d
	}
	lethal := func(d *diary) float64 { return d.estimate("Salmonella").Value }
	plain := lethal(run())
	// One kelvin down from the check on is what a probe says that sends 60 °C from then on.
	low := newDiary(t)
	s := cook(low)
	low.line("core", s, s+4*hour, minute, 5, 61)
	low.line("core", s+4*hour+minute, s+5*hour, minute, 60, 60)
	if got, want := lethal(run(CheckSaid{Method: CheckIce, ReadC: 1, Correct: true})), lethal(low); got != want || got >= plain {
		t.Errorf("corrected down by 1 K: %.3f, want %.3f under %.3f", got, want, plain)
	}
	if got := lethal(run(CheckSaid{Method: CheckIce, ReadC: -1.05})); got >= plain {
		t.Errorf("seen to be off by 1.05 K: %.3f, of one that is within half a kelvin %.3f", got, plain)
	}
	third := CheckPoint{Method: CheckCompare, ReadC: 60, TrueC: 60}
	if got := lethal(run(twoPoints(0, 99.9743, 101_325, third))); got <= plain {
		t.Errorf("known to 0.3 K: %.3f, to half a kelvin %.3f", got, plain)
	}
	silent := newDiary(t)
	s = cook(silent)
	silent.line("core", s, s+4*hour, minute, 5, 61)
	out := run(CheckSaid{Method: CheckIce, ReadC: 5})
	if got := lethal(out); got > lethal(silent) || out.clock(ClockLethality).Verdict == Met {
		t.Errorf("out of use: %.3f %s", got, out.clock(ClockLethality).Verdict)
	}
	if core := out.batch.track("core"); core.Bad != 60 {
		t.Errorf("%d readings left out, want 60", core.Bad)
	}
}

// A check typed late gives, after the recount, what one typed in time gives; so does a
// batch that was stored in between.
func TestACheckTypedLate(t *testing.T) {
	story := func(typed time.Duration) *diary {
		d := newDiary(t)
		said := CheckSaid{Probe: "slow", Method: CheckIce, ReadC: 1.4, Correct: true}
		for at := time.Duration(0); at <= 2*day; at += 5 * minute {
			if typed > 0 && at > typed && at <= typed+5*minute {
				d.checked(day+minute, typed+time.Second, said)
			}
			d.read("slow", at, 5+math.Sin(at.Hours()))
		}
		return d
	}
	inTime, late, none := story(day+minute), story(day+9*hour), story(0)
	if inTime.batch.NeedsRecount || !late.batch.NeedsRecount {
		t.Fatalf("recount wanted: in time %v, late %v", inTime.batch.NeedsRecount, late.batch.NeedsRecount)
	}
	again := Recount(late.log[0], byEventTime(late.log[1:]))
	want, now := inTime.batch.Clocks(inTime.batch.Now), inTime.batch.Now
	if got := again.Clocks(now); !equalClocks(got, want) {
		t.Errorf("late:\n%+v\nin time:\n%+v", got, want)
	}
	if equalClocks(want, none.batch.Clocks(now)) {
		t.Error("the correction changed nothing: the test tests nothing")
	}
	if replay := Recount(inTime.log[0], byEventTime(inTime.log[1:])); !equalClocks(replay.Clocks(now), want) {
		t.Error("a recount of what came in time differs")
	}
}

// A batch begun after the check has it with it.
func TestABatchBeginsWithTheCheckInForce(t *testing.T) {
	p := newBench()
	p.judged(-2*day, CheckSaid{Method: CheckIce, ReadC: 0.1})
	p.judged(-day, CheckSaid{Method: CheckIce, ReadC: 1.5, Correct: true})
	d := newDiary(t)
	c := d.log[0].Command
	fresh := *c.New
	fresh.Probes = slices.Clone(fresh.Probes)
	fresh.Probes[0].Checks = p.Probe("slow").ChecksSince(noon)
	c.New = &fresh
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	c = Command{}
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	d.log[0].Command = c
	d.batch = Start(d.log[0])
	d.line("slow", 0, day, 5*minute, 5.5, 5.5)
	d.want(ClockCold, 0, Running)
	if last := d.batch.track("slow").Last.Value; last != 4 || len(d.batch.track("slow").Checks) != 1 {
		t.Errorf("sent 5.5, counted %g", last)
	}
}

// 85.0 is the first word of a one-wire sensor in what it sends, and not in what is made
// of it.
func TestCodesAreLookedForInWhatWasSent(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.checked(s, s, CheckSaid{Probe: "chamber", Method: CheckIce, ReadC: 0.5, Correct: true})
	for m, v := range []float64{78, 78, 85, 78, 78, 85.5, 85.5} {
		d.read("chamber", s+time.Duration(m+1)*minute, v)
	}
	chamber := d.batch.track("chamber")
	if chamber.Bad != 1 || chamber.Last.Value != 85 {
		t.Errorf("%d left out, last %g: 85.0 as sent is a code, 85.5 is 85 °C", chamber.Bad, chamber.Last.Value)
	}
}

// Commands that were logged before there were corrections read as they did.
func TestChecksOfOlderLogs(t *testing.T) {
	var said CheckSaid
	if err := json.Unmarshal([]byte(`{"probe":"slow","method":"ice","read_c":2.8,"true_c":0}`), &said); err != nil {
		t.Fatal(err)
	}
	if want := "read 2.8 °C in ice, where it was 0.0 °C: out of use, not within 1.1 K"; said.Good() || said.Words() != want || !said.After().None() {
		t.Errorf("%q", said.Words())
	}
}

func TestFurtherChecksThatAreRefused(t *testing.T) {
	for want, points := range map[string][]CheckPoint{
		"twice ice":              {{Method: CheckIce}},
		"is not from 500 to":     {{Method: CheckBoiling, ReadC: 99, PressurePa: 1013}},
		"does not boil at 20 °C": {{Method: CheckBoiling, ReadC: 99, TrueC: 20}},
		"8 points in one check":  slices.Repeat([]CheckPoint{{Method: CheckCompare, ReadC: 60, TrueC: 60}}, 7),
		"NaN °C read":            {{Method: CheckCompare, ReadC: math.NaN(), TrueC: 60}},
		"a pressure of":          {{Method: CheckCompare, ReadC: 60, TrueC: 60, PressurePa: 101_325}},
	} {
		c := Command{Kind: CommandChecked, By: "T.V.", At: noon, Check: &CheckSaid{Probe: "slow", Method: CheckIce, Further: points}}
		if err := CheckOfProbe(c, noon); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}
