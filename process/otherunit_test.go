package process

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// sensor feeds a sieve of the slow probe, a reading each five minutes.
type sensor struct {
	v  Sieve
	at time.Time
}

func (s *sensor) reads(value float64) (believed []judged, refused []refusal) {
	s.at = s.at.Add(5 * time.Minute)
	return s.v.take(judge(Reading{Measured: s.at, Value: value}, Product), PlacedProbe{Placement: Product, Interval: 5 * time.Minute}, 8)
}

func newSensor(values ...float64) *sensor {
	s := &sensor{at: noon}
	for _, v := range values {
		s.reads(v)
	}
	return s
}

// The question stays open while the fridge warms behind it: a reading of 48 that is
// 9 °C in truth must not pass for one of 48 °C because the last good one was 3.8.
func TestTheUnitIsAskedUntilAnswered(t *testing.T) {
	s := newSensor(3.8, 3.9)
	for c := 3.8; c < 20; c += 0.1 {
		if _, refused := s.reads(c*1.8 + 32); len(refused) != 1 {
			t.Fatalf("%.1f °C in °F was believed", c)
		}
	}
	if !s.v.Unit.Open() || s.v.Unit.Way != ToFahrenheit || s.v.Unit.WordsIn(func(c float64) string { return fmt.Sprintf("%.1f", c) }) != "read 3.9, and now 67.8: the step that another unit makes" {
		t.Errorf("%+v", s.v.Unit)
	}
}

func TestTurnedBackWithoutAnAnswer(t *testing.T) {
	for name, c := range map[string]struct{ before, turned, back float64 }{
		"soon": {3.8, 38.8, 3.9}, "after hours, the fridge warmer": {3.8, 50, 10.2}, "from °F to °C and back": {3.8, -15.7, 3.7},
	} {
		s := newSensor(c.before, c.before+0.1, Turned(1).as(c.before))
		if c.turned < 0 {
			s = newSensor(c.before, c.before+0.1, c.turned)
		}
		if !s.v.Unit.Open() {
			t.Errorf("%s: nothing is asked", name)
		}
		s.reads(c.turned)
		s.reads(c.back)
		believed, _ := s.reads(c.back)
		if s.v.Unit.Open() || len(believed) == 0 || believed[len(believed)-1].Value != c.back {
			t.Errorf("%s: open %t, believed %v", name, s.v.Unit.Open(), believed)
		}
	}
}

// What is no such step is not asked about.
func TestNoUnitIsAsked(t *testing.T) {
	for name, values := range map[string][]float64{
		"into a warm room": {3.8, 24, 24.1}, "dipped in hot water": {3.8, 48, 48.2}, "a code": {3.8, 85, 3.9}, "no number": {3.8, math.NaN(), 3.9},
		"first reading": {38.8, 38.9}, "slowly": {3.8, 8, 13, 19, 26, 33, 38.8},
	} {
		if s := newSensor(values...); s.v.Unit.Open() {
			t.Errorf("%s: %+v", name, s.v.Unit)
		}
	}
}

// turned is a cure whose slow probe is turned over to °F after a day, in a fridge that is
// at 5.5 °C from then on: over the limit of 4.4 °C.
func turned(t *testing.T, back bool) *diary {
	d := newDiary(t)
	d.line("slow", 0, 24*hour, 5*minute, 3.8, 3.9)
	for at := 24*hour + 5*minute; at <= 30*hour; at += 5 * minute {
		v := 5.5 + 0.1*float64(at/minute%3)
		if !back || at < 28*hour {
			v = v*1.8 + 32
		}
		d.read("slow", at, math.Round(v*10)/10)
	}
	return d
}

func (d *diary) answer(at time.Duration, unit string, from time.Duration) {
	d.t.Helper()
	slow := &PlaceProbe{Probe: d.batch.track("slow").Probe, Sieve: d.batch.track("slow").Sieve}
	c := Command{ID: "unit", Kind: CommandUnit, By: "T.V.", At: noon.Add(at), Typed: noon.Add(at), Unit: &UnitSaid{Probe: "slow", Unit: unit}}
	if from > 0 {
		c.Unit.From = noon.Add(from)
	}
	if err := CheckUnit(slow, c, c.Typed); err != nil {
		d.t.Fatal(err)
	}
	d.take(Input{Kind: InputCommand, At: c.Typed, Command: CompleteUnit(slow, c)})
	if d.batch.NeedsRecount {
		d.batch = Recount(d.log[0], byEventTime(d.log[1:]))
	}
}

func TestUnansweredHelpsNoVerdict(t *testing.T) {
	d := turned(t, false)
	slow := d.batch.track("slow")
	if slow.Last.At.After(noon.Add(24*hour)) || slow.Cold.Minutes != 0 {
		t.Errorf("a reading was counted: %+v", slow.Last)
	}
	d.stage(120*hour, StageRinse)
	if c := d.clock(ClockCold); c.Verdict == Met {
		t.Errorf("%+v", c)
	}
	want := int64(6 * 12)
	if f := slow.Flagged; len(f) != 1 || f[0].Reason != "unit" || f[0].Count != want || len(f[0].Spans) != 1 {
		t.Errorf("flagged %+v, want %d of one span", f, want)
	}
}

func TestTheAnswerCountsWhatWasLeftOut(t *testing.T) {
	for name, c := range map[string]struct {
		unit     string
		back     bool
		from     time.Duration
		cold     float64 // minutes over 4.4 °C, within ten
		newestIs float64
	}{
		"it sends °F":               {"F", false, 0, 6 * 60, 5.5},
		"it sends °F, from later":   {"F", false, 27 * hour, 6 * 60, 5.5}, // what lies between is a gap, at its warmer end
		"it was so: a hot fridge":   {"C", false, 0, 6 * 60, 42},
		"F, and it was turned back": {"C", true, 0, 6 * 60, 5.5},
	} {
		d := turned(t, false)
		if c.back { // answered at 27 h, turned back at 28 h: that is asked again, and answered
			d = newDiary(t)
			answered := false
			for _, in := range turned(t, true).log[1:] {
				if in.At.After(noon.Add(27*hour)) && !answered {
					d.answer(27*hour, "F", 0)
					answered = true
				}
				d.take(in)
			}
		}
		d.answer(30*hour+minute, c.unit, c.from)
		slow := d.batch.track("slow")
		if math.Abs(slow.Cold.Minutes-c.cold) > 10 || math.Abs(slow.Last.Value-c.newestIs) > 1 {
			t.Errorf("%s: %.0f min over the limit, want %.0f; newest %.1f, want about %.1f", name, slow.Cold.Minutes, c.cold, slow.Last.Value, c.newestIs)
		}
		again := Recount(d.log[0], byEventTime(d.log[1:]))
		if got := again.track("slow").Cold; got != slow.Cold {
			t.Errorf("%s: counted again %+v, before %+v", name, got, slow.Cold)
		}
	}
}

// A batch that begins while it is asked, or after it was answered, knows.
func TestABatchBeginsWithTheQuestion(t *testing.T) {
	before := Sample{noon.Add(-2 * hour), 3.8}
	for name, known := range map[string]UnitKnown{
		"asked":                    {Ask: UnitAsk{Since: noon.Add(-hour), Way: ToFahrenheit, Before: 3.8, Newest: Sample{noon.Add(-minute), 38.8}}, Newest: before},
		"answered":                 {Ask: UnitAsk{Turns: []UnitTurn{{noon.Add(-hour), ToFahrenheit}}}, Newest: before},
		"turned over as it begins": {Newest: before},
	} {
		d := newDiary(t)
		start := d.log[0]
		begun := *start.Command.New
		known.Probe = "slow"
		begun.Units = []UnitKnown{known}
		start.Command.New = &begun
		d.log[0], d.batch = start, Start(start)
		d.line("slow", 0, hour, 5*minute, 38.8, 38.9)
		switch last := d.batch.track("slow").Last; {
		case name != "answered" && !last.At.IsZero():
			t.Errorf("%s, and %v was believed", name, last)
		case name == "answered" && math.Abs(last.Value-3.8) > 0.1:
			t.Errorf("answered, and the newest is %v", last)
		}
	}
}

func TestCheckUnitRefuses(t *testing.T) {
	asked := &PlaceProbe{}
	asked.Sieve.Unit = UnitAsk{Since: noon, Way: ToFahrenheit, Before: 3.8}
	good := Command{By: "T.V.", Unit: &UnitSaid{Probe: "slow", Unit: "F"}}
	for want, c := range map[string]struct {
		t     *PlaceProbe
		spoil func(*Command)
	}{
		"":                      {asked, func(*Command) {}},
		"nobody signed":         {asked, func(c *Command) { c.By = " " }},
		"without its probe":     {asked, func(c *Command) { c.Unit = nil }},
		"is no unit":            {asked, func(c *Command) { c.Unit.Unit = "K" }},
		"nobody asks":           {&PlaceProbe{}, func(*Command) {}},
		"has not happened yet":  {asked, func(c *Command) { c.Unit.From = noon.Add(9 * hour) }},
		"after the time you na": {asked, func(c *Command) { c.Unit.From = noon.Add(-hour) }},
	} {
		command := good
		said := *good.Unit
		command.Unit = &said
		c.spoil(&command)
		err := CheckUnit(c.t, command, noon.Add(2*hour))
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", want, err)
		}
	}
}

// The place asks, and says nothing of how warm the fridge is meanwhile.
func TestThePlaceAsks(t *testing.T) {
	p := NewPlace("alder", WhereFridge, []PlacedProbe{{Probe: "slow", Place: "alder", Placement: Product, Interval: 5 * minute}}, noon)
	p.Occupied = true
	var asked []Finding
	for i, v := range []float64{3.8, 3.9, 38.9, 39.1, 41, 45, 4} {
		at := noon.Add(time.Duration(i) * 5 * minute)
		for _, f := range StepPlace(p, Input{Kind: InputReading, At: at, Reading: Reading{Probe: "slow", Measured: at, Received: at, Value: v}}, nil) {
			switch f.Measure {
			case MeasureUnit:
				asked = append(asked, f)
			case MeasureProduct, MeasureOccupied:
				if f.Value > 5 {
					t.Errorf("%+v", f)
				}
			}
		}
	}
	if len(asked) != 5 || asked[0].Value != 1 || asked[4].Value != 0 {
		t.Errorf("asked %+v", asked)
	}
	if f := p.Probes[0].Flagged; len(f) != 1 || f[0].Count != 4 {
		t.Errorf("flagged %+v", f)
	}
}

// A reading that is none does not make the step back: the next one, as cold as before,
// was no step from the one in front of it.
func TestRubbishTurnsNothingBack(t *testing.T) {
	s := newSensor(4.1, 1.1, 0.1, 28.6, 2.6)
	if !s.v.Unit.Open() {
		t.Fatal("nothing is asked")
	}
	s.reads(75)
	s.reads(2.1)
	if !s.v.Unit.Open() {
		t.Error("a reading out of range has answered the question")
	}
}
