package sim

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"testing"
	"time"

	"flitch/process"
)

// What the story promises is read here from its samples and commands alone, by
// plain scans, for several seeds.
const storySeeds = 3

type point struct {
	at time.Time
	c  float64
}

// told is the story as a subscriber sees it.
type told struct {
	seed     uint64
	series   map[string][]point // by probe, °C
	commands []Command
	steps    []Step
}

// heard keeps the stories that were told: no test here runs beside another.
var heard = map[uint64]told{}

func tell(t *testing.T, seed uint64) told {
	t.Helper()
	if out, ok := heard[seed]; ok {
		return out
	}
	s := NewStory(seed)
	probes := map[string]*Probe{}
	for _, p := range s.Probes() {
		probes[p.Topic] = p
	}
	out := told{seed: seed, series: map[string][]point{}}
	for step := range s.Steps() {
		out.steps = append(out.steps, step)
		out.commands = append(out.commands, step.Commands...)
		for _, m := range step.Samples {
			p := probes[m.Topic]
			if p == nil {
				t.Fatalf("topic %q belongs to no probe", m.Topic)
			}
			name := p.Placed.Probe
			out.series[name] = append(out.series[name], point{m.At, celsius(t, p, m)})
		}
	}
	heard[seed] = out
	return out
}

// celsius reads a payload the way a stranger would.
func celsius(t *testing.T, p *Probe, m Sample) float64 {
	t.Helper()
	var v float64
	var err error
	if p.Shape == Bare {
		v, err = strconv.ParseFloat(string(m.Payload), 64)
	} else {
		var o struct {
			Time        time.Time `json:"time"`
			Temperature *float64  `json:"temperature"`
		}
		if err = json.Unmarshal(m.Payload, &o); err == nil && (o.Temperature == nil || !o.Time.Equal(m.At)) {
			t.Fatalf("%s at %s: %s", m.Topic, m.At, m.Payload)
		} else if err == nil {
			v = *o.Temperature
		}
	}
	if err != nil {
		t.Fatalf("%s: %v", m.Payload, err)
	}
	if p.Unit == Fahrenheit {
		v = (v - 32) / 1.8
	}
	return v
}

func eachSeed(t *testing.T, do func(*testing.T, told)) {
	t.Helper()
	for seed := range uint64(storySeeds) {
		t.Run("seed "+strconv.Itoa(int(seed)), func(t *testing.T) { do(t, tell(t, seed)) })
	}
}

// spell is a time without a break in which a condition held.
type spell struct{ from, to time.Time }

func (s spell) lasts() time.Duration { return s.to.Sub(s.from) }

func spells(series []point, holds func(float64) bool) []spell {
	var all []spell
	open := false
	for _, p := range series {
		switch {
		case holds(p.c) && open:
			all[len(all)-1].to = p.at
		case holds(p.c):
			all = append(all, spell{p.at, p.at})
		}
		open = holds(p.c)
	}
	return all
}

// joined puts spells together that are closer than apart: noise at the edge.
func joined(all []spell, apart time.Duration) []spell {
	var kept []spell
	for _, s := range all {
		if n := len(kept); n > 0 && s.from.Sub(kept[n-1].to) < apart {
			kept[n-1].to = s.to
			continue
		}
		kept = append(kept, s)
	}
	return kept
}

func longer(all []spell, than time.Duration) []spell {
	var kept []spell
	for _, s := range all {
		if s.lasts() >= than {
			kept = append(kept, s)
		}
	}
	return kept
}

func (s told) between(probe string, from, to time.Time) []point {
	var kept []point
	for _, p := range s.series[probe] {
		if !p.at.Before(from) && !p.at.After(to) {
			kept = append(kept, p)
		}
	}
	return kept
}

// said returns the only command of the kind with the stage or entry.
func (s told) said(t *testing.T, kind process.CommandKind, what string) Command {
	t.Helper()
	var found []Command
	for _, c := range s.commands {
		if c.Kind == kind && (string(c.Stage) == what || c.Entry == what) {
			found = append(found, c)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d commands %s %s, want one", len(found), kind, what)
	}
	return found[0]
}

func TestStoryStepsAreInOrder(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		if n := len(s.steps); n < 1000 || n > 5000 {
			t.Errorf("%d steps", n)
		}
		first, last := s.steps[0].At, s.steps[len(s.steps)-1].At
		if days := last.Sub(first).Hours() / 24; days < 8.5 || days > 9.5 {
			t.Errorf("%.1f days", days)
		}
		before := first.Add(-time.Hour)
		for _, step := range s.steps {
			for _, m := range step.Samples {
				if m.At.After(step.At) || !m.At.After(before) {
					t.Fatalf("sample of %s in the step from %s to %s", m.At, before, step.At)
				}
			}
			for _, c := range step.Commands {
				if !c.At.Equal(step.At) || c.By == "" {
					t.Fatalf("command in the step to %s: %+v", step.At, c)
				}
			}
			before = step.At
		}
	})
}

// A person speaks when it happens: no event lies between two steps.
func TestTimetableFallsOnSteps(t *testing.T) {
	steps := map[time.Time]bool{}
	for step := range NewStory(0).Steps() {
		steps[step.At] = true
	}
	last := time.Time{}
	for _, e := range timetable() {
		if e.at.Before(last) {
			t.Errorf("the event of %s comes after that of %s", e.at, last)
		}
		last = e.at
		if len(e.say) > 0 && !steps[e.at] {
			t.Errorf("what is said at %s falls between two steps", e.at)
		}
		if e.at.Sub(clock(0, 0, 0))%tick != 0 {
			t.Errorf("the event of %s falls between two ticks", e.at)
		}
	}
}

func TestStoryStagesInOrder(t *testing.T) {
	s := tell(t, 0)
	var got []process.StageName
	for _, c := range s.commands {
		if c.Kind == process.CommandNew || c.Kind == process.CommandStage {
			got = append(got, c.Stage)
		}
	}
	want := []process.StageName{process.StageCure, process.StageRinse, process.StageDry, process.StageSmoke, process.StageCook, process.StageRest, process.StageChill}
	if len(got) != len(want) {
		t.Fatalf("stages %v", got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("stage %d is %s, want %s", i, got[i], want[i])
		}
	}
	if s.commands[0].Kind != process.CommandNew {
		t.Errorf("the story begins with %s", s.commands[0].Kind)
	}
	rinse, dry := s.said(t, process.CommandStage, "rinse").At, s.said(t, process.CommandStage, "dry").At
	if d := dry.Sub(rinse); d != 40*time.Minute {
		t.Errorf("rinsed for %s", d)
	}
	if d := rinse.Sub(s.commands[0].At); d < 7*24*time.Hour {
		t.Errorf("cured for %s", d)
	}
}

// C1: above 4.4 °C for 30 min. C2: above 5.0 °C for 2 h. Both once, on Wednesday
// evening; both over by themselves after the door is shut.
func TestOneWarmEvening(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		series := s.series["alder-product"]
		c1 := longer(spells(series, func(c float64) bool { return c > 4.4 }), 30*time.Minute)
		c2 := longer(spells(series, func(c float64) bool { return c > 5.0 }), 2*time.Hour)
		if len(c1) != 1 || len(c2) != 1 {
			t.Fatalf("%d spells above 4.4 °C for 30 min, %d above 5.0 for 2 h; want one each", len(c1), len(c2))
		}
		if got := spells(series, func(c float64) bool { return c > 7.2 }); len(got) != 0 {
			t.Errorf("above 7.2 °C from %s", got[0].from)
		}
		if c1[0].from.Before(clock(2, 18, 15)) || c1[0].to.After(clock(3, 0, 30)) {
			t.Errorf("warm from %s to %s", c1[0].from, c1[0].to)
		}
		ack := s.said(t, process.CommandAcknowledge, "C2")
		if rings := c2[0].from.Add(2 * time.Hour); ack.At.Before(rings) || ack.At.Sub(rings) > 30*time.Minute {
			t.Errorf("C2 rings at %s, acknowledged at %s", rings, ack.At)
		}
		cool := longer(spells(s.between("alder-product", c1[0].to, clock(3, 6, 0)), func(c float64) bool { return c < 3.9 }), 30*time.Minute)
		if len(cool) == 0 {
			t.Error("does not come back below 3.9 °C for 30 min by the morning")
		}
	})
}

// Turns: one gap longer than 24 h, shorter than 36; K1 asks once and is answered.
func TestOneForgottenTurn(t *testing.T) {
	s := tell(t, 0)
	last, end := s.commands[0].At, s.said(t, process.CommandStage, "rinse").At
	var long []time.Duration
	for _, c := range append(slices.Clone(s.commands), Command{Kind: process.CommandTurned, At: end}) {
		if c.Kind != process.CommandTurned {
			continue
		}
		if gap := c.At.Sub(last); gap > 24*time.Hour {
			long = append(long, gap)
		}
		last = c.At
	}
	if len(long) != 1 || long[0] > 36*time.Hour || long[0] < 30*time.Hour {
		t.Errorf("gaps above 24 h: %v", long)
	}
}

// A person's second thermometer and the probe agree.
func TestHandReadingAgrees(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		n := 0
		for _, c := range s.commands {
			if c.Kind != process.CommandReading {
				continue
			}
			n++
			near := s.between("core-c", c.At.Add(-time.Minute), c.At)
			if len(near) == 0 || math.Abs(near[len(near)-1].c-c.Value) > 1 {
				t.Errorf("read %.1f by hand, the probe says %v", c.Value, near)
			}
		}
		if n != 1 {
			t.Errorf("%d hand readings", n)
		}
	})
}

func BenchmarkStory(b *testing.B) {
	for b.Loop() {
		for range NewStory(1).Steps() {
		}
	}
}
