package assess

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/plans"
)

// minutely writes a probe, a row every so often, as make says.
func minutely(from, to, step time.Duration, make func(after time.Duration) string) string {
	var b strings.Builder
	for after := from; after < to; after += step {
		b.WriteString(began.Add(after).Format(time.RFC3339) + "," + make(after) + "\n")
	}
	return b.String()
}

func says(t *testing.T, c process.Clock, want process.Verdict, why string) {
	t.Helper()
	if c.Verdict != want || !slices.ContainsFunc(c.Uncertain, func(u string) bool { return strings.Contains(u, why) }) {
		t.Errorf("%+v, want %q because of %q", c, want, why)
	}
}

// A core of which nothing can be read is there: the other one does not answer for it.
func TestAProbeThatCannotBeReadIsThere(t *testing.T) {
	good, events := cook(66.5, 10)
	good = strings.ReplaceAll(strings.ReplaceAll(good, ",C\n", ",C,warm core\n"), "unit\n", "unit,probe\n")
	events += began.Add(250*time.Minute).Format(time.RFC3339) + ",stage,chill\n"
	if c := clock(t, assessed(t, plan(t, "B3"), good, events), process.ClockLethality); c.Verdict != process.Met {
		t.Fatalf("the good core: %+v", c)
	}
	for _, bad := range []string{"NaN,C", ",C", "66.5,%", "66.5,", "-127,C"} {
		r := assessed(t, plan(t, "B3"), good+minutely(0, 250*time.Minute, 2*time.Minute, func(time.Duration) string { return "core," + bad + ",cold core" }), events)
		says(t, clock(t, r, process.ClockLethality), process.NotMeasured, "no row of probe cold core")
		says(t, clock(t, r, process.ClockComeUp), process.NotMeasured, "no row of probe cold core")
		if p := probe(t, r, "cold core"); p.Believed != 0 || p.Placement != process.Core {
			t.Errorf("%s: %+v", bad, p)
		}
	}
}

// Two probes of one name at two placements are two.
func TestACoreDoesNotHideBehindTheChamber(t *testing.T) {
	good, events := cook(66.5, 10)
	good = strings.ReplaceAll(strings.ReplaceAll(good, ",C\n", ",C,1\n"), "unit\n", "unit,probe\n")
	r := assessed(t, plan(t, "B3"), good+minutely(0, 250*time.Minute, time.Minute, func(time.Duration) string { return "chamber,90,C,1" }), events)
	if a, b := probe(t, r, "1"), probe(t, r, "1 as chamber"); a.Placement == b.Placement || a.Believed != 250 || b.Believed != 250 {
		t.Errorf("%+v, %+v", a, b)
	}
}

// The batch begins with the first row that has a time, and ends with the last.
func TestUnreadableEndsAreUnseen(t *testing.T) {
	day := 24 * time.Hour
	fridge := func(from, to time.Duration) string {
		return minutely(0, day, 10*time.Minute, func(after time.Duration) string {
			if after >= from && after < to {
				return "product,NaN,C"
			}
			return "product,3,C"
		})
	}
	for name, c := range map[string]struct {
		from, to time.Duration
		want     process.Verdict
	}{
		"all read": {0, 0, process.Met}, "beginning": {0, 3 * time.Hour, process.NotMeasured}, "end": {day - 3*time.Hour, day, process.NotMeasured},
	} {
		r := assessed(t, plan(t, "B3"), header+fridge(c.from, c.to), "time,event,detail\n"+began.Add(day).Format(time.RFC3339)+",stage,cook\n")
		if got := clock(t, r, process.ClockCold); got.Verdict != c.want {
			t.Errorf("%s: %+v", name, got)
		}
		if !r.From.Equal(began) {
			t.Errorf("%s: from %s", name, r.From)
		}
	}
	r := assessed(t, plan(t, "B3"), header+fridge(day-3*time.Hour, day), "") // nobody said that the cure is over
	if c := clock(t, r, process.ClockCold); r.To.Before(began.Add(day-10*time.Minute)) || !strings.Contains(strings.Join(c.Uncertain, ";"), "no data for 3 h") {
		t.Errorf("to %s, %+v", r.To, c)
	}
}

// What was before the batch began is nothing to it, readable or not.
func TestRubbishBeforeTheBeginning(t *testing.T) {
	day := 24 * time.Hour
	before := minutely(0, day, 10*time.Minute, func(time.Duration) string { return "product,NaN,C,old" }) +
		minutely(0, day, 10*time.Minute, func(time.Duration) string { return "pro" })
	in := minutely(day, 2*day, 10*time.Minute, func(time.Duration) string { return "product,3,C,new" })
	at := func(after time.Duration) string { return began.Add(after).Format(time.RFC3339) }
	r := assessed(t, plan(t, "B3"), "time,placement,value,unit,probe\n"+before+in, "time,event,detail\n"+at(day)+",stage,cure\n"+at(2*day)+",stage,cook\n")
	if c := clock(t, r, process.ClockCold); c.Verdict != process.Met || !r.From.Equal(began.Add(day)) || len(r.Probes) != 1 {
		t.Errorf("from %s, %+v, %+v", r.From, c, r.Probes)
	}
}

// A torn line now and then is an accident; a row every few minutes is a probe of which
// nobody can tell what it saw.
func TestRowsOfNoProbe(t *testing.T) {
	good, events := cook(66.5, 10)
	good = strings.ReplaceAll(strings.ReplaceAll(good, ",C\n", ",C,1\n"), "unit\n", "unit,probe\n")
	for name, c := range map[string]struct {
		more string
		want process.Verdict
	}{
		"none":              {"", process.Met},
		"last line torn":    {"2031-01-01T04:1", process.Met},
		"probe torn off":    {"2031-01-01T04:10:00Z,core,66.", process.Met},
		"two, hours apart":  {"2031-01-01T00:10:30Z,co\n2031-01-01T03:10:30Z,co\n", process.Met},
		"every few minutes": {minutely(30*time.Second, 2*time.Hour, 5*time.Minute, func(time.Duration) string { return "co" }), process.NotMeasured},
		"of no name":        {minutely(30*time.Second, 2*time.Hour, 5*time.Minute, func(time.Duration) string { return "core,NaN,C" }), process.NotMeasured},
		"of no time":        {strings.Repeat("x,core,66.5,C,2\n", 5), process.NotMeasured},
	} {
		if got := clock(t, assessed(t, plan(t, "B3"), good+c.more, events), process.ClockLethality); got.Verdict != c.want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// A stage that nobody can date, or that does not fit, leaves all limits open.
func TestAStageThatCannotBeRead(t *testing.T) {
	good, events := cook(66.5, 10)
	for _, line := range []string{"2031-01-01 04:00,stage,chill\n", "2031-01-01T04:00:00Z,stage,chil\n", "2031-01-01T04:00:00Z,stage,cure\n", "2031-01-01T04:00:00Z,\"stage\n"} {
		says(t, clock(t, assessed(t, plan(t, "B3"), good, events+line), process.ClockLethality), process.NotMeasured, "of the events")
	}
	if c := clock(t, assessed(t, plan(t, "B3"), good, events+"x,note,rain\n"), process.ClockLethality); c.Verdict != process.Met {
		t.Errorf("a note: %+v", c)
	}
}

// Without a piece nothing is judged by its size, and what needs none is judged as ever.
func TestNoPieceIsGuessed(t *testing.T) {
	p, err := plans.BuiltIn("ham")
	if err != nil {
		t.Fatal(err)
	}
	readings := header + minutely(0, 3*24*time.Hour, time.Hour, func(time.Duration) string { return "product,3,C" })
	events := "time,event,detail\n" + began.Format(time.RFC3339) + ",stage,cure\n"
	for _, said := range []string{events, events + began.Add(2*24*time.Hour).Format(time.RFC3339) + ",stage,cook\n"} { // still in cure, and over
		r, err := Run(Request{Plan: p, Readings: strings.NewReader(readings), Events: strings.NewReader(said)})
		if err != nil {
			t.Fatal(err)
		}
		c := clock(t, r, process.ClockCure)
		says(t, c, process.NotMeasured, "no --piece")
		if c.Limit != 0 || r.Verdict == process.Held {
			t.Errorf("a limit of %g days, %q", c.Limit, r.Verdict)
		}
		for _, e := range r.Estimates {
			if strings.Contains(e.Name, "diffusion") {
				t.Errorf("%+v", e)
			}
		}
		for _, f := range r.Forecasts {
			if strings.Contains(f.What, "cure") {
				t.Errorf("%+v", f)
			}
		}
		if r.Verdict == process.Met {
			t.Error("met")
		}
	}
	good, fire := cook(66.5, 10)
	r, err := Run(Request{Plan: p, Readings: strings.NewReader(good), Events: strings.NewReader(fire)})
	if err != nil {
		t.Fatal(err)
	}
	if c := clock(t, r, process.ClockLethality); c.Verdict != process.Met {
		t.Errorf("a core needs no size: %+v", c)
	}
}

// A loss of weight is one of a green weight that somebody said.
func TestNoGreenWeightIsGuessed(t *testing.T) {
	p, err := plans.BuiltIn("country-ham")
	if err != nil {
		t.Fatal(err)
	}
	if p.Drying.Loss == 0 {
		t.Fatal("the plan asks for no drying")
	}
	dry := began.Add(time.Hour).Format(time.RFC3339)
	events := fmt.Sprintf("time,event,detail\n%s,stage,cure\n%s,stage,%s\n%s,weighed,A 6kg\n%s,weighed,A 1600g\n", began.Format(time.RFC3339), dry, p.Drying.Stages[0], dry, dry)
	readings := header + minutely(0, 48*time.Hour, time.Hour, func(time.Duration) string { return "weight,1600,g" })
	r, err := Run(Request{Plan: p, Readings: strings.NewReader(readings), Events: strings.NewReader(events)})
	if err != nil {
		t.Fatal(err)
	}
	says(t, clock(t, r, process.ClockDrying), process.NotMeasured, "no --piece")
	if len(r.Left) != 2 || !strings.Contains(r.Left[0].Why, "--piece A:2268g:38mm") {
		t.Errorf("left out %+v", r.Left)
	}
}

func TestAPieceThatCannotBe(t *testing.T) {
	good, _ := cook(66.5, 10)
	_, err := Run(Request{Plan: plan(t, "B3"), Pieces: []process.Piece{{Name: "A", GreenG: 2e5, ThicknessMM: 38}}, Readings: strings.NewReader(good)})
	if err == nil || !strings.Contains(err.Error(), "100 kg") {
		t.Errorf("%v", err)
	}
}

// The forecast of a chill says for which air it was made, and none says a time that
// stands for never.
func TestChillForecastsTellTheAir(t *testing.T) {
	scenarios, _ := chills(t)
	at := began.Format(time.RFC3339)
	for air, readings := range map[float64]string{3: scenarios["K2_ham_fridge"], 20: strings.ReplaceAll(strings.ReplaceAll(scenarios["K2_ham_fridge"], ",air,2", ",air,20"), ",air,3", ",air,20")} {
		r := assessed(t, plan(t, "B3"), readings, "time,event,detail\n"+at+",stage,cook\n"+at+",stage,chill\n")
		n, never := 0, 0
		for _, f := range r.Forecasts {
			if !strings.HasPrefix(f.What, "chill") {
				continue
			}
			n++
			if f.Air == nil || *f.Air < air-1 || *f.Air > air+1 {
				t.Errorf("in air of %g °C: %+v", air, f)
			}
			if f.At.IsZero() {
				never++
			}
		}
		if n == 0 || never > 0 != (air == 20) {
			t.Errorf("in air of %g °C: %d forecasts, %d of never", air, n, never)
		}
	}
}

// A file with most of its rows taken out is not one of a slow logger: no line is drawn
// from row to row.
func TestRowsFarApartAreGaps(t *testing.T) {
	events := "time,event,detail\n" + began.Add(48*time.Hour).Format(time.RFC3339) + ",stage,cook\n" + began.Add(72*time.Hour).Format(time.RFC3339) + ",stage,chill\n"
	for _, c := range []struct {
		core, product time.Duration
		met           bool
	}{{25 * time.Minute, 2 * time.Hour, true}, {50 * time.Minute, 5 * time.Hour, false}} {
		file := header + minutely(0, 48*time.Hour, c.product, func(time.Duration) string { return "product,3,C" }) +
			minutely(48*time.Hour, 72*time.Hour, c.core, func(after time.Duration) string {
				return fmt.Sprintf("core,%.1f,C", min(62, 4+10*(after-48*time.Hour).Hours()))
			})
		r := assessed(t, plan(t, "B3"), file, events)
		if got := clock(t, r, process.ClockLethality); got.Verdict == process.Met != c.met {
			t.Errorf("a core every %s: %+v", c.core, got)
		}
		if got := clock(t, r, process.ClockCold); got.Verdict == process.Met != c.met {
			t.Errorf("a product every %s: %+v", c.product, got)
		}
	}
}

// A logger that was put in later was not silent before: nothing rings for that.
func TestALaterLoggerWasNotSilent(t *testing.T) {
	file := header + minutely(0, 24*time.Hour, 10*time.Minute, func(time.Duration) string { return "product,3,C" }) +
		minutely(12*time.Hour, 24*time.Hour, 10*time.Minute, func(time.Duration) string { return "air,3,C" })
	if r := assessed(t, plan(t, "B3"), file, ""); len(r.Alarms) > 0 {
		t.Errorf("%+v", r.Alarms)
	}
}
