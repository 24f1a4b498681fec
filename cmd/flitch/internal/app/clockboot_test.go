package app

import (
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// epoch is what a board without a clock says when it starts.
var epoch = time.Unix(7, 0).UTC()

// restart is a power cut of a length, after which the machine's clock says wall.
func (s *clockStory) powerCut(off time.Duration, wall func(truth time.Time) time.Time) {
	s.t.Helper()
	s.close()
	s.truth = s.truth.Add(off)
	s.machine.restart(wall(s.truth))
	s.open()
	s.settle()
}

// fridge lets minutes pass with a reading of the fridge each.
func (s *clockStory) fridge(minutes int, value float64) {
	s.t.Helper()
	for range minutes {
		s.machine.pass(minute)
		s.truth = s.truth.Add(minute)
		s.measure("slow", value)
		s.say("shop/spare", fmt.Sprint(value))
		s.settle()
	}
}

// The power fails in the chill; the board comes back five hours later in 1970, and the core
// is cold by then. Nobody knows how long that took until the clock is set, and then it is
// too long. Sensors that know the time tell it at once.
func TestABoardThatComesBackIn1970(t *testing.T) {
	t.Parallel()
	clocks := map[string]func(time.Time) time.Time{
		"1970":               func(time.Time) time.Time { return epoch },
		"an hour too early":  func(truth time.Time) time.Time { return truth.Add(-6 * time.Hour) },
		"what a file kept":   func(truth time.Time) time.Time { return truth.Add(-5*time.Hour + time.Second) },
		"as true as can be ": func(truth time.Time) time.Time { return truth },
	}
	for name, wall := range clocks {
		for _, device := range []bool{false, true} {
			for _, set := range []time.Duration{3 * minute, 40 * minute} {
				t.Run(fmt.Sprintf("%s/sensors have clocks %v/set after %v", name, device, set), func(t *testing.T) {
					s := newClockStory(t, device)
					s.open()
					s.begin(cooked)
					s.enter(cooked, process.StageCook)
					for range 30 {
						s.machine.pass(minute)
						s.truth = s.truth.Add(minute)
						s.measure("core", 66)
						s.measure("chamber", 80)
						s.settle()
					}
					s.enterNext(process.StageRest, process.StageChill)
					for i := range 8 { // from above the chill's first level towards it
						s.machine.pass(minute)
						s.truth = s.truth.Add(minute)
						s.measure("core", 60-float64(i))
						s.settle()
					}
					s.phone.heard()
					s.powerCut(5*time.Hour, wall)
					unset := wall(s.truth).Before(s.truth)
					var heard []string
					if name == "1970" && !s.until(func() bool { // the start has to come so far
						heard = append(heard, s.phone.heard()...)
						return slices.Contains(heard, "B6m raised tell")
					}) {
						t.Errorf("after the start in 1970 the phone heard %q", heard)
					}
					for range int(set / minute) {
						s.machine.pass(minute)
						s.truth = s.truth.Add(minute)
						s.measure("core", 4)
						s.settle()
					}
					for n, c := range s.sums() {
						if unset && strings.HasPrefix(string(n), "chill") && c.Verdict == process.Met {
							t.Errorf("before the clock is set, %s is met: %v h", n, c.Sum)
						}
					}
					s.machine.jump(s.truth.Sub(s.machine.Wall())) // the time server answers
					s.settle()
					for range 5 {
						s.machine.pass(minute)
						s.truth = s.truth.Add(minute)
						s.measure("core", 4)
						s.settle()
					}
					if now := s.app.clock.Now(); now.Sub(s.truth).Abs() > 2*time.Second {
						t.Errorf("it is %v, the house has %v", s.truth, now)
					}
					for n, c := range s.sums() {
						if strings.HasPrefix(string(n), "chill") && c.Verdict == process.Met {
							t.Errorf("%s is met, in %.1f h: the power was off for five in it; %v", n, c.Sum, c.Uncertain)
						}
					}
					s.orderly()
				})
			}
		}
	}
}

// enterNext goes through stages in order.
func (s *clockStory) enterNext(names ...process.StageName) {
	s.t.Helper()
	for _, n := range names {
		s.must(process.Command{Kind: process.CommandStage, Stage: n})
	}
}

// A day without a time server: the fridge is watched, nothing is recorded in 1970, and
// people are told once.
func TestADayWithoutATimeServer(t *testing.T) {
	t.Parallel()
	s := newClockStory(t, false)
	s.open()
	s.begin(raw)
	s.fridge(60, 3)
	s.powerCut(2*time.Hour, func(time.Time) time.Time { return epoch })
	s.fridge(6*60, 3)
	if heard := s.phone.heard(); !slices.Equal(heard, []string{"B6m raised tell"}) {
		t.Errorf("the phone heard %q", heard)
	}
	s.fridge(90, 9)
	if heard := s.phone.heard(); !slices.Contains(heard, "C2 raised ring") {
		t.Errorf("the warm fridge rang nobody: %q", heard)
	}
	s.fridge(16*60, 3)
	s.orderly()
	if n := len(s.clockLines()); n != 1 {
		t.Errorf("%d lines of the clock", n)
	}
	s.phone.heard()
	s.machine.jump(s.truth.Sub(s.machine.Wall()))
	s.fridge(90, 3)
	if heard := s.phone.heard(); !slices.Contains(heard, "B6m cleared tell") || slices.ContainsFunc(heard, func(h string) bool { return strings.Contains(h, "ring") }) {
		t.Errorf("once the clock was set the phone heard %q", heard)
	}
	if now := s.app.clock.Now(); !now.Equal(s.truth) {
		t.Errorf("it is %v, the house has %v", s.truth, now)
	}
	s.orderly()
}

// The very first start is in 1970: nothing is stored before the year flitch was made.
func TestTheFirstStartIn1970(t *testing.T) {
	s := newClockStory(t, false)
	s.machine.restart(epoch)
	s.open()
	s.settle()
	if heard := s.phone.heard(); !slices.Equal(heard, []string{"B6m raised tell"}) {
		t.Errorf("the phone heard %q", heard)
	}
	s.measure("spare", 3)
	s.cfg.Probes = nil
	inputs, err := s.app.db.NextInputs(0, 100)
	if err != nil || len(inputs) < 2 {
		t.Fatalf("%d inputs, %v", len(inputs), err)
	}
	for _, in := range inputs {
		if in.At.Before(made) {
			t.Errorf("input %d is of %v", in.Seq, in.At)
		}
	}
	s.machine.jump(dawn.Sub(s.machine.Wall()))
	s.settle()
	if now := s.app.clock.Now(); !now.Equal(dawn) {
		t.Errorf("the clock was set to %v, the house has %v", dawn, now)
	}
}

// The machine sleeps for six hours in a cook: time passed, and nobody looked. That is a
// gap, it rings, and no step of the clock is told.
func TestASuspendedMachineIsAGap(t *testing.T) {
	s := newClockStory(t, false)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.cook(60, "chamber", "core")
	before := s.sums()
	s.phone.heard()
	s.machine.sleep(6 * time.Hour)
	s.truth = s.truth.Add(6 * time.Hour)
	s.machine.pass(minute)
	s.truth = s.truth.Add(minute)
	s.settle()
	if heard := s.phone.heard(); !slices.Contains(heard, "B1 raised ring") || slices.Contains(heard, "B6m raised tell") {
		t.Errorf("after the sleep the phone heard %q", heard)
	}
	s.cook(10, "chamber", "core")
	for name, c := range s.sums() {
		switch was := before[name]; name {
		case process.ClockLethality:
			if c.Sum > was.Sum+11 {
				t.Errorf("six hours of sleep earned %v of lethality", c.Sum-was.Sum)
			}
		case process.ClockComeUp:
			if c.Sum < was.Sum+6 {
				t.Errorf("of six hours of sleep the come-up counts %v", c.Sum-was.Sum)
			}
		}
	}
	if lines := s.clockLines(); len(lines) != 0 {
		t.Errorf("the journal says %q", lines)
	}
}

// A leap second, smeared over a day or stepped, changes nothing and tells nobody.
func TestALeapSecondIsNoEvent(t *testing.T) {
	play := func(smear func(i int) time.Duration) (map[process.ClockName]process.Clock, []string) {
		s := newClockStory(t, false)
		s.open()
		s.begin(cooked)
		s.enter(cooked, process.StageCook)
		for i := range 120 {
			s.machine.jump(smear(i))
			s.cook(1, "chamber", "core")
		}
		if lines := s.clockLines(); len(lines) != 0 {
			t.Errorf("the journal says %q", lines)
		}
		return s.sums(), s.phone.heard()
	}
	truth, quiet := play(func(int) time.Duration { return 0 })
	for name, smear := range map[string]func(int) time.Duration{
		"slow": func(int) time.Duration { return -696 * time.Microsecond }, // 11.6 ppm of a minute
		"fast": func(int) time.Duration { return 696 * time.Microsecond },
		"stepped": func(i int) time.Duration {
			if i == 90 {
				return -time.Second
			}
			return 0
		},
	} {
		sums, heard := play(smear)
		if !slices.Equal(heard, quiet) {
			t.Errorf("%s: the phone heard %q, else %q", name, heard, quiet)
		}
		for n, c := range sums {
			if c.Verdict != truth[n].Verdict || c.Sum-truth[n].Sum > 0.1 || truth[n].Sum-c.Sum > 0.1 {
				t.Errorf("%s: %s %v %q, else %v %q", name, n, c.Sum, c.Verdict, truth[n].Sum, truth[n].Verdict)
			}
		}
	}
}

// The board comes back in 1970 while another program holds the database: that the clock is in doubt
// is told when it can be stored, and no clock is met meanwhile by hours that nobody counted.
func TestABoardThatComesBackIn1970BesideAProgramThatHoldsTheDatabase(t *testing.T) {
	t.Parallel()
	s := newClockStory(t, false)
	log := heardLog{slog.DiscardHandler, make(chan string, 1000)}
	s.log = log
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	chilled := func(minutes int, value func(i int) float64) {
		for i := range minutes {
			s.machine.pass(minute)
			s.truth = s.truth.Add(minute)
			s.measure("core", value(i))
			s.settle()
		}
	}
	chilled(30, func(int) float64 { return 66 })
	s.enterNext(process.StageRest, process.StageChill)
	chilled(8, func(i int) float64 { return 60 - float64(i) })
	s.phone.heard()
	letGo := func() {}
	s.made = func() { letGo = s.holdDatabase() }
	s.close()
	s.truth = s.truth.Add(5 * time.Hour)
	s.machine.restart(epoch)
	s.open()
	log.until("a step of the clock is not stored, and a step ahead not followed yet")
	letGo()
	var heard []string
	if !s.until(func() bool {
		s.machine.pass(time.Second)
		heard = append(heard, s.phone.heard()...)
		return slices.Contains(heard, "B6m raised tell")
	}) {
		t.Errorf("the phone heard %q", heard)
	}
	chilled(40, func(int) float64 { return 4 })
	for n, c := range s.sums() {
		if strings.HasPrefix(string(n), "chill") && c.Verdict == process.Met {
			t.Errorf("%s is met: %v h, and the power was off for five in it", n, c.Sum)
		}
	}
	if lines := s.clockLines(); len(lines) != 1 {
		t.Errorf("the journal says of the clock %q", lines)
	}
}
