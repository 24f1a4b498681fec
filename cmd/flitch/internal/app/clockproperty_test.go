package app

import (
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/steady"
	"flitch/process"

	"pgregory.net/rapid"
)

// Whatever the clock of the machine does in a cook and its chill, no clock of the batch is
// better than it would be by a true one; and it is the same when the sensors tell the time.
func TestNoJumpMakesAVerdictBetter(t *testing.T) {
	s := newShop(t)
	plan, err := resolve(s.cfg, Request{Plan: cooked, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		t.Fatal(err)
	}
	runs := 20
	if text := os.Getenv("FLITCH_CLOCK_RUNS"); text != "" {
		if runs, err = strconv.Atoi(text); err != nil {
			t.Fatal(err)
		}
	}
	jumped, met := 0, 0
	for seed := range runs {
		c := cooks.Example(seed)
		jumped += len(c.jumps)
		truth := cookBy(plan, c, steadily, nil)
		for name, got := range cookBy(plan, c, steadily, c.jumps) {
			right := truth[name]
			if right.Verdict == process.Met {
				met++
			}
			if got.Verdict == process.Met && right.Verdict != process.Met {
				t.Errorf("run %d %+v: %s is met (%v), and %q by a true clock (%v)", seed, c, name, got.Sum, right.Verdict, right.Sum)
			}
			if name == process.ClockLethality && got.Sum > right.Sum+1 {
				t.Errorf("run %d %+v: lethality %v min, %v by a true clock", seed, c, got.Sum, right.Sum)
			}
			if c.device && got.Verdict != right.Verdict {
				t.Errorf("run %d %+v: %s is %q (%v), and %q by a true clock (%v), although the sensors tell the time", seed, c, name, got.Verdict, got.Sum, right.Verdict, right.Sum)
			}
		}
	}
	t.Logf("%d jumps in %d cooks, %d clocks met", jumped, runs, met)
	if jumped == 0 || met == 0 {
		t.Fatal("no clock jumped, or none was ever met")
	}
}

// The control: by a clock that is followed whatever it says, three hours of a slow come-up
// vanish.
func TestAClockThatIsFollowedBackLosesDanger(t *testing.T) {
	s := newShop(t)
	plan, err := resolve(s.cfg, Request{Plan: cooked, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		t.Fatal(err)
	}
	slow := aCook{hot: 60, pace: 4}
	back := map[int]time.Duration{150: -3 * time.Hour}
	right := cookBy(plan, slow, steadily, nil)[process.ClockComeUp].Sum
	if got := cookBy(plan, slow, steadily, back)[process.ClockComeUp].Sum; got < right-0.1 {
		t.Errorf("by the clock of the house the come-up took %.2f h, by a true one %.2f h", got, right)
	}
	if got := cookBy(plan, slow, blindly, back)[process.ClockComeUp].Sum; got > right-1 {
		t.Errorf("by a clock that is followed back the come-up took %.2f h, by a true one %.2f h: this test cannot fail", got, right)
	}
}

// aCook is one cook with its jumps, by the minute.
type aCook struct {
	hot, pace float64 // °C the core would come to, h of its approach
	jumps     map[int]time.Duration
	device    bool // sensors have clocks, and they are right
}

var cooks = rapid.Custom(func(t *rapid.T) aCook {
	return aCook{rapid.Float64Range(55, 75).Draw(t, "hottest core"), rapid.Float64Range(0.6, 3).Draw(t, "pace"),
		rapid.MapOfN(rapid.IntRange(5, 540), rapid.SampledFrom([]time.Duration{-24 * time.Hour, -3 * time.Hour, -20 * minute, -3 * minute,
			3 * minute, 20 * minute, 3 * time.Hour, 24 * time.Hour, 30 * 365 * 24 * time.Hour}), 1, 6).Draw(t, "jumps"), rapid.Bool().Draw(t, "sensors have clocks")}
})

// How a house takes what the clock of its machine says.
const (
	steadily = false
	blindly  = true
)

// cookBy runs a cook of five hours and a chill of five on a machine whose clock jumps at
// some minutes.
func cookBy(plan process.NewBatch, c aCook, blind bool, jumps map[int]time.Duration) map[process.ClockName]process.Clock {
	m := newTestMachine(dawn)
	clock := steady.New(m, time.Time{}, made)
	say := func(c process.Command) process.Input {
		c.ID, c.By, c.Batch, c.Typed = "x", "T.V.", "PS-02", clock.Now()
		if c.At.IsZero() {
			c.At = c.Typed
		}
		return process.Input{Kind: process.InputCommand, At: c.Typed, Command: c}
	}
	b := process.Start(say(process.Command{Kind: process.CommandNew, New: &plan}))
	var found []process.Finding
	step := func(in process.Input) { found = process.Step(b, in, found[:0]) }
	for _, stage := range plan.Plan.Stages[1:] {
		step(say(process.Command{Kind: process.CommandStage, Stage: stage.Name}))
		if stage.Name == process.StageCook {
			break
		}
	}
	core, chill := 10.0, false
	for i := 1; i <= 600; i++ {
		m.pass(minute)
		m.jump(jumps[i])
		now := dawn.Add(time.Duration(i) * minute)
		if c.device {
			clock.Witness("core", now, true)
		}
		for _, n := range clock.Notices() {
			step(say(process.Command{Kind: process.CommandFault, At: n.From, Clock: &process.ClockWord{Kind: process.ClockKind(n.Kind), From: n.From, To: n.To, Since: n.Since}}))
			if n.Kind == steady.Followed {
				clock.Follow()
			}
		}
		if i == 301 {
			step(say(process.Command{Kind: process.CommandStage, Stage: process.StageRest}))
			step(say(process.Command{Kind: process.CommandStage, Stage: process.StageChill}))
			chill = true
		}
		aim := c.hot
		if chill {
			aim = 2
		}
		core += (aim - core) * (1 - math.Exp(-1/60.0/c.pace))
		at := clock.Now()
		if blind {
			at = m.Wall()
		}
		for probe, value := range map[string]float64{"core": core, "chamber": 80} {
			r := process.Reading{Probe: probe, Measured: at, Received: at, Value: value}
			if c.device {
				r.Measured, r.Device = now, now
			}
			if !chill || probe == "core" {
				step(process.Input{Kind: process.InputReading, At: at, Reading: r})
			}
		}
		step(process.Input{Kind: process.InputTick, At: at})
	}
	step(say(process.Command{Kind: process.CommandClose}))
	out := map[process.ClockName]process.Clock{}
	for _, clock := range b.Clocks(b.Now) {
		out[clock.Name] = clock
	}
	return out
}
