package process

import (
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// noon is when the invented batches of these tests begin.
var noon = time.Date(2031, 4, 7, 12, 0, 0, 0, time.UTC)

// testPlan is a small plan with every clock in it. Its limits are those of the
// built-in fully cooked belly.
func testPlan() Plan {
	return Plan{
		Name: "test", Title: "Test belly", Version: 1, Class: FullyCooked, Hash: "0000000000000000",
		Cure:      CureRule{Days: 5, ReferenceC: 4, Rule: "5 days at 4 °C", Source: "test"},
		Turn:      TurnRule{EveryHours: 24, LimitHours: 48, Rule: "daily", Source: "test"},
		Cold:      ColdRule{AboveC: 40.0/9 + 0, LimitMinutes: 120, Rule: "2 h above 40 °F", Source: "test"},
		ComeUp:    ComeUpRule{FromC: 10, ToC: 490.0 / 9, LimitHours: 6, Rule: "6 h", Source: "test"},
		Lethality: LethalityRule{Table: "fsis-meat-6.5", Rule: "6.5 log", Source: "test"},
		Chill:     ChillRule{Option: "B3", Rule: "slow", Source: "test"},
		Stages: []StagePlan{
			{Name: StageCure, Where: WhereFridge, Hours: 120, Cold: true, Button: true, Source: "test"},
			{Name: StageRinse, Where: WhereRoom, Cold: true, Button: true, Source: "test"},
			{Name: StageSmoke, Where: WhereSmoker, SetC: 100, CoreC: 65, Heat: true, Source: "test"},
			{Name: StageRest, Where: WhereRoom, Button: true, Optional: true, Source: "test"},
			{Name: StageChill, Where: WhereFridge, Hours: 12, Button: true, Source: "test"},
		},
	}
}

// A diary is a batch under test and the log it was made from.
type diary struct {
	t     *testing.T
	batch *Batch
	log   []Input
	found []Finding
}

func newDiary(t *testing.T) *diary {
	c := Command{ID: "new", Kind: CommandNew, Batch: "OL-1", By: "T.V.", At: noon, Typed: noon, New: &NewBatch{
		Plan: testPlan(), Pieces: []Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}},
		Probes: []PlacedProbe{
			{Probe: "slow", Place: "alder", Placement: Product, Interval: 5 * time.Minute, Uncertainty: 0.5},
			{Probe: "chamber", Place: "kettle", Placement: Chamber, Interval: time.Minute, Uncertainty: 1},
			{Probe: "core", Place: "kettle", Placement: Core, Piece: "A", Interval: time.Minute, Uncertainty: 0.5},
		}}}
	if err := Check(nil, c, noon); err != nil {
		t.Fatal(err)
	}
	d := &diary{t: t, log: []Input{{Seq: 1, Kind: InputCommand, At: noon, Command: c}}}
	d.batch = Start(d.log[0])
	return d
}

func (d *diary) take(in Input) {
	in.Seq = int64(len(d.log) + 1)
	d.log = append(d.log, in)
	d.found = Step(d.batch, in, d.found)
}

func (d *diary) read(probe string, after time.Duration, v float64) {
	at := noon.Add(after)
	d.take(Input{Kind: InputReading, At: at, Reading: Reading{Probe: probe, Measured: at, Received: at, Value: v}})
}

// line reads a straight line, both ends included.
func (d *diary) line(probe string, from, to, every time.Duration, v1, v2 float64) {
	for at := from; at <= to; at += every {
		share := 0.0
		if to > from {
			share = float64(at-from) / float64(to-from)
		}
		d.read(probe, at, v1+(v2-v1)*share)
	}
}

func (d *diary) say(after time.Duration, c Command) {
	d.t.Helper()
	c.At, c.Typed, c.Batch = noon.Add(after), noon.Add(after), d.batch.ID
	if c.By == "" {
		c.By = "T.V."
	}
	if err := Check(d.batch, c, c.Typed); err != nil {
		d.t.Fatalf("%s: %v", c.Kind, err)
	}
	d.take(Input{Kind: InputCommand, At: c.At, Command: c})
}

func (d *diary) stage(after time.Duration, name StageName) {
	d.t.Helper()
	d.say(after, Command{Kind: CommandStage, Stage: name})
}

func (d *diary) tick(after time.Duration) { d.take(Input{Kind: InputTick, At: noon.Add(after)}) }

func (d *diary) clock(name ClockName) Clock {
	d.t.Helper()
	for _, c := range d.batch.Clocks(d.batch.Now) {
		if c.Name == name {
			return c
		}
	}
	d.t.Fatalf("no clock %s", name)
	return Clock{}
}

// want checks sum and verdict of a clock.
func (d *diary) want(name ClockName, sum float64, v Verdict) {
	d.t.Helper()
	c := d.clock(name)
	if math.Abs(c.Sum-sum) > 1e-3*max(1, math.Abs(sum)) || c.Verdict != v {
		d.t.Errorf("%s: sum %.4f %s, verdict %q; want %.4f, %q (%v)", name, c.Sum, c.Unit, c.Verdict, sum, v, c.Uncertain)
	}
}

const (
	minute = time.Minute
	hour   = time.Hour
	day    = 24 * time.Hour
)

func TestCureDaysFollowTemperature(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, 5*day, 5*minute, 4, 4)
	d.want(ClockCure, 5, Met)

	d = newDiary(t)
	d.line("slow", 0, 5*day, 5*minute, -3, -3)
	d.want(ClockCure, 0, Running)

	// Cure specification section 1.2: D is 1.8194e-10 at 0 °C and 2.1191e-10 at 4 °C.
	d = newDiary(t)
	d.line("slow", 0, 5*day, 5*minute, 0, 0)
	d.want(ClockCure, 5*1.8194/2.1191, Running)
	d.stage(5*day, StageRinse)
	d.want(ClockCure, 5*1.8194/2.1191, NotMet)
}

func TestCureGapEarnsNothing(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, 2*day, 5*minute, 4, 4)
	d.line("slow", 4*day, 6*day, 5*minute, 4, 4)
	d.want(ClockCure, 4, Running)
	if len(d.clock(ClockCure).Uncertain) == 0 {
		t.Error("the gap is not named on the clock")
	}
	// A gap of up to 30 min is bridged.
	d = newDiary(t)
	d.line("slow", 0, 2*day, 25*minute, 4, 4)
	d.want(ClockCure, (2*day/(25*minute)*25*minute).Hours()/24, Running)
}

func TestColdClockCountsMinutesAbove(t *testing.T) {
	d := newDiary(t)
	limit := testPlan().Cold.AboveC
	d.line("slow", 0, hour, 5*minute, 3, 3)
	d.line("slow", hour+5*minute, 3*hour+5*minute, 5*minute, 3, 7) // rises 4 K in 2 h
	d.line("slow", 3*hour+10*minute, 5*hour+10*minute, 5*minute, 7, 3)
	above := 2*(7-limit)/4*120 + 5 // two flanks and the flat five minutes at 7
	d.want(ClockCold, above, NotMet)
}

func TestColdGapCountsAsTheWarmerEnd(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, hour, 5*minute, 3, 3)
	d.line("slow", hour+20*minute, 2*hour, 5*minute, 5, 3) // 20 min without data, warm at its end
	flank := (5 - testPlan().Cold.AboveC) / 2 * 40
	d.want(ClockCold, 20+flank, Running)
}

func TestColdBlindTimeIsNotMet(t *testing.T) {
	d := newDiary(t)
	d.line("slow", 0, hour, 5*minute, 3, 3)
	d.line("slow", 5*hour, 6*hour, 5*minute, 3, 3) // 4 h unseen, more than the 2 h allowed
	d.want(ClockCold, 0, Running)
	d.stage(6*hour, StageRinse)
	d.stage(6*hour+10*minute, StageSmoke)
	d.want(ClockCold, 10, NotMeasured) // and the rinse by hand counts in full
}

func TestNoDataIsNotMeasured(t *testing.T) {
	d := newDiary(t)
	d.stage(5*day, StageRinse)
	d.stage(5*day+minute, StageSmoke)
	d.stage(6*day, StageChill)
	d.say(7*day, Command{Kind: CommandClose})
	for _, name := range []ClockName{ClockCure, ClockCold, ClockComeUp, ClockLethality, ClockChillA, ClockChillB} {
		if v := d.clock(name).Verdict; v != NotMeasured {
			t.Errorf("%s without data: %q", name, v)
		}
	}
	if v := d.batch.Verdict(d.batch.Now); v != NotMeasured {
		t.Errorf("batch without data: %q", v)
	}
}

func cook(d *diary) time.Duration {
	d.stage(5*day, StageRinse)
	d.stage(5*day, StageSmoke)
	return 5 * day
}

func TestComeUpClock(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+5*hour, minute, 4, 64) // 12 K/h
	d.want(ClockComeUp, (490.0/9-10)/12, Met)

	d = newDiary(t)
	s = cook(d)
	d.line("core", s, s+8*hour, minute, 4, 56) // 6.5 K/h
	d.want(ClockComeUp, (490.0/9-10)/6.5, NotMet)
}

// FSIS-GD-2021-14 (Dec 2021), table 2 p. 35, 6.5-log column: 140 °F (60 °C) for
// 12 min; 150 °F (65.6 °C) for 67 s; 158 °F at once.
func TestLethalityByTableRow(t *testing.T) {
	cases := []struct {
		name string
		core float64
		hold time.Duration
		want Verdict
	}{
		{"140 °F for 11 min is short", 60.0 + 0.5, 11 * minute, Running},
		{"140 °F for 12 min", 60.0 + 0.5, 12 * minute, Met},
		{"the probe's uncertainty is taken off", 60.0 + 0.4, 12 * minute, Running},
		{"150 °F for 67 s", (150.0-32)/1.8 + 0.5, 67 * time.Second, Met},
		{"130 °F for 111 min is short", (130.0-32)/1.8 + 0.5, 111 * minute, Running},
		{"130 °F for 112 min", (130.0-32)/1.8 + 0.5, 112 * minute, Met},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			d := newDiary(t)
			s := cook(d)
			d.line("core", s, s+c.hold, time.Second, c.core+1e-9, c.core+1e-9) // no rise, so that only the hold counts
			if v := d.clock(ClockLethality).Verdict; v != c.want {
				t.Errorf("verdict %q, want %q: %+v", v, c.want, d.clock(ClockLethality))
			}
		})
	}
}

func TestLethalityGapEarnsNothing(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+10*minute, minute, 60.6, 60.6)
	d.line("core", s+20*minute, s+21*minute, minute, 60.6, 60.6) // 10 min unseen
	d.want(ClockLethality, 11, Running)
	d.stage(s+22*minute, StageChill)
	d.want(ClockLethality, 11, NotMeasured)
}

func TestLethalityNeedsEveryCore(t *testing.T) {
	d := newDiary(t)
	d.batch.Tracks = append(d.batch.Tracks, newTrack(PlacedProbe{Probe: "core2", Placement: Core, Piece: "A", Interval: minute}, d.batch.Plan))
	s := cook(d)
	d.line("core", s, s+30*minute, minute, 62, 62)
	d.line("core2", s, s+30*minute, minute, 50, 50)
	if v := d.clock(ClockLethality).Verdict; v == Met {
		t.Error("one cold core is enough to fail")
	}
}

func TestChillLegs(t *testing.T) {
	// Newton cooling of a lumped body: T = 2 + 68 e^(-t/tau). Its crossings are known.
	cool := func(tau float64) (d *diary, a, b float64) {
		d = newDiary(t)
		s := cook(d)
		d.read("core", s, 70)
		d.stage(s+minute, StageChill)
		for at := minute; at < 30*hour; at += minute {
			d.read("core", s+at, 2+68*math.Exp(-(at-minute).Hours()/tau))
		}
		when := func(level float64) float64 { return tau * math.Log(68/(level-0.5-2)) } // warmest: reading + 0.5
		return d, when(80.0/3) - when(490.0/9), when(65.0/9) - when(80.0/3)
	}
	d, a, b := cool(3)
	d.want(ClockChillA, a, Met)
	d.want(ClockChillB, b, Met)
	d, a, b = cool(6.2) // leg A just under 5 h, leg B over 10 h
	d.want(ClockChillA, a, Met)
	d.want(ClockChillB, b, NotMet)
	d, a, _ = cool(7)
	d.want(ClockChillA, a, NotMet)
	if v := d.batch.Verdict(d.batch.Now); v != Held {
		t.Errorf("a missed leg: batch %q", v)
	}
}

// The fire dies at night; the person presses the button in the morning. The
// chill began when the core fell, not when somebody saw it.
func TestChillStartsWhenTheCoreFell(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+hour, minute, 20, 70)
	d.line("core", s+hour+minute, s+6*hour, minute, 70, 40)
	d.stage(s+6*hour, StageChill)
	c := d.clock(ClockChillA)
	// 30 K in 299 min; the reading plus 0.5 K passes 54.44 °C after 160 min.
	if fell := noon.Add(s + 3*hour + 41*minute); c.From.Sub(fell).Abs() > minute {
		t.Errorf("leg A from %s, the core fell through 54.4 °C near %s", c.From, fell)
	}
	// Silence after that: nobody saw the end.
	d.tick(s + 20*hour)
	if v := d.clock(ClockChillA).Verdict; v != NotMeasured {
		t.Errorf("an unseen end: %q", v)
	}
}

func TestTurnClock(t *testing.T) {
	d := newDiary(t)
	d.say(day, Command{Kind: CommandTurned})
	d.say(2*day, Command{Kind: CommandTurned})
	d.tick(3 * day)
	d.want(ClockTurn, 24, Running)
	d.say(4*day+2*hour, Command{Kind: CommandTurned})
	d.want(ClockTurn, 50, NotMet)
	d.say(4*day+2*hour, Command{Kind: CommandTurned}) // typed again: nothing changes
	d.want(ClockTurn, 50, NotMet)
}

// Late data and shuffled arrival give the clocks of data that came in time.
func TestRecountGivesTheAnswerOfDataInTime(t *testing.T) {
	whole := newDiary(t)
	whole.line("slow", 0, 5*day, 5*minute, 3, 5)
	s := cook(whole)
	whole.line("core", s, s+5*hour, minute, 5, 68)
	whole.stage(s+5*hour, StageChill)
	whole.line("core", s+5*hour+minute, s+12*hour, minute, 68, 20)
	want := whole.batch.Clocks(whole.batch.Now)

	random := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		late := newDiary(t)
		shuffled := slices.Clone(whole.log[1:])
		for range 200 { // readings change places with others nearby
			i := random.IntN(len(shuffled) - 60)
			j := i + random.IntN(60)
			if shuffled[i].Kind == InputReading && shuffled[j].Kind == InputReading {
				shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
			}
		}
		for _, in := range shuffled {
			late.take(in)
		}
		if !late.batch.NeedsRecount {
			t.Fatal("nothing was late: the test tests nothing")
		}
		got := Recount(late.log[0], byEventTime(shuffled))
		got.Now = whole.batch.Now
		if clocks := got.Clocks(got.Now); !equalClocks(clocks, want) {
			t.Fatalf("recount differs:\n%+v\nwant\n%+v", clocks, want)
		}
	}
}

func byEventTime(log []Input) iter.Seq[Input] {
	history := slices.Clone(log)
	slices.SortStableFunc(history, func(a, b Input) int { return a.EventTime().Compare(b.EventTime()) })
	return slices.Values(history)
}

func equalClocks(a, b []Clock) bool {
	return slices.EqualFunc(a, b, func(a, b Clock) bool {
		return a.Name == b.Name && a.Verdict == b.Verdict && math.Abs(a.Sum-b.Sum) < 1e-9 && a.From.Equal(b.From) && a.To.Equal(b.To)
	})
}

// Bad samples, NaN and infinities in between never move a verdict toward met.
func TestBadReadingsNeverHelp(t *testing.T) {
	for _, bad := range []Reading{{Quality: Bad, Value: 70}, {Value: math.NaN()}, {Value: math.Inf(1)}} {
		d := newDiary(t)
		s := cook(d)
		d.line("core", s, s+30*minute, minute, 40, 50)
		for i := range 20 {
			r := bad
			r.Probe, r.Measured = "core", noon.Add(s+31*minute+time.Duration(i)*minute)
			r.Received = r.Measured
			d.take(Input{Kind: InputReading, At: r.Measured, Reading: r})
		}
		d.want(ClockLethality, 0, Running)
		if d.batch.Tracks[2].Bad != 20 {
			t.Errorf("counted %d bad samples", d.batch.Tracks[2].Bad)
		}
	}
}

func TestStepAllocatesNothingForAReading(t *testing.T) {
	d := newDiary(t)
	s := cook(d)
	d.line("core", s, s+3*hour, minute, 10, 55)
	d.line("chamber", s, s+3*hour, minute, 99, 101)
	at := noon.Add(s + 3*hour)
	found := make([]Finding, 0, 16)
	allocs := testing.AllocsPerRun(1000, func() {
		at = at.Add(5 * time.Second)
		for _, probe := range []string{"core", "chamber"} {
			in := Input{Kind: InputReading, At: at, Reading: Reading{Probe: probe, Measured: at, Received: at, Value: 60}}
			found = Step(d.batch, in, found[:0])
		}
	})
	if allocs > 0 {
		t.Errorf("%v allocations for each pair of readings", allocs)
	}
}
