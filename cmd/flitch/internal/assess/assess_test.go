package assess

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/plans"
)

var began = time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)

func plan(t *testing.T, chill string) process.Plan {
	t.Helper()
	p, err := plans.BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		t.Fatal(err)
	}
	p.Chill.Option = chill
	return p
}

func assessed(t *testing.T, p process.Plan, readings, events string) *Report {
	t.Helper()
	r := Request{Plan: p, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}},
		Readings: strings.NewReader(readings), Fuel: alerts.Wood, Policy: alerts.Policy{}}
	if events != "" {
		r.Events = strings.NewReader(events)
	}
	report, err := Run(r)
	if err != nil {
		t.Fatal(err)
	}
	return report
}

func clock(t *testing.T, r *Report, name process.ClockName) process.Clock {
	t.Helper()
	for _, c := range r.Clocks {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no clock %s", name)
	return process.Clock{}
}

const header = "time,placement,value,unit\n"

// cook writes a core that rises to a hold, one reading a minute, and the event that
// lights the fire.
func cook(hold float64, minutes int) (readings, events string) {
	var b strings.Builder
	b.WriteString(header)
	for m := range 240 + minutes {
		v := math.Min(hold, 4+float64(m)*(hold-4)/240)
		fmt.Fprintf(&b, "%s,core,%.3f,C\n", began.Add(time.Duration(m)*time.Minute).Format(time.RFC3339), v)
	}
	return b.String(), "time,event,detail\n" + began.Format(time.RFC3339) + ",stage,cook\n"
}

func TestAFileGoesThroughTheSameClocks(t *testing.T) {
	readings, events := cook(66.5, 10)
	r := assessed(t, plan(t, "B3"), readings, events)
	if c := clock(t, r, process.ClockLethality); c.Verdict != process.Met {
		t.Errorf("lethality %+v", c)
	}
	// 4 to 66.5 °C in 240 min: between 10 and 54.44 °C for 170.7 min.
	if c := clock(t, r, process.ClockComeUp); math.Abs(c.Sum*60-(490.0/9-10)/62.5*240) > 0.5 || c.Verdict != process.Met {
		t.Errorf("come-up %+v", c)
	}
	if c := clock(t, r, process.ClockCure); c.Verdict != process.NotMeasured {
		t.Errorf("a cure that is not in the file: %q", c.Verdict)
	}
	if len(r.Left) != 0 {
		t.Errorf("left out %+v", r.Left)
	}
}

// What is wrong with a file never moves a verdict toward met.
func TestRubbishNeverHelps(t *testing.T) {
	short, events := cook(60.5, 11) // 140 °F wants 12 min
	if v := clock(t, assessed(t, plan(t, "B3"), short, events), process.ClockLethality).Verdict; v == process.Met {
		t.Fatal("11 min are enough: the test tests nothing")
	}
	last := began.Add(251 * time.Minute)
	line := func(after time.Duration, rest string) string {
		return last.Add(after).Format(time.RFC3339) + rest + "\n"
	}
	for name, more := range map[string]string{
		"NaN":                line(0, ",core,NaN,C") + line(time.Minute, ",core,NaN,C"),
		"infinity":           line(0, ",core,+Inf,C"),
		"wrong unit":         line(0, ",core,149,X") + line(time.Minute, ",core,149,X"),
		"no unit":            line(0, ",core,66,"),
		"decimal comma":      line(0, ",core,\"66,5\",C"),
		"sentinel":           line(0, ",core,-127,C"),
		"out of range":       line(0, ",core,850,C"),
		"unknown placement":  line(0, ",middle,66,C"),
		"local time":         "2031-01-01 04:11,core,66,C\n",
		"doubled":            strings.TrimPrefix(short, header),
		"contradicted":       line(-10*time.Minute, ",core,80,C"),
		"short line":         "2031-01-01T04:11:00Z\n",
		"quote left open":    "2031-01-01T04:11:00Z,core,\"66,C\n",
		"far away and alone": line(300*time.Hour, ",core,60.5,C"),
	} {
		t.Run(name, func(t *testing.T) {
			r := assessed(t, plan(t, "B3"), short+more, events)
			if v := clock(t, r, process.ClockLethality).Verdict; v == process.Met {
				t.Error("met")
			}
			if len(r.Left) == 0 && name != "sentinel" && name != "out of range" && name != "far away and alone" {
				t.Error("nothing is said to be left out")
			}
		})
	}
}

// The order of the lines changes nothing.
func TestOrderOfLinesChangesNothing(t *testing.T) {
	readings, events := cook(66.5, 10)
	lines := strings.Split(strings.TrimSpace(readings), "\n")
	for i, j := 1, len(lines)-1; i < j; i, j = i+1, j-1 {
		lines[i], lines[j] = lines[j], lines[i]
	}
	a := assessed(t, plan(t, "B3"), readings, events)
	b := assessed(t, plan(t, "B3"), strings.Join(lines, "\n")+"\n", events)
	for i := range a.Clocks {
		if a.Clocks[i].Verdict != b.Clocks[i].Verdict || a.Clocks[i].Sum != b.Clocks[i].Sum {
			t.Errorf("%s: %v %q, backwards %v %q", a.Clocks[i].Name, a.Clocks[i].Sum, a.Clocks[i].Verdict, b.Clocks[i].Sum, b.Clocks[i].Verdict)
		}
	}
}

func TestFilesThatCannotBeReadSayWhy(t *testing.T) {
	for _, c := range []struct{ readings, events, want string }{
		{"", "", "no header"},
		{"when,what\n", "", `no column "time"`},
		{header, "", "no line of the file could be read"},
		{header + "x,core,1,C\n", "", "line 2"},
		{header + "2031-01-01T00:00:00Z,core,5,C\n", "time\n", `no column "event"`},
	} {
		r := Request{Plan: plan(t, "B3"), Pieces: []process.Piece{{Name: "A", GreenG: 1, ThicknessMM: 1}}, Readings: strings.NewReader(c.readings)}
		if c.events != "" {
			r.Events = strings.NewReader(c.events)
		}
		if _, err := Run(r); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: got %v, want %q", c.readings, err, c.want)
		}
	}
}

func FuzzRun(f *testing.F) {
	readings, events := cook(60.5, 2)
	f.Add(readings[:400], events)
	f.Add(header+"2031-01-01T00:00:00Z,core,5,C\n", "time,event,detail\n2031-01-01T00:00:00Z,turned,\n")
	f.Add("time,placement,value,unit,probe\n2031-01-01T00:00:00Z,air,41,F,a\n", "time,event,detail\nx,y,z\n")
	p, err := plans.BuiltIn("belly-dry-cured")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, readings, events string) {
		if len(readings) > 4000 || len(events) > 2000 {
			return
		}
		r, err := Run(Request{Plan: p, Pieces: []process.Piece{{Name: "A", GreenG: 1, ThicknessMM: 1}},
			Readings: strings.NewReader(readings), Events: strings.NewReader(events)})
		if err == nil && len(r.Clocks) == 0 {
			t.Error("a report without clocks")
		}
	})
}

// The first stage, said: the batch begins then, and what was logged before is left out.
func TestTheFirstStageMayBeSaid(t *testing.T) {
	var b strings.Builder
	b.WriteString(header)
	for h := range 49 {
		fmt.Fprintf(&b, "%s,product,4,C\n", began.Add(time.Duration(h)*time.Hour).Format(time.RFC3339))
	}
	events := "time,event,detail\n" + began.Add(24*time.Hour).Format(time.RFC3339) + ",stage,cure\n" + began.Add(30*time.Hour).Format(time.RFC3339) + ",turned,A\n" +
		began.Add(31*time.Hour).Format(time.RFC3339) + ",weighed,A 2300g\n" + began.Add(32*time.Hour).Format(time.RFC3339) + ",turned,Z\n" +
		began.Add(33*time.Hour).Format(time.RFC3339) + ",hand-reading,product 39.2F\n"
	r := assessed(t, plan(t, "B3"), b.String(), events)
	if c := clock(t, r, process.ClockCure); math.Abs(c.Sum-1) > 0.01 {
		t.Errorf("cure of %.3f days, want the one from the stage on", c.Sum)
	}
	if len(r.Left) != 2 || r.Left[0].File != "events" || r.Left[0].Line != 5 || r.Left[1].Line != 2 {
		t.Errorf("left out %+v, want the turn of a piece that is not there and the readings before", r.Left)
	}
}

func TestAcknowledgedAnswersTheAlarm(t *testing.T) {
	var b strings.Builder
	b.WriteString(header)
	for m := range 240 {
		fmt.Fprintf(&b, "%s,product,8,C\n", began.Add(time.Duration(m)*time.Minute).Format(time.RFC3339))
	}
	r := assessed(t, plan(t, "B3"), b.String(), "time,event,detail\n"+began.Add(time.Hour).Format(time.RFC3339)+",acknowledged,C2\n")
	for _, a := range r.Alarms {
		if a.ID == "C2" && !a.Answered.Equal(began.Add(time.Hour)) {
			t.Errorf("answered %s: %+v", a.Answered, a)
		}
	}
	if len(r.Alarms) == 0 {
		t.Error("no alarm")
	}
}
