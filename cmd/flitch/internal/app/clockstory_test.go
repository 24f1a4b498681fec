package app

import (
	"fmt"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// A clockStory is a shop on a machine whose clock is wrong now and then. The test knows the
// true time.
type clockStory struct {
	*shop
	truth  time.Time
	device bool // sensors have a clock of their own, and it is right
}

func newClockStory(t testing.TB, device bool) *clockStory {
	s := &clockStory{shop: newShop(t), truth: dawn, device: device}
	s.machine = newTestMachine(dawn)
	for i := range s.cfg.Probes {
		if !device {
			s.cfg.Probes[i].Payload.Time, s.cfg.Probes[i].Payload.TimeFormat = "", ""
		}
	}
	return s
}

// say publishes what a probe reads now.
func (s *clockStory) measure(probe string, value float64) {
	s.t.Helper()
	if s.device {
		s.say("shop/"+probe, fmt.Sprintf(`{"t":%q,"v":%.2f}`, s.truth.Format(time.RFC3339Nano), value))
		return
	}
	s.say("shop/"+probe, fmt.Sprintf(`{"v":%.2f}`, value))
}

// cook lets minutes pass and the smoker tell of them.
func (s *clockStory) cook(minutes int, probes ...string) {
	s.t.Helper()
	for range minutes {
		s.machine.pass(minute)
		s.truth = s.truth.Add(minute)
		for _, p := range probes {
			value := 80.0
			if p == "core" {
				value = 70 - 60*math.Exp(-s.truth.Sub(dawn).Hours()/1.5)
			}
			s.measure(p, value)
		}
		s.settle()
	}
}

// sums are the clocks of the batch by name.
func (s *clockStory) sums() map[process.ClockName]process.Clock {
	s.t.Helper()
	out := map[process.ClockName]process.Clock{}
	for _, c := range s.batch().Clocks(s.app.clock.Now()) {
		out[c.Name] = c
	}
	return out
}

// orderly fails if the log runs backwards anywhere.
func (s *clockStory) orderly() {
	s.t.Helper()
	inputs, err := s.app.db.NextInputs(0, 1e6)
	if err != nil || len(inputs) == 0 {
		s.t.Fatalf("%d inputs, %v", len(inputs), err)
	}
	for i, in := range inputs[1:] {
		if in.At.Before(inputs[i].At) || in.At.Year() < 2031 || in.At.Year() > 2031 {
			s.t.Fatalf("input %d is of %v, the one before it of %v", in.Seq, in.At, inputs[i].At)
		}
		if in.Kind == process.InputReading && in.Reading.Measured.Year() != 2031 {
			s.t.Fatalf("a reading is recorded in %v", in.Reading.Measured)
		}
	}
}

// clockLines are those of the journal that tell of the clock.
func (s *clockStory) clockLines() (out []string) {
	s.t.Helper()
	lines, err := s.app.db.Journal("")
	if err != nil {
		s.t.Fatal(err)
	}
	for _, l := range lines {
		if l.Kind == "clock" {
			out = append(out, l.Text)
		}
	}
	return out
}

func (s *clockStory) page(path string) string {
	s.t.Helper()
	answer, err := http.Get(s.app.Address() + path)
	if err != nil {
		s.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return string(text)
}

const day = 24 * time.Hour

// During a cook somebody sets the clock. A jump earns no lethality and takes no danger away,
// rings once and silences nothing; the batch goes on.
func TestTheClockJumpsDuringACook(t *testing.T) {
	t.Parallel()
	play := func(t *testing.T, device bool, jump time.Duration) (*clockStory, []string) {
		s := newClockStory(t, device)
		s.open()
		s.begin(cooked)
		s.enter(cooked, process.StageCook)
		s.cook(170, "chamber", "core")
		s.machine.jump(jump)
		s.cook(55, "chamber", "core")
		heard := s.phone.heard()
		return s, heard
	}
	faults := 0
	for _, device := range []bool{false, true} {
		straight, quiet := play(t, device, 0)
		truth := straight.sums()
		for _, jump := range []time.Duration{time.Hour, -time.Hour, day, -day, 30 * 365 * day} {
			t.Run(fmt.Sprintf("%v/sensors have clocks %v", jump, device), func(t *testing.T) {
				s, heard := play(t, device, jump)
				faults++
				told := slices.DeleteFunc(slices.Clone(heard), func(line string) bool { return slices.Contains(quiet, line) })
				if strings.Join(told, "; ") != "B6m raised tell" {
					t.Errorf("the phone heard %q, without a jump %q", heard, quiet)
				}
				for name, c := range s.sums() {
					doubt := c.Sum - truth[name].Sum
					if c.AtLeast {
						doubt = -doubt
					}
					same := math.Abs(doubt) < 0.02*math.Max(1, truth[name].Sum) && c.Verdict == truth[name].Verdict
					if doubt < -0.02*math.Max(1, truth[name].Sum) || c.Verdict == process.Met && truth[name].Verdict != process.Met || device && !same {
						t.Errorf("%s: %.3f %q, with a true clock %.3f %q", name, c.Sum, c.Verdict, truth[name].Sum, truth[name].Verdict)
					}
				}
				s.orderly()
				if lines := s.clockLines(); len(lines) != 1 || !strings.Contains(lines[0], "The clock stepped") {
					t.Errorf("the journal says %q", lines)
				}
				if !strings.Contains(s.page("/home"), "Clock of this machine") {
					t.Error("the page does not say it")
				}
				s.cook(7, "chamber") // the core falls silent
				if heard := s.phone.heard(); !slices.Contains(heard, "B1 raised ring") {
					t.Errorf("after seven minutes without the core the phone heard %q", heard)
				}
			})
		}
	}
	t.Logf("%d jumps", faults)
	if faults == 0 {
		t.Fatal("the clock never jumped")
	}
}
