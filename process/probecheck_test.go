package process

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

const month = 30 * day

// A bench is a fridge with one slow probe that is to be checked each month.
func newBench() *Place {
	return NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Place: "alder", Placement: Product, Interval: 5 * time.Minute, CheckEvery: month}}, noon)
}

func (p *Place) inIce(after time.Duration, readC float64) []Finding {
	c := Command{Kind: CommandChecked, By: "T.V.", At: noon.Add(after), Typed: noon.Add(after), Check: &CheckSaid{Probe: "slow", Method: CheckIce, ReadC: readC}}
	return StepPlace(p, Input{Kind: InputCommand, At: c.At, Command: c}, nil)
}

// minute tells a reading and the minute, and returns the days past the check.
func (p *Place) minute(after time.Duration) (days float64, state State, told bool) {
	at := noon.Add(after)
	StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: 3.5}}, nil)
	for _, f := range StepPlace(p, Input{Kind: InputTick, At: at}, nil) {
		if f.Measure == MeasureCheck {
			return f.Value, f.State, true
		}
	}
	return 0, 0, false
}

func TestWhatPassesInIce(t *testing.T) {
	// 30 to 34 °F are accepted, written out in °F a second time.
	for f, good := range map[float64]bool{29.9: false, 30: true, 32: true, 34: true, 34.1: false, 37: false} {
		if c := (CheckSaid{Probe: "slow", Method: CheckIce, ReadC: (f - 32) / 1.8}); c.Good() != good {
			t.Errorf("%g °F in ice: good %v", f, c.Good())
		}
	}
	if c := (CheckSaid{Method: CheckCompare, ReadC: 61.9, TrueC: 61}); !c.Good() || math.Abs(c.Points()[0].OffK()-0.9) > 1e-9 {
		t.Errorf("beside a thermometer: %v, %.2f K", c.Good(), c.Points()[0].OffK())
	}
}

func TestACheckFallsDue(t *testing.T) {
	p := newBench()
	if due := p.Probe("slow").Due(); !due.IsZero() {
		t.Errorf("due %s before it was ever heard", due)
	}
	for _, c := range []struct {
		after time.Duration
		want  float64
	}{{0, -30}, {29 * day, -1}, {30 * day, 0}, {32 * day, 2}} {
		if days, state, told := p.minute(c.after); !told || state != Known || math.Abs(days-c.want) > 0.01 {
			t.Errorf("after %s: %.2f days past, state %v, told %v", c.after, days, state, told)
		}
	}
	p.inIce(32*day, 0.3)
	if days, _, _ := p.minute(32*day + hour); math.Abs(days+30) > 0.1 {
		t.Errorf("checked, and %.2f days past", days)
	}
	found := StepPlace(p, Input{Kind: InputTick, At: noon.Add(70 * day)}, nil)
	if i := slices.IndexFunc(found, func(f Finding) bool { return f.Measure == MeasureCheck }); i < 0 || found[i].State != Over {
		t.Errorf("a probe that was put away: %+v", found)
	}
	p.Probes[0].Probe.CheckEvery = 0
	if days, _, told := p.minute(71 * day); told && days >= 0 {
		t.Errorf("nobody asks for checks, and %.2f days past", days)
	}
}

func TestAFailedCheckStandsUntilAGoodOne(t *testing.T) {
	p := newBench()
	p.minute(0)
	if found := p.inIce(hour, 2.8); len(found) != 1 || found[0].Value != CheckFailed || found[0].Subject != "probe slow of fridge alder" {
		t.Fatalf("found %+v", found)
	}
	if days, _, _ := p.minute(2 * hour); days != CheckFailed {
		t.Errorf("an hour later %.2f", days)
	}
	p.minute(3 * hour)
	if found := p.inIce(3*hour, -0.2); len(found) != 1 || found[0].Value >= 0 {
		t.Errorf("after a good one %+v", found)
	}
	p.inIce(2*hour+minute, 5) // typed late: the newest by its time counts
	if p.Probe("slow").Failed() != nil || len(p.Probe("slow").Checks) != 3 {
		t.Errorf("checks %+v", p.Probe("slow").Checks)
	}
}

// All since the last good check is in doubt, until the next good one.
func TestWhatAFailedCheckPutsInDoubt(t *testing.T) {
	p := newBench()
	p.inIce(10*day, 0.2)
	p.inIce(40*day, 2.8)
	p.inIce(41*day, 0.1)
	p.inIce(70*day, -3)
	slow := p.Probe("slow")
	for _, c := range []struct {
		from, to time.Duration
		want     time.Duration // of the failed check; 0: nothing is in doubt
	}{
		{0, 9 * day, 0}, {0, 11 * day, 40 * day}, {12 * day, 20 * day, 40 * day}, {40*day + hour, 40*day + 2*hour, 40 * day},
		{42 * day, 50 * day, 70 * day}, {71 * day, 80 * day, 70 * day}, {9 * day, 50 * day, 40 * day},
	} {
		bad := slow.InDoubt(noon.Add(c.from), noon.Add(c.to))
		if got := bad != nil; got != (c.want > 0) || got && !bad.At.Equal(noon.Add(c.want)) {
			t.Errorf("%s to %s: %+v, want the check after %s", c.from, c.to, bad, c.want)
		}
	}
	if c := slow.LastGood(noon.Add(50 * day)); c == nil || !c.At.Equal(noon.Add(41*day)) {
		t.Errorf("last good %+v", c)
	}
	if c := newBench().Probe("slow").LastGood(noon); c != nil {
		t.Errorf("a probe never checked: %+v", c)
	}
}

func TestWhichBatchesAProbeHasServed(t *testing.T) {
	p := newBench()
	begin := func(batch, probe string) {
		c := Command{Kind: CommandNew, Batch: batch, New: &NewBatch{Probes: []PlacedProbe{{Probe: probe}}}}
		StepPlace(p, Input{Kind: InputCommand, At: noon, Command: c}, nil)
	}
	begin("OL-1", "slow")
	begin("OL-2", "other")
	begin("OL-3", "slow")
	open := func(batch string) bool { return batch == "OL-3" }
	slow := p.Probe("slow")
	p.inIce(hour, 2.8)
	p.Trust("slow", open)
	if got := strings.Join(slow.Served, " "); got != "OL-1 OL-3" {
		t.Errorf("in doubt: %s", got)
	}
	p.inIce(2*hour, 0)
	p.Trust("slow", open)
	if got := strings.Join(slow.Served, " "); got != "OL-3" {
		t.Errorf("after a good check: %s", got)
	}
}

func TestChecksThatAreRefused(t *testing.T) {
	for want, spoil := range map[string]func(*Command){
		"nobody signed":           func(c *Command) { c.By = " " },
		"without its probe":       func(c *Command) { c.Check.Probe = "" },
		"has not happened yet":    func(c *Command) { c.At = noon.Add(hour) },
		"\"tongue\" is no way":    func(c *Command) { c.Check.Method = "tongue" },
		"ice water is at 0 °C":    func(c *Command) { c.Check.TrueC = 1 },
		"NaN °C read":             func(c *Command) { c.Check.ReadC = math.NaN() },
		"the text has 3000 chara": func(c *Command) { c.Text = strings.Repeat("x", 3000) },
	} {
		c := Command{Kind: CommandChecked, By: "T.V.", At: noon, Check: &CheckSaid{Probe: "slow", Method: CheckIce}}
		if err := CheckOfProbe(c, noon); err != nil {
			t.Fatal(err)
		}
		spoil(&c)
		err := CheckOfProbe(c, noon)
		if no := new(Refusal); !errors.As(err, &no) || !strings.Contains(err.Error(), want) || no.Hint == "" {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

func TestDoubtOnClocks(t *testing.T) {
	clocks := []Clock{{Name: ClockCure, Verdict: Met}, {Name: ClockTurn}, {Name: ClockChillB}}
	DoubtClocks(clocks, Product, "why")
	if len(clocks[0].Uncertain) != 1 || clocks[0].Verdict != Met || len(clocks[1].Uncertain)+len(clocks[2].Uncertain) != 0 {
		t.Errorf("%+v", clocks)
	}
}
